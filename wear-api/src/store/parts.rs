//! Parts.

use std::collections::HashMap;
use std::sync::LazyLock;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::{guarded, page_of};
use super::instant::{instant, maybe_instant};
use super::many::Many;
use super::{Tx, execute, row, rows, statements, value_if_any};
use crate::domain::{
    AppId, ChangedKind, Cursor, Label, NewPart, Page, PageRequest, Part, PartFacts, PartId, PartModelId,
    Place, Reach, RiderId, Timestamp,
};

const TABLE: &str = "parts";

/// Parts in the order they were entered, and of these those within a reach.
macro_rules! list {
    ($within:literal) => {
        concat!(
            "
        select part_id, model_id, place, label, created_at, retired_at, revision
        from parts
        where workshop_id = $1 and part_id > $2 and (cast($3 as text) is null or place = $3) ",
            $within,
            "
        order by part_id limit $4"
        )
    };
}

statements! {
    INSERT = "
        insert into parts (workshop_id, part_id, model_id, place, label, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, 1)";
    GET = "
        select part_id, model_id, place, label, created_at, retired_at, revision
        from parts where workshop_id = $1 and part_id = $2";
    UPDATE = "
        update parts set model_id = $4, label = $5, retired_at = $6, revision = revision + 1
        where workshop_id = $1 and part_id = $2 and revision = $3
        returning revision";
    LIST = list!("");
    LIST_OF_APP = list!(
        "and part_id in (select f.part_id
            from bikes b join fittings f on f.workshop_id = b.workshop_id and f.bike_id = b.bike_id
            where b.workshop_id = $1 and b.app_id = $5)"
    );
    LIST_OF_RIDER = list!(
        "and part_id in (select f.part_id
            from bikes b join fittings f on f.workshop_id = b.workshop_id and f.bike_id = b.bike_id
            where b.workshop_id = $1 and b.rider_id = $5)"
    );
    OWNERS = "
        select b.app_id, b.rider_id
        from fittings f join bikes b on b.workshop_id = f.workshop_id and b.bike_id = f.bike_id
        where f.workshop_id = $1 and f.part_id = $2";
}

static MODELS: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up("select part_id, model_id from parts where workshop_id = $1 and part_id = ?")
});

pub(super) fn model_statements() -> &'static [&'static str] {
    MODELS.texts()
}

#[derive(sqlx::FromRow)]
struct ModelRow {
    part_id: Uuid,
    model_id: Option<Uuid>,
}

struct ModelOfPart(PartId, Option<PartModelId>);

impl TryFrom<ModelRow> for ModelOfPart {
    type Error = StoreError;

    fn try_from(ModelRow { part_id, model_id }: ModelRow) -> Result<Self, StoreError> {
        Ok(Self(PartId::from_uuid(part_id), model_id.map(PartModelId::from_uuid)))
    }
}

#[derive(sqlx::FromRow)]
struct Row {
    part_id: Uuid,
    model_id: Option<Uuid>,
    place: String,
    label: Option<String>,
    created_at: i64,
    retired_at: Option<i64>,
    revision: i64,
}

impl TryFrom<Row> for Part {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { part_id, model_id, place, label, created_at, retired_at, revision } = row;
        Ok(Self {
            id: PartId::from_uuid(part_id),
            facts: PartFacts {
                model_id: model_id.map(PartModelId::from_uuid),
                place: place.parse().sound(TABLE, "place")?,
                label: label.as_deref().map(Label::new).transpose().sound(TABLE, "label")?,
            },
            created_at: instant(created_at, TABLE, "created_at")?,
            retired_at: maybe_instant(retired_at, TABLE, "retired_at")?,
            revision,
        })
    }
}

impl Tx {
    /// The models of those of these parts that have one.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn models_of_parts(
        &mut self,
        parts: &[PartId],
    ) -> Result<HashMap<PartId, PartModelId>, StoreError> {
        let ids = parts.iter().map(|part| part.uuid());
        let found: Vec<ModelOfPart> = self.rows_of::<ModelRow, _>(&MODELS, ids).await?;
        Ok(found.into_iter().filter_map(|ModelOfPart(part, model)| Some((part, model?))).collect())
    }

    /// Stores a new part.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such model for its place.
    pub async fn insert_part(&mut self, part: &NewPart) -> Result<(), StoreError> {
        self.note(ChangedKind::Part, None, part.id.uuid());
        let NewPart { id, facts, created_at } = part;
        let PartFacts { model_id, place, label } = facts;
        execute!(
            self,
            INSERT,
            id.uuid(),
            model_id.map(PartModelId::uuid),
            place.as_str(),
            label.as_ref().map(Label::as_str),
            created_at.micros()
        )?;
        Ok(())
    }

    /// A part.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], also for one that never was on a bike within this transaction's reach.
    pub async fn part(&mut self, id: PartId) -> Result<Part, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        let reach = self.reach;
        if reach.is_bound() {
            let owners: Vec<(Option<Uuid>, Option<Uuid>)> = rows!(self, OWNERS, id.uuid())?;
            let covers = |(app, rider): (Option<Uuid>, Option<Uuid>)| {
                reach.covers(app.map(AppId::from_uuid), rider.map(RiderId::from_uuid))
            };
            if !owners.into_iter().any(covers) {
                return Err(StoreError::NotFound);
            }
        }
        row.try_into()
    }

    /// Changes a part's model, label and retirement and returns its new revision.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn update_part(
        &mut self,
        id: PartId,
        revision: i64,
        model_id: Option<PartModelId>,
        label: Option<&Label>,
        retired_at: Option<Timestamp>,
    ) -> Result<i64, StoreError> {
        self.note(ChangedKind::Part, None, id.uuid());
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            id.uuid(),
            revision,
            model_id.map(PartModelId::uuid),
            label.map(Label::as_str),
            retired_at.map(Timestamp::micros)
        )?;
        guarded(updated, self.part(id)).await
    }

    /// At most so many parts after one, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn parts_after(&mut self, after: PartId, most: i64) -> Result<Vec<Part>, StoreError> {
        let rows: Vec<Row> = rows!(self, LIST, after.uuid(), None::<String>, most)?;
        rows.into_iter().map(Part::try_from).collect()
    }

    /// The workshop's parts, of one place or all, in the order they were entered; within a reach those that were on its bikes.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn parts(
        &mut self,
        place: Option<Place>,
        page: &PageRequest,
    ) -> Result<Page<Part>, StoreError> {
        let after = page.after_id(Uuid::nil())?;
        let (place, limit) = (place.map(Place::as_str), page.rows());
        let rows: Vec<Row> = match self.reach {
            Reach::Workshop => rows!(self, LIST, after, place, limit)?,
            Reach::App(app) => rows!(self, LIST_OF_APP, after, place, limit, app.uuid())?,
            Reach::Rider(rider) | Reach::AppForRider(_, rider) => {
                rows!(self, LIST_OF_RIDER, after, place, limit, rider.uuid())?
            }
        };
        page_of(rows, page, |part: &Part| Cursor::Id(part.id.uuid()))
    }
}
