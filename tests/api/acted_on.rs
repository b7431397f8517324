//! Kilometres, dates, swaps and skips: forecasts are kept, held against what came, and told in words.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};
use wear_api::domain::{KeptPassage, Made, PartId, Role, Timestamp, WorkshopId};
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    a_record_recomputed_outside_of_the_service_is_the_same,
    imported_history_has_the_record_of_one_that_was_lived,
    an_empty_record_says_that_it_is_too_early
);

const BIKES: usize = 12;
const BIKE_KM_A_ROUND: f64 = 900.0;
const LIMIT: f64 = 0.75;

/// One month of a yard: each bike goes 900 km. In the second month of six its chain is measured, far below its limit, and in the
/// last, far over it; then it is swapped.
struct Round {
    rides: Vec<Value>,
    readings: Vec<(usize, Value)>,
    swaps: Vec<(usize, Value)>,
}

fn round(ids: &[String], number: i32, at: Timestamp) -> Round {
    let ride = |(bike, half): (usize, i64)| {
        let started_at = at.plus(TimeDelta::days(-20 + 10 * half)).to_string();
        json!({"bike_id": ids[bike], "started_at": started_at, "distance_km": BIKE_KM_A_ROUND / 2.0, "surface": "paved",
            "wet": false, "source": "log", "source_id": format!("{number}-{half}-{bike}")})
    };
    let of_chain = (number - 1) % 6 + 1;
    let percent = |bike: usize| 0.08 + (0.16 + 0.001 * bike as f64) * f64::from(of_chain);
    let read = |bike: usize| {
        (bike, json!({"taken_at": at.to_string(), "instrument": "dial", "percent": percent(bike)}))
    };
    let swapped_at = at.plus(TimeDelta::minutes(1)).to_string();
    let swap = |bike: usize| (bike, json!({"swapped_at": swapped_at, "place": "chain"}));
    Round {
        rides: (0..BIKES).flat_map(|bike| [(bike, 0), (bike, 1)]).map(ride).collect(),
        readings: (0..BIKES).filter(|_| matches!(of_chain, 2 | 6)).map(read).collect(),
        swaps: (0..BIKES).filter(|_| of_chain == 6).map(swap).collect(),
    }
}

struct Yard {
    server: TestServer,
    ids: Vec<String>,
}

impl Yard {
    async fn of(store: TestStore, days_before: i64) -> Self {
        let server = TestServer::start(store).await;
        server.clock.advance(TimeDelta::days(days_before));
        let mut ids = Vec::new();
        for number in 0..BIKES {
            let mut bike = wear_tests::bike(&format!("{number:03}"));
            bike["fitted_on"] = json!("2026-11-25");
            if number % 2 == 0 {
                bike["group"] = json!("cargo");
            }
            ids.push(server.post("/v1/bikes", &bike).await.expect(201).id());
        }
        Self { server, ids }
    }

    async fn enter(&self, round: &Round) {
        let rides = self.server.post("/v1/rides", &json!({"rides": round.rides})).await.expect(200).body;
        assert_eq!(rides["failed"], json!([]), "{rides}");
        for (path, events) in [("readings", &round.readings), ("swaps", &round.swaps)] {
            for (bike, event) in events {
                let path = format!("/v1/bikes/{}/{path}", self.ids[*bike]);
                let _entered = self.server.post(&path, event).await.expect(201);
            }
        }
    }

    async fn settle(&self) {
        self.server.settle().await;
    }

    /// As after a night.
    async fn keep_record(&self) {
        let _asked = self.server.post("/v1/calibration", &json!({})).await.expect(202);
        self.settle().await;
    }

    async fn record(&self) -> Value {
        self.server.get("/v1/track-record?from=2026-11&to=2027-12").await.expect(200).body
    }

    async fn table(&self, kind: &str) -> Vec<HashMap<String, String>> {
        let request = self
            .server
            .request(reqwest::Method::GET, &format!("/v1/exports/{kind}"))
            .bearer_auth(self.server.token_of(Role::Manager));
        let text = request.send().await.expect("an answer").text().await.expect("a table");
        let mut reader = csv::Reader::from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        reader.deserialize().map(|row| row.expect("a row")).collect()
    }

