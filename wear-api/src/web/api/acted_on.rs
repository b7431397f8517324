//! In JSON: how forecasts did that people act on.

use serde::Serialize;
use utoipa::ToSchema;
use wear_core::fleet::censored::Share;
use wear_core::fleet::demand_record::QuarterDemand;
use wear_core::fleet::passage_record::{PassageRecord, PassageTally};
use wear_core::fleet::skip_record::SkipTally;

use crate::domain::{Meaning, Month};
use crate::service::track_record::{ActedOn, Apart};
use crate::web::speech;

/// What a record means for the next decision.
#[derive(Serialize, ToSchema)]
#[schema(as = RecordMeaning)]
struct MeaningDocument {
    /// For programs.
    #[schema(example = "dates_hold")]
    code: String,
    /// The same for people, in one sentence.
    #[schema(example = "The dates hold: plan by them.")]
    message: String,
}

impl From<Meaning> for MeaningDocument {
    fn from(meaning: Meaning) -> Self {
        Self { code: meaning.code().to_owned(), message: speech::said(&meaning) }
    }
}

/// How forecasts of when chains pass their limits did. A passage lies between the last reading below the limit and the first
/// above it; what readings don't tell apart is left as the forecasts have it.
#[derive(Serialize, ToSchema)]
#[schema(as = PassageHeld)]
struct PassageDocument {
    /// Forecasts of which readings taken since tell something.
    n: u64,
    /// Chains that they are of.
    chains: u64,
    /// How many chains of which all is known would tell as much.
    known: f64,
    /// Share of passages between P10 and P90; 0.8 is right. Null without any.
    covered: Option<f64>,
    /// As low as the true share may be: it is lower once in two hundred.
    covered_lowest: Option<f64>,
    /// As high as it may be.
    covered_highest: Option<f64>,
    /// Share of passages before P10; 0.1 is right.
    before_p10: Option<f64>,
    /// Share of passages after P90; 0.1 is right.
    beyond_p90: Option<f64>,
}

impl PassageDocument {
    fn of(record: Option<&PassageRecord>) -> Self {
        let share = |of: fn(&PassageRecord) -> f64| record.map(of);
        Self {
            n: record.map_or(0, |it| it.forecasts),
            chains: record.map_or(0, |it| it.chains.round() as u64),
            known: record.map_or(0.0, |it| it.known),
            covered: share(|it| it.covered.share),
            covered_lowest: share(|it| it.covered.lowest),
            covered_highest: share(|it| it.covered.highest),
            before_p10: share(|it| it.before_p10.share),
            beyond_p90: share(|it| it.beyond_p90.share),
        }
    }
}

/// How forecasts of kilometres to the limit did.
#[derive(Serialize, ToSchema)]
#[schema(as = KilometresHeld)]
struct KilometresDocument {
    /// How they did.
    #[serde(flatten)]
    held: PassageDocument,
    /// How much later than P50 half of the passages had come, km; negative: earlier. Null without any.
    later_by_km: Option<f64>,
    /// What it means for the next decision.
    meaning: MeaningDocument,
}

/// How forecasts of dates did that were made in one season.
#[derive(Serialize, ToSchema)]
#[schema(as = SeasonHeld)]
struct SeasonDocument {
    /// First month of the season in which they were made, from 1 to 12.
    #[schema(example = 3)]
    first_month: u8,
    /// How they did.
    #[serde(flatten)]
    held: PassageDocument,
    /// How much later than P50 half of the passages had come, days; negative: earlier. Null without any.
    later_by_days: Option<f64>,
    /// What it means for the next decision.
    meaning: MeaningDocument,
}

impl SeasonDocument {
    fn of(place: usize, tally: &PassageTally) -> Self {
        let record = tally.record();
        Self {
            first_month: [12, 3, 6, 9][place],
            held: PassageDocument::of(record.as_ref()),
            later_by_days: record.and_then(|it| it.shift),
            meaning: Meaning::of_dates(record.as_ref()).into(),
        }
    }
}

