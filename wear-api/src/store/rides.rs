//! Rides.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::page_of;
use super::instant::{instant, maybe_instant};
use super::many::Many;
use super::{Tx, execute, on, row_if_any, rows, statements, value_if_any};
use crate::domain::{
    BikeId, Cursor, NewRide, Page, PageRequest, Reach, Ride, RideFacts, RideFilter, RideId, RideIdentity,
    RideLoad, RideOutcome, Source, SourceId, Telling, Timestamp,
};

const TABLE: &str = "rides";

statements! {
    AFTER = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at, same_as,
            separate
        from rides where workshop_id = $1 and deleted_at is null and (bike_id, ride_id) > ($2, $3)
        order by bike_id, ride_id limit $4";
    GET = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at, same_as,
            separate
        from rides where workshop_id = $1 and deleted_at is null and bike_id = $2 and ride_id = $3";
    BETWEEN = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at, same_as,
            separate
        from rides where workshop_id = $1 and deleted_at is null and bike_id = $2 and started_at >= $3 and started_at < $4
        order by started_at, ride_id";
    LIST = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at, same_as,
            separate
        from rides where workshop_id = $1 and deleted_at is null and bike_id = $2 and (started_at, ride_id) < ($3, $4)
        order by started_at desc, ride_id desc limit $5";
    DELETE = "
        update rides set deleted_at = $5, revision = revision + 1
        where workshop_id = $1 and bike_id = $2 and ride_id = $3 and revision = $4 and deleted_at is null
        returning bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm,
            energy_j, base_reference_mm, load_energy_j, revision, deleted_at, same_as, separate";
    GET_DELETED = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at, same_as,
            separate
        from rides where workshop_id = $1 and bike_id = $2 and ride_id = $3 and deleted_at is not null";
    RESTORE = "
        update rides set deleted_at = null, revision = revision + 1, base_reference_mm = $4, load_energy_j = $5,
            same_as = null
        where workshop_id = $1 and bike_id = $2 and ride_id = $3 and deleted_at is not null
        returning bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm,
            energy_j, base_reference_mm, load_energy_j, revision, deleted_at, same_as, separate";
    OF_WORKSHOP = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at, same_as, separate
        from rides where workshop_id = $1 and deleted_at is null and (started_at, ride_id) < ($2, $3)
            and started_at >= $4 and (cast($5 as text) is null or source = $5)
            and (cast($7 as text) is null or exists (select 1 from bikes b
                where b.workshop_id = rides.workshop_id and b.bike_id = rides.bike_id
                    and ($7 = 'app' and b.app_id = $8 or $7 = 'rider' and b.rider_id = $8)))
        order by started_at desc, ride_id desc limit $6";
    OF_BIKE = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at, same_as, separate
        from rides where workshop_id = $1 and deleted_at is null and bike_id = $7
            and (started_at, ride_id) < ($2, $3) and started_at >= $4 and (cast($5 as text) is null or source = $5)
            and (cast($8 as text) is null or exists (select 1 from bikes b
                where b.workshop_id = rides.workshop_id and b.bike_id = rides.bike_id
                    and ($8 = 'app' and b.app_id = $9 or $8 = 'rider' and b.rider_id = $9)))
        order by started_at desc, ride_id desc limit $6";
    OF_IDENTITY = "
        select bike_id, ride_id, source, source_id, started_at, surface, wet, distance_mm, climb_mm, energy_j,
            base_reference_mm, load_energy_j, revision, deleted_at, same_as, separate
        from rides where workshop_id = $1 and deleted_at is null and source = $5 and source_id = $7
            and bike_id >= $8 and bike_id <= $9 and (started_at, ride_id) < ($2, $3) and started_at >= $4
            and (cast($10 as text) is null or exists (select 1 from bikes b
                where b.workshop_id = rides.workshop_id and b.bike_id = rides.bike_id
                    and ($10 = 'app' and b.app_id = $11 or $10 = 'rider' and b.rider_id = $11)))
        order by started_at desc, ride_id desc limit $6";
    MOVE = "
        update rides set bike_id = $5, started_at = $6, surface = $7, wet = $8, distance_mm = $9, climb_mm = $10,
            energy_j = $11, base_reference_mm = $12, load_energy_j = $13, revision = $14, same_as = null
        where workshop_id = $1 and bike_id = $2 and ride_id = $3 and revision = $4
        returning ride_id";
    TELL = "
        update rides set same_as = $4, revision = $5 where workshop_id = $1 and bike_id = $2 and ride_id = $3";
    SEPARATE = "
        update rides set separate = $4, same_as = null, revision = revision + 1
        where workshop_id = $1 and bike_id = $2 and ride_id = $3 and deleted_at is null and separate <> $4
        returning ride_id";
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
    Many::new(
        INTO,
        ROW,
        1,
        " on conflict (workshop_id, source, source_id, bike_id) do nothing returning ride_id",
    )
});

