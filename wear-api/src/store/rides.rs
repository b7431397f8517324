//! Rides.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::{instant, maybe_instant};
use super::many::Many;
use super::{Tx, execute, on, row_if_any, rows, statements};
use crate::domain::{
    BikeId, NewRide, Page, PageRequest, Ride, RideFacts, RideId, RideIdentity, RideLoad, RideOutcome, Source,
    SourceId, Timestamp,
};

const TABLE: &str = "rides";

statements! {
    AFTER = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at
        from rides where workshop_id = $1 and deleted_at is null and (bike_id, ride_id) > ($2, $3)
        order by bike_id, ride_id limit $4";
    GET = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at
        from rides where workshop_id = $1 and deleted_at is null and bike_id = $2 and ride_id = $3";
    BETWEEN = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at
        from rides where workshop_id = $1 and deleted_at is null and bike_id = $2 and started_at >= $3 and started_at < $4
        order by started_at, ride_id";
    LIST = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at
        from rides where workshop_id = $1 and deleted_at is null and bike_id = $2 and (started_at, ride_id) < ($3, $4)
        order by started_at desc, ride_id desc limit $5";
    DELETE = "
        update rides set deleted_at = $5, revision = revision + 1
        where workshop_id = $1 and bike_id = $2 and ride_id = $3 and revision = $4 and deleted_at is null
        returning bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm,
            energy_j, base_reference_mm, load_energy_j, revision, deleted_at";
    GET_DELETED = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at
        from rides where workshop_id = $1 and bike_id = $2 and ride_id = $3 and deleted_at is not null";
    RESTORE = "
        update rides set deleted_at = null, revision = revision + 1, base_reference_mm = $4, load_energy_j = $5
        where workshop_id = $1 and bike_id = $2 and ride_id = $3 and deleted_at is not null
        returning bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm,
            energy_j, base_reference_mm, load_energy_j, revision, deleted_at";
    SET_LOAD = "
        update rides set base_reference_mm = $4, load_energy_j = $5
        where workshop_id = $1 and bike_id = $2 and ride_id = $3";
}

const INTO: &str = "
    insert into rides (workshop_id, bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm,
        climb_mm, energy_j, base_reference_mm, load_energy_j, revision)
    values ";
const ROW: &str = "($1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";

static INSERT: LazyLock<Many> = LazyLock::new(|| {
    Many::new(INTO, ROW, 1, " on conflict (workshop_id, source, source_id) do nothing returning ride_id")
});

static FIND: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up("select * from rides where workshop_id = $1 and source = ? and source_id = ?")
});

/// `excluded.revision` is one more than the revision that was read: a ride that someone else changed since
/// isn't touched, and isn't returned.
static REPLACE: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        INTO,
        ROW,
        1,
        " on conflict (workshop_id, source, source_id) do update set
            bike_id = excluded.bike_id, started_at = excluded.started_at, surface = excluded.surface,
            wet = excluded.wet, distance_mm = excluded.distance_mm, climb_mm = excluded.climb_mm,
            energy_j = excluded.energy_j, base_reference_mm = excluded.base_reference_mm,
            load_energy_j = excluded.load_energy_j, revision = excluded.revision
        where rides.revision + 1 = excluded.revision and rides.ride_id = excluded.ride_id
        returning ride_id",
    )
});

static OF_THESE_BIKES: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select * from rides
         where workshop_id = $1 and deleted_at is null and bike_id = ? and started_at >= ? and started_at < ?",
    )
});

pub(super) fn of_these_bikes() -> &'static [&'static str] {
    OF_THESE_BIKES.texts()
}

pub(super) fn insert_statements() -> &'static [&'static str] {
    INSERT.texts()
}

pub(super) fn find_statements() -> &'static [&'static str] {
    FIND.texts()
}

pub(super) fn replace_statements() -> &'static [&'static str] {
    REPLACE.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    ride_id: Uuid,
    source: String,
    source_id: String,
    started_at: i64,
    surface: String,
    wet: bool,
    distance_mm: i64,
    climb_mm: Option<i64>,
    energy_j: Option<i64>,
    base_reference_mm: i64,
    load_energy_j: i64,
    revision: i64,
    deleted_at: Option<i64>,
}

impl TryFrom<Row> for Ride {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            bike_id,
            ride_id,
            source,
            source_id,
            started_at,
            surface,
            wet,
            distance_mm,
            climb_mm,
            energy_j,
            base_reference_mm,
            load_energy_j,
            revision,
            deleted_at,
        } = row;
        let surface = surface.parse().sound(TABLE, "surface")?;
        Ok(Self {
            id: RideId::from_uuid(ride_id),
            bike_id: BikeId::from_uuid(bike_id),
            identity: RideIdentity {
                source: Source::new(&source).sound(TABLE, "source")?,
                source_id: SourceId::new(&source_id).sound(TABLE, "source_id")?,
            },
            started_at: instant(started_at, TABLE, "started_at")?,
            facts: RideFacts::stored(distance_mm, climb_mm, energy_j, surface, wet)
                .sound(TABLE, "distance_mm")?,
            load: RideLoad { base_reference_mm, energy_j: load_energy_j },
            revision,
            deleted_at: maybe_instant(deleted_at, TABLE, "deleted_at")?,
        })
    }
}

