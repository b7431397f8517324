//! A fault of the store stays one: it isn't told as a mistake of the sender's.

use serde_json::{Value, json};
use sqlx::{AssertSqlSafe, Connection as _, Executor as _, PgConnection, SqliteConnection};
use wear_api::store::Engine;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(only_a_missing_row_is_no_such_thing);

const UNKNOWN: &str = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10";

/// Takes a table away under the running service.
async fn lose(server: &TestServer, table: &str) {
    let sql = AssertSqlSafe(format!("alter table {table} rename to lost_{table}"));
    match server.services.store.engine() {
        Engine::Postgres => {
            let mut connection = PgConnection::connect(server.database_url()).await.expect("connects");
            connection.execute(sql).await.expect("renames");
        }
        Engine::Sqlite => {
            let mut connection = SqliteConnection::connect(server.database_url()).await.expect("connects");
            connection.execute(sql).await.expect("renames");
        }
    }
}

async fn only_a_missing_row_is_no_such_thing(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let asked: [(&str, Value, &str); 3] = [
        ("swaps", json!({"place": "chain", "part_model_id": UNKNOWN}), "/part_model_id"),
        ("fittings", json!({"place": "jockey_wheels", "part_model_id": UNKNOWN}), "/part_model_id"),
        ("fittings", json!({"part_id": UNKNOWN}), "/part_id"),
    ];
    for (resource, body, pointer) in &asked {
        let answer = server.post(&format!("/v1/bikes/{bike}/{resource}"), body).await.expect(422);
        assert_eq!(answer.body["errors"][0]["pointer"], *pointer, "{}", answer.body);
    }
    lose(&server, "part_models").await;
    lose(&server, "parts").await;
    for (resource, body, _) in &asked {
        let answer = server.post(&format!("/v1/bikes/{bike}/{resource}"), body).await.expect(500);
        assert_eq!(answer.problem(), "internal", "{resource} {body}");
    }
}
