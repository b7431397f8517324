//! What a manager does at a desk.

use serde_json::json;
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, WornRings};

use crate::driver::{Browser, DESK};
use crate::yard::yard;

#[tokio::test]
async fn a_stranger_enters_the_first_bike() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.says(".empty", "No bikes yet").await;
    browser.tap(".empty a[href='/bikes/new']").await;
    browser.type_into("#label", "007").await;
    browser.type_into("#group", "town-8s").await;
    browser.type_into("#rings", "42").await;
    browser.type_into("#cogs", "11 13 15 17 20 23 26 30").await;
    browser.type_into("#links", "4").await;
    browser.tap("form.narrow button").await;
    browser.says(".wrong", "40 to 260 pitches").await;
    assert_eq!(browser.value("#cogs").await, "11 13 15 17 20 23 26 30", "what was typed is kept");
    browser.type_into("#links", "114").await;
    browser.type_into("#fitted_on", "2026-10-01").await;
    browser.tap("form.narrow button").await;
    browser.says("h1", "Bike 007").await;
    let bikes = server.get("/v1/bikes").await.expect(200).body["items"].clone();
    assert_eq!(
        (&bikes[0]["label"], &bikes[0]["drivetrain"]["links"]),
        (&json!("007"), &json!(114)),
        "{bikes}"
    );
}

#[tokio::test]
async fn the_fleet_is_searched_as_one_types() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::App).await;
    assert!(!browser.has("nav a[href='/measure']").await, "an app's token sees no workshop pages");
    browser.type_into("#search", "042").await;
    browser.says("h1", "1 bike").await;
    assert!(browser.has("#fleet tbody tr").await && browser.path().await.contains("search=042"));
    browser.tap(".counts a[href*='swap_now']").await;
    browser.says("#fleet tbody", "042").await;
    browser.open("/fleet?search=zzz").await;
    browser.says(".empty", "No bike is in this state now").await;
}

#[tokio::test]
async fn a_plan_is_made_and_accepted() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.tap("nav a[href='/bench']").await;
    browser.says(".empty", "No plan yet").await;
    browser.type_into("form[action='/bench/days'] input[name='date']", "2026-11-28").await;
    browser.type_into("form[action='/bench/days'] input[name='minutes']", "120").await;
    browser.tap("form[action='/bench/days'] button").await;
    browser.says("main", "Saturday 28 Nov 2026: 120 Minutes").await;
    browser.type_into("form[action='/bench/bookings'] input[name='label']", "041").await;
    browser.type_into("form[action='/bench/bookings'] input[name='from']", "2026-11-26").await;
    browser.type_into("form[action='/bench/bookings'] input[name='to']", "2026-11-27").await;
    browser.tap("form[action='/bench/bookings'] button").await;
    browser.says("main", "041: 26 Nov 2026 to 27 Nov 2026").await;
    browser.tap("form[action='/bench/plan'] button").await;
    browser.arrives(|path| path.contains("state=proposed")).await;
    browser.says(".bench-day", "042").await;
    browser.tap("form[action='/bench/accept'] button").await;
    browser.says(".to-do", "Confirmed on 25 November 2026").await;
    let plan = server.get("/v1/bench-plan?state=accepted").await.expect(200).body;
    assert!(plan.to_string().contains("042"), "{plan}");
    browser.open("/bench/list").await;
    browser.says("h1", "Bench list").await;
    assert!(browser.text("table").await.contains("042"));
}

#[tokio::test]
async fn a_plan_says_which_worn_rings_stay_on() {
    let worn = WornRings::on(TestStore::sqlite().await, &["041", "042"]).await;
    worn.count(&worn.ring, 1).await;
    let browser = Browser::signed_in(&worn.server, DESK, Role::Manager).await;
    browser.open("/bench").await;
    browser.tap("form[action='/bench/plan'] button").await;
    browser.arrives(|path| path.contains("state=proposed")).await;
    let stays = "Worn, but stays on until the new one is there: ring: Ring 42. Caution: Test for skipping at walking pace";
    assert_eq!(browser.text("main").await.matches(stays).count(), 1, "one of two bikes gets the ring");
    assert!(browser.text("section[aria-labelledby='picks']").await.contains("1 × ring: Ring 42"));
    browser.open("/bench/list").await;
    browser.tap(".tongue button").await;
    let stays = "Verschlissen, bleibt aber dran, bis das neue Teil da ist: Kettenblatt: Ring 42. Vorsicht:";
    browser.says("main", stays).await;
}

