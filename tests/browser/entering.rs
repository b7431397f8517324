//! Entering much at once: rides from files, bikes from a spreadsheet; and what a phone keeps.

use reqwest::StatusCode;
use reqwest::header::COOKIE;
use serde_json::json;
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::driver::{Browser, PHONE};
use crate::session::{client, csrf_of, fleet, session_of, sign_in};
use crate::yard::yard;

on_both_stores!(
    rides_come_from_several_files_at_once,
    a_spreadsheet_with_its_own_headings_is_imported,
    a_limit_is_taken_over_for_a_group,
);

struct Form(String);

impl Form {
    fn of(fields: &[(&str, &str)]) -> Self {
        let mut form = Self(String::new());
        for (name, text) in fields {
            form.0 +=
                &format!("--between\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{text}\r\n");
        }
        form
    }

    fn file(mut self, field: &str, name: &str, text: &str) -> Self {
        self.0 += &format!(
            "--between\r\nContent-Disposition: form-data; name=\"{field}\"; filename=\"{name}\"\r\n\r\n{text}\r\n"
        );
        self
    }

    async fn send(self, server: &TestServer, path: &str, cookie: &str) -> (StatusCode, String) {
        let request = client().post(format!("{}{path}", server.url())).header(COOKIE, cookie);
        let request = request.header("content-type", "multipart/form-data; boundary=between");
        let answer = request.body(self.0 + "--between--\r\n").send().await.expect("an answer");
        (answer.status(), answer.text().await.expect("a page").replace('\u{a0}', " "))
    }
}

/// A ride of some minutes due north, a point a minute.
fn gpx(day: u32, minutes: u32) -> String {
    let points: String = (0..=minutes)
        .map(|minute| {
            let north = 53.0 + 0.0025 * f64::from(minute);
            format!(
                "<trkpt lat=\"{north}\" lon=\"9.9\"><time>2026-11-{day:02}T08:{minute:02}:00Z</time></trkpt>"
            )
        })
        .collect();
    format!(
        "<gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>{points}</trkseg></trk></gpx>"
    )
}

async fn rides_come_from_several_files_at_once(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let cookie = session_of(&sign_in(&server, server.token_of(Role::Mechanic)).await);
    let csrf = csrf_of(&fleet(&server, &cookie).await.1);
    let request = client().get(format!("{}/rides/files?bike={bike}", server.url())).header(COOKIE, &cookie);
    let page = request.send().await.expect("an answer").text().await.expect("a page");
    assert!(page.contains("value=\"041\"") && page.contains("multiple"), "{page}");
    let form = || Form::of(&[("csrf", &csrf), ("bike", "041"), ("surface", "gravel"), ("wet", "yes")]);
    let three = form().file("files", "mon.gpx", &gpx(2, 20)).file("files", "tue.gpx", &gpx(3, 30));
    let (status, page) =
        three.file("files", "notes.txt", "bread, milk").send(&server, "/rides/files", &cookie).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("2 files were taken for 041") && page.matches("New ride").count() == 2, "{page}");
    assert!(
        page.contains("notes.txt") && page.contains("<strong>is neither GPX nor FIT. Allowed: "),
        "what isn't taken is told by file: {page}"
    );
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    let rides = rides["items"].as_array().expect("rides").clone();
    assert_eq!(rides.len(), 2);
    assert!(rides.iter().all(|ride| ride["surface"] == "gravel" && ride["wet"] == true), "{rides:?}");
    // The same file again is the same ride.
    let again = form().file("files", "copy of mon.gpx", &gpx(2, 20));
    let (_, page) = again.send(&server, "/rides/files", &cookie).await;
    assert!(page.contains("Known already"), "{page}");
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    assert_eq!(rides["items"].as_array().map(Vec::len), Some(2));
    let elsewhere = Form::of(&[("csrf", &csrf), ("bike", "999")]).file("files", "mon.gpx", &gpx(2, 20));
    let (status, page) = elsewhere.send(&server, "/rides/files", &cookie).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("No bike in the fleet is called “999”"), "{page}");
    let (status, _) =
        Form::of(&[("csrf", &csrf), ("bike", "041")]).send(&server, "/rides/files", &cookie).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "no file");
    let forged = Form::of(&[("csrf", "guess"), ("bike", "041")]).file("files", "mon.gpx", &gpx(4, 20));
    assert_eq!(forged.send(&server, "/rides/files", &cookie).await.0, StatusCode::FORBIDDEN);
}

