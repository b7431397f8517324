-- A ride is what one source tells of one bike: the same id of the same source on another bike is another ride. Source
-- and id come first, so that rides of the workshop are found by them.
alter table rides drop constraint rides_workshop_id_source_source_id_key;
alter table rides add unique (workshop_id, source, source_id, bike_id);
create index rides_by_time on rides (workshop_id, started_at, ride_id);

-- same_as names the ride of the same bike that counts in this one's place, where two sources told of one ride; separate
-- says that somebody knows it to be a ride by itself.
alter table rides add column same_as uuid;
alter table rides add column separate boolean not null default false;
alter table rides add check (same_as is null or not separate);

-- Who logs a bike's rides: null while it has none, the source while there is one, and empty where there are several: only
-- then can two of its rides be one. rides_compared is false until rides from before this were compared.
alter table bikes add column ride_source text collate "C" check (length(ride_source) <= 128);
alter table bikes add column rides_compared boolean not null default true;

select set_config('wear.scope', 'all', true);

update bikes set ride_source = (select case when min(r.source) = max(r.source) then min(r.source) when count(*) > 0 then '' end
    from rides r where r.workshop_id = bikes.workshop_id and r.bike_id = bikes.bike_id);
update bikes set rides_compared = false where ride_source = '';

select set_config('wear.scope', 'one', true);
