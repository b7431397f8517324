//! Kinds of bike.

use sqlx::types::Json;
use uuid::Uuid;
use wear_core::units::Limit;

use super::bikes::DrivetrainDoc;
use super::error::{Sound, StoreError};
use super::guarded::guarded;
use super::instant::instant;
use super::{Tx, row, rows, statements, value, value_if_any};
use crate::domain::{
    BikeId, BikeKind, BikeKindFacts, BikeKindId, ChangedKind, GroupName, Label, ModelsOfKind, Page,
    PageRequest, PartModelId,
};

const TABLE: &str = "bike_kinds";

statements! {
    INSERT = "
        insert into bike_kinds (workshop_id, kind_id, name, name_key, usage, drivetrain, drivetrain_assumed,
            limit_percent, bike_group, chain_model_id, cassette_model_id, ring_model_id, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, 1)
        on conflict do nothing
        returning kind_id";
    GET = "
        select kind_id, name, usage, drivetrain, drivetrain_assumed, limit_percent, bike_group, chain_model_id,
            cassette_model_id, ring_model_id, created_at, revision
        from bike_kinds where workshop_id = $1 and kind_id = $2";
    NAMED = "
        select kind_id, name, usage, drivetrain, drivetrain_assumed, limit_percent, bike_group, chain_model_id,
            cassette_model_id, ring_model_id, created_at, revision
        from bike_kinds where workshop_id = $1 and name_key = $2";
    LIST = "
        select kind_id, name, usage, drivetrain, drivetrain_assumed, limit_percent, bike_group, chain_model_id,
            cassette_model_id, ring_model_id, created_at, revision
        from bike_kinds where workshop_id = $1 and kind_id > $2
        order by kind_id limit $3";
    UPDATE = "
        update bike_kinds set name = $4, name_key = $5, usage = $6, drivetrain = $7, drivetrain_assumed = $8,
            limit_percent = $9, bike_group = $10, chain_model_id = $11, cassette_model_id = $12, ring_model_id = $13,
            revision = revision + 1
        where workshop_id = $1 and kind_id = $2 and revision = $3
        returning revision";
    DELETE = "
        delete from bike_kinds where workshop_id = $1 and kind_id = $2 and revision = $3
        returning revision";
    BIKES = "select bike_id from bikes where workshop_id = $1 and kind_id = $2 order by bike_id";
    COUNT = "select cast(count(*) as bigint) from bikes where workshop_id = $1 and kind_id = $2";
}

#[derive(sqlx::FromRow)]
struct Row {
    kind_id: Uuid,
    name: String,
    usage: String,
    drivetrain: Json<DrivetrainDoc>,
    drivetrain_assumed: bool,
    limit_percent: Option<f64>,
    bike_group: Option<String>,
    chain_model_id: Option<Uuid>,
    cassette_model_id: Option<Uuid>,
    ring_model_id: Option<Uuid>,
    created_at: i64,
    revision: i64,
}

