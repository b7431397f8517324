//! What is erased for good: a workshop, a rider's rides, and what is older than it is kept.

use uuid::Uuid;

use super::error::StoreError;
use super::sessions::Over;
use super::{SystemTx, Tx, execute, on, rows, statements};
use crate::domain::{BikeId, ChangedKind, RideId, RiderId, Timestamp};

statements! {
    // What refers to another table goes before it.
    STOCK_SUBSTITUTES = "delete from stock_substitutes where workshop_id = $1";
    STOCK = "delete from stock where workshop_id = $1";
    DELIVERIES = "delete from deliveries where workshop_id = $1";
    BENCH_PINS = "delete from bench_pins where workshop_id = $1";
    BENCH_PLANS = "delete from bench_plans where workshop_id = $1";
    BENCH_DAYS = "delete from bench_days where workshop_id = $1";
    BENCH_SETTINGS = "delete from bench_settings where workshop_id = $1";
    BOOKINGS = "delete from bookings where workshop_id = $1";
    SWAPS = "delete from swaps where workshop_id = $1";
    FORECAST_SCORES = "delete from forecast_scores where workshop_id = $1";
    FORECASTS = "delete from forecasts where workshop_id = $1";
    PASSAGE_FORECASTS = "delete from passage_forecasts where workshop_id = $1";
    RECORD_BIKES = "delete from record_bikes where workshop_id = $1";
    RECORD_TALLIES = "delete from record_tallies where workshop_id = $1";
    READINGS = "delete from readings where workshop_id = $1";
    CHAIN_LEVELS = "delete from chain_levels where workshop_id = $1";
    CHAIN_RECORDS = "delete from chain_records where workshop_id = $1";
    ANNOUNCED = "delete from announced where workshop_id = $1";
    FLEET_ANNOUNCED = "delete from fleet_announced where workshop_id = $1";
    OUTLOOKS = "delete from outlooks where workshop_id = $1";
    OUTLOOK_MARKS = "delete from outlook_marks where workshop_id = $1";
    USE_HISTORIES = "delete from use_histories where workshop_id = $1";
    USUAL_YEARS = "delete from usual_years where workshop_id = $1";
    WEAR_EFFECTS = "delete from wear_effects where workshop_id = $1";
    READING_ERRORS = "delete from reading_errors where workshop_id = $1";
    FLEET_RATES = "delete from fleet_rates where workshop_id = $1";
    GROUP_KILOMETRES = "delete from group_kilometres where workshop_id = $1";
    CASSETTE_FITS = "delete from cassette_fits where workshop_id = $1";
    FITTINGS = "delete from fittings where workshop_id = $1";
    RIDES = "delete from rides where workshop_id = $1";
    BIKE_DAYS = "delete from bike_days where workshop_id = $1";
    CARE_EVENTS = "delete from care_events where workshop_id = $1";
    ODOMETER_STATEMENTS = "delete from odometer_statements where workshop_id = $1";
    DECLARED_USE = "delete from declared_use where workshop_id = $1";
    SYMPTOMS = "delete from symptoms where workshop_id = $1";
    LUBRICANTS = "delete from lubricants where workshop_id = $1";
    HOOK_ATTEMPTS = "delete from hook_attempts where workshop_id = $1";
    HOOK_MESSAGES = "delete from hook_messages where workshop_id = $1";
    HOOKS = "delete from hooks where workshop_id = $1";
    DIGESTS = "delete from digests where workshop_id = $1";
    CALENDARS = "delete from calendars where workshop_id = $1";
    IDEMPOTENCY_KEYS = "delete from idempotency_keys where workshop_id = $1";
    AUTHORIZATIONS = "delete from authorizations where workshop_id = $1";
    LINKS = "delete from links where workshop_id = $1";
    SIGN_INS = "delete from sign_ins where workshop_id = $1";
    PAGE_SESSIONS = "delete from page_sessions where workshop_id = $1";
    AUDIT = "delete from audit where workshop_id = $1";
    TOKENS = "delete from tokens where workshop_id = $1";
    RIDERS = "delete from riders where workshop_id = $1";
    APPS = "delete from apps where workshop_id = $1";
    JOBS = "delete from jobs where workshop_id = $1";
    CHANGES = "delete from changes where workshop_id = $1";
    CHANGE_FEEDS = "delete from change_feeds where workshop_id = $1";
    TOOLS = "delete from tools where workshop_id = $1";
    BIKE_KINDS = "delete from bike_kinds where workshop_id = $1";
    PARTS = "delete from parts where workshop_id = $1";
    PART_MODELS = "delete from part_models where workshop_id = $1";
    BIKES = "delete from bikes where workshop_id = $1";
    AUDIT_LEAVE = "delete from audit_leave where workshop_id = $1";
    WORKSHOPS = "delete from workshops where workshop_id = $1";
    LEAVE = "
        insert into audit_leave (workshop_id, until) values ($1, $2)
        on conflict (workshop_id) do update set until = excluded.until";
    LEAVE_NO_MORE = "delete from audit_leave where workshop_id = $1";
    BIKES_OF_RIDER = "select bike_id from bikes where workshop_id = $1 and rider_id = $2 order by bike_id";
    RIDE_IDS_OF_RIDER = "
        select r.bike_id, r.ride_id from bikes b
            join rides r on r.workshop_id = b.workshop_id and r.bike_id = b.bike_id
        where b.workshop_id = $1 and b.rider_id = $2";
    RIDES_OF_RIDER = "
        delete from rides where workshop_id = $1
            and bike_id in (select bike_id from bikes where workshop_id = $1 and rider_id = $2)";
    BIKE_DAYS_OF_RIDER = "
        delete from bike_days where workshop_id = $1
            and bike_id in (select bike_id from bikes where workshop_id = $1 and rider_id = $2)";
    USE_HISTORIES_OF_RIDER = "
        delete from use_histories where workshop_id = $1
            and bike_id in (select bike_id from bikes where workshop_id = $1 and rider_id = $2)";
    CHAIN_RECORDS_OF_RIDER = "
        delete from chain_records where workshop_id = $1
            and bike_id in (select bike_id from bikes where workshop_id = $1 and rider_id = $2)";
    PASSAGE_FORECASTS_OF_RIDER = "
        delete from passage_forecasts where workshop_id = $1
            and bike_id in (select bike_id from bikes where workshop_id = $1 and rider_id = $2)";
    RECORD_BIKES_OF_RIDER = "
        delete from record_bikes where workshop_id = $1
            and bike_id in (select bike_id from bikes where workshop_id = $1 and rider_id = $2)";
    AUDIT_OF_RIDES = "delete from audit where workshop_id = $1 and subject like $2";
    OLD_AUDIT = "delete from audit where workshop_id = $1 and done_at < $2";
    OLD_FORECASTS = "delete from forecasts where workshop_id = $1 and made_at < $2";
    OLD_PASSAGE_FORECASTS = "delete from passage_forecasts where workshop_id = $1 and made_at < $2";
    OLD_PLANS = "
        delete from bench_plans where workshop_id = $1 and computed_at < $2
            and not exists (
                select 1 from bench_pins p
                where p.workshop_id = $1 and p.bench_plan_id = bench_plans.bench_plan_id)
            and (accepted_at is null or accepted_at < (
                select max(a.accepted_at) from bench_plans a where a.workshop_id = $1))";
    OVER_SESSIONS = "
        delete from page_sessions
        where (own_device = 0 and (created_at <= $1 or last_seen_at <= $2))
            or (own_device = 1 and (created_at <= $3 or last_seen_at <= $4))";
    OVER_SIGN_INS = "delete from sign_ins where expires_at <= $1";
    OVER_LINKS = "delete from links where expires_at <= $1";
    OVER_CODES = "delete from authorizations where created_at < $1";
}

