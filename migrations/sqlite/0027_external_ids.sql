-- What another program calls a bike: one bike of the workshop, in the fleet or not.
alter table bikes add column external_id text check (length(external_id) between 1 and 128);
create unique index bikes_by_external_id on bikes (workshop_id, external_id);
