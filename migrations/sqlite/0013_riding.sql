-- What a bike's counter showed at a time, entered by itself or with a reading, a swap or care, which event_id then names.
create table odometer_statements (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    statement_id blob not null check (length(statement_id) = 16),
    read_at bigint not null,
    total_mm bigint not null check (total_mm between 0 and 1000000000000),
    entered_with text check (entered_with in ('reading', 'swap', 'care')),
    event_id blob check (length(event_id) = 16),
    entered_at bigint not null,
    voided_at bigint,
    void_reason text check (length(void_reason) between 1 and 2000),
    primary key (workshop_id, bike_id, statement_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    check ((entered_with is null) = (event_id is null)),
    check ((voided_at is null) = (void_reason is null))
);

-- The same total at the same instant is one statement, however often it is sent.
create unique index odometer_statements_once on odometer_statements (workshop_id, bike_id, read_at, total_mm)
    where voided_at is null;
create index odometer_statements_by_time on odometer_statements (workshop_id, bike_id, read_at, statement_id);

-- How far a bike, or each bike of a group, is said to go. Days are those of the workshop, the last one included; no
-- first day: always; no last day: until further notice.
create table declared_use (
    workshop_id blob not null check (length(workshop_id) = 16),
    declared_id blob not null check (length(declared_id) = 16),
    bike_id blob check (length(bike_id) = 16),
    bike_group text check (length(bike_group) between 1 and 64),
    from_day bigint,
    until_day bigint,
    mm_per_week bigint not null check (mm_per_week between 0 and 5000000000),
    entered_at bigint not null,
    primary key (workshop_id, declared_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    check ((bike_id is null) <> (bike_group is null)),
    check (from_day <= until_day)
);

-- The same said twice is said once.
create unique index declared_use_of_bike on declared_use
    (workshop_id, bike_id, coalesce(from_day, -1), coalesce(until_day, -1), mm_per_week) where bike_id is not null;
create unique index declared_use_of_group on declared_use
    (workshop_id, bike_group, coalesce(from_day, -1), coalesce(until_day, -1), mm_per_week)
    where bike_group is not null;
