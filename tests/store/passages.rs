//! Forecasts of passages and how they did: kept once, replaced where they were made later, added up.

use wear_api::domain::{
    BikeId, GroupName, KeptPassage, Made, Month, PartId, RecordTally, RecordedBike, Sums, Timestamp,
};
use wear_api::store::StoreError;
use wear_core::fleet::demand_record::QuarterDemand;
use wear_core::fleet::passage::{Passage, PassageForecast};
use wear_core::fleet::passage_record::PassageTally;
use wear_core::fleet::skip_reliability::SkipReliability;
use wear_core::fleet::swap_by_record::SwapByTally;
use wear_core::knock_on::ToldSkip;
use wear_core::units::{Limit, Probability};
use wear_tests::{Garage, TestStore, at, on_both_stores};

on_both_stores![
    a_shown_forecast_is_kept_once_and_never_changed,
    forecasts_made_later_take_the_place_of_those_before,
    a_record_reads_back_by_month,
];

fn month(text: &str) -> Month {
    text.parse().unwrap()
}

fn probability(value: f64) -> Probability {
    Probability::new(value).unwrap()
}

fn kept((bike_id, part_id): (BikeId, PartId), made: Made, made_at: Timestamp, readings: i64) -> KeptPassage {
    KeptPassage {
        part_id,
        bike_id,
        group: GroupName::new("town-8s").unwrap(),
        made,
        month: Month::of(made_at.utc_date()),
        readings_used: readings,
        made_at,
        chain_km: 1_234.567,
        limit: Limit::new(0.75).unwrap(),
        kilometres: PassageForecast::new([(0.0, 0.001), (812.25, 0.1), (1_500.125, 0.5), (4_000.0, 0.93)])
            .unwrap(),
        days: PassageForecast::new([(0.0, 0.001), (61.0, 0.2), (730.0, 0.999_999)]),
        swap_in_days: Some(61),
        quarter_swap: probability(0.31),
        quarter_common: 0.15,
        skips: None,
    }
}

async fn on_a_bike(store: &TestStore) -> (Garage, (BikeId, PartId)) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let chain = garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    (garage, (bike, chain.part_id))
}

async fn a_shown_forecast_is_kept_once_and_never_changed(store: TestStore) {
    let (garage, on) = on_a_bike(&store).await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let first = kept(on, Made::Shown, at("2026-03-01T08:00:00Z"), 0);
    let without_dates = KeptPassage {
        days: None,
        swap_in_days: None,
        skips: Some(probability(0.25)),
        ..kept(on, Made::Shown, at("2026-03-05T08:00:00.000001Z"), 1)
    };
    tx.keep_passages(&[&without_dates, &first]).await.unwrap();
    let again = KeptPassage { chain_km: 9_999.0, ..kept(on, Made::Shown, at("2026-03-09T08:00:00Z"), 0) };
    tx.keep_passages(&[&again]).await.unwrap();
    assert_eq!(tx.passages_of_parts(&[on.1]).await.unwrap(), [first.clone(), without_dates.clone()]);
    assert_eq!(tx.passages_of_parts(&[PartId::generate()]).await.unwrap(), []);
    tx.commit().await.unwrap();
    let other = Garage::open(&store.store, "Station").await;
    let mut tx = store.store.begin_write(other.workshop).await.unwrap();
    assert_eq!(tx.passages_of_parts(&[on.1]).await.unwrap(), []);
    assert!(matches!(tx.keep_passages(&[&first]).await, Err(StoreError::NotFound)));
}

async fn forecasts_made_later_take_the_place_of_those_before(store: TestStore) {
    let (garage, on) = on_a_bike(&store).await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let shown = kept(on, Made::Shown, at("2026-03-01T08:00:00Z"), 0);
    tx.keep_passages(&[&shown]).await.unwrap();
    let made = |text: &str, readings| kept(on, Made::MadeLater, at(text), readings);
    let first =
        [made("2026-02-01T00:00:00Z", 0), made("2026-03-01T00:00:00Z", 0), made("2026-04-01T00:00:00Z", 1)];
    tx.replace_passages(&[on.1], month("2026-02"), &first).await.unwrap();
    // A reading of February that was entered late: March and April rest on one more.
    let second = [made("2026-03-01T00:00:00Z", 1), made("2026-04-01T00:00:00Z", 2)];
    tx.replace_passages(&[on.1], month("2026-03"), &second).await.unwrap();
    let [march, april] = second;
    let expected = [shown.clone(), first[0].clone(), march, april];
    assert_eq!(tx.passages_of_parts(&[on.1]).await.unwrap(), expected);
    // The chain was never on: what was shown was shown.
    tx.replace_passages(&[on.1], month("2026-01"), &[]).await.unwrap();
    assert_eq!(tx.passages_of_parts(&[on.1]).await.unwrap(), [shown]);
    let mut recorded =
        RecordedBike { bike_id: on.0, through: month("2026-04"), fingerprint: "ab".repeat(32) };
    for through in ["2026-04", "2026-05"] {
        recorded.through = month(through);
        tx.record_bike(&recorded).await.unwrap();
        assert_eq!(tx.recorded_bikes().await.unwrap().remove(&on.0), Some(recorded.clone()));
    }
    let nobody = RecordedBike { bike_id: BikeId::generate(), ..recorded };
    assert!(matches!(tx.record_bike(&nobody).await, Err(StoreError::NotFound)));
}

async fn a_record_reads_back_by_month(store: TestStore) {
    let (garage, on) = on_a_bike(&store).await;
    let forecast = kept(on, Made::Shown, at("2026-03-01T08:00:00Z"), 0);
    let days = forecast.days.clone().unwrap();
    let passage = Passage::seen([(900.0, 0.1 + 0.2), (1_200.0, 1.0)]).unwrap();
    let mut passages = PassageTally::default();
    passages.add(&forecast.kilometres, &passage, 1.0 / 3.0);
    let mut swap_by = SwapByTally::default();
    swap_by.add_ridden(&days, 61.0, Some(&passage));
    swap_by.add_early(12.5);
    let mut skips = SkipReliability::default();
    skips.add(&ToldSkip { probability: 0.4, skipped: true });
    let demand = QuarterDemand { p10: 3, p50: 5, p90: 9, mean: 5.25, bikes: 40, came: 6 };
    let group = Some(GroupName::new("town-8s").unwrap());
    let of = |made, group, text: &str, sums| RecordTally { made, group, month: month(text), sums };
    let all = [
        of(Made::MadeLater, None, "2026-01", Sums::Demand(demand)),
        of(Made::MadeLater, group.clone(), "2026-02", Sums::Dates(passages.clone())),
        of(Made::MadeLater, group.clone(), "2026-02", Sums::Kilometres(passages)),
        of(Made::Shown, group.clone(), "2026-01", Sums::Skips(skips)),
        of(Made::Shown, group, "2026-03", Sums::SwapBy(swap_by)),
    ];
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.replace_record(&[all[3].clone(), all[0].clone(), all[4].clone()]).await.unwrap();
    tx.replace_record(&all).await.unwrap();
    let between = (month("2026-01"), month("2026-03"));
    assert_eq!(tx.record_tallies(between).await.unwrap(), all);
    let february = (month("2026-02"), month("2026-02"));
    assert_eq!(tx.record_tallies(february).await.unwrap(), all[1..3]);
    tx.commit().await.unwrap();
    let other = Garage::open(&store.store, "Station").await;
    let mut tx = store.store.begin_read(other.workshop).await.unwrap();
    assert_eq!(tx.record_tallies(between).await.unwrap(), []);
}