    async fn kept(&self, parts: &[PartId]) -> Vec<KeptPassage> {
        let store = &self.server.services.store;
        let id = self.server.get("/v1/workshop").await.expect(200).id();
        let mut tx = store.begin_read(id.parse::<WorkshopId>().expect("an id")).await.expect("a store");
        tx.passages_of_parts(parts).await.expect("forecasts")
    }
}

/// A yard that was lived through month by month.
async fn lived(store: TestStore, rounds: i32) -> Yard {
    let yard = Yard::of(store, 0).await;
    for number in 1..=rounds {
        yard.server.clock.advance(TimeDelta::days(30));
        yard.enter(&round(&yard.ids, number, yard.server.now())).await;
        yard.settle().await;
    }
    yard.keep_record().await;
    yard
}

/// When a chain was read, how far it had gone then, and what was read.
type Read = (DateTime<Utc>, f64, f64);

/// A chain as exported tables tell it.
struct Chain {
    fitted_at: DateTime<Utc>,
    removed_at: Option<DateTime<Utc>>,
    bike: String,
    read: Vec<Read>,
}

fn time(text: &str) -> DateTime<Utc> {
    text.parse().expect("a time")
}

async fn chains(yard: &Yard) -> BTreeMap<PartId, Chain> {
    let parts = yard.table("parts").await;
    let (rides, readings) = (yard.table("rides").await, yard.table("readings").await);
    let mut chains = BTreeMap::new();
    for row in parts.iter().filter(|row| row["place"] == "chain" && !row["bike_id"].is_empty()) {
        let (fitted_at, bike) = (time(&row["fitted_at"]), row["bike_id"].clone());
        let ridden = |until: DateTime<Utc>| -> f64 {
            let on = rides.iter().filter(|ride| ride["bike_id"] == bike);
            let on = on.filter(|ride| (fitted_at..until).contains(&time(&ride["started_at"])));
            on.map(|ride| ride["distance_km"].parse::<f64>().expect("km")).sum()
        };
        let read = readings.iter().filter(|reading| reading["part_id"] == row["part_id"]).map(|reading| {
            let at = time(&reading["taken_at"]);
            (at, ridden(at), reading["percent"].parse().expect("percent"))
        });
        let chain = Chain {
            read: read.collect(),
            removed_at: (!row["removed_at"].is_empty()).then(|| time(&row["removed_at"])),
            fitted_at,
            bike,
        };
        chains.insert(row["part_id"].parse().expect("an id"), chain);
    }
    chains
}

/// Probability of a forecast at a distance, by straight lines.
fn probability(points: &[(f64, f64)], at: f64) -> f64 {
    let mut before = (0.0, 0.0);
    for &(x, p) in points {
        if x > at {
            if before == (0.0, 0.0) && x > 0.0 && points[0].0 > at {
                return 0.0;
            }
            return before.1 + (p - before.1) * (at - before.0) / (x - before.0);
        }
        before = (x, p);
    }
    before.1
}

/// Share of passages before the tenth percentile, up to the ninetieth and after it, by spans of the scale from 0 to 1:
/// forty cells, filled by expectation and maximisation, written without regard to how the service does it.
fn shares(spans: &[(f64, f64)]) -> [f64; 3] {
    let mut cells: Vec<(usize, usize)> = Vec::new();
    for &(from, to) in spans {
        let (mut a, mut b) = ((40.0 * from).round() as usize, (40.0 * to).round() as usize);
        if a >= b {
            a = ((20.0 * (from + to)) as usize).min(39);
            b = a + 1;
        }
        if (a, b) != (0, 40) {
            cells.push((a, b));
        }
    }
    let mut mass = [1.0 / 40.0; 40];
    for _ in 0..20_000 {
        let mut next = [0.0; 40];
        for &(a, b) in &cells {
            let whole: f64 = mass[a..b].iter().sum();
            for cell in a..b {
                next[cell] += mass[cell] / whole / cells.len() as f64;
            }
        }
        mass = next;
    }
    [mass[..4].iter().sum(), mass[4..36].iter().sum(), mass[36..].iter().sum()]
}

