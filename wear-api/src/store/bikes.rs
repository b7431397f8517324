//! Bikes.

use chrono_tz::Tz;
use std::collections::HashMap;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};
use sqlx::types::Json;
use uuid::Uuid;
use wear_core::units::Limit;

use super::error::{Sound, StoreError};
use super::guarded::{guarded, page_of};
use super::instant::{instant, maybe_instant};
use super::many::Many;
use super::{Tx, execute, on, pattern, row, rows, statements, value, value_if_any};
use crate::domain::{
    AppId, Bike, BikeFacts, BikeFilter, BikeId, BikeKindId, BikeSort, ChangedKind, Cursor, Drivetrain,
    DrivetrainFacts, ExternalId, GroupName, Label, NewBike, Page, PageRequest, Reach, RiderId, Source,
    Timestamp, parse_time_zone,
};

const TABLE: &str = "bikes";

/// Bikes in the order they were entered, and of these those within a reach.
macro_rules! list_by_id {
    ($within:literal) => {
        concat!(
            "
        select bike_id, label, bike_group, usage, drivetrain, drivetrain_assumed, limit_percent, kind_id, care,
            created_at, retired_at, revision, days_zone, external_id, rides_compared, app_id, rider_id
        from bikes
        where workshop_id = $1 and bike_id > $2
            and (label_key like $3 escape '!' or group_key like $3 escape '!')
            and (cast($4 as text) is null or bike_group = $4)
            and ($5 or retired_at is null)
            and (cast($7 as text) is null or external_id = $7) ",
            $within,
            "
        order by bike_id limit $6"
        )
    };
}

/// Bikes by label, and of these those within a reach.
macro_rules! list_by_label {
    ($within:literal) => {
        concat!(
            "
        select bike_id, label, bike_group, usage, drivetrain, drivetrain_assumed, limit_percent, kind_id, care,
            created_at, retired_at, revision, days_zone, external_id, rides_compared, app_id, rider_id
        from bikes
        where workshop_id = $1 and (label_key, bike_id) > ($2, $3)
            and (label_key like $4 escape '!' or group_key like $4 escape '!')
            and (cast($5 as text) is null or bike_group = $5)
            and ($6 or retired_at is null)
            and (cast($8 as text) is null or external_id = $8) ",
            $within,
            "
        order by label_key, bike_id limit $7"
        )
    };
}

statements! {
    INSERT = "
        insert into bikes (workshop_id, bike_id, label, label_key, bike_group, group_key, usage, drivetrain,
            drivetrain_assumed, limit_percent, kind_id, created_at, care, label_held, retired_at, revision,
            external_id, days_zone)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, 1, $16,
            (select time_zone from workshops where workshop_id = $1))
        returning days_zone";
    GET = "
        select bike_id, label, bike_group, usage, drivetrain, drivetrain_assumed, limit_percent, kind_id, care,
            created_at, retired_at, revision, days_zone, external_id, rides_compared, app_id, rider_id
        from bikes where workshop_id = $1 and bike_id = $2";
    UPDATE = "
        update bikes set label = $4, label_key = $5, bike_group = $6, group_key = $7, usage = $8,
            drivetrain = $9, drivetrain_assumed = $10, limit_percent = $11, care = $12,
            kind_id = $13, external_id = $14, revision = revision + 1,
            label_held = case when label_key = $5 or retired_at is not null then label_held else $5 end
        where workshop_id = $1 and bike_id = $2 and revision = $3
        returning revision";
    RETIRE = "
        update bikes set retired_at = $4, label_held = null, revision = revision + 1
        where workshop_id = $1 and bike_id = $2 and revision = $3 and retired_at is null
        returning revision";
    RETURN = "
        update bikes set retired_at = null, label_held = label_key, revision = revision + 1
        where workshop_id = $1 and bike_id = $2 and revision = $3 and retired_at is not null
        returning revision";
    LABELLED = "
        select bike_id from bikes
        where workshop_id = $1 and label_key = $2 and retired_at is null
        order by bike_id limit 1";
    LIST_BY_ID = list_by_id!("");
    LIST_BY_ID_OF_APP = list_by_id!("and app_id = $8");
    LIST_BY_ID_OF_RIDER = list_by_id!("and rider_id = $8");
    LIST_BY_LABEL = list_by_label!("");
    LIST_BY_LABEL_OF_APP = list_by_label!("and app_id = $9");
    LIST_BY_LABEL_OF_RIDER = list_by_label!("and rider_id = $9");
    SET_OWNERS = "
        update bikes set app_id = $3, rider_id = $4 where workshop_id = $1 and bike_id = $2";
    ARE_OF_APP = "select exists (select 1 from bikes where workshop_id = $1 and app_id = $2)";
    ARE_OF_RIDER = "select exists (select 1 from bikes where workshop_id = $1 and rider_id = $2)";
    LOGGED_BY = "update bikes set ride_source = $3 where workshop_id = $1 and bike_id = $2";
    RIDES_COMPARED = "update bikes set rides_compared = true where workshop_id = $1 and bike_id = $2";
    SUMMED_IN = "update bikes set days_zone = $3 where workshop_id = $1 and bike_id = $2";
    GROUPS = "
        select bike_group, cast(count(*) as bigint) from bikes
        where workshop_id = $1 and retired_at is null
        group by bike_group order by bike_group";
    GROUP_NAMES = "
        with recursive names (name) as (
            select min(bike_group) from bikes where workshop_id = $1
            union all
            select (select min(b.bike_group) from bikes b
                where b.workshop_id = $1 and b.bike_group > names.name)
            from names where names.name is not null)
        select name from names
        where exists (select 1 from bikes b
            where b.workshop_id = $1 and b.bike_group = names.name and b.retired_at is null)
        order by name";
}

