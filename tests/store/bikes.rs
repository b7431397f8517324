//! Bikes, part models, parts, fittings and swaps.

use chrono_tz::Tz;
use std::collections::BTreeSet;

use wear_api::domain::{
    Bike, BikeFilter, BikeId, BikePatch, BikeSort, Checklist, Cursor, Drivetrain, DrivetrainFacts, Fitting,
    FittingId, Gearing, Geometry, GroupName, Label, Money, NewPart, NewSwap, Note, Once, PageRequest,
    PageSize, Part, PartFacts, PartId, PartModel, PartModelFacts, PartModelId, Place, Position, SwapId,
    SwapReason, Teeth, Use, Voiding,
};
use wear_api::store::StoreError;
use wear_core::units::{JockeyTeeth, Limit};
use wear_tests::{Garage, TestStore, at, on_both_stores};

on_both_stores![
    a_bike_reads_back_as_it_was_set,
    a_stale_change_is_refused,
    a_retired_bike_leaves_the_list_and_keeps_its_history,
    lists_go_by_label_and_by_age,
    a_search_takes_signs_for_what_they_are,
    every_shape_of_part_model_reads_back,
    a_part_fits_its_models_place,
    a_place_holds_one_part_and_a_part_is_on_one_bike,
    a_late_swap_moves_the_ends_of_fittings,
    a_swap_counts_once_and_is_voided_once,
];

async fn a_bike_reads_back_as_it_was_set(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let id = garage.bike("041", "town-8s").await;
    let drivetrains = [
        DrivetrainFacts { rings: vec![44], cogs: vec![18], links: 98, ..DrivetrainFacts::default() },
        DrivetrainFacts {
            rings: vec![40],
            cogs: vec![20],
            links: 108,
            gearing: Some(Gearing::HubGear),
            wheel_circumference_mm: Some(2_215),
            ..DrivetrainFacts::default()
        },
        DrivetrainFacts {
            rings: vec![50, 34],
            cogs: vec![11, 12, 13, 14, 15, 17, 19, 21, 24, 27, 30],
            links: 112,
            jockey_teeth: Some(13),
            light_metal_cogs: true,
            ..DrivetrainFacts::default()
        },
    ];
    let mut revision = 1;
    for facts in drivetrains {
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        let before = tx.bike(id).await.unwrap();
        let patch = BikePatch {
            label: Some(Label::new("Nº 7 – “red”").unwrap()),
            group: Some(GroupName::new("Cargo").unwrap()),
            usage: Some(Use::Cargo),
            drivetrain: Some(Drivetrain::new(&facts).unwrap()),
            limit: Some(Some(Limit::new(0.65).unwrap())),
            care: Some(Some("every 300 km".parse().unwrap())),
            ..BikePatch::default()
        };
        let facts = patch.apply(before.facts);
        revision = tx.update_bike(id, revision, &facts).await.unwrap();
        let expected = Bike {
            id,
            facts,
            app: None,
            rider: None,
            created_at: garage.since,
            retired_at: None,
            revision,
            days_zone: Tz::UTC,
            rides_compared: true,
        };
        assert_eq!(tx.bike(id).await.unwrap(), expected);
        assert_eq!(tx.bikes_by_id(&[id, id, BikeId::generate()]).await.unwrap(), [(id, expected)].into());
        tx.commit().await.unwrap();
    }
    assert_eq!(revision, 4);
}

async fn a_stale_change_is_refused(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let id = garage.bike("041", "town-8s").await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let facts = tx.bike(id).await.unwrap().facts;
    assert_eq!(tx.update_bike(id, 1, &facts).await.unwrap(), 2);
    assert!(matches!(tx.update_bike(id, 1, &facts).await, Err(StoreError::Conflict)));
    assert!(matches!(tx.update_bike(BikeId::generate(), 1, &facts).await, Err(StoreError::NotFound)));
}

