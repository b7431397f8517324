//! Part models.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};
use sqlx::types::Json;
use uuid::Uuid;
use wear_core::units::{JockeyTeeth, Limit};

use super::error::{Sound, StoreError};
use super::guarded::guarded;
use super::instant::instant;
use super::many::Many;
use super::{Tx, execute, row, rows, statements, value_if_any};
use crate::domain::{
    ChangedKind, Geometry, Label, Money, Page, PageRequest, PartModel, PartModelFacts, PartModelId, Teeth,
};

const TABLE: &str = "part_models";

statements! {
    INSERT = "
        insert into part_models (workshop_id, part_model_id, place, name, name_key, geometry, price_minor,
            price_currency, limit_percent, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, 1)";
    GET = "
        select part_model_id, name, geometry, price_minor, price_currency, limit_percent, created_at, revision
        from part_models where workshop_id = $1 and part_model_id = $2";
    UPDATE = "
        update part_models set name = $4, name_key = $5, geometry = $6, price_minor = $7,
            price_currency = $8, limit_percent = $9, revision = revision + 1
        where workshop_id = $1 and part_model_id = $2 and revision = $3 and place = $10
        returning revision";
    LIST = "
        select part_model_id, name, geometry, price_minor, price_currency, limit_percent, created_at, revision
        from part_models where workshop_id = $1 and part_model_id > $2
        order by part_model_id limit $3";
}

static THESE: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up("select part_model_id, name, geometry, price_minor, price_currency, limit_percent, created_at, revision
         from part_models where workshop_id = $1 and part_model_id = ?")
});

pub(super) fn these() -> &'static [&'static str] {
    THESE.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    part_model_id: Uuid,
    name: String,
    geometry: Json<GeometryDoc>,
    price_minor: Option<i64>,
    price_currency: Option<String>,
    limit_percent: Option<f64>,
    created_at: i64,
    revision: i64,
}

#[derive(Serialize, Deserialize)]
#[serde(tag = "place", rename_all = "snake_case", deny_unknown_fields)]
enum GeometryDoc {
    Chain { sprockets: Option<u32> },
    Cassette { cogs: Vec<u32>, one_piece: bool },
    Cog { teeth: u32 },
    Ring { teeth: u32, narrow_wide: bool },
    JockeyWheels { teeth: u32 },
}

impl From<&Geometry> for GeometryDoc {
    fn from(geometry: &Geometry) -> Self {
        match geometry {
            Geometry::Chain { sprockets } => Self::Chain { sprockets: *sprockets },
            Geometry::Cassette { cogs, one_piece } => Self::Cassette {
                cogs: cogs.iter().map(|teeth| u32::from(teeth.get())).collect(),
                one_piece: *one_piece,
            },
            Geometry::Cog { teeth } => Self::Cog { teeth: u32::from(teeth.get()) },
            Geometry::Ring { teeth, narrow_wide } => {
                Self::Ring { teeth: u32::from(teeth.get()), narrow_wide: *narrow_wide }
            }
            Geometry::JockeyWheels { teeth } => Self::JockeyWheels { teeth: u32::from(teeth.get()) },
        }
    }
}

impl TryFrom<GeometryDoc> for Geometry {
    type Error = StoreError;

    fn try_from(doc: GeometryDoc) -> Result<Self, StoreError> {
        let count = |teeth| Teeth::new(teeth).sound(TABLE, "geometry");
        Ok(match doc {
            GeometryDoc::Chain { sprockets } => Self::Chain { sprockets },
            GeometryDoc::Cassette { cogs, one_piece } => {
                Self::Cassette { cogs: cogs.into_iter().map(count).collect::<Result<_, _>>()?, one_piece }
            }
            GeometryDoc::Cog { teeth } => Self::Cog { teeth: count(teeth)? },
            GeometryDoc::Ring { teeth, narrow_wide } => Self::Ring { teeth: count(teeth)?, narrow_wide },
            GeometryDoc::JockeyWheels { teeth } => {
                Self::JockeyWheels { teeth: JockeyTeeth::new(teeth).sound(TABLE, "geometry")? }
            }
        })
    }
}

impl TryFrom<Row> for PartModel {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            part_model_id,
            name,
            geometry: Json(geometry),
            price_minor,
            price_currency,
            limit_percent,
            created_at,
            revision,
        } = row;
        let price = match price_minor.zip(price_currency) {
            None => None,
            Some((minor, currency)) => {
                let currency = currency.parse().sound(TABLE, "price_currency")?;
                Some(Money::new(minor, currency).sound(TABLE, "price_minor")?)
            }
        };
        Ok(Self {
            id: PartModelId::from_uuid(part_model_id),
            facts: PartModelFacts {
                name: Label::new(&name).sound(TABLE, "name")?,
                geometry: geometry.try_into()?,
                price,
                limit: limit_percent.map(Limit::new).transpose().sound(TABLE, "limit_percent")?,
            },
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

impl Tx {
    /// Stores a new part model, at revision 1 whatever it says.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when its id is known already.
    pub async fn insert_part_model(&mut self, model: &PartModel) -> Result<(), StoreError> {
        self.note(ChangedKind::PartModel, None, model.id.uuid());
        let PartModel { id, facts, created_at, revision: _ } = model;
        let PartModelFacts { name, geometry, price, limit } = facts;
        execute!(
            self,
            INSERT,
            id.uuid(),
            geometry.place().as_str(),
            name.as_str(),
            name.folded(),
            Json(GeometryDoc::from(geometry)),
            price.map(Money::minor),
            price.map(|price| price.currency().to_string()),
            limit.map(Limit::get),
            created_at.micros()
        )?;
        Ok(())
    }

    /// A part model.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn part_model(&mut self, id: PartModelId) -> Result<PartModel, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// Those of these part models that there are, in no order.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn part_models_of(&mut self, ids: &[PartModelId]) -> Result<Vec<PartModel>, StoreError> {
        let ids = ids.iter().map(|id| id.uuid());
        self.rows_of::<Row, _>(&THESE, ids).await
    }

    /// Changes a part model and returns its new revision. Its place stays.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale or the place another.
    pub async fn update_part_model(
        &mut self,
        id: PartModelId,
        revision: i64,
        facts: &PartModelFacts,
    ) -> Result<i64, StoreError> {
        self.note(ChangedKind::PartModel, None, id.uuid());
        let PartModelFacts { name, geometry, price, limit } = facts;
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            id.uuid(),
            revision,
            name.as_str(),
            name.folded(),
            Json(GeometryDoc::from(geometry)),
            price.map(Money::minor),
            price.map(|price| price.currency().to_string()),
            limit.map(Limit::get),
            geometry.place().as_str()
        )?;
        guarded(updated, self.part_model(id)).await
    }

    /// Every part model of the workshop, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn all_part_models(&mut self) -> Result<Vec<PartModel>, StoreError> {
        let rows: Vec<Row> = rows!(self, LIST, Uuid::nil(), i64::MAX)?;
        rows.into_iter().map(PartModel::try_from).collect()
    }

    /// The workshop's part models, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn part_models(&mut self, page: &PageRequest) -> Result<Page<PartModel>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::nil(), page, |model: &PartModel| model.id.uuid()).await
    }
}
