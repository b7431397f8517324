//! The fleet in the order that somebody at a desk asks for, page by page.

use uuid::Uuid;

use super::error::StoreError;
use super::outlooks::{EntryRow, due_until};
use super::{Tx, pattern, row_if_any, rows, statements};
use crate::domain::{Advice, BikeId, FleetEntry, FleetSort, GroupName, OutlookFilter};

/// What an entry says beside its outlook's summary is looked up for the rows of the page alone.
macro_rules! entries {
    ($page:expr) => {
        concat!(
            "
        select page.*, (select it.payload ->> 'reason' from outlooks it
            where it.workshop_id = $1 and it.bike_id = page.bike_id) as reason,
            (select it.payload ->> 'cassette' from outlooks it
            where it.workshop_id = $1 and it.bike_id = page.bike_id) as cassette,
            (select it.payload ->> 'rings' from outlooks it
            where it.workshop_id = $1 and it.bike_id = page.bike_id) as rings
        from (select o.bike_id, o.part_id, o.advice, o.attention_on, o.swap_by, o.measure_by, o.probability_over,
                o.remaining_km_p10, o.remaining_km_p50, o.remaining_km_p90, o.computed_at, o.due_order,
                b.label, b.label_key, b.bike_group, b.group_key, b.usage
            from outlooks o join bikes b on b.workshop_id = o.workshop_id and b.bike_id = o.bike_id
            where o.workshop_id = $1 and ",
            $page
        )
    };
}

macro_rules! fleet_page {
    ($order:literal, $again:literal) => {
        entries!(concat!(
            "o.due_order < $2
                and (cast($3 as text) is null or o.advice = $3)
                and (cast($4 as text) is null or b.bike_group = $4)
                and (b.label_key like $5 escape '!' or b.group_key like $5 escape '!')
            order by ",
            $order,
            " limit $6 offset $7) page
        order by ",
            $again
        ))
    };
}

statements! {
    BY_DUE = fleet_page!("o.due_order, o.bike_id", "page.due_order, page.bike_id");
    BY_LABEL = fleet_page!("b.label_key, o.bike_id", "page.label_key, page.bike_id");
    BY_GROUP = fleet_page!("b.group_key, o.due_order, o.bike_id", "page.group_key, page.due_order, page.bike_id");
    BY_LEFT = fleet_page!(
        "coalesce(o.remaining_km_p50, 1e9), o.bike_id",
        "coalesce(page.remaining_km_p50, 1e9), page.bike_id"
    );
    ONE = entries!("o.bike_id = $2) page");
}

impl Tx {
    /// So many bikes of the fleet in this order, after so many others.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fleet_page(
        &mut self,
        filter: &OutlookFilter,
        sort: FleetSort,
        rows: u32,
        after: u64,
    ) -> Result<Vec<FleetEntry>, StoreError> {
        let sql = match sort {
            FleetSort::Due => BY_DUE,
            FleetSort::Label => BY_LABEL,
            FleetSort::Group => BY_GROUP,
            FleetSort::Left => BY_LEFT,
        };
        let rows: Vec<EntryRow> = rows!(
            self,
            sql,
            due_until(filter),
            filter.advice.map(Advice::as_str),
            filter.group.as_ref().map(GroupName::as_str),
            pattern(filter.search.as_deref()),
            i64::from(rows),
            i64::try_from(after).unwrap_or(i64::MAX)
        )?;
        rows.into_iter().map(FleetEntry::try_from).collect()
    }

    /// One bike's entry of the fleet; none when it isn't there, or left the fleet.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fleet_entry(&mut self, bike: BikeId) -> Result<Option<FleetEntry>, StoreError> {
        let id: Uuid = bike.uuid();
        let row: Option<EntryRow> = row_if_any!(self, ONE, id)?;
        row.map(FleetEntry::try_from).transpose()
    }
}
