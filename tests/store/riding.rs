//! Odometer statements, declared use and care settings: kept once, voided and never deleted, read for many bikes at once.

use std::collections::BTreeSet;

use wear_api::domain::{
    BikeId, CareId, DaysOfUse, DeclaredUse, DeclaredUseId, DistanceAWeek, EnteredWith, GroupName, Note,
    OdometerStatement, OdometerTotal, Once, PageRequest, ReadingId, StatementId, UseOf, Voiding,
};
use wear_api::store::StoreError;
use wear_tests::{Garage, TestStore, at, on_both_stores};

on_both_stores![
    the_same_statement_twice_is_one,
    what_was_entered_with_an_event_is_voided_with_it,
    the_same_use_declared_twice_is_one,
    a_bike_says_how_far_its_care_is_told,
];

fn shown(bike_id: BikeId, read_at: &str, km: f64) -> OdometerStatement {
    OdometerStatement {
        id: StatementId::generate(),
        bike_id,
        read_at: at(read_at),
        total: OdometerTotal::from_km(km).unwrap(),
        entered_with: None,
        entered_at: at("2026-03-02T08:00:00Z"),
        voided: None,
    }
}

fn voiding(reason: &str) -> Voiding {
    Voiding { at: at("2026-03-03T00:00:00Z"), reason: Note::new(reason).unwrap() }
}

async fn the_same_statement_twice_is_one(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let (bike, other) = (garage.bike("041", "town-8s").await, garage.bike("042", "town-8s").await);
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let first = shown(bike, "2026-03-01T08:00:00Z", 4_180.25);
    let later = shown(bike, "2026-03-01T09:00:00Z", 4_190.0);
    let elsewhere = shown(other, "2026-02-01T08:00:00Z", 1_000_000.0);
    for statement in [&later, &first, &elsewhere] {
        assert_eq!(tx.insert_statement(statement).await.unwrap(), Once::New(statement.id));
    }
    let again = shown(bike, "2026-03-01T08:00:00Z", 4_180.25);
    assert_eq!(tx.insert_statement(&again).await.unwrap(), Once::Again(first.id));
    let read = tx.odometer_of_bikes(&[bike, other]).await.unwrap();
    assert_eq!(read, [elsewhere.clone(), first.clone(), later.clone()]);

    tx.void_statement(bike, first.id, &voiding("another bike's")).await.unwrap();
    let twice = tx.void_statement(bike, first.id, &voiding("again")).await;
    assert!(matches!(twice, Err(StoreError::Conflict)));
    let nobodys = tx.void_statement(bike, StatementId::generate(), &voiding("none")).await;
    assert!(matches!(nobodys, Err(StoreError::NotFound)));
    assert_eq!(tx.insert_statement(&again).await.unwrap(), Once::New(again.id));
    assert_eq!(tx.odometer_of_bikes(&[bike]).await.unwrap(), [again.clone(), later.clone()]);
    let listed = tx.statements(bike, &PageRequest::default()).await.unwrap().items;
    assert_eq!(listed.first(), Some(&later));
    let voided = listed.iter().find(|statement| statement.id == first.id).unwrap();
    assert_eq!(voided.voided, Some(voiding("another bike's")));
    let nowhere = shown(BikeId::generate(), "2026-03-01T08:00:00Z", 1.0);
    assert!(matches!(tx.insert_statement(&nowhere).await, Err(StoreError::NotFound)));
}

async fn what_was_entered_with_an_event_is_voided_with_it(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let (reading, care) = (ReadingId::generate(), CareId::generate());
    let with = |event, read_at| OdometerStatement { entered_with: Some(event), ..shown(bike, read_at, 10.0) };
    let of_reading = with(EnteredWith::Reading(reading), "2026-03-01T08:00:00Z");
    let of_care = with(EnteredWith::Care(care), "2026-03-01T09:00:00Z");
    for statement in [&of_reading, &of_care] {
        assert!(tx.insert_statement(statement).await.unwrap().is_new());
    }
    tx.void_statement_of(bike, EnteredWith::Reading(reading), &voiding("wrong")).await.unwrap();
    assert_eq!(tx.odometer_of_bikes(&[bike]).await.unwrap(), [of_care]);
}

async fn the_same_use_declared_twice_is_one(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let (bike, other) = (garage.bike("041", "town-8s").await, garage.bike("042", "cargo").await);
    let group = GroupName::new("town-8s").unwrap();
    let declared = |of: UseOf, from: Option<&str>, km: f64| DeclaredUse {
        id: DeclaredUseId::generate(),
        of,
        days: DaysOfUse::new(from.map(|day| day.parse().unwrap()), None).unwrap(),
        per_week: DistanceAWeek::from_km(km).unwrap(),
        entered_at: at("2026-03-02T08:00:00Z"),
    };
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    for of in [UseOf::Bike(bike), UseOf::Group(group.clone())] {
        let first = declared(of.clone(), None, 60.0);
        assert_eq!(tx.insert_declared_use(&first).await.unwrap(), Once::New(first.id));
        let again = declared(of.clone(), None, 60.0);
        assert_eq!(tx.insert_declared_use(&again).await.unwrap(), Once::Again(first.id));
        let dated = declared(of.clone(), Some("2026-03-01"), 60.0);
        assert!(tx.insert_declared_use(&dated).await.unwrap().is_new());
        assert_eq!(tx.declared_use(&of, &PageRequest::default()).await.unwrap().items, [first, dated]);
    }
    let found = tx.declared_use_of(&[bike, other], BTreeSet::from([&group])).await.unwrap();
    assert_eq!(found.len(), 4);
    assert_eq!(tx.declared_use_of(&[other], BTreeSet::new()).await.unwrap(), []);
    let of_groups = tx.declared_use_of_groups(&PageRequest::default()).await.unwrap().items;
    assert_eq!(of_groups.len(), 2);
    let id = of_groups[0].id;
    assert!(matches!(tx.remove_declared_use(bike, id).await, Err(StoreError::NotFound)));
    assert_eq!(tx.remove_declared_use_of_group(id).await.unwrap(), group);
    assert!(matches!(tx.remove_declared_use_of_group(id).await, Err(StoreError::NotFound)));
    tx.mark_group(&group, at("2026-03-02T08:00:00Z")).await.unwrap();
    assert!(tx.is_marked(bike).await.unwrap());
    assert!(!tx.is_marked(other).await.unwrap());
}

async fn a_bike_says_how_far_its_care_is_told(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let id = garage.bike("041", "town-8s").await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let bike = tx.bike(id).await.unwrap();
    assert_eq!(bike.facts.care, None);
    for care in ["every 300 km", "recorded", "unrecorded"].map(|care| Some(care.parse().unwrap())) {
        let bike = tx.bike(id).await.unwrap();
        let facts = wear_api::domain::BikeFacts { care, ..bike.facts };
        tx.update_bike(id, bike.revision, &facts).await.unwrap();
        assert_eq!(tx.bike(id).await.unwrap().facts, facts);
    }
}
