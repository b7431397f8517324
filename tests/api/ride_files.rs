//! Rides as files: what is read, what is stored, what is refused and where.

use std::io::Write as _;

use flate2::Compression;
use flate2::write::GzEncoder;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

use crate::fit_bytes::{EPOCH, Field, byte, file, long, semicircles, short, signed, word};

on_both_stores!(
    a_gpx_file_is_one_ride_however_often_it_comes,
    a_fit_file_with_power_is_measured_work,
    a_trainers_file_has_no_place_and_is_a_ride,
    points_without_a_time_count_and_are_named,
    a_file_without_times_needs_a_day,
    what_makes_no_ride_is_named_with_its_place,
    what_is_wrong_in_the_request_is_named,
    sizes_are_bounded,
);

const GPX: &str = "application/gpx+xml";
const FIT: &str = "application/vnd.ant.fit";

/// 2026-03-01T08:00:00Z
const START: i64 = 1_772_352_000;

fn time(second: i64) -> String {
    let at = chrono::DateTime::from_timestamp(START + second, 0).expect("a time");
    at.format("%Y-%m-%dT%H:%M:%SZ").to_string()
}

fn gpx(points: impl IntoIterator<Item = String>) -> String {
    let points: String = points.into_iter().collect();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"test\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\">\n<metadata><name>Over the hill &amp; back</name></metadata>\n\
         <trk><name>Hill</name><trkseg>\n{points}</trkseg></trk></gpx>"
    )
}

fn point(latitude: f64, second: i64, elevation: f64) -> String {
    let time = time(second);
    format!("<trkpt lat=\"{latitude:.6}\" lon=\"8\"><ele>{elevation:.1}</ele><time>{time}</time></trkpt>\n")
}

/// Half an hour north at 5 m/s, up 90 m and down again.
fn hill() -> String {
    gpx((0..=1800).map(|second| {
        let share = second as f64 / 1800.0;
        let height = 400.0 + 45.0 * (1.0 - (share * std::f64::consts::TAU).cos());
        point(47.0 + 9_000.0 * share / 111_173.0, second, height)
    }))
}

fn gzipped(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::default());
    encoder.write_all(bytes).expect("memory");
    encoder.finish().expect("memory")
}