async fn a_record_recomputed_outside_of_the_service_is_the_same(store: TestStore) {
    let yard = lived(store, 13).await;
    let record = yard.record().await;
    let chains = chains(&yard).await;
    let parts: Vec<PartId> = chains.keys().copied().collect();
    let kept = yard.kept(&parts).await;
    for (made, name) in [(Made::Shown, "shown"), (Made::MadeLater, "made_later")] {
        let ours = &record["overall"][name];
        let (mut in_km, mut in_days) = (Vec::new(), Vec::new());
        for forecast in kept.iter().filter(|kept| kept.made == made) {
            let chain = &chains[&forecast.part_id];
            let made_at = forecast.made_at.datetime();
            let later: Vec<_> = chain.read.iter().filter(|(at, ..)| *at > made_at).collect();
            // No reading is near the limit, so each tells on which side of it the chain was.
            assert!(later.iter().all(|(.., percent)| (percent - LIMIT).abs() > 0.25));
            let below = later.iter().rfind(|(.., percent)| *percent < LIMIT);
            let above = later.iter().find(|(.., percent)| *percent >= LIMIT);
            if later.is_empty() {
                continue;
            }
            let span = |points: &[(f64, f64)], place: &dyn Fn(&Read) -> f64| {
                let reach = points.last().expect("points").0;
                let to = above
                    .map(|it| place(it))
                    .filter(|at| *at <= reach)
                    .map_or(1.0, |at| probability(points, at));
                (below.map(|it| place(it)).map_or(0.0, |at| probability(points, at)).min(to), to)
            };
            in_km.push(span(forecast.kilometres.points(), &|(_, km, _)| km - forecast.chain_km));
            if let Some(days) = &forecast.days {
                let day = |(at, ..): &Read| at.signed_duration_since(made_at).as_seconds_f64() / 86_400.0;
                in_days.push(span(days.points(), &day));
            }
        }
        for (what, spans) in [("kilometres", &in_km), ("dates", &in_days)] {
            let theirs = shares(spans);
            let all = ["before_p10", "covered", "beyond_p90"];
            assert!(ours[what]["n"].as_u64().is_some_and(|n| n > 30), "{name} {what}: {}", ours[what]);
            for (field, theirs) in all.into_iter().zip(theirs) {
                let ours = ours[what][field].as_f64().expect("a share");
                assert!((ours - theirs).abs() < 5e-3, "{name} {what} {field}: {ours} against {theirs}");
            }
        }
        // Swaps of the quarters that are over, of bikes that were forecast when they began.
        for quarter in ours["demand"]["quarters"].as_array().expect("quarters") {
            let from = time(&format!("{}-01T00:00:00Z", quarter["from"].as_str().expect("a month")));
            let until = from + TimeDelta::days(91);
            let swapped =
                chains.values().filter(|it| it.removed_at.is_some_and(|at| (from..until).contains(&at)));
            let bikes: std::collections::BTreeSet<_> = swapped.map(|chain| &chain.bike).collect();
            assert_eq!(quarter["came"], bikes.len(), "{name}: {quarter}");
            assert_eq!(quarter["bikes"], BIKES, "{name}: {quarter}");
        }
    }
    assert!(chains.values().all(|chain| chain.removed_at.is_none_or(|at| at > chain.fitted_at)));
    // Each group has its own, and together they are all.
    let groups = record["groups"].as_array().expect("groups");
    let of_groups: u64 = groups.iter().filter_map(|it| it["shown"]["kilometres"]["n"].as_u64()).sum();
    assert_eq!((groups.len(), Some(of_groups)), (2, record["overall"]["shown"]["kilometres"]["n"].as_u64()));
    let one = yard.server.get("/v1/track-record?group=cargo&from=2026-11&to=2027-12").await.expect(200).body;
    assert_eq!(one["overall"]["shown"], groups[0]["shown"]);
    for language in ["en", "de"] {
        let visitor = Visitor::of(&yard.server, Role::Manager, language).await;
        let (status, page) = visitor.get("/track-record").await;
        assert!(status.is_success());
        let expected = match language {
            "en" => ["as they were shown", "worked out afterwards", "Swaps per quarter", "in the range told"],
            _ => [
                "wie sie angezeigt wurden",
                "nachträglich berechnet",
                "Wechsel je Quartal",
                "im genannten Bereich",
            ],
        };
        for text in expected {
            assert!(page.contains(text), "{language}: {text} isn't in {page}");
        }
    }
}

