//! Readings and care: kept as they were entered, counted once, voided and never deleted.

use wear_api::domain::{
    Care, CareId, CareKind, Entry, Instrument, LubricantId, Measured, NewReading, Note, Once, PageRequest,
    PageSize, PartId, ReadWith, Reading, ReadingId, Voiding,
};
use wear_api::store::StoreError;
use wear_core::units::{ElongationReading, GaugeMark};
use wear_tests::{Garage, TestStore, at, on_both_stores};

on_both_stores![
    each_kind_of_entry_reads_back,
    the_same_reading_twice_is_one,
    a_voided_reading_stays_and_does_not_count,
    a_reading_needs_its_bike_and_chain,
    the_same_care_twice_is_one,
];

fn percent(value: f64) -> ElongationReading {
    ElongationReading::new(value).unwrap()
}

fn rule(value: f64) -> Measured {
    Measured::new(Entry::Percent { instrument: Instrument::Rule, percent: percent(value) }).unwrap()
}

async fn each_kind_of_entry_reads_back(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let chain = garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    let entries = [
        Entry::Percent { instrument: Instrument::Caliper, percent: percent(0.1 + 0.2) },
        Entry::Spots {
            instrument: Instrument::Dial,
            spots: vec![percent(0.30), percent(0.33), percent(0.31)],
        },
        Entry::Length { instrument: Instrument::Rule, pitches: 24, length_mm: 305.7 },
        Entry::Gauge { instrument: Instrument::DropIn, mark: GaugeMark::new(0.5).unwrap(), drops_in: false },
        Entry::Gauge {
            instrument: Instrument::DropInIsolating,
            mark: GaugeMark::new(0.75).unwrap(),
            drops_in: true,
        },
    ];
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let mut expected = Vec::new();
    for (hour, entry) in entries.into_iter().enumerate() {
        let new = NewReading {
            id: ReadingId::generate(),
            bike_id: bike,
            part_id: chain.part_id,
            taken_at: at(&format!("2026-03-01T0{hour}:00:00.000001Z")),
            measured: Measured::new(entry).unwrap(),
            with: ReadWith::default(),
        };
        assert_eq!(tx.insert_reading(&new).await.unwrap(), Once::New(new.id));
        let NewReading { id, bike_id, part_id, taken_at, measured, with } = new;
        expected.push(Reading { id, bike_id, part_id, taken_at, measured, with, voided: None });
    }
    assert_eq!(tx.readings_of_part(chain.part_id).await.unwrap(), expected);
    let first = tx.readings(bike, &PageRequest::first(PageSize::new(3).unwrap())).await.unwrap();
    let rest = tx
        .readings(bike, &PageRequest { after: first.next.clone(), size: PageSize::new(3).unwrap() })
        .await
        .unwrap();
    let mut listed = [first.items, rest.items].concat();
    listed.reverse();
    assert_eq!(listed, expected);
}

async fn the_same_reading_twice_is_one(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let chain = garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    let reading = |value: f64, taken_at: &str| NewReading {
        id: ReadingId::generate(),
        bike_id: bike,
        part_id: chain.part_id,
        taken_at: at(taken_at),
        measured: rule(value),
        with: ReadWith::default(),
    };
    let first = reading(0.31, "2026-03-01T08:00:00Z");
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.insert_reading(&first).await.unwrap(), Once::New(first.id));
    assert_eq!(
        tx.insert_reading(&reading(0.31, "2026-03-01T08:00:00Z")).await.unwrap(),
        Once::Again(first.id)
    );
    assert!(tx.insert_reading(&reading(0.32, "2026-03-01T08:00:00Z")).await.unwrap().is_new());
    assert!(tx.insert_reading(&reading(0.31, "2026-03-01T08:00:00.000001Z")).await.unwrap().is_new());
    assert_eq!(tx.readings_of_part(chain.part_id).await.unwrap().len(), 3);
}

async fn a_voided_reading_stays_and_does_not_count(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let chain = garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    let reading = |id| NewReading {
        id,
        bike_id: bike,
        part_id: chain.part_id,
        taken_at: at("2026-03-01T08:00:00Z"),
        measured: rule(0.31),
        with: ReadWith::default(),
    };
    let id = ReadingId::generate();
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.insert_reading(&reading(id)).await.unwrap();
    let voiding = Voiding { at: at("2026-03-02T00:00:00Z"), reason: Note::new("another chain").unwrap() };
    tx.void_reading(bike, id, &voiding).await.unwrap();
    assert!(matches!(tx.void_reading(bike, id, &voiding).await, Err(StoreError::Conflict)));
    assert!(matches!(
        tx.void_reading(bike, ReadingId::generate(), &voiding).await,
        Err(StoreError::NotFound)
    ));
    assert_eq!(tx.reading(bike, id).await.unwrap().voided, Some(voiding));
    assert_eq!(tx.readings_of_part(chain.part_id).await.unwrap(), []);
    assert_eq!(tx.readings(bike, &PageRequest::default()).await.unwrap().items.len(), 1);
    let again = ReadingId::generate();
    assert_eq!(tx.insert_reading(&reading(again)).await.unwrap(), Once::New(again));
}

async fn a_reading_needs_its_bike_and_chain(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let reading = NewReading {
        id: ReadingId::generate(),
        bike_id: bike,
        part_id: PartId::generate(),
        taken_at: at("2026-03-01T08:00:00Z"),
        measured: rule(0.31),
        with: ReadWith::default(),
    };
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert!(matches!(tx.insert_reading(&reading).await, Err(StoreError::NotFound)));
}

async fn the_same_care_twice_is_one(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let care = |kind, done_at: &str, note: Option<&str>| Care {
        id: CareId::generate(),
        bike_id: bike,
        kind,
        done_at: at(done_at),
        note: note.map(|note| Note::new(note).unwrap()),
        voided: None,
        lubricant_id: None,
    };
    let second = care(CareKind::Cleaned, "2026-03-02T08:00:00Z", Some("very dirty"));
    let first = care(CareKind::CleanedAndLubricated, "2026-03-01T08:00:00Z", None);
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.insert_care(&second).await.unwrap(), Once::New(second.id));
    assert_eq!(tx.insert_care(&first).await.unwrap(), Once::New(first.id));
    let again = care(CareKind::Cleaned, "2026-03-02T08:00:00Z", None);
    assert_eq!(tx.insert_care(&again).await.unwrap(), Once::Again(second.id));
    assert_eq!(tx.care_of_bikes(&[bike]).await.unwrap(), [first.clone(), second.clone()]);
    // What it was done with can be said later, and said otherwise.
    let (wax, oil) = (LubricantId::generate(), LubricantId::generate());
    for (lubricant, is_news) in [(wax, true), (wax, false), (oil, true)] {
        assert_eq!(tx.name_lubricant(bike, first.id, lubricant).await.unwrap(), is_news);
        assert_eq!(tx.care_event(bike, first.id).await.unwrap().lubricant_id, Some(lubricant));
    }
    let first = Care { lubricant_id: Some(oil), ..first };
    assert_eq!(tx.care(bike, &PageRequest::default()).await.unwrap().items, [second, first]);
}
