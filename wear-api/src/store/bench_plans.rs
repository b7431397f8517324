//! Bench plans, their promises, and what a plan is made of.

use chrono::NaiveDate;
use sqlx::types::Json;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::{date, day_number, instant, maybe_instant};
use super::{Tx, execute, row_if_any, rows, statements, value_if_any};
use crate::domain::{
    Advice, BenchPin, BenchPlan, BenchPlanId, BikeId, Currency, DueOutlook, FittedPart, Label, Money, PartId,
    PartModelId, PlanResult, PlanState, PlanWindow, Position, Timestamp,
};

const TABLE: &str = "bench_plans";

statements! {
    INSERT = "
        insert into bench_plans (workshop_id, bench_plan_id, from_day, to_day, payload, computed_at)
        values ($1, $2, $3, $4, $5, $6)";
    // What somebody chose outlives the proposal in which they chose it.
    ADOPT_PINS = "
        update bench_pins set bench_plan_id = $2
        where workshop_id = $1 and bench_plan_id in (
            select p.bench_plan_id from bench_plans p where p.workshop_id = $1 and p.accepted_at is null)";
    FORGET_PROPOSALS = "
        delete from bench_plans where workshop_id = $1 and accepted_at is null and bench_plan_id <> $2";
    CHANGE = "update bench_plans set payload = $3 where workshop_id = $1 and bench_plan_id = $2";
    PROPOSED = "
        select bench_plan_id, from_day, to_day, payload, computed_at, accepted_at
        from bench_plans where workshop_id = $1 and accepted_at is null
        order by bench_plan_id desc limit 1";
    ACCEPTED = "
        select bench_plan_id, from_day, to_day, payload, computed_at, accepted_at
        from bench_plans where workshop_id = $1 and accepted_at is not null
        order by accepted_at desc, bench_plan_id desc limit 1";
    ACCEPT = "
        update bench_plans set accepted_at = $3
        where workshop_id = $1 and bench_plan_id = $2 and accepted_at is null
        returning bench_plan_id";
    PINS = "select part_id, bike_id, day, by_hand from bench_pins where workshop_id = $1 order by day, part_id";
    UNPIN = "delete from bench_pins where workshop_id = $1 and day <= $2";
    UNPIN_BIKE = "delete from bench_pins where workshop_id = $1 and bike_id = $2";
    PIN = "
        insert into bench_pins (workshop_id, part_id, bike_id, day, bench_plan_id, by_hand)
        values ($1, $2, $3, $4, $5, $6)
        on conflict (workshop_id, part_id) do update set
            bike_id = excluded.bike_id, day = excluded.day, bench_plan_id = excluded.bench_plan_id,
            by_hand = excluded.by_hand";
    SEEN = "
        select o.bike_id, b.label, o.advice, o.payload
        from outlooks o join bikes b on b.workshop_id = o.workshop_id and b.bike_id = o.bike_id
        where o.workshop_id = $1 and (o.swap_by <= $2 or o.advice = 'hold'
            or (o.advice = 'measure_by' and o.measure_by <= $2) or exists (
            select 1 from bench_pins n where n.workshop_id = o.workshop_id and n.bike_id = o.bike_id))
        order by o.attention_on, o.bike_id";
    FITTED = "
        select f.bike_id, f.part_id, f.place, f.position, p.model_id, m.name, m.price_minor, m.price_currency
        from outlooks o
        join fittings f on f.workshop_id = o.workshop_id and f.bike_id = o.bike_id and f.removed_at is null
        join parts p on p.workshop_id = f.workshop_id and p.part_id = f.part_id
        left join part_models m on m.workshop_id = p.workshop_id and m.part_model_id = p.model_id
        where o.workshop_id = $1 and (o.swap_by <= $2 or exists (
            select 1 from bench_pins n where n.workshop_id = o.workshop_id and n.bike_id = o.bike_id))
        order by f.bike_id, f.place, f.position";
}

#[derive(sqlx::FromRow)]
struct Row {
    bench_plan_id: Uuid,
    from_day: i64,
    to_day: i64,
    payload: Json<PlanResult>,
    computed_at: i64,
    accepted_at: Option<i64>,
}

impl TryFrom<Row> for BenchPlan {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { bench_plan_id, from_day, to_day, payload: Json(result), computed_at, accepted_at } = row;
        Ok(Self {
            id: BenchPlanId::from_uuid(bench_plan_id),
            window: PlanWindow {
                from: date(from_day, TABLE, "from_day")?,
                to: date(to_day, TABLE, "to_day")?,
            },
            computed_at: instant(computed_at, TABLE, "computed_at")?,
            accepted_at: maybe_instant(accepted_at, TABLE, "accepted_at")?,
            result,
        })
    }
}

#[derive(sqlx::FromRow)]
struct PinRow {
    part_id: Uuid,
    bike_id: Uuid,
    day: i64,
    by_hand: bool,
}

#[derive(sqlx::FromRow)]
struct DueRow {
    bike_id: Uuid,
    label: String,
    advice: String,
    payload: Json<serde_json::Value>,
}

#[derive(sqlx::FromRow)]
struct FittedRow {
    bike_id: Uuid,
    part_id: Uuid,
    place: String,
    position: i64,
    model_id: Option<Uuid>,
    name: Option<String>,
    price_minor: Option<i64>,
    price_currency: Option<String>,
}

impl TryFrom<FittedRow> for FittedPart {
    type Error = StoreError;