/// How forecasts of dates did.
#[derive(Serialize, ToSchema)]
#[schema(as = DatesHeld)]
struct DatesDocument {
    /// How they did.
    #[serde(flatten)]
    held: PassageDocument,
    /// How much later than P50 half of the passages had come, days; negative: earlier. Null without any.
    later_by_days: Option<f64>,
    /// The same by the season in which the forecast was made; seasons without any are left out.
    seasons: Vec<SeasonDocument>,
    /// What it means for the next decision.
    meaning: MeaningDocument,
}

/// How days named for swaps did: of chains ridden to the day, as many are over their limit as was accepted.
#[derive(Serialize, ToSchema)]
#[schema(as = SwapByHeld)]
struct SwapByDocument {
    /// Chains that were still on when the day named came.
    n: u64,
    /// Those of them of which a reading tells something of that day.
    judged: u64,
    /// The share of those that was over the limit on the day. Null without any.
    over: Option<f64>,
    /// As low as the true share may be.
    over_lowest: Option<f64>,
    /// As high as it may be.
    over_highest: Option<f64>,
    /// Mean of the risks that had been accepted.
    accepted: Option<f64>,
    /// Chains that came off before the day named.
    came_off_earlier: u64,
    /// By how many days, in the mean. Null without any.
    earlier_by_days: Option<f64>,
    /// What it means for the next decision.
    meaning: MeaningDocument,
}

/// Swaps of one quarter.
#[derive(Serialize, ToSchema)]
#[schema(as = QuarterHeld)]
struct QuarterDocument {
    /// Its first month.
    #[schema(example = "2026-04")]
    from: String,
    /// Bikes that were forecast when it began.
    bikes: u64,
    /// Nine chances in ten that there are no fewer swaps.
    p10: u64,
    /// As likely more as fewer.
    p50: u64,
    /// Nine chances in ten that there are no more.
    p90: u64,
    /// Bikes of these whose chain came off.
    came: u64,
}

impl QuarterDocument {
    fn of((month, quarter): (&Month, &QuarterDemand)) -> Self {
        let QuarterDemand { p10, p50, p90, mean: _, bikes, came } = *quarter;
        Self { from: month.to_string(), bikes, p10, p50, p90, came }
    }
}

/// How forecasts of a quarter's swaps did.
#[derive(Serialize, ToSchema)]
#[schema(as = DemandHeld)]
struct DemandDocument {
    /// Quarters that are over.
    n: u64,
    /// Those in which as many swaps came as P10 to P90 say.
    covered: u64,
    /// Those in which more came than P90.
    above: u64,
    /// Those in which fewer came than P10.
    below: u64,
    /// Swaps that were expected in all of them.
    expected: f64,
    /// Swaps that came.
    came: u64,
    /// Each quarter.
    quarters: Vec<QuarterDocument>,
    /// What it means for the next decision.
    meaning: MeaningDocument,
}

/// New chains on cassettes of which one third of the scale of probabilities had been told.
#[derive(Serialize, ToSchema)]
#[schema(as = SkipThirdHeld)]
struct SkipThirdDocument {
    /// New chains.
    n: u64,
    /// Mean probability that had been told. Null without any.
    told: Option<f64>,
    /// Those that skipped.
    skipped: u64,
}

/// How told probabilities that a new chain skips on the old cassette did.
#[derive(Serialize, ToSchema)]
#[schema(as = SkipsHeld)]
struct SkipsDocument {
    /// New chains that were tried on a cassette that stayed.
    n: u64,
    /// The share that skipped. Null without any.
    skipped: Option<f64>,
    /// As low as the true share may be.
    skipped_lowest: Option<f64>,
    /// As high as it may be.
    skipped_highest: Option<f64>,
    /// Mean probability that had been told.
    told: Option<f64>,
    /// Mean Brier score: 0 is perfect, 0.25 is saying one half each time.
    brier: Option<f64>,
    /// By what had been told: up to a third, up to two thirds, more.
    thirds: Vec<SkipThirdDocument>,
    /// What it means for the next decision.
    meaning: MeaningDocument,
}

