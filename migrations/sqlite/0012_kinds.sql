-- Kinds of bike: what bikes of a kind have in common. A kind without a group gives its bikes its own name.
create table bike_kinds (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    kind_id blob not null check (length(kind_id) = 16),
    name text not null check (length(name) between 1 and 64),
    name_key text not null,
    usage text not null,
    drivetrain text not null check (json_valid(drivetrain)),
    drivetrain_assumed boolean not null check (drivetrain_assumed in (0, 1)),
    limit_percent real check (limit_percent between 0.2 and 2.0),
    bike_group text check (length(bike_group) between 1 and 64),
    chain_model_id blob check (length(chain_model_id) = 16),
    cassette_model_id blob check (length(cassette_model_id) = 16),
    ring_model_id blob check (length(ring_model_id) = 16),
    created_at bigint not null,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, kind_id),
    unique (workshop_id, name_key),
    foreign key (workshop_id, chain_model_id) references part_models (workshop_id, part_model_id),
    foreign key (workshop_id, cassette_model_id) references part_models (workshop_id, part_model_id),
    foreign key (workshop_id, ring_model_id) references part_models (workshop_id, part_model_id)
);

-- Whether a bike's drivetrain is the usual one of its use, as nobody said what it is.
alter table bikes add column drivetrain_assumed boolean not null default 0 check (drivetrain_assumed in (0, 1));
alter table bikes add column kind_id blob check (length(kind_id) = 16);

create index bikes_by_kind on bikes (workshop_id, kind_id) where kind_id is not null;
