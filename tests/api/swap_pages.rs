//! A swap as people enter it: all that goes on together in one form, what is worn named before, and taken back at once.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, WornRings, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    what_is_worn_is_named_before_anything_is_saved,
    chain_cassette_and_ring_are_one_form,
    a_mismatch_saves_nothing_of_the_form,
    what_was_recorded_is_undone_at_once,
    what_was_marked_as_wrong_counts_again,
    a_bike_is_corrected_on_its_page,
);

async fn bike_of(server: &TestServer, label: &str) -> String {
    let bikes = server.get(&format!("/v1/bikes?search={label}")).await.expect(200).body;
    bikes["items"][0]["id"].as_str().expect("an id").to_owned()
}

async fn swaps(server: &TestServer, bike: &str) -> Vec<Value> {
    let listed = server.get(&format!("/v1/bikes/{bike}/swaps")).await.expect(200).body;
    let items = listed["items"].as_array().expect("items");
    items.iter().filter(|swap| swap["voided_at"].is_null()).cloned().collect()
}

async fn places(server: &TestServer, bike: &str, at: &str) -> Vec<String> {
    let all = swaps(server, bike).await;
    let mut places: Vec<String> = all
        .iter()
        .filter(|swap| swap["swapped_at"].as_str().is_some_and(|given| given.starts_with(at)))
        .filter_map(|swap| swap["place"].as_str().map(str::to_owned))
        .collect();
    places.sort();
    places
}

async fn what_is_worn_is_named_before_anything_is_saved(store: TestStore) {
    let worn = WornRings::on(store, &["041"]).await;
    let bike = bike_of(&worn.server, "041").await;
    let mechanic = Visitor::of(&worn.server, Role::Mechanic, "en").await;
    let page = mechanic.get(&format!("/bikes/{bike}/swap")).await.1;
    assert!(page.contains("Worn besides the chain."), "{page}");
    assert!(page.contains("cassette: worn out,") && page.contains("ring 42: worn out,"), "{page}");
    let ticked = |value: &str| format!("name=\"place\" value=\"{value}\" checked");
    assert!(page.contains(&ticked("chain 0")), "{page}");
    assert!(!page.contains(&ticked("cassette 0")), "what nobody said was replaced isn't ticked");
    // From a job that replaces it, it is.
    let job = mechanic.get(&format!("/bikes/{bike}/swap?with=cassette%200")).await.1;
    assert!(job.contains(&ticked("cassette 0")), "{job}");
    // The bike's page says so too, and a new bike's page has nothing of it.
    let page = mechanic.get(&format!("/bikes/{bike}")).await.1;
    assert!(page.contains("Worn as well, replace together with the chain: cassette, ring 42"), "{page}");
    let fresh = worn.server.bike("new").await;
    let page = mechanic.get(&format!("/bikes/{fresh}/swap")).await.1;
    assert!(!page.contains("Worn besides the chain."), "{page}");
    assert!(page.contains("Can stay. Worn out: less than 1 chance in 100."), "{page}");
}

async fn chain_cassette_and_ring_are_one_form(store: TestStore) {
    let worn = WornRings::on(store, &["041"]).await;
    worn.count(&worn.ring, 2).await;
    let bike = bike_of(&worn.server, "041").await;
    let mechanic = Visitor::of(&worn.server, Role::Mechanic, "en").await;
    let path = format!("/bikes/{bike}/swap?of=chain");
    let at = format!("{}T12:00", worn.today);
    let form = [
        ("place", "chain 0"),
        ("place", "cassette 0"),
        ("place", "ring 0"),
        ("model-ring-0", worn.ring.as_str()),
        ("reason", "worn"),
        ("note", "all of it"),
    ];
    let (status, to) = mechanic.send_on(&path, &form).await;
    assert_eq!(status, 303);
    assert_eq!(places(&worn.server, &bike, &at).await, ["cassette", "chain", "ring"]);
    let all = swaps(&worn.server, &bike).await;
    let of_now = |place: &str| {
        let found = all.iter().find(|it| it["place"] == place).expect("a swap");
        (found["reason"].clone(), found["note"].clone())
    };
    assert_eq!(of_now("chain"), (Value::Null, json!("all of it")));
    assert_eq!(of_now("cassette"), (json!("worn"), Value::Null));
    let stock = worn.server.get("/v1/stock").await.expect(200).body;
    assert_eq!(stock["items"][0]["count"], json!(1), "one ring came off the shelf: {stock}");
    let page = mechanic.get(&to).await.1;
    assert!(page.contains("Recorded: chain, cassette, ring replaced."), "{page}");
    // The same form once more is the same swaps.
    assert_eq!(mechanic.send_on(&path, &form).await.0, 303);
    assert_eq!(places(&worn.server, &bike, &at).await.len(), 3);
    // Nothing ticked is nothing recorded, and a reading needs its chain.
    let (status, page) = mechanic.send(&path, &[("note", "x")]).await;
    assert_eq!(status, 422);
    assert!(page.contains("Tick what was replaced."), "{page}");
    let (status, page) = mechanic.send(&path, &[("place", "ring 0"), ("percent", "0,8")]).await;
    assert_eq!(status, 422);
    assert!(page.contains("tick the chain, or leave the reading empty"), "{page}");
}

