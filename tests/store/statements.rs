//! Each statement of the store is one that each engine understands.

use sqlx::{Connection, Executor, PgConnection, SqliteConnection};
use wear_api::store::{Engine, statements};
use wear_tests::TestStore;

#[tokio::test]
async fn postgres_prepares_every_statement() {
    let store = TestStore::postgres().await;
    let mut connection = PgConnection::connect(&store.url).await.unwrap();
    let mut prepared = 0;
    for (name, sql, engine) in statements() {
        if engine != Some(Engine::Sqlite) {
            connection.prepare(sqlx::SqlStr::from_static(sql)).await.map(|_| ()).expect(&name);
            prepared += 1;
        }
    }
    assert!(prepared > 80, "only {prepared}");
}

#[tokio::test]
async fn sqlite_prepares_every_statement() {
    let store = TestStore::sqlite().await;
    let mut connection = SqliteConnection::connect(&store.url).await.unwrap();
    let mut prepared = 0;
    for (name, sql, engine) in statements() {
        if engine != Some(Engine::Postgres) {
            connection.prepare(sqlx::SqlStr::from_static(sql)).await.map(|_| ()).expect(&name);
            prepared += 1;
        }
    }
    assert!(prepared > 80, "only {prepared}");
}

/// A statement that isn't a named constant would escape the two tests above.
#[test]
fn statements_are_named() {
    for entry in std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/../wear-api/src/store")).unwrap() {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        for call in
            ["query(\"", "query_as(\"", "query_scalar(\"", "raw_sql(", "AssertSqlSafe", "QueryBuilder"]
        {
            assert!(!text.contains(call), "{} has {call}", path.display());
        }
    }
}
