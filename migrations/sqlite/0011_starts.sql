-- How a part's stay begins: new, or as it was found when the bike was entered. hint_mm: about so far it had run before.
-- What is there already counts as new, as it did.
alter table fittings add column start text not null default 'new' check (start in ('new', 'as_found'));
alter table fittings add column hint_mm bigint check (hint_mm >= 0 and (hint_mm is null or start = 'as_found'));

-- How a chain's record begins, as its bike's last outlook saw it: the limit at which chains of the bike came off, and
-- about so many reference km before.
alter table chain_records add column start text not null default 'new' check (start in ('new', 'as_found'));
alter table chain_records add column start_limit_percent real check (start_limit_percent between 0.2 and 2.0);
alter table chain_records add column start_reference_km real check (start_reference_km >= 0);
