//! Tables in and out.

use std::collections::BTreeMap;

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::clock::Clock;
use wear_api::demo;
use wear_api::domain::{
    BikeFilter, BikeKindFacts, BikeSort, DeclaredUse, DrivetrainChoice, ModelsOfKind, PageRequest, PageSize,
    Role, WorkshopName, WorkshopSettings,
};
use wear_api::service::bike_kinds::EnterKind;
use wear_api::service::declared_use::Declare;
use wear_api::service::exports::Exporter;
use wear_api::service::imports::{self, Ended};
use wear_api::service::{
    Actor, Mismatch, Services, UnitOfWork, bike_kinds, bikes, calibration, declared_use, jobs, outlook,
    tokens, worker, workshops,
};
use wear_api::transfer::{Separator, TableKind};
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_workshop_moves_with_all_it_knows,
    the_invented_fleet_moves_too,
    every_notation_is_read,
    formulas_are_made_harmless,
    the_same_file_twice_is_the_same_as_once,
    people_write_tables_without_ids,
);

/// In the order in which an import needs them.
const ORDER: [TableKind; 7] = [
    TableKind::PartModels,
    TableKind::Bikes,
    TableKind::Parts,
    TableKind::Readings,
    TableKind::Swaps,
    TableKind::Care,
    TableKind::Rides,
];

pub async fn export(server: &TestServer, token: &str, kind: TableKind, query: &str) -> String {
    let request = server.request(Method::GET, &format!("/v1/exports/{kind}{query}"));
    let response = request.bearer_auth(token).send().await.expect("an answer");
    assert_eq!(response.status().as_u16(), 200);
    assert!(response.headers()["content-type"].to_str().expect("ASCII").starts_with("text/csv"));
    assert!(response.headers()["content-disposition"].to_str().expect("ASCII").contains(kind.as_str()));
    response.text().await.expect("a body")
}

pub async fn import(
    server: &TestServer,
    token: &str,
    kind: TableKind,
    query: &str,
    table: impl Into<String>,
) -> Answer {
    let request = server.request(Method::POST, &format!("/v1/imports/{kind}{query}"));
    let request = request.bearer_auth(token).header("content-type", "text/csv");
    server.send(request.body(table.into())).await
}

/// What an outlook says, without the ids and instants that differ by workshop.
fn said(outlook: &Value) -> Value {
    let mut outlook = outlook.clone();
    outlook.as_object_mut().expect("an object").remove("computed_at");
    outlook
}

async fn outlooks(server: &TestServer, token: &str) -> BTreeMap<String, Value> {
    let get = async |path: String| {
        server.send(server.request(Method::GET, &path).bearer_auth(token)).await.expect(200).body
    };
    let bikes = get("/v1/bikes?limit=100".to_owned()).await;
    let mut all = BTreeMap::new();
    for bike in bikes["items"].as_array().expect("items") {
        let id = bike["id"].as_str().expect("an id");
        all.insert(id.to_owned(), said(&get(format!("/v1/bikes/{id}/outlook")).await));
    }
    all
}

