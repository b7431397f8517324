-- Daily use of a bike as its last outlook saw it, as JSON: what a workshop's usual year is learned from.
create table use_histories (
    workshop_id uuid not null,
    bike_id uuid not null,
    history text not null,
    primary key (workshop_id, bike_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
);

-- How a year goes for the bikes of a group, learned each night, as JSON; the group of no name is the workshop as a whole.
create table usual_years (
    workshop_id uuid not null references workshops (workshop_id),
    bike_group text not null check (length(bike_group) between 0 and 64),
    usual_year text not null,
    bikes bigint not null check (bikes > 0),
    learned_at bigint not null,
    primary key (workshop_id, bike_group)
);

do $$
declare
    named text;
begin
    foreach named in array array['use_histories', 'usual_years'] loop
        execute format('alter table %I enable row level security', named);
        execute format('alter table %I force row level security', named);
        execute format($policy$
            create policy own_workshop on %I using (
                workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
                or (select current_setting('wear.scope', true)) = 'all')
            $policy$, named);
    end loop;
end $$;

select set_config('wear.scope', 'all', true);

-- Outlooks are computed anew, so that the first night has histories to learn from.
insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts)
select workshop_id, bike_id, cast(extract(epoch from now()) * 1000000 as bigint),
    cast(extract(epoch from now()) * 1000000 as bigint), 0, 0
from outlooks
on conflict (workshop_id, bike_id) do nothing;

select set_config('wear.scope', 'one', true);
