-- Kilometres per reference kilometre of a group's bikes over the year before, learned each night: what a bike without
-- riding of its own is told in kilometres by. A group that rode little has no row.
create table group_kilometres (
    workshop_id uuid not null references workshops (workshop_id),
    bike_group text not null check (length(bike_group) between 1 and 64),
    km_per_reference_km double precision not null check (km_per_reference_km > 0),
    distance_mm bigint not null check (distance_mm > 0),
    learned_at bigint not null,
    primary key (workshop_id, bike_group)
);

alter table group_kilometres enable row level security;
alter table group_kilometres force row level security;
create policy own_workshop on group_kilometres using (
    workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
    or (select current_setting('wear.scope', true)) = 'all');
