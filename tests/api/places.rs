//! Places that exist, and parts that go with the bike.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    a_place_that_the_bike_lacks_is_refused,
    a_part_that_doesnt_go_with_the_bike_is_accepted_only_when_meant_so,
    a_chain_that_geometry_rules_out_is_accepted_only_when_meant_so,
    tables_are_as_strict,
    pages_show_the_refusal_and_ask,
);

fn twelve(label: &str, rings: &[u32], links: u32) -> Value {
    json!({"label": label, "fitted_on": "2026-01-01", "drivetrain": {
        "rings": rings, "cogs": [11, 13, 15, 17, 19, 21, 24, 28, 32, 36, 42, 50], "links": links}})
}

async fn model(server: &TestServer, body: Value) -> String {
    server.post("/v1/part-models", &body).await.expect(201).id()
}

fn refusal(answer: Answer) -> (String, String) {
    let answer = answer.expect(422);
    let error = &answer.body["errors"][0];
    let text = |name: &str| error[name].as_str().expect("a text").to_owned();
    (text("pointer"), text("message"))
}

async fn a_place_that_the_bike_lacks_is_refused(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.post("/v1/bikes", &twelve("041", &[42], 118)).await.expect(201).id();
    let one_piece = json!({"name": "one piece", "place": "cassette", "one_piece": true,
        "cogs": [11, 13, 15, 17, 19, 21, 24, 28, 32, 36, 42, 50]});
    let one_piece = model(&server, one_piece).await;
    let single = json!({"label": "042", "fitted_on": "2026-01-01",
        "drivetrain": {"rings": [44], "cogs": [16], "links": 104}});
    let single = server.post("/v1/bikes", &single).await.expect(201).id();
    // Nobody said whether the cassette that is on comes apart.
    let cog = json!({"place": "cog", "position": 0, "swapped_at": "2026-02-01T09:00:00Z"});
    server.post(&format!("/v1/bikes/{bike}/swaps"), &cog).await.check(201);
    let swap = json!({"place": "cassette", "part_model_id": one_piece, "swapped_at": "2026-03-01T09:00:00Z"});
    server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.check(201);
    for (on, body, pointer) in [
        (&bike, json!({"place": "ring", "position": 3}), "/position"),
        (&bike, json!({"place": "ring", "position": 1}), "/position"),
        (&bike, json!({"place": "chain", "position": 1}), "/position"),
        (&bike, json!({"place": "cog", "position": 2}), "/place"),
        (&bike, json!({"place": "jockey_wheels", "position": 1}), "/position"),
        (&single, json!({"place": "cassette"}), "/place"),
        (&single, json!({"place": "cog", "position": 1}), "/position"),
        (&single, json!({"place": "jockey_wheels"}), "/place"),
    ] {
        for resource in ["swaps", "fittings"] {
            let refused = server.post(&format!("/v1/bikes/{on}/{resource}"), &body).await;
            let (found, message) = refusal(refused);
            assert_eq!(found, pointer, "{resource} {body}");
            assert!(message.contains("this bike's drivetrain"), "{message}");
        }
    }
    server.post(&format!("/v1/bikes/{bike}/fittings"), &json!({"place": "jockey_wheels"})).await.check(201);
    server.post(&format!("/v1/bikes/{single}/swaps"), &json!({"place": "cog"})).await.check(201);
}

