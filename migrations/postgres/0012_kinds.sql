-- Kinds of bike: what bikes of a kind have in common. A kind without a group gives its bikes its own name.
create table bike_kinds (
    workshop_id uuid not null references workshops (workshop_id),
    kind_id uuid not null,
    name text not null check (length(name) between 1 and 64),
    name_key text collate "C" not null,
    usage text not null,
    drivetrain jsonb not null,
    drivetrain_assumed boolean not null,
    limit_percent double precision check (limit_percent between 0.2 and 2.0),
    bike_group text collate "C" check (length(bike_group) between 1 and 64),
    chain_model_id uuid,
    cassette_model_id uuid,
    ring_model_id uuid,
    created_at bigint not null,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, kind_id),
    unique (workshop_id, name_key),
    foreign key (workshop_id, chain_model_id) references part_models (workshop_id, part_model_id),
    foreign key (workshop_id, cassette_model_id) references part_models (workshop_id, part_model_id),
    foreign key (workshop_id, ring_model_id) references part_models (workshop_id, part_model_id)
);

-- Whether a bike's drivetrain is the usual one of its use, as nobody said what it is.
alter table bikes add column drivetrain_assumed boolean not null default false;
alter table bikes add column kind_id uuid;

create index bikes_by_kind on bikes (workshop_id, kind_id) where kind_id is not null;

alter table bike_kinds enable row level security;
alter table bike_kinds force row level security;
create policy own_workshop on bike_kinds using (
    workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
    or (select current_setting('wear.scope', true)) = 'all');
