//! No statement reads a table that grows with the fleet from end to end.
//!
//! On Postgres sequential scans are forbidden to the planner, so that one that is left means that there is no index to
//! go by; a few thousand rows would be scanned otherwise, whatever the indexes. On SQLite `SCAN` without an index says it.

use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection, Row, SqliteConnection};
use wear_api::store::{Engine, statements};
use wear_tests::TestStore;

const GROWING: [&str; 8] = [
    "rides",
    "bike_days",
    "readings",
    "outlooks",
    "chain_records",
    "forecasts",
    "forecast_scores",
    "passage_forecasts",
];

/// Statements that are meant to read all workshops, or all there is of a small table: named, with the reason.
const ALLOWED: [(&str, &str); 0] = [];

fn scans(plan: &str, mark: &str) -> Vec<String> {
    plan.lines()
        .filter_map(|line| line.split_once(mark))
        .map(|(_, rest)| {
            rest.split_whitespace()
                .next()
                .unwrap_or_default()
                .trim_end_matches(|c: char| c == '_' || c.is_ascii_digit())
                .to_owned()
        })
        .filter(|table| GROWING.contains(&table.as_str()))
        .collect()
}

#[tokio::test]
async fn postgres_goes_by_index() {
    let store = TestStore::postgres().await;
    let mut connection = PgConnection::connect(&store.url).await.unwrap();
    for setting in ["enable_seqscan = off", "plan_cache_mode = force_generic_plan"] {
        connection.execute(AssertSqlSafe(format!("set {setting}"))).await.unwrap();
    }
    let (mut planned, mut by_partition) = (0, 0);
    for (place, (name, sql, engine)) in statements().into_iter().enumerate() {
        if engine == Some(Engine::Sqlite) || !GROWING.iter().any(|table| sql.contains(table)) {
            continue;
        }
        connection.execute(AssertSqlSafe(format!("prepare s{place} as {sql}"))).await.expect(&name);
        let types: Vec<String> = sqlx::query_scalar(
            "select t::text from pg_prepared_statements, unnest(parameter_types) with ordinality as u (t, n)
             where name = $1 order by n",
        )
        .bind(format!("s{place}"))
        .fetch_all(&mut connection)
        .await
        .unwrap();
        let given: Vec<String> = types
            .iter()
            .map(|kind| match kind.as_str() {
                "uuid" => "'019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10'::uuid".to_owned(),
                other => format!("null::{other}"),
            })
            .collect();
        let call = if given.is_empty() { String::new() } else { format!("({})", given.join(", ")) };
        let rows = connection
            .fetch_all(AssertSqlSafe(format!("explain execute s{place}{call}")))
            .await
            .expect(&name);
        let plan: String = rows.iter().map(|row| row.get::<String, _>(0) + "\n").collect();
        let found = scans(&plan, "Seq Scan on ");
        let allowed = ALLOWED.iter().any(|(allowed, _)| *allowed == name);
        assert_eq!(found.is_empty(), !allowed, "{name} reads {found:?} from end to end:\n{plan}");
        planned += 1;
        if sql.contains("from rides") {
            let scanned = |n: usize| {
                plan.lines().any(|line| line.contains("Scan") && line.contains(&format!(" on rides_{n} ")))
            };
            let partitions = (0..16).filter(|n| scanned(*n)).count();
            assert!(partitions <= 1, "{name} looks into {partitions} partitions:\n{plan}");
            by_partition += 1;
        }
    }
    assert!(planned > 20 && by_partition > 2, "{planned} {by_partition}");
}

#[tokio::test]
async fn sqlite_goes_by_index() {
    let store = TestStore::sqlite().await;
    let mut connection = SqliteConnection::connect(&store.url).await.unwrap();
    let mut planned = 0;
    for (name, sql, engine) in statements() {
        if engine == Some(Engine::Postgres) || !GROWING.iter().any(|table| sql.contains(table)) {
            continue;
        }
        let rows =
            connection.fetch_all(AssertSqlSafe(format!("explain query plan {sql}"))).await.expect(&name);
        let plan: String = rows.iter().map(|row| row.get::<String, _>("detail") + "\n").collect();
        let found = scans(&plan, "SCAN ");
        assert_eq!(found, Vec::<String>::new(), "{name}:\n{plan}");
        planned += 1;
    }
    assert!(planned > 20, "{planned}");
}
