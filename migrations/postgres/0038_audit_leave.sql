-- The audit list only grows, but for entries older than they are to be kept, and for those of a workshop that is erased. Who
-- deletes them says so in the same transaction, by a row here that is gone at its end.
create table audit_leave (
    workshop_id uuid primary key references workshops (workshop_id),
    until bigint not null
);

alter table audit_leave enable row level security;
alter table audit_leave force row level security;
create policy own_workshop on audit_leave using (
    workshop_id = (select nullif(current_setting('wear.workshop', true), '')::uuid)
    or (select current_setting('wear.scope', true)) = 'all');

create index audit_by_time on audit (workshop_id, done_at);

create or replace function audit_only_grows() returns trigger language plpgsql as $$
begin
    if tg_op = 'DELETE' and exists (
        select 1 from audit_leave l where l.workshop_id = old.workshop_id and old.done_at < l.until)
    then
        return old;
    end if;
    raise exception 'the audit list only grows';
end $$;
