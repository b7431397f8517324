//! The operations: a file a resource, with its requests, its answers and what can be done with it.

mod audit;
mod bench_days;
mod bench_plan;
mod bench_settings;
mod bike_kinds;
mod bikes;
mod bookings;
mod calendar;
mod calibration;
mod care;
mod care_setting;
mod compatibility;
mod declared_use;
mod deliveries;
mod estimates;
mod fittings;
mod health;
mod hooks;
mod odometer;
mod orders;
mod outlooks;
mod part_models;
mod parts;
mod policy;
mod readings;
mod ride_files;
mod rides;
mod stock;
mod swaps;
mod symptoms;
mod tokens;
mod tools;
mod track_record;
mod transfer;
mod voiding;
mod workshop;

pub(super) use hooks::messages;
use utoipa_actix_web::service_config::ServiceConfig;

/// Adds every operation.
pub fn operations(config: &mut ServiceConfig<'_>) {
    bikes::operations(config);
    bike_kinds::operations(config);
    fittings::operations(config);
    rides::operations(config);
    ride_files::operations(config);
    odometer::operations(config);
    declared_use::operations(config);
    tools::operations(config);
    readings::operations(config);
    care::operations(config);
    swaps::operations(config);
    symptoms::operations(config);
    outlooks::operations(config);
    track_record::operations(config);
    calibration::operations(config);
    estimates::operations(config);
    bench_days::operations(config);
    bench_settings::operations(config);
    bookings::operations(config);
    bench_plan::operations(config);
    policy::operations(config);
    compatibility::operations(config);
    part_models::operations(config);
    parts::operations(config);
    audit::operations(config);
    stock::operations(config);
    deliveries::operations(config);
    orders::operations(config);
    calendar::operations(config);
    hooks::operations(config);
    transfer::operations(config);
    workshop::operations(config);
    tokens::operations(config);
    health::operations(config);
}
