//! The whole outlook of a bike, as answers show it.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use wear_core::bike::{
    Basis, CassetteBasis, CassetteReport, CurvePoint, DriverShare, EnergySourcePercent, ExplanationReport,
    KilometresFrom, RingReport, SprocketDamage, StartKnown, Warning,
};
use wear_core::degradation::Quantiles;

use crate::domain::{DateBand, Outlook, ReadingError, Taught, Timestamp, ToolId, UseSeason, by_code};
use crate::web::speech;
use crate::web::{figures, schema, words};

/// One chance in ten below `p10`, one in two below `p50`, nine in ten below `p90`.
#[derive(Serialize, ToSchema)]
#[schema(as = Band)]
pub(in crate::web::api) struct BandDocument {
    /// Tenth percentile.
    #[serde(serialize_with = "figures::told")]
    p10: f64,
    /// Median.
    #[serde(serialize_with = "figures::told")]
    p50: f64,
    /// Ninetieth percentile.
    #[serde(serialize_with = "figures::told")]
    p90: f64,
}

impl From<Quantiles> for BandDocument {
    fn from(given: Quantiles) -> Self {
        let Quantiles { p10, p50, p90 } = given;
        Self { p10, p50, p90 }
    }
}

/// A `Band` of dates; none where the date is more than ten years away.
#[derive(Serialize, ToSchema)]
#[schema(as = DateBand)]
pub(in crate::web::api) struct DateBandDocument {
    /// One chance in ten before this day.
    p10: Option<NaiveDate>,
    /// As likely before as after.
    p50: Option<NaiveDate>,
    /// Nine chances in ten before this day.
    p90: Option<NaiveDate>,
}

impl From<DateBand> for DateBandDocument {
    fn from(given: DateBand) -> Self {
        let DateBand { p10, p50, p90 } = given;
        Self { p10, p50, p90 }
    }
}

/// How much of the exposure one cause made.
#[derive(Serialize, ToSchema)]
#[schema(as = DriverShare)]
pub(in crate::web::api) struct DriverShareDocument {
    /// The cause.
    #[schema(value_type = String)]
    driver: &'static str,
    /// Its share of the exposure, percent; negative where it spared the chain. Shares sum to 100.
    #[serde(serialize_with = "figures::told")]
    share_percent: f64,
}

impl From<DriverShare> for DriverShareDocument {
    fn from(given: DriverShare) -> Self {
        let DriverShare { driver, share_percent } = given;
        Self { driver: driver.as_str(), share_percent }
    }
}

/// One sprocket's damage.
#[derive(Serialize, ToSchema)]
#[schema(as = SprocketDamage)]
pub(in crate::web::api) struct SprocketDamageDocument {
    /// Its teeth.
    teeth: u32,
    /// Damage, as a share of what a typical sprocket bears before it skips with a new chain; 1 is typical.
    #[serde(serialize_with = "figures::told")]
    damage: f64,
    /// Probability that it would skip under a new chain.
    #[serde(serialize_with = "figures::told")]
    probability_skips: f64,
}

impl From<SprocketDamage> for SprocketDamageDocument {
    fn from(given: SprocketDamage) -> Self {
        let SprocketDamage { teeth, damage, probability_skips } = given;
        Self { teeth: u32::from(teeth), damage, probability_skips }
    }
}

/// The cassette.
#[derive(Serialize, ToSchema)]
#[schema(as = CassetteReport)]
pub(in crate::web::api) struct CassetteReportDocument {
    /// Damage by sprocket, fewest teeth first.
    sprockets: Vec<SprocketDamageDocument>,
    /// Probability that a new chain would skip on any of them.
    #[serde(serialize_with = "figures::told")]
    probability_skips: f64,
    /// The same once the chain that is on has been ridden to its limit: for the next chain.
    #[serde(serialize_with = "figures::told")]
    probability_skips_at_limit: f64,
    /// What the cassette will do under the next chain, in one sentence.
    said: String,
    /// New chains that it still takes before one skips.
    chains_to_come: BandDocument,
    /// Share of a cassette that one more kilometre uses up now.
    #[serde(serialize_with = "figures::told")]
    share_per_km_now: f64,
    /// The same with the chain at its limit.
    #[serde(serialize_with = "figures::told")]
    share_per_km_at_limit: f64,
    /// That money, minor units per 1,000 km, where the cassette's price is known.
    cost_per_1000_km_now_minor: Option<i64>,
    /// The same with the chain at its limit.
    cost_per_1000_km_at_limit_minor: Option<i64>,
}

