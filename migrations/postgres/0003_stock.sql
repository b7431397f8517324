-- What lies on the shelf, by part model. counted_at: when somebody counted last; what happened before is
-- in the count already.
create table stock (
    workshop_id uuid not null,
    part_model_id uuid not null,
    on_shelf bigint not null check (on_shelf between 0 and 1000000),
    pack_size bigint not null check (pack_size between 1 and 10000),
    lead_time_days bigint not null check (lead_time_days between 0 and 365),
    reorder_point bigint check (reorder_point between 0 and 1000000),
    service_level double precision check (service_level between 0.5 and 0.999),
    counted_at bigint not null,
    created_at bigint not null,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, part_model_id),
    foreign key (workshop_id, part_model_id) references part_models (workshop_id, part_model_id)
);

-- A substitute sits in the same place; rank 0 is the best.
create table stock_substitutes (
    workshop_id uuid not null,
    part_model_id uuid not null,
    rank bigint not null check (rank between 0 and 15),
    substitute_id uuid not null,
    place text not null check (place in ('chain', 'cassette', 'cog', 'ring', 'jockey_wheels')),
    primary key (workshop_id, part_model_id, rank),
    unique (workshop_id, part_model_id, substitute_id),
    foreign key (workshop_id, part_model_id) references stock (workshop_id, part_model_id),
    foreign key (workshop_id, part_model_id, place) references part_models (workshop_id, part_model_id, place),
    foreign key (workshop_id, substitute_id, place) references part_models (workshop_id, part_model_id, place),
    check (substitute_id <> part_model_id)
);

-- on_shelf: whether its parts were added to the shelf's count.
create table deliveries (
    workshop_id uuid not null,
    delivery_id uuid not null,
    part_model_id uuid not null,
    parts bigint not null check (parts between 1 and 1000000),
    expected_on bigint not null,
    arrived_on bigint,
    on_shelf boolean not null,
    note text check (length(note) between 1 and 2000),
    created_at bigint not null,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, delivery_id),
    foreign key (workshop_id, part_model_id) references part_models (workshop_id, part_model_id),
    check (arrived_on is not null or not on_shelf)
);

create index deliveries_by_date on deliveries (workshop_id, expected_on, delivery_id);
create index deliveries_under_way on deliveries (workshop_id, part_model_id) where arrived_on is null;

-- Whether the part was taken off the shelf's count.
alter table swaps add column from_shelf boolean not null default false;

do $$
declare
    named text;
begin
    foreach named in array array['stock', 'stock_substitutes', 'deliveries'] loop
        execute format('alter table %I enable row level security', named);
        execute format('alter table %I force row level security', named);
        execute format($policy$
            create policy own_workshop on %I using (
                workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
                or (select current_setting('wear.scope', true)) = 'all')
            $policy$, named);
    end loop;
end $$;
