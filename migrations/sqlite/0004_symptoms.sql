-- What riders report. cog_teeth is 0 where no cog is named, so that the same report is one row.
create table symptoms (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    symptom_id blob not null check (length(symptom_id) = 16),
    symptom text not null check (symptom in ('skips_under_load', 'drops_chain', 'noisy', 'slow_shifts')),
    reported_at bigint not null,
    cog_teeth bigint not null check (cog_teeth = 0 or cog_teeth between 9 and 80),
    new_chain boolean not null check (new_chain in (0, 1)),
    note text check (length(note) between 1 and 2000),
    voided_at bigint,
    void_reason text check (length(void_reason) between 1 and 2000),
    primary key (workshop_id, bike_id, symptom_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    check ((voided_at is null) = (void_reason is null)),
    check (symptom = 'skips_under_load' or (cog_teeth = 0 and not new_chain))
);

-- The same symptom on the same cog at the same instant is one, however often it is sent.
create unique index symptoms_once on symptoms (workshop_id, bike_id, reported_at, symptom, cog_teeth)
    where voided_at is null;
create index symptoms_by_time on symptoms (workshop_id, bike_id, reported_at, symptom_id);

-- Steps that were ticked at a swap, by their words.
alter table swaps add column checklist text check (json_valid(checklist));