impl From<CassetteReport> for CassetteReportDocument {
    fn from(given: CassetteReport) -> Self {
        let said = given.next_chain().to_string();
        let CassetteReport {
            sprockets,
            probability_skips,
            probability_skips_at_limit,
            chains_to_come,
            share_per_km_now,
            share_per_km_at_limit,
            cost_per_1000_km_now,
            cost_per_1000_km_at_limit,
        } = given;
        let minor = |cost: f64| cost.round() as i64;
        Self {
            sprockets: sprockets.into_iter().map(Into::into).collect(),
            probability_skips,
            probability_skips_at_limit,
            said,
            chains_to_come: chains_to_come.into(),
            share_per_km_now,
            share_per_km_at_limit,
            cost_per_1000_km_now_minor: cost_per_1000_km_now.map(minor),
            cost_per_1000_km_at_limit_minor: cost_per_1000_km_at_limit.map(minor),
        }
    }
}

/// One chain ring.
#[derive(Serialize, ToSchema)]
#[schema(as = RingReport)]
pub(in crate::web::api) struct RingReportDocument {
    /// Its teeth.
    teeth: u32,
    /// Damage, as a share of what a typical ring bears.
    #[serde(serialize_with = "figures::told")]
    damage: f64,
    /// Probability that it is worn out.
    #[serde(serialize_with = "figures::told")]
    probability_worn: f64,
    /// The same once the chain that is on has been ridden to its limit.
    #[serde(serialize_with = "figures::told")]
    probability_worn_at_limit: f64,
}

impl From<RingReport> for RingReportDocument {
    fn from(given: RingReport) -> Self {
        let RingReport { teeth, damage, probability_worn, probability_worn_at_limit } = given;
        Self { teeth: u32::from(teeth), damage, probability_worn, probability_worn_at_limit }
    }
}

/// Something a person should know.
#[derive(Serialize, ToSchema)]
#[schema(as = Warning)]
pub(in crate::web::api) struct WarningDocument {
    /// A stable word for programs.
    code: String,
    /// A sentence for people.
    message: String,
}

impl From<Warning> for WarningDocument {
    fn from(given: Warning) -> Self {
        Self { code: given.code().to_owned(), message: words::warning(&given) }
    }
}

/// What an outlook rests on.
#[derive(Serialize, ToSchema)]
#[schema(as = Basis)]
pub(in crate::web::api) struct BasisDocument {
    /// Readings of this chain that count.
    readings_used: u32,
    /// When the last of them was taken.
    last_reading_at: Option<DateTime<Utc>>,
    /// When the chain was first fitted.
    fitted_at: Option<DateTime<Utc>>,
    /// Distance on this chain, km.
    #[serde(serialize_with = "figures::summed")]
    distance_km: f64,
    /// Exposure of this chain, reference km.
    #[serde(serialize_with = "figures::summed")]
    reference_km: f64,
    /// Exposure by where its energy came from, percent.
    energy_source_percent: EnergySourcePercentDocument,
    /// Exposure per day that dates rest on, reference km; none when the bike isn't used.
    #[serde(serialize_with = "figures::told_if_any")]
    reference_km_per_day: Option<f64>,
    /// Kilometres per reference kilometre that `remaining_km` is told in; null without a chain.
    #[serde(serialize_with = "figures::told_if_any")]
    km_per_reference_km: Option<f64>,
    /// Whose kilometres those are: the `bike`'s own, its `group`'s, or those usual for its `use`; null without a chain.
    #[schema(value_type = Option<String>, example = "bike")]
    kilometres_from: Option<&'static str>,
    /// How the chain's record begins: with a `new` chain, or with one that was on already (`as_found`); null without a
    /// chain.
    #[schema(value_type = Option<String>, example = "new")]
    starts: Option<&'static str>,
    /// Distance on this chain that no ride accounts for, km: counted by the odometer, or declared.
    #[serde(serialize_with = "figures::summed")]
    unlogged_km: f64,
    /// Where the wear rate comes from: `default`, or the group it was learned from.
    wear_rate_from: String,
    /// What the tools and people of its readings were found to err by; left out where nothing was learned of them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    reading_errors: Vec<ReadingErrorDocument>,
    /// Other chains of the bike that tell how fast it wears them; left out where there are none.
    #[serde(skip_serializing_if = "is_none")]
    #[schema(required = false)]
    bike_chains: usize,
    /// What the cassette's part rests on; left out where the bike has none on record.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false)]
    cassette: Option<CassetteBasisDocument>,
    /// From whose riding the season of its use ahead is known: its `group`'s, its `workshop`'s or the `bike`'s own; `assumed`
    /// while less than a year is on record: dates then allow for a season that nobody has seen. Null where dates aren't
    /// told.
    #[schema(value_type = Option<String>, example = "group")]
    use_season: Option<&'static str>,
    /// What the chain's model makes of its group's wear, as a factor; null where nothing was learned of it.
    #[serde(serialize_with = "figures::told_if_any")]
    model_factor: Option<f64>,
    /// What the lubricant that it is run on now makes of its group's wear, as a factor; null where it isn't known which that
    /// is, or nothing was learned of it.
    #[serde(serialize_with = "figures::told_if_any")]
    lubricant_factor: Option<f64>,
    /// What a year makes of the fleet's wear, as a factor; null where nothing was learned of that.
    #[serde(serialize_with = "figures::told_if_any")]
    yearly_factor: Option<f64>,
    /// What of rain, gravel, mud, trainers and neglect counts as the fleet has learned it; the rest is assumed.
    #[schema(value_type = Vec<schema::Covariate>)]
    learned_conditions: Vec<String>,
    /// What was assumed for want of data.
    assumed: Vec<String>,
    /// The same as stable words for programs.
    assumed_codes: Vec<String>,
}

