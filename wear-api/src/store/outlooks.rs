//! Outlooks as they were computed last.

use std::sync::LazyLock;

use sqlx::types::Json;
use uuid::Uuid;
use wear_core::bike::{CassetteReport, RingReport};
use wear_core::degradation::Quantiles;
use wear_core::units::{Kilometres, Probability};

use super::error::{Sound, StoreError};
use super::guarded::page_of;
use super::instant::{date, day_number, instant};
use super::many::Many;
use super::needs::NeedsDoc;
use super::{Tx, execute, on, pattern, row_if_any, rows, statements};
use crate::domain::{
    Advice, BikeId, Cursor, FleetEntry, GroupName, Label, OutlookFilter, OutlookRow, OutlookSummary, Page,
    PageRequest, PartId, Reach, SwapNeeds, with_chain,
};

const TABLE: &str = "outlooks";

/// The last day of the year 9999: nobody has to see to the bike. A number, as the two engines don't agree
/// on where null stands in an order.
const NEVER: i64 = 2_932_896;

/// Places in the list that a day has.
const A_DAY: i64 = 100_000;

/// Where a bike stands in the fleet's list: by its day, and on one day by its advice, then by the probability of being over the
/// limit, to four digits. A stored number, as lists are read by it.
fn due_order(outlook: &OutlookSummary) -> i64 {
    let advice = match outlook.advice {
        Advice::SwapNow => 0,
        Advice::Hold => 1,
        Advice::SwapBy => 2,
        Advice::MeasureBy => 3,
        Advice::RideOn => 4,
    };
    let sound = 1.0 - outlook.probability_over.map_or(0.0, Probability::get);
    outlook.attention_on.map_or(NEVER, day_number) * A_DAY
        + advice * 10_000
        + (sound * 9_999.0).round() as i64
}

/// The place in the list before which a filter's bikes stand.
pub(super) fn due_until(filter: &OutlookFilter) -> i64 {
    filter.due_before.map_or(i64::MAX, |day| day_number(day) * A_DAY)
}

/// The fleet by when each bike needs someone, the worst of a day first: with the advice that is asked for, and within a reach.
macro_rules! list {
    ($advice:literal, $within:literal) => {
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
                b.label, b.bike_group, b.usage
            from outlooks o join bikes b on b.workshop_id = o.workshop_id and b.bike_id = o.bike_id
            where o.workshop_id = $1 and (o.due_order, o.bike_id) > ($2, $3) and o.due_order < $4
                and ",
            $advice,
            "
                and (cast($6 as text) is null or b.bike_group = $6)
                and (b.label_key like $7 escape '!' or b.group_key like $7 escape '!') ",
            $within,
            "
            order by o.due_order, o.bike_id limit $8) page
        order by page.due_order, page.bike_id"
        )
    };
}

statements! {
    GET = "
        select bike_id, part_id, advice, attention_on, swap_by, measure_by, probability_over,
            remaining_km_p10, remaining_km_p50, remaining_km_p90, computed_at, payload
        from outlooks where workshop_id = $1 and bike_id = $2";
    REMOVE = "delete from outlooks where workshop_id = $1 and bike_id = $2";
    LIST = list!("(cast($5 as text) is null or o.advice = $5)", "");
    LIST_OF_APP = list!("(cast($5 as text) is null or o.advice = $5)", "and b.app_id = $9");
    LIST_OF_RIDER = list!("(cast($5 as text) is null or o.advice = $5)", "and b.rider_id = $9");
    LIST_OF_ADVICE = list!("o.advice = $5", "");
    LIST_OF_ADVICE_OF_APP = list!("o.advice = $5", "and b.app_id = $9");
    LIST_OF_ADVICE_OF_RIDER = list!("o.advice = $5", "and b.rider_id = $9");
    COUNTS_OF_ALL = "
        select advice, cast(count(*) as bigint) from outlooks
        where workshop_id = $1 and due_order < $2
        group by advice";
    COUNTS = "
        select o.advice, cast(count(*) as bigint)
        from outlooks o join bikes b on b.workshop_id = o.workshop_id and b.bike_id = o.bike_id
        where o.workshop_id = $1 and o.due_order < $2
            and (cast($3 as text) is null or b.bike_group = $3)
            and (b.label_key like $4 escape '!' or b.group_key like $4 escape '!')
        group by o.advice";
}

