-- Days before its day that a reading or a swap counts as due soon.
alter table workshops add column soon_days bigint not null default 7 check (soon_days between 0 and 60);

-- What hooks were told of a part on a bike, while it stands. level is how urgent: of 'urgency' 1 measure by, 2 swap by, 3 swap
-- now; else 1. evidence is what it rested on: only other evidence takes it back.
create table announced (
    workshop_id uuid not null,
    bike_id uuid not null,
    part_id uuid not null,
    topic text collate "C" not null
        check (topic in ('urgency', 'measure_soon', 'swap_soon', 'check', 'cassette', 'ring')),
    level bigint not null check (level between 1 and 3),
    evidence text collate "C" not null,
    announced_at bigint not null,
    primary key (workshop_id, bike_id, part_id, topic),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id)
);

-- What hooks were told of the workshop as a whole, while it stands: a part to order, by its model or shape, and a group whose
-- forecasts drift (empty: all of them).
create table fleet_announced (
    workshop_id uuid not null references workshops (workshop_id),
    topic text collate "C" not null check (topic in ('order', 'record')),
    subject text collate "C" not null,
    announced_at bigint not null,
    primary key (workshop_id, topic, subject)
);

select set_config('wear.scope', 'all', true);
insert into announced (workshop_id, bike_id, part_id, topic, level, evidence, announced_at)
select c.workshop_id, f.bike_id, c.part_id, 'urgency', c.level, c.evidence, c.crossed_at
from crossings c join fittings f on f.workshop_id = c.workshop_id and f.part_id = c.part_id and f.removed_at is null
where c.level > 0;
select set_config('wear.scope', 'one', true);
drop table crossings;

do $$
declare
    named record;
begin
    for named in
        select relation.relname as name from pg_class relation
        where relation.relnamespace = current_schema()::regnamespace
            and relation.relname in ('announced', 'fleet_announced')
    loop
        execute format('alter table %I enable row level security', named.name);
        execute format('alter table %I force row level security', named.name);
        execute format($policy$
            create policy own_workshop on %I using (
                workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
                or (select current_setting('wear.scope', true)) = 'all')
            $policy$, named.name);
    end loop;
end $$;
