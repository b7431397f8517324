-- A chain as its bike's last outlook saw it: what learning and scoring read, so that neither looks at rides.
-- marks is JSON: the readings that count, each with the chain's exposure when it was taken.
create table chain_records (
    workshop_id uuid not null,
    part_id uuid not null,
    bike_id uuid not null,
    bike_group text not null check (length(bike_group) between 1 and 64),
    reference_km double precision not null check (reference_km >= 0),
    marks jsonb not null,
    recorded_at bigint not null,
    primary key (workshop_id, part_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
);

-- What a workshop's chains taught, by group; the group of no name is the fleet as a whole.
create table fleet_rates (
    workshop_id uuid not null references workshops (workshop_id),
    bike_group text not null check (length(bike_group) between 0 and 64),
    mean_log_rate double precision not null,
    sd_log_rate double precision not null check (sd_log_rate >= 0),
    mean_log_rate_sd double precision not null check (mean_log_rate_sd >= 0),
    scale double precision not null check (scale > 0),
    chains bigint not null check (chains >= 0),
    chains_read bigint not null check (chains_read >= 0),
    learned_at bigint not null,
    primary key (workshop_id, bike_group)
);

-- What was forecast of a chain's elongation when something new was known of it. Written once, never changed.
create table forecasts (
    workshop_id uuid not null,
    part_id uuid not null,
    forecast_id uuid not null,
    made_at bigint not null,
    readings_used bigint not null check (readings_used >= 0),
    reference_km double precision not null check (reference_km >= 0),
    quantiles jsonb not null,
    primary key (workshop_id, part_id, forecast_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id)
);

-- How the forecast before each reading did. forecast_id is null where none had been kept before the reading was
-- taken, and the forecast was computed afterwards from the readings before it.
create table forecast_scores (
    workshop_id uuid not null,
    part_id uuid not null,
    reading_id uuid not null,
    forecast_id uuid,
    bike_group text not null check (length(bike_group) between 1 and 64),
    month bigint not null,
    covered bigint check (covered in (0, 1)),
    bias double precision,
    loss double precision,
    loss_fixed_distance double precision,
    loss_straight_line double precision,
    brier double precision,
    primary key (workshop_id, part_id, reading_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id),
    check ((covered is null) <> (brier is null))
);

create index forecast_scores_by_month on forecast_scores (workshop_id, bike_group, month);

do $$
declare
    named text;
begin
    foreach named in array array['chain_records', 'fleet_rates', 'forecasts', 'forecast_scores'] loop
        execute format('alter table %I enable row level security', named);
        execute format('alter table %I force row level security', named);
        execute format($policy$
            create policy own_workshop on %I using (
                workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
                or (select current_setting('wear.scope', true)) = 'all')
            $policy$, named);
    end loop;
end $$;

-- Workshops that were there before learn each night as well, for the first time at once.
insert into jobs (workshop_id, job_id, kind, job_key, payload, sequence, due_at, attempts, created_at)
select workshop_id, gen_random_uuid(), 'calibrate_fleet', 'nightly', 'null', 0, 0, 0, 0 from workshops;