static SAVE: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into outlooks (workshop_id, bike_id, part_id, advice, attention_on, swap_by, measure_by,
            probability_over, remaining_km_p10, remaining_km_p50, remaining_km_p90, payload, computed_at,
            needs, due_order)
         values ",
        "($1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        1,
        " on conflict (workshop_id, bike_id) do update set
            part_id = excluded.part_id, advice = excluded.advice, attention_on = excluded.attention_on,
            swap_by = excluded.swap_by, measure_by = excluded.measure_by,
            probability_over = excluded.probability_over, remaining_km_p10 = excluded.remaining_km_p10,
            remaining_km_p50 = excluded.remaining_km_p50, remaining_km_p90 = excluded.remaining_km_p90,
            payload = excluded.payload, computed_at = excluded.computed_at, needs = excluded.needs,
            due_order = excluded.due_order",
    )
});

pub(super) fn save_statements() -> &'static [&'static str] {
    SAVE.texts()
}

#[derive(sqlx::FromRow)]
pub(super) struct SummaryRow {
    bike_id: Uuid,
    part_id: Option<Uuid>,
    advice: String,
    attention_on: i64,
    swap_by: Option<i64>,
    measure_by: Option<i64>,
    probability_over: Option<f64>,
    remaining_km_p10: Option<f64>,
    remaining_km_p50: Option<f64>,
    remaining_km_p90: Option<f64>,
    computed_at: i64,
}

#[derive(sqlx::FromRow)]
struct Row {
    #[sqlx(flatten)]
    summary: SummaryRow,
    payload: Json<serde_json::Value>,
}

#[derive(sqlx::FromRow)]
pub(super) struct EntryRow {
    #[sqlx(flatten)]
    summary: SummaryRow,
    label: String,
    bike_group: String,
    usage: String,
    /// As JSON.
    reason: Option<String>,
    cassette: Option<String>,
    rings: Option<String>,
}

impl TryFrom<SummaryRow> for OutlookSummary {
    type Error = StoreError;

    fn try_from(row: SummaryRow) -> Result<Self, StoreError> {
        let SummaryRow {
            bike_id,
            part_id,
            advice,
            attention_on,
            swap_by,
            measure_by,
            probability_over,
            remaining_km_p10,
            remaining_km_p50,
            remaining_km_p90,
            computed_at,
        } = row;
        let day = |number: Option<i64>, column| number.map(|day| date(day, TABLE, column)).transpose();
        let km = |km| Kilometres::new(km).map(Kilometres::get).sound(TABLE, "remaining_km_p50");
        let remaining = match remaining_km_p10.zip(remaining_km_p50).zip(remaining_km_p90) {
            None => None,
            Some(((p10, p50), p90)) => Some(Quantiles { p10: km(p10)?, p50: km(p50)?, p90: km(p90)? }),
        };
        Ok(Self {
            bike_id: BikeId::from_uuid(bike_id),
            part_id: part_id.map(PartId::from_uuid),
            advice: advice.parse().sound(TABLE, "advice")?,
            attention_on: day(Some(attention_on).filter(|day| *day != NEVER), "attention_on")?,
            swap_by: day(swap_by, "swap_by")?,
            measure_by: day(measure_by, "measure_by")?,
            probability_over: probability_over
                .map(Probability::new)
                .transpose()
                .sound(TABLE, "probability_over")?,
            remaining,
            computed_at: instant(computed_at, TABLE, "computed_at")?,
        })
    }
}

impl TryFrom<EntryRow> for FleetEntry {
    type Error = StoreError;

    fn try_from(row: EntryRow) -> Result<Self, StoreError> {
        let EntryRow { summary, label, bike_group, usage, reason, cassette, rings } = row;
        let cassette: Option<CassetteReport> =
            cassette.and_then(|report| serde_json::from_str(&report).ok()).flatten();
        let rings: Vec<RingReport> =
            rings.and_then(|reports| serde_json::from_str(&reports).ok()).unwrap_or_default();
        Ok(Self {
            label: Label::new(&label).sound("bikes", "label")?,
            group: GroupName::new(&bike_group).sound("bikes", "bike_group")?,
            usage: usage.parse().sound("bikes", "usage")?,
            outlook: summary.try_into()?,
            // An outlook that an earlier version wrote is computed anew by the worker before long.
            reason: reason.and_then(|reason| serde_json::from_str(&reason).ok()),
            with_chain: with_chain(cassette.as_ref(), &rings),
        })
    }
}

