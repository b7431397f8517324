-- A stay can be corrected by itself: its revision says which one a change was made from.
alter table fittings add column revision bigint not null default 1 check (revision >= 1);