async fn send(server: &TestServer, query: &str, media: &str, body: impl Into<reqwest::Body>) -> Answer {
    let request = server.request(Method::POST, &format!("/v1/ride-files?{query}"));
    server
        .send(request.bearer_auth(server.token_of(Role::App)).header("content-type", media).body(body))
        .await
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn codes(answer: &Answer) -> Vec<&str> {
    let warnings = answer.body["file"]["warnings"].as_array().expect("warnings");
    warnings.iter().filter_map(|warning| warning["code"].as_str()).collect()
}

async fn a_gpx_file_is_one_ride_however_often_it_comes(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let query = format!("bike_id={bike}&wet=true");
    let new = send(&server, &query, GPX, hill()).await.expect(201);
    let (ride, read) = (&new.body["ride"], &new.body["file"]);
    assert_eq!(
        new.header("location"),
        format!("/v1/bikes/{bike}/rides/{}", ride["id"].as_str().expect("an id"))
    );
    assert_eq!(
        (&read["format"], &read["points"], &read["points_used"]),
        (&json!("gpx"), &json!(1801), &json!(1801))
    );
    assert!((number(&read["distance_km"]) - 9.0).abs() < 0.01, "{read}");
    assert_eq!((number(&read["moving_seconds"]), number(&read["elapsed_seconds"])), (1800.0, 1800.0));
    let climb = &read["climb_m"];
    let band = [&climb["low"], &climb["likely"], &climb["high"]].map(number);
    assert!(band[0] <= band[1] && band[1] <= band[2] && (band[1] - 90.0).abs() < 2.0, "{climb}");
    let energy = &read["energy"];
    assert_eq!(energy["source"], "road_power");
    assert!(
        number(&energy["low_kj"]) < number(&energy["kj"])
            && number(&energy["kj"]) < number(&energy["high_kj"])
    );
    assert!((80.0..300.0).contains(&number(&energy["kj"])), "{energy}");
    assert_eq!(read["warnings"], json!([]));
    assert_eq!(
        (&ride["source"], &ride["surface"], &ride["wet"], &ride["started_at"], &ride["energy_kj"]),
        (&json!("file"), &json!("paved"), &json!(true), &json!("2026-03-01T08:00:00Z"), &Value::Null)
    );
    assert_eq!(ride["climb_m"], json!((band[1] * 1e3).round() / 1e3));

    let again = send(&server, &query, GPX, hill()).await.expect(200);
    let zipped = send(&server, &query, "application/gzip", gzipped(hill().as_bytes())).await.expect(200);
    let request = server.request(Method::POST, &format!("/v1/ride-files?{query}"));
    let request = request.bearer_auth(server.token_of(Role::Mechanic)).header("content-type", GPX);
    let encoded = request.header("content-encoding", "gzip").body(gzipped(hill().as_bytes()));
    let encoded = server.send(encoded).await.expect(200);
    for same in [again, zipped, encoded] {
        assert_eq!(same.body["ride"], new.body["ride"]);
    }
    let corrected = send(&server, &format!("bike_id={bike}&surface=gravel"), GPX, hill()).await.expect(200);
    assert_eq!(
        (&corrected.body["ride"]["id"], &corrected.body["ride"]["revision"]),
        (&ride["id"], &json!(2))
    );
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    assert_eq!(rides["items"].as_array().map(Vec::len), Some(1));
    let outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    assert!((number(&outlook["basis"]["distance_km"]) - 9.0).abs() < 0.01, "{outlook}");

    let other = server.bike("042").await;
    // Of another bike it is another ride: nothing is moved that nobody asks to be.
    let elsewhere = send(&server, &format!("bike_id={other}"), GPX, hill()).await.expect(201);
    assert_eq!(elsewhere.body["ride"]["bike_id"], json!(other));
    assert_ne!(elsewhere.body["ride"]["id"], ride["id"]);
    let kept = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    assert_eq!(kept["items"][0]["id"], ride["id"]);
}

/// Messages of a ride north at 6 m/s with 200 W at 80 turns a minute, a stop of a minute in the middle.
fn ridden(seconds: u32, sport: u8, sub_sport: u8, placed: bool) -> Vec<(u16, Vec<Field>)> {
    let start = START as u32 - EPOCH;
    let mut messages = vec![(0, vec![word(0, 4)]), (21, vec![long(253, start), word(0, 0), word(1, 0)])];
    for second in 0..=seconds {
        let late = if second > seconds / 2 { 60 } else { 0 };
        if second == seconds / 2 + 1 {
            messages.push((21, vec![long(253, start + second), word(0, 0), word(1, 4)]));
        }
        let metres = 6.0 * f64::from(second);
        let mut record = vec![
            long(253, start + second + late),
            short(7, 200),
            byte(4, 80),
            long(5, (metres * 100.0) as u32),
            short(6, 6_000),
            short(2, ((450.0 + 500.0) * 5.0) as u16 + u16::from(second % 7 == 0)),
        ];
        if placed {
            record.push(signed(0, semicircles(47.0 + metres / 111_173.0)));
            record.push(signed(1, semicircles(8.0)));
        }
        messages.push((20, record));
    }
    let session = vec![long(253, start + seconds + 60), word(5, sport), word(6, sub_sport)];
    messages.push((18, session));
    messages
}

async fn a_fit_file_with_power_is_measured_work(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let bytes = file(&ridden(1200, 2, 0, true));
    let new = send(&server, &format!("bike_id={bike}"), FIT, bytes.clone()).await.expect(201);
    let (ride, read) = (&new.body["ride"], &new.body["file"]);
    assert_eq!(
        (&read["format"], &read["points"], &read["distance_source"]),
        (&json!("fit"), &json!(1201), &json!("counted"))
    );
    assert_eq!((number(&read["elapsed_seconds"]), number(&read["moving_seconds"])), (1260.0, 1199.0));
    assert!((number(&ride["distance_km"]) - 7.194).abs() < 1e-6, "{ride}");
    // 1,199 of 1,200 seconds at 200 W: the second over the pause is not one.
    assert!((number(&ride["energy_kj"]) - 239.8).abs() < 1e-6, "{ride}");
    assert_eq!((&read["energy"]["source"], &read["pedalling_share"]), (&json!("measured"), &json!(1.0)));
    assert_eq!(ride["started_at"], "2026-03-01T08:00:00Z");
    assert_eq!(codes(&new), Vec::<&str>::new());
    // Told by content, not by what the sender calls it.
    let _same =
        send(&server, &format!("bike_id={bike}"), "application/octet-stream", bytes).await.expect(200);
    let outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    assert_eq!(outlook["basis"]["energy_source_percent"]["measured"], json!(100.0), "{}", outlook["basis"]);
}

async fn a_trainers_file_has_no_place_and_is_a_ride(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let new =
        send(&server, &format!("bike_id={bike}"), FIT, file(&ridden(600, 2, 6, false))).await.expect(201);
    assert_eq!(
        (&new.body["ride"]["surface"], &new.body["file"]["climb_m"]),
        (&json!("indoor"), &Value::Null)
    );
    assert!((number(&new.body["ride"]["energy_kj"]) - 119.8).abs() < 1e-6, "{}", new.body);
    let gravel = format!("bike_id={bike}&surface=gravel");
    let outside = send(&server, &gravel, FIT, file(&ridden(600, 2, 6, false))).await.expect(200);
    assert_eq!(outside.body["ride"]["surface"], "gravel");
}

/// 14.9 km in 871 points; those from `from` to before `to` have times.
fn long_ride(from: usize, to: usize) -> String {
    let step = |i: usize| if (180..692).contains(&i) { 6_100.0 / 512.0 } else { 8_800.0 / 358.0 };
    let mut metres = 0.0;
    gpx((0..871).map(|i| {
        let here: f64 = metres;
        metres += step(i);
        let point = point(47.0 + here / 111_173.0, (here / 5.0) as i64, 400.0);
        if (from..to).contains(&i) { point } else { without_time(&point) }
    }))
}

fn without_time(point: &str) -> String {
    let (before, rest) = point.split_once("<time>").expect("a time");
    format!("{before}{}", rest.split_once("</time>").expect("a time").1)
}

fn unknown(answer: &Answer) -> Vec<&str> {
    let unknown = answer.body["file"]["unknown"].as_array().expect("a list");
    unknown.iter().filter_map(|one| one["code"].as_str()).collect()
}

async fn points_without_a_time_count_and_are_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let new = send(&server, &format!("bike_id={bike}"), GPX, long_ride(180, 693)).await.expect(201);
    let read = &new.body["file"];
    println!("513 of 871 points with times: {read}");
    assert_eq!((&read["points"], &read["points_used"]), (&json!(871), &json!(871)));
    assert!((number(&read["distance_km"]) - 14.9).abs() < 0.03, "{read}");
    assert!((number(&read["untimed_km"]) - 8.8).abs() < 0.03, "{read}");
    assert!((number(&read["moving_seconds"]) - 1_220.0).abs() < 10.0, "{read}");
    assert!(codes(&new).contains(&"points_without_time"), "{read}");
    assert_eq!(unknown(&new), ["power"]);
    assert_eq!(
        new.body["ride"]["distance_km"],
        read["distance_km"].as_f64().map(|km| json!((km * 1e6).round() / 1e6)).unwrap_or_default()
    );
}