static FIND: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select * from rides where workshop_id = $1 and bike_id = ? and source = ? and source_id = ?",
    )
});

static FIND_ANYWHERE: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up("select * from rides where workshop_id = $1 and source = ? and source_id = ?")
});

/// `excluded.revision` is one more than the revision that was read: a ride that someone else changed since
/// isn't touched, and isn't returned.
static REPLACE: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        INTO,
        ROW,
        1,
        " on conflict (workshop_id, source, source_id, bike_id) do update set
            started_at = excluded.started_at, surface = excluded.surface,
            wet = excluded.wet, distance_mm = excluded.distance_mm, climb_mm = excluded.climb_mm,
            energy_j = excluded.energy_j, base_reference_mm = excluded.base_reference_mm,
            load_energy_j = excluded.load_energy_j, revision = excluded.revision
        where rides.revision + 1 = excluded.revision and rides.ride_id = excluded.ride_id
        returning ride_id",
    )
});

static OF_THESE_BIKES: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select * from rides where workshop_id = $1 and deleted_at is null and same_as is null and bike_id = ?
            and started_at >= ? and started_at < ?",
    )
});

static NEAR: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select * from rides
         where workshop_id = $1 and deleted_at is null and bike_id = ? and started_at >= ? and started_at <= ?",
    )
});

pub(super) fn near_statements() -> &'static [&'static str] {
    NEAR.texts()
}

pub(super) fn find_anywhere_statements() -> &'static [&'static str] {
    FIND_ANYWHERE.texts()
}

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
    same_as: Option<Uuid>,
    separate: bool,
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
            same_as,
            separate,
        } = row;
        let telling = match (same_as, separate) {
            (None, false) => Telling::Counted,
            (None, true) => Telling::Separate,
            (Some(id), false) => Telling::SameAs(RideId::from_uuid(id)),
            (Some(_), true) => Err("a ride by itself that is another").sound(TABLE, "same_as")?,
        };
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
            telling,
        })
    }
}

fn all(rows: Vec<Row>) -> Result<Vec<Ride>, StoreError> {
    rows.into_iter().map(Ride::try_from).collect()
}

/// What is known of one bike's ride of an identity while a batch goes through.
struct State {
    ride: Ride,
    /// The revision in the table.
    stored_revision: i64,
    /// The bike in the table.
    stored_on: BikeId,
    /// Whether the table has to follow.
    changed: bool,
}

impl State {
    const fn stored(ride: Ride) -> Self {
        Self { stored_revision: ride.revision, stored_on: ride.bike_id, changed: false, ride }
    }

    /// The ride after what `new` says of it; what that does.
    fn take(&mut self, new: &NewRide) -> RideOutcome {
        let is_moved = new.bike_id != self.ride.bike_id;
        if self.ride.deleted_at.is_some() {
            if is_moved {
                self.ride.bike_id = new.bike_id;
                self.ride.revision = self.stored_revision + 1;
                self.changed = true;
            }
            return RideOutcome::Deleted(self.ride.clone());
        }
        if new.says_the_same(&self.ride) {
            return RideOutcome::Unchanged(self.ride.clone());
        }
        let mut now = begin(new, self.ride.id, self.stored_revision + 1);
        now.telling = match self.ride.telling {
            Telling::SameAs(_) if is_moved => Telling::Counted,
            told => told,
        };
        let old = std::mem::replace(&mut self.ride, now.clone());
        self.changed = true;
        RideOutcome::Replaced { old, new: now }
    }
}

