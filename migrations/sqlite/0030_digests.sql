-- E-mails with what is due, one a period. The message of next_on, a date of the workshop, goes out at next_at; last_on is the
-- latest date of which the message is done with, so that none goes out twice. secret stands in the link that stops them.
create table digests (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    digest_id blob not null check (length(digest_id) = 16),
    address text not null check (length(address) between 3 and 254),
    period text not null check (period in ('daily', 'weekly')),
    weekday text check (weekday in ('monday', 'tuesday', 'wednesday', 'thursday', 'friday', 'saturday', 'sunday')),
    hour bigint not null check (hour between 0 and 23),
    language text not null,
    bike_groups text not null check (json_valid(bike_groups)),
    when_nothing_due boolean not null check (when_nothing_due in (0, 1)),
    secret blob not null unique check (length(secret) = 32),
    next_at bigint,
    next_on bigint,
    tries bigint not null check (tries >= 0),
    last_on bigint,
    last_at bigint,
    last_outcome text check (last_outcome in ('sent', 'nothing_due', 'given_up')),
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
