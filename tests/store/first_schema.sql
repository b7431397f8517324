insert into workshops (workshop_id, name, name_key, time_zone, units_shown, currency, risk, swap_labour_minor, reading_minor,
    failure_minor, calibrations, created_at, revision)
values (u'01a00000-0000-7000-8000-000000000001', 'Harbour', 'harbour', 'Europe/Amsterdam', 'km', 'EUR', 0.1, 1500, 300, 6000, '[]',
    1767225600000000, 1);
insert into tokens (workshop_id, token_id, hash, role, label, created_at)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000002', h'5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a', 'manager', 'old',
    1767225600000000);
insert into bikes (workshop_id, bike_id, label, label_key, bike_group, group_key, usage, drivetrain, created_at, revision)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000003', '041', '041', 'town-8s', 'town-8s', 'town',
    '{"rings":[42],"cogs":[11,13,15,17,20,23,26,30],"links":114,"gearing":"derailleur","wheel_circumference_mm":2105,"jockey_teeth":11,"light_metal_cogs":false}', 1767225600000000, 1);
insert into parts (workshop_id, part_id, place, created_at, revision)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000004', 'chain', 1767225600000000, 1);
insert into fittings (workshop_id, bike_id, fitting_id, part_id, place, position, fitted_at)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000003', u'01a00000-0000-7000-8000-000000000005',
    u'01a00000-0000-7000-8000-000000000004', 'chain', 0, 1767225600000000);
insert into rides (workshop_id, bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, base_reference_mm,
    load_energy_j, revision)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000003', u'01a00000-0000-7000-8000-000000000006',
    'log', 'r1', 1772352000000000, 'paved', false, 1200000000, 1200000000, 18000000, 1);
insert into bike_days (workshop_id, bike_id, day, surface, wet, rides, distance_mm, climb_mm, energy_j, base_reference_mm,
    measured_reference_mm, climb_reference_mm)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000003', 20513, 'paved', false, 1, 1200000000, 0,
    0, 1200000000, 0, 0);
insert into readings (workshop_id, bike_id, reading_id, part_id, taken_at, entered)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000003', u'01a00000-0000-7000-8000-000000000007',
    u'01a00000-0000-7000-8000-000000000004', 1772524800000000, '{"entry":"percent","instrument":"rule","percent":0.2}');
insert into care_events (workshop_id, bike_id, care_id, kind, done_at)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000003', u'01a00000-0000-7000-8000-000000000008',
    'cleaned_and_lubricated', 1769904000000000);
insert into idempotency_keys (workshop_id, token_id, request_key, fingerprint, reserved_at)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000002', 'k1', h'5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a5a', 1772524800000000);
insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts)
values (u'01a00000-0000-7000-8000-000000000001', u'01a00000-0000-7000-8000-000000000003', 1, 1772524800000000, 1772524800000000, 0);
