//! The pages of the workshop's tools, and the tool of a reading that a page enters.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    a_tool_is_named_renamed_retired_and_taken_back,
    a_reading_names_the_tool_that_was_chosen,
    a_tool_that_is_refused_is_named_as_the_reason,
    a_swaps_reading_names_its_tool,
);

async fn tools(server: &TestServer) -> Vec<Value> {
    server.get("/v1/tools").await.expect(200).body["items"].as_array().expect("items").clone()
}

async fn tool(server: &TestServer, name: &str, instrument: &str) -> String {
    server.post("/v1/tools", &json!({"name": name, "instrument": instrument})).await.expect(201).id()
}

async fn latest(server: &TestServer, bike: &str) -> Value {
    server.get(&format!("/v1/bikes/{bike}/readings")).await.expect(200).body["items"][0].clone()
}

async fn a_tool_is_named_renamed_retired_and_taken_back(store: TestStore) {
    let server = TestServer::start(store).await;
    let (mechanic, german) =
        (Visitor::of(&server, Role::Mechanic, "en").await, Visitor::of(&server, Role::Mechanic, "de").await);
    assert!(mechanic.get("/tools").await.1.contains("No tool has a name yet"));
    assert!(german.get("/tools").await.1.contains("Noch kein Werkzeug hat einen Namen"));
    let (status, page) = mechanic.send("/tools", &[("name", " "), ("instrument", "dial")]).await;
    assert!(status == 422 && page.contains("Write something: label."), "{page}");
    assert!(page.contains("value=\"dial\" selected"), "what was chosen stays");
    assert_eq!(mechanic.send("/tools", &[("name", "bench rule"), ("instrument", "rule")]).await.0, 303);
    let (status, page) = german.send("/tools", &[("name", "Bench Rule"), ("instrument", "dial")]).await;
    assert!(status == 422 && page.contains("Ein Werkzeug mit diesem Namen gibt es schon."), "{page}");

    let id = tools(&server).await[0]["id"].as_str().expect("an id").to_owned();
    let path = format!("/tools/{id}");
    let page = mechanic.get(&path).await.1;
    assert!(page.contains("Tool: bench rule") && page.contains("value=\"bench rule\""), "{page}");
    let rename = [("revision", "1"), ("name", "long rule"), ("act", "rename")];
    assert_eq!(mechanic.send(&path, &rename).await.0, 303);
    assert_eq!(mechanic.send(&path, &rename).await.0, 409, "someone else's change is not overwritten");
    assert_eq!(mechanic.send(&path, &[("revision", "2"), ("act", "retire")]).await.0, 303);
    assert!(tools(&server).await[0]["retired_at"].is_string());
    let page = german.get("/tools").await.1;
    assert!(page.contains("long rule") && page.contains("ausgemustert am"), "{page}");
    // The name is taken by then; the tool comes back under another.
    let _other = tool(&server, "long rule", "rule").await;
    let back = [("revision", "3"), ("name", "long rule"), ("act", "back")];
    let (status, page) = mechanic.send(&path, &back).await;
    assert!(status == 422 && page.contains("There is a tool in use with this name already."), "{page}");
    let back = [("revision", "3"), ("name", "old rule"), ("act", "back")];
    assert_eq!(mechanic.send(&path, &back).await.0, 303);
    let known = tools(&server).await[0].clone();
    assert_eq!((&known["name"], &known["retired_at"]), (&json!("old rule"), &Value::Null));
    assert_eq!(mechanic.get("/tools/019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10").await.0, 404);
}

