//! Forms with files that aren't as a page of ours sends them.

use reqwest::StatusCode;
use reqwest::header::COOKIE;
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::session::{client, csrf_of, fleet, session_of, sign_in};

on_both_stores!(only_our_own_forms_with_files_are_taken);

const RIDES: &str = "bike,started_at,distance_km\n041,2026-03-01T08:00:00Z,18.4\n";

fn form(fields: &[(&str, &str)]) -> String {
    let mut body = String::new();
    for (name, text) in fields {
        let file = if *name == "file" { "; filename=\"rides.csv\"\r\nContent-Type: text/csv" } else { "" };
        body +=
            &format!("--between\r\nContent-Disposition: form-data; name=\"{name}\"{file}\r\n\r\n{text}\r\n");
    }
    body + "--between--\r\n"
}

async fn only_our_own_forms_with_files_are_taken(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let cookie = session_of(&sign_in(&server, server.token_of(Role::Manager)).await);
    let csrf = csrf_of(&fleet(&server, &cookie).await.1);
    let send = async |path: &str, cookie: &str, body: String, site: &str| {
        let request =
            client().post(format!("{}/settings/tables/{path}", server.url())).header(COOKIE, cookie);
        let request = request.header("content-type", "multipart/form-data; boundary=between").body(body);
        let answer = request.header("sec-fetch-site", site).send().await.expect("an answer");
        (answer.status(), answer.text().await.expect("a page"))
    };
    let own = "same-origin";
    let good = form(&[("csrf", &csrf), ("kind", "rides"), ("file", RIDES)]);
    let (status, page) = send("check", &cookie, good.clone(), own).await;
    assert_eq!(status, StatusCode::OK, "{page}");
    assert!(page.contains("1 would be new"), "{page}");
    let guessed = form(&[("csrf", "guess"), ("kind", "rides"), ("file", RIDES)]);
    let late = form(&[("kind", "rides"), ("file", RIDES), ("csrf", &csrf)]);
    for forged in [guessed, late, form(&[])] {
        assert_eq!(send("check", &cookie, forged, own).await.0, StatusCode::FORBIDDEN);
    }
    assert_eq!(send("check", &cookie, good.clone(), "cross-site").await.0, StatusCode::FORBIDDEN);
    for wrong in [
        form(&[("csrf", &csrf), ("kind", "tokens"), ("file", RIDES)]),
        form(&[("csrf", &csrf), ("kind", "rides"), ("file", RIDES)]).replace("--between--", "--bet"),
    ] {
        assert_eq!(send("check", &cookie, wrong, own).await.0, StatusCode::BAD_REQUEST);
    }
    let garbled = form(&[("csrf", &csrf), ("kind", "rides"), ("table", "no base64 at all!")]);
    assert_eq!(send("import", &cookie, garbled, own).await.0, StatusCode::BAD_REQUEST);
    let large = RIDES.repeat(5_000_000 / RIDES.len());
    let large = form(&[("csrf", &csrf), ("kind", "rides"), ("file", &large)]);
    let (status, page) = send("check", &cookie, large, own).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("larger than 4 MiB"), "{page}");
    let mechanic = session_of(&sign_in(&server, server.token_of(Role::Mechanic)).await);
    let theirs = csrf_of(&fleet(&server, &mechanic).await.1);
    let theirs = form(&[("csrf", &theirs), ("kind", "rides"), ("file", RIDES)]);
    assert_eq!(send("check", &mechanic, theirs, own).await.0, StatusCode::FORBIDDEN);
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    assert_eq!(rides["items"], serde_json::json!([]));
}
