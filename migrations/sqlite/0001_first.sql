-- Instants are bigint microseconds since 1970-01-01T00:00:00Z and dates are bigint days since
-- 1970-01-01, on both engines: one text of SQL, exact order, nothing rounded. To read one:
-- datetime(taken_at / 1e6, 'unixepoch'), date(day * 86400, 'unixepoch').
-- Ids are UUIDs of version 7, made by the program. Texts are compared byte by byte.

create table workshops (
    workshop_id blob not null check (length(workshop_id) = 16) primary key,
    name text not null check (length(name) between 1 and 64),
    name_key text not null unique,
    time_zone text not null,
    units_shown text not null check (units_shown in ('km', 'miles')),
    currency text not null check (length(currency) = 3),
    risk real not null check (risk between 0 and 1),
    limit_eleven_or_more real check (limit_eleven_or_more between 0.2 and 2.0),
    limit_up_to_ten real check (limit_up_to_ten between 0.2 and 2.0),
    limit_single_sprocket real check (limit_single_sprocket between 0.2 and 2.0),
    swap_labour_minor bigint not null check (swap_labour_minor >= 0),
    reading_minor bigint not null check (reading_minor >= 0),
    failure_minor bigint not null check (failure_minor >= 0),
    calibrations text not null check (json_valid(calibrations)),
    created_at bigint not null,
    revision bigint not null check (revision >= 1)
);

create table tokens (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    token_id blob not null check (length(token_id) = 16),
    hash blob not null unique check (length(hash) = 32),
    role text not null check (role in ('manager', 'mechanic', 'app')),
    label text not null check (length(label) between 1 and 64),
    created_at bigint not null,
    last_used_at bigint,
    revoked_at bigint,
    primary key (workshop_id, token_id)
);

create table part_models (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    part_model_id blob not null check (length(part_model_id) = 16),
    place text not null check (place in ('chain', 'cassette', 'cog', 'ring', 'jockey_wheels')),
    name text not null check (length(name) between 1 and 64),
    name_key text not null,
    geometry text not null check (json_valid(geometry)),
    price_minor bigint check (price_minor >= 0),
    price_currency text check (length(price_currency) = 3),
    limit_percent real check (limit_percent between 0.2 and 2.0),
    created_at bigint not null,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, part_model_id),
    unique (workshop_id, part_model_id, place),
    check ((price_minor is null) = (price_currency is null))
);

-- A part's model fits the same place as the part; so does a fitting's part.
create table parts (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    part_id blob not null check (length(part_id) = 16),
    model_id blob check (length(model_id) = 16),
    place text not null check (place in ('chain', 'cassette', 'cog', 'ring', 'jockey_wheels')),
    label text check (length(label) between 1 and 64),
    created_at bigint not null,
    retired_at bigint,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, part_id),
    unique (workshop_id, part_id, place),
    foreign key (workshop_id, model_id, place) references part_models (workshop_id, part_model_id, place)
);

create index parts_by_model on parts (workshop_id, model_id);

-- label_key and group_key are in lower case, for searches and for order.
create table bikes (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    bike_id blob not null check (length(bike_id) = 16),
    label text not null check (length(label) between 1 and 64),
    label_key text not null,
    bike_group text not null check (length(bike_group) between 1 and 64),
    group_key text not null,
    usage text not null,
    drivetrain text not null check (json_valid(drivetrain)),
    limit_percent real check (limit_percent between 0.2 and 2.0),
    created_at bigint not null,
    retired_at bigint,
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, bike_id)
);

create index bikes_by_label on bikes (workshop_id, label_key, bike_id);
create index bikes_by_group on bikes (workshop_id, bike_group, bike_id);