#[tokio::test]
async fn parts_are_entered_counted_and_arrive() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let browser = Browser::signed_in(&server, DESK, Role::Mechanic).await;
    browser.tap("nav a[href='/parts']").await;
    browser.says("main", "Nothing is counted yet").await;
    browser.type_into("#model-name", "Chain, eight").await;
    browser.type_into("#model-teeth", "8").await;
    browser.type_into("#model-price", "12,50").await;
    browser.tap("form[action='/parts/models'] button").await;
    browser.says("main", "EUR 12.50").await;
    browser.tap_text("summary", "Start counting a model").await;
    browser.type_into("form[action='/parts/stock'] input[name='count']", "3").await;
    browser.tap("form[action='/parts/stock'] button").await;
    browser.says("main > .scroll tbody", "Chain, eight").await;
    browser.tap_text("summary", "Enter a part model").await;
    browser.type_into("#model-name", "Ring").await;
    browser.choose("#model-place", "ring").await;
    browser.tap("form[action='/parts/models'] button").await;
    browser.says(".wrong", "teeth: missing").await;
    assert_eq!(browser.value("#model-name").await, "Ring", "what was typed is kept");
    assert_eq!(browser.value("#model-place").await, "ring", "what was chosen is kept");
    browser.tap_text("summary", "Enter a delivery").await;
    browser.type_into("form[action='/parts/deliveries'] input[name='count']", "10").await;
    browser.type_into("form[action='/parts/deliveries'] input[name='expected_on']", "2026-11-30").await;
    browser.tap("form[action='/parts/deliveries'] button").await;
    browser.says(".fitted", "10 × Chain, eight, expected 30 Nov 2026").await;
    browser.tap(".fitted button").await;
    browser.says("main", "Nothing is under way").await;
    let stock = server.get("/v1/stock").await.expect(200).body["items"][0].clone();
    assert_eq!(stock["count"], json!(13), "{stock}");
}

#[tokio::test]
async fn settings_change_language_units_and_money() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.open("/settings").await;
    browser.type_into("#risk", "never").await;
    browser.type_into("#currency", "GBP").await;
    browser.tap("form[action='/settings'] button").await;
    browser.says(".wrong", "Accepted risk").await;
    assert_eq!(browser.value("#currency").await, "GBP", "what was typed is kept");
    browser.type_into("#risk", "10").await;
    browser.type_into("#time_zone", "Europe/Berlin").await;
    browser.type_into("#cost_failure", "80,00").await;
    browser.choose("#language", "de").await;
    browser.choose("#units", "miles").await;
    browser.tap("form[action='/settings'] button").await;
    browser.says(".kept", "Gespeichert").await;
    let workshop = server.get("/v1/workshop").await.expect(200).body;
    assert_eq!(
        (
            &workshop["language"],
            &workshop["units_shown"],
            &workshop["risk"],
            &workshop["costs"]["failure_minor"]
        ),
        (&json!("de"), &json!("miles"), &json!(0.1), &json!(8000)),
        "{workshop}"
    );
    browser.open(&format!("/bikes/{}", yard.ridden)).await;
    browser.says(".sentence", "Wahrscheinlich noch").await;
    browser.says(".sentence", "Meilen").await;
    assert_eq!(browser.run("return document.documentElement.lang").await, json!("de"));
    // One person may read another language than the workshop.
    browser.tap(".tongue button").await;
    browser.says(".sentence", "Most likely").await;
}

#[tokio::test]
async fn a_token_is_made_shown_once_and_revoked() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.open("/settings").await;
    browser.type_into("#token-label", "Ana's phone").await;
    browser.tap("form[action='/settings/tokens'] button").await;
    browser.says(".kept", "Ana's phone").await;
    let token = browser.text(".kept code").await;
    let asked =
        |token: String| server.send(server.request(reqwest::Method::GET, "/v1/bikes").bearer_auth(token));
    let _let_in = asked(token.clone()).await.expect(200);
    browser.open("/settings").await;
    assert!(!browser.has(".kept").await, "a secret is shown once");
    browser.tap("button[aria-label=\"Revoke: Ana's phone\"]").await;
    browser.says("main", "revoked 25 Nov 2026").await;
    let _refused = asked(token).await.expect(401);
}

