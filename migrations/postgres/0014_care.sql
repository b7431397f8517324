-- What is known of care: recorded, unrecorded, or routine, every so many km or weeks. Null: a bike goes by its workshop,
-- a workshop by what is entered.
alter table workshops add column care text check (length(care) between 1 and 32);
alter table bikes add column care text check (length(care) between 1 and 32);

-- A role that row-level security binds sees every workshop here.
select set_config('wear.scope', 'all', true);

-- Where care was entered, its record counted as complete; so it stays.
update bikes set care = 'recorded'
where exists (select 1 from care_events c where c.workshop_id = bikes.workshop_id and c.bike_id = bikes.bike_id);