create table fittings (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    fitting_id blob not null check (length(fitting_id) = 16),
    part_id blob not null check (length(part_id) = 16),
    place text not null check (place in ('chain', 'cassette', 'cog', 'ring', 'jockey_wheels')),
    position bigint not null check (position between 0 and 15),
    fitted_at bigint not null,
    removed_at bigint,
    primary key (workshop_id, bike_id, fitting_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    foreign key (workshop_id, part_id, place) references parts (workshop_id, part_id, place),
    check (removed_at >= fitted_at)
);

-- A place holds one part at a time, and a part is on one bike at a time.
create unique index fittings_one_part_a_place on fittings (workshop_id, bike_id, place, position)
    where removed_at is null;
create unique index fittings_one_bike_a_part on fittings (workshop_id, part_id) where removed_at is null;
create index fittings_by_part on fittings (workshop_id, part_id, fitted_at);

-- Distances in mm and energies in J, whole, so that sums are exact in any order. base_reference_mm and
-- load_energy_j are what the ride did to the drivetrain when it was stored.
create table rides (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    ride_id blob not null check (length(ride_id) = 16),
    source text not null check (length(source) between 1 and 128),
    source_id text not null check (length(source_id) between 1 and 128),
    started_at bigint not null,
    surface text not null check (surface in ('paved', 'gravel', 'mud', 'indoor')),
    wet boolean not null check (wet in (0, 1)),
    distance_mm bigint not null check (distance_mm >= 0),
    climb_mm bigint check (climb_mm >= 0),
    energy_j bigint check (energy_j >= 0),
    base_reference_mm bigint not null check (base_reference_mm >= 0),
    load_energy_j bigint not null check (load_energy_j >= 0),
    revision bigint not null check (revision >= 1),
    primary key (workshop_id, bike_id, ride_id),
    unique (workshop_id, source, source_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
) without rowid;

create index rides_by_start on rides (workshop_id, bike_id, started_at, ride_id);

-- Sums over a bike's rides of one UTC date in one context. What is taken away was added before: a sum
-- below nought is a fault, and refused.
create table bike_days (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    day bigint not null,
    surface text not null check (surface in ('paved', 'gravel', 'mud', 'indoor')),
    wet boolean not null check (wet in (0, 1)),
    rides bigint not null check (rides >= 0),
    distance_mm bigint not null check (distance_mm >= 0),
    climb_mm bigint not null check (climb_mm >= 0),
    energy_j bigint not null check (energy_j >= 0),
    base_reference_mm bigint not null check (base_reference_mm >= 0),
    measured_reference_mm bigint not null check (measured_reference_mm >= 0),
    climb_reference_mm bigint not null check (climb_reference_mm >= 0),
    primary key (workshop_id, bike_id, day, surface, wet),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
) without rowid;

-- entered is JSON with its keys in a fixed order, kept as text so that equal entries are equal texts.
create table readings (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    reading_id blob not null check (length(reading_id) = 16),
    part_id blob not null check (length(part_id) = 16),
    taken_at bigint not null,
    entered text not null,
    voided_at bigint,
    void_reason text check (length(void_reason) between 1 and 2000),
    primary key (workshop_id, bike_id, reading_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id),
    check ((voided_at is null) = (void_reason is null))
);

-- The same entry at the same instant is one reading, however often it is sent.
create unique index readings_once on readings (workshop_id, part_id, taken_at, entered) where voided_at is null;
create index readings_by_time on readings (workshop_id, bike_id, taken_at, reading_id);

create table care_events (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    care_id blob not null check (length(care_id) = 16),
    kind text not null check (kind in ('cleaned', 'lubricated', 'cleaned_and_lubricated')),
    done_at bigint not null,
    note text check (length(note) between 1 and 2000),
    primary key (workshop_id, bike_id, care_id),
    unique (workshop_id, bike_id, done_at, kind),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
);

create table swaps (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    swap_id blob not null check (length(swap_id) = 16),
    swapped_at bigint not null,
    place text not null check (place in ('chain', 'cassette', 'cog', 'ring', 'jockey_wheels')),
    position bigint not null check (position between 0 and 15),
    off_part_id blob check (length(off_part_id) = 16),
    on_part_id blob not null check (length(on_part_id) = 16),
    model_id blob check (length(model_id) = 16),
    reading_id blob check (length(reading_id) = 16),
    note text check (length(note) between 1 and 2000),
    voided_at bigint,
    void_reason text check (length(void_reason) between 1 and 2000),
    primary key (workshop_id, bike_id, swap_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    foreign key (workshop_id, off_part_id, place) references parts (workshop_id, part_id, place),
    foreign key (workshop_id, on_part_id, place) references parts (workshop_id, part_id, place),
    foreign key (workshop_id, model_id, place) references part_models (workshop_id, part_model_id, place),
    foreign key (workshop_id, bike_id, reading_id) references readings (workshop_id, bike_id, reading_id),
    check ((voided_at is null) = (void_reason is null))
);

create unique index swaps_once on swaps (workshop_id, bike_id, place, position, swapped_at)
    where voided_at is null;
create index swaps_by_time on swaps (workshop_id, bike_id, swapped_at, swap_id);

-- attention_on is 2932896, the last day of the year 9999, where nobody has to see to the bike.
create table outlooks (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    part_id blob check (length(part_id) = 16),
    advice text not null check (advice in ('ride_on', 'measure_by', 'swap_by', 'swap_now', 'hold')),
    attention_on bigint not null,
    swap_by bigint,
    measure_by bigint,
    probability_over real check (probability_over between 0 and 1),
    remaining_km_p10 real check (remaining_km_p10 >= 0),
    remaining_km_p50 real check (remaining_km_p50 >= remaining_km_p10),
    remaining_km_p90 real check (remaining_km_p90 >= remaining_km_p50),
    payload text not null check (json_valid(payload)),
    computed_at bigint not null,
    primary key (workshop_id, bike_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id),
    foreign key (workshop_id, part_id) references parts (workshop_id, part_id)
);

create index outlooks_by_attention on outlooks (workshop_id, attention_on, bike_id);
create index outlooks_by_advice on outlooks (workshop_id, advice, attention_on, bike_id);

-- A bike with a row here has events that its outlook doesn't know. due_at is when a worker may take it:
-- at once, or when another worker's lease or a pause after a failure ends.
create table outlook_marks (
    workshop_id blob not null check (length(workshop_id) = 16),
    bike_id blob not null check (length(bike_id) = 16),
    sequence bigint not null,
    marked_at bigint not null,
    due_at bigint not null,
    attempts bigint not null check (attempts >= 0),
    primary key (workshop_id, bike_id),
    foreign key (workshop_id, bike_id) references bikes (workshop_id, bike_id)
) without rowid;

create index outlook_marks_by_due on outlook_marks (due_at);

create table jobs (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    job_id blob not null check (length(job_id) = 16),
    kind text not null,
    job_key text not null,
    payload text not null check (json_valid(payload)),
    sequence bigint not null,
    due_at bigint not null,
    attempts bigint not null check (attempts >= 0),
    last_error text,
    created_at bigint not null,
    primary key (workshop_id, job_id),
    unique (workshop_id, kind, job_key)
);

create index jobs_by_due on jobs (kind, due_at);

create table idempotency_keys (
    workshop_id blob not null check (length(workshop_id) = 16),
    token_id blob not null check (length(token_id) = 16),
    request_key text not null check (length(request_key) between 1 and 255),
    fingerprint blob not null check (length(fingerprint) = 32),
    reserved_at bigint not null,
    status bigint check (status between 100 and 599),
    headers text check (json_valid(headers)),
    body blob,
    primary key (workshop_id, token_id, request_key),
    foreign key (workshop_id, token_id) references tokens (workshop_id, token_id),
    check ((status is null) = (headers is null) and (status is null) = (body is null))
);

create index idempotency_keys_by_age on idempotency_keys (reserved_at);

create table audit (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    audit_id blob not null check (length(audit_id) = 16),
    done_at bigint not null,
    token_id blob check (length(token_id) = 16),
    action text not null,
    subject text not null,
    detail text not null check (json_valid(detail)),
    primary key (workshop_id, audit_id),
    foreign key (workshop_id, token_id) references tokens (workshop_id, token_id)
);

create trigger audit_is_not_changed before update on audit
begin
    select raise(abort, 'the audit list only grows');
end;

create trigger audit_is_not_deleted before delete on audit
begin
    select raise(abort, 'the audit list only grows');
end;