/// What a cassette's outlook rests on besides damage.
#[derive(Serialize, ToSchema)]
#[schema(as = CassetteBasis)]
pub(in crate::web::api) struct CassetteBasisDocument {
    /// Whether the fleet has learned how much damage cassettes bear; assumed otherwise.
    learned: bool,
    /// New chains that held on this cassette: ridden 100 km, and nobody reported a skip.
    chains_held: u32,
    /// Skips that were reported of it.
    skips_reported: u32,
}

impl From<CassetteBasis> for CassetteBasisDocument {
    fn from(given: CassetteBasis) -> Self {
        let CassetteBasis { learned, chains_held, skips_reported } = given;
        Self { learned, chains_held, skips_reported }
    }
}

const fn is_none(count: &usize) -> bool {
    *count == 0
}

/// What readings with a tool and by a person were found to err by.
#[derive(Serialize, ToSchema)]
#[schema(as = ReadingError)]
pub(in crate::web::api) struct ReadingErrorDocument {
    /// The kind of tool.
    #[schema(value_type = schema::Instrument)]
    instrument: String,
    /// The tool; null where nobody named it: all such tools of a kind count as one.
    tool_id: Option<Uuid>,
    /// Its name.
    tool: Option<String>,
    /// Who read; null where that isn't known.
    read_by: Option<String>,
    /// Read minus true, percent; of a gauge, by how much it drops in early.
    #[schema(example = -0.07)]
    #[serde(serialize_with = "figures::told")]
    bias_percent: f64,
    /// Standard deviation of what isn't known of that, percent.
    #[schema(example = 0.02, minimum = 0)]
    #[serde(serialize_with = "figures::told")]
    bias_sd_percent: f64,
}

impl From<ReadingError> for ReadingErrorDocument {
    fn from(given: ReadingError) -> Self {
        let ReadingError { instrument, tool_id, tool, read_by, bias, bias_sd } = given;
        let tool_id = tool_id.map(ToolId::uuid);
        Self { instrument, tool_id, tool, read_by, bias_percent: bias, bias_sd_percent: bias_sd }
    }
}

