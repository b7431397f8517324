-- Dates are bigint days since 1970-01-01, as everywhere.

create table bench_settings (
    workshop_id blob not null primary key check (length(workshop_id) = 16) references workshops (workshop_id),
    settings text not null check (json_valid(settings)),
    revision bigint not null check (revision >= 1)
);

create table bench_days (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    bench_day_id blob not null check (length(bench_day_id) = 16),
    day bigint not null,
    minutes bigint not null check (minutes between 0 and 1000000),
    note text check (length(note) between 1 and 2000),
    created_at bigint not null,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, bench_day_id),
    unique (workshop_id, day)
);

-- A bike that is away on every day from from_day to to_day, both included.
create table bookings (
    workshop_id blob not null check (length(workshop_id) = 16),
    booking_id blob not null check (length(booking_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    from_day bigint not null,
    to_day bigint not null,
    note text check (length(note) between 1 and 2000),
    created_at bigint not null,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, booking_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    check (to_day >= from_day)
);

create index bookings_by_bike on bookings (workshop_id, bike_id, from_day);
create index bookings_by_end on bookings (workshop_id, to_day);

create table bench_plans (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    bench_plan_id blob not null check (length(bench_plan_id) = 16),
    from_day bigint not null,
    to_day bigint not null,
    payload text not null check (json_valid(payload)),
    computed_at bigint not null,
    accepted_at bigint,
    primary key (workshop_id, bench_plan_id),
    check (to_day >= from_day)
);

create index bench_plans_by_acceptance on bench_plans (workshop_id, accepted_at);

-- What an accepted plan promised: the part comes off on that day. A pin ends with its part's stay on the bike.
create table bench_pins (
    workshop_id blob not null check (length(workshop_id) = 16),
    part_id blob not null check (length(part_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    day bigint not null,
    bench_plan_id blob not null check (length(bench_plan_id) = 16),
    primary key (workshop_id, part_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    foreign key (workshop_id, bench_plan_id) references bench_plans (workshop_id, bench_plan_id)
);

create index bench_pins_by_day on bench_pins (workshop_id, day);
create index bench_pins_by_bike on bench_pins (workshop_id, bike_id);
