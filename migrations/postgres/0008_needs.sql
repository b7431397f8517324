-- What the bike's next swap uses and when it comes, for counts of parts; null in outlooks of before.
alter table outlooks add column needs jsonb;

select set_config('wear.scope', 'all', true);

-- They are computed anew.
insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts)
select workshop_id, bike_id, cast(extract(epoch from now()) * 1000000 as bigint),
    cast(extract(epoch from now()) * 1000000 as bigint), 0, 0
from outlooks
on conflict (workshop_id, bike_id) do nothing;

select set_config('wear.scope', 'one', true);
