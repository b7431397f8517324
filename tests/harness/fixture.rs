//! A workshop with a bike, for tests that need one to begin with.

use wear_api::domain::{
    BikeFacts, BikeId, Drivetrain, DrivetrainFacts, Fitting, FittingId, FittingStart, GroupName, Label,
    NewBike, NewPart, NewRide, NewToken, PartFacts, PartId, Place, Position, RideFacts, RideIdentity,
    RideLoad, Role, Source, SourceId, Surface, Timestamp, TokenHash, TokenId, TokenSecret, Use, Workshop,
    WorkshopId, WorkshopName, WorkshopSettings,
};
use wear_api::store::{Store, StoreError};
use wear_core::units::RideDistance;

/// A time from its text.
///
/// # Panics
/// When the text is no time.
#[must_use]
pub fn at(text: &str) -> Timestamp {
    text.parse().expect("a time")
}

/// A dry paved ride with a load that is its distance, identified by `source_id`.
///
/// # Panics
/// When a value is out of its range.
#[must_use]
pub fn ride(bike_id: BikeId, source_id: &str, started_at: &str, distance_km: f64) -> NewRide {
    let distance = RideDistance::new(distance_km).expect("a distance");
    let facts = RideFacts::new(distance, None, None, Surface::Paved, false);
    NewRide {
        bike_id,
        identity: RideIdentity {
            source: Source::new("log").expect("a source"),
            source_id: SourceId::new(source_id).expect("a source's id"),
        },
        started_at: at(started_at),
        facts,
        load: RideLoad { base_reference_mm: facts.distance_mm(), energy_j: facts.distance_mm() / 50 },
        moved_from: None,
    }
}

/// A workshop with a manager's token.
pub struct Garage {
    /// The store.
    pub store: Store,
    /// The workshop.
    pub workshop: WorkshopId,
    /// The manager's token.
    pub token: TokenId,
    /// Its hash.
    pub hash: TokenHash,
    /// When it was made: 2026-01-01.
    pub since: Timestamp,
}

impl Garage {
    /// Opens a workshop of that name.
    ///
    /// # Panics
    /// When the store refuses.
    pub async fn open(store: &Store, name: &str) -> Self {
        let since = at("2026-01-01T00:00:00Z");
        let settings =
            WorkshopSettings::defaults(WorkshopName::new(name).expect("a name")).expect("settings");
        let workshop = Workshop { id: WorkshopId::generate(), settings, created_at: since, revision: 1 };
        let hash = TokenSecret::generate().expect("randomness").hash();
        let token = NewToken {
            id: TokenId::generate(),
            hash,
            grant: Role::Manager.into(),
            label: Label::new("first").expect("a label"),
            created_at: since,
        };
        let mut system = store.begin_system_write().await.expect("begins");
        system.insert_workshop(&workshop).await.expect("a new workshop");
        let mut tx = system.enter(workshop.id).await.expect("goes on");
        tx.insert_token(&token).await.expect("a new token");
        tx.commit().await.expect("commits");
        Self { store: store.clone(), workshop: workshop.id, token: token.id, hash, since }
    }

    /// Adds an 8-speed town bike.
    ///
    /// # Panics
    /// When the store refuses.
    pub async fn bike(&self, label: &str, group: &str) -> BikeId {
        let drivetrain = Drivetrain::new(&DrivetrainFacts {
            rings: vec![42],
            cogs: vec![11, 13, 15, 17, 20, 23, 26, 30],
            links: 114,
            ..DrivetrainFacts::default()
        });
        let bike = NewBike {
            id: BikeId::generate(),
            facts: BikeFacts {
                label: Label::new(label).expect("a label"),
                group: GroupName::new(group).expect("a group"),
                usage: Use::Town,
                drivetrain: drivetrain.expect("a drivetrain"),
                is_assumed: false,
                limit: None,
                care: None,
                kind: None,
                external_id: None,
            },
            created_at: self.since,
        };
        let mut tx = self.store.begin_write(self.workshop).await.expect("begins");
        tx.insert_bike(&bike).await.expect("a new bike");
        tx.commit().await.expect("commits");
        bike.id
    }

    /// Fits a new chain to a bike.
    ///
    /// # Errors
    /// What the store answers.
    pub async fn chain(&self, bike: BikeId, fitted_at: &str) -> Result<Fitting, StoreError> {
        let facts = PartFacts { model_id: None, place: Place::Chain, label: None };
        let part = NewPart { id: PartId::generate(), facts, created_at: self.since };
        let fitting = Fitting {
            id: FittingId::generate(),
            part_id: part.id,
            bike_id: bike,
            place: Place::Chain,
            position: Position::default(),
            fitted_at: at(fitted_at),
            removed_at: None,
            start: FittingStart::New,
        };
        let mut tx = self.store.begin_write(self.workshop).await?;
        tx.insert_part(&part).await?;
        tx.insert_fitting(&fitting).await?;
        tx.commit().await?;
        Ok(fitting)
    }
}
