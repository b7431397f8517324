-- Addresses that are told of crossings. events is a list of words. secret signs what is sent; after a
-- rotation the one before signs along until previous_until.
create table hooks (
    workshop_id uuid not null references workshops (workshop_id),
    hook_id uuid not null,
    label text not null check (length(label) between 1 and 64),
    url text not null check (length(url) between 1 and 8000),
    events jsonb not null,
    secret bytea not null check (length(secret) between 24 and 64),
    previous_secret bytea check (length(previous_secret) between 24 and 64),
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
    workshop_id uuid not null,
    message_id uuid not null,
    hook_id uuid not null,
    event text collate "C" not null,
    body text not null,
    state text collate "C" not null check (state in ('waiting', 'delivered', 'given_up')),
    tries bigint not null check (tries >= 0),
    next_at bigint,
    created_at bigint not null,
    primary key (workshop_id, message_id),
    foreign key (workshop_id, hook_id) references hooks (workshop_id, hook_id) on delete cascade
);

create index hook_messages_by_hook on hook_messages (workshop_id, hook_id, message_id);
create index hook_messages_by_age on hook_messages (created_at);

create table hook_attempts (
    workshop_id uuid not null,
    message_id uuid not null,
    attempt bigint not null check (attempt >= 1),
    tried_at bigint not null,
    milliseconds bigint not null check (milliseconds >= 0),
    outcome text collate "C" not null check (outcome in ('delivered', 'refused', 'redirected', 'gone', 'timed_out',
        'no_connection', 'no_address', 'address_not_allowed', 'insecure')),
    status bigint check (status between 100 and 999),
    primary key (workshop_id, message_id, attempt),
    foreign key (workshop_id, message_id) references hook_messages (workshop_id, message_id) on delete cascade
);

-- How urgent the advice on a part was when hooks were last told: 1 measure by, 2 swap by, 3 swap now.
-- evidence is what it rested on: only other evidence lowers the level.
create table crossings (
    workshop_id uuid not null,
    part_id uuid not null,
    level bigint not null check (level between 0 and 3),
    evidence text collate "C" not null,
    crossed_at bigint not null,
    primary key (workshop_id, part_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id)
);

-- The address of a workshop's calendar holds a secret; only its hash is kept.
create table calendars (
    workshop_id uuid not null primary key references workshops (workshop_id),
    hash bytea not null unique check (length(hash) = 32),
    created_at bigint not null
);

do $$
declare
    named record;
begin
    for named in
        select relation.relname as name from pg_class relation
        where relation.relnamespace = current_schema()::regnamespace
            and relation.relname in ('hooks', 'hook_messages', 'hook_attempts', 'crossings', 'calendars')
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