#[tokio::test]
async fn the_calendar_gets_an_address_another_and_none() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    let feed = async |address: &str| reqwest::get(address).await.expect("an answer");
    browser.open("/settings").await;
    browser.says("main", "The calendar has no address now").await;
    browser.tap("form[action='/settings/calendar'] button").await;
    browser.says(".kept", ".ics").await;
    let first = browser.text(".kept code").await;
    let calendar = feed(&first).await.text().await.expect("a calendar");
    assert!(calendar.starts_with("BEGIN:VCALENDAR") && calendar.contains("042"), "{calendar}");
    // The page is the answer to a form; the other language still leads back to the settings.
    browser.tap(".tongue button").await;
    browser.says("h1", "Einstellungen").await;
    assert!(!browser.has(".kept").await, "the address is shown once");
    browser.tap(".tongue button").await;
    browser.says("h1", "Settings").await;
    browser.tap("form[action='/settings/calendar'] button").await;
    browser.says(".kept", ".ics").await;
    let second = browser.text(".kept code").await;
    assert_eq!((feed(&first).await.status().as_u16(), feed(&second).await.status().as_u16()), (404, 200));
    browser.tap("form[action='/settings/calendar/close'] button").await;
    browser.says("main", "The calendar has no address now").await;
    assert_eq!(feed(&second).await.status().as_u16(), 404);
}

#[tokio::test]
async fn contradictions_are_said_in_the_language_of_the_page() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.open("/bench").await;
    browser.tap(".tongue button").await;
    browser.says("h1", "Werkbankplan").await;
    for (place, said) in [("ul.fitted", "120 Minuten"), (".wrong", "Dieser Tag steht schon in der Liste")] {
        browser.type_into("form[action='/bench/days'] input[name='date']", "2026-11-28").await;
        browser.type_into("form[action='/bench/days'] input[name='minutes']", "120").await;
        browser.tap("form[action='/bench/days'] button").await;
        browser.says(place, said).await;
    }
    browser.open("/bikes/new").await;
    browser.type_into("#label", "044").await;
    browser.type_into("#group", "town-8s").await;
    browser.type_into("#rings", "42").await;
    browser.type_into("#cogs", "11 13").await;
    browser.type_into("#links", "4").await;
    browser.tap("form.narrow button").await;
    browser.says(".wrong", "Kettenlänge: 4. Erlaubt: 40 bis 260 Teilungen.").await;
}

#[tokio::test]
async fn a_hook_is_made_tested_and_switched_off() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.tap("nav a[href='/hooks']").await;
    browser.says(".empty", "No webhook yet").await;
    browser.type_into("#hook-label", "ride app").await;
    browser.type_into("#hook-url", "https://127.0.0.1/wear").await;
    browser.tap("form[action='/hooks'] button").await;
    browser.says(".wrong", "Allowed").await;
    assert_eq!(browser.value("#hook-label").await, "ride app", "what was typed is kept");
    browser.type_into("#hook-url", "https://app.example/wear").await;
    browser.tap("form[action='/hooks'] button").await;
    browser.says(".kept", "whsec_").await;
    let hook = server.get("/v1/hooks").await.expect(200).body["items"][0].clone();
    assert_eq!(
        (&hook["label"], &hook["url"]),
        (&json!("ride app"), &json!("https://app.example/wear")),
        "{hook}"
    );
    browser.tap("button[aria-label='Send a test: ride app']").await;
    browser.says(".fitted", "a test").await;
    browser.tap("button[aria-label='Switch off: ride app']").await;
    browser.says(".hook", "switched off").await;
    browser.tap("button[aria-label='Remove: ride app']").await;
    browser.says(".empty", "No webhook yet").await;
    assert_eq!(server.get("/v1/hooks").await.expect(200).body["items"], json!([]));
}

