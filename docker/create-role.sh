#!/bin/sh
# Runs once, on an empty cluster: the service's role owns its database and is no superuser, so that row-level security
# binds it.
set -eu
psql -v ON_ERROR_STOP=1 -v password="$WEAR_DATABASE_PASSWORD" --username "$POSTGRES_USER" <<'SQL'
create role wear login password :'password';
create database wear owner wear;
SQL