static GET_MANY: LazyLock<Many> =
    LazyLock::new(|| Many::look_up("select * from bikes where workshop_id = $1 and bike_id = ?"));

static RIDE_KEEPING: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up("select bike_id, days_zone, ride_source from bikes where workshop_id = $1 and bike_id = ?")
});

static EXTERNAL: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up("select bike_id, external_id from bikes where workshop_id = $1 and external_id = ?")
});

pub(super) fn ride_keeping_statements() -> &'static [&'static str] {
    RIDE_KEEPING.texts()
}

pub(super) fn external_statements() -> &'static [&'static str] {
    EXTERNAL.texts()
}

/// Who logs a bike's rides, deleted ones too.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum LoggedBy {
    /// It has none.
    Nobody,
    /// One source.
    One(Source),
    /// More than one.
    Several,
}

impl LoggedBy {
    fn stored(text: Option<&str>) -> Result<Self, StoreError> {
        Ok(match text {
            None => Self::Nobody,
            Some("") => Self::Several,
            Some(source) => Self::One(Source::new(source).sound(TABLE, "ride_source")?),
        })
    }

    fn text(&self) -> Option<&str> {
        match self {
            Self::Nobody => None,
            Self::One(source) => Some(source.as_str()),
            Self::Several => Some(""),
        }
    }

    /// A ride of that source too.
    pub(super) fn and(&mut self, source: &Source) {
        match self {
            Self::Nobody => *self = Self::One(source.clone()),
            Self::One(only) if only != source => *self = Self::Several,
            Self::One(_) | Self::Several => {}
        }
    }
}

/// How a bike's rides are kept.
#[derive(Debug, Clone)]
pub(super) struct RideKeeping {
    /// The zone whose days they are summed over.
    pub(super) zone: Tz,
    /// Who logs them.
    pub(super) logged_by: LoggedBy,
}

/// The zone whose days a bike's rides are summed over.
pub(super) fn zone_of(keeping: &HashMap<BikeId, RideKeeping>, bike: BikeId) -> Tz {
    keeping.get(&bike).map_or(Tz::UTC, |kept| kept.zone)
}

