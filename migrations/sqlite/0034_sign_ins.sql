-- One-time codes that sign a person in; a row goes when its code is used.
create table sign_ins (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    hash blob not null unique check (length(hash) = 32),
    token_id blob not null check (length(token_id) = 16),
    created_at bigint not null,
    expires_at bigint not null check (expires_at > created_at),
    primary key (workshop_id, hash),
    foreign key (workshop_id, token_id) references tokens (workshop_id, token_id)
);

create index sign_ins_of_token on sign_ins (workshop_id, token_id);

-- 1: somebody's own device, which stays signed in for weeks.
alter table page_sessions add column own_device bigint not null default 0 check (own_device in (0, 1));
