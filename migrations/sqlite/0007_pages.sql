-- The language of a workshop's pages, and who is signed in to them.

alter table workshops add column language text not null default 'en' check (language in ('en', 'de'));

-- A session is found by the hash of the secret in its cookie; the secret is never kept.
create table page_sessions (
    workshop_id blob not null check (length(workshop_id) = 16),
    session_id blob not null check (length(session_id) = 16),
    hash blob not null unique check (length(hash) = 32),
    token_id blob not null check (length(token_id) = 16),
    created_at bigint not null,
    last_seen_at bigint not null,
    primary key (workshop_id, session_id),
    foreign key (workshop_id, token_id) references tokens (workshop_id, token_id),
    check (last_seen_at >= created_at)
);

create index page_sessions_by_token on page_sessions (workshop_id, token_id);
