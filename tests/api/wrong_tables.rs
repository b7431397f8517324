//! Wrong tables: what is said of each, by line and column, and that nothing is changed.

use reqwest::Method;
use serde_json::json;
use wear_api::domain::Role;
use wear_api::transfer::TableKind;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::tables::{export, import};

on_both_stores!(
    twenty_mistakes_are_named_and_nothing_is_changed,
    every_kind_of_wrong_file_is_named_and_nothing_is_changed,
    what_is_no_table_is_refused,
);

/// Twenty lines, each with another mistake: what stands in the line, the column that is named, what is said of it.
const MISTAKES: [(&str, &str, &str); 20] = [
    ("041,log,r01,yesterday,10,paved,false,5,100", "started_at", "is \"yesterday\""),
    ("041,log,r02,2026-03-02,10,paved,false,5,100", "started_at", "is \"2026-03-02\""),
    ("041,log,r03,2027-03-03T08:00:00Z,10,paved,false,5,100", "started_at", "is in the future"),
    ("041,log,r04,,10,paved,false,5,100", "started_at", "is missing"),
    ("099,log,r05,2026-03-05T08:00:00Z,10,paved,false,5,100", "bike", "is \"099\""),
    (",log,r06,2026-03-06T08:00:00Z,10,paved,false,5,100", "bike", "is missing"),
    ("twin,log,r07,2026-03-07T08:00:00Z,10,paved,false,5,100", "bike", "is \"twin\""),
    ("041,log,r08,2026-03-08T08:00:00Z,,paved,false,5,100", "distance_km", "is missing"),
    ("041,log,r09,2026-03-09T08:00:00Z,ten,paved,false,5,100", "distance_km", "is \"ten\""),
    ("041,log,r10,2026-03-10T08:00:00Z,-3,paved,false,5,100", "distance_km", "is -3"),
    ("041,log,r11,2026-03-11T08:00:00Z,\"12,5\",paved,false,5,100", "distance_km", "is \"12,5\""),
    ("041,log,r12,2026-03-12T08:00:00Z,\"1,234.5\",paved,false,5,100", "distance_km", "is \"1,234.5\""),
    ("041,log,r13,2026-03-13T08:00:00Z,2001,paved,false,5,100", "distance_km", "is 2001"),
    ("041,log,r14,2026-03-14T08:00:00Z,10,asphalt,false,5,100", "surface", "is \"asphalt\""),
    ("041,log,r15,2026-03-15T08:00:00Z,10,paved,perhaps,5,100", "wet", "is \"perhaps\""),
    ("041,log,r16,2026-03-16T08:00:00Z,10,paved,false,31000,100", "climb_m", "is 31000"),
    ("041,log,r17,2026-03-17T08:00:00Z,10,paved,false,5,NaN", "energy_kj", "is \"NaN\""),
    ("041,log,,2026-03-18T08:00:00Z,10,paved,false,5,100", "source_id", "is missing"),
    ("041,log,r19,2026-03-19T08:00:00Z,10,paved,false,5", "", "has 8 cells"),
    ("041,log,r20,2026-03-20T08:00:00Z,10,paved,false,5,100,more", "", "has 10 cells"),
];

const RIDES: &str = "bike,source,source_id,started_at,distance_km,surface,wet,climb_m,energy_kj";

async fn twenty_mistakes_are_named_and_nothing_is_changed(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let _twins = server.twins("twin").await;
    let token = server.token_of(Role::Manager).to_owned();
    let mut table = RIDES.to_owned();
    for (line, _, _) in MISTAKES {
        // A good line before each bad one, with a line break inside a quoted cell.
        table += &format!(
            "\r\n041,log,good {},2026-02-01T08:00:00Z,10,paved,\"false\r\n\",5,100\r\n{line}",
            table.len()
        );
    }
    for query in ["?dry_run=true", ""] {
        let refused = import(&server, &token, TableKind::Rides, query, table.clone()).await.expect(422);
        assert_eq!(refused.problem(), "invalid-table");
        let errors = refused.body["errors"].as_array().expect("errors").clone();
        assert_eq!(errors.len(), MISTAKES.len(), "{}", refused.body);
        for (index, ((line, column, said), error)) in MISTAKES.iter().zip(&errors).enumerate() {
            assert_eq!(error["line"], 4 + 3 * index, "{line} {error}");
            assert_eq!(error["column"].as_str().unwrap_or_default(), *column, "{line} {error}");
            assert!(error["message"].as_str().expect("a text").contains(said), "{line} {error}");
        }
    }
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    assert_eq!(rides["items"], json!([]));
    // No more than a hundred are listed; all are counted.
    let many = format!("{RIDES}{}", "\n041,log,r,yesterday,ten,paved,false,5,100".repeat(150));
    let refused = import(&server, &token, TableKind::Rides, "", many).await.expect(422);
    assert_eq!(refused.body["errors"].as_array().map(Vec::len), Some(100));
    assert!(refused.body["detail"].as_str().expect("a text").contains("300"), "{}", refused.body);
}