async fn a_retired_bike_leaves_the_list_and_keeps_its_history(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let id = garage.bike("041", "town-8s").await;
    let chain = garage.chain(id, "2026-01-01T00:00:00Z").await.unwrap();
    let when = at("2026-05-01T00:00:00Z");
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.mark_bikes(&[id], when).await.unwrap();
    assert_eq!(tx.retire_bike(id, 1, when).await.unwrap(), 2);
    assert!(matches!(tx.retire_bike(id, 2, when).await, Err(StoreError::Conflict)));
    assert!(!tx.is_marked(id).await.unwrap());
    assert_eq!(tx.bike(id).await.unwrap().retired_at, Some(when));
    assert_eq!(tx.fittings_of_bike(id).await.unwrap(), [chain]);
    assert_eq!(tx.groups().await.unwrap(), []);
    for (with_retired, count) in [(false, 0), (true, 1)] {
        for sort in [BikeSort::Created, BikeSort::Label] {
            let filter = BikeFilter { with_retired, ..BikeFilter::default() };
            let page = tx.bikes(&filter, sort, &PageRequest::default()).await.unwrap();
            assert_eq!(page.items.len(), count);
        }
    }
}

async fn listed(store: &TestStore, garage: &Garage, filter: &BikeFilter, sort: BikeSort) -> Vec<String> {
    let mut tx = store.store.begin_read(garage.workshop).await.unwrap();
    let (mut labels, mut after): (Vec<String>, Option<Cursor>) = (Vec::new(), None);
    loop {
        let page = tx
            .bikes(filter, sort, &PageRequest { after: after.clone(), size: PageSize::new(2).unwrap() })
            .await
            .unwrap();
        labels.extend(page.items.into_iter().map(|bike| bike.facts.label.to_string()));
        after = page.next;
        if after.is_none() {
            return labels;
        }
    }
}

async fn lists_go_by_label_and_by_age(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    for label in ["b", "a-2", "A", "É", "a 1", "Z"] {
        garage.bike(label, "town-8s").await;
    }
    let by_age = listed(&store, &garage, &BikeFilter::default(), BikeSort::Created).await;
    assert_eq!(by_age, ["b", "a-2", "A", "É", "a 1", "Z"]);
    // By the bytes of the label in lower case, whatever the server's locale.
    let by_label = listed(&store, &garage, &BikeFilter::default(), BikeSort::Label).await;
    assert_eq!(by_label, ["A", "a 1", "a-2", "b", "Z", "É"]);
}

async fn a_search_takes_signs_for_what_they_are(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    for (label, group) in [("100%", "town"), ("100", "town_8s"), ("Straße!", "Cargo"), ("7\\8", "cargo-2")] {
        garage.bike(label, group).await;
    }
    for (search, expected) in [
        ("100", vec!["100%", "100"]),
        ("0%", vec!["100%"]),
        ("N_8", vec!["100"]),
        ("STRASSE", vec![]),
        ("TRAßE!", vec!["Straße!"]),
        ("\\", vec!["7\\8"]),
        ("CARGO", vec!["Straße!", "7\\8"]),
        ("", vec!["100%", "100", "Straße!", "7\\8"]),
    ] {
        let filter = BikeFilter { search: Some(search.to_owned()), ..BikeFilter::default() };
        assert_eq!(listed(&store, &garage, &filter, BikeSort::Created).await, expected, "{search}");
    }
    let group = Some(GroupName::new("Cargo").unwrap());
    let filter = BikeFilter { group, ..BikeFilter::default() };
    assert_eq!(listed(&store, &garage, &filter, BikeSort::Label).await, ["Straße!"]);
}

