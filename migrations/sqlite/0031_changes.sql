-- What was changed, for whoever keeps a copy. A transaction writes down what it changed as it commits; places in the
-- feed are given when it is read, one reader at a time, so that nothing that is committed later comes earlier.
create table changes (
    workshop_id blob not null check (length(workshop_id) = 16),
    change_id blob not null check (length(change_id) = 16),
    number bigint,
    kind text not null,
    bike_id blob check (length(bike_id) = 16),
    gone boolean not null check (gone in (0, 1)),
    -- Ids of that kind, with blanks between them.
    ids text not null,
    primary key (workshop_id, change_id),
    foreign key (workshop_id) references workshops (workshop_id)
);
create unique index changes_in_order on changes (workshop_id, number) where number is not null;
create index changes_without_number on changes (workshop_id, change_id) where number is null;

create table change_feeds (
    workshop_id blob primary key not null check (length(workshop_id) = 16) references workshops (workshop_id),
    last_number bigint not null check (last_number >= 0),
    -- Changes up to this one are kept no longer.
    purged_number bigint not null default 0 check (purged_number >= 0)
);
