-- When chains pass their limits, as it was forecast: one forecast a chain, month and number of readings. made is 'shown' where
-- the outlook existed then, and written once; 'made_later' where it was computed afterwards from what was known at the
-- beginning of the month, and computed anew when the past changes. kilometres and days are JSON: how far ahead, and the
-- probability that the limit is passed by then.
create table passage_forecasts (
    workshop_id blob not null check (length(workshop_id) = 16),
    part_id blob not null check (length(part_id) = 16),
    made text not null check (made in ('shown', 'made_later')),
    month bigint not null,
    readings_used bigint not null check (readings_used >= 0),
    bike_id blob not null check (length(bike_id) = 16),
    bike_group text not null check (length(bike_group) between 1 and 64),
    made_at bigint not null,
    chain_km real not null check (chain_km >= 0),
    limit_percent real not null check (limit_percent > 0),
    kilometres text not null check (json_valid(kilometres)),
    days text check (json_valid(days)),
    swap_in_days bigint check (swap_in_days >= 0),
    quarter_swap real not null check (quarter_swap between 0 and 1),
    quarter_common real not null check (quarter_common between 0 and 1),
    skips real check (skips between 0 and 1),
    primary key (workshop_id, part_id, made, month, readings_used),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
);

-- How these forecasts did, added up each night. The group of no name is the workshop as a whole, for what groups don't add
-- up to. month is that of the forecasts, of the quarter's beginning, or of the swap.
create table record_tallies (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    made text not null check (made in ('shown', 'made_later')),
    bike_group text not null check (length(bike_group) between 0 and 64),
    month bigint not null,
    subject text not null check (subject in ('kilometres', 'dates', 'swap_by', 'demand', 'skips')),
    sums text not null check (json_valid(sums)),
    primary key (workshop_id, made, bike_group, month, subject)
);

-- Up to which month forecasts were made later of a bike, and what they rested on.
create table record_bikes (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    through_month bigint not null,
    fingerprint text not null,
    primary key (workshop_id, bike_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
);