async fn every_shape_of_part_model_reads_back(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let teeth = |count| Teeth::new(count).unwrap();
    let shapes = [
        Geometry::Chain { sprockets: Some(8) },
        Geometry::Chain { sprockets: None },
        Geometry::Cassette { cogs: vec![teeth(11), teeth(30)], one_piece: true },
        Geometry::Cog { teeth: teeth(15) },
        Geometry::Ring { teeth: teeth(42), narrow_wide: true },
        Geometry::JockeyWheels { teeth: JockeyTeeth::new(8).unwrap() },
    ];
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let mut models = Vec::new();
    for (count, geometry) in shapes.into_iter().enumerate() {
        let price = (count % 2 == 0).then(|| Money::new(1_999, "EUR".parse().unwrap()).unwrap());
        let facts = PartModelFacts {
            name: Label::new(&format!("model {count}")).unwrap(),
            geometry,
            price,
            limit: (count == 0).then(|| Limit::new(0.5).unwrap()),
        };
        let model = PartModel { id: PartModelId::generate(), facts, created_at: garage.since, revision: 1 };
        tx.insert_part_model(&model).await.unwrap();
        assert_eq!(tx.part_model(model.id).await.unwrap(), model);
        models.push(model);
    }
    assert_eq!(tx.part_models(&PageRequest::default()).await.unwrap().items, models);
    let changed = PartModelFacts { price: None, limit: None, ..models[0].facts.clone() };
    assert_eq!(tx.update_part_model(models[0].id, 1, &changed).await.unwrap(), 2);
    assert_eq!(tx.part_model(models[0].id).await.unwrap().facts, changed);
    let other_place = PartModelFacts { geometry: models[3].facts.geometry.clone(), ..changed };
    assert!(matches!(tx.update_part_model(models[0].id, 2, &other_place).await, Err(StoreError::Conflict)));
}

async fn a_part_fits_its_models_place(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let facts = PartModelFacts {
        name: Label::new("8-speed chain").unwrap(),
        geometry: Geometry::Chain { sprockets: Some(8) },
        price: None,
        limit: None,
    };
    let model = PartModel { id: PartModelId::generate(), facts, created_at: garage.since, revision: 1 };
    let part = |place| NewPart {
        id: PartId::generate(),
        facts: PartFacts { model_id: Some(model.id), place, label: Some(Label::new("c1").unwrap()) },
        created_at: garage.since,
    };
    let chain = part(Place::Chain);
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.insert_part_model(&model).await.unwrap();
    tx.insert_part(&chain).await.unwrap();
    let retired = Some(at("2026-06-01T00:00:00Z"));
    assert_eq!(tx.update_part(chain.id, 1, Some(model.id), None, retired).await.unwrap(), 2);
    let facts = PartFacts { label: None, ..chain.facts.clone() };
    let expected = Part { id: chain.id, facts, created_at: garage.since, retired_at: retired, revision: 2 };
    assert_eq!(tx.part(chain.id).await.unwrap(), expected);
    let chains = tx.parts(Some(Place::Chain), &PageRequest::default()).await.unwrap();
    assert_eq!((chains.items, chains.next), (vec![expected], None));
    assert_eq!(tx.parts(Some(Place::Ring), &PageRequest::default()).await.unwrap().items, []);
    tx.commit().await.unwrap();
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert!(matches!(tx.insert_part(&part(Place::Ring)).await, Err(StoreError::NotFound)));
}

