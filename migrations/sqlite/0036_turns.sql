-- Workshops take turns, and what somebody has just told goes before what only a setting or a night asks for.

alter table outlook_marks add column rank bigint not null default 0 check (rank in (0, 1));

create index outlook_marks_by_turn on outlook_marks (workshop_id, rank, due_at);

create index jobs_by_turn on jobs (kind, workshop_id, due_at);
