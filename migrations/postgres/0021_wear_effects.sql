-- What the fleet's chains taught of models and of how wear drifts over the calendar, learned each night. payload is JSON: each
-- effect, their covariance, each group's usual mix, the slope.
create table wear_effects (
    workshop_id uuid not null references workshops (workshop_id),
    payload jsonb not null,
    learned_at bigint not null,
    primary key (workshop_id)
);

alter table wear_effects enable row level security;
alter table wear_effects force row level security;
create policy own_workshop on wear_effects using (
    workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
    or (select current_setting('wear.scope', true)) = 'all');