impl Tx {
    /// Stores outlooks, and what the bikes' next swaps use, in place of those before.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike or part.
    pub async fn save_outlooks(
        &mut self,
        outlooks: &[(&OutlookRow, Option<&SwapNeeds>)],
    ) -> Result<(), StoreError> {
        for (sql, batch) in SAVE.batches(self.engine(), outlooks) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for (OutlookRow { summary, payload }, needs) in batch {
                    let OutlookSummary {
                        bike_id,
                        part_id,
                        advice,
                        attention_on,
                        swap_by,
                        measure_by,
                        probability_over,
                        remaining,
                        computed_at,
                    } = summary;
                    query = query
                        .bind(bike_id.uuid())
                        .bind(part_id.map(PartId::uuid))
                        .bind(advice.as_str())
                        .bind(attention_on.map_or(NEVER, day_number))
                        .bind(swap_by.map(day_number))
                        .bind(measure_by.map(day_number))
                        .bind(probability_over.map(Probability::get))
                        .bind(remaining.map(|remaining| remaining.p10))
                        .bind(remaining.map(|remaining| remaining.p50))
                        .bind(remaining.map(|remaining| remaining.p90))
                        .bind(Json(payload))
                        .bind(computed_at.micros())
                        .bind(needs.map(|needs| Json(NeedsDoc::from(needs))))
                        .bind(due_order(summary));
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// A bike's outlook; none when none was computed yet, or the bike is retired or not the workshop's.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn outlook(&mut self, bike: BikeId) -> Result<Option<OutlookRow>, StoreError> {
        let row: Option<Row> = row_if_any!(self, GET, bike.uuid())?;
        row.map(|Row { summary, payload: Json(payload) }| {
            Ok(OutlookRow { summary: summary.try_into()?, payload })
        })
        .transpose()
    }

    pub(super) async fn remove_outlook(&mut self, bike: BikeId) -> Result<(), StoreError> {
        execute!(self, REMOVE, bike.uuid())?;
        Ok(())
    }

    /// The fleet, by when each bike needs someone, the worst of a day first; those that need nobody come last.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fleet(
        &mut self,
        filter: &OutlookFilter,
        page: &PageRequest,
    ) -> Result<Page<FleetEntry>, StoreError> {
        let (place, id) = page.after_number((i64::MIN, Uuid::nil()))?;
        // With the advice left open, no plan could use the index that leads with it.
        let [list, of_app, of_rider] = match filter.advice {
            Some(_) => [LIST_OF_ADVICE, LIST_OF_ADVICE_OF_APP, LIST_OF_ADVICE_OF_RIDER],
            None => [LIST, LIST_OF_APP, LIST_OF_RIDER],
        };
        let until = due_until(filter);
        let advice = filter.advice.map(Advice::as_str);
        let group = filter.group.as_ref().map(GroupName::as_str);
        let (pattern, limit) = (pattern(filter.search.as_deref()), page.rows());
        let rows: Vec<EntryRow> = match self.reach {
            Reach::Workshop => rows!(self, list, place, id, until, advice, group, pattern, limit)?,
            Reach::App(app) => {
                rows!(self, of_app, place, id, until, advice, group, pattern, limit, app.uuid())?
            }
            Reach::Rider(rider) | Reach::AppForRider(_, rider) => {
                rows!(self, of_rider, place, id, until, advice, group, pattern, limit, rider.uuid())?
            }
        };
        page_of(rows, page, |entry: &FleetEntry| {
            Cursor::Number(due_order(&entry.outlook), entry.outlook.bike_id.uuid())
        })
    }

    /// How many bikes have each advice, among those that the filter lets through; its own advice is not
    /// looked at.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn advice_counts(&mut self, filter: &OutlookFilter) -> Result<Vec<(Advice, i64)>, StoreError> {
        let until = due_until(filter);
        if filter.group.is_none() && filter.search.is_none() {
            // From an index alone, without the bikes.
            let rows: Vec<(String, i64)> = rows!(self, COUNTS_OF_ALL, until)?;
            return counted(rows);
        }
        let rows: Vec<(String, i64)> = rows!(
            self,
            COUNTS,
            until,
            filter.group.as_ref().map(GroupName::as_str),
            pattern(filter.search.as_deref())
        )?;
        counted(rows)
    }
}

fn counted(rows: Vec<(String, i64)>) -> Result<Vec<(Advice, i64)>, StoreError> {
    rows.into_iter().map(|(advice, count)| Ok((advice.parse().sound(TABLE, "advice")?, count))).collect()
}
