-- Why a cassette, a cog or a ring came off; what is there already came off for reasons that nobody noted.
alter table swaps add column reason text check (reason in ('worn', 'skips', 'damaged', 'upgrade', 'other'));

-- How much damage a workshop's cassettes bear before a new chain skips, learned each night: thresholds in cassettes of
-- damage, each number with its standard deviation, and how good the forecasts of skips were.
create table cassette_fits (
    workshop_id blob not null check (length(workshop_id) = 16) primary key references workshops (workshop_id),
    ln_median real not null,
    ln_median_sd real not null check (ln_median_sd >= 0),
    sigma real not null check (sigma > 0),
    sigma_sd real not null check (sigma_sd >= 0),
    common_share real not null check (common_share between 0 and 1),
    common_share_sd real not null check (common_share_sd >= 0),
    cassettes bigint not null check (cassettes >= 0),
    held bigint not null check (held >= 0),
    skipped bigint not null check (skipped >= 0),
    used_up bigint not null check (used_up >= 0),
    told_chains bigint not null check (told_chains >= 0),
    told_skipped bigint not null check (told_skipped >= 0),
    told_sum real not null check (told_sum >= 0),
    told_brier real not null check (told_brier >= 0),
    learned_at bigint not null
);