#[tokio::test]
async fn a_table_is_checked_then_imported_and_comes_out_again() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let bike = server.bike("041").await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.open("/settings").await;
    browser.tap("a[href='/settings/tables']").await;
    let folder = tempfile::tempdir().expect("a folder");
    let file = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).expect("written");
        path.display().to_string()
    };
    let rides = async || {
        let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
        rides["items"].as_array().map(Vec::len)
    };
    let wrong =
        file("wrong.csv", "bike;started_at;distance_km\n041;2026-03-01T08:00:00Z;18,4\n099;gestern;18,4\n");
    browser.choose("#kind", "rides").await;
    browser.attach("#file", &wrong).await;
    browser.tap("form[action='/settings/tables/check'] button").await;
    browser.says(".wrong", "Mistakes found: 2").await;
    let said = browser.text(".mistakes tbody").await;
    assert!(said.contains("3 started_at time: “gestern”") && said.contains("3 bike bike: “099”"), "{said}");
    assert_eq!(browser.value("#kind").await, "rides", "what was chosen is kept");
    assert!(!browser.has("form[action='/settings/tables/import']").await, "nothing wrong can be imported");
    let good = file(
        "good.csv",
        "bike;started_at;distance_km\n041;2026-03-01T08:00:00Z;18,4\n041;2026-03-02T08:00:00Z;7\n",
    );
    browser.attach("#file", &good).await;
    browser.tap("form[action='/settings/tables/check'] button").await;
    browser.says("main", "Rides, 2 lines, no mistakes: 2 would be new").await;
    assert_eq!(rides().await, Some(0), "a check changes nothing");
    browser.tap("form[action='/settings/tables/import'] button").await;
    browser.says(".kept", "2 lines imported: 2 new").await;
    assert_eq!(rides().await, Some(2));
    let script = "const done = arguments[arguments.length - 1];
        fetch('/settings/tables/rides.csv?separator=semicolon').then(r => r.text()).then(done);";
    let table = browser.run_async(script).await;
    let table = table.as_str().expect("a text");
    assert!(table.lines().count() == 3 && table.contains(";\"18,4\";"), "{table}");
    browser.tap(".tongue button").await;
    browser.says("h1", "Import und Export").await;
}

#[tokio::test]
async fn other_prices_are_tried_and_nothing_is_stored() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.open("/policy").await;
    browser.says(".empty", "No bike yet").await;
    yard(&server).await;
    // Rides change what a kilometre costs as soon as the worker has seen them.
    server.settle().await;
    browser.tap("nav a[href='/policy']").await;
    browser.says(".sentence", "Cheapest is").await;
    let (before, costs) = (browser.text(".to-do").await, browser.text(".sentence").await);
    browser.says("main", "Assumed, as there is no data").await;
    browser.type_into("#price-chain", "2,00").await;
    browser.type_into("#price-cassette", "400").await;
    browser.tap("form.narrow button").await;
    browser.arrives(|path| path.contains("cassette=400")).await;
    assert_eq!(browser.value("#price-cassette").await, "400.00");
    assert_ne!(browser.text(".sentence").await, costs, "other prices cost otherwise");
    println!("policy: {before} / {}", browser.text(".to-do").await);
    browser.open("/policy").await;
    assert_eq!(browser.text(".sentence").await, costs, "nothing was stored");
    browser.open("/policy?chain=dear").await;
    browser.says(".wrong", "dear").await;
}

#[tokio::test]
async fn lives_of_parts_and_changes_are_looked_up() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.open(&format!("/bikes/{}/swap", yard.overdue)).await;
    browser.tap("#entry button").await;
    browser.arrives(|path| path.contains("done=swap")).await;
    browser.open("/parts").await;
    browser.tap("a[href='/parts/lives']").await;
    browser.tap("a[href='/parts/lives?place=chain']").await;
    browser.says("tbody", "042, 1 Jan 2026 to 25 Nov 2026").await;
    browser.says("tbody", "3,000 km").await;
    browser.tap("nav a[href='/settings']").await;
    browser.tap("a[href='/audit']").await;
    browser.says(".log", "Swap: entered").await;
    browser.says(".log", "Reading: entered").await;
}