async fn a_spreadsheet_with_its_own_headings_is_imported(store: TestStore) {
    let server = TestServer::start(store).await;
    let cookie = session_of(&sign_in(&server, server.token_of(Role::Manager)).await);
    let csrf = csrf_of(&fleet(&server, &cookie).await.1);
    let check = async |kind: &str, table: &str| {
        let form = Form::of(&[("csrf", &csrf), ("kind", kind)]).file("file", "table.csv", table);
        form.send(&server, "/settings/tables/check", &cookie).await
    };
    let import = async |kind: &str, page: &str| {
        let table = page.split("name=\"table\" value=\"").nth(1).and_then(|rest| rest.split('"').next());
        let form = Form::of(&[("csrf", &csrf), ("kind", kind), ("table", table.expect("a table"))]);
        form.send(&server, "/settings/tables/import", &cookie).await
    };
    // 200 bikes as a spreadsheet has them.
    let mut table = "Bike no.;Group;Gears;Chain fitted on\n".to_owned();
    for number in 1..=200 {
        table += &format!("{number:03};town;8;1.9.2026\n");
    }
    let (status, page) = check("bikes", &table).await;
    assert_eq!(status, StatusCode::OK, "{page}");
    assert!(page.contains("200 would be new"), "{page}");
    let (_, page) = import("bikes", &page).await;
    assert!(page.contains("200"), "{page}");
    // Readings with the day alone.
    let (_, page) = check("readings", "Bike,Date,Measured with,Wear (%)\n001,2026-11-02,rule,0.31\n").await;
    assert!(page.contains("1 would be new"), "{page}");
    let _done = import("readings", &page).await;
    let bikes = server.get("/v1/bikes?search=001").await.expect(200).body;
    let bike = bikes["items"][0]["id"].as_str().expect("an id").to_owned();
    assert_eq!(bikes["items"][0]["start"]["state"], "new");
    let readings = server.get(&format!("/v1/bikes/{bike}/readings")).await.expect(200).body;
    assert_eq!(readings["items"][0]["percent"], json!(0.31), "{readings}");
    assert!(readings["items"][0]["taken_at"].as_str().is_some_and(|at| at.starts_with("2026-11-02T")));
    // What could be read in two ways is asked again.
    let (status, page) =
        check("readings", "Bike,Date,Measured with,Wear (%)\n001,3/4/2026,rule,0.31\n").await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("3/4/2026"), "{page}");
    let (status, page) = check("bikes", "Bike no.,Colour\n201,red\n").await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("colour"), "{page}");
    // The template goes in as it comes out, but for its labels.
    for language in ["en", "de"] {
        let request = client().get(format!("{}/settings/tables/template/bikes.csv", server.url()));
        let request = request.header(COOKIE, format!("{cookie}; wear_language={language}"));
        let template = request.send().await.expect("an answer").text().await.expect("a table");
        let (status, page) = check("bikes", &template.replace("04", language)).await;
        assert_eq!(status, StatusCode::OK, "{template}");
        assert!(page.contains("2 would be new"), "{page}");
    }
}

async fn a_limit_is_taken_over_for_a_group(store: TestStore) {
    let server = TestServer::start(store).await;
    let (one, two) = (server.bike("041").await, server.bike("042").await);
    let cookie = session_of(&sign_in(&server, server.token_of(Role::Manager)).await);
    let csrf = csrf_of(&fleet(&server, &cookie).await.1);
    let get = async || {
        let request = client().get(format!("{}/policy", server.url())).header(COOKIE, &cookie);
        request.send().await.expect("an answer").text().await.expect("a page").replace('\u{a0}', " ")
    };
    let page = get().await;
    for limit in ["0.50 %", "0.75 %", "1.00 %"] {
        assert!(page.contains(&format!("Chains off at {limit}")), "{limit} is compared: {page}");
    }
    assert!(
        page.contains("name=\"limit\" value=\"0.50\"") && !page.contains("name=\"limit\" value=\"1.00\"")
    );
    amounts_add_up(&page);
    let post = async |body: String| {
        let request = client().post(format!("{}/policy/adopt", server.url())).header(COOKIE, &cookie);
        let request = request.header("content-type", "application/x-www-form-urlencoded").body(body);
        request.send().await.expect("an answer")
    };
    for wrong in ["group=town-8s&limit=9", "group=town-8s&limit=much", "group=&limit=0.5"] {
        assert_eq!(post(format!("csrf={csrf}&{wrong}")).await.status(), StatusCode::BAD_REQUEST, "{wrong}");
    }
    assert_eq!(post(format!("csrf={csrf}&group=none&limit=0.5")).await.status(), StatusCode::NOT_FOUND);
    let taken = post(format!("csrf={csrf}&group=town-8s&limit=0.50")).await;
    assert_eq!(taken.status(), StatusCode::SEE_OTHER);
    assert!(taken.headers()["location"].to_str().expect("ASCII").contains("adopted=0.5&bikes=2"));
    for bike in [&one, &two] {
        let outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
        assert_eq!(outlook["limit_percent"], json!(0.5));
    }
    assert!(get().await.contains("Chains off at 0.50 %, the"), "it is the one in use at once");
}