/// How forecasts did that people act on.
#[derive(Serialize, ToSchema)]
#[schema(as = ActedOn)]
pub(super) struct ActedOnDocument {
    /// Kilometres to the limit.
    kilometres: KilometresDocument,
    /// Dates of the limit.
    dates: DatesDocument,
    /// Days named for swaps.
    swap_by: SwapByDocument,
    /// Swaps of a quarter.
    demand: DemandDocument,
    /// Skipping under a new chain.
    skips: SkipsDocument,
}

impl From<&ActedOn> for ActedOnDocument {
    fn from(acted_on: &ActedOn) -> Self {
        let ActedOn { kilometres, dates, seasons, swap_by, quarters, skips } = acted_on;
        let in_km = kilometres.record();
        let in_days = dates.record();
        let swap_by = swap_by.record();
        let demand = acted_on.demand();
        let (skip, share) = (skips.all().record(), skips.skipped());
        let over = |of: fn(Share) -> f64| swap_by.and_then(|it| it.over).map(of);
        let skipped = |of: fn(Share) -> f64| share.map(of);
        let seasons = seasons.iter().enumerate().filter(|(_, tally)| tally.forecasts > 0);
        let third = |third: SkipTally| SkipThirdDocument {
            n: third.chains,
            told: third.record().map(|it| it.told),
            skipped: third.skipped,
        };
        Self {
            kilometres: KilometresDocument {
                held: PassageDocument::of(in_km.as_ref()),
                later_by_km: in_km.and_then(|it| it.shift),
                meaning: Meaning::of_kilometres(in_km.as_ref()).into(),
            },
            dates: DatesDocument {
                held: PassageDocument::of(in_days.as_ref()),
                later_by_days: in_days.and_then(|it| it.shift),
                seasons: seasons.map(|(place, tally)| SeasonDocument::of(place, tally)).collect(),
                meaning: Meaning::of_dates(in_days.as_ref()).into(),
            },
            swap_by: SwapByDocument {
                n: swap_by.map_or(0, |it| it.ridden),
                judged: swap_by.map_or(0, |it| it.judged),
                over: over(|it| it.share),
                over_lowest: over(|it| it.lowest),
                over_highest: over(|it| it.highest),
                accepted: swap_by.and_then(|it| it.accepted),
                came_off_earlier: swap_by.map_or(0, |it| it.early),
                earlier_by_days: swap_by.and_then(|it| it.early_days),
                meaning: Meaning::of_swap_by(swap_by.as_ref()).into(),
            },
            demand: DemandDocument {
                n: demand.quarters,
                covered: demand.covered,
                above: demand.above,
                below: demand.below,
                expected: demand.expected,
                came: demand.came,
                quarters: quarters.iter().map(QuarterDocument::of).collect(),
                meaning: Meaning::of_demand(&demand).into(),
            },
            skips: SkipsDocument {
                n: skips.all().chains,
                skipped: skipped(|it| it.share),
                skipped_lowest: skipped(|it| it.lowest),
                skipped_highest: skipped(|it| it.highest),
                told: skip.map(|it| it.told),
                brier: skip.map(|it| it.brier),
                thirds: skips.thirds.map(third).into(),
                meaning: Meaning::of_skips(skips).into(),
            },
        }
    }
}

/// What people act on: forecasts that were shown at the time, and forecasts that were made later, apart.
#[derive(Serialize, ToSchema)]
#[schema(as = ActedOnApart)]
pub(super) struct ApartDocument {
    /// Forecasts that somebody could have seen.
    shown: ActedOnDocument,
    /// Forecasts made afterwards for the beginning of each month, from what was known then, with rates learned from no later
    /// reading. They are made anew each night where the past has changed.
    made_later: ActedOnDocument,
}

impl From<&Apart> for ApartDocument {
    fn from(Apart { shown, made_later }: &Apart) -> Self {
        Self { shown: shown.into(), made_later: made_later.into() }
    }
}
