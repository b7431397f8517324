-- Why a cassette, a cog or a ring came off; what is there already came off for reasons that nobody noted.
alter table swaps add column reason text check (reason in ('worn', 'skips', 'damaged', 'upgrade', 'other'));

-- How much damage a workshop's cassettes bear before a new chain skips, learned each night: thresholds in cassettes of
-- damage, each number with its standard deviation, and how good the forecasts of skips were.
create table cassette_fits (
    workshop_id uuid not null primary key references workshops (workshop_id),
    ln_median double precision not null,
    ln_median_sd double precision not null check (ln_median_sd >= 0),
    sigma double precision not null check (sigma > 0),
    sigma_sd double precision not null check (sigma_sd >= 0),
    common_share double precision not null check (common_share between 0 and 1),
    common_share_sd double precision not null check (common_share_sd >= 0),
    cassettes bigint not null check (cassettes >= 0),
    held bigint not null check (held >= 0),
    skipped bigint not null check (skipped >= 0),
    used_up bigint not null check (used_up >= 0),
    told_chains bigint not null check (told_chains >= 0),
    told_skipped bigint not null check (told_skipped >= 0),
    told_sum double precision not null check (told_sum >= 0),
    told_brier double precision not null check (told_brier >= 0),
    learned_at bigint not null
);

alter table cassette_fits enable row level security;
alter table cassette_fits force row level security;
create policy own_workshop on cassette_fits using (
    workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
    or (select current_setting('wear.scope', true)) = 'all');
