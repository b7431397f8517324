//! Tables that say little of each bike, and lines that a single event would be refused for.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_table_of_bikes_says_as_much_as_is_known,
    a_table_changes_what_it_says_and_nothing_else,
    what_comes_after_retirement_is_refused,
    a_bike_is_named_by_label_or_id_in_one_column,
);

fn as_manager(server: &TestServer, method: Method, path: &str) -> reqwest::RequestBuilder {
    server.request(method, path).bearer_auth(server.token_of(Role::Manager))
}

async fn import(server: &TestServer, kind: &str, table: impl Into<reqwest::Body>) -> Answer {
    let request = as_manager(server, Method::POST, &format!("/v1/imports/{kind}"));
    server.send(request.header("content-type", "text/csv").body(table)).await
}

/// The fleet's bikes by label.
async fn bikes(server: &TestServer) -> Vec<Value> {
    let listed = server.get("/v1/bikes?limit=100&sort=label").await.expect(200).body;
    listed["items"].as_array().expect("bikes").clone()
}

async fn a_table_of_bikes_says_as_much_as_is_known(store: TestStore) {
    let server = TestServer::start(store).await;
    let table = "label,use,speeds,group,rings,cogs,links,limit_percent\n1,,,,,,,\n2,road,11,,,,,0.6\n\
        3,cargo,,hire,,,,\n4,,,,42,11-13-15-17-20-23-26-30,114,\n";
    assert_eq!(import(&server, "bikes", table).await.expect(200).body["accepted"], 4);
    let said = [
        json!({"label": "1"}),
        json!({"label": "2", "use": "road", "drivetrain": {"speeds": 11, "limit_percent": 0.6}}),
        json!({"label": "3", "use": "cargo", "group": "hire"}),
        json!({"label": "4", "drivetrain": {"rings": [42], "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "links": 114}}),
    ];
    let of_table = bikes(&server).await;
    for (of_table, said) in of_table.iter().zip(said) {
        let mut said = said;
        said["label"] = json!(format!("{}b", said["label"].as_str().expect("a label")));
        let of_json = server.post("/v1/bikes", &said).await.expect(201).body;
        for field in ["group", "use", "drivetrain", "care"] {
            assert_eq!(of_table[field], of_json[field], "{field} of {said}");
        }
        assert_eq!(of_table["start"]["state"], "as_found");
        // What is on it is on it either way.
        let mut on = Vec::new();
        for bike in [of_table, &of_json] {
            let path = format!("/v1/bikes/{}/fittings", bike["id"].as_str().expect("an id"));
            let fittings = server.get(&path).await.expect(200).body;
            on.push(fittings["items"].as_array().map(Vec::len));
        }
        assert_eq!((on[0], on[0] > Some(2)), (on[1], true));
    }
    assert_eq!(
        (&of_table[0]["drivetrain"]["assumed"], &of_table[3]["drivetrain"]["assumed"]),
        (&json!(true), &json!(false))
    );
    assert_eq!(import(&server, "bikes", table).await.expect(200).body["unchanged"], 4);

    for (line, column) in [
        ("5,,8,,42,,,", "speeds"),
        ("5,,99,,,,,", "speeds"),
        ("5,,few,,,,,", "speeds"),
        ("5,,,,42,,114,", "cogs"),
        ("5,boat,,,,,,", "use"),
    ] {
        let table = format!("label,use,speeds,group,rings,cogs,links,limit_percent\n{line}\n");
        let refused = import(&server, "bikes", table).await.expect(422).body;
        assert_eq!(
            (&refused["errors"][0]["line"], &refused["errors"][0]["column"]),
            (&json!(2), &json!(column))
        );
    }
}

async fn a_table_changes_what_it_says_and_nothing_else(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut body = wear_tests::bike("041");
    body["care"] = json!({"state": "recorded"});
    let before = server.post("/v1/bikes", &body).await.expect(201).body;
    assert_eq!(before["drivetrain"]["limit_percent"], 0.75);
    let moved = import(&server, "bikes", "label,group\n041,hire\n").await.expect(200).body;
    assert_eq!(moved["replaced"], 1);
    let after = bikes(&server).await.remove(0);
    assert_eq!(after["group"], "hire");
    for field in ["id", "use", "drivetrain", "care", "start"] {
        assert_eq!(after[field], before[field], "{field}");
    }
    // A column that is there and empty takes the bike's own limit away, and a number of speeds is a drivetrain.
    let table = "label,speeds,limit_percent\n041,9,\n";
    assert_eq!(import(&server, "bikes", table).await.expect(200).body["replaced"], 1);
    let after = bikes(&server).await.remove(0);
    let drivetrain = &after["drivetrain"];
    assert_eq!((&drivetrain["limit_percent"], &drivetrain["assumed"]), (&Value::Null, &json!(true)));
    assert_eq!(drivetrain["cogs"].as_array().map(Vec::len), Some(9));
}

async fn what_comes_after_retirement_is_refused(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let path = format!("/v1/bikes/{bike}");
    let retire = as_manager(&server, Method::DELETE, &path).header("if-match", "\"1\"");
    assert!(server.send(retire).await.status.is_success());
    server.wait(chrono::Duration::days(2));
    let (before, after) = ("2026-11-01T12:00:00Z", server.now().to_string());
    for (kind, columns, cells, column) in [
        ("readings", "taken_at,instrument,percent", ",dial,0.4", "taken_at"),
        ("care", "done_at,kind", ",lubricated", "done_at"),
        ("swaps", "swapped_at,place", ",chain", "swapped_at"),
        ("odometer", "read_at,km", ",1200", "read_at"),
    ] {
        let line = |at: &str| format!("bike_id,{columns}\n{bike},{at}{cells}\n");
        let refused = import(&server, kind, line(&after)).await.expect(422).body;
        let error = &refused["errors"][0];
        assert_eq!((&error["line"], &error["column"]), (&json!(2), &json!(column)), "{refused}");
        assert!(error["message"].as_str().is_some_and(|said| said.contains("left the fleet")), "{error}");
        assert_eq!(import(&server, kind, line(before)).await.expect(200).body["accepted"], 1, "{kind}");
    }
}

async fn a_bike_is_named_by_label_or_id_in_one_column(store: TestStore) {
    let server = TestServer::start(store).await;
    let (first, second) = (server.bike("041").await, server.bike("042").await);
    let table = format!(
        "bike,taken_at,instrument,percent\n041,2026-11-01T12:00:00Z,dial,0.2\n{second},2026-11-01T12:00:00Z,dial,0.3\n"
    );
    assert_eq!(import(&server, "readings", table).await.expect(200).body["accepted"], 2);
    for (bike, percent) in [(first, 0.2), (second, 0.3)] {
        let readings = server.get(&format!("/v1/bikes/{bike}/readings")).await.expect(200).body;
        assert_eq!(readings["items"][0]["percent"], percent, "{readings}");
    }
    let nobody = uuid::Uuid::now_v7();
    let table = format!("bike,taken_at,instrument,percent\n{nobody},2026-11-01T12:00:00Z,dial,0.2\n");
    let refused = import(&server, "readings", table).await.expect(422).body;
    assert_eq!(refused["errors"][0]["column"], "bike");
}