/// All of a workshop, in an order in which nothing refers to what is gone.
const OF_WORKSHOP: [&str; 60] = [
    STOCK_SUBSTITUTES,
    STOCK,
    DELIVERIES,
    BENCH_PINS,
    BENCH_PLANS,
    BENCH_DAYS,
    BENCH_SETTINGS,
    BOOKINGS,
    SWAPS,
    FORECAST_SCORES,
    FORECASTS,
    PASSAGE_FORECASTS,
    RECORD_BIKES,
    RECORD_TALLIES,
    READINGS,
    CHAIN_LEVELS,
    CHAIN_RECORDS,
    ANNOUNCED,
    FLEET_ANNOUNCED,
    OUTLOOKS,
    OUTLOOK_MARKS,
    USE_HISTORIES,
    USUAL_YEARS,
    WEAR_EFFECTS,
    READING_ERRORS,
    FLEET_RATES,
    GROUP_KILOMETRES,
    CASSETTE_FITS,
    FITTINGS,
    RIDES,
    BIKE_DAYS,
    CARE_EVENTS,
    ODOMETER_STATEMENTS,
    DECLARED_USE,
    SYMPTOMS,
    LUBRICANTS,
    HOOK_ATTEMPTS,
    HOOK_MESSAGES,
    HOOKS,
    DIGESTS,
    CALENDARS,
    IDEMPOTENCY_KEYS,
    AUTHORIZATIONS,
    LINKS,
    SIGN_INS,
    PAGE_SESSIONS,
    AUDIT,
    TOKENS,
    RIDERS,
    APPS,
    JOBS,
    CHANGES,
    CHANGE_FEEDS,
    TOOLS,
    BIKE_KINDS,
    PARTS,
    PART_MODELS,
    BIKES,
    AUDIT_LEAVE,
    WORKSHOPS,
];