async fn a_file_without_times_needs_a_day(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let plan = changed(&long_ride(0, 0), " version=\"1.1\"", "");
    let query = format!("bike_id={bike}");
    let refused = send(&server, &query, GPX, plan.clone()).await.expect(400);
    let error = &refused.body["errors"][0];
    assert_eq!((&error["parameter"], &error["message"]), (&json!("ridden_on"), &json!("is missing")));
    assert!(error["allowed"].as_str().is_some_and(|text| text.contains("YYYY-MM-DD")), "{error}");
    let tomorrow = send(&server, &format!("{query}&ridden_on=2026-11-27"), GPX, plan.clone()).await;
    assert_eq!(tomorrow.expect(400).body["errors"][0]["parameter"], "ridden_on");
    let day = format!("{query}&ridden_on=2026-11-20");
    let new = send(&server, &day, GPX, plan.clone()).await.expect(201);
    let read = &new.body["file"];
    assert!((number(&read["distance_km"]) - 14.9).abs() < 0.03, "{read}");
    assert_eq!((&read["elapsed_seconds"], &read["moving_seconds"]), (&Value::Null, &Value::Null));
    assert_eq!(unknown(&new), ["time", "power"]);
    assert!(codes(&new).contains(&"version_missing"), "{read}");
    let started_at = new.body["ride"]["started_at"].as_str().expect("a time");
    assert!(
        started_at.starts_with("2026-11-19T23") || started_at.starts_with("2026-11-20T00"),
        "{started_at}"
    );
    send(&server, &day, GPX, plan).await.check(200);
    // A day that the file's own times contradict.
    let other = send(&server, &day, GPX, hill()).await.expect(400);
    assert_eq!(other.body["errors"][0]["parameter"], "ridden_on");
    send(&server, &format!("{query}&ridden_on=2026-03-01"), GPX, hill()).await.check(201);
}