fn all(rows: Vec<Row>) -> Result<Vec<Ride>, StoreError> {
    rows.into_iter().map(Ride::try_from).collect()
}

/// What is known of one identity while a batch goes through.
struct State {
    ride: Ride,
    /// The revision in the table.
    stored_revision: i64,
    /// Whether the table has to follow.
    changed: bool,
}

impl Tx {
    /// At most so many of the workshop's rides after one of a bike, by bike and id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn rides_after(&mut self, after: (Uuid, Uuid), most: i64) -> Result<Vec<Ride>, StoreError> {
        self.after_on_bikes::<Row, _>(AFTER, after, most).await
    }

    /// The identities among these that rides of bikes beyond this transaction's reach have. Nothing is asked where the
    /// reach is the workshop.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn taken_beyond_reach(
        &mut self,
        rides: &[NewRide],
    ) -> Result<BTreeSet<RideIdentity>, StoreError> {
        if !self.reach.is_bound() {
            return Ok(BTreeSet::new());
        }
        let identities: Vec<RideIdentity> = rides.iter().map(|ride| ride.identity.clone()).collect();
        let known = self.find_rides(&identities).await?;
        let bikes: Vec<BikeId> = known.iter().map(|ride| ride.bike_id).collect();
        let seen = self.bikes_by_id(&bikes).await?;
        let beyond = known.into_iter().filter(|ride| !seen.contains_key(&ride.bike_id));
        Ok(beyond.map(|ride| ride.identity).collect())
    }

    /// Inserts those rides that are new, and says what each ride does, as if they came one by one, together
    /// with the known rides that [`Tx::replace_rides`] has to change.
    pub(super) async fn insert_new_rides(
        &mut self,
        rides: &[NewRide],
    ) -> Result<(Vec<RideOutcome>, Vec<Ride>), StoreError> {
        let mut first: BTreeMap<&RideIdentity, Ride> = BTreeMap::new();
        for ride in rides {
            first.entry(&ride.identity).or_insert_with(|| begin(ride, RideId::generate(), 1));
        }
        // In order of identity, so that two batches that meet wait for each other in one direction.
        let candidates: Vec<Ride> = first.into_values().collect();
        let inserted = self.write_rides(&INSERT, &candidates).await?;
        let mut states: BTreeMap<RideIdentity, State> = BTreeMap::new();
        let mut known = Vec::new();
        for ride in candidates {
            if inserted.binary_search(&ride.id).is_ok() {
                let state = State { ride, stored_revision: 1, changed: false };
                states.insert(state.ride.identity.clone(), state);
            } else {
                known.push(ride.identity);
            }
        }
        for ride in self.find_rides(&known).await? {
            let state = State { stored_revision: ride.revision, changed: false, ride };
            states.insert(state.ride.identity.clone(), state);
        }
        let mut outcomes = Vec::with_capacity(rides.len());
        let mut seen_new = inserted.iter().map(|id| (*id, false)).collect::<BTreeMap<_, _>>();
        for new in rides {
            // A ride that was there when we inserted and is gone now was deleted by another transaction.
            let state = states.get_mut(&new.identity).ok_or(StoreError::Interrupted)?;
            match seen_new.get_mut(&state.ride.id) {
                Some(seen) if !*seen => {
                    *seen = true;
                    outcomes.push(RideOutcome::Inserted(state.ride.clone()));
                }
                _ if state.ride.deleted_at.is_some() => {
                    outcomes.push(RideOutcome::Deleted(state.ride.clone()));
                }
                _ if new.says_the_same(&state.ride) => {
                    outcomes.push(RideOutcome::Unchanged(state.ride.clone()));
                }
                _ => {
                    let now = begin(new, state.ride.id, state.stored_revision + 1);
                    let old = std::mem::replace(&mut state.ride, now.clone());
                    state.changed = true;
                    outcomes.push(RideOutcome::Replaced { old, new: now });
                }
            }
        }
        let changed = states.into_values().filter(|state| state.changed).map(|state| state.ride).collect();
        Ok((outcomes, changed))
    }

    /// Changes rides to what they say now, where nobody else has changed them since they were read.
    pub(super) async fn replace_rides(&mut self, rides: &[Ride]) -> Result<(), StoreError> {
        let replaced = self.write_rides(&REPLACE, rides).await?.len();
        if replaced == rides.len() { Ok(()) } else { Err(StoreError::Interrupted) }
    }

    /// Ids of the rows that were written, in order.
    async fn write_rides(&mut self, many: &Many, rides: &[Ride]) -> Result<Vec<RideId>, StoreError> {
        let mut written = Vec::with_capacity(rides.len());
        for (sql, batch) in many.batches(self.engine(), rides) {
            let ids: Vec<Uuid> = on!(self.connection, |conn| {
                let mut query = sqlx::query_scalar(sql).bind(self.workshop.uuid());
                for ride in batch {
                    let Ride { id, bike_id, identity, started_at, facts, load, revision, deleted_at: _ } =
                        ride;
                    query = query
                        .bind(bike_id.uuid())
                        .bind(id.uuid())
                        .bind(identity.source.as_str())
                        .bind(identity.source_id.as_str())
                        .bind(started_at.micros())
                        .bind(facts.surface.as_str())
                        .bind(facts.wet)
                        .bind(facts.distance_mm())
                        .bind(facts.climb_mm())
                        .bind(facts.energy_j())
                        .bind(load.base_reference_mm)
                        .bind(load.energy_j)
                        .bind(*revision);
                }
                query.fetch_all(conn).await
            })?;
            written.extend(ids.into_iter().map(RideId::from_uuid));
        }
        written.sort_unstable();
        Ok(written)
    }

    /// Those rides of the identities that there are, deleted ones too, in no order.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn find_rides(&mut self, identities: &[RideIdentity]) -> Result<Vec<Ride>, StoreError> {
        let mut rides = Vec::with_capacity(identities.len());
        for (sql, batch) in FIND.batches(self.engine(), identities) {
            let rows: Vec<Row> = on!(self.connection, |conn| {
                let mut query = sqlx::query_as(sql).bind(self.workshop.uuid());
                for RideIdentity { source, source_id } in batch {
                    query = query.bind(source.as_str()).bind(source_id.as_str());
                }
                query.fetch_all(conn).await
            })?;
            rides.append(&mut all(rows)?);
        }
        Ok(rides)
    }

    /// A ride.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn ride(&mut self, bike: BikeId, id: RideId) -> Result<Ride, StoreError> {
        self.one_on_bike::<Row, _>(GET, bike, id.uuid()).await
    }

    /// A bike's rides that began from `from` up to, but not at, `to`, in order of time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn rides_between(
        &mut self,
        bike: BikeId,
        from: Timestamp,
        to: Timestamp,
    ) -> Result<Vec<Ride>, StoreError> {
        all(rows!(self, BETWEEN, bike.uuid(), from.micros(), to.micros())?)
    }

    /// The rides of bikes that began in a span each, its end not included, in no order.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn rides_of(
        &mut self,
        spans: &[(BikeId, Timestamp, Timestamp)],
    ) -> Result<Vec<Ride>, StoreError> {
        let spans: Vec<(BikeId, i64, i64)> =
            spans.iter().map(|(bike, from, to)| (*bike, from.micros(), to.micros())).collect();
        self.rows_between::<Row, _>(&OF_THESE_BIKES, &spans).await
    }

    /// A bike's rides, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn rides(&mut self, bike: BikeId, page: &PageRequest) -> Result<Page<Ride>, StoreError> {
        self.latest_on_bike::<Row, _>(LIST, bike, page, |ride: &Ride| (ride.started_at, ride.id.uuid())).await
    }

    /// Deletes a ride, which leaves a tombstone, and returns what it said, for the rollup.
    pub(super) async fn delete_ride(
        &mut self,
        bike: BikeId,
        id: RideId,
        revision: i64,
        at: Timestamp,
    ) -> Result<Ride, StoreError> {
        let deleted: Option<Row> = row_if_any!(self, DELETE, bike.uuid(), id.uuid(), revision, at.micros())?;
        match deleted {
            Some(row) => row.try_into(),
            None => Err(self.ride(bike, id).await.err().unwrap_or(StoreError::Conflict)),
        }
    }

    /// A ride that was deleted.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn deleted_ride(&mut self, bike: BikeId, id: RideId) -> Result<Ride, StoreError> {
        self.one_on_bike::<Row, _>(GET_DELETED, bike, id.uuid()).await
    }

    /// Takes a ride's deletion back, with what it is worth on the bike now, and returns it, for the rollup.
    pub(super) async fn undelete_ride(
        &mut self,
        bike: BikeId,
        id: RideId,
        load: RideLoad,
    ) -> Result<Ride, StoreError> {
        let (base, energy) = (load.base_reference_mm, load.energy_j);
        let restored: Option<Row> = row_if_any!(self, RESTORE, bike.uuid(), id.uuid(), base, energy)?;
        restored.ok_or(StoreError::NotFound)?.try_into()
    }

    /// Stores anew what rides did to the drivetrain: it was another one than was thought. The caller
    /// replaces the bike's rollup in the same transaction.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn set_ride_loads(
        &mut self,
        bike: BikeId,
        loads: &[(RideId, RideLoad)],
    ) -> Result<(), StoreError> {
        for (id, load) in loads {
            execute!(self, SET_LOAD, bike.uuid(), id.uuid(), load.base_reference_mm, load.energy_j)?;
        }
        Ok(())
    }
}

fn begin(new: &NewRide, id: RideId, revision: i64) -> Ride {
    let NewRide { bike_id, identity, started_at, facts, load } = new;
    Ride {
        id,
        bike_id: *bike_id,
        identity: identity.clone(),
        started_at: *started_at,
        facts: *facts,
        load: *load,
        revision,
        deleted_at: None,
    }
}