/// What rides left behind, but for outlooks: those are computed anew.
const OF_RIDER: [&str; 6] = [
    RIDES_OF_RIDER,
    BIKE_DAYS_OF_RIDER,
    USE_HISTORIES_OF_RIDER,
    CHAIN_RECORDS_OF_RIDER,
    PASSAGE_FORECASTS_OF_RIDER,
    RECORD_BIKES_OF_RIDER,
];

/// How far back something is kept; what is none is kept for ever.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Before {
    /// Audit entries from before this are erased.
    pub audit: Option<Timestamp>,
    /// Forecasts from before this.
    pub forecasts: Option<Timestamp>,
    /// Bench plans from before this, but for the one that stands and those that still promise something.
    pub plans: Option<Timestamp>,
}

impl Tx {
    /// Erases the workshop and everything of it.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`], [`StoreError::Interrupted`].
    pub async fn erase_workshop(&mut self) -> Result<(), StoreError> {
        execute!(self, LEAVE, i64::MAX)?;
        for statement in OF_WORKSHOP {
            execute!(self, statement)?;
        }
        Ok(())
    }

    /// Erases the rides of a rider's bikes, what was summed and learned of them bike by bike, and what the audit list says
    /// of them; how many rides there were. The bikes are to be marked before.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`], [`StoreError::Interrupted`].
    pub async fn erase_rides(&mut self, rider: RiderId) -> Result<usize, StoreError> {
        let rides: Vec<(Uuid, Uuid)> = rows!(self, RIDE_IDS_OF_RIDER, rider.uuid())?;
        for (bike, ride) in &rides {
            self.note_gone(
                ChangedKind::Ride,
                Some(BikeId::from_uuid(*bike)),
                RideId::from_uuid(*ride).uuid(),
            );
        }
        for statement in OF_RIDER {
            execute!(self, statement, rider.uuid())?;
        }
        execute!(self, LEAVE, i64::MAX)?;
        for bike in self.bikes_of_rider(rider).await? {
            execute!(self, AUDIT_OF_RIDES, format!("bikes/{bike}/rides/%"))?;
        }
        execute!(self, LEAVE_NO_MORE)?;
        Ok(rides.len())
    }

    /// The bikes that are a rider's, those that left the fleet too.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn bikes_of_rider(&mut self, rider: RiderId) -> Result<Vec<BikeId>, StoreError> {
        let bikes: Vec<(Uuid,)> = rows!(self, BIKES_OF_RIDER, rider.uuid())?;
        Ok(bikes.into_iter().map(|(bike,)| BikeId::from_uuid(bike)).collect())
    }

    /// Erases what is older than it is kept.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`], [`StoreError::Interrupted`].
    pub async fn erase_before(&mut self, before: &Before) -> Result<(), StoreError> {
        if let Some(at) = before.audit {
            execute!(self, LEAVE, at.micros())?;
            execute!(self, OLD_AUDIT, at.micros())?;
            execute!(self, LEAVE_NO_MORE)?;
        }
        if let Some(at) = before.forecasts {
            execute!(self, OLD_FORECASTS, at.micros())?;
            execute!(self, OLD_PASSAGE_FORECASTS, at.micros())?;
        }
        if let Some(at) = before.plans {
            execute!(self, OLD_PLANS, at.micros())?;
        }
        Ok(())
    }
}

impl SystemTx {
    /// Erases sessions that are over, codes of links and of sign-ins that expired by `now`, and codes of
    /// apps from before `asked`, of every workshop.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`], [`StoreError::Interrupted`].
    pub async fn erase_expired(
        &mut self,
        over: Over,
        now: Timestamp,
        asked: Timestamp,
    ) -> Result<(), StoreError> {
        on!(self.connection, |conn| {
            let sessions = sqlx::query(OVER_SESSIONS)
                .bind(over.shared_begun.micros())
                .bind(over.shared_seen.micros())
                .bind(over.own_begun.micros())
                .bind(over.own_seen.micros());
            sessions.execute(&mut *conn).await?;
            sqlx::query(OVER_SIGN_INS).bind(now.micros()).execute(&mut *conn).await?;
            sqlx::query(OVER_LINKS).bind(now.micros()).execute(&mut *conn).await?;
            sqlx::query(OVER_CODES).bind(asked.micros()).execute(&mut *conn).await.map(|_| ())
        })?;
        Ok(())
    }
}
