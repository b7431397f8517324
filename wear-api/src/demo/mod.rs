//! The invented fleet of the demonstration: Tern Quay, a hire yard that never was, with about 70 bikes and
//! two years of rides, in a corner of which little is recorded. Everything in it is made up, by the wear model itself
//! and a fixed seed.

mod fleet;
pub mod found;
mod history;
mod shelf;

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;

use crate::domain::{
    BikeFacts, CareSetting, Costs, DrivetrainChoice, Label, ReadWith, Role, Timestamp, TokenSecret,
    WorkshopName, WorkshopSettings,
};
use crate::service::bikes::{EnterBike, EnterStart};
use crate::service::ride_batches::BatchRide;
use crate::service::{
    Actor, Mismatch, ServiceError, Services, bikes, calibration, care, jobs, readings, ride_batches, swaps,
    tokens, worker, workshops,
};

/// The invented yard.
const NAME: &str = "Tern Quay hire yard";

/// Fixed, so that every demonstration is the same but for its dates.
const SEED: u64 = 0x7E47;

/// Rides stored at once.
const BATCH: usize = 5_000;

/// Fills an empty store with the invented fleet and gives a manager's token.
///
/// # Errors
/// [`ServiceError`].
pub async fn fill(services: &Services) -> Result<(Actor, TokenSecret), ServiceError> {
    let name = WorkshopName::new(NAME).map_err(|cause| ServiceError::field("/name", cause))?;
    let workshop_id = tokens::workshop_named(services, name).await?;
    let program = Actor::program(workshop_id);
    let label = Label::new("demonstration").map_err(|cause| ServiceError::field("/label", cause))?;
    let (token, secret) = services
        .change(&program, async |work| tokens::create(services, work, Role::Manager, label).await)
        .await?;
    let actor = Actor { token_id: Some(token.id), ..program };
    price_work(services, &actor).await?;
    let now = services.now();
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let models = shelf::models(services, &actor).await?;
    for planned in fleet::bikes(&mut random) {
        enter(services, &actor, &models, planned, now, &mut random).await?;
    }
    shelf::fill(services, &actor, &models).await?;
    found::fill(services, &actor, &models).await?;
    worker::drain(services).await?;
    // The fleet learns from its chains, and its outlooks follow. Its record fills once the service runs.
    services.change(&actor, async |work| calibration::ask(services, work).await).await?;
    jobs::drain_all_but_the_record(services).await?;
    worker::drain(services).await?;
    jobs::drain_all_but_the_record(services).await?;
    Ok((actor, secret))
}

/// What a swap's labour, a reading and a failure on the road cost the yard, in cents; its care is all entered.
async fn price_work(services: &Services, actor: &Actor) -> Result<(), ServiceError> {
    let workshop = workshops::get(services, actor).await?;
    let costs = Costs { swap_labour_minor: 900, reading_minor: 100, failure_minor: 4_500 };
    let settings = WorkshopSettings { costs, care: Some(CareSetting::Recorded), ..workshop.settings };
    services
        .change(actor, async |work| {
            workshops::change(services, work, workshop.revision, |_| Ok(settings)).await
        })
        .await?;
    Ok(())
}

fn entered(facts: BikeFacts, fitted_on: chrono::NaiveDate) -> EnterBike {
    let BikeFacts { label, group, usage, drivetrain, is_assumed: _, limit, care, kind: _, external_id } =
        facts;
    EnterBike {
        label,
        group: Some(group),
        usage: Some(usage),
        drivetrain: Some(DrivetrainChoice::Whole(drivetrain)),
        limit,
        care,
        kind: None,
        external_id,
        start: EnterStart::New(fitted_on),
        mismatch: Mismatch::Refused,
    }
}

async fn enter(
    services: &Services,
    actor: &Actor,
    models: &shelf::Models,
    planned: fleet::PlannedBike,
    now: Timestamp,
    random: &mut ChaCha8Rng,
) -> Result<(), ServiceError> {
    let fitted_on = planned.fitted_on(now);
    let (bike, _) = services
        .change(actor, async |work| {
            bikes::create(services, work, entered(planned.facts.clone(), fitted_on)).await
        })
        .await?;
    shelf::name_parts(services, actor, models, &planned, &bike).await?;
    let history = history::of(&planned, &bike, fitted_on, now, random)?;
    for batch in history.rides.chunks(BATCH) {
        services
            .change(actor, async |work| {
                let batch = batch.iter().cloned().enumerate();
                let batch = batch.map(|(index, said)| BatchRide::new(index, bike.id, said)).collect();
                ride_batches::post(services, work, batch).await
            })
            .await?;
    }
    let mut tx = services.store.begin_write(actor).await?;
    for event in history.events {
        match event {
            history::Event::Care(enter) => {
                care::save(&mut tx, bike.id, enter, now).await?;
            }
            history::Event::Reading(taken_at, measured) => {
                readings::save(&mut tx, bike.id, taken_at, (measured, ReadWith::default())).await?;
            }
            history::Event::Swap(enter) => {
                swaps::save(&mut tx, bike.id, enter, now).await?;
            }
        }
    }
    tx.mark_bikes(&[bike.id], now).await?;
    tx.commit().await?;
    Ok(())
}
