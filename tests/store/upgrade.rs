//! Data that the first version of the tables held are there after all migrations, and worked with.

use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection, SqliteConnection};
use wear_api::clock::Clock;
use wear_api::domain::{BikeId, CareSetting, PageRequest, Reach, RideId, RideOutcome, Timestamp, WorkshopId};
use wear_api::service::{Services, worker};
use wear_api::store::{Engine, Store};
use wear_tests::{TestStore, on_both_stores, ride};

on_both_stores!(what_the_first_tables_held_is_there);

const HELD: &str = include_str!("first_schema.sql");
const WORKSHOP: &str = "01a00000-0000-7000-8000-000000000001";
/// A bike of which everything is on record, care too.
const RECORDED: &str = "01a00000-0000-7000-8000-000000000013";

/// What was said of it before anything was assumed of chains as found, care and distance that nobody recorded.
const AS_BEFORE: [(&str, f64); 9] = [
    ("/elongation_percent/p10", 0.11785460102160847),
    ("/elongation_percent/p50", 0.17952345962251304),
    ("/elongation_percent/p90", 0.25884220284115034),
    ("/remaining_km/p10", 2357.5149297158227),
    ("/remaining_km/p50", 4419.0261023239345),
    ("/remaining_km/p90", 8113.219698672469),
    ("/remaining_reference_km/p10", 2656.2662082906513),
    ("/remaining_reference_km/p50", 4979.018186142447),
    ("/remaining_reference_km/p90", 9141.35094305405),
];

/// A bike with rides of two sources.
const TOLD_TWICE: &str = "01a00000-0000-7000-8000-000000000023";

const BIKE: &str = "01a00000-0000-7000-8000-000000000003";

/// The rows in an engine's own spelling of ids and bytes.
fn spelled(engine: Engine) -> String {
    match engine {
        Engine::Postgres => HELD.replace("u'", "'").replace("h'", "'\\x"),
        Engine::Sqlite => {
            let mut text = String::new();
            for (place, piece) in HELD.split("u'").enumerate() {
                let Some((id, rest)) = piece.split_once('\'').filter(|_| place > 0) else {
                    text += piece;
                    continue;
                };
                text += &format!("x'{}'{rest}", id.replace('-', ""));
            }
            text.replace("h'", "x'")
        }
    }
}

/// Applies the first migration alone, as the version that had only that one did, and the rows.
async fn at_first(engine: Engine, url: &str) {
    let migrations =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace's folder");
    let folder = tempfile::tempdir().expect("a folder");
    let name = if engine == Engine::Postgres { "postgres" } else { "sqlite" };
    let first = migrations.join("migrations").join(name).join("0001_first.sql");
    let _bytes = std::fs::copy(first, folder.path().join("0001_first.sql")).expect("the first migration");
    let migrator = sqlx::migrate::Migrator::new(folder.path()).await.expect("a migration");
    match engine {
        Engine::Postgres => {
            let mut connection = PgConnection::connect(url).await.expect("connects");
            let empty = "drop schema public cascade; create schema public";
            let _dropped = connection.execute(empty).await.expect("an empty database");
            migrator.run(&mut connection).await.expect("the first tables");
            let _see =
                connection.execute("select set_config('wear.scope', 'all', false)").await.expect("sees");
            let _held = connection.execute(AssertSqlSafe(spelled(engine))).await.expect("rows");
        }
        Engine::Sqlite => {
            let mut connection =
                SqliteConnection::connect(&format!("{url}?mode=rwc")).await.expect("connects");
            migrator.run(&mut connection).await.expect("the first tables");
            let _held = connection.execute(AssertSqlSafe(spelled(engine))).await.expect("rows");
        }
    }
}

async fn what_the_first_tables_held_is_there(store: TestStore) {
    let engine = store.store.engine();
    let folder = tempfile::tempdir().expect("a folder");
    let url = match engine {
        Engine::Postgres => store.url.clone(),
        Engine::Sqlite => format!("sqlite:{}", folder.path().join("old.db").display()),
    };
    at_first(engine, &url).await;
    let upgraded = Store::connect(&url, 2).await.expect("connects");
    upgraded.migrate().await.expect("the newest tables");
    assert!(upgraded.is_ready().await.expect("answers"));
    let services = Services::new(upgraded, Clock::stopped("2026-11-25T12:00:00Z".parse().expect("a time")));
    assert_eq!(worker::drain(&services).await.expect("a round"), 3);
    let workshop: WorkshopId = WORKSHOP.parse().expect("an id");
    let bike: BikeId = BIKE.parse().expect("an id");
    let mut tx = services.store.begin_read(workshop).await.expect("begins");
    assert_eq!(tx.workshop().await.expect("a workshop").settings.name.as_str(), "Harbour");
    // Tokens of before see the whole workshop, and nobody's bikes are anybody's.
    let tokens = tx.tokens(&PageRequest::default()).await.expect("tokens").items;
    assert!(!tokens.is_empty());
    assert!(tokens.iter().all(|token| token.grant.reach() == Reach::Workshop));
    let held = tx.bike(bike).await.expect("a bike");
    assert_eq!((held.app, held.rider), (None, None));
    let facts = held.facts;
    assert_eq!(facts.label.as_str(), "041");
    // Its care was entered, so silence went on counting as neglect.
    assert_eq!(facts.care, Some(CareSetting::Recorded));
    let outlook = tx.outlook(bike).await.expect("reads").expect("an outlook");
    let percent = outlook.payload["elongation_percent"]["p50"].as_f64().expect("a percent");
    // A rule read 0.2 % after 1,200 km in the dry.
    assert!((0.1..0.35).contains(&percent), "{}", outlook.payload);
    let recorded: BikeId = RECORDED.parse().expect("an id");
    let outlook = tx.outlook(recorded).await.expect("reads").expect("an outlook").payload;
    for (place, expected) in AS_BEFORE {
        let told = outlook.pointer(place).and_then(serde_json::Value::as_f64).expect("a number");
        assert!((told / expected - 1.0).abs() < 1e-9, "{place}: {told}, {expected} before");
    }
    // What two sources told of counts once since.
    let twice: BikeId = TOLD_TWICE.parse().expect("an id");
    let (first, last) = ("2026-01-01".parse().expect("a day"), "2026-12-31".parse().expect("a day"));
    let days = tx.bike_days(twice, first, last).await.expect("days");
    assert_eq!(days.iter().map(|day| (day.rides, day.distance_mm)).collect::<Vec<_>>(), [(2, 36_400_000)]);
    let rides = tx.rides_between(twice, Timestamp::EPOCH, Timestamp::LAST).await.expect("rides");
    let same: Vec<Option<RideId>> = rides.iter().map(|ride| ride.telling.same_as()).collect();
    assert_eq!(same, [None, Some(rides[0].id), None]);
    drop(tx);
    // A ride is its bike's: there it is the same, and another one on another bike.
    let mut tx = services.store.begin_write(workshop).await.expect("begins");
    let known = ride(bike, "r1", "2026-03-01T08:00:00Z", 1_200.0);
    let elsewhere = ride(recorded, "r1", "2026-03-01T08:00:00Z", 12.0);
    let now = "2026-11-25T12:00:00Z".parse().expect("a time");
    let stored = tx.record_rides(&[known, elsewhere], now).await.expect("rides").outcomes;
    assert!(matches!(&stored[..], [RideOutcome::Unchanged(_), RideOutcome::Inserted(_)]), "{stored:?}");
}
