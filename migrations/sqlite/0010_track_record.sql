-- A chain as its bike's last outlook saw it: what learning and scoring read, so that neither looks at rides.
-- marks is JSON: the readings that count, each with the chain's exposure when it was taken.
create table chain_records (
    workshop_id blob not null check (length(workshop_id) = 16),
    part_id blob not null check (length(part_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    bike_group text not null check (length(bike_group) between 1 and 64),
    reference_km real not null check (reference_km >= 0),
    marks text not null check (json_valid(marks)),
    recorded_at bigint not null,
    primary key (workshop_id, part_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
);

-- What a workshop's chains taught, by group; the group of no name is the fleet as a whole.
create table fleet_rates (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    bike_group text not null check (length(bike_group) between 0 and 64),
    mean_log_rate real not null,
    sd_log_rate real not null check (sd_log_rate >= 0),
    mean_log_rate_sd real not null check (mean_log_rate_sd >= 0),
    scale real not null check (scale > 0),
    chains bigint not null check (chains >= 0),
    chains_read bigint not null check (chains_read >= 0),
    learned_at bigint not null,
    primary key (workshop_id, bike_group)
);

-- What was forecast of a chain's elongation when something new was known of it. Written once, never changed.
create table forecasts (
    workshop_id blob not null check (length(workshop_id) = 16),
    part_id blob not null check (length(part_id) = 16),
    forecast_id blob not null check (length(forecast_id) = 16),
    made_at bigint not null,
    readings_used bigint not null check (readings_used >= 0),
    reference_km real not null check (reference_km >= 0),
    quantiles text not null check (json_valid(quantiles)),
    primary key (workshop_id, part_id, forecast_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id)
);

-- How the forecast before each reading did. forecast_id is null where none had been kept before the reading was
-- taken, and the forecast was computed afterwards from the readings before it.
create table forecast_scores (
    workshop_id blob not null check (length(workshop_id) = 16),
    part_id blob not null check (length(part_id) = 16),
    reading_id blob not null check (length(reading_id) = 16),
    forecast_id blob check (length(forecast_id) = 16),
    bike_group text not null check (length(bike_group) between 1 and 64),
    month bigint not null,
    covered bigint check (covered in (0, 1)),
    bias real,
    loss real,
    loss_fixed_distance real,
    loss_straight_line real,
    brier real,
    primary key (workshop_id, part_id, reading_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id),
    check ((covered is null) <> (brier is null))
);

create index forecast_scores_by_month on forecast_scores (workshop_id, bike_group, month);

-- Workshops that were there before learn each night as well, for the first time at once.
insert into jobs (workshop_id, job_id, kind, job_key, payload, sequence, due_at, attempts, created_at)
select workshop_id, randomblob(16), 'calibrate_fleet', 'nightly', 'null', 0, 0, 0, 0 from workshops;