impl BasisDocument {
    fn of(given: Basis, taught: Taught, zone: Tz) -> Self {
        let Taught {
            reading_errors,
            bike_chains,
            use_season,
            model_factor,
            lubricant_factor,
            yearly_factor,
            conditions,
        } = taught;
        let Basis {
            readings_used,
            last_reading_at,
            fitted_at,
            distance_km,
            reference_km,
            energy_source_percent,
            reference_km_per_day,
            km_per_reference_km,
            kilometres_from,
            starts,
            unlogged_km,
            wear_rate_from,
            cassette,
            season_on_record,
            assumed,
            ..
        } = given;
        let use_season = match (season_on_record, use_season) {
            (true, UseSeason::Assumed) => UseSeason::Bike,
            (false, _) => UseSeason::Assumed,
            (true, learned) => learned,
        };
        let time = |at| Timestamp::of(at, zone).datetime();
        Self {
            readings_used,
            last_reading_at: last_reading_at.map(time),
            fitted_at: fitted_at.map(time),
            distance_km,
            reference_km,
            energy_source_percent: energy_source_percent.into(),
            reference_km_per_day,
            km_per_reference_km,
            kilometres_from: kilometres_from.map(KilometresFrom::as_str),
            starts: starts.map(StartKnown::as_str),
            unlogged_km,
            wear_rate_from: wear_rate_from.to_string(),
            reading_errors: reading_errors.into_iter().map(Into::into).collect(),
            bike_chains,
            cassette: cassette.map(Into::into),
            use_season: reference_km_per_day.map(|_| use_season.as_str()),
            model_factor,
            lubricant_factor,
            yearly_factor,
            learned_conditions: conditions,
            assumed_codes: assumed.iter().map(|it| it.as_str().to_owned()).collect(),
            assumed: assumed.into_iter().map(|it| it.in_english().to_owned()).collect(),
        }
    }
}

/// Shares of the exposure by source of energy, percent; they sum to 100 when there is any.
#[derive(Serialize, ToSchema)]
#[schema(as = EnergySourcePercent)]
pub(in crate::web::api) struct EnergySourcePercentDocument {
    /// Measured power.
    #[serde(serialize_with = "figures::told")]
    measured: f64,
    /// Estimated from distance and climb.
    #[serde(serialize_with = "figures::told")]
    distance_and_climb: f64,
    /// Estimated from distance alone.
    #[serde(serialize_with = "figures::told")]
    distance: f64,
}

impl From<EnergySourcePercent> for EnergySourcePercentDocument {
    fn from(given: EnergySourcePercent) -> Self {
        let EnergySourcePercent { measured, distance_and_climb, distance } = given;
        Self { measured, distance_and_climb, distance }
    }
}

/// One point of the curve to plot.
#[derive(Serialize, ToSchema)]
#[schema(as = CurvePoint)]
pub(in crate::web::api) struct CurvePointDocument {
    /// Distance from now, km.
    #[serde(serialize_with = "figures::told")]
    ahead_km: f64,
    /// Probability that the chain is over its limit by then.
    #[serde(serialize_with = "figures::told")]
    probability_over_limit: f64,
}

impl From<CurvePoint> for CurvePointDocument {
    fn from(given: CurvePoint) -> Self {
        let CurvePoint { ahead_km, probability_over_limit } = given;
        Self { ahead_km, probability_over_limit }
    }
}

/// What may be behind readings that the record speaks against.
#[derive(Serialize, ToSchema)]
#[schema(as = Explanation)]
pub(in crate::web::api) struct ExplanationDocument {
    /// `as_recorded`, `unrecorded_swap`, `missing_riding` or `wrong_reading`.
    #[schema(value_type = String, example = "unrecorded_swap")]
    code: &'static str,
    /// Its probability; those of one outlook sum to 1.
    #[schema(minimum = 0, maximum = 1)]
    #[serde(serialize_with = "figures::told")]
    probability: f64,
    /// It happened after this day; null for chance.
    after: Option<NaiveDate>,
    /// It happened by this day, or the wrong reading is of it; null for chance.
    by: Option<NaiveDate>,
    /// How much riding is missing, km; null where none is.
    missing_km: Option<BandDocument>,
    /// Elongation now if this is true, percent.
    elongation_percent: BandDocument,
    /// Distance to the limit if this is true, km.
    remaining_km: BandDocument,
    /// What to do if this is true.
    #[schema(value_type = schema::Advice)]
    advice: &'static str,
    /// What would mend the record; null for chance.
    mend: Option<String>,
}

impl From<ExplanationReport> for ExplanationDocument {
    fn from(given: ExplanationReport) -> Self {
        let mend = words::mended_by(&given);
        let ExplanationReport {
            kind,
            probability,
            between,
            missing_km,
            elongation_percent,
            remaining_km,
            advice,
        } = given;
        let day = |moment| Timestamp::day_of(moment);
        Self {
            code: kind.as_str(),
            probability,
            after: between.map(|(after, _)| day(after)),
            by: between.map(|(_, by)| day(by)),
            missing_km: missing_km.map(Into::into),
            elongation_percent: elongation_percent.into(),
            remaining_km: remaining_km.into(),
            advice: advice.as_str(),
            mend,
        }
    }
}

