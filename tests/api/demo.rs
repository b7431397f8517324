//! The demonstration shows every advice, and bikes of which little is recorded.

use chrono::NaiveDate;
use std::collections::HashMap;
use wear_api::clock::Clock;

use wear_api::demo;
use wear_api::domain::{
    Advice, Bike, BikeFilter, BikeSort, BikeStart, CareSetting, GroupName, Outlook, OutlookFilter,
    PageRequest, PageSize, Timestamp,
};
use wear_api::service::{Actor, Services, bikes, declared_use, odometer, outlook, readings, rides};
use wear_api::store::Store;
use wear_core::bike::{Assumption, KilometresFrom, Warning};
use wear_core::degradation::ExplanationKind;
use wear_core::forecast::Reason;

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
        little_is_recorded_in_the_boathouse(&services, &actor).await;
    }
}

struct Told {
    bike: Bike,
    outlook: Outlook,
    readings: usize,
    shown: usize,
    rides: usize,
    declared: usize,
}

async fn told(services: &Services, actor: &Actor, bike: Bike) -> Told {
    let all = PageRequest::first(PageSize::LARGEST);
    let outlook = outlook::of_bike(services, actor, bike.id).await.expect("an outlook");
    let readings = readings::list(services, actor, bike.id, &all).await.expect("readings").items.len();
    let shown = odometer::list(services, actor, bike.id, &all).await.expect("statements").items.len();
    let rides = rides::list(services, actor, bike.id, &all).await.expect("rides").items.len();
    let declared = declared_use::list_of_bike(services, actor, bike.id, &all).await.expect("use").items.len();
    Told { bike, outlook, readings, shown, rides, declared }
}

async fn little_is_recorded_in_the_boathouse(services: &Services, actor: &Actor) {
    let group = GroupName::new(demo::found::GROUP).expect("a name");
    let filter = BikeFilter { group: Some(group), ..BikeFilter::default() };
    let all = PageRequest::first(PageSize::LARGEST);
    let page = bikes::list_with_starts(services, actor, &filter, BikeSort::Created, &all).await;
    let mut corner = HashMap::new();
    for (bike, start) in page.expect("bikes").items {
        assert!(matches!(start, Some(BikeStart::AsFound { .. })), "{start:?}");
        assert_eq!(bike.facts.care, Some(CareSetting::Unrecorded));
        let told = told(services, actor, bike).await;
        let wear_core::Outlook { advice, reason, remaining_km, limit_in_days, explanations, .. } =
            &told.outlook.known;
        println!(
            "{}: {advice:?}, {reason}; {remaining_km:?}; {limit_in_days:?}; {explanations:?}",
            told.bike.facts.label
        );
        assert!(remaining_km.is_some(), "{}", told.bike.facts.label);
        corner.insert(told.bike.facts.label.as_str().to_owned(), told);
    }
    assert_eq!(corner.len(), 8);

    let once = &corner["Plover"];
    assert_eq!((once.readings, once.shown, once.rides, once.declared), (1, 0, 0, 0));
    let median = once.outlook.elongation_percent.expect("a chain").p50;
    assert!((0.33..0.47).contains(&median), "{median}");
    // It never told of any riding: its kilometres are those of its group.
    assert_eq!(once.outlook.basis.kilometres_from, Some(KilometresFrom::Group));

    let never = &corner["Dunlin"];
    assert_eq!((never.readings, never.outlook.advice), (0, Advice::MeasureBy));
    assert_eq!(never.outlook.reason, Reason::AgeUnknown);

    let by_odometer = &corner["Curlew"];
    assert_eq!((by_odometer.readings, by_odometer.shown, by_odometer.rides), (13, 13, 0));
    assert!(by_odometer.outlook.basis.unlogged_km > 1_000.0 && by_odometer.outlook.limit_in_days.is_some());

    let declared = &corner["Avocet"];
    assert_eq!((declared.shown, declared.rides, declared.declared), (0, 0, 1));
    assert!(declared.outlook.basis.assumed.contains(&Assumption::DeclaredUse));
    assert!(declared.outlook.limit_in_days.is_some());

    let cogs = &corner["Knot"];
    assert!(cogs.bike.facts.is_assumed && cogs.bike.facts.kind.is_none());
    assert_eq!((cogs.bike.facts.drivetrain.cogs().len(), cogs.rides), (10, 40));
    assert!(cogs.outlook.basis.assumed.contains(&Assumption::TypicalDrivetrain));

    assert!(corner["Whimbrel"].bike.facts.kind.is_some());

    let swapped = &corner["Redshank"].outlook;
    let likeliest = swapped.explanations.first().expect("explanations");
    assert_eq!(likeliest.kind, ExplanationKind::UnrecordedSwap);
    assert!(likeliest.probability > 0.5, "{likeliest:?}");
    let in_doubt = |warning: &Warning| matches!(warning, Warning::RecordInDoubt { .. });
    assert!(swapped.warnings.iter().any(in_doubt), "{:?}", swapped.warnings);

    let at_limit = &corner["Godwit"].outlook;
    assert!(!matches!(at_limit.advice, Advice::RideOn), "{:?}", at_limit.reason);
    assert!(matches!(at_limit.reason, Reason::ReadAtLimit { .. }), "{:?}", at_limit.reason);
}