async fn a_mismatch_saves_nothing_of_the_form(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let ten = json!({"name": "Ten speed", "place": "cassette",
        "cogs": [11, 13, 15, 17, 19, 21, 24, 28, 32, 36]});
    let ten = server.post("/v1/part-models", &ten).await.expect(201).id();
    let eight = json!({"name": "Eight speed", "place": "cassette", "cogs": [11, 13, 15, 17, 20, 23, 26, 30]});
    let eight = server.post("/v1/part-models", &eight).await.expect(201).id();
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    let path = format!("/bikes/{bike}/swap");
    let page = mechanic.get(&path).await.1;
    let (fits, asks) = (page.find(&eight).expect("it fits"), page.find(&ten).expect("it is there"));
    let border = page.find("Doesn&#x27;t go with this bike").or(page.find("Doesn&#39;t go with this bike"));
    assert!(fits < border.expect("a group of its own") && border < Some(asks), "{page}");
    let form = [
        ("place", "chain 0"),
        ("place", "cassette 0"),
        ("model-cassette-0", ten.as_str()),
        ("at", "2026-11-25T09:30"),
    ];
    let (status, page) = mechanic.send(&path, &form).await;
    assert_eq!(status, 422);
    assert!(page.contains("cassette: This doesn") && page.contains("Nothing was recorded."), "{page}");
    assert!(page.contains("name=\"accept_mismatch\""), "{page}");
    assert_eq!(swaps(&server, &bike).await.len(), 0, "neither of the two");
    let meant = [&form[..], &[("accept_mismatch", "yes")]].concat();
    assert_eq!(mechanic.send_on(&path, &meant).await.0, 303);
    assert_eq!(swaps(&server, &bike).await.len(), 2);
}

async fn what_was_recorded_is_undone_at_once(store: TestStore) {
    let worn = WornRings::on(store, &["041"]).await;
    worn.count(&worn.ring, 2).await;
    let bike = bike_of(&worn.server, "041").await;
    let mechanic = Visitor::of(&worn.server, Role::Mechanic, "en").await;
    let before = swaps(&worn.server, &bike).await.len();
    let form = [("place", "chain 0"), ("place", "cassette 0"), ("place", "ring 0")];
    let to = mechanic.send_on(&format!("/bikes/{bike}/swap"), &form).await.1;
    assert_eq!(swaps(&worn.server, &bike).await.len(), before + 3);
    let ids = to.split("swaps=").nth(1).expect("ids").to_owned();
    let undo: Vec<(&str, &str)> = ids.split(',').map(|id| ("swap", id)).collect();
    let (status, to) = mechanic.send_on(&format!("/bikes/{bike}/swaps/undo"), &undo).await;
    assert_eq!((status.as_u16(), to), (303, format!("/bikes/{bike}?done=undone")));
    assert_eq!(swaps(&worn.server, &bike).await.len(), before);
    let stock = worn.server.get("/v1/stock").await.expect(200).body;
    assert_eq!(stock["items"][0]["count"], json!(2), "{stock}");
    // What was undone by mistake is entered again from the history, filled in.
    let page = mechanic.get(&format!("/bikes/{bike}")).await.1;
    assert!(
        page.contains("Record it again") && page.contains("of=ring&#38;with=ring%200")
            || page.contains("of=ring&amp;with=ring%200"),
        "{page}"
    );
}