/// A wrong file: what is wrong with it, its table and text, and each mistake's line, column and words.
type WrongFile = (&'static str, TableKind, &'static [u8], &'static [(u64, &'static str, &'static str)]);

const WRONG_FILES: &[WrongFile] = &[
    ("an empty file", TableKind::Rides, b"", &[(1, "", "has no header; allowed: a header with started_at, distance_km")]),
    ("a column is missing", TableKind::Rides, b"bike,started_at\n", &[(1, "distance_km", "is missing; allowed: a column of this name")]),
    ("no column names a bike", TableKind::Rides, b"started_at,distance_km\n", &[(1, "bike", "is missing; allowed: a column bike with labels, or bike_id with ids")]),
    ("a column twice", TableKind::Rides, b"bike,Bike,started_at,distance_km\n", &[(1, "bike", "is there twice; allowed: each column once")]),
    ("an unknown column", TableKind::Rides, b"bike,started_at,distance_km,speed\n", &[(1, "speed", "is not a column of this table; allowed: bike_id, bike, source, source_id, started_at, distance_km, surface, wet, climb_m, energy_kj, separate")]),
    ("comma and semicolon", TableKind::Rides, b"bike;started_at,distance_km,wet\n", &[(1, "bike;started_at", "is not a column of this table; allowed: bike_id, bike, source, source_id, started_at, distance_km, surface, wet, climb_m, energy_kj, separate"), (1, "started_at", "is missing; allowed: a column of this name"), (1, "bike", "is missing; allowed: a column bike with labels, or bike_id with ids")]),
    ("Latin-1", TableKind::Rides, b"bike,started_at,distance_km,surface\n041,2026-03-01T08:00:00Z,1,paved\n041,2026-03-02T08:00:00Z,1,b\xfcrgersteig\n", &[(3, "", "is not UTF-8; allowed: text in UTF-8")]),
    ("UTF-16", TableKind::Rides, b"\xff\xfeb\0i\0k\0e\0,\0s\0t\0a\0r\0t\0e\0d\0_\0a\0t\0\n\0", &[(1, "", "is not UTF-8; allowed: text in UTF-8")]),
    ("a spreadsheet's own file", TableKind::Rides, b"PK\x03\x04\x14\0\x06\0\x08\0\0\0!\0\xb5U0#\n", &[(1, "", "is not UTF-8; allowed: text in UTF-8")]),
    ("a quote that never closes", TableKind::Rides, OPEN, &[(2, "", "is longer than 262144 bytes; a quote may not be closed; allowed: shorter lines")]),
    ("a cell too few", TableKind::Rides, b"bike,started_at,distance_km,wet\n041,2026-03-01T08:00:00Z,18.4\n", &[(2, "", "has 3 cells; allowed: 4 cells, as the header has")]),
    ("a decimal comma between commas", TableKind::Rides, b"bike,started_at,distance_km\n041,2026-03-01T08:00:00Z,18,4\n", &[(2, "", "has 4 cells; allowed: 3 cells, as the header has")]),
    ("a quoted decimal comma between commas", TableKind::Rides, b"bike,started_at,distance_km\n041,2026-03-01T08:00:00Z,\"18,4\"\n", &[(2, "distance_km", "is \"18,4\"; allowed: a decimal point, or semicolons between the cells")]),
    ("two decimal marks", TableKind::Rides, b"bike;started_at;distance_km\n041;2026-03-01T08:00:00Z;18,4\n041;2026-03-02T08:00:00Z;1.234\n", &[(3, "distance_km", "is \"1.234\"; allowed: one decimal mark throughout the table")]),
    ("a thousands separator", TableKind::Rides, b"bike;started_at;distance_km\n041;2026-03-01T08:00:00Z;1.018,4\n", &[(2, "distance_km", "is \"1.018,4\"; allowed: a number without thousands separators")]),
    ("a spreadsheet's fault for a number", TableKind::Rides, b"bike,started_at,distance_km\n041,2026-03-01T08:00:00Z,#REF!\n", &[(2, "distance_km", "is \"#REF!\"; allowed: a number without thousands separators")]),
    ("a time that can be read in two ways", TableKind::Rides, b"bike,started_at,distance_km\n041,3/1/2026 08:00,18.4\n", &[(2, "started_at", "is \"3/1/2026 08:00\"; allowed: an RFC 3339 time with offset, 1970 to 9999")]),
    ("a time to come", TableKind::Rides, b"bike,started_at,distance_km\n041,2027-03-01T08:00:00Z,18.4\n", &[(2, "started_at", "2027-03-01T08:00:00Z is in the future; allowed: up to 2026-11-25T12:00:00Z")]),
    ("an unknown bike", TableKind::Rides, b"bike,started_at,distance_km\n099,2026-03-01T08:00:00Z,18.4\n", &[(2, "bike", "is \"099\"; allowed: the label of a bike that isn't retired, or its bike_id")]),
    ("a label of two bikes", TableKind::Rides, b"bike,started_at,distance_km\ntwin,2026-03-01T08:00:00Z,18.4\n", &[(2, "bike", "is \"twin\"; allowed: a label that one bike has, or its bike_id")]),
    ("half an identity", TableKind::Rides, b"bike,started_at,distance_km,source\n041,2026-03-01T08:00:00Z,18.4,log\n", &[(2, "source_id", "is missing; allowed: source and source_id together")]),
    ("a number out of range", TableKind::Rides, b"bike,started_at,distance_km\n041,2026-03-01T08:00:00Z,-18.4\n", &[(2, "distance_km", "is -18.4; allowed: 0 to 2000 km")]),
    ("an unknown word", TableKind::Rides, b"bike,started_at,distance_km,surface\n041,2026-03-01T08:00:00Z,18.4,asphalt\n", &[(2, "surface", "is \"asphalt\"; allowed: paved, gravel, mud, indoor")]),
    ("a reading before there was a chain", TableKind::Readings, b"bike,taken_at,instrument,percent\n041,2025-03-01T08:00:00Z,rule,0.2\n", &[(2, "taken_at", "2025-03-01T08:00:00Z is before the part was fitted; allowed: from 2026-01-01T00:00:00Z")]),
    ("a gauge that reads percent", TableKind::Readings, b"bike,taken_at,instrument,percent\n041,2026-03-01T08:00:00Z,drop_in,0.2\n", &[(2, "percent", "a number and a gauge that only drops in or doesn't don't go together; allowed: mark_percent and drops_in with drop_in and drop_in_isolating"), (2, "mark_percent", "is missing; allowed: the gauge's nominal mark, percent"), (2, "drops_in", "is missing; allowed: true or false")]),
    ("half a voiding", TableKind::Readings, b"bike,taken_at,instrument,percent,voided_at\n041,2026-03-01T08:00:00Z,rule,0.2,2026-03-02T08:00:00Z\n", &[(2, "void_reason", "is missing; allowed: voided_at and void_reason together")]),
    ("a model of another place", TableKind::Swaps, b"bike,swapped_at,place,part_model\n041,2026-03-01T08:00:00Z,ring,Chain A\n", &[(2, "part_model", "is \"Chain A\"; allowed: the name of a part model of the place, or its part_model_id")]),
    ("a swap of nothing", TableKind::Swaps, b"bike,swapped_at,place,off_part_id\n041,2026-03-01T08:00:00Z,chain,019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10\n", &[(2, "on_part_id", "is missing; allowed: on_part_id with off_part_id, reading_id and voided_at")]),
    ("teeth of a chain", TableKind::PartModels, b"name,place,teeth\nChain B,chain,42\n", &[(2, "teeth", "the place and what describes the shape don't go together; allowed: sprockets for chain; cogs and one_piece for cassette; teeth for cog, ring and jockey_wheels; narrow_wide for ring")]),
    ("half a price", TableKind::PartModels, b"name,place,price_minor\nChain B,chain,1290\n", &[(2, "currency", "is missing; allowed: price_minor and currency together")]),
    ("a drivetrain that can't be", TableKind::Bikes, b"label,group,use,rings,cogs,links\n043,town,town,42,11-13,7\n", &[(2, "links", "is 7; allowed: 40 to 260 pitches")]),
    ("two parts at one place", TableKind::Parts, b"place,bike,fitted_at\nchain,041,2026-04-01T08:00:00Z\n", &[(2, "fitted_at", "this stay and that of another part at the place don't go together; allowed: stays that don't overlap")]),
    ("an unknown kind of care", TableKind::Care, b"bike,done_at,kind\n041,2026-04-01T08:00:00Z,polished\n", &[(2, "kind", "is \"polished\"; allowed: cleaned_and_lubricated, lubricated, cleaned")]),
];

/// Half a mebibyte inside a quote.
const OPEN: &[u8] = {
    const START: &[u8] = b"bike,started_at,distance_km\n041,2026-03-01T08:00:00Z,\"18.4";
    const fn padded() -> [u8; 1 << 19] {
        let mut bytes = [b','; 1 << 19];
        let mut at = 0;
        while at < START.len() {
            bytes[at] = START[at];
            at += 1;
        }
        bytes
    }
    &padded()
};

async fn every_kind_of_wrong_file_is_named_and_nothing_is_changed(store: TestStore) {
    let server = TestServer::start(store).await;
    let _bikes = (server.bike("041").await, server.twins("twin").await);
    let model = json!({"name": "Chain A", "place": "chain", "sprockets": 8});
    let _model = server.post("/v1/part-models", &model).await.expect(201);
    let token = server.token_of(Role::Manager).to_owned();
    let before = all_tables(&server, &token).await;
    for (what, kind, table, wrong) in WRONG_FILES {
        for query in ["?dry_run=true", ""] {
            let request = server.request(Method::POST, &format!("/v1/imports/{kind}{query}"));
            let request = request.bearer_auth(&token).header("content-type", "text/csv");
            let refused = server.send(request.body(*table)).await.expect(422);
            assert_eq!(refused.problem(), "invalid-table", "{what}");
            let said: Vec<(u64, &str, String)> = refused.body["errors"]
                .as_array()
                .expect("errors")
                .iter()
                .map(|error| {
                    let text = |name: &str| error[name].as_str().unwrap_or_default();
                    (
                        error["line"].as_u64().expect("a line"),
                        text("column"),
                        format!("{}; allowed: {}", text("message"), text("allowed")),
                    )
                })
                .collect();
            let wrong: Vec<_> =
                wrong.iter().map(|&(line, column, words)| (line, column, words.to_owned())).collect();
            assert_eq!(said, wrong, "{what}");
            if query.is_empty() {
                println!("{what} | {kind} | {said:?}");
            }
        }
    }
    assert_eq!(all_tables(&server, &token).await, before);
    let audit = server.get("/v1/audit").await.expect(200).body;
    assert!(audit["items"].as_array().expect("items").iter().all(|it| it["action"] != "import"), "{audit}");
}

async fn all_tables(server: &TestServer, token: &str) -> Vec<String> {
    let mut all = Vec::new();
    for kind in TableKind::ALL {
        all.push(export(server, token, *kind, "").await);
    }
    all
}

async fn what_is_no_table_is_refused(store: TestStore) {
    let server = TestServer::start(store).await;
    let token = server.token_of(Role::Manager).to_owned();
    let _unknown = import(&server, &token, TableKind::Rides, "?dry=yes", RIDES).await.expect(400);
    let request = server.request(Method::POST, "/v1/imports/rides").bearer_auth(&token).json(&json!({}));
    let _json = server.send(request).await.expect(415);
    let request = server.request(Method::POST, "/v1/imports/tokens").bearer_auth(&token);
    let _nothing = server.send(request.header("content-type", "text/csv").body("x")).await.expect(404);
    for role in [Role::Mechanic, Role::App] {
        let request = server.request(Method::GET, "/v1/exports/bikes").bearer_auth(server.token_of(role));
        let _refused = server.send(request).await.expect(403);
        let refused = import(&server, server.token_of(role), TableKind::Rides, "", RIDES).await;
        let _refused = refused.expect(403);
    }
}
