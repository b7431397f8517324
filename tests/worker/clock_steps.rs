//! A clock that was ahead for a while and came back.

use chrono::Duration;
use serde_json::json;
use wear_api::clock::Clock;
use wear_api::domain::{Claim, JobKind, Role};
use wear_api::service::clock_steps::{self, PutRight};
use wear_api::service::{Services, jobs, worker};
use wear_api::store::Turn;
use wear_tests::{Garage, TestServer, TestStore, at, on_both_stores, ride};

on_both_stores!(
    a_clock_that_was_ahead_puts_nothing_off_for_long,
    what_is_put_off_on_purpose_stays_so,
    digests_are_planned_anew,
    a_session_of_the_future_opens_nothing,
);

const NOW: &str = "2026-11-25T12:00:00Z";

async fn a_clock_that_was_ahead_puts_nothing_off_for_long(store: TestStore) {
    let ahead = Services::new(store.store.clone(), Clock::stopped(at(NOW).plus(Duration::days(365))));
    let services = Services::new(store.store.clone(), Clock::stopped(at(NOW)));
    let garage = Garage::open(&store.store, "Harbour").await;
    // The fleet learns while the clock is ahead, and the next night is planned.
    let mut tx = store.store.begin_write(garage.workshop).await.expect("begins");
    let workshop = tx.workshop().await.expect("a workshop");
    wear_api::service::calibration::every_night(&mut tx, &workshop, garage.since).await.expect("a night");
    tx.commit().await.expect("commits");
    let done = jobs::drain_all_but_the_record(&ahead).await.expect("a night's work");
    assert!(done >= 1, "nobody learned");
    // A bike is marked, and another one is claimed by a worker that dies.
    let bike = garage.bike("041", "town-8s").await;
    let _chain = garage.chain(bike, "2026-01-02T00:00:00Z").await.expect("a chain");
    let other = garage.bike("042", "town-8s").await;
    let _chain = garage.chain(other, "2026-01-02T00:00:00Z").await.expect("a chain");
    let mut tx = store.store.begin_write(garage.workshop).await.expect("begins");
    let rides = [ride(bike, "r1", "2026-11-20T08:00:00Z", 12.0)];
    let _stored = tx.record_rides(&rides, ahead.now()).await.expect("rides");
    tx.mark_bikes(&[other], ahead.now()).await.expect("marks");
    tx.commit().await.expect("commits");
    let mut tx = store.store.begin_system_write().await.expect("begins");
    let claim = Claim { now: ahead.now(), lease: Duration::seconds(30), most: 1 };
    assert_eq!(tx.claim_bikes(&claim, &mut Turn::default()).await.expect("claims").len(), 1);
    tx.commit().await.expect("commits");

    // It comes back: nothing is due, and would not be for a year.
    assert_eq!(worker::drain(&services).await.expect("a round"), 0);
    let far = at(NOW).plus(Duration::hours(26));
    let due = |services: Services, by| async move {
        let mut tx = services.store.begin_system_write().await.expect("begins");
        let claim = Claim { now: by, lease: Duration::seconds(30), most: 10 };
        tx.claim_jobs(JobKind::CalibrateFleet, &claim, &mut Turn::default()).await.expect("claims").len()
    };
    assert_eq!(due(services.clone(), far).await, 0);

    let right = clock_steps::put_right(&services).await.expect("put right");
    assert_eq!((right.marks, right.digests), (2, 0));
    assert!(right.jobs >= 1, "{right:?}");
    assert_eq!(worker::drain(&services).await.expect("a round"), 2);
    assert_eq!(due(services.clone(), at(NOW)).await, 1, "the fleet doesn't learn");
    let _done = jobs::drain_all_but_the_record(&services).await.expect("a night's work");
    assert_eq!(due(services.clone(), at(NOW)).await, 0);
    assert_eq!(due(services.clone(), far).await, 1, "no next night");
    let again = clock_steps::put_right(&services).await.expect("put right");
    assert_eq!(again.marks, 0, "{again:?}");
    // The night's outlooks first; then a ride marks its bike as ever.
    assert_eq!(worker::drain(&services).await.expect("a round"), 2);
    let mut tx = store.store.begin_write(garage.workshop).await.expect("begins");
    let rides = [ride(bike, "r2", "2026-11-21T08:00:00Z", 12.0)];
    let _stored = tx.record_rides(&rides, services.now()).await.expect("rides");
    tx.commit().await.expect("commits");
    assert_eq!(worker::drain(&services).await.expect("a round"), 1);
}