    fn try_from(row: FittedRow) -> Result<Self, StoreError> {
        let FittedRow { bike_id, part_id, place, position, model_id, name, price_minor, price_currency } =
            row;
        let price = match price_minor.zip(price_currency) {
            None => None,
            Some((minor, currency)) => {
                let currency: Currency = currency.parse().sound("part_models", "price_currency")?;
                Some(Money::new(minor, currency).sound("part_models", "price_minor")?)
            }
        };
        Ok(Self {
            bike_id: BikeId::from_uuid(bike_id),
            part_id: PartId::from_uuid(part_id),
            place: place.parse().sound("fittings", "place")?,
            position: Position::new(position).sound("fittings", "position")?,
            model_id: model_id.map(PartModelId::from_uuid),
            model_name: name.as_deref().map(Label::new).transpose().sound("part_models", "name")?,
            price,
        })
    }
}

impl Tx {
    /// Stores a plan as the workshop's only proposal.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn propose_bench_plan(&mut self, plan: &BenchPlan) -> Result<(), StoreError> {
        let BenchPlan { id, window, computed_at, accepted_at: _, result } = plan;
        execute!(
            self,
            INSERT,
            id.uuid(),
            day_number(window.from),
            day_number(window.to),
            Json(result),
            computed_at.micros()
        )?;
        execute!(self, ADOPT_PINS, id.uuid())?;
        execute!(self, FORGET_PROPOSALS, id.uuid())?;
        Ok(())
    }

    /// Puts another result in place of a plan's.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn change_bench_plan(
        &mut self,
        id: BenchPlanId,
        result: &PlanResult,
    ) -> Result<(), StoreError> {
        execute!(self, CHANGE, id.uuid(), Json(result))?;
        Ok(())
    }

    /// Promises one bike a day, in place of what it was promised.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when part or bike isn't there.
    pub async fn pin_on_bench(&mut self, plan: BenchPlanId, pin: &BenchPin) -> Result<(), StoreError> {
        self.unpin_from_bench(pin.bike_id).await?;
        self.pin(plan, pin).await
    }

    /// Takes a bike's promise back.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn unpin_from_bench(&mut self, bike: BikeId) -> Result<(), StoreError> {
        execute!(self, UNPIN_BIKE, bike.uuid())?;
        Ok(())
    }

    async fn pin(&mut self, plan: BenchPlanId, pin: &BenchPin) -> Result<(), StoreError> {
        let BenchPin { part_id, bike_id, date, by_hand } = *pin;
        execute!(self, PIN, part_id.uuid(), bike_id.uuid(), day_number(date), plan.uuid(), by_hand)?;
        Ok(())
    }

    /// The plan accepted last, or the proposal.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bench_plan(&mut self, state: PlanState) -> Result<Option<BenchPlan>, StoreError> {
        let statement = match state {
            PlanState::Accepted => ACCEPTED,
            PlanState::Proposed => PROPOSED,
        };
        let row: Option<Row> = row_if_any!(self, statement)?;
        row.map(BenchPlan::try_from).transpose()
    }

    /// Accepts a proposal.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such proposal.
    pub async fn accept_bench_plan(&mut self, id: BenchPlanId, at: Timestamp) -> Result<(), StoreError> {
        let accepted: Option<Uuid> = value_if_any!(self, ACCEPT, id.uuid(), at.micros())?;
        accepted.map(|_| ()).ok_or(StoreError::NotFound)
    }

    /// Every promise, by day.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bench_pins(&mut self) -> Result<Vec<BenchPin>, StoreError> {
        let rows: Vec<PinRow> = rows!(self, PINS)?;
        rows.into_iter()
            .map(|PinRow { part_id, bike_id, day, by_hand }| {
                Ok(BenchPin {
                    part_id: PartId::from_uuid(part_id),
                    bike_id: BikeId::from_uuid(bike_id),
                    date: date(day, "bench_pins", "day")?,
                    by_hand,
                })
            })
            .collect()
    }

    /// Puts a plan's promises in place of all those up to its last day.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when a part or bike isn't there.
    pub async fn replace_bench_pins(
        &mut self,
        plan: BenchPlanId,
        until: NaiveDate,
        pins: &[BenchPin],
    ) -> Result<(), StoreError> {
        execute!(self, UNPIN, day_number(until))?;
        for pin in pins {
            self.pin(plan, pin).await?;
        }
        Ok(())
    }

    /// Bikes whose chain is to be swapped or measured by a date or was promised a day, or that someone has to look at, with
    /// their outlooks as computed last.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bikes_due(&mut self, by: NaiveDate) -> Result<Vec<DueOutlook>, StoreError> {
        let rows: Vec<DueRow> = rows!(self, SEEN, day_number(by))?;
        rows.into_iter()
            .map(|DueRow { bike_id, label, advice, payload: Json(payload) }| {
                Ok(DueOutlook {
                    bike_id: BikeId::from_uuid(bike_id),
                    label: Label::new(&label).sound("bikes", "label")?,
                    advice: advice.parse::<Advice>().sound("outlooks", "advice")?,
                    payload,
                })
            })
            .collect()
    }

    /// Parts that are on the bikes whose chain is to be swapped by a date or was promised a day.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn parts_on_bikes_due(&mut self, by: NaiveDate) -> Result<Vec<FittedPart>, StoreError> {
        let rows: Vec<FittedRow> = rows!(self, FITTED, day_number(by))?;
        rows.into_iter().map(FittedPart::try_from).collect()
    }
}
