-- Whether somebody chose the day of a job; else a plan did.
alter table bench_pins add column by_hand boolean not null default false;

-- What was done today counts against the bench's minutes of today.
create index swaps_of_workshop on swaps (workshop_id, swapped_at) where voided_at is null;
