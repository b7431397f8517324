//! Who gets through which wall: every documented operation, asked by everyone.
//!
//!     cargo nextest run -p wear-tests --test api walls --no-capture
//!
//! prints the tables.

use std::collections::BTreeMap;

use reqwest::Method;
use serde_json::{Value, json};
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection, Row};
use wear_api::domain::Role;
use wear_tests::{SUPERUSER, TestServer, TestStore, on_both_stores};

use crate::document::{operations, served};
use crate::strangers::{and_care, ask, one_of_each};

on_both_stores!(everyone_gets_as_far_as_documented);

/// Who asks, and what must come of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Expected {
    LetIn,
    Forbidden,
    NotSignedIn,
    NotThere,
    OwnThingsOnly,
}

/// A table's name stands for each workshop's own.
fn names_a_thing(path: &str) -> bool {
    path.replace("{kind}", "").contains('{')
}

fn as_expected(expected: Expected, status: u16, body: &Value, foreign: &[&String]) -> bool {
    match expected {
        Expected::LetIn => !matches!(status, 401 | 403) && status < 500,
        Expected::Forbidden => status == 403,
        Expected::NotSignedIn => status == 401,
        Expected::NotThere => status == 404,
        Expected::OwnThingsOnly => {
            let text = body.to_string();
            !matches!(status, 401 | 403) && status < 500 && !foreign.iter().any(|id| text.contains(*id))
        }
    }
}

async fn everyone_gets_as_far_as_documented(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut ids = one_of_each(&server).await;
    and_care(&server, &mut ids).await;
    // A name isn't an id: whoever puts a bike by it is answered with it.
    let ids_alone = ids.iter().filter(|(name, _)| **name != "{external_id}");
    let foreign: Vec<&String> = ids_alone.map(|(_, id)| id).collect();
    let revoked = {
        let made = server.post("/v1/tokens", &json!({"role": "manager", "label": "gone"})).await.expect(201);
        let revoke = server.request(Method::DELETE, &format!("/v1/tokens/{}", made.id()));
        server.send(revoke.bearer_auth(server.token_of(Role::Manager))).await.check(204);
        made.body["secret"].as_str().expect("a secret").to_owned()
    };
    let stranger = server.token("Hill", Role::Manager).await;
    let wrong = format!("wear_{}", "5".repeat(64));
    let document = served(&server).await;
    let mut operations = operations(&document);
    // What ends things comes last.
    operations.sort_by_key(|(path, method, _)| (*method == Method::DELETE, path.ends_with("/removal")));
    let mut tally: BTreeMap<(&str, Expected), BTreeMap<u16, usize>> = BTreeMap::new();
    for (path, method, operation) in operations {
        let roles: Vec<&str> = operation["security"][0]["bearer"]
            .as_array()
            .map(|roles| roles.iter().filter_map(Value::as_str).collect())
            .unwrap_or_default();
        let open = roles.is_empty();
        let not_signed_in = if open { Expected::LetIn } else { Expected::NotSignedIn };
        let mut askers = vec![
            ("no token", None, not_signed_in),
            ("wrong token", Some(wrong.as_str()), not_signed_in),
            ("revoked token", Some(&revoked), not_signed_in),
            (
                "manager of another workshop",
                Some(&stranger),
                if names_a_thing(&path) && method != Method::PUT {
                    Expected::NotThere
                } else {
                    // What is put by a name makes one of their own.
                    Expected::OwnThingsOnly
                },
            ),
        ];
        for role in Role::ALL {
            let let_in = open || roles.contains(&role.as_str());
            let expected = if let_in { Expected::LetIn } else { Expected::Forbidden };
            askers.push((role.as_str(), Some(server.token_of(*role)), expected));
        }
        for (who, token, expected) in askers {
            let request = ask(&server, &ids, &path, &method, &operation);
            let request = match token {
                Some(token) => request.bearer_auth(token),
                None => request,
            };
            let answer = server.send(request).await;
            let status = answer.status.as_u16();
            assert!(
                as_expected(expected, status, &answer.body, &foreign),
                "{who} {method} {path}: {expected:?}, got {status} {}",
                answer.body
            );
            *tally.entry((who, expected)).or_default().entry(status).or_default() += 1;
        }
    }
    println!("| who asks | expected | got (status × operations) |\n|---|---|---|");
    for ((who, expected), statuses) in &tally {
        let got: Vec<String> = statuses.iter().map(|(status, count)| format!("{status} × {count}")).collect();
        println!("| {who} | {expected:?} | {} |", got.join(", "));
    }
    assert!(tally[&("revoked token", Expected::NotSignedIn)][&401] > 60, "{tally:?}");
    let after = server.get("/v1/bikes").await.expect(200).body;
    assert!(after.to_string().contains(&ids["{bike_id}"]), "a stranger took something away: {after}");
}