async fn what_is_put_off_on_purpose_stays_so(store: TestStore) {
    let services = Services::new(store.store.clone(), Clock::stopped(at(NOW)));
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let mut tx = store.store.begin_write(garage.workshop).await.expect("begins");
    let workshop = tx.workshop().await.expect("a workshop");
    wear_api::service::calibration::every_night(&mut tx, &workshop, services.now()).await.expect("a night");
    tx.mark_bikes(&[bike], services.now()).await.expect("marks");
    tx.commit().await.expect("commits");
    let mut tx = store.store.begin_system_write().await.expect("begins");
    let claim = Claim { now: services.now(), lease: Duration::minutes(34), most: 1 };
    assert_eq!(tx.claim_bikes(&claim, &mut Turn::default()).await.expect("claims").len(), 1);
    tx.commit().await.expect("commits");
    // A process whose clock is some seconds ahead marks as well.
    let other = garage.bike("042", "town-8s").await;
    let mut tx = store.store.begin_write(garage.workshop).await.expect("begins");
    tx.mark_bikes(&[other], services.now().plus(Duration::seconds(20))).await.expect("marks");
    tx.commit().await.expect("commits");
    assert_eq!(clock_steps::put_right(&services).await.expect("put right"), PutRight::default());
}

async fn digests_are_planned_anew(store: TestStore) {
    let server = TestServer::start(store).await;
    let digest = server
        .post(
            "/v1/digests",
            &json!({"address": "yard@bikes.example", "period": "weekly", "weekday": "monday", "hour": 7}),
        )
        .await
        .expect(201);
    let planned = digest.body["next_at"].clone();
    assert!(planned.is_string(), "{}", digest.body);
    server.clock.advance(Duration::days(365));
    let path = format!("/v1/digests/{}", digest.id());
    server
        .send(
            server
                .request(reqwest::Method::PATCH, &path)
                .bearer_auth(server.token_of(Role::Manager))
                .header("if-match", digest.header("etag"))
                .json(&json!({"hour": 8})),
        )
        .await
        .check(200);
    server.clock.advance(-Duration::days(365));
    let far = server.get(&path).await.expect(200).body["next_at"].clone();
    assert!(far.as_str() > Some("2027-11"), "{far}");
    // The service's own worker may have been there first.
    let _right = clock_steps::put_right(&server.services).await.expect("put right");
    let next = server.get(&path).await.expect(200).body["next_at"].clone();
    assert_eq!(next.as_str().map(|at| &at[..10]), planned.as_str().map(|at| &at[..10]));
}

async fn a_session_of_the_future_opens_nothing(store: TestStore) {
    let server = TestServer::start(store).await;
    server.clock.advance(Duration::days(365));
    let client = reqwest::Client::builder().redirect(reqwest::redirect::Policy::none()).build();
    let client = client.expect("a client");
    let form = client
        .post(format!("{}/sign-in", server.url()))
        .header("content-type", "application/x-www-form-urlencoded")
        .body(format!("token={}", server.token_of(Role::Manager)));
    let signed_in = form.send().await.expect("an answer");
    let cookie = signed_in.headers()["set-cookie"].to_str().expect("ASCII").split(';').next();
    let fleet = client.get(format!("{}/fleet", server.url())).header("cookie", cookie.expect("a cookie"));
    let fleet = || fleet.try_clone().expect("a request").send();
    assert_eq!(fleet().await.expect("an answer").status(), 200);
    server.clock.advance(-Duration::days(365));
    assert_eq!(fleet().await.expect("an answer").status(), 303);
}
