-- E-mails with what is due, one a period. The message of next_on, a date of the workshop, goes out at next_at; last_on is the
-- latest date of which the message is done with, so that none goes out twice. secret stands in the link that stops them.
create table digests (
    workshop_id uuid not null references workshops (workshop_id),
    digest_id uuid not null,
    address text not null check (length(address) between 3 and 254),
    period text collate "C" not null check (period in ('daily', 'weekly')),
    weekday text collate "C" check (weekday in ('monday', 'tuesday', 'wednesday', 'thursday', 'friday', 'saturday', 'sunday')),
    hour bigint not null check (hour between 0 and 23),
    language text collate "C" not null,
    bike_groups jsonb not null,
    when_nothing_due boolean not null,
    secret bytea not null unique check (length(secret) = 32),
    next_at bigint,
    next_on bigint,
    tries bigint not null check (tries >= 0),
    last_on bigint,
    last_at bigint,
    last_outcome text collate "C" check (last_outcome in ('sent', 'nothing_due', 'given_up')),
    last_error text,
    unsubscribed_at bigint,
    created_at bigint not null,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, digest_id),
    check ((period = 'weekly') = (weekday is not null)),
    check ((next_at is null) = (next_on is null)),
    check ((last_on is null) = (last_outcome is null)),
    check ((last_on is null) = (last_at is null))
);

alter table digests enable row level security;
alter table digests force row level security;
create policy own_workshop on digests using (
    workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
    or (select current_setting('wear.scope', true)) = 'all');