fn changed(text: &str, from: &str, to: &str) -> Vec<u8> {
    assert!(text.contains(from), "{from}");
    text.replacen(from, to, 1).into_bytes()
}

async fn what_makes_no_ride_is_named_with_its_place(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let good = gpx((0..20).map(|second| point(47.0 + 5e-5 * second as f64, second, 400.0)));
    let third = format!("{}\"", "lat=\"47.000100");
    let fit = |messages: &[(u16, Vec<Field>)]| file(messages);
    let record = |seconds: u32, latitude: i32| {
        (20_u16, vec![long(253, seconds), signed(0, latitude), signed(1, semicircles(8.0))])
    };
    let start = START as u32 - EPOCH;
    let whole = file(&ridden(60, 2, 0, true));
    let mut flipped = whole.clone();
    flipped[100] ^= 0x55;
    let mut undefined = file(&[(0, vec![word(0, 4)])]);
    undefined[14] = 0x03;
    let deep = format!(
        "<gpx version=\"1.1\"><trk><trkseg><trkpt lat=\"47\" lon=\"8\"><extensions>{}</extensions></trkpt></trkseg></trk></gpx>",
        "<a>".repeat(100)
    );
    let table: Vec<(&str, Vec<u8>, &str, &str)> = vec![
        ("nothing", Vec::new(), "", "neither GPX nor FIT"),
        ("a picture", b"\x89PNG\r\n\x1a\n0000".to_vec(), "", "neither GPX nor FIT"),
        ("JSON", b"{\"distance_km\":10}".to_vec(), "", "neither GPX nor FIT"),
        ("zip", b"PK\x03\x04rest".to_vec(), "", "zip archive"),
        ("half a gzip", gzipped(good.as_bytes())[..200].to_vec(), "", "unpacked"),
        ("gzip of gzip", gzipped(&gzipped(good.as_bytes())), "", "neither GPX nor FIT"),
        ("web page", b"<html><body>sign in</body></html>".to_vec(), "", "\"html\""),
        ("another version", changed(&good, "version=\"1.1\"", "version=\"2.0\""), "/gpx/version", "\"2.0\""),
        (
            "broken off",
            good.as_bytes()[..good.len() - 40].to_vec(),
            "/gpx/trk/0/trkseg/0/trkpt/19",
            "ends before",
        ),
        ("crossed tags", changed(&good, "</ele>", "</elf>"), "", "well-formed"),
        ("not UTF-8", [&good.as_bytes()[..400], b"\xff", &good.as_bytes()[400..]].concat(), "", "byte 400"),
        ("UTF-16", good.encode_utf16().flat_map(u16::to_le_bytes).collect(), "", "not UTF-8 at byte 1"),
        (
            "entities",
            changed(&good, "<gpx", "<!DOCTYPE gpx [<!ENTITY a \"aaaaaaaa\"><!ENTITY b \"&a;&a;&a;\">]><gpx"),
            "",
            "document type",
        ),
        (
            "an outside entity",
            changed(&good, "<gpx", "<!DOCTYPE gpx SYSTEM \"file:///etc/passwd\"><gpx"),
            "",
            "document type",
        ),
        ("an unknown entity", changed(&good, "Hill", "&hill;"), "/gpx/trk/0", "\"hill\""),
        ("a hundred elements deep", deep.into_bytes(), "/gpx/trk/0/trkseg/0/trkpt/0", "32 deep"),
        (
            "way points only",
            b"<gpx version=\"1.1\"><wpt lat=\"47\" lon=\"8\"/></gpx>".to_vec(),
            "/gpx",
            "no track",
        ),
        ("one point", gpx([point(47.0, 0, 400.0)]).into_bytes(), "", "1 points"),
        ("no latitude", changed(&good, &third, ""), "/gpx/trk/0/trkseg/0/trkpt/2/lat", "missing"),
        (
            "a word for a latitude",
            changed(&good, &third, "lat=\"north\""),
            "/gpx/trk/0/trkseg/0/trkpt/2/lat",
            "\"north\"",
        ),
        ("NaN", changed(&good, &third, "lat=\"NaN\""), "/gpx/trk/0/trkseg/0/trkpt/2/lat", "is NaN"),
        ("beyond the pole", changed(&good, &third, "lat=\"91\""), "/gpx/trk/0/trkseg/0/trkpt/2/lat", "is 91"),
        (
            "longitude twice round",
            changed(&good, "lon=\"8\"", "lon=\"368\""),
            "/gpx/trk/0/trkseg/0/trkpt/0/lon",
            "is 368 (line 5)",
        ),
        (
            "a word for a time",
            changed(&good, "08:00:03Z", "three"),
            "/gpx/trk/0/trkseg/0/trkpt/3/time",
            "(line 8)",
        ),
        (
            "a word for a height",
            changed(&good, "400.0", "high"),
            "/gpx/trk/0/trkseg/0/trkpt/0/ele",
            "\"high\"",
        ),
        (
            "a clock that wasn't set",
            changed(&good, "2026-03-01T08:00:00Z", "1970-01-01T00:00:10Z"),
            "/gpx/trk/0/trkseg/0/trkpt/0/time",
            "wasn't set",
        ),
        (
            "the future",
            changed(&good, "2026-03-01T08:00:19Z", "2027-03-01T08:00:19Z"),
            "/gpx/trk/0/trkseg/0/trkpt/19/time",
            "in the future",
        ),
        (
            "a year in one file",
            changed(&good, "2026-03-01T08:00:00Z", "2025-03-01T08:00:00Z"),
            "/gpx/trk/0/trkseg/0/trkpt/1/time",
            "first point's",
        ),
        (
            "standing still",
            gpx((0..60).map(|second| point(47.0, second, 400.0))).into_bytes(),
            "",
            "nothing that was ridden",
        ),
        ("FIT broken off", whole[..whole.len() - 30].to_vec(), "/record/60", "decoded"),
        ("FIT changed on the way", flipped, "/record/61", "checksum"),
        ("FIT without a definition", undefined, "/record/0", "decoded"),
        ("FIT of a course", fit(&[(0, vec![word(0, 6)])]), "/file_id/type", "is 6"),
        ("FIT of a run", fit(&ridden(60, 1, 0, true)), "/session/0/sport", "(1)"),
        ("FIT without records", fit(&[(0, vec![word(0, 4)])]), "", "0 points"),
        (
            "FIT beyond the pole",
            fit(&[
                (0, vec![word(0, 4)]),
                record(start, semicircles(89.0)),
                record(start + 1, semicircles(95.0)),
            ]),
            "/record/1/position_lat",
            "is 95.0",
        ),
        (
            "FIT with one point",
            fit(&[(0, vec![word(0, 4)]), (20, vec![signed(0, 5), signed(1, 5)])]),
            "",
            "1 points",
        ),
        (
            "FIT by a clock that wasn't set",
            fit(&[(0, vec![word(0, 4)]), record(1_000, 5), record(1_001, 5)]),
            "/record/0/timestamp",
            "wasn't set",
        ),
    ];
    let mut wrong = Vec::new();
    for (name, body, pointer, message) in table {
        let answer = send(&server, &format!("bike_id={bike}"), GPX, body).await;
        let error = &answer.body["errors"][0];
        let text = error["message"].as_str().unwrap_or_default();
        let allowed = error["allowed"].as_str().unwrap_or_default();
        println!("{name:32} {pointer:36} {text}; allowed: {allowed}");
        let named = (answer.status.as_u16(), answer.problem()) == (422, "invalid-ride-file")
            && answer.pointers() == [pointer]
            && text.contains(message)
            && !allowed.is_empty();
        if !named {
            wrong.push(format!("{name}: {}", answer.body));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    assert_eq!(rides["items"], json!([]));

    // What a sensor got wrong is no reason to lose a ride.
    let odd = changed(&good, "<ele>400.0</ele>", "<ele>32767</ele>");
    let odd = send(&server, &format!("bike_id={bike}"), GPX, odd).await.expect(201);
    assert_eq!(codes(&odd), ["samples_out_of_range"], "{}", odd.body);
}

async fn what_is_wrong_in_the_request_is_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    for (query, parameter) in [
        (String::new(), "bike_id"),
        ("bike_id=41".to_owned(), "bike_id"),
        (format!("bike_id={bike}&surface=ice"), "surface"),
        (format!("bike_id={bike}&wet=maybe"), "wet"),
        (format!("bike_id={bike}&mass_kg=9"), "mass_kg"),
        (format!("bike_id={bike}&mass_kg=NaN"), "mass_kg"),
        (format!("bike_id={bike}&wind_m_s=4"), "wind_m_s"),
        (format!("bike_id={bike}&wind_m_s=4&wind_from_degrees=361"), "wind_from_degrees"),
        (format!("bike_id={bike}&ridden_on=yesterday"), "ridden_on"),
        (format!("bike_id={bike}&colour=red"), "colour"),
    ] {
        let answer = send(&server, &query, GPX, hill()).await.expect(400);
        assert_eq!(answer.body["errors"][0]["parameter"], parameter, "{query} {}", answer.body);
    }
    let media = send(&server, &format!("bike_id={bike}"), "image/png", hill()).await.expect(415);
    assert_eq!(media.problem(), "unsupported-media-type");
    let request = server.request(Method::POST, &format!("/v1/ride-files?bike_id={bike}"));
    let request = request.bearer_auth(server.token_of(Role::App)).header("content-type", GPX);
    let _brotli = server.send(request.header("content-encoding", "br").body(hill())).await.expect(415);
    let nobodys =
        send(&server, "bike_id=019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", GPX, hill()).await.expect(404);
    assert_eq!(nobodys.problem(), "not-found");
    let stranger = server.token("Hill", Role::Manager).await;
    let request = server.request(Method::POST, &format!("/v1/ride-files?bike_id={bike}"));
    let request = request.bearer_auth(stranger).header("content-type", GPX).body(hill());
    let _not_there = server.send(request).await.expect(404);

    // A head wind is work, and so is a heavier load.
    let kj = |answer: Answer| number(&answer.body["file"]["energy"]["kj"]);
    let calm = kj(send(&server, &format!("bike_id={bike}&mass_kg=80"), GPX, hill()).await.expect(201));
    let wind = format!("bike_id={bike}&mass_kg=80&wind_m_s=5&wind_from_degrees=0");
    let against = kj(send(&server, &wind, GPX, hill()).await.expect(200));
    let loaded = kj(send(&server, &format!("bike_id={bike}&mass_kg=160"), GPX, hill()).await.expect(200));
    assert!(against > 1.3 * calm && loaded > 1.3 * calm, "{calm} {against} {loaded}");
}

async fn sizes_are_bounded(store: TestStore) {
    let mut bomb = GzEncoder::new(Vec::new(), Compression::fast());
    let piece = vec![b' '; 1 << 20];
    for _ in 0..=64 {
        bomb.write_all(&piece).expect("memory");
    }
    let bomb = bomb.finish().expect("memory");
    assert!(bomb.len() < 1 << 20, "{}", bomb.len());
    let start = START as u32 - EPOCH - 400_000;
    let records = (0..300_001).map(|second| (20_u16, vec![long(253, start + second), short(7, 100)]));
    let many = file(&records.collect::<Vec<_>>());

    let server = TestServer::start(store).await;
    let query = format!("bike_id={}", server.bike("041").await);
    let sent = send(&server, &query, GPX, vec![b' '; (32 << 20) + 1]).await.expect(413);
    assert_eq!(sent.problem(), "body-too-large");
    let bomb = send(&server, &query, "application/gzip", bomb).await.expect(413);
    assert!(bomb.body["detail"].as_str().is_some_and(|detail| detail.contains("unpacked")), "{}", bomb.body);
    let many = send(&server, &query, FIT, many).await.expect(422);
    assert!(
        many.body["detail"].as_str().is_some_and(|detail| detail.contains("300000 points")),
        "{}",
        many.body
    );
}
