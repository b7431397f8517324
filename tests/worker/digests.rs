//! Digests as a manager, a mail server and a recipient meet them.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Mailbox, TestServer, TestStore, on_both_stores};

use crate::hooks::{ride, worn_bike};

on_both_stores!(
    a_digest_comes_once_a_period,
    what_is_not_taken_is_tried_again_and_given_up_when_refused,
    its_recipient_stops_it_without_signing_in,
    nothing_due_is_no_news_unless_asked_for,
    of_many_bikes_the_most_urgent_are_listed,
    without_a_mail_server_there_are_none,
    wrong_digests_are_refused,
);

async fn server(store: TestStore, mailbox: &Mailbox) -> TestServer {
    TestServer::start_with(store, |settings| {
        settings.smtp_url = Some(mailbox.url());
        settings.mail_from = Some("Bikes <wear@bikes.example>".into());
        settings.public_url = Some("https://wear.example".into());
    })
    .await
}

async fn digest(server: &TestServer, body: Value) -> String {
    server.post("/v1/digests", &body).await.expect(201).id()
}

fn daily() -> Value {
    json!({"address": "yard@bikes.example", "period": "daily", "hour": 7})
}

/// The digest, once `ready` likes it; waits for up to a minute.
async fn until(server: &TestServer, id: &str, ready: impl Fn(&Value) -> bool) -> Value {
    let mut last = Value::Null;
    for _ in 0..2_400 {
        last = server.get(&format!("/v1/digests/{id}")).await.expect(200).body;
        if ready(&last) {
            return last;
        }
        tokio::time::sleep(std::time::Duration::from_millis(25)).await;
    }
    panic!("the digest never came to that: {last}");
}

fn done_on(date: &'static str, outcome: &'static str) -> impl Fn(&Value) -> bool {
    move |digest| digest["last_on"] == date && digest["last_outcome"] == outcome
}

/// From noon of 25 November to just after seven of the next morning.
fn to_the_morning(server: &TestServer) {
    server.wait(Duration::hours(19) + Duration::minutes(1));
}

async fn a_digest_comes_once_a_period(store: TestStore) {
    let mailbox = Mailbox::start().await;
    let server = server(store, &mailbox).await;
    let bike = worn_bike(&server, "041 \"=?utf-8?q?x?=\" <b>").await;
    let made = server.post("/v1/digests", &daily()).await.expect(201);
    assert_eq!((&made.body["next_at"], made.header("etag")), (&json!("2026-11-26T07:00:00Z"), "\"1\""));
    let id = made.id();
    assert!(!made.body.to_string().contains("unsubscribe/"), "{}", made.body);
    to_the_morning(&server);
    let mail = mailbox.wait_for(1).await.remove(0);
    assert_eq!(mail.to, ["yard@bikes.example"]);
    assert_eq!(mail.header("From"), "Bikes <wear@bikes.example>");
    assert_eq!((mail.header("Subject"), mail.header("Content-Language")), ("Harbour: 1 bike due", "en"));
    assert_eq!(mail.header("Auto-Submitted"), "auto-generated");
    assert!(mail.header("Message-ID").ends_with(".2026-11-26@bikes.example>"), "{:?}", mail.headers);
    let (text, html) = (mail.text(), mail.html());
    for part in [
        "041 \"=?utf-8?q?x?=\" <b> (town-8s): already worn out",
        &format!("https://wear.example/bikes/{bike}"),
        "off traffic",
    ] {
        assert!(text.to_lowercase().contains(&part.to_lowercase()), "{part} in {text}");
    }
    assert!(html.contains("&#60;b&#62;") || html.contains("&lt;b&gt;"), "{html}");
    assert!(
        !html.contains("<b>") && html.contains(&format!("href=\"https://wear.example/bikes/{bike}\"")),
        "{html}"
    );
    let after = until(&server, &id, done_on("2026-11-26", "sent")).await;
    assert_eq!((&after["next_at"], &after["last_error"]), (&json!("2026-11-27T07:00:00Z"), &Value::Null));
    // The same day brings no second one, at another hour neither; the next day does.
    let change = server.request(Method::PATCH, &format!("/v1/digests/{id}")).header("if-match", "\"1\"");
    let change =
        change.bearer_auth(server.token_of(Role::Manager)).json(&json!({"hour": 9, "language": "de"}));
    let changed = server.send(change).await.expect(200).body;
    assert_eq!(changed["next_at"], "2026-11-27T09:00:00Z");
    server.wait(Duration::hours(23));
    assert_eq!(mailbox.taken().len(), 1);
    server.wait(Duration::hours(3));
    let second = mailbox.wait_for(2).await.remove(1);
    assert_eq!(second.header("Content-Language"), "de");
    assert!(second.text().contains("Diese E-Mails abbestellen"), "{}", second.text());
    assert_ne!(second.header("Message-ID"), mail.header("Message-ID"));
    until(&server, &id, done_on("2026-11-27", "sent")).await;
    // After a week without the service one message comes, that of the latest day.
    server.wait(Duration::days(7));
    mailbox.wait_for(3).await;
    until(&server, &id, done_on("2026-12-04", "sent")).await;
    assert_eq!(mailbox.offered(), 3);
}

