-- A workshop's lubricants, by name. One that is retired keeps its care and gives its name free. The price is that of one
-- application, minutes the work of it.
create table lubricants (
    workshop_id uuid not null references workshops (workshop_id),
    lubricant_id uuid not null,
    name text not null check (length(name) between 1 and 64),
    name_key text collate "C" not null,
    price_minor bigint check (price_minor between 0 and 1000000000000),
    price_currency text check (length(price_currency) = 3),
    minutes bigint check (minutes between 0 and 1000000),
    created_at bigint not null,
    retired_at bigint,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, lubricant_id),
    check ((price_minor is null) = (price_currency is null))
);

create unique index lubricants_named on lubricants (workshop_id, name_key) where retired_at is null;

alter table lubricants enable row level security;
alter table lubricants force row level security;
create policy own_workshop on lubricants using (
    workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
    or (select current_setting('wear.scope', true)) = 'all');

-- What the drivetrain was lubricated with; what is there already was lubricated with nobody knows what.
alter table care_events add column lubricant_id uuid;

-- What a chain was ridden under, as its bike's last outlook saw it: by lubricant the share of the exposure up to the last reading,
-- and reference km and applications up to that outlook. Null where no care named a lubricant.
alter table chain_records add column lubricants jsonb;
