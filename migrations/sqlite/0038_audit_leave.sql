-- The audit list only grows, but for entries older than they are to be kept, and for those of a workshop that is erased. Who
-- deletes them says so in the same transaction, by a row here that is gone at its end.
create table audit_leave (
    workshop_id blob primary key not null check (length(workshop_id) = 16) references workshops (workshop_id),
    until bigint not null
);

create index audit_by_time on audit (workshop_id, done_at);

drop trigger audit_is_not_deleted;
create trigger audit_is_not_deleted before delete on audit
when not exists (select 1 from audit_leave l where l.workshop_id = old.workshop_id and old.done_at < l.until)
begin
    select raise(abort, 'the audit list only grows');
end;