async fn a_part_that_doesnt_go_with_the_bike_is_accepted_only_when_meant_so(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.post("/v1/bikes", &twelve("041", &[32, 42], 118)).await.expect(201).id();
    let chain = model(&server, json!({"name": "chain 8", "place": "chain", "sprockets": 8})).await;
    let fine = model(&server, json!({"name": "chain 12", "place": "chain", "sprockets": 12})).await;
    let cogs = json!({"name": "ten", "place": "cassette", "cogs": [11, 13, 15, 17, 19, 21, 24, 28, 32, 36]});
    let cogs = model(&server, cogs).await;
    let ring = model(&server, json!({"name": "nw", "place": "ring", "teeth": 42, "narrow_wide": true})).await;
    let swaps = format!("/v1/bikes/{bike}/swaps");
    for (place, model, reason) in [
        ("chain", &chain, "A chain for 8 sprockets is wider than the gaps of 12 cogs"),
        ("cassette", &cogs, "12 positions for 10 cogs"),
        ("ring", &ring, "a front derailleur has to lift it off"),
    ] {
        let mut body = json!({"place": place, "part_model_id": model});
        let (pointer, message) = refusal(server.post(&swaps, &body).await);
        assert_eq!(pointer, "/part_model_id");
        assert!(message.contains(reason) && message.ends_with("(common practice)"), "{message}");
        body["accept_mismatch"] = json!(true);
        server.post(&swaps, &body).await.check(201);
        server.wait(chrono::Duration::minutes(1));
    }
    server.post(&swaps, &json!({"place": "chain", "part_model_id": fine})).await.check(201);
    // A part on record that doesn't go with another bike.
    let part = server.post("/v1/parts", &json!({"part_model_id": chain})).await.expect(201).id();
    let fittings = server.get(&format!("/v1/bikes/{bike}/fittings")).await.expect(200).body;
    let on = fittings["items"].as_array().expect("fittings").iter();
    let on = on.filter(|it| it["place"] == "chain" && it["removed_at"].is_null());
    let on = on.map(|it| it["id"].as_str().expect("an id").to_owned()).next().expect("a chain");
    server.wait(chrono::Duration::minutes(1));
    server.post(&format!("/v1/bikes/{bike}/fittings/{on}/removal"), &json!({})).await.check(200);
    let fit = json!({"part_id": part});
    let (pointer, _) = refusal(server.post(&format!("/v1/bikes/{bike}/fittings"), &fit).await);
    assert_eq!(pointer, "/part_id");
    let fit = json!({"part_id": part, "accept_mismatch": true});
    server.post(&format!("/v1/bikes/{bike}/fittings"), &fit).await.check(201);
    // Kinds of bike are held to the same.
    let kind = json!({"name": "hire", "drivetrain": {"speeds": 12}, "chain_model_id": chain});
    let (pointer, _) = refusal(server.post("/v1/bike-kinds", &kind).await);
    assert_eq!(pointer, "/chain_model_id");
}

async fn a_chain_that_geometry_rules_out_is_accepted_only_when_meant_so(store: TestStore) {
    let server = TestServer::start(store).await;
    let short = twelve("041", &[80], 40);
    let (pointer, message) = refusal(server.post("/v1/bikes", &short).await);
    assert_eq!(pointer, "/drivetrain/links");
    assert!(message.contains("40 pitches don't go round 80 and 50 teeth"), "{message}");
    assert!(message.ends_with("(geometry)"), "{message}");
    refusal(server.post("/v1/bikes", &twelve("041", &[42], 240)).await);
    let mut meant = twelve("041", &[42], 240);
    meant["accept_mismatch"] = json!(true);
    let bike = server.post("/v1/bikes", &meant).await.expect(201);
    let request = server.request(reqwest::Method::PATCH, &format!("/v1/bikes/{}", bike.id()));
    let request = request.bearer_auth(server.token_of(Role::Mechanic)).header("if-match", "\"1\"");
    let (pointer, _) = refusal(
        server.send(request.json(&json!({"drivetrain": {"rings": [80], "cogs": [50], "links": 41}}))).await,
    );
    assert_eq!(pointer, "/drivetrain/links");
    let kind = json!({"name": "hire", "drivetrain": {"rings": [80], "cogs": [11, 50], "links": 40}});
    refusal(server.post("/v1/bike-kinds", &kind).await);
}

async fn table(server: &TestServer, kind: &str, text: &str) -> Answer {
    let request = server.request(reqwest::Method::POST, &format!("/v1/imports/{kind}"));
    let request = request.bearer_auth(server.token_of(Role::Manager));
    server.send(request.header("content-type", "text/csv").body(text.to_owned())).await
}

