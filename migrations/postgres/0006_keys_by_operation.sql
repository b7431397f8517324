-- A key counts for one operation: the same key elsewhere is another request. What is kept lives for a day and
-- may be dropped; the fingerprint is known when the answer is.
drop table idempotency_keys;

create table idempotency_keys (
    workshop_id uuid not null,
    token_id uuid not null,
    operation text collate "C" not null,
    request_key text collate "C" not null check (length(request_key) between 1 and 255),
    reserved_at bigint not null,
    fingerprint bytea check (length(fingerprint) = 32),
    status bigint check (status between 100 and 599),
    headers jsonb,
    body bytea,
    primary key (workshop_id, token_id, operation, request_key),
    foreign key (workshop_id, token_id) references tokens (workshop_id, token_id),
    check ((status is null) = (headers is null) and (status is null) = (body is null)
        and (status is null) = (fingerprint is null))
);

create index idempotency_keys_by_age on idempotency_keys (reserved_at);

alter table idempotency_keys enable row level security;
alter table idempotency_keys force row level security;
create policy own_workshop on idempotency_keys using (
    workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
    or (select current_setting('wear.scope', true)) = 'all');