/// A bike's outlook.
#[derive(Serialize, ToSchema)]
#[schema(as = Outlook)]
pub(in crate::web::api) struct OutlookDocument {
    /// The bike.
    bike_id: Uuid,
    /// The chain it speaks of; none when the bike has none.
    part_id: Option<Uuid>,
    /// The instant it was computed for.
    computed_at: DateTime<Utc>,
    /// What to do.
    #[schema(value_type = schema::Advice)]
    advice: String,
    /// Why, in words and numbers.
    reason: String,
    /// Why, as a stable word for programs.
    #[schema(example = "risk_reached")]
    reason_code: String,
    /// The numbers of `reason` by name; empty where it has none.
    #[schema(value_type = Object)]
    reason_parameters: serde_json::Map<String, serde_json::Value>,
    /// Elongation at which the chain comes off, percent.
    limit_percent: f64,
    /// Elongation now, percent.
    elongation_percent: Option<BandDocument>,
    /// Distance to the limit, km; null only without a chain. `basis.kilometres_from` says whose kilometres they are.
    remaining_km: Option<BandDocument>,
    /// Distance to the limit, reference km.
    remaining_reference_km: Option<BandDocument>,
    /// Probability that the chain is over its limit now.
    #[serde(serialize_with = "figures::told_if_any")]
    probability_over_limit: Option<f64>,
    /// When the limit is reached; none without use.
    limit_on: Option<DateBandDocument>,
    /// Day on which the probability of being over passes the accepted risk.
    swap_by: Option<NaiveDate>,
    /// Day by which a reading pays.
    measure_by: Option<NaiveDate>,
    /// What made the exposure.
    drivers: Vec<DriverShareDocument>,
    /// The cassette, where the bike has one.
    cassette: Option<CassetteReportDocument>,
    /// The rings, fewest teeth first.
    rings: Vec<RingReportDocument>,
    /// What a person should know.
    warnings: Vec<WarningDocument>,
    /// What it rests on.
    basis: BasisDocument,
    /// The probability of being over the limit against distance.
    curve: Vec<CurvePointDocument>,
    /// What may explain readings that the record speaks against, the most probable first; left out when they agree.
    /// Where the record is more likely wrong than right, the numbers above are of all of them together, each by its
    /// probability.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    explanations: Vec<ExplanationDocument>,
}

impl From<Outlook> for OutlookDocument {
    fn from(given: Outlook) -> Self {
        let (limit_on, swap_by, measure_by) = (given.limit_on(), given.swap_by(), given.measure_by());
        let Outlook { bike_id, part_id, computed_at, today: _, zone, taught, known } = given;
        let wear_core::Outlook {
            advice,
            reason,
            limit_percent,
            elongation_percent,
            remaining_km,
            remaining_reference_km,
            probability_over_limit,
            drivers,
            cassette,
            rings,
            warnings,
            basis,
            curve,
            explanations,
            ..
        } = known;
        let (reason_code, reason_parameters) = by_code(reason);
        Self {
            bike_id: bike_id.uuid(),
            part_id: part_id.map(|id| id.uuid()),
            computed_at: computed_at.datetime(),
            advice: advice.to_string(),
            reason: speech::said(&reason),
            reason_code,
            reason_parameters,
            limit_percent,
            elongation_percent: elongation_percent.map(Into::into),
            remaining_km: remaining_km.map(Into::into),
            remaining_reference_km: remaining_reference_km.map(Into::into),
            probability_over_limit,
            limit_on: limit_on.map(Into::into),
            swap_by,
            measure_by,
            drivers: drivers.into_iter().map(Into::into).collect(),
            cassette: cassette.map(Into::into),
            rings: rings.into_iter().map(Into::into).collect(),
            warnings: warnings.into_iter().map(Into::into).collect(),
            basis: BasisDocument::of(basis, taught, zone),
            curve: curve.into_iter().map(Into::into).collect(),
            explanations: explanations.into_iter().map(Into::into).collect(),
        }
    }
}
