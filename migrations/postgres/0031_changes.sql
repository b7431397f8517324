-- What was changed, for whoever keeps a copy. A transaction writes down what it changed as it commits; places in the
-- feed are given when it is read, one reader at a time, so that nothing that is committed later comes earlier.
create table changes (
    workshop_id uuid not null,
    change_id uuid not null,
    number bigint,
    kind text collate "C" not null,
    bike_id uuid,
    gone boolean not null,
    -- Ids of that kind, with blanks between them.
    ids text collate "C" not null,
    primary key (workshop_id, change_id),
    foreign key (workshop_id) references workshops (workshop_id)
);
create unique index changes_in_order on changes (workshop_id, number) where number is not null;
create index changes_without_number on changes (workshop_id, change_id) where number is null;

create table change_feeds (
    workshop_id uuid primary key references workshops (workshop_id),
    last_number bigint not null check (last_number >= 0),
    -- Changes up to this one are kept no longer.
    purged_number bigint not null default 0 check (purged_number >= 0)
);

do $$
declare
    named text;
begin
    foreach named in array array['changes', 'change_feeds'] loop
        execute format('alter table %I enable row level security', named);
        execute format('alter table %I force row level security', named);
        execute format($policy$
            create policy own_workshop on %I using (
                workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
                or (select current_setting('wear.scope', true)) = 'all')
            $policy$, named);
    end loop;
end $$;
