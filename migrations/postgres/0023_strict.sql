-- A label belongs to one bike of the fleet: label_held is label_key where the bike holds it, and null where it has left the
-- fleet. Of bikes that have the same label already the first one holds it.
alter table bikes add column label_held text collate "C";
select set_config('wear.scope', 'all', true);

update bikes set label_held = label_key
where retired_at is null and not exists (select 1 from bikes o where o.workshop_id = bikes.workshop_id
    and o.label_key = bikes.label_key and o.retired_at is null and o.bike_id < bikes.bike_id);
create unique index bikes_one_label on bikes (workshop_id, label_held);

-- What is on record of bikes that left the fleet is in no list, order or plan.
delete from outlooks where exists (select 1 from bikes b where b.workshop_id = outlooks.workshop_id
    and b.bike_id = outlooks.bike_id and b.retired_at is not null);

select set_config('wear.scope', 'one', true);

-- Care can be voided as readings can: it stays on record with the reason.
alter table care_events add column voided_at bigint;
alter table care_events add column void_reason text check (length(void_reason) between 1 and 2000);

-- A ride that was deleted stays as a tombstone: it counts for nothing, and the same ride sent again doesn't bring it back.
alter table rides add column deleted_at bigint;