async fn a_reading_names_the_tool_that_was_chosen(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let path = format!("/bikes/{bike}/measure");
    let mut mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    assert!(!mechanic.get(&path).await.1.contains("name=\"tool\""), "nothing to choose from");
    let rule = tool(&server, "bench rule", "rule").await;
    let dial = tool(&server, "dial 1", "dial").await;
    let page = mechanic.get(&path).await.1;
    let of_way = |page: &str, way: &str| {
        let form = page.split(&format!("id=\"way-{way}\"")).nth(1).expect("the way").to_owned();
        form.split("</form>").next().expect("a form").to_owned()
    };
    for (way, offered) in [("rule_mm", true), ("rule_percent", true), ("dial", false), ("drop_in", false)] {
        assert_eq!(of_way(&page, way).contains(&rule), offered, "{way}");
    }
    assert!(!page.contains(" selected"), "nothing is chosen beforehand");
    let read = |way: &'static str, value: &'static str, tool: String| {
        vec![("way", way.to_owned()), ("value", value.to_owned()), ("tool", tool)]
    };
    for (way, value, id) in [("rule_percent", "0,21", &rule), ("dial", "0,22", &dial)] {
        mechanic.tap(&path, &read(way, value, id.clone())).await;
        assert_eq!(latest(&server, &bike).await["tool_id"], json!(id));
    }
    // Either is remembered by the device that it was chosen on, for its own instrument.
    let page = mechanic.get(&path).await.1;
    for (way, id) in [("rule_mm", &rule), ("dial", &dial)] {
        assert!(of_way(&page, way).contains(&format!("value=\"{id}\" selected")), "{way}: {page}");
    }
    mechanic.tap(&path, &read("dial", "0,23", String::new())).await;
    assert_eq!(latest(&server, &bike).await["tool_id"], Value::Null);
    let page = mechanic.get(&path).await.1;
    assert!(of_way(&page, "rule_mm").contains(" selected") && !of_way(&page, "dial").contains(" selected"));
    let other = Visitor::of(&server, Role::Mechanic, "en").await;
    assert!(!other.get(&path).await.1.contains(" selected"), "another device knows nothing of it");
}

async fn a_tool_that_is_refused_is_named_as_the_reason(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let path = format!("/bikes/{bike}/measure");
    let dial = tool(&server, "dial 1", "dial").await;
    let rule = tool(&server, "bench rule", "rule").await;
    let (english, german) =
        (Visitor::of(&server, Role::Mechanic, "en").await, Visitor::of(&server, Role::Mechanic, "de").await);
    let read = |tool: &str| {
        vec![("way", "rule_percent"), ("value", "0,21"), ("tool", tool)]
            .into_iter()
            .map(|(name, value)| (name, value.to_owned()))
            .collect::<Vec<_>>()
    };
    let send = async |visitor: &Visitor<'_>, tool: &str| {
        let fields = read(tool);
        let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
        visitor.send(&path, &fields).await
    };
    for (visitor, tool, says) in [
        (&english, dial.as_str(), "the tool and the instrument don&#39;t go together"),
        (&german, dial.as_str(), "das Werkzeug und das Messmittel"),
        (&english, "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", "This workshop has no such thing: tool."),
        (&english, "the long one", "This workshop has no such thing: tool."),
    ] {
        let (status, page) = send(visitor, tool).await;
        assert!(status == 422 && page.contains(says), "{says}: {page}");
        assert!(page.contains("value=\"0,21\""), "what was typed stays: {page}");
    }
    let retire = [("revision", "1"), ("act", "retire")];
    assert_eq!(english.send(&format!("/tools/{rule}"), &retire).await.0, 303);
    let (status, page) = send(&english, &rule).await;
    assert!(status == 422 && page.contains("is too late: the tool was retired on"), "{page}");
    assert!(!page.contains("No chain was on this bike"), "{page}");
    assert_eq!(latest(&server, &bike).await, Value::Null);
}

async fn a_swaps_reading_names_its_tool(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let dial = tool(&server, "dial 1", "dial").await;
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    let path = format!("/bikes/{bike}/swap?of=chain");
    let chosen = format!("dial {dial}");
    let page = mechanic.get(&path).await.1;
    assert!(page.contains(&format!("value=\"{chosen}\">dial 1 (dial gauge)")), "{page}");
    let mixed = format!("rule {dial}");
    let swap = |with| [("place", "chain 0"), ("percent", "0,74"), ("instrument", with)];
    let (status, page) = mechanic.send(&path, &swap(&mixed)).await;
    assert!(status == 422 && page.contains("the tool and the instrument don&#39;t go together"), "{page}");
    assert_eq!(mechanic.send(&path, &swap(&chosen)).await.0, 303);
    let reading = latest(&server, &bike).await;
    assert_eq!((&reading["tool_id"], &reading["instrument"]), (&json!(dial), &json!("dial")));
}
