//! Workshops, their settings and tokens, and the audit list.

use serde_json::json;
use wear_api::domain::{
    AuditEntry, AuditId, BikeFilter, BikeSort, Calibration, Costs, Cursor, DefaultLimits, Instrument, Label,
    Language, NewToken, PageRequest, PageSize, Role, SoonDays, TokenId, TokenSecret, UnitsShown, Workshop,
    WorkshopId, WorkshopName, WorkshopSettings, parse_time_zone,
};
use wear_api::store::StoreError;
use wear_core::units::{InstrumentBias, InstrumentSd, Limit, Probability};
use wear_tests::{Garage, TestStore, at, on_both_stores};

on_both_stores![
    settings_read_back_as_they_were_set,
    names_are_used_once_whatever_the_case,
    a_token_opens_its_workshop_until_it_is_revoked,
    a_token_is_noted_as_used_now_and_then,
    another_workshops_things_are_not_there,
    the_audit_list_only_grows,
    what_is_not_committed_is_not_there,
];

async fn settings_read_back_as_they_were_set(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let settings = WorkshopSettings {
        name: WorkshopName::new("Häfen 'n' \"Docks\"").unwrap(),
        time_zone: parse_time_zone("Europe/Dublin").unwrap(),
        language: Language::De,
        units_shown: UnitsShown::Miles,
        currency: "JPY".parse().unwrap(),
        risk: Probability::new(0.1).unwrap(),
        limits: DefaultLimits {
            eleven_or_more: Some(Limit::new(0.4).unwrap()),
            up_to_ten: None,
            single_sprocket: Some(Limit::new(1.1).unwrap()),
        },
        costs: Costs { swap_labour_minor: 1_500, reading_minor: 200, failure_minor: 0 },
        calibrations: vec![Calibration {
            instrument: Instrument::Dial,
            bias: InstrumentBias::new(-0.013).unwrap(),
            sd: InstrumentSd::new(0.0201).unwrap(),
        }],
        care: Some("every 2 weeks".parse().unwrap()),
        soon_days: SoonDays::new(14).unwrap(),
    };
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.update_workshop(1, &settings).await.unwrap(), 2);
    assert!(matches!(tx.update_workshop(1, &settings).await, Err(StoreError::Conflict)));
    tx.commit().await.unwrap();
    let mut tx = store.store.begin_read(garage.workshop).await.unwrap();
    let expected = Workshop { id: garage.workshop, settings, created_at: garage.since, revision: 2 };
    assert_eq!(tx.workshop().await.unwrap(), expected);
}

async fn names_are_used_once_whatever_the_case(store: TestStore) {
    let garage = Garage::open(&store.store, "Häfen").await;
    let mut system = store.store.begin_system_write().await.unwrap();
    let found = system.find_workshop(&WorkshopName::new("HÄFEN").unwrap()).await.unwrap();
    assert_eq!(found.map(|workshop| workshop.id), Some(garage.workshop));
    assert_eq!(system.find_workshop(&WorkshopName::new("Hafen").unwrap()).await.unwrap(), None);
    let settings = WorkshopSettings::defaults(WorkshopName::new("häfen").unwrap()).unwrap();
    let second = Workshop { id: WorkshopId::generate(), settings, created_at: garage.since, revision: 1 };
    assert!(matches!(system.insert_workshop(&second).await, Err(StoreError::Conflict)));
    assert_eq!(system.workshop_ids().await.unwrap(), [garage.workshop]);
}

async fn a_token_opens_its_workshop_until_it_is_revoked(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let other = Garage::open(&store.store, "Hill").await;
    let secret = TokenSecret::generate().unwrap();
    let token = NewToken {
        id: TokenId::generate(),
        hash: secret.hash(),
        grant: Role::App.into(),
        label: Label::new("phone").unwrap(),
        created_at: garage.since,
    };
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.insert_token(&token).await.unwrap();
    tx.commit().await.unwrap();
    let mut system = store.store.begin_system_read().await.unwrap();
    let found = system.find_token(&secret.hash()).await.unwrap().unwrap();
    assert_eq!((found.id, found.workshop_id, found.grant), (token.id, garage.workshop, Role::App.into()));
    assert_eq!(system.find_token(&TokenSecret::generate().unwrap().hash()).await.unwrap(), None);
    drop(system);
    let mut foreign = store.store.begin_write(other.workshop).await.unwrap();
    assert!(matches!(
        foreign.revoke_token(token.id, at("2026-02-01T00:00:00Z")).await,
        Err(StoreError::NotFound)
    ));
    drop(foreign);
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.revoke_token(token.id, at("2026-02-01T00:00:00Z")).await.unwrap();
    tx.revoke_token(token.id, at("2026-03-01T00:00:00Z")).await.unwrap();
    let listed = tx.tokens(&PageRequest::default()).await.unwrap().items;
    assert_eq!(listed.len(), 2);
    assert_eq!(listed[1].revoked_at, Some(at("2026-02-01T00:00:00Z")));
    tx.commit().await.unwrap();
    let mut system = store.store.begin_system_read().await.unwrap();
    assert_eq!(system.find_token(&secret.hash()).await.unwrap(), None);
}