async fn a_place_holds_one_part_and_a_part_is_on_one_bike(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let (bike, other) = (garage.bike("041", "town-8s").await, garage.bike("042", "town-8s").await);
    let chain = garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    assert!(matches!(garage.chain(bike, "2026-02-01T00:00:00Z").await, Err(StoreError::Conflict)));
    let elsewhere = Fitting { id: FittingId::generate(), bike_id: other, ..chain.clone() };
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert!(matches!(tx.insert_fitting(&elsewhere).await, Err(StoreError::Conflict)));
    let off = at("2026-03-01T00:00:00Z");
    tx.close_fitting(bike, chain.id, off).await.unwrap();
    assert!(matches!(tx.close_fitting(bike, chain.id, off).await, Err(StoreError::Conflict)));
    let again = Fitting { fitted_at: off, ..elsewhere };
    tx.insert_fitting(&again).await.unwrap();
    assert_eq!(tx.open_fittings(bike).await.unwrap(), []);
    assert_eq!(tx.open_fittings(other).await.unwrap(), std::slice::from_ref(&again));
    let closed = Fitting { removed_at: Some(off), ..chain };
    assert_eq!(tx.fittings_of_part(again.part_id).await.unwrap(), [closed, again.clone()]);
    let as_ring = Fitting { id: FittingId::generate(), place: Place::Ring, bike_id: bike, ..again };
    assert!(matches!(tx.insert_fitting(&as_ring).await, Err(StoreError::NotFound | StoreError::Conflict)));
}

async fn a_late_swap_moves_the_ends_of_fittings(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let first = garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.close_fitting(bike, first.id, at("2026-06-01T00:00:00Z")).await.unwrap();
    tx.move_fitting(bike, first.id, first.fitted_at, Some(at("2026-03-01T00:00:00Z"))).await.unwrap();
    tx.commit().await.unwrap();
    let second = garage.chain(bike, "2026-03-01T00:00:00Z").await.unwrap();
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    let all = tx.fittings_of_bike(bike).await.unwrap();
    assert_eq!(all.iter().map(|fitting| fitting.id).collect::<Vec<_>>(), [first.id, second.id]);
    assert!(!all[0].covers(at("2026-03-01T00:00:00Z")) && all[1].covers(at("2026-03-01T00:00:00Z")));
    let opened = tx.move_fitting(bike, first.id, first.fitted_at, None).await;
    assert!(matches!(opened, Err(StoreError::Conflict)), "{opened:?}");
}

async fn a_swap_counts_once_and_is_voided_once(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let off = garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.close_fitting(bike, off.id, at("2026-03-01T00:00:00Z")).await.unwrap();
    tx.commit().await.unwrap();
    let on = garage.chain(bike, "2026-03-01T00:00:00Z").await.unwrap();
    let swap = NewSwap {
        id: SwapId::generate(),
        bike_id: bike,
        swapped_at: at("2026-03-01T00:00:00Z"),
        place: Place::Chain,
        position: Position::default(),
        off_part_id: Some(off.part_id),
        on_part_id: on.part_id,
        model_id: None,
        reading_id: None,
        note: Some(Note::new("two\nlines").unwrap()),
        from_shelf: false,
        checklist: Some(Checklist::new(["link_seated", "end_stops", "link_seated"]).unwrap()),
        reason: Some(SwapReason::Damaged),
    };
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.insert_swap(&swap).await.unwrap(), Once::New(swap.id));
    let again = NewSwap { id: SwapId::generate(), ..swap.clone() };
    assert_eq!(tx.insert_swap(&again).await.unwrap(), Once::Again(swap.id));
    let listed = tx.swaps(bike, &PageRequest::default()).await.unwrap().items;
    assert_eq!(listed.iter().map(|swap| &swap.facts).collect::<Vec<_>>(), [&swap]);
    let voiding = Voiding { at: at("2026-03-02T00:00:00Z"), reason: Note::new("wrong bike").unwrap() };
    tx.void_swap(bike, swap.id, &voiding).await.unwrap();
    assert!(matches!(tx.void_swap(bike, swap.id, &voiding).await, Err(StoreError::Conflict)));
    assert_eq!(tx.swap(bike, swap.id).await.unwrap().voided, Some(voiding));
    assert_eq!(tx.insert_swap(&again).await.unwrap(), Once::New(again.id));
    let ids: BTreeSet<SwapId> = tx
        .swaps(bike, &PageRequest::default())
        .await
        .unwrap()
        .items
        .iter()
        .map(|swap| swap.facts.id)
        .collect();
    assert_eq!(ids, BTreeSet::from([swap.id, again.id]));
}
