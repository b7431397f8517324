-- A key counts for one operation: the same key elsewhere is another request. What is kept lives for a day and
-- may be dropped; the fingerprint is known when the answer is.
drop table idempotency_keys;

create table idempotency_keys (
    workshop_id blob not null check (length(workshop_id) = 16),
    token_id blob not null check (length(token_id) = 16),
    operation text not null,
    request_key text not null check (length(request_key) between 1 and 255),
    reserved_at bigint not null,
    fingerprint blob check (length(fingerprint) = 32),
    status bigint check (status between 100 and 599),
    headers text check (json_valid(headers)),
    body blob,
    primary key (workshop_id, token_id, operation, request_key),
    foreign key (workshop_id, token_id) references tokens (workshop_id, token_id),
    check ((status is null) = (headers is null) and (status is null) = (body is null)
        and (status is null) = (fingerprint is null))
);

create index idempotency_keys_by_age on idempotency_keys (reserved_at);
