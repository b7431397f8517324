-- Addresses that are told of crossings. events is a list of words. secret signs what is sent; after a
-- rotation the one before signs along until previous_until.
create table hooks (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    hook_id blob not null check (length(hook_id) = 16),
    label text not null check (length(label) between 1 and 64),
    url text not null check (length(url) between 1 and 8000),
    events text not null check (json_valid(events)),
    secret blob not null check (length(secret) between 24 and 64),
    previous_secret blob check (length(previous_secret) between 24 and 64),
    previous_until bigint,
    failing_since bigint,
    disabled_at bigint,
    disabled_reason text check (disabled_reason in ('by_hand', 'gone', 'failing')),
    created_at bigint not null,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, hook_id),
    check ((previous_secret is null) = (previous_until is null)),
    check ((disabled_at is null) = (disabled_reason is null))
);

-- The outbox: a row is written in the transaction of what it tells of. body is text, as its bytes are signed.
create table hook_messages (
    workshop_id blob not null check (length(workshop_id) = 16),
    message_id blob not null check (length(message_id) = 16),
    hook_id blob not null check (length(hook_id) = 16),
    event text not null,
    body text not null,
    state text not null check (state in ('waiting', 'delivered', 'given_up')),
    tries bigint not null check (tries >= 0),
    next_at bigint,
    created_at bigint not null,
    primary key (workshop_id, message_id),
    foreign key (workshop_id, hook_id) references hooks (workshop_id, hook_id) on delete cascade
);

create index hook_messages_by_hook on hook_messages (workshop_id, hook_id, message_id);
create index hook_messages_by_age on hook_messages (created_at);

create table hook_attempts (
    workshop_id blob not null check (length(workshop_id) = 16),
    message_id blob not null check (length(message_id) = 16),
    attempt bigint not null check (attempt >= 1),
    tried_at bigint not null,
    milliseconds bigint not null check (milliseconds >= 0),
    outcome text not null check (outcome in ('delivered', 'refused', 'redirected', 'gone', 'timed_out',
        'no_connection', 'no_address', 'address_not_allowed', 'insecure')),
    status bigint check (status between 100 and 999),
    primary key (workshop_id, message_id, attempt),
    foreign key (workshop_id, message_id) references hook_messages (workshop_id, message_id) on delete cascade
);

-- How urgent the advice on a part was when hooks were last told: 1 measure by, 2 swap by, 3 swap now.
-- evidence is what it rested on: only other evidence lowers the level.
create table crossings (
    workshop_id blob not null check (length(workshop_id) = 16),
    part_id blob not null check (length(part_id) = 16),
    level bigint not null check (level between 0 and 3),
    evidence text not null,
    crossed_at bigint not null,
    primary key (workshop_id, part_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id)
);

-- The address of a workshop's calendar holds a secret; only its hash is kept.
create table calendars (
    workshop_id blob not null check (length(workshop_id) = 16) primary key references workshops (workshop_id),
    hash blob not null unique check (length(hash) = 32),
    created_at bigint not null
);
