-- What the fleet's chains taught of models and of how wear drifts over the calendar, learned each night. payload is JSON: each
-- effect, their covariance, each group's usual mix, the slope.
create table wear_effects (
    workshop_id blob not null check (length(workshop_id) = 16) references workshops (workshop_id),
    payload text not null check (json_valid(payload)),
    learned_at bigint not null,
    primary key (workshop_id)
);
