-- A ride is what one source tells of one bike: the same id of the same source on another bike is another ride. Source
-- and id come first, so that rides of the workshop are found by them.
--
-- same_as names the ride of the same bike that counts in this one's place, where two sources told of one ride; separate
-- says that somebody knows it to be a ride by itself.
create table rides_identified (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    ride_id blob not null check (length(ride_id) = 16),
    source text not null check (length(source) between 1 and 128),
    source_id text not null check (length(source_id) between 1 and 128),
    started_at bigint not null,
    surface text not null check (surface in ('paved', 'gravel', 'mud', 'indoor')),
    wet boolean not null check (wet in (0, 1)),
    distance_mm bigint not null check (distance_mm >= 0),
    climb_mm bigint check (climb_mm >= 0),
    energy_j bigint check (energy_j >= 0),
    base_reference_mm bigint not null check (base_reference_mm >= 0),
    load_energy_j bigint not null check (load_energy_j >= 0),
    revision bigint not null check (revision >= 1),
    deleted_at bigint,
    same_as blob check (length(same_as) = 16),
    separate boolean not null default false check (separate in (0, 1)),
    primary key (workshop_id, bike_id, ride_id),
    unique (workshop_id, source, source_id, bike_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    check (same_as is null or not separate)
) without rowid;

insert into rides_identified (workshop_id, bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm,
    climb_mm, energy_j, base_reference_mm, load_energy_j, revision, deleted_at)
select workshop_id, bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm,
    climb_mm, energy_j, base_reference_mm, load_energy_j, revision, deleted_at
from rides order by workshop_id, bike_id, ride_id;

drop table rides;
alter table rides_identified rename to rides;
create index rides_by_start on rides (workshop_id, bike_id, started_at, ride_id);
create index rides_by_time on rides (workshop_id, started_at, ride_id);

-- Who logs a bike's rides: null while it has none, the source while there is one, and empty where there are several: only
-- then can two of its rides be one. rides_compared is false until rides from before this were compared.
alter table bikes add column ride_source text check (length(ride_source) <= 128);
alter table bikes add column rides_compared boolean not null default true check (rides_compared in (0, 1));

update bikes set ride_source = (select case when min(r.source) = max(r.source) then min(r.source) when count(*) > 0 then '' end
    from rides r where r.workshop_id = bikes.workshop_id and r.bike_id = bikes.bike_id);
update bikes set rides_compared = false where ride_source = '';
