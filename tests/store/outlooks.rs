//! The fleet by when each bike needs someone.

use serde_json::json;
use wear_api::domain::{
    Advice, BikeId, Cursor, FleetSort, GroupName, OutlookFilter, OutlookRow, OutlookSummary, PageRequest,
    PageSize,
};
use wear_api::store::StoreError;
use wear_core::degradation::Quantiles;
use wear_core::units::Probability;
use wear_tests::{Garage, TestStore, at, on_both_stores};

on_both_stores![
    an_outlook_reads_back_and_the_next_takes_its_place,
    the_soonest_come_first_and_those_who_need_nobody_last,
    the_worst_of_a_day_come_first,
    people_turn_pages_in_the_order_they_ask_for,
    filters_and_counts_agree,
    a_retired_bikes_outlook_goes,
];

fn outlook(bike_id: BikeId, advice: Advice, attention_on: Option<&str>) -> OutlookRow {
    let summary = OutlookSummary {
        bike_id,
        part_id: None,
        advice,
        attention_on: attention_on.map(|day| day.parse().unwrap()),
        swap_by: (advice == Advice::SwapBy).then(|| attention_on.unwrap().parse().unwrap()),
        measure_by: None,
        probability_over: Some(Probability::new(0.012_345_678_901_234_5).unwrap()),
        remaining: Some(Quantiles { p10: 810.2, p50: 1_890.4, p90: 1e-300 }),
        computed_at: at("2026-03-01T08:00:00Z"),
    };
    let remaining = Some(Quantiles { p10: 0.0, p50: 1.0 / 3.0, p90: 3_402.9 });
    OutlookRow {
        summary: OutlookSummary { remaining, ..summary },
        payload: json!({"reason": "“0.3 %” — fine", "p": 1.0 / 3.0, "none": null, "tiny": 5e-324, "list": [1, 2.5]}),
    }
}

async fn an_outlook_reads_back_and_the_next_takes_its_place(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let chain = garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.outlook(bike).await.unwrap(), None);
    let mut first = outlook(bike, Advice::SwapBy, Some("2026-04-01"));
    first.summary.part_id = Some(chain.part_id);
    tx.save_outlooks(&[(&first, None)]).await.unwrap();
    assert_eq!(tx.outlook(bike).await.unwrap(), Some(first));
    let mut bare = outlook(bike, Advice::Hold, None);
    bare.summary.probability_over = None;
    bare.summary.remaining = None;
    tx.save_outlooks(&[(&bare, None)]).await.unwrap();
    assert_eq!(tx.outlook(bike).await.unwrap(), Some(bare));
    let nobody = outlook(BikeId::generate(), Advice::RideOn, None);
    assert!(matches!(tx.save_outlooks(&[(&nobody, None)]).await, Err(StoreError::NotFound)));
}

async fn fleet(store: &TestStore, garage: &Garage, filter: &OutlookFilter, size: i64) -> Vec<String> {
    let mut tx = store.store.begin_read(garage.workshop).await.unwrap();
    let (mut labels, mut after): (Vec<String>, Option<Cursor>) = (Vec::new(), None);
    loop {
        let page = tx
            .fleet(filter, &PageRequest { after: after.clone(), size: PageSize::new(size).unwrap() })
            .await
            .unwrap();
        labels.extend(page.items.iter().map(|entry| entry.label.to_string()));
        after = page.next;
        if after.is_none() {
            return labels;
        }
    }
}

async fn made(store: &TestStore) -> Garage {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bikes = [
        ("1", "town-8s", Advice::RideOn, None),
        ("2", "Cargo", Advice::SwapBy, Some("2026-05-01")),
        ("3", "town-8s", Advice::MeasureBy, Some("2026-04-01")),
        ("4", "town-8s", Advice::RideOn, None),
        ("5", "Cargo", Advice::SwapNow, Some("2026-03-01")),
        ("6", "town-8s", Advice::SwapBy, Some("2026-04-01")),
        ("7", "town-8s", Advice::Hold, Some("2026-03-01")),
    ];
    for (label, group, advice, attention_on) in bikes {
        let bike = garage.bike(label, group).await;
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        tx.save_outlooks(&[(&outlook(bike, advice, attention_on), None)]).await.unwrap();
        tx.commit().await.unwrap();
    }
    garage
}

async fn the_soonest_come_first_and_those_who_need_nobody_last(store: TestStore) {
    let garage = made(&store).await;
    for size in [1, 2, 3, 100] {
        let labels = fleet(&store, &garage, &OutlookFilter::default(), size).await;
        assert_eq!(labels, ["5", "7", "6", "3", "2", "1", "4"], "by {size}");
    }
    let mut tx = store.store.begin_read(garage.workshop).await.unwrap();
    let page = tx.fleet(&OutlookFilter::default(), &PageRequest::default()).await.unwrap();
    let last = page.items.last().unwrap();
    assert_eq!((last.outlook.attention_on, last.group.as_str()), (None, "town-8s"));
    assert_eq!(last.outlook, outlook(last.outlook.bike_id, Advice::RideOn, None).summary);
}

