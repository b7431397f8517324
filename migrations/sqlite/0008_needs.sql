-- What the bike's next swap uses and when it comes, for counts of parts; null in outlooks of before.
alter table outlooks add column needs text check (json_valid(needs));

-- They are computed anew.
insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts)
select workshop_id, bike_id, unixepoch() * 1000000, unixepoch() * 1000000, 0, 0
from outlooks where true
on conflict (workshop_id, bike_id) do nothing;
