-- Where a bike stands in the fleet's list: by the day on which it needs someone, and on one day the worst first. The same number as
-- the program writes with each outlook.
alter table outlooks add column due_order bigint not null default 0;

update outlooks set due_order = attention_on * 100000
    + case advice when 'swap_now' then 0 when 'hold' then 1 when 'swap_by' then 2 when 'measure_by' then 3 else 4 end * 10000
    + cast(round((1.0 - coalesce(probability_over, 0.0)) * 9999.0) as integer);

create index outlooks_by_due on outlooks (workshop_id, due_order, bike_id);
create index outlooks_by_advice_due on outlooks (workshop_id, advice, due_order, bike_id);
drop index outlooks_by_advice;