async fn the_worst_of_a_day_come_first(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let today = Some("2026-03-01");
    for (label, advice, over) in [
        ("1", Advice::MeasureBy, 0.999),
        ("2", Advice::SwapNow, 0.51),
        ("3", Advice::SwapNow, 0.99),
        ("4", Advice::SwapNow, 0.511),
        ("5", Advice::Hold, 0.0),
        ("6", Advice::SwapBy, 0.2),
    ] {
        let bike = garage.bike(label, "town-8s").await;
        let mut row = outlook(bike, advice, today);
        row.summary.probability_over = Some(Probability::new(over).unwrap());
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        tx.save_outlooks(&[(&row, None)]).await.unwrap();
        tx.commit().await.unwrap();
    }
    for size in [1, 4, 100] {
        let labels = fleet(&store, &garage, &OutlookFilter::default(), size).await;
        assert_eq!(labels, ["3", "4", "2", "5", "6", "1"], "by {size}");
    }
}

async fn people_turn_pages_in_the_order_they_ask_for(store: TestStore) {
    let garage = made(&store).await;
    let mut tx = store.store.begin_read(garage.workshop).await.unwrap();
    let all = OutlookFilter::default();
    for (sort, expected) in [
        (FleetSort::Due, ["5", "7", "6", "3", "2", "1", "4"]),
        (FleetSort::Label, ["1", "2", "3", "4", "5", "6", "7"]),
        (FleetSort::Group, ["5", "2", "7", "6", "3", "1", "4"]),
    ] {
        let mut turned = Vec::new();
        for page in 0..3 {
            let entries = tx.fleet_page(&all, sort, 3, 3 * page).await.unwrap();
            turned.extend(entries.iter().map(|entry| entry.label.to_string()));
        }
        assert_eq!(turned, expected, "by {sort}");
    }
    let cargo = OutlookFilter { group: Some(GroupName::new("Cargo").unwrap()), ..OutlookFilter::default() };
    let least = tx.fleet_page(&cargo, FleetSort::Left, 100, 0).await.unwrap();
    assert_eq!(least.len(), 2);
    let one = tx.fleet_entry(least[0].outlook.bike_id).await.unwrap();
    assert_eq!(one.as_ref(), least.first());
    assert_eq!(tx.fleet_entry(BikeId::generate()).await.unwrap(), None);
}

async fn filters_and_counts_agree(store: TestStore) {
    let garage = made(&store).await;
    let cargo =
        || OutlookFilter { group: Some(GroupName::new("Cargo").unwrap()), ..OutlookFilter::default() };
    let due =
        || OutlookFilter { due_before: Some("2026-05-01".parse().unwrap()), ..OutlookFilter::default() };
    let search = || OutlookFilter { search: Some("cARG".to_owned()), ..OutlookFilter::default() };
    let cases = [
        (cargo(), vec!["5", "2"]),
        (due(), vec!["5", "7", "6", "3"]),
        (search(), vec!["5", "2"]),
        (OutlookFilter { due_before: due().due_before, ..cargo() }, vec!["5"]),
    ];
    let mut tx = store.store.begin_read(garage.workshop).await.unwrap();
    for (filter, expected) in cases {
        assert_eq!(fleet(&store, &garage, &filter, 2).await, expected);
        let counts = tx.advice_counts(&filter).await.unwrap();
        assert_eq!(counts.iter().map(|(_, count)| count).sum::<i64>(), expected.len() as i64);
        for (advice, count) in counts {
            let only = OutlookFilter { advice: Some(advice), ..filter.clone() };
            assert_eq!(fleet(&store, &garage, &only, 100).await.len() as i64, count, "{advice:?}");
        }
    }
}

async fn a_retired_bikes_outlook_goes(store: TestStore) {
    let garage = made(&store).await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let page =
        tx.fleet(&OutlookFilter::default(), &PageRequest::first(PageSize::new(1).unwrap())).await.unwrap();
    let soonest = page.items[0].outlook.bike_id;
    tx.retire_bike(soonest, 1, at("2026-03-01T08:00:00Z")).await.unwrap();
    assert_eq!(tx.outlook(soonest).await.unwrap(), None);
    tx.commit().await.unwrap();
    assert_eq!(fleet(&store, &garage, &OutlookFilter::default(), 100).await.len(), 6);
}
