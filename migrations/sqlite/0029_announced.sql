-- Days before its day that a reading or a swap counts as due soon.
alter table workshops add column soon_days bigint not null default 7 check (soon_days between 0 and 60);

-- What hooks were told of a part on a bike, while it stands. level is how urgent: of 'urgency' 1 measure by, 2 swap by, 3 swap
-- now; else 1. evidence is what it rested on: only other evidence takes it back.
create table announced (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    part_id blob not null check (length(part_id) = 16),
    topic text not null
        check (topic in ('urgency', 'measure_soon', 'swap_soon', 'check', 'cassette', 'ring')),
    level bigint not null check (level between 1 and 3),
    evidence text not null,
    announced_at bigint not null,
    primary key (workshop_id, bike_id, part_id, topic),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id)
);

-- What hooks were told of the workshop as a whole, while it stands: a part to order, by its model or shape, and a group whose
-- forecasts drift (empty: all of them).
create table fleet_announced (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    topic text not null check (topic in ('order', 'record')),
    subject text not null,
    announced_at bigint not null,
    primary key (workshop_id, topic, subject)
);

insert into announced (workshop_id, bike_id, part_id, topic, level, evidence, announced_at)
select c.workshop_id, f.bike_id, c.part_id, 'urgency', c.level, c.evidence, c.crossed_at
from crossings c join fittings f on f.workshop_id = c.workshop_id and f.part_id = c.part_id and f.removed_at is null
where c.level > 0;
drop table crossings;