/// Differences are those between the amounts that are shown, and causes come to their total.
fn amounts_add_up(page: &str) {
    let cents = |text: &str| -> i64 {
        let digits: String = text.chars().filter(char::is_ascii_digit).collect();
        digits.parse().unwrap_or_default()
    };
    let options = page.split("id=\"others\"").nth(1).and_then(|rest| rest.split("</table>").next());
    let rows: Vec<Vec<String>> = options
        .expect("a table")
        .split("<tr>")
        .skip(2)
        .map(|row| {
            let cells = row.split("<td class=\"amount\"").skip(1);
            cells.map(|cell| cell.split(['>', '<']).nth(1).unwrap_or_default().to_owned()).collect()
        })
        .collect();
    let best = rows.iter().find(|row| row[1].is_empty()).map(|row| cents(&row[0])).expect("the best");
    for row in rows.iter().filter(|row| !row[1].is_empty()) {
        let more = if row[1].contains("less") { -cents(&row[1]) } else { cents(&row[1]) };
        assert_eq!(cents(&row[0]) - best, more, "{row:?}");
    }
    let causes = page.split("id=\"where\"").nth(1).and_then(|rest| rest.split("</table>").next());
    let amounts: Vec<i64> = causes
        .expect("a table")
        .split("<td class=\"amount\">")
        .skip(1)
        .map(|cell| cents(cell.split('<').next().unwrap_or_default()))
        .collect();
    let (total, parts) = amounts.split_last().expect("a total");
    assert_eq!(parts.iter().sum::<i64>(), *total, "{amounts:?}");
    assert_eq!(*total, best, "the headline and the causes are of the same cost");
}

#[tokio::test]
async fn what_was_looked_at_opens_without_a_connection() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    let ready = "const done = arguments[arguments.length - 1]; const began = Date.now(); const look = () =>
        navigator.serviceWorker.controller || Date.now() - began > 9000
            ? setTimeout(() => done(!!navigator.serviceWorker.controller), 300) : setTimeout(look, 50); look();";
    browser.open("/fleet").await;
    assert_eq!(browser.run_async(ready).await, json!(true), "the pages are looked after");
    let measure = format!("/bikes/{}/measure", yard.fresh);
    for path in ["/fleet", &measure] {
        browser.open(path).await;
    }
    let _still = browser.run_async(ready).await;
    server.stop().await;
    browser.open(&measure).await;
    browser.says("#old", "No connection").await;
    // What is entered there waits on the device.
    browser.tap("#way-drop_in summary").await;
    browser.tap("#way-drop_in button[value=\"0.5 out\"]").await;
    browser.says("#queue", "1 kept").await;
    browser.open("/fleet").await;
    browser.says("#old", "No connection").await;
    browser.says("main", "043").await;
    browser.open("/bench").await;
    browser.says("h1", "No connection").await;
}

#[tokio::test]
async fn a_first_day_of_twenty_bikes() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Manager).await;
    browser.open("/fleet").await;
    browser.says("main", "Name your kinds of bike").await;
    let request = server.request(reqwest::Method::POST, "/v1/bike-kinds");
    let kind = json!({"name": "town", "drivetrain": {"speeds": 8}});
    let kind =
        server.send(request.bearer_auth(server.token_of(Role::Manager)).json(&kind)).await.expect(201).id();
    browser.taps();
    let began = std::time::Instant::now();
    browser.open(&format!("/bikes/new?kind={kind}")).await;
    for number in 1..=20 {
        browser.type_into("#label", &format!("{number:03}")).await;
        browser.tap("button[name=next]").await;
        browser.says(".kept", &format!("{number:03} is entered")).await;
    }
    let (taps, seconds) = (browser.taps(), began.elapsed().as_secs_f64());
    println!("20 bikes of a kind: {taps} taps, {seconds:.1} s");
    let bikes = server.get("/v1/bikes?limit=100").await.expect(200).body;
    let bikes = bikes["items"].as_array().expect("bikes").clone();
    assert!(bikes.len() == 20 && bikes.iter().all(|bike| bike["kind_id"] == json!(kind)), "{bikes:?}");
}

#[tokio::test]
async fn a_phone_can_put_the_pages_on_its_first_screen() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let get = async |path: &str| {
        let answer = client().get(format!("{}{path}", server.url())).send().await.expect("an answer");
        let kind = answer.headers()["content-type"].to_str().expect("ASCII").to_owned();
        (answer.status(), kind, answer.bytes().await.expect("a body"))
    };
    let (status, kind, manifest) = get("/manifest.webmanifest").await;
    assert_eq!((status, kind.as_str()), (StatusCode::OK, "application/manifest+json"));
    let manifest: serde_json::Value = serde_json::from_slice(&manifest).expect("JSON");
    assert_eq!((&manifest["start_url"], &manifest["display"]), (&json!("/fleet"), &json!("standalone")));
    for icon in manifest["icons"].as_array().expect("icons") {
        let (status, kind, picture) = get(icon["src"].as_str().expect("an address")).await;
        assert_eq!((status, kind.as_str()), (StatusCode::OK, "image/png"));
        // The width stands in the PNG's header (ISO/IEC 15948, 11.2.2 IHDR).
        let width = u32::from_be_bytes(picture[16..20].try_into().expect("four bytes"));
        assert_eq!(icon["sizes"], json!(format!("{width}x{width}")));
    }
    assert_eq!(get("/static/icon-64.png").await.0, StatusCode::NOT_FOUND);
}
