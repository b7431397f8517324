//! The demonstration shows every advice.

use chrono::NaiveDate;
use wear_api::clock::Clock;
use wear_api::demo;
use wear_api::domain::{OutlookFilter, Timestamp};
use wear_api::service::{Services, outlook};
use wear_api::store::Store;

#[tokio::test]
async fn the_invented_fleet_has_every_advice_on_any_day() {
    let folder = tempfile::tempdir().expect("a folder");
    for date in ["2026-11-25", "2027-05-01"] {
        let day: NaiveDate = date.parse().expect("a date");
        let store = Store::connect(&format!("sqlite:{}", folder.path().join(date).display()), 4)
            .await
            .expect("a new database");
        store.migrate().await.expect("tables");
        let noon = Timestamp::new(day.and_hms_opt(12, 0, 0).expect("noon").and_utc()).expect("a time");
        let clock = Clock::stopped(noon);
        let services = Services::new(store, clock);
        let (actor, _) = demo::fill(&services).await.expect("an invented fleet");
        let counts =
            outlook::counts(&services, &actor, &OutlookFilter::default()).await.expect("counts by advice");
        println!("{date}: {counts:?}");
        assert_eq!(counts.len(), 5, "{counts:?}");
        assert!(counts.iter().all(|(_, bikes)| *bikes > 0), "{counts:?}");
        assert!(counts.iter().map(|(_, bikes)| bikes).sum::<i64>() >= 55, "{counts:?}");
    }
}
