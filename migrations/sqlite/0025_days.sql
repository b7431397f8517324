-- The zone whose days a bike's rides are summed over; the workshop's where it was entered later.
alter table bikes add column days_zone text not null default 'UTC';