async fn what_is_not_taken_is_tried_again_and_given_up_when_refused(store: TestStore) {
    let mailbox = Mailbox::start().await;
    let server = server(store, &mailbox).await;
    worn_bike(&server, "041").await;
    let id = digest(&server, daily()).await;
    mailbox.then("451 not now");
    to_the_morning(&server);
    let waiting = until(&server, &id, |digest| digest["last_error"].is_string()).await;
    assert!(waiting["last_error"].as_str().is_some_and(|why| why.contains("not now")), "{waiting}");
    assert_eq!((&waiting["last_on"], mailbox.taken().len()), (&Value::Null, 0));
    server.wait(Duration::seconds(10));
    let mail = mailbox.wait_for(1).await.remove(0);
    assert!(mail.header("Message-ID").contains(".2026-11-26@"), "{:?}", mail.headers);
    until(&server, &id, done_on("2026-11-26", "sent")).await;
    // Refused for good: the next period has its own.
    mailbox.then("550 no such mailbox");
    server.wait(Duration::days(1));
    let refused = until(&server, &id, done_on("2026-11-27", "given_up")).await;
    assert!(refused["last_error"].as_str().is_some_and(|why| why.contains("no such mailbox")), "{refused}");
    assert_eq!((&refused["next_at"], mailbox.offered()), (&json!("2026-11-28T07:00:00Z"), 3));
    server.wait(Duration::days(1));
    mailbox.wait_for(2).await;
    let sent = until(&server, &id, done_on("2026-11-28", "sent")).await;
    assert_eq!(sent["last_error"], Value::Null);
    // A test goes out beside the usual ones.
    server.post(&format!("/v1/digests/{id}/test"), &Value::Null).await.check(202);
    let test = mailbox.wait_for(3).await.remove(2);
    assert!(test.header("Message-ID").contains(".test."), "{:?}", test.headers);
    assert_eq!(until(&server, &id, |_| true).await["next_at"], sent["next_at"]);
}

async fn its_recipient_stops_it_without_signing_in(store: TestStore) {
    let mailbox = Mailbox::start().await;
    let server = server(store, &mailbox).await;
    worn_bike(&server, "041").await;
    let id = digest(&server, daily()).await;
    to_the_morning(&server);
    let mail = mailbox.wait_for(1).await.remove(0);
    assert_eq!(mail.header("List-Unsubscribe-Post"), "List-Unsubscribe=One-Click");
    let link = mail.header("List-Unsubscribe").trim_matches(['<', '>']).to_owned();
    let path = link.strip_prefix("https://wear.example").expect("an address of the service").to_owned();
    assert!(mail.text().contains(&link) && mail.html().contains(&link));
    until(&server, &id, done_on("2026-11-26", "sent")).await;
    // Looking doesn't stop it.
    let page = reqwest::get(format!("{}{path}", server.url())).await.expect("an answer");
    assert_eq!(page.status(), 200);
    let page = page.text().await.expect("a page");
    assert!(page.contains("yard@bikes.example") && page.contains(&format!("action=\"{path}\"")), "{page}");
    assert_eq!(until(&server, &id, |_| true).await["unsubscribed_at"], Value::Null);
    for _ in 0..2 {
        let click = server
            .request(Method::POST, &path)
            .header("content-type", "application/x-www-form-urlencoded")
            .body("List-Unsubscribe=One-Click");
        assert_eq!(click.send().await.expect("an answer").status(), 200);
    }
    let stopped = until(&server, &id, |digest| digest["unsubscribed_at"].is_string()).await;
    assert_eq!(stopped["next_at"], Value::Null);
    server.wait(Duration::days(2));
    server.settle().await;
    assert_eq!(mailbox.offered(), 1);
    let test = server.post(&format!("/v1/digests/{id}/test"), &Value::Null).await.expect(409);
    assert_eq!(test.problem(), "conflict");
    let other = format!("/unsubscribe/{}", "5".repeat(64));
    assert_eq!(server.request(Method::POST, &other).send().await.expect("an answer").status(), 404);
}