async fn a_token_is_noted_as_used_now_and_then(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let uses = ["2026-02-01T08:00:00Z", "2026-02-01T08:00:59Z", "2026-02-01T08:01:01Z"];
    let mut noted = Vec::new();
    for used in uses {
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        tx.touch_token(garage.token, at(used)).await.unwrap();
        noted.push(tx.tokens(&PageRequest::default()).await.unwrap().items[0].last_used_at);
        tx.commit().await.unwrap();
    }
    assert_eq!(noted, [Some(at(uses[0])), Some(at(uses[0])), Some(at(uses[2]))]);
}

async fn another_workshops_things_are_not_there(store: TestStore) {
    let own = Garage::open(&store.store, "Harbour").await;
    let other = Garage::open(&store.store, "Hill").await;
    let bike = own.bike("041", "town-8s").await;
    let chain = own.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    let mut tx = store.store.begin_write(other.workshop).await.unwrap();
    assert!(matches!(tx.bike(bike).await, Err(StoreError::NotFound)));
    assert!(matches!(tx.part(chain.part_id).await, Err(StoreError::NotFound)));
    assert!(matches!(tx.fitting(bike, chain.id).await, Err(StoreError::NotFound)));
    assert_eq!(tx.fittings_of_bike(bike).await.unwrap(), []);
    assert_eq!(tx.outlook(bike).await.unwrap(), None);
    let all = tx.bikes(&BikeFilter::default(), BikeSort::Label, &PageRequest::default()).await.unwrap();
    assert_eq!(all.items, []);
    assert!(tx.bikes_by_id(&[bike]).await.unwrap().is_empty());
    let now = at("2026-02-01T00:00:00Z");
    assert!(matches!(tx.retire_bike(bike, 1, now).await, Err(StoreError::NotFound)));
    assert!(matches!(tx.mark_bikes(&[bike], now).await, Err(StoreError::NotFound)));
}

async fn the_audit_list_only_grows(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let entry = |action: &str| AuditEntry {
        id: AuditId::generate(),
        at: garage.since,
        token_id: Some(garage.token),
        action: action.to_owned(),
        subject: "bikes/041".to_owned(),
        detail: json!({"reason": "wrong bike", "n": 0.1}),
    };
    let entries = [entry("bike.create"), entry("reading.void"), entry("bike.retire")];
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    for entry in &entries {
        tx.append_audit(entry).await.unwrap();
    }
    let first = tx.audit(&PageRequest::first(PageSize::new(2).unwrap())).await.unwrap();
    assert_eq!(first.items, [entries[2].clone(), entries[1].clone()]);
    assert_eq!(first.next, Some(Cursor::Id(entries[1].id.uuid())));
    let rest =
        tx.audit(&PageRequest { after: first.next.clone(), size: PageSize::new(2).unwrap() }).await.unwrap();
    assert_eq!((rest.items, rest.next), (vec![entries[0].clone()], None));
    tx.commit().await.unwrap();
    for statement in ["update audit set action = 'x'", "delete from audit"] {
        let error = raw(&store, &garage, statement).await.unwrap_err().to_string();
        assert!(error.contains("the audit list only grows"), "{error}");
    }
}

/// A statement past the store's own methods, as someone with a console would send it.
async fn raw(store: &TestStore, garage: &Garage, statement: &'static str) -> Result<(), sqlx::Error> {
    use sqlx::{Connection, Executor};
    if store.url.starts_with("sqlite:") {
        let mut connection = sqlx::SqliteConnection::connect(&store.url).await?;
        return connection.execute(statement).await.map(|_| ());
    }
    let mut connection = sqlx::PgConnection::connect(&store.url).await?;
    let mut transaction = connection.begin().await?;
    sqlx::query("select set_config('wear.workshop', $1, true)")
        .bind(garage.workshop.to_string())
        .execute(&mut *transaction)
        .await?;
    transaction.execute(statement).await.map(|_| ())
}

async fn what_is_not_committed_is_not_there(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.mark_bikes(&[bike], at("2026-02-01T00:00:00Z")).await.unwrap();
    assert!(tx.is_marked(bike).await.unwrap());
    drop(tx);
    let mut tx = store.store.begin_read(garage.workshop).await.unwrap();
    assert!(!tx.is_marked(bike).await.unwrap());
}