/// What tells a workshop's rides apart.
type Key<'a> = (&'a RideIdentity, BikeId);

/// A known ride that has to be changed in the table, and the bike that it is on there.
pub(super) struct ChangedRide {
    ride: Ride,
    stored_on: BikeId,
}

impl Tx {
    /// At most so many of the workshop's rides after one of a bike, by bike and id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn rides_after(&mut self, after: (Uuid, Uuid), most: i64) -> Result<Vec<Ride>, StoreError> {
        self.after_on_bikes::<Row, _>(AFTER, after, most).await
    }

    /// Inserts those rides that are new, and says what each ride does, as if they came one by one, together
    /// with the known rides that [`Tx::replace_rides`] has to change.
    pub(super) async fn insert_new_rides(
        &mut self,
        rides: &[NewRide],
    ) -> Result<(Vec<RideOutcome>, Vec<ChangedRide>), StoreError> {
        let moved_to: BTreeSet<Key<'_>> = rides
            .iter()
            .filter(|ride| ride.moved_from.is_some())
            .map(|ride| (&ride.identity, ride.bike_id))
            .collect();
        let mut first: BTreeMap<Key<'_>, &NewRide> = BTreeMap::new();
        for ride in rides {
            let key = (&ride.identity, ride.bike_id);
            if moved_to.is_empty() || !moved_to.contains(&key) {
                first.entry(key).or_insert(ride);
            }
        }
        // In order of identity, so that two batches that meet wait for each other in one direction.
        let candidates: Vec<Ride> = first.values().map(|ride| begin(ride, RideId::generate(), 1)).collect();
        let inserted = self.write_rides(&INSERT, &candidates).await?;
        let moves = rides.iter().filter_map(|ride| Some((ride.moved_from?, &ride.identity)));
        let mut known: Vec<(BikeId, &RideIdentity)> = moves.collect();
        let mut states: Vec<Option<State>> = Vec::with_capacity(candidates.len() + 2 * moved_to.len());
        let mut slots: BTreeMap<Key<'_>, usize> = BTreeMap::new();
        for (key, ride) in first.into_keys().zip(candidates) {
            slots.insert(key, states.len());
            if inserted.binary_search(&ride.id).is_ok() {
                states.push(Some(State::stored(ride)));
            } else {
                known.push((key.1, key.0));
                states.push(None);
            }
        }
        for key in known.iter().map(|(bike, identity)| (*identity, *bike)).chain(moved_to) {
            slots.entry(key).or_insert_with(|| {
                states.push(None);
                states.len() - 1
            });
        }
        let slot = |key: Key<'_>| slots.get(&key).copied();
        for ride in self.find_rides(&known).await? {
            if let Some(slot) = slot((&ride.identity, ride.bike_id)) {
                states[slot] = Some(State::stored(ride));
            }
        }
        let mut outcomes = Vec::with_capacity(rides.len());
        let mut seen_new = inserted.iter().map(|id| (*id, false)).collect::<BTreeMap<_, _>>();
        for new in rides {
            let here = slot((&new.identity, new.bike_id)).ok_or(StoreError::Interrupted)?;
            if let Some(there) = new.moved_from.and_then(|from| slot((&new.identity, from))) {
                states[here] = states[there].take();
            }
            // A ride that was there when we inserted and is gone now was moved by another transaction.
            let state = states[here].as_mut().ok_or(StoreError::Interrupted)?;
            match seen_new.get_mut(&state.ride.id) {
                Some(seen) if !*seen => {
                    *seen = true;
                    outcomes.push(RideOutcome::Inserted(state.ride.clone()));
                }
                _ => outcomes.push(state.take(new)),
            }
        }
        let changed = states.into_iter().flatten().filter(|state| state.changed);
        let changed = changed.map(|State { ride, stored_on, .. }| ChangedRide { ride, stored_on }).collect();
        Ok((outcomes, changed))
    }

    /// Changes rides to what they say now, where nobody else has changed them since they were read.
    pub(super) async fn replace_rides(&mut self, rides: Vec<ChangedRide>) -> Result<(), StoreError> {
        let (moved, here): (Vec<_>, Vec<_>) =
            rides.into_iter().partition(|changed| changed.stored_on != changed.ride.bike_id);
        let here: Vec<Ride> = here.into_iter().map(|changed| changed.ride).collect();
        let replaced = self.write_rides(&REPLACE, &here).await?.len();
        if replaced != here.len() {
            return Err(StoreError::Interrupted);
        }
        for ChangedRide { ride, stored_on } in moved {
            self.move_ride(&ride, stored_on).await?;
        }
        Ok(())
    }

    async fn move_ride(&mut self, ride: &Ride, from: BikeId) -> Result<(), StoreError> {
        let Ride { id, bike_id, identity: _, started_at, facts, load, revision, deleted_at: _, telling: _ } =
            ride;
        let moved: Option<Uuid> = value_if_any!(
            self,
            MOVE,
            from.uuid(),
            id.uuid(),
            revision - 1,
            bike_id.uuid(),
            started_at.micros(),
            facts.surface.as_str(),
            facts.wet,
            facts.distance_mm(),
            facts.climb_mm(),
            facts.energy_j(),
            load.base_reference_mm,
            load.energy_j,
            *revision
        )?;
        moved.map(|_| ()).ok_or(StoreError::Interrupted)
    }

    /// Ids of the rows that were written, in order.
    async fn write_rides(&mut self, many: &Many, rides: &[Ride]) -> Result<Vec<RideId>, StoreError> {
        let mut written = Vec::with_capacity(rides.len());
        for (sql, batch) in many.batches(self.engine(), rides) {
            let ids: Vec<Uuid> = on!(self.connection, |conn| {
                let mut query = sqlx::query_scalar(sql).bind(self.workshop.uuid());
                for ride in batch {
                    let Ride {
                        id,
                        bike_id,
                        identity,
                        started_at,
                        facts,
                        load,
                        revision,
                        deleted_at: _,
                        telling: _,
                    } = ride;
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

    /// Those rides of bikes and identities that there are, deleted ones too, in no order.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn find_rides(&mut self, keys: &[(BikeId, &RideIdentity)]) -> Result<Vec<Ride>, StoreError> {
        let mut rides = Vec::with_capacity(keys.len());
        for (sql, batch) in FIND.batches(self.engine(), keys) {
            let rows: Vec<Row> = on!(self.connection, |conn| {
                let mut query = sqlx::query_as(sql).bind(self.workshop.uuid());
                for (bike, RideIdentity { source, source_id }) in batch {
                    query = query.bind(bike.uuid()).bind(source.as_str()).bind(source_id.as_str());
                }
                query.fetch_all(conn).await
            })?;
            rides.append(&mut all(rows)?);
        }
        Ok(rides)
    }

    /// The same on any bike.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn find_rides_anywhere(
        &mut self,
        identities: &[&RideIdentity],
    ) -> Result<Vec<Ride>, StoreError> {
        let mut rides = Vec::with_capacity(identities.len());
        for (sql, batch) in FIND_ANYWHERE.batches(self.engine(), identities) {
            let rows: Vec<Row> = on!(self.connection, |conn| {
                let mut query = sqlx::query_as(sql).bind(self.workshop.uuid());
                for RideIdentity { source, source_id } in batch {
                    query = query.bind(source.as_str()).bind(source_id.as_str());
                }
                query.fetch_all(conn).await
            })?;
            rides.append(&mut all(rows)?);
        }
        if self.reach.is_bound() {
            let bikes: Vec<BikeId> = rides.iter().map(|ride| ride.bike_id).collect();
            let seen = self.bikes_by_id(&bikes).await?;
            rides.retain(|ride| seen.contains_key(&ride.bike_id));
        }
        Ok(rides)
    }

    /// To whom this transaction's reach is bound, for statements that filter by it.
    fn bound_to(&self) -> (Option<&'static str>, Uuid) {
        match self.reach {
            Reach::Workshop => (None, Uuid::nil()),
            Reach::App(app) => (Some("app"), app.uuid()),
            Reach::Rider(rider) | Reach::AppForRider(_, rider) => (Some("rider"), rider.uuid()),
        }
    }

    /// The workshop's rides within this transaction's reach, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn workshop_rides(
        &mut self,
        filter: &RideFilter,
        page: &PageRequest,
    ) -> Result<Page<Ride>, StoreError> {
        let RideFilter { source, bike_id, from, until } = filter;
        let edge = until.map_or(i64::MAX, Timestamp::micros);
        let (at, id) = page.after_number((i64::MAX, Uuid::max()))?;
        let (at, id) = if at < edge { (at, id) } else { (edge, Uuid::nil()) };
        let from = from.map_or(i64::MIN, Timestamp::micros);
        let limit = page.rows();
        let (bound_to, owner) = self.bound_to();
        let rows: Vec<Row> = match (source, bike_id) {
            (Some((source, Some(source_id))), bike) => {
                let (first, last) =
                    bike.map_or((Uuid::nil(), Uuid::max()), |bike| (bike.uuid(), bike.uuid()));
                let (source, source_id) = (source.as_str(), source_id.as_str());
                rows!(
                    self,
                    OF_IDENTITY,
                    at,
                    id,
                    from,
                    source,
                    limit,
                    source_id,
                    first,
                    last,
                    bound_to,
                    owner
                )?
            }
            (source, Some(bike)) => {
                let source = source.as_ref().map(|(source, _)| source.as_str());
                rows!(self, OF_BIKE, at, id, from, source, limit, bike.uuid(), bound_to, owner)?
            }
            (source, None) => {
                let source = source.as_ref().map(|(source, _)| source.as_str());
                rows!(self, OF_WORKSHOP, at, id, from, source, limit, bound_to, owner)?
            }
        };
        page_of(rows, page, |ride: &Ride| Cursor::Number(ride.started_at.micros(), ride.id.uuid()))
    }

    /// A ride.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn ride(&mut self, bike: BikeId, id: RideId) -> Result<Ride, StoreError> {
        self.one_on_bike::<Row, _>(GET, bike, id.uuid()).await
    }

    /// A bike's rides that began from `from` up to, but not at, `to`, in order of time; also those that don't count.
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

    /// All rides of bikes that began in a span each, both ends included, in no order; also those that don't count.
    pub(super) async fn rides_near(
        &mut self,
        spans: &[(BikeId, Timestamp, Timestamp)],
    ) -> Result<Vec<Ride>, StoreError> {
        let spans: Vec<(BikeId, i64, i64)> =
            spans.iter().map(|(bike, from, to)| (*bike, from.micros(), to.micros())).collect();
        self.rows_between::<Row, _>(&NEAR, &spans).await
    }

    /// The rides of bikes that count and began in a span each, its end not included, in no order.
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

    /// Says of a ride whether it counts, and what revision it has since.
    pub(super) async fn tell_ride(
        &mut self,
        ride: &Ride,
        telling: Telling,
        revision: i64,
    ) -> Result<(), StoreError> {
        let same_as = telling.same_as().map(RideId::uuid);
        execute!(self, TELL, ride.bike_id.uuid(), ride.id.uuid(), same_as, revision)?;
        Ok(())
    }

    /// Says that a ride is one by itself, or takes that back; whether it said something else before.
    pub(super) async fn set_separate(
        &mut self,
        bike: BikeId,
        id: RideId,
        is_separate: bool,
    ) -> Result<bool, StoreError> {
        let set: Option<Uuid> = value_if_any!(self, SEPARATE, bike.uuid(), id.uuid(), is_separate)?;
        Ok(set.is_some())
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
    let NewRide { bike_id, identity, started_at, facts, load, moved_from: _ } = new;
    Ride {
        id,
        bike_id: *bike_id,
        identity: identity.clone(),
        started_at: *started_at,
        facts: *facts,
        load: *load,
        revision,
        deleted_at: None,
        telling: Telling::Counted,
    }
}