async fn what_was_marked_as_wrong_counts_again(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let reading = json!({"taken_at": "2026-11-25T11:00:00Z", "instrument": "dial", "percent": 0.4});
    let reading = server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201).body;
    let reading = reading["reading"]["id"].as_str().expect("an id").to_owned();
    let care = json!({"kind": "lubricated", "done_at": "2026-11-25T11:10:00Z"});
    let care = server.post(&format!("/v1/bikes/{bike}/care"), &care).await.expect(201).body;
    let care = care["care"]["id"].as_str().or(care["id"].as_str()).expect("an id").to_owned();
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    for (kind, id) in [("readings", &reading), ("care", &care)] {
        let voided = async || {
            let listed = server.get(&format!("/v1/bikes/{bike}/{kind}")).await.expect(200).body;
            let item = &listed["items"][0];
            !item["voided"].is_null() || !item["voided_at"].is_null()
        };
        let path = format!("/bikes/{bike}/{kind}/{id}");
        assert_eq!(mechanic.send_on(&format!("{path}/void"), &[("reason", "other bike")]).await.0, 303);
        assert!(voided().await, "{kind}");
        assert!(mechanic.get(&format!("/bikes/{bike}")).await.1.contains("Count it again"), "{kind}");
        assert_eq!(mechanic.send_on(&format!("{path}/restore"), &[]).await.0, 303);
        assert!(!voided().await, "{kind}");
    }
    let nothing = format!("/bikes/{bike}/rides/{care}/restore");
    assert_eq!(mechanic.send_on(&nothing, &[]).await.0, 404);
}

async fn a_bike_is_corrected_on_its_page(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    let path = format!("/bikes/{bike}/edit");
    let page = mechanic.get(&path).await.1;
    assert!(page.contains("value=\"11 13 15 17 20 23 26 30\""), "{page}");
    let same = [
        ("label", "041"),
        ("group", "town-8s"),
        ("use", "town"),
        ("rings", "42"),
        ("cogs", "11 13 15 17 20 23 26 30"),
        ("links", "114"),
        ("gearing", "derailleur"),
    ];
    let with = |name: &'static str, value: &'static str, revision: &'static str| {
        let mut fields: Vec<(&str, &str)> = same.iter().copied().filter(|(own, _)| *own != name).collect();
        fields.extend([(name, value), ("revision", revision)]);
        fields
    };
    assert_eq!(mechanic.send_on(&path, &with("label", "A7", "1")).await.0, 303);
    let stored = server.get(&format!("/v1/bikes/{bike}")).await.expect(200).body;
    assert_eq!((&stored["label"], &stored["drivetrain"]["links"]), (&json!("A7"), &json!(114)), "{stored}");
    let changed = with("label", "A7", "2");
    let rings = changed.into_iter().map(|(name, value)| (name, if name == "rings" { "46" } else { value }));
    let rings: Vec<_> = rings.chain([("limit", "0,6")]).collect();
    assert_eq!(mechanic.send_on(&path, &rings).await.0, 303);
    let stored = server.get(&format!("/v1/bikes/{bike}")).await.expect(200).body;
    assert_eq!(stored["drivetrain"]["rings"], json!([46]), "{stored}");
    assert_eq!(
        stored["drivetrain"]["limit_percent"].as_f64().or(stored["limit_percent"].as_f64()),
        Some(0.6),
        "{stored}"
    );
    // Somebody else was there in between; a wrong value keeps what was typed; another's label is refused.
    assert_eq!(mechanic.send(&path, &with("label", "A8", "2")).await.0, 409);
    let (status, page) = mechanic.send(&path, &with("cogs", "none", "3")).await;
    assert_eq!(status, 422);
    assert!(page.contains("value=\"none\""), "{page}");
    let _other = server.bike("B1").await;
    let (status, page) = mechanic.send(&path, &with("label", "B1", "3")).await;
    assert_eq!(status, 422);
    assert!(page.contains("has the label B1 already") || page.contains("has this label"), "{page}");
}