impl TryFrom<Row> for BikeKind {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            kind_id,
            name,
            usage,
            drivetrain: Json(drivetrain),
            drivetrain_assumed,
            limit_percent,
            bike_group,
            chain_model_id,
            cassette_model_id,
            ring_model_id,
            created_at,
            revision,
        } = row;
        Ok(Self {
            id: BikeKindId::from_uuid(kind_id),
            facts: BikeKindFacts {
                name: Label::new(&name).sound(TABLE, "name")?,
                usage: usage.parse().sound(TABLE, "usage")?,
                drivetrain: drivetrain.try_into()?,
                is_assumed: drivetrain_assumed,
                limit: limit_percent.map(Limit::new).transpose().sound(TABLE, "limit_percent")?,
                group: bike_group
                    .map(|group| GroupName::new(&group))
                    .transpose()
                    .sound(TABLE, "bike_group")?,
                models: ModelsOfKind {
                    chain: chain_model_id.map(PartModelId::from_uuid),
                    cassette: cassette_model_id.map(PartModelId::from_uuid),
                    ring: ring_model_id.map(PartModelId::from_uuid),
                },
            },
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

impl Tx {
    /// Stores a new kind of bike, at revision 1 whatever it says.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when its name or id is known already; [`StoreError::NotFound`] when a part model isn't
    /// the workshop's.
    pub async fn insert_bike_kind(&mut self, kind: &BikeKind) -> Result<(), StoreError> {
        self.note(ChangedKind::BikeKind, None, kind.id.uuid());
        let BikeKind { id, facts, created_at, revision: _ } = kind;
        let BikeKindFacts { name, usage, drivetrain, is_assumed, limit, group, models } = facts;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            id.uuid(),
            name.as_str(),
            name.folded(),
            usage.as_str(),
            Json(DrivetrainDoc::from(drivetrain)),
            *is_assumed,
            limit.map(Limit::get),
            group.as_ref().map(GroupName::as_str),
            models.chain.map(PartModelId::uuid),
            models.cassette.map(PartModelId::uuid),
            models.ring.map(PartModelId::uuid),
            created_at.micros()
        )?;
        inserted.map(|_| ()).ok_or(StoreError::Conflict)
    }

    /// A kind of bike.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn bike_kind(&mut self, id: BikeKindId) -> Result<BikeKind, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// The kind of bike of that name, in any case.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn bike_kind_named(&mut self, name: &Label) -> Result<BikeKind, StoreError> {
        let row: Row = row!(self, NAMED, name.folded())?;
        row.try_into()
    }

    /// Every kind of bike of the workshop, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn all_bike_kinds(&mut self) -> Result<Vec<BikeKind>, StoreError> {
        let rows: Vec<Row> = rows!(self, LIST, Uuid::nil(), i64::MAX)?;
        rows.into_iter().map(BikeKind::try_from).collect()
    }

    /// The workshop's kinds of bike, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bike_kinds(&mut self, page: &PageRequest) -> Result<Page<BikeKind>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::nil(), page, |kind: &BikeKind| kind.id.uuid()).await
    }

    /// Changes a kind of bike and returns its new revision.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale or another kind has the name.
    pub async fn update_bike_kind(
        &mut self,
        id: BikeKindId,
        revision: i64,
        facts: &BikeKindFacts,
    ) -> Result<i64, StoreError> {
        self.note(ChangedKind::BikeKind, None, id.uuid());
        let BikeKindFacts { name, usage, drivetrain, is_assumed, limit, group, models } = facts;
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            id.uuid(),
            revision,
            name.as_str(),
            name.folded(),
            usage.as_str(),
            Json(DrivetrainDoc::from(drivetrain)),
            *is_assumed,
            limit.map(Limit::get),
            group.as_ref().map(GroupName::as_str),
            models.chain.map(PartModelId::uuid),
            models.cassette.map(PartModelId::uuid),
            models.ring.map(PartModelId::uuid)
        )?;
        guarded(updated, self.bike_kind(id)).await
    }

    /// Takes a kind of bike away; that no bike is of it is the caller's to check.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn delete_bike_kind(&mut self, id: BikeKindId, revision: i64) -> Result<(), StoreError> {
        self.note_gone(ChangedKind::BikeKind, None, id.uuid());
        let deleted: Option<i64> = value_if_any!(self, DELETE, id.uuid(), revision)?;
        guarded(deleted, self.bike_kind(id)).await.map(|_| ())
    }

    /// The bikes of a kind, retired ones too.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn bikes_of_kind(&mut self, id: BikeKindId) -> Result<Vec<BikeId>, StoreError> {
        let rows: Vec<(Uuid,)> = rows!(self, BIKES, id.uuid())?;
        Ok(rows.into_iter().map(|(id,)| BikeId::from_uuid(id)).collect())
    }

    /// How many bikes are of a kind, retired ones too.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn count_of_kind(&mut self, id: BikeKindId) -> Result<i64, StoreError> {
        let count: i64 = value!(self, COUNT, id.uuid())?;
        Ok(count)
    }
}
