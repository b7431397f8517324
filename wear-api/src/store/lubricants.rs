//! A workshop's lubricants.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::guarded;
use super::instant::{instant, maybe_instant};
use super::{Tx, row, rows, statements, value_if_any};
use crate::domain::{
    ChangedKind, Label, Lubricant, LubricantFacts, LubricantId, Minutes, Money, Page, PageRequest, Timestamp,
};

const TABLE: &str = "lubricants";

statements! {
    INSERT = "
        insert into lubricants (workshop_id, lubricant_id, name, name_key, price_minor, price_currency, minutes,
            created_at, revision)
        values ($1, $2, $3, $4, $5, $6, $7, $8, 1)
        on conflict do nothing
        returning lubricant_id";
    GET = "
        select lubricant_id, name, price_minor, price_currency, minutes, created_at, retired_at, revision
        from lubricants where workshop_id = $1 and lubricant_id = $2";
    LIST = "
        select lubricant_id, name, price_minor, price_currency, minutes, created_at, retired_at, revision
        from lubricants where workshop_id = $1 and lubricant_id > $2
        order by lubricant_id limit $3";
    OTHER_OF_NAME = "
        select lubricant_id from lubricants
        where workshop_id = $1 and name_key = $2 and lubricant_id <> $3 and retired_at is null";
    UPDATE = "
        update lubricants set name = $4, name_key = $5, price_minor = $6, price_currency = $7, minutes = $8, retired_at = $9,
            revision = revision + 1
        where workshop_id = $1 and lubricant_id = $2 and revision = $3
        returning revision";
}

#[derive(sqlx::FromRow)]
struct Row {
    lubricant_id: Uuid,
    name: String,
    price_minor: Option<i64>,
    price_currency: Option<String>,
    minutes: Option<i64>,
    created_at: i64,
    retired_at: Option<i64>,
    revision: i64,
}

impl TryFrom<Row> for Lubricant {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            lubricant_id,
            name,
            price_minor,
            price_currency,
            minutes,
            created_at,
            retired_at,
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
            id: LubricantId::from_uuid(lubricant_id),
            facts: LubricantFacts {
                name: Label::new(&name).sound(TABLE, "name")?,
                price,
                minutes: minutes.map(Minutes::new).transpose().sound(TABLE, "minutes")?,
            },
            created_at: instant(created_at, TABLE, "created_at")?,
            retired_at: maybe_instant(retired_at, TABLE, "retired_at")?,
            revision,
        })
    }
}

impl Tx {
    /// Stores a new lubricant in use, at revision 1 whatever it says.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when a lubricant in use has its name.
    pub async fn insert_lubricant(&mut self, lubricant: &Lubricant) -> Result<(), StoreError> {
        self.note(ChangedKind::Lubricant, None, lubricant.id.uuid());
        let Lubricant { id, facts, created_at, retired_at: _, revision: _ } = lubricant;
        let LubricantFacts { name, price, minutes } = facts;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            id.uuid(),
            name.as_str(),
            name.folded(),
            price.map(Money::minor),
            price.map(|price| price.currency().to_string()),
            minutes.map(|minutes| i64::from(minutes.get())),
            created_at.micros()
        )?;
        inserted.map(|_| ()).ok_or(StoreError::Conflict)
    }

    /// A lubricant, retired or not.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn lubricant(&mut self, id: LubricantId) -> Result<Lubricant, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// The workshop's lubricants, retired ones too, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn lubricants(&mut self, page: &PageRequest) -> Result<Page<Lubricant>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::nil(), page, |lubricant: &Lubricant| lubricant.id.uuid()).await
    }

    /// Every lubricant of the workshop, retired ones too, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn all_lubricants(&mut self) -> Result<Vec<Lubricant>, StoreError> {
        let rows: Vec<Row> = rows!(self, LIST, Uuid::nil(), i64::MAX)?;
        rows.into_iter().map(Lubricant::try_from).collect()
    }

    /// Whether another lubricant in use has the name.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn is_lubricant_name_taken(
        &mut self,
        name: &Label,
        by_other_than: LubricantId,
    ) -> Result<bool, StoreError> {
        let other: Option<Uuid> = value_if_any!(self, OTHER_OF_NAME, name.folded(), by_other_than.uuid())?;
        Ok(other.is_some())
    }

    /// Changes what can be set of a lubricant, and whether it is retired.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn update_lubricant(
        &mut self,
        id: LubricantId,
        revision: i64,
        facts: &LubricantFacts,
        retired_at: Option<Timestamp>,
    ) -> Result<(), StoreError> {
        self.note(ChangedKind::Lubricant, None, id.uuid());
        let LubricantFacts { name, price, minutes } = facts;
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            id.uuid(),
            revision,
            name.as_str(),
            name.folded(),
            price.map(Money::minor),
            price.map(|price| price.currency().to_string()),
            minutes.map(|minutes| i64::from(minutes.get())),
            retired_at.map(Timestamp::micros)
        )?;
        guarded(updated, self.lubricant(id)).await.map(|_| ())
    }
}
