//! The two sets of migrations make the same tables.

use std::collections::BTreeSet;
use std::path::Path;

use sqlx::{Connection, PgConnection, SqliteConnection};
use wear_tests::TestStore;

const POSTGRES_COLUMNS: &str = "
    select c.table_name::text, c.column_name::text, c.data_type::text, c.is_nullable = 'YES'
    from information_schema.columns c
    join pg_class r on r.relname = c.table_name and r.relnamespace = 'public'::regnamespace
    where c.table_schema = 'public' and not r.relispartition and c.table_name <> '_sqlx_migrations'";

const SQLITE_COLUMNS: &str = "
    select t.name, c.name, lower(c.type), c.\"notnull\" = 0
    from sqlite_schema t, pragma_table_info(t.name) c
    where t.type = 'table' and t.name not like 'sqlite%' and t.name <> '_sqlx_migrations'";

const POSTGRES_FOREIGN_KEYS: &str = "
    select r.relname::text, f.relname::text,
        (select string_agg(a.attname, ',' order by k.n) from unnest(c.conkey) with ordinality k(number, n)
            join pg_attribute a on a.attrelid = c.conrelid and a.attnum = k.number),
        (select string_agg(a.attname, ',' order by k.n) from unnest(c.confkey) with ordinality k(number, n)
            join pg_attribute a on a.attrelid = c.confrelid and a.attnum = k.number)
    from pg_constraint c
    join pg_class r on r.oid = c.conrelid
    join pg_class f on f.oid = c.confrelid
    where c.contype = 'f' and not r.relispartition and r.relnamespace = 'public'::regnamespace";

const SQLITE_FOREIGN_KEYS: &str = "
    select \"table\", target, group_concat(\"from\", ','), group_concat(\"to\", ',') from (
        select t.name as \"table\", f.\"table\" as target, f.id, f.\"from\", f.\"to\"
        from sqlite_schema t, pragma_foreign_key_list(t.name) f
        where t.type = 'table' order by t.name, f.id, f.seq)
    group by \"table\", id";

/// Table, columns, whether unique, whether partial.
const POSTGRES_INDEXES: &str = "
    select r.relname::text,
        (select string_agg(a.attname, ',' order by k.n) from unnest(i.indkey::int2[]) with ordinality k(number, n)
            join pg_attribute a on a.attrelid = i.indrelid and a.attnum = k.number),
        i.indisunique, i.indpred is not null
    from pg_index i join pg_class r on r.oid = i.indrelid
    where not r.relispartition and r.relnamespace = 'public'::regnamespace and r.relname <> '_sqlx_migrations'";

const SQLITE_INDEXES: &str = "
    select \"table\", group_concat(column_name, ','), is_unique, is_partial from (
        select t.name as \"table\", l.name as index_name, l.\"unique\" = 1 as is_unique, l.partial = 1 as is_partial,
            c.name as column_name
        from sqlite_schema t, pragma_index_list(t.name) l, pragma_index_info(l.name) c
        where t.type = 'table' and t.name <> '_sqlx_migrations' order by t.name, l.name, c.seqno)
    group by \"table\", index_name";

/// What each engine calls a type, in one word for both.
fn kind(name: &str) -> &'static str {
    match name {
        "uuid" | "bytea" | "blob" => "bytes",
        "text" | "jsonb" => "text",
        "bigint" => "whole number",
        "boolean" => "truth",
        "double precision" | "real" => "number",
        other => panic!("a type that the other engine may not have: {other}"),
    }
}

async fn connections() -> (PgConnection, SqliteConnection, [TestStore; 2]) {
    let stores = [TestStore::postgres().await, TestStore::sqlite().await];
    let postgres = PgConnection::connect(&stores[0].url).await.unwrap();
    let sqlite = SqliteConnection::connect(&stores[1].url).await.unwrap();
    (postgres, sqlite, stores)
}

fn assert_same<T: Ord + std::fmt::Debug>(postgres: BTreeSet<T>, sqlite: BTreeSet<T>, at_least: usize) {
    let only_postgres: Vec<_> = postgres.difference(&sqlite).collect();
    let only_sqlite: Vec<_> = sqlite.difference(&postgres).collect();
    assert!(only_postgres.is_empty() && only_sqlite.is_empty(), "{only_postgres:#?}\n{only_sqlite:#?}");
    assert!(postgres.len() >= at_least, "only {} to compare", postgres.len());
}

#[tokio::test]
async fn columns_are_the_same() {
    let (mut postgres, mut sqlite, _stores) = connections().await;
    type Column = (String, String, String, bool);
    let postgres: Vec<Column> = sqlx::query_as(POSTGRES_COLUMNS).fetch_all(&mut postgres).await.unwrap();
    let sqlite: Vec<Column> = sqlx::query_as(SQLITE_COLUMNS).fetch_all(&mut sqlite).await.unwrap();
    let plain = |columns: Vec<Column>| -> BTreeSet<_> {
        columns.into_iter().map(|(table, name, of, null)| (table, name, kind(&of), null)).collect()
    };
    assert_same(plain(postgres), plain(sqlite), 120);
}

#[tokio::test]
async fn foreign_keys_are_the_same() {
    let (mut postgres, mut sqlite, _stores) = connections().await;
    type Key = (String, String, String, String);
    let postgres: Vec<Key> = sqlx::query_as(POSTGRES_FOREIGN_KEYS).fetch_all(&mut postgres).await.unwrap();
    let sqlite: Vec<Key> = sqlx::query_as(SQLITE_FOREIGN_KEYS).fetch_all(&mut sqlite).await.unwrap();
    assert_same(postgres.into_iter().collect(), sqlite.into_iter().collect(), 20);
}

#[tokio::test]
async fn keys_and_indexes_are_the_same() {
    let (mut postgres, mut sqlite, _stores) = connections().await;
    type Index = (String, String, bool, bool);
    let postgres: Vec<Index> = sqlx::query_as(POSTGRES_INDEXES).fetch_all(&mut postgres).await.unwrap();
    let sqlite: Vec<Index> = sqlx::query_as(SQLITE_INDEXES).fetch_all(&mut sqlite).await.unwrap();
    assert_same(postgres.into_iter().collect(), sqlite.into_iter().collect(), 35);
}

#[test]
fn both_sets_have_the_same_files() {
    let names = |engine: &str| -> BTreeSet<_> {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations").join(engine);
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name()).collect()
    };
    assert_same(names("postgres"), names("sqlite"), 1);
}