async fn tables_are_as_strict(store: TestStore) {
    let server = TestServer::start(store).await;
    model(&server, json!({"name": "chain 8", "place": "chain", "sprockets": 8})).await;
    let cogs = "11 13 15 17 19 21 24 28 32 36 42 50";
    let refused = table(&server, "bikes", &format!("label,rings,cogs,links\n041,80,{cogs},40\n")).await;
    assert_eq!(refused.expect(422).body["errors"][0]["column"], "links");
    let meant =
        format!("label,rings,cogs,links,accept_mismatch\n041,80,{cogs},40,true\n042,42,{cogs},118,\n");
    table(&server, "bikes", &meant).await.check(200);
    let place = table(&server, "swaps", "bike,place,position\n042,ring,2\n").await.expect(422).body;
    assert_eq!(place["errors"][0]["column"], "position");
    let part = table(&server, "swaps", "bike,place,part_model\n042,chain,chain 8\n").await.expect(422).body;
    assert_eq!(part["errors"][0]["column"], "part_model_id");
    let meant = "bike,place,part_model,accept_mismatch\n042,chain,chain 8,true\n";
    table(&server, "swaps", meant).await.check(200);
    let stay = "place,bike,position,fitted_at\nring,042,1,2026-11-01T09:00:00Z\n";
    assert_eq!(table(&server, "parts", stay).await.expect(422).body["errors"][0]["column"], "position");
    // A table of what is done now needs no times; one that has the column does.
    table(&server, "care", "bike,kind\n042,cleaned\n").await.check(200);
    let empty = table(&server, "care", "bike,kind,done_at\n042,cleaned,\n").await.expect(422).body;
    assert_eq!(empty["errors"][0]["column"], "done_at");
}

const ASKED: &str = "name=\"accept_mismatch\"";

async fn pages_show_the_refusal_and_ask(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.post("/v1/bikes", &twelve("041", &[42], 118)).await.expect(201).id();
    let chain = model(&server, json!({"name": "chain 8", "place": "chain", "sprockets": 8})).await;
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    let german = Visitor::of(&server, Role::Mechanic, "de").await;
    let path = format!("/bikes/{bike}/swap");
    assert!(!mechanic.get(&path).await.1.contains(ASKED), "nobody is asked before");
    let swap = [("place", "chain 0"), ("model", chain.as_str())];
    let (status, page) = mechanic.send(&path, &swap).await;
    assert_eq!(status, 422);
    assert!(
        page.contains("A chain for 8 sprockets is wider than the gaps of 12 cogs") && page.contains(ASKED),
        "{page}"
    );
    let (_, page) = german.send(&path, &swap).await;
    assert!(page.contains("ist breiter als die Lücken von 12 Ritzeln"), "{page}");
    let meant = [&swap[..], &[("accept_mismatch", "yes")]].concat();
    assert_eq!(mechanic.send(&path, &meant).await.0, 303);

    let new = [("label", "042"), ("rings", "80"), ("cogs", "11 30"), ("links", "40")];
    let (status, page) = mechanic.send("/bikes/new", &new).await;
    assert_eq!(status, 422);
    assert!(page.contains("40 pitches don") && page.contains(ASKED), "{page}");
    let meant = [&new[..], &[("accept_mismatch", "yes")]].concat();
    assert_eq!(mechanic.send("/bikes/new", &meant).await.0, 303);

    let manager = Visitor::of(&server, Role::Manager, "en").await;
    let kind = [("name", "hire"), ("use", "town"), ("rings", "80"), ("cogs", "11 30"), ("links", "40")];
    assert!(manager.send("/bike-kinds", &kind).await.1.contains(ASKED));
    let meant = [&kind[..], &[("accept_mismatch", "yes")]].concat();
    assert_eq!(manager.send("/bike-kinds", &meant).await.0, 303);

    // A place that isn't there, and a bike that leaves the fleet and comes back.
    let (status, page) =
        mechanic.send(&format!("/bikes/{bike}/fittings"), &[("place", "ring"), ("position", "2")]).await;
    assert_eq!(status, 422);
    assert!(page.contains("no. 3 by its drivetrain"), "{page}");
    assert_eq!(mechanic.send(&format!("/bikes/{bike}/fleet"), &[("in", "no")]).await.0, 303);
    let (_, page) = mechanic.get(&format!("/bikes/{bike}")).await;
    assert!(page.contains("This bike left the fleet on") && page.contains("Bring it back"), "{page}");
    assert_eq!(mechanic.send(&format!("/bikes/{bike}/fleet"), &[("in", "yes")]).await.0, 303);
    let care = json!({"kind": "cleaned"});
    let care = server.post(&format!("/v1/bikes/{bike}/care"), &care).await.expect(201).id();
    let void = format!("/bikes/{bike}/care/{care}/void");
    assert_eq!(mechanic.send(&void, &[("reason", "another bike")]).await.0, 303);
    assert!(mechanic.get(&format!("/bikes/{bike}")).await.1.contains("another bike"));
}
