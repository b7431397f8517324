-- Apps that work with a workshop; redirect_uris is a list of addresses. One that was deleted keeps its row, as tokens and the audit name it, and gives its name free.
create table apps (
    workshop_id uuid not null references workshops (workshop_id),
    app_id uuid not null,
    name text not null check (length(name) between 1 and 64),
    name_key text collate "C" not null,
    redirect_uris jsonb not null,
    created_at bigint not null,
    deleted_at bigint,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, app_id)
);

create unique index apps_named on apps (workshop_id, name_key) where deleted_at is null;

-- Riders. The name is personal: of a rider who was deleted the id alone is left, which tokens and the audit name.
create table riders (
    workshop_id uuid not null references workshops (workshop_id),
    rider_id uuid not null,
    name text check (length(name) between 1 and 64),
    created_at bigint not null,
    deleted_at bigint,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, rider_id),
    check ((name is null) = (deleted_at is not null))
);

-- A token's reach: what is there already sees the whole workshop. Only apps are bound.
alter table tokens add column app_id uuid;
alter table tokens add column rider_id uuid check (role = 'app' or (app_id is null and rider_id is null));

create index tokens_of_app on tokens (workshop_id, app_id) where app_id is not null;
create index tokens_of_rider on tokens (workshop_id, rider_id) where rider_id is not null;

-- The app that entered a bike, or that it was given to, and who rides it.
alter table bikes add column app_id uuid;
alter table bikes add column rider_id uuid;

create index bikes_of_app on bikes (workshop_id, app_id, bike_id) where app_id is not null;
create index bikes_of_rider on bikes (workshop_id, rider_id, bike_id) where rider_id is not null;

-- The app's token that made a hook, which is told of that token's bikes alone, while it is in force; null of the workshop's hooks.
alter table hooks add column token_id uuid;

create index hooks_of_token on hooks (workshop_id, token_id) where token_id is not null;

-- One-time codes that wait to be redeemed; a row goes when its code is.
create table links (
    workshop_id uuid not null references workshops (workshop_id),
    link_id uuid not null,
    hash bytea not null unique check (length(hash) = 32),
    app_id uuid,
    rider_id uuid,
    label text not null check (length(label) between 1 and 64),
    created_at bigint not null,
    expires_at bigint not null,
    primary key (workshop_id, link_id),
    foreign key (workshop_id, app_id) references apps (workshop_id, app_id),
    foreign key (workshop_id, rider_id) references riders (workshop_id, rider_id),
    check (app_id is not null or rider_id is not null)
);

-- What somebody allowed an app by OAuth 2.0. A code that was exchanged is remembered for a day with the token that it gave: one
-- that comes twice was stolen from somebody.
create table authorizations (
    workshop_id uuid not null references workshops (workshop_id),
    hash bytea not null unique check (length(hash) = 32),
    app_id uuid not null,
    rider_id uuid,
    label text not null check (length(label) between 1 and 64),
    redirect_uri text not null check (length(redirect_uri) between 1 and 2000),
    challenge bytea not null check (length(challenge) = 32),
    created_at bigint not null,
    used_at bigint,
    token_id uuid,
    primary key (workshop_id, hash),
    foreign key (workshop_id, app_id) references apps (workshop_id, app_id),
    foreign key (workshop_id, rider_id) references riders (workshop_id, rider_id),
    foreign key (workshop_id, token_id) references tokens (workshop_id, token_id),
    check (token_id is null or used_at is not null)
);

create index authorizations_by_age on authorizations (created_at);

do $$
declare
    named text;
begin
    foreach named in array array['apps', 'riders', 'links', 'authorizations'] loop
        execute format('alter table %I enable row level security', named);
        execute format('alter table %I force row level security', named);
        execute format($policy$
            create policy own_workshop on %I using (
                workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
                or (select current_setting('wear.scope', true)) = 'all')
            $policy$, named);
    end loop;
end $$;