/// Three bikes with a past: own models, swaps with readings, one voided, care, a retired bike, odd texts.
async fn live_a_little(server: &TestServer) {
    let chain = json!({"name": "=Chain, \"8\"", "place": "chain", "sprockets": 8, "price_minor": 1290,
        "currency": "EUR", "limit_percent": 0.7});
    let chain = server.post("/v1/part-models", &chain).await.expect(201).id();
    let cassette = json!({"name": "Cassette", "place": "cassette", "one_piece": true,
        "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "price_minor": 2790, "currency": "EUR"});
    let cassette = server.post("/v1/part-models", &cassette).await.expect(201).id();
    for (label, model) in [("041", &chain), ("-42", &chain), ("'43; \"b\"", &chain)] {
        let bike = server.bike(label).await;
        for (month, days) in [(2, 28), (4, 30), (6, 30)] {
            let rides: Vec<Value> = (1..=days)
                .map(|day| {
                    json!({"bike_id": bike, "started_at": format!("2026-0{month}-{day:02}T07:30:00.123456Z"),
                        "distance_km": 11.123456 + f64::from(day), "climb_m": 31.5, "surface": "gravel",
                        "wet": day % 5 == 0, "source": "@log", "source_id": format!("{label}/{month}/{day}")})
                })
                .collect();
            let _ridden = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200);
        }
        let readings = [
            json!({"taken_at": "2026-03-01T17:00:00Z", "instrument": "rule", "percent": 0.21}),
            json!({"taken_at": "2026-04-11T17:00:00Z", "instrument": "rule", "pitches": 24, "length_mm": 305.7}),
            json!({"taken_at": "2026-05-01T17:00:00Z", "instrument": "drop_in", "mark_percent": 0.5, "drops_in": false}),
            json!({"taken_at": "2026-06-12T17:00:00Z", "instrument": "dial", "spots": [0.30, 0.33, 0.31]}),
        ];
        for reading in &readings {
            let _read = server.post(&format!("/v1/bikes/{bike}/readings"), reading).await.expect(201);
        }
        let wrong = json!({"taken_at": "2026-03-09T17:00:00Z", "instrument": "rule", "percent": 1.4});
        let wrong = server.post(&format!("/v1/bikes/{bike}/readings"), &wrong).await.expect(201).body;
        let wrong = wrong["reading"]["id"].as_str().expect("an id").to_owned();
        let path = format!("/v1/bikes/{bike}/readings/{wrong}?reason=%3Dwrong%20bike");
        let request = server.request(Method::DELETE, &path).bearer_auth(server.token_of(Role::Manager));
        let voided = server.send(request).await;
        assert!(voided.status.is_success(), "{}", voided.body);
        let care = json!({"done_at": "2026-04-20T18:00:00Z", "kind": "cleaned_and_lubricated", "note": "two\nlines"});
        let _cared = server.post(&format!("/v1/bikes/{bike}/care"), &care).await.expect(201);
        let swaps = [
            json!({"swapped_at": "2026-05-20T16:00:00Z", "place": "chain", "part_model_id": model,
                "reading": {"instrument": "rule", "percent": 0.62}, "note": "+ new link",
                "checklist": ["motor_off", "stand"]}),
            json!({"swapped_at": "2026-03-20T16:00:00Z", "place": "cassette", "part_model_id": cassette}),
        ];
        for swap in &swaps {
            let _swapped = server.post(&format!("/v1/bikes/{bike}/swaps"), swap).await.expect(201);
        }
    }
    let gone = server.bike("old").await;
    let ride = json!({"started_at": "2026-02-01T08:00:00Z", "distance_km": 12.5});
    let _ridden = server.post(&format!("/v1/bikes/{gone}/rides"), &ride).await.expect(201);
    let reading = json!({"taken_at": "2026-02-02T08:00:00Z", "instrument": "caliper", "percent": 0.1});
    let _read = server.post(&format!("/v1/bikes/{gone}/readings"), &reading).await.expect(201);
    let path = format!("/v1/bikes/{gone}");
    let tag = server.get(&path).await.expect(200).header("etag").to_owned();
    let request = server.request(Method::DELETE, &path).header("if-match", tag);
    let _retired = server.send(request.bearer_auth(server.token_of(Role::Manager))).await.expect(204);
}

async fn a_workshop_moves_with_all_it_knows(store: TestStore) {
    let server = TestServer::start(store).await;
    live_a_little(&server).await;
    let from = server.token_of(Role::Manager).to_owned();
    let to = server.token("Hill", Role::Manager).await;
    for kind in ORDER {
        let nothing = export(&server, &to, kind, "").await;
        assert_eq!(nothing.lines().count(), 1, "another workshop's {kind}: {nothing}");
    }
    for separator in ["", "?separator=semicolon"] {
        for kind in ORDER {
            let table = export(&server, &from, kind, separator).await;
            let lines = table.lines().count();
            let tried = import(&server, &to, kind, "?dry_run=true", table.clone()).await.expect(200).body;
            let done = import(&server, &to, kind, "", table).await.expect(200).body;
            assert_eq!((&tried["accepted"], &tried["dry_run"]), (&done["accepted"], &json!(true)), "{kind}");
            let counted = if separator.is_empty() { "accepted" } else { "unchanged" };
            assert_eq!(done[counted], done["lines"], "{kind} {done}");
            assert!(done["lines"].as_u64().expect("lines") > 1 && lines > 2, "{kind} {done}");
        }
    }
    for kind in ORDER {
        let sorted = |table: String| {
            let mut lines: Vec<String> = table.lines().map(str::to_owned).collect();
            lines.sort();
            lines
        };
        let (there, here) = (export(&server, &from, kind, "").await, export(&server, &to, kind, "").await);
        assert_eq!(sorted(there), sorted(here), "{kind}");
    }
    let (before, after) = (outlooks(&server, &from).await, outlooks(&server, &to).await);
    assert_eq!(before.len(), 3);
    for (bike, outlook) in &before {
        assert_eq!(outlook, &after[bike], "{bike}");
    }
    println!("{} outlooks are the same, to the last digit", before.len());
    let audit = server.send(server.request(Method::GET, "/v1/audit").bearer_auth(&to)).await.expect(200).body;
    let entries: Vec<&Value> =
        audit["items"].as_array().expect("items").iter().filter(|it| it["action"] == "import").collect();
    assert_eq!(entries.len(), 2 * ORDER.len(), "one for each file, none for dry runs: {audit}");
    let rides = entries.iter().filter(|it| it["subject"] == "imports/rides").collect::<Vec<_>>();
    assert_eq!((&rides[0]["detail"]["accepted"], &rides[1]["detail"]["accepted"]), (&json!(0), &json!(265)));
}

async fn the_invented_fleet_moves_too(store: TestStore) {
    // Without a server, whose worker would learn at the same time.
    let clock = Clock::stopped("2026-11-25T12:00:00Z".parse().expect("a time"));
    let services = &Services::new(store.store.clone(), clock);
    let (from, _) = demo::fill(services).await.expect("an invented fleet");
    let name = WorkshopName::new("Copy").expect("a name");
    let workshop_id = tokens::workshop_named(services, name).await.expect("a workshop");
    let to = Actor::program(workshop_id);
    // Settings are no table: the copy's prices, and that all care is entered, are set by hand.
    let yard = workshops::get(services, &from).await.expect("the yard").settings;
    let (costs, care) = (yard.costs, yard.care);
    let copy = workshops::get(services, &to).await.expect("the copy");
    let settings = WorkshopSettings { costs, care, ..copy.settings };
    let priced = async |work: &mut UnitOfWork| {
        workshops::change(services, work, copy.revision, |_| Ok(settings)).await
    };
    let _priced = services.change(&to, priced).await.expect("priced");
    // So are kinds of bike and declared use, the former before the bikes, the latter after all.
    let most = PageRequest::first(PageSize::LARGEST);
    for kind in bike_kinds::list(services, &from, &most).await.expect("kinds").items {
        let BikeKindFacts { name, usage, drivetrain, is_assumed: _, limit, group, models: _ } = kind.facts;
        let drivetrain = DrivetrainChoice::Whole(drivetrain);
        let models = ModelsOfKind::default();
        let enter = EnterKind { name, usage, drivetrain, limit, group, models, mismatch: Mismatch::Refused };
        let create = async |work: &mut UnitOfWork| bike_kinds::create(services, work, enter).await;
        let _kind = services.change(&to, create).await.expect("a kind");
    }
    for kind in ORDER.into_iter().chain([TableKind::Odometer]) {
        let mut table = Vec::new();
        let mut exporter = Exporter::begin(services, &from, kind, Separator::Comma).await.expect("begins");
        while let Some(piece) = exporter.next().await.expect("goes on") {
            table.extend(piece);
        }
        drop(exporter);
        let source = Box::new(std::io::Cursor::new(table));
        let import = async |work: &mut UnitOfWork| imports::import(services, work, kind, source, false).await;
        match services.change(&to, import).await.expect("imports") {
            Ended::Done(done) => assert_eq!(done.accepted, done.lines, "{kind} {done:?}"),
            Ended::Refused(findings) => panic!("{kind}: {:?}", findings.into_listed()),
        }
    }
    let all = BikeFilter::default();
    let page = bikes::list(services, &from, &all, BikeSort::Created, &most).await.expect("bikes");
    for bike in &page.items {
        let declared = declared_use::list_of_bike(services, &from, bike.id, &most).await.expect("use");
        for DeclaredUse { days, per_week, .. } in declared.items {
            let declare = Declare { days, per_week };
            let post = async |work: &mut UnitOfWork| {
                declared_use::post_of_bike(services, work, bike.id, declare).await
            };
            let _declared = services.change(&to, post).await.expect("declared");
        }
    }
    // The copy learns from its chains as the fleet did.
    worker::drain(services).await.expect("outlooks");
    let ask = async |work: &mut UnitOfWork| calibration::ask(services, work).await;
    let _asked = services.change(&to, ask).await.expect("asks");
    jobs::drain_all_but_the_record(services).await.expect("learns");
    worker::drain(services).await.expect("outlooks");
    let mut bikes = 0;
    for bike in page.items {
        let of = async |actor: &Actor| {
            let outlook = outlook::of_bike(services, actor, bike.id).await;
            said(&serde_json::to_value(outlook.expect("an outlook")).expect("JSON"))
        };
        assert_eq!(of(&from).await, of(&to).await, "{}", bike.facts.label);
        bikes += 1;
    }
    println!("{bikes} outlooks are the same, to the last digit");
    assert!(bikes > 55, "{bikes}");
}

async fn every_notation_is_read(store: TestStore) {
    let server = TestServer::start(store).await;
    let token = server.token_of(Role::Manager).to_owned();
    let bike = server.bike("041").await;
    let notations = [
        "bike,source,source_id,started_at,distance_km\n041,log,a,2026-03-01T08:00:00Z,18.4\n",
        "\u{feff}bike,source,source_id,started_at,distance_km\r\n041,log,b,2026-03-01T08:00:00Z,18.4\r\n",
        "\u{feff}bike;source;source_id;started_at;distance_km\r\n041;log;c;2026-03-01T08:00:00Z;18,4",
        "\"Bike\";\"Source\";\"Source_ID\";\"Started_At\";\"Distance_km\"\n\"041\";\"log\";\"d\";\"2026-03-01T09:00:00+01:00\";\"18,4\"\n\n",
        "source_id,distance_km,started_at,source,bike\n\"e\", 18.4 ,2026-03-01T08:00:00Z,log, 041\n",
        "bike_id,source,source_id,started_at,distance_km,surface\nBIKE,log,f,2026-03-01T08:00:00Z,18.4,\n",
    ];
    for table in notations {
        let done = import(&server, &token, TableKind::Rides, "", table.replace("BIKE", &bike))
            .await
            .expect(200)
            .body;
        assert_eq!((&done["lines"], &done["accepted"]), (&json!(1), &json!(1)), "{table}");
    }
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    let rides = rides["items"].as_array().expect("items");
    assert_eq!(rides.len(), notations.len());
    assert!(
        rides.iter().all(|ride| ride["distance_km"] == 18.4 && ride["started_at"] == "2026-03-01T08:00:00Z"),
        "{rides:?}"
    );
    let mixed = "bike;source;source_id;started_at;distance_km\n041;log;g;2026-03-01T08:00:00Z;18,4\n041;log;h;2026-03-01T08:00:00Z;1.234\n";
    let refused = import(&server, &token, TableKind::Rides, "", mixed).await.expect(422);
    assert_eq!(
        (&refused.body["errors"][0]["line"], &refused.body["errors"][0]["column"]),
        (&json!(3), &json!("distance_km"))
    );
}

async fn formulas_are_made_harmless(store: TestStore) {
    let server = TestServer::start(store).await;
    let from = server.token_of(Role::Manager).to_owned();
    let to = server.token("Hill", Role::Manager).await;
    let labels = ["=HYPERLINK(\"//x\",\"y\")", "+1", "-1", "@SUM(A1)", "'quoted", "''", "plain; =1", "＝1"];
    for label in labels {
        let _made = server.bike(label).await;
    }
    let table = export(&server, &from, TableKind::Bikes, "").await;
    let mut csv = csv::Reader::from_reader(table.as_bytes());
    for record in csv.records() {
        for cell in &record.expect("a record") {
            assert!(!cell.starts_with(['=', '+', '-', '@', '＝']), "{cell}");
        }
    }
    let _moved = import(&server, &to, TableKind::Bikes, "", table).await.expect(200);
    let request = server.request(Method::GET, "/v1/bikes").bearer_auth(&to);
    let bikes = server.send(request).await.expect(200).body;
    let mut moved: Vec<_> = bikes["items"]
        .as_array()
        .expect("items")
        .iter()
        .map(|bike| bike["label"].as_str().expect("a label"))
        .collect();
    let mut there = labels.to_vec();
    moved.sort_unstable();
    there.sort_unstable();
    assert_eq!(moved, there);
}

async fn the_same_file_twice_is_the_same_as_once(store: TestStore) {
    let server = TestServer::start(store).await;
    let token = server.token_of(Role::Manager).to_owned();
    let bike = server.bike("041").await;
    let line = |km: &str| {
        format!("bike,source,source_id,started_at,distance_km\n041,log,a,2026-03-01T08:00:00Z,{km}\n")
    };
    for (km, counted) in [("10", "accepted"), ("10", "unchanged"), ("11", "replaced"), ("11", "unchanged")] {
        let done = import(&server, &token, TableKind::Rides, "", line(km)).await.expect(200).body;
        assert_eq!(done[counted], 1, "{km} {done}");
    }
    // Without ids, bike and time tell a ride.
    let bare = |km: &str| format!("bike,started_at,distance_km\n041,2026-03-02T08:00:00Z,{km}\n");
    for (km, counted) in [("10", "accepted"), ("10", "unchanged"), ("11", "replaced")] {
        let done = import(&server, &token, TableKind::Rides, "", bare(km)).await.expect(200).body;
        assert_eq!(done[counted], 1, "{km} {done}");
    }
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    assert_eq!(rides["items"].as_array().map(Vec::len), Some(2), "{rides}");
    let changed = format!(
        "bike_id,label,group,use,rings,cogs,links\n{bike},042,town-8s,town,42,11-13-15-17-20-23-26-30,114\n"
    );
    for counted in ["replaced", "unchanged"] {
        let done = import(&server, &token, TableKind::Bikes, "", changed.clone()).await.expect(200).body;
        assert_eq!(done[counted], 1, "{done}");
    }
    assert_eq!(server.get(&format!("/v1/bikes/{bike}")).await.expect(200).body["label"], "042");
}

async fn people_write_tables_without_ids(store: TestStore) {
    let server = TestServer::start(store).await;
    let token = server.token_of(Role::Manager).to_owned();
    let tables = [
        (TableKind::PartModels, "name,place,sprockets\nChain A,chain,8\n"),
        (
            TableKind::Bikes,
            "label,group,use,rings,cogs,links,fitted_on\n041,town-8s,town,42,11-13-15-17-20-23-26-30,114,2026-01-01\n042,road,road,50 34,11 12 13 14 15 17 19 21 24 27 30,110,2026-01-01\n",
        ),
        (
            TableKind::Rides,
            "bike,started_at,distance_km,source,source_id\n041,2026-02-01T08:00:00Z,310,log,1\n041,2026-05-01T08:00:00Z,290,log,2\n",
        ),
        (
            TableKind::Readings,
            "bike,taken_at,instrument,percent,spots\n041,2026-02-02T08:00:00Z,rule,0.2,\n041,2026-05-02T08:00:00Z,dial,,0.11 0.12\n",
        ),
        (TableKind::Care, "bike,done_at,kind\n041,2026-02-03T08:00:00Z,cleaned\n"),
        (TableKind::Swaps, "bike,swapped_at,place,part_model\n041,2026-03-01T08:00:00Z,chain,chain a\n"),
    ];
    for (kind, table) in tables {
        let done = import(&server, &token, kind, "", table).await.expect(200).body;
        assert_eq!(done["accepted"], done["lines"], "{kind}");
    }
    let bikes = server.get("/v1/bikes?search=041").await.expect(200).body;
    let bike = bikes["items"][0]["id"].as_str().expect("an id");
    let outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    assert_eq!(outlook["basis"]["distance_km"], 290.0);
    assert_eq!(outlook["basis"]["readings_used"], 1);
    let wrong = [
        (
            TableKind::Readings,
            "bike,taken_at,instrument,percent\n041,2025-02-02T08:00:00Z,rule,0.2\n",
            "taken_at",
        ),
        (
            TableKind::Readings,
            "bike,taken_at,instrument,percent\n041,2026-02-09T08:00:00Z,drop_in,0.2\n",
            "percent",
        ),
        (
            TableKind::Swaps,
            "bike,swapped_at,place,part_model\n041,2026-03-02T08:00:00Z,ring,Chain A\n",
            "part_model",
        ),
        (TableKind::PartModels, "name,place,teeth\nRing,chain,42\n", "teeth"),
        (TableKind::Bikes, "label,group,use,rings,cogs,links\n043,town,town,42,11-13,7\n", "links"),
        (TableKind::Parts, "place,bike,fitted_at\nchain,041,2026-04-01T08:00:00Z\n", "fitted_at"),
    ];
    for (kind, table, column) in wrong {
        let refused = import(&server, &token, kind, "", table).await.expect(422);
        assert_eq!(refused.body["errors"][0]["column"], column, "{kind} {}", refused.body);
    }
}
