//! What the bikes' next swaps use, kept with their outlooks.

use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use sqlx::types::Json;
use uuid::Uuid;
use wear_core::bike::{SWAP_DAYS, SwapTiming, USUAL_COMMON};
use wear_core::fleet::coming_year::{AHEAD_DAYS, Renewals};

use super::error::{Sound, StoreError};
use super::instant::{date, instant};
use super::{Tx, rows, statements};
use crate::domain::{BikeId, BikeNeeds, GroupName, Label, NeededPart, PartModelId, Position, SwapNeeds};

const TABLE: &str = "outlooks";

statements! {
    LIST = "
        select o.bike_id, b.label, b.bike_group, o.advice, o.swap_by, o.computed_at, o.needs
        from outlooks o join bikes b on b.workshop_id = o.workshop_id and b.bike_id = o.bike_id
        where o.workshop_id = $1
        order by o.bike_id";
}

/// Probabilities in whole millionths: short, and exact enough for counts of parts.
const WHOLE: f64 = 1e6;

#[derive(Serialize, Deserialize)]
pub(super) struct NeedsDoc {
    certain_in_days: Option<u32>,
    by_day: Vec<u32>,
    /// Left out by what was stored before it was known.
    #[serde(default)]
    common: Vec<u32>,
    parts: Vec<PartDoc>,
    /// Likewise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    renewals: Option<RenewalsDoc>,
}

/// Distances in whole reference metres, the rest in millionths.
#[derive(Serialize, Deserialize)]
struct RenewalsDoc {
    ahead: Vec<u64>,
    life: u64,
    own_ln_sd: u32,
    common_ln_sd: u32,
    life_ln_sd: u32,
    cassette_per_chain: u32,
}

impl From<&Renewals> for RenewalsDoc {
    fn from(renewals: &Renewals) -> Self {
        let Renewals { ahead, own_ln_sd, common_ln_sd, life, life_ln_sd, cassette_per_chain } = renewals;
        let metres = |km: f64| (1e3 * km).round() as u64;
        let whole = |number: f64| (WHOLE * number).round() as u32;
        Self {
            ahead: ahead.iter().map(|km| metres(*km)).collect(),
            life: metres(*life),
            own_ln_sd: whole(*own_ln_sd),
            common_ln_sd: whole(*common_ln_sd),
            life_ln_sd: whole(*life_ln_sd),
            cassette_per_chain: whole(*cassette_per_chain),
        }
    }
}

impl TryFrom<RenewalsDoc> for Renewals {
    type Error = StoreError;

    fn try_from(doc: RenewalsDoc) -> Result<Self, StoreError> {
        let RenewalsDoc { ahead, life, own_ln_sd, common_ln_sd, life_ln_sd, cassette_per_chain } = doc;
        let km = |metres: u64| 1e-3 * metres as f64;
        let number = |whole: u32| f64::from(whole) / WHOLE;
        let ahead: [u64; AHEAD_DAYS.len()] =
            ahead.try_into().map_err(|_| "not one distance for each day").sound(TABLE, "needs")?;
        Ok(Self {
            ahead: ahead.map(km),
            own_ln_sd: number(own_ln_sd),
            common_ln_sd: number(common_ln_sd),
            life: km(life),
            life_ln_sd: number(life_ln_sd),
            cassette_per_chain: number(cassette_per_chain),
        })
    }
}

#[derive(Serialize, Deserialize)]
struct PartDoc {
    place: String,
    position: u8,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    model: Option<Uuid>,
    shape: String,
    share: u32,
}

fn millionths(probability: f64) -> u32 {
    (probability.clamp(0.0, 1.0) * WHOLE).round() as u32
}

impl From<&SwapNeeds> for NeedsDoc {
    fn from(needs: &SwapNeeds) -> Self {
        let SwapNeeds { timing: SwapTiming { certain_in_days, by_day, common }, parts, renewals } = needs;
        Self {
            certain_in_days: *certain_in_days,
            by_day: by_day.iter().map(|p| millionths(*p)).collect(),
            common: common.iter().map(|share| millionths(*share)).collect(),
            parts: parts
                .iter()
                .map(|NeededPart { place, position, model_id, shape, share }| PartDoc {
                    place: place.as_str().to_owned(),
                    position: position.get(),
                    model: model_id.map(PartModelId::uuid),
                    shape: shape.clone(),
                    share: millionths(*share),
                })
                .collect(),
            renewals: renewals.as_ref().map(RenewalsDoc::from),
        }
    }
}

impl TryFrom<NeedsDoc> for SwapNeeds {
    type Error = StoreError;

    fn try_from(doc: NeedsDoc) -> Result<Self, StoreError> {
        let NeedsDoc { certain_in_days, by_day, common, parts, renewals } = doc;
        let by_day: [u32; SWAP_DAYS.len()] =
            by_day.try_into().map_err(|_| "not one number for each day").sound(TABLE, "needs")?;
        let parts = parts
            .into_iter()
            .map(|PartDoc { place, position, model, shape, share }| {
                Ok(NeededPart {
                    place: place.parse().sound(TABLE, "needs")?,
                    position: Position::new(i64::from(position)).sound(TABLE, "needs")?,
                    model_id: model.map(PartModelId::from_uuid),
                    shape,
                    share: f64::from(share) / WHOLE,
                })
            })
            .collect::<Result<_, StoreError>>()?;
        let common = <[u32; SWAP_DAYS.len()]>::try_from(common)
            .map_or([USUAL_COMMON; SWAP_DAYS.len()], |common| common.map(|share| f64::from(share) / WHOLE));
        let timing = SwapTiming { certain_in_days, by_day: by_day.map(|p| f64::from(p) / WHOLE), common };
        let renewals = renewals.map(Renewals::try_from).transpose()?;
        Ok(Self { timing, parts, renewals })
    }
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    label: String,
    bike_group: String,
    advice: String,
    swap_by: Option<i64>,
    computed_at: i64,
    needs: Option<Json<NeedsDoc>>,
}

impl Row {
    fn bike(self, zone: Tz) -> Result<BikeNeeds, StoreError> {
        let Self { bike_id, label, bike_group, advice, swap_by, computed_at, needs } = self;
        Ok(BikeNeeds {
            bike_id: BikeId::from_uuid(bike_id),
            label: Label::new(&label).sound("bikes", "label")?,
            group: GroupName::new(&bike_group).sound("bikes", "bike_group")?,
            advice: advice.parse().sound(TABLE, "advice")?,
            swap_by: swap_by.map(|day| date(day, TABLE, "swap_by")).transpose()?,
            as_of: instant(computed_at, TABLE, "computed_at")?.date_in(zone),
            needs: needs.map(|Json(doc)| doc.try_into()).transpose()?,
        })
    }
}

impl Tx {
    /// What the next swap of each bike uses; dates of outlooks are those of `zone`.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn needs(&mut self, zone: Tz) -> Result<Vec<BikeNeeds>, StoreError> {
        let rows: Vec<Row> = rows!(self, LIST)?;
        rows.into_iter().map(|row| row.bike(zone)).collect()
    }
}
