//! How far bikes are said to go.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::page_of;
use super::instant::{date, day_number, instant};
use super::many::Many;
use super::{Tx, on, rows, statements, value, value_if_any};
use crate::domain::{
    BikeId, ChangedKind, Cursor, DaysOfUse, DeclaredUse, DeclaredUseId, DistanceAWeek, GroupName, Once, Page,
    PageRequest, UseOf,
};

const TABLE: &str = "declared_use";

statements! {
    INSERT = "
        insert into declared_use (workshop_id, declared_id, bike_id, bike_group, from_day, until_day, mm_per_week,
            entered_at)
        values ($1, $2, $3, $4, $5, $6, $7, $8)
        on conflict do nothing
        returning declared_id";
    SAME_OF_BIKE = "
        select declared_id from declared_use
        where workshop_id = $1 and bike_id = $2 and coalesce(from_day, -1) = $3 and coalesce(until_day, -1) = $4
            and mm_per_week = $5";
    SAME_OF_GROUP = "
        select declared_id from declared_use
        where workshop_id = $1 and bike_group = $2 and coalesce(from_day, -1) = $3 and coalesce(until_day, -1) = $4
            and mm_per_week = $5";
    LIST_OF_BIKE = "
        select declared_id, bike_id, bike_group, from_day, until_day, mm_per_week, entered_at
        from declared_use where workshop_id = $1 and bike_id = $2 and declared_id > $3
        order by declared_id limit $4";
    LIST_OF_GROUP = "
        select declared_id, bike_id, bike_group, from_day, until_day, mm_per_week, entered_at
        from declared_use where workshop_id = $1 and bike_group = $2 and declared_id > $3
        order by declared_id limit $4";
    LIST_OF_GROUPS = "
        select declared_id, bike_id, bike_group, from_day, until_day, mm_per_week, entered_at
        from declared_use where workshop_id = $1 and bike_group is not null and declared_id > $2
        order by declared_id limit $3";
    REMOVE_OF_BIKE = "
        delete from declared_use where workshop_id = $1 and declared_id = $2 and bike_id = $3
        returning declared_id";
    REMOVE_OF_GROUP = "
        delete from declared_use where workshop_id = $1 and declared_id = $2 and bike_group is not null
        returning bike_group";
}

static OF_THESE_BIKES: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select declared_id, bike_id, bike_group, from_day, until_day, mm_per_week, entered_at
         from declared_use where workshop_id = $1 and bike_id = ?",
    )
});

static OF_THESE_GROUPS: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select declared_id, bike_id, bike_group, from_day, until_day, mm_per_week, entered_at
         from declared_use where workshop_id = $1 and bike_group = ?",
    )
});

pub(super) fn of_these_bikes() -> &'static [&'static str] {
    OF_THESE_BIKES.texts()
}

pub(super) fn of_these_groups() -> &'static [&'static str] {
    OF_THESE_GROUPS.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    declared_id: Uuid,
    bike_id: Option<Uuid>,
    bike_group: Option<String>,
    from_day: Option<i64>,
    until_day: Option<i64>,
    mm_per_week: i64,
    entered_at: i64,
}

impl TryFrom<Row> for DeclaredUse {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { declared_id, bike_id, bike_group, from_day, until_day, mm_per_week, entered_at } = row;
        let of = match (bike_id, bike_group) {
            (Some(bike_id), _) => UseOf::Bike(BikeId::from_uuid(bike_id)),
            (None, Some(group)) => UseOf::Group(GroupName::new(&group).sound(TABLE, "bike_group")?),
            (None, None) => Err("use of nothing").sound(TABLE, "bike_id")?,
        };
        let from = from_day.map(|day| date(day, TABLE, "from_day")).transpose()?;
        let until = until_day.map(|day| date(day, TABLE, "until_day")).transpose()?;
        Ok(Self {
            id: DeclaredUseId::from_uuid(declared_id),
            of,
            days: DaysOfUse::new(from, until).sound(TABLE, "until_day")?,
            per_week: DistanceAWeek::from_mm(mm_per_week).sound(TABLE, "mm_per_week")?,
            entered_at: instant(entered_at, TABLE, "entered_at")?,
        })
    }
}