/// Row-level security as the only wall. The policies are made to show another workshop than the service asks for: its
/// own filter then matches all that it must not see, and only the database keeps it back.
#[tokio::test]
async fn row_security_alone_keeps_workshops_apart() {
    let server = TestServer::start(TestStore::postgres().await).await;
    let mut ids = one_of_each(&server).await;
    and_care(&server, &mut ids).await;
    let _other = server.token("Hill", Role::Manager).await;
    let superuser = server.database_url().replace("postgres://wear@", &format!("postgres://{SUPERUSER}@"));
    let mut database = PgConnection::connect(&superuser).await.expect("connects");
    let hill: uuid::Uuid = sqlx::query_scalar("select workshop_id from workshops where name = 'Hill'")
        .fetch_one(&mut database)
        .await
        .expect("a workshop");
    let policies = database
        .fetch_all("select tablename::text, policyname::text from pg_policies where schemaname = 'public'")
        .await
        .expect("policies");
    assert!(policies.len() > 20, "{}", policies.len());
    let before = digests(&mut database).await;
    for policy in &policies {
        let (table, name): (String, String) = (policy.get(0), policy.get(1));
        let hills = format!(
            "alter policy {name} on {table} using (current_setting('wear.scope', true) = 'all' or workshop_id = '{hill}')
             with check (current_setting('wear.scope', true) = 'all' or workshop_id = '{hill}')"
        );
        let _altered = database.execute(AssertSqlSafe(hills)).await.expect("altered");
    }
    let mut tally: BTreeMap<u16, usize> = BTreeMap::new();
    for (path, method, operation) in operations(&served(&server).await) {
        if path.starts_with("/health/") {
            continue;
        }
        let request = ask(&server, &ids, &path, &method, &operation);
        let answer = server.send(request.bearer_auth(server.token_of(Role::Manager))).await;
        let (status, text) = (answer.status.as_u16(), answer.body.to_string());
        // An id of the request may come back in the problem's instance or detail, nothing else may.
        let told = answer.status.is_success() && ids.values().any(|id| text.contains(id.as_str()));
        assert!(!told, "{method} {path} {status} tells {text}");
        *tally.entry(status).or_default() += 1;
    }
    println!("| status | operations |\n|---|---|");
    for (status, count) in &tally {
        println!("| {status} | {count} |");
    }
    assert_eq!(digests(&mut database).await, before, "something was changed through the wall");
    assert!(tally.get(&404).is_some_and(|count| *count > 30), "{tally:?}");
}

/// What the worker writes by itself, whoever asks.
const OF_THE_WORKER: [&str; 7] =
    ["outlooks", "outlook_marks", "jobs", "forecasts", "forecast_scores", "hook_messages", "hook_attempts"];

/// A digest of the first workshop's rows by table.
async fn digests(database: &mut PgConnection) -> BTreeMap<String, String> {
    let tables = database
        .fetch_all(
            "select tablename::text from pg_policies where schemaname = 'public' and tablename !~ '_[0-9]+$'",
        )
        .await
        .expect("tables");
    let tables = tables.iter().map(|row| row.get::<String, _>(0));
    let mut digests = BTreeMap::new();
    for table in tables.filter(|table| !OF_THE_WORKER.contains(&table.as_str())) {
        // A hook that can't be reached is noted by the worker as well.
        let digest = format!(
            "select count(*) || ' ' || coalesce(md5(string_agg(row, ',' order by row)), '') from (
                select (to_jsonb(t) - 'failing_since')::text as row, workshop_id from {table} t) as rows
             where workshop_id = (select workshop_id from workshops where name = 'Harbour')"
        );
        let digest: String =
            sqlx::query_scalar(AssertSqlSafe(digest)).fetch_one(&mut *database).await.expect("digested");
        digests.insert(table, digest);
    }
    digests
}