pub(super) fn get_statements() -> &'static [&'static str] {
    GET_MANY.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    label: String,
    bike_group: String,
    usage: String,
    drivetrain: Json<DrivetrainDoc>,
    drivetrain_assumed: bool,
    limit_percent: Option<f64>,
    care: Option<String>,
    kind_id: Option<Uuid>,
    created_at: i64,
    retired_at: Option<i64>,
    revision: i64,
    days_zone: String,
    external_id: Option<String>,
    rides_compared: bool,
    app_id: Option<Uuid>,
    rider_id: Option<Uuid>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct DrivetrainDoc {
    rings: Vec<u32>,
    cogs: Vec<u32>,
    links: u32,
    gearing: String,
    wheel_circumference_mm: u32,
    jockey_teeth: Option<u32>,
    light_metal_cogs: bool,
}

impl From<&Drivetrain> for DrivetrainDoc {
    fn from(drivetrain: &Drivetrain) -> Self {
        Self {
            rings: drivetrain.rings().iter().map(|teeth| u32::from(teeth.get())).collect(),
            cogs: drivetrain.cogs().iter().map(|teeth| u32::from(teeth.get())).collect(),
            links: u32::from(drivetrain.links().get()),
            gearing: drivetrain.gearing().as_str().to_owned(),
            wheel_circumference_mm: drivetrain.wheel().get().round() as u32,
            jockey_teeth: drivetrain.jockey().map(|teeth| u32::from(teeth.get())),
            light_metal_cogs: drivetrain.has_light_metal_cogs(),
        }
    }
}

impl TryFrom<DrivetrainDoc> for Drivetrain {
    type Error = StoreError;

    fn try_from(doc: DrivetrainDoc) -> Result<Self, StoreError> {
        let DrivetrainDoc {
            rings,
            cogs,
            links,
            gearing,
            wheel_circumference_mm,
            jockey_teeth,
            light_metal_cogs,
        } = doc;
        let facts = DrivetrainFacts {
            rings,
            cogs,
            links,
            gearing: Some(gearing.parse().sound(TABLE, "drivetrain")?),
            wheel_circumference_mm: Some(wheel_circumference_mm),
            jockey_teeth,
            light_metal_cogs,
        };
        Self::new(&facts).sound(TABLE, "drivetrain")
    }
}

impl TryFrom<Row> for Bike {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            bike_id,
            label,
            bike_group,
            usage,
            drivetrain: Json(drivetrain),
            drivetrain_assumed,
            limit_percent,
            care,
            kind_id,
            created_at,
            retired_at,
            revision,
            days_zone,
            external_id,
            rides_compared,
            app_id,
            rider_id,
        } = row;
        Ok(Self {
            id: BikeId::from_uuid(bike_id),
            facts: BikeFacts {
                label: Label::new(&label).sound(TABLE, "label")?,
                group: GroupName::new(&bike_group).sound(TABLE, "bike_group")?,
                usage: usage.parse().sound(TABLE, "usage")?,
                drivetrain: drivetrain.try_into()?,
                is_assumed: drivetrain_assumed,
                kind: kind_id.map(BikeKindId::from_uuid),
                limit: limit_percent.map(Limit::new).transpose().sound(TABLE, "limit_percent")?,
                care: care.map(|care| care.parse()).transpose().sound(TABLE, "care")?,
                external_id: external_id
                    .map(|id| ExternalId::new(&id))
                    .transpose()
                    .sound(TABLE, "external_id")?,
            },
            app: app_id.map(AppId::from_uuid),
            rider: rider_id.map(RiderId::from_uuid),
            created_at: instant(created_at, TABLE, "created_at")?,
            retired_at: maybe_instant(retired_at, TABLE, "retired_at")?,
            revision,
            days_zone: parse_time_zone(&days_zone).sound(TABLE, "days_zone")?,
            rides_compared,
        })
    }
}

impl Tx {
    /// Stores a new bike; the zone whose days its rides are summed over, which is the workshop's.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when its id is known already, or a bike in the fleet holds its label.
    pub async fn insert_bike(&mut self, bike: &NewBike) -> Result<Tz, StoreError> {
        self.insert_bike_retired(bike, None).await
    }