impl Tx {
    /// Stores declared use. The same said twice is said once.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike.
    pub async fn insert_declared_use(
        &mut self,
        declared: &DeclaredUse,
    ) -> Result<Once<DeclaredUseId>, StoreError> {
        let DeclaredUse { id, of, days, per_week, entered_at } = declared;
        let (bike_id, group) = match of {
            UseOf::Bike(bike_id) => (Some(bike_id.uuid()), None),
            UseOf::Group(group) => (None, Some(group.as_str())),
        };
        let (from, until) = (days.from().map(day_number), days.until().map(day_number));
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            id.uuid(),
            bike_id,
            group,
            from,
            until,
            per_week.mm(),
            entered_at.micros()
        )?;
        if inserted.is_some() {
            self.note(ChangedKind::DeclaredUse, bike_id.map(BikeId::from_uuid), id.uuid());
            return Ok(Once::New(*id));
        }
        let (from, until) = (from.unwrap_or(-1), until.unwrap_or(-1));
        let same: Uuid = match of {
            UseOf::Bike(bike_id) => value!(self, SAME_OF_BIKE, bike_id.uuid(), from, until, per_week.mm())?,
            UseOf::Group(group) => value!(self, SAME_OF_GROUP, group.as_str(), from, until, per_week.mm())?,
        };
        Ok(Once::Again(DeclaredUseId::from_uuid(same)))
    }

    /// What is declared of one bike, or of one group, in the order it was entered.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn declared_use(
        &mut self,
        of: &UseOf,
        page: &PageRequest,
    ) -> Result<Page<DeclaredUse>, StoreError> {
        let after = page.after_id(Uuid::nil())?;
        let rows: Vec<Row> = match of {
            UseOf::Bike(bike_id) => rows!(self, LIST_OF_BIKE, bike_id.uuid(), after, page.rows())?,
            UseOf::Group(group) => rows!(self, LIST_OF_GROUP, group.as_str(), after, page.rows())?,
        };
        page_of(rows, page, |declared: &DeclaredUse| Cursor::Id(declared.id.uuid()))
    }

    /// What is declared of groups, in the order it was entered.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn declared_use_of_groups(
        &mut self,
        page: &PageRequest,
    ) -> Result<Page<DeclaredUse>, StoreError> {
        let after = page.after_id(Uuid::nil())?;
        let rows: Vec<Row> = rows!(self, LIST_OF_GROUPS, after, page.rows())?;
        page_of(rows, page, |declared: &DeclaredUse| Cursor::Id(declared.id.uuid()))
    }

    /// What is declared of these bikes and of these groups, in no order.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn declared_use_of(
        &mut self,
        bikes: &[BikeId],
        groups: BTreeSet<&GroupName>,
    ) -> Result<Vec<DeclaredUse>, StoreError> {
        let ids = bikes.iter().map(|bike| bike.uuid());
        let mut found = self.rows_of::<Row, DeclaredUse>(&OF_THESE_BIKES, ids).await?;
        let groups: Vec<&str> = groups.into_iter().map(GroupName::as_str).collect();
        for (sql, batch) in OF_THESE_GROUPS.batches(self.engine(), &groups) {
            let rows: Vec<Row> = on!(self.connection, |conn| {
                let mut query = sqlx::query_as(sql).bind(self.workshop.uuid());
                for group in batch {
                    query = query.bind(*group);
                }
                query.fetch_all(conn).await
            })?;
            for row in rows {
                found.push(row.try_into()?);
            }
        }
        Ok(found)
    }

    /// Takes back what was declared of a bike.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn remove_declared_use(&mut self, bike: BikeId, id: DeclaredUseId) -> Result<(), StoreError> {
        self.note_gone(ChangedKind::DeclaredUse, Some(bike), id.uuid());
        let removed: Option<Uuid> = value_if_any!(self, REMOVE_OF_BIKE, id.uuid(), bike.uuid())?;
        removed.map(|_| ()).ok_or(StoreError::NotFound)
    }

    /// Takes back what was declared of a group, and says of which.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn remove_declared_use_of_group(&mut self, id: DeclaredUseId) -> Result<GroupName, StoreError> {
        let removed: Option<String> = value_if_any!(self, REMOVE_OF_GROUP, id.uuid())?;
        let group = removed.ok_or(StoreError::NotFound)?;
        GroupName::new(&group).sound(TABLE, "bike_group")
    }
}
