-- A workshop's tools, by name. One that is retired keeps its readings and gives its name free.
create table tools (
    workshop_id uuid not null references workshops (workshop_id),
    tool_id uuid not null,
    name text not null check (length(name) between 1 and 64),
    name_key text collate "C" not null,
    instrument text not null,
    created_at bigint not null,
    retired_at bigint,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, tool_id)
);

create unique index tools_named on tools (workshop_id, name_key) where retired_at is null;

-- What a reading was taken with, and by whom; what is there already was taken by nobody knows whom.
alter table readings add column tool_id uuid;
alter table readings add column read_by text check (length(read_by) between 1 and 64);

-- How a workshop's tools and people err, learned each night, percent. subject is 'tool': one tool by its id, or all of its
-- kind that nobody named where tool is empty; 'person': one by name; 'both': how far what isn't known of the two goes
-- together.
create table reading_errors (
    workshop_id uuid not null references workshops (workshop_id),
    subject text not null check (subject in ('tool', 'person', 'both')),
    instrument text not null,
    tool text not null,
    person text not null,
    bias double precision not null,
    sd double precision not null check (sd >= 0),
    spread double precision not null check (spread > 0),
    covariance double precision not null,
    readings bigint not null check (readings >= 0),
    primary key (workshop_id, subject, instrument, tool, person)
);

-- What each chain says of how fast its bike wears chains, over its group's mean of ln(wear rate), learned each night.
create table chain_levels (
    workshop_id uuid not null,
    bike_id uuid not null,
    part_id uuid not null,
    away double precision not null,
    precision_of double precision not null check (precision_of > 0),
    as_found boolean not null,
    primary key (workshop_id, bike_id, part_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id)
);

-- The fast phase, the spread of ln(wear rate) within groups and the share of its square that is the bikes', and whether gauges
-- could be judged: null where a rate was learned before any of that was.
alter table fleet_rates add column fast_onset double precision;
alter table fleet_rates add column fast_gain double precision check (fast_gain >= 0);
alter table fleet_rates add column sd_within double precision check (sd_within >= 0);
alter table fleet_rates add column bike_share double precision check (bike_share between 0 and 1);
alter table fleet_rates add column gauges_judged boolean;

do $$
declare
    named text;
begin
    foreach named in array array['tools', 'reading_errors', 'chain_levels'] loop
        execute format('alter table %I enable row level security', named);
        execute format('alter table %I force row level security', named);
        execute format($policy$
            create policy own_workshop on %I using (
                workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
                or (select current_setting('wear.scope', true)) = 'all')
            $policy$, named);
    end loop;
end $$;
