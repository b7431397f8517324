-- Kilometres per reference kilometre of a group's bikes over the year before, learned each night: what a bike without
-- riding of its own is told in kilometres by. A group that rode little has no row.
create table group_kilometres (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    bike_group text not null check (length(bike_group) between 1 and 64),
    km_per_reference_km real not null check (km_per_reference_km > 0),
    distance_mm bigint not null check (distance_mm > 0),
    learned_at bigint not null,
    primary key (workshop_id, bike_group)
);