    /// Stores a bike that has left the fleet, or one that hasn't.
    ///
    /// # Errors
    /// As [`Tx::insert_bike`]; a bike that has left holds no label.
    pub async fn insert_bike_retired(
        &mut self,
        bike: &NewBike,
        retired_at: Option<Timestamp>,
    ) -> Result<Tz, StoreError> {
        let NewBike { id, facts, created_at } = bike;
        let BikeFacts { label, group, usage, drivetrain, is_assumed, limit, care, kind, external_id } = facts;
        self.note(ChangedKind::Bike, Some(*id), id.uuid());
        let zone: String = value!(
            self,
            INSERT,
            id.uuid(),
            label.as_str(),
            label.folded(),
            group.as_str(),
            group.folded(),
            usage.as_str(),
            Json(DrivetrainDoc::from(drivetrain)),
            *is_assumed,
            limit.map(Limit::get),
            kind.map(BikeKindId::uuid),
            created_at.micros(),
            care.map(|care| care.to_string()),
            retired_at.is_none().then(|| label.folded()),
            retired_at.map(Timestamp::micros),
            external_id.as_ref().map(ExternalId::as_str)
        )?;
        parse_time_zone(&zone).sound(TABLE, "days_zone")
    }

    /// A bike, retired or not.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], also for one beyond this transaction's reach.
    pub async fn bike(&mut self, id: BikeId) -> Result<Bike, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        let bike = Bike::try_from(row)?;
        if self.sees(&bike) { Ok(bike) } else { Err(StoreError::NotFound) }
    }

    fn sees(&self, bike: &Bike) -> bool {
        self.reach.covers(bike.app, bike.rider)
    }

    /// Says whose a bike is.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn set_owners(
        &mut self,
        bike: BikeId,
        app: Option<AppId>,
        rider: Option<RiderId>,
    ) -> Result<(), StoreError> {
        execute!(self, SET_OWNERS, bike.uuid(), app.map(AppId::uuid), rider.map(RiderId::uuid))?;
        Ok(())
    }

    /// Whether any bike, retired or not, is an app's.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn has_bikes_of_app(&mut self, app: AppId) -> Result<bool, StoreError> {
        Ok(value!(self, ARE_OF_APP, app.uuid())?)
    }

    /// Whether any bike, retired or not, is a rider's.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn has_bikes_of_rider(&mut self, rider: RiderId) -> Result<bool, StoreError> {
        Ok(value!(self, ARE_OF_RIDER, rider.uuid())?)
    }

    /// Says over which zone's days a bike's rides are summed from now on.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn set_days_zone(&mut self, bike: BikeId, zone: Tz) -> Result<(), StoreError> {
        execute!(self, SUMMED_IN, bike.uuid(), zone.name())?;
        Ok(())
    }

    /// Says that all rides of a bike have been compared.
    pub(super) async fn set_rides_compared(&mut self, bike: BikeId) -> Result<(), StoreError> {
        execute!(self, RIDES_COMPARED, bike.uuid())?;
        Ok(())
    }

    /// Says who logs a bike's rides.
    pub(super) async fn set_logged_by(&mut self, bike: BikeId, by: &LoggedBy) -> Result<(), StoreError> {
        execute!(self, LOGGED_BY, bike.uuid(), by.text())?;
        Ok(())
    }

    /// How the rides of each of these bikes are kept, asked for under their locks.
    pub(super) async fn ride_keeping(
        &mut self,
        bikes: &[BikeId],
    ) -> Result<HashMap<BikeId, RideKeeping>, StoreError> {
        let mut keeping = HashMap::with_capacity(bikes.len());
        for (sql, batch) in RIDE_KEEPING.batches(self.engine(), bikes) {
            let found: Vec<(Uuid, String, Option<String>)> = on!(self.connection, |conn| {
                let mut query = sqlx::query_as(sql).bind(self.workshop.uuid());
                for bike in batch {
                    query = query.bind(bike.uuid());
                }
                query.fetch_all(conn).await
            })?;
            for (bike, zone, source) in found {
                let zone = parse_time_zone(&zone).sound(TABLE, "days_zone")?;
                let kept = RideKeeping { zone, logged_by: LoggedBy::stored(source.as_deref())? };
                let _new = keeping.insert(BikeId::from_uuid(bike), kept);
            }
        }
        Ok(keeping)
    }

    /// Those bikes that other programs call so, retired ones too.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bikes_called(
        &mut self,
        ids: &[ExternalId],
    ) -> Result<HashMap<ExternalId, BikeId>, StoreError> {
        let mut bikes = HashMap::with_capacity(ids.len());
        for (sql, batch) in EXTERNAL.batches(self.engine(), ids) {
            let found: Vec<(Uuid, String)> = on!(self.connection, |conn| {
                let mut query = sqlx::query_as(sql).bind(self.workshop.uuid());
                for id in batch {
                    query = query.bind(id.as_str());
                }
                query.fetch_all(conn).await
            })?;
            for (bike, id) in found {
                let id = ExternalId::new(&id).sound(TABLE, "external_id")?;
                let _new = bikes.insert(id, BikeId::from_uuid(bike));
            }
        }
        Ok(bikes)
    }

    /// The same, of those within this transaction's reach.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bikes_by_external_id(
        &mut self,
        ids: &[ExternalId],
    ) -> Result<HashMap<ExternalId, BikeId>, StoreError> {
        let mut bikes = self.bikes_called(ids).await?;
        if self.reach.is_bound() {
            let ids: Vec<BikeId> = bikes.values().copied().collect();
            let seen = self.bikes_by_id(&ids).await?;
            bikes.retain(|_, bike| seen.contains_key(bike));
        }
        Ok(bikes)
    }

    /// Those of the bikes that the workshop has, within this transaction's reach.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bikes_by_id(&mut self, ids: &[BikeId]) -> Result<HashMap<BikeId, Bike>, StoreError> {
        let mut bikes = self.all_bikes_by_id(ids).await?;
        if self.reach.is_bound() {
            bikes.retain(|_, bike| self.sees(bike));
        }
        Ok(bikes)
    }

    /// Those of the bikes that the workshop has, whatever the reach: an outlook is the same whoever asks for it, and its
    /// parts may have been on anybody's bike. Not for answers.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn all_bikes_by_id(&mut self, ids: &[BikeId]) -> Result<HashMap<BikeId, Bike>, StoreError> {
        let mut ids = ids.to_vec();
        ids.sort_unstable();
        ids.dedup();
        let bikes: Vec<Bike> = self.rows_of::<Row, _>(&GET_MANY, ids.into_iter().map(BikeId::uuid)).await?;
        Ok(bikes.into_iter().map(|bike| (bike.id, bike)).collect())
    }

    /// Changes a bike and returns its new revision.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn update_bike(
        &mut self,
        id: BikeId,
        revision: i64,
        facts: &BikeFacts,
    ) -> Result<i64, StoreError> {
        let BikeFacts { label, group, usage, drivetrain, is_assumed, limit, care, kind, external_id } = facts;
        self.note(ChangedKind::Bike, Some(id), id.uuid());
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            id.uuid(),
            revision,
            label.as_str(),
            label.folded(),
            group.as_str(),
            group.folded(),
            usage.as_str(),
            Json(DrivetrainDoc::from(drivetrain)),
            *is_assumed,
            limit.map(Limit::get),
            care.map(|care| care.to_string()),
            kind.map(BikeKindId::uuid),
            external_id.as_ref().map(ExternalId::as_str)
        )?;
        guarded(updated, self.bike(id)).await
    }

    /// Takes a bike out of the fleet and returns its new revision. Its history stays, its outlook goes.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale or it is retired.
    pub async fn retire_bike(&mut self, id: BikeId, revision: i64, at: Timestamp) -> Result<i64, StoreError> {
        self.note(ChangedKind::Bike, Some(id), id.uuid());
        let retired: Option<i64> = value_if_any!(self, RETIRE, id.uuid(), revision, at.micros())?;
        match retired {
            Some(revision) => {
                self.remove_outlook(id).await?;
                self.clear_mark(id).await?;
                Ok(revision)
            }
            None => self.bike(id).await.and(Err(StoreError::Conflict)),
        }
    }

    /// Brings a bike back into the fleet and returns its new revision.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale, it isn't retired, or another bike
    /// holds its label.
    pub async fn return_bike(&mut self, id: BikeId, revision: i64) -> Result<i64, StoreError> {
        self.note(ChangedKind::Bike, Some(id), id.uuid());
        let returned: Option<i64> = value_if_any!(self, RETURN, id.uuid(), revision)?;
        guarded(returned, self.bike(id)).await
    }

    /// The bike in the fleet that has a label, in any case of letters; the first one where a store from earlier has several.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn bike_labelled(&mut self, label: &Label) -> Result<Option<BikeId>, StoreError> {
        let found: Option<Uuid> = value_if_any!(self, LABELLED, label.folded())?;
        Ok(found.map(BikeId::from_uuid))
    }

    /// Every bike of the workshop, retired ones too, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn all_bikes(&mut self) -> Result<Vec<Bike>, StoreError> {
        self.bikes_after(BikeId::from_uuid(Uuid::nil()), i64::MAX).await
    }

    /// At most so many bikes after one, retired ones too, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bikes_after(&mut self, after: BikeId, most: i64) -> Result<Vec<Bike>, StoreError> {
        let rows: Vec<Row> =
            rows!(self, LIST_BY_ID, after.uuid(), pattern(None), None::<String>, true, most, None::<String>)?;
        rows.into_iter().map(Bike::try_from).collect()
    }

    /// The workshop's bikes.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bikes(
        &mut self,
        filter: &BikeFilter,
        sort: BikeSort,
        page: &PageRequest,
    ) -> Result<Page<Bike>, StoreError> {
        let pattern = pattern(filter.search.as_deref());
        let group = filter.group.as_ref().map(GroupName::as_str);
        let external = filter.external_id.as_ref().map(ExternalId::as_str);
        let limit = page.rows();
        let with_retired = filter.with_retired;
        let reach = self.reach;
        let rows: Vec<Row> = match sort {
            BikeSort::Created => {
                let after = page.after_id(Uuid::nil())?;
                match reach {
                    Reach::Workshop => {
                        rows!(self, LIST_BY_ID, after, pattern, group, with_retired, limit, external)?
                    }
                    Reach::App(app) => {
                        let list = LIST_BY_ID_OF_APP;
                        rows!(self, list, after, pattern, group, with_retired, limit, external, app.uuid())?
                    }
                    Reach::Rider(rider) | Reach::AppForRider(_, rider) => {
                        let list = LIST_BY_ID_OF_RIDER;
                        rows!(self, list, after, pattern, group, with_retired, limit, external, rider.uuid())?
                    }
                }
            }
            BikeSort::Label => {
                let (label, id) = page.after_text(("", Uuid::nil()))?;
                match reach {
                    Reach::Workshop => {
                        rows!(self, LIST_BY_LABEL, label, id, pattern, group, with_retired, limit, external)?
                    }
                    Reach::App(app) => {
                        let list = LIST_BY_LABEL_OF_APP;
                        rows!(
                            self,
                            list,
                            label,
                            id,
                            pattern,
                            group,
                            with_retired,
                            limit,
                            external,
                            app.uuid()
                        )?
                    }
                    Reach::Rider(rider) | Reach::AppForRider(_, rider) => {
                        let list = LIST_BY_LABEL_OF_RIDER;
                        rows!(
                            self,
                            list,
                            label,
                            id,
                            pattern,
                            group,
                            with_retired,
                            limit,
                            external,
                            rider.uuid()
                        )?
                    }
                }
            }
        };
        page_of(rows, page, |bike: &Bike| match sort {
            BikeSort::Created => Cursor::Id(bike.id.uuid()),
            BikeSort::Label => Cursor::Text(bike.facts.label.folded(), bike.id.uuid()),
        })
    }

    /// The groups of the fleet, with the number of bikes in each.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn groups(&mut self) -> Result<Vec<(GroupName, i64)>, StoreError> {
        let rows: Vec<(String, i64)> = rows!(self, GROUPS)?;
        rows.into_iter()
            .map(|(group, count)| Ok((GroupName::new(&group).sound(TABLE, "bike_group")?, count)))
            .collect()
    }

    /// The names of the fleet's groups, found by stepping from one to the next: no bike is looked at but one a group.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn group_names(&mut self) -> Result<Vec<GroupName>, StoreError> {
        let rows: Vec<(String,)> = rows!(self, GROUP_NAMES)?;
        rows.into_iter().map(|(group,)| GroupName::new(&group).sound(TABLE, "bike_group")).collect()
    }
}
