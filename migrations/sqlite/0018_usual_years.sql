-- Daily use of a bike as its last outlook saw it, as JSON: what a workshop's usual year is learned from.
create table use_histories (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    history text not null,
    primary key (workshop_id, bike_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
);

-- How a year goes for the bikes of a group, learned each night, as JSON; the group of no name is the workshop as a whole.
create table usual_years (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    bike_group text not null check (length(bike_group) between 0 and 64),
    usual_year text not null,
    bikes bigint not null check (bikes > 0),
    learned_at bigint not null,
    primary key (workshop_id, bike_group)
);

-- Outlooks are computed anew, so that the first night has histories to learn from.
insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts)
select workshop_id, bike_id, unixepoch() * 1000000, unixepoch() * 1000000, 0, 0
from outlooks where true
on conflict (workshop_id, bike_id) do nothing;
