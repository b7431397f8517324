-- Apps that work with a workshop; redirect_uris is a list of addresses. One that was deleted keeps its row, as tokens and the audit name it, and gives its name free.
create table apps (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    app_id blob not null check (length(app_id) = 16),
    name text not null check (length(name) between 1 and 64),
    name_key text not null,
    redirect_uris text not null check (json_valid(redirect_uris)),
    created_at bigint not null,
    deleted_at bigint,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, app_id)
);

create unique index apps_named on apps (workshop_id, name_key) where deleted_at is null;

-- Riders. The name is personal: of a rider who was deleted the id alone is left, which tokens and the audit name.
create table riders (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    rider_id blob not null check (length(rider_id) = 16),
    name text check (length(name) between 1 and 64),
    created_at bigint not null,
    deleted_at bigint,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, rider_id),
    check ((name is null) = (deleted_at is not null))
);

-- A token's reach: what is there already sees the whole workshop. Only apps are bound.
alter table tokens add column app_id blob check (length(app_id) = 16);
alter table tokens add column rider_id blob check (length(rider_id) = 16)
    check (role = 'app' or (app_id is null and rider_id is null));

create index tokens_of_app on tokens (workshop_id, app_id) where app_id is not null;
create index tokens_of_rider on tokens (workshop_id, rider_id) where rider_id is not null;

-- The app that entered a bike, or that it was given to, and who rides it.
alter table bikes add column app_id blob check (length(app_id) = 16);
alter table bikes add column rider_id blob check (length(rider_id) = 16);

create index bikes_of_app on bikes (workshop_id, app_id, bike_id) where app_id is not null;
create index bikes_of_rider on bikes (workshop_id, rider_id, bike_id) where rider_id is not null;

-- The app's token that made a hook, which is told of that token's bikes alone, while it is in force; null of the workshop's hooks.
alter table hooks add column token_id blob check (length(token_id) = 16);

create index hooks_of_token on hooks (workshop_id, token_id) where token_id is not null;

-- One-time codes that wait to be redeemed; a row goes when its code is.
create table links (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    link_id blob not null check (length(link_id) = 16),
    hash blob not null unique check (length(hash) = 32),
    app_id blob check (length(app_id) = 16),
    rider_id blob check (length(rider_id) = 16),
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
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    hash blob not null unique check (length(hash) = 32),
    app_id blob not null check (length(app_id) = 16),
    rider_id blob check (length(rider_id) = 16),
    label text not null check (length(label) between 1 and 64),
    redirect_uri text not null check (length(redirect_uri) between 1 and 2000),
    challenge blob not null check (length(challenge) = 32),
    created_at bigint not null,
    used_at bigint,
    token_id blob check (length(token_id) = 16),
    primary key (workshop_id, hash),
    foreign key (workshop_id, app_id) references apps (workshop_id, app_id),
    foreign key (workshop_id, rider_id) references riders (workshop_id, rider_id),
    foreign key (workshop_id, token_id) references tokens (workshop_id, token_id),
    check (token_id is null or used_at is not null)
);

create index authorizations_by_age on authorizations (created_at);