async fn nothing_due_is_no_news_unless_asked_for(store: TestStore) {
    let mailbox = Mailbox::start().await;
    let server = server(store, &mailbox).await;
    let silent = digest(&server, daily()).await;
    to_the_morning(&server);
    until(&server, &silent, done_on("2026-11-26", "nothing_due")).await;
    assert_eq!(mailbox.offered(), 0);
    let mut asked = daily();
    asked["when_nothing_due"] = json!(true);
    let asked = digest(&server, asked).await;
    server.wait(Duration::days(1));
    let mail = mailbox.wait_for(1).await.remove(0);
    assert_eq!(mail.header("Subject"), "Harbour: no bike due");
    until(&server, &asked, done_on("2026-11-27", "sent")).await;
    until(&server, &silent, done_on("2026-11-27", "nothing_due")).await;
    // Of a group that no bike belongs to, nothing is due either.
    worn_bike(&server, "041").await;
    let mut others =
        json!({"address": "hire@bikes.example", "period": "weekly", "weekday": "saturday", "hour": 7});
    others["groups"] = json!(["hire-9s"]);
    let others = digest(&server, others).await;
    server.wait(Duration::days(1));
    until(&server, &others, done_on("2026-11-28", "nothing_due")).await;
    until(&server, &silent, done_on("2026-11-28", "sent")).await;
    assert_eq!(until(&server, &others, |_| true).await["next_at"], "2026-12-05T07:00:00Z");
}

async fn of_many_bikes_the_most_urgent_are_listed(store: TestStore) {
    let mailbox = Mailbox::start().await;
    let server = server(store, &mailbox).await;
    for number in 0..60 {
        // Nobody knows how worn their chains are.
        let bike = json!({"label": format!("{number:03}"), "group": "town-8s", "use": "town", "drivetrain": {"speeds": 8}});
        server.post("/v1/bikes", &bike).await.check(201);
    }
    let worn = server.bike("worn").await;
    ride(&server, &worn, 50.0, 90).await;
    let reading = json!({"taken_at": server.now(), "instrument": "dial", "percent": 0.95});
    server.post(&format!("/v1/bikes/{worn}/readings"), &reading).await.check(201);
    server.settle().await;
    let id = digest(&server, daily()).await;
    to_the_morning(&server);
    let text = mailbox.wait_for(1).await.remove(0).text();
    until(&server, &id, done_on("2026-11-26", "sent")).await;
    let listed = text.lines().filter(|line| line.starts_with("- ")).collect::<Vec<_>>();
    assert_eq!(listed.len(), 50, "{text}");
    assert!(listed[0].starts_with("- worn (town-8s): "), "{text}");
    assert!(text.contains("And 11 more: https://wear.example/fleet"), "{text}");
}

async fn without_a_mail_server_there_are_none(store: TestStore) {
    let server = TestServer::start_with(store, |settings| {
        settings.smtp_url = None;
        settings.mail_from = None;
        settings.public_url = None;
    })
    .await;
    let refused = server.post("/v1/digests", &daily()).await.expect(409);
    assert_eq!(refused.problem(), "conflict");
    assert!(refused.body["detail"].as_str().is_some_and(|why| why.contains("smtp-url")), "{}", refused.body);
    assert_eq!(server.get("/v1/digests").await.expect(200).body["items"], json!([]));
}

async fn wrong_digests_are_refused(store: TestStore) {
    let mailbox = Mailbox::start().await;
    let server = server(store, &mailbox).await;
    let with = |field: &str, value: Value| {
        let mut body = daily();
        body[field] = value;
        body
    };
    for (body, pointer) in [
        (with("address", json!("yard@bikes.example\r\nBcc: b@b.example")), "/address"),
        (with("address", json!("Yard <yard@bikes.example>")), "/address"),
        (with("hour", json!(24)), "/hour"),
        (with("period", json!("hourly")), "/period"),
        (with("weekday", json!("monday")), "/weekday"),
        (with("period", json!("weekly")), "/weekday"),
        (with("language", json!("xx")), "/language"),
        (with("groups", json!([""])), "/groups/0"),
        (with("secret", json!("mine")), "/secret"),
    ] {
        let answer = server.post("/v1/digests", &body).await.expect(422);
        assert_eq!(answer.pointers(), [pointer], "{body}");
    }
    // Neither a label nor the workshop's name can hold what would end a header's line.
    let mut bike = wear_tests::bike("041\r\nBcc: b@b.example");
    bike["group"] = json!("town-8s");
    server.post("/v1/bikes", &bike).await.check(422);
    let id = digest(&server, daily()).await;
    let remove = |tag: &'static str| {
        let request = server.request(Method::DELETE, &format!("/v1/digests/{id}")).header("if-match", tag);
        server.send(request.bearer_auth(server.token_of(Role::Manager)))
    };
    remove("\"2\"").await.check(412);
    remove("\"1\"").await.check(204);
    server.get(&format!("/v1/digests/{id}")).await.check(404);
    to_the_morning(&server);
    server.settle().await;
    assert_eq!(mailbox.offered(), 0);
}
