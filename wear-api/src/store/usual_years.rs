//! How a year goes for the bikes of groups.

use std::collections::{BTreeSet, HashMap};

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::{Tx, execute, row_if_any, rows, statements};
use crate::domain::{GroupName, GroupYear};

const TABLE: &str = "usual_years";

/// The group of no name: the workshop as a whole.
const WORKSHOP: &str = "";

statements! {
    CLEAR = "delete from usual_years where workshop_id = $1";
    INSERT = "
        insert into usual_years (workshop_id, bike_group, usual_year, bikes, learned_at)
        values ($1, $2, $3, $4, $5)";
    ALL = "
        select bike_group, usual_year, bikes, learned_at from usual_years where workshop_id = $1
        order by bike_group";
    FOR_GROUP = "
        select bike_group, usual_year, bikes, learned_at from usual_years
        where workshop_id = $1 and bike_group in ($2, '') order by bike_group desc limit 1";
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_group: String,
    usual_year: String,
    bikes: i64,
    learned_at: i64,
}

impl TryFrom<Row> for GroupYear {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { bike_group, usual_year, bikes, learned_at } = row;
        let group = (bike_group != WORKSHOP).then(|| GroupName::new(&bike_group)).transpose();
        Ok(Self {
            group: group.sound(TABLE, "bike_group")?,
            year: serde_json::from_str(&usual_year).sound(TABLE, "usual_year")?,
            bikes,
            learned_at: instant(learned_at, TABLE, "learned_at")?,
        })
    }
}

impl Tx {
    /// Stores what was learned, in place of what had been learned before.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_usual_years(&mut self, learned: &[GroupYear]) -> Result<(), StoreError> {
        execute!(self, CLEAR)?;
        for GroupYear { group, year, bikes, learned_at } in learned {
            let group = group.as_ref().map_or(WORKSHOP, GroupName::as_str);
            let year = serde_json::to_string(year).sound(TABLE, "usual_year")?;
            execute!(self, INSERT, group, year.as_str(), *bikes, learned_at.micros())?;
        }
        Ok(())
    }

    /// All that was learned: the workshop as a whole first.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn usual_years(&mut self) -> Result<Vec<GroupYear>, StoreError> {
        let rows: Vec<Row> = rows!(self, ALL)?;
        rows.into_iter().map(GroupYear::try_from).collect()
    }

    /// The year of each of these groups, or of the workshop for one that has none of its own.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn usual_years_of(
        &mut self,
        groups: BTreeSet<&GroupName>,
    ) -> Result<HashMap<GroupName, GroupYear>, StoreError> {
        let mut known = HashMap::new();
        for group in groups {
            let row: Option<Row> = row_if_any!(self, FOR_GROUP, group.as_str())?;
            if let Some(row) = row {
                known.insert(group.clone(), row.try_into()?);
            }
        }
        Ok(known)
    }
}