/// Numbers of two answers within so much of each other, all else the same.
fn alike(one: &Value, other: &Value, path: &str) {
    match (one, other) {
        (Value::Object(one), Value::Object(other)) => {
            assert_eq!(one.len(), other.len(), "{path}");
            one.iter().for_each(|(name, value)| alike(value, &other[name], &format!("{path}/{name}")));
        }
        (Value::Array(one), Value::Array(other)) => {
            assert_eq!(one.len(), other.len(), "{path}");
            one.iter().zip(other).for_each(|(one, other)| alike(one, other, path));
        }
        (Value::Number(one), Value::Number(other)) => {
            let (one, other) = (one.as_f64().expect("finite"), other.as_f64().expect("finite"));
            assert!((one - other).abs() <= 1e-6 * (1.0 + one.abs()), "{path}: {one} and {other}");
        }
        _ => assert_eq!(one, other, "{path}"),
    }
}

async fn imported_history_has_the_record_of_one_that_was_lived(store: TestStore) {
    let is_sqlite = store.url.starts_with("sqlite");
    let rounds = 8;
    let first = lived(store, rounds).await;
    let record = first.record().await;
    let other = if is_sqlite { TestStore::sqlite().await } else { TestStore::postgres().await };
    let imported = Yard::of(other, 30 * i64::from(rounds)).await;
    let began = imported.server.now().plus(TimeDelta::days(-30 * i64::from(rounds)));
    // The last month first: when something is told doesn't matter, only when it happened.
    let months =
        |number: i32| round(&imported.ids, number, began.plus(TimeDelta::days(30 * i64::from(number))));
    for number in (1..=rounds).rev() {
        let Round { rides, .. } = months(number);
        imported.enter(&Round { rides, readings: Vec::new(), swaps: Vec::new() }).await;
    }
    for number in 1..=rounds {
        let Round { swaps, readings, .. } = months(number);
        imported.enter(&Round { rides: Vec::new(), readings, swaps }).await;
    }
    imported.keep_record().await;
    let of_import = imported.record().await;
    alike(&record["overall"]["made_later"], &of_import["overall"]["made_later"], "overall");
    assert!(record["overall"]["made_later"]["kilometres"]["n"].as_u64().is_some_and(|n| n > 20), "{record}");
    // Nobody has seen what the imported months would have been told.
    assert_eq!(of_import["overall"]["shown"]["kilometres"]["n"], 0, "{of_import}");
    assert!(record["overall"]["shown"]["kilometres"]["n"].as_u64().is_some_and(|n| n > 20));
    // Once more, and nothing is another.
    imported.keep_record().await;
    assert_eq!(imported.record().await, of_import);
    // A reading of long ago that was wrong: what was made later follows, what was shown stays.
    let readings = first.table("readings").await;
    let first_read = &readings[0];
    let void = first.server.request(
        reqwest::Method::DELETE,
        &format!("/v1/bikes/{}/readings/{}?reason=wrong", first_read["bike_id"], first_read["reading_id"]),
    );
    let void = void.bearer_auth(first.server.token_of(Role::Mechanic));
    assert!(first.server.send(void).await.status.is_success());
    let parts: Vec<PartId> = vec![first_read["part_id"].parse().expect("an id")];
    let of = |kept: Vec<KeptPassage>, made: Made| -> Vec<KeptPassage> {
        kept.into_iter().filter(|it| it.made == made).collect()
    };
    let before = first.kept(&parts).await;
    first.keep_record().await;
    let after = first.kept(&parts).await;
    assert_ne!(of(before.clone(), Made::MadeLater), of(after.clone(), Made::MadeLater));
    let shown = of(after, Made::Shown);
    assert!(of(before, Made::Shown).iter().all(|kept| shown.contains(kept)));
}

async fn an_empty_record_says_that_it_is_too_early(store: TestStore) {
    let server = TestServer::start(store).await;
    let record = server.get("/v1/track-record").await.expect(200).body;
    for made in ["shown", "made_later"] {
        let acted_on = &record["overall"][made];
        for (what, code) in [
            ("kilometres", "kilometres_too_few"),
            ("dates", "dates_too_few"),
            ("swap_by", "swap_by_too_few"),
            ("demand", "demand_too_few"),
            ("skips", "skips_too_few"),
        ] {
            assert_eq!((&acted_on[what]["n"], &acted_on[what]["meaning"]["code"]), (&json!(0), &json!(code)));
            assert!(acted_on[what]["meaning"]["message"].as_str().is_some_and(|text| text.ends_with('.')));
        }
    }
}
