//! What a record of forecasts means for the next decision.

use wear_core::fleet::demand_record::{DemandRecord, DemandVerdict};
use wear_core::fleet::passage_record::{PassageRecord, PassageVerdict};
use wear_core::fleet::skip_reliability::{SkipReliability, SkipVerdict};
use wear_core::fleet::swap_by_record::{SwapByRecord, SwapByVerdict};

wear_core::sentences! {
    /// What a record of forecasts means for the next decision.
    Meaning {
        KilometresTooFew = "kilometres_too_few",
            "Too few chains have been ridden to their limit to say whether the kilometres hold.";
        KilometresHold = "kilometres_hold", "The kilometres hold: plan by them.";
        KilometresTooLate { km: u32 } = "kilometres_too_late",
            "Chains reach their limit about {km} km earlier than told: measure that much earlier.";
        KilometresTooEarly { km: u32 } = "kilometres_too_early",
            "Chains last about {km} km longer than told: measure before you swap.";
        KilometresTooNarrow = "kilometres_too_narrow",
            "The kilometres are less certain than told: allow more margin and measure more often.";
        KilometresTooWide = "kilometres_too_wide",
            "The kilometres are more certain than told: less margin is enough.";
        DatesTooFew = "dates_too_few",
            "Too few chains have been ridden to their limit to say whether the dates hold.";
        DatesHold = "dates_hold", "The dates hold: plan by them.";
        DatesTooLate { days: u32 } = "dates_too_late",
            "Chains reach their limit about {days} days earlier than told: look that much earlier.";
        DatesTooEarly { days: u32 } = "dates_too_early",
            "Chains last about {days} days longer than told: measure before you swap.";
        DatesTooNarrow = "dates_too_narrow",
            "The dates are less certain than told: allow more margin and measure more often.";
        DatesTooWide = "dates_too_wide", "The dates are more certain than told: less margin is enough.";
        SwapByTooFew = "swap_by_too_few",
            "Too few chains were ridden to the day named and measured afterwards to judge the risk.";
        SwapByKept = "swap_by_kept", "That is what was accepted: keep the risk you chose.";
        SwapByTooLate = "swap_by_too_late",
            "That is more than was accepted: swap before the day named, or choose a lower risk.";
        SwapByTooEarly = "swap_by_too_early", "That is less than was accepted: the days named are on the safe side.";
        DemandTooFew = "demand_too_few", "Too few quarters are over to judge the numbers.";
        DemandHolds = "demand_holds", "The numbers hold: order by them.";
        DemandTooFewForecast { percent: u32 } = "demand_too_few_forecast",
            "More swaps come than forecast: order about {percent} % more.";
        DemandTooManyForecast { percent: u32 } = "demand_too_many_forecast",
            "Fewer swaps come than forecast: order about {percent} % less.";
        DemandTooNarrow = "demand_too_narrow",
            "The numbers vary more than told: keep more parts in reserve.";
        SkipsTooFew = "skips_too_few", "Too few new chains have been tried on old cassettes to say.";
        SkipsHold = "skips_hold", "Cassettes skip as often as told: order by it.";
        SkipsMore = "skips_more", "Cassettes skip more often than told: have one at hand at each chain swap.";
        SkipsFewer = "skips_fewer",
            "Cassettes skip less often than told: try the new chain before you replace the cassette.";
    }
}

impl Meaning {
    /// Of kilometres to the limit; none yet where there is no record.
    #[must_use]
    pub fn of_kilometres(record: Option<&PassageRecord>) -> Self {
        match Passages::of(record) {
            Passages::TooFew => Self::KilometresTooFew,
            Passages::Hold => Self::KilometresHold,
            Passages::TooLate(km) => Self::KilometresTooLate { km },
            Passages::TooEarly(km) => Self::KilometresTooEarly { km },
            Passages::TooWide => Self::KilometresTooWide,
            Passages::TooNarrow => Self::KilometresTooNarrow,
        }
    }

    /// Of dates of the limit; none yet where there is no record.
    #[must_use]
    pub fn of_dates(record: Option<&PassageRecord>) -> Self {
        match Passages::of(record) {
            Passages::TooFew => Self::DatesTooFew,
            Passages::Hold => Self::DatesHold,
            Passages::TooLate(days) => Self::DatesTooLate { days },
            Passages::TooEarly(days) => Self::DatesTooEarly { days },
            Passages::TooWide => Self::DatesTooWide,
            Passages::TooNarrow => Self::DatesTooNarrow,
        }
    }

    /// Of days named for swaps; none yet where there is no record.
    #[must_use]
    pub fn of_swap_by(record: Option<&SwapByRecord>) -> Self {
        match record.map(SwapByRecord::verdict) {
            None | Some(SwapByVerdict::TooFew) => Self::SwapByTooFew,
            Some(SwapByVerdict::Kept) => Self::SwapByKept,
            Some(SwapByVerdict::TooLate) => Self::SwapByTooLate,
            Some(SwapByVerdict::TooEarly) => Self::SwapByTooEarly,
        }
    }

    /// Of the swaps of quarters.
    #[must_use]
    pub fn of_demand(record: &DemandRecord) -> Self {
        let of_expected = |missed: f64| {
            let percent = 100.0 * missed / record.expected;
            if percent.is_finite() { percent.max(1.0).round() as u32 } else { 100 }
        };
        let more = record.came as f64 - record.expected;
        match record.verdict() {
            DemandVerdict::TooFew => Self::DemandTooFew,
            DemandVerdict::Holds => Self::DemandHolds,
            DemandVerdict::TooFewForecast => Self::DemandTooFewForecast { percent: of_expected(more) },
            DemandVerdict::TooManyForecast => Self::DemandTooManyForecast { percent: of_expected(-more) },
            DemandVerdict::TooNarrow => Self::DemandTooNarrow,
        }
    }

    /// Of skipping.
    #[must_use]
    pub fn of_skips(told: &SkipReliability) -> Self {
        match told.verdict() {
            SkipVerdict::TooFew => Self::SkipsTooFew,
            SkipVerdict::Holds => Self::SkipsHold,
            SkipVerdict::MoreSkip => Self::SkipsMore,
            SkipVerdict::FewerSkip => Self::SkipsFewer,
        }
    }
}

/// The verdict on passages, with by how much half of them came earlier or later than told.
enum Passages {
    TooFew,
    Hold,
    TooLate(u32),
    TooEarly(u32),
    TooWide,
    TooNarrow,
}

impl Passages {
    fn of(record: Option<&PassageRecord>) -> Self {
        let Some(record) = record else { return Self::TooFew };
        let by = |sign: f64| {
            let by = record.shift.map(|shift| (sign * shift).round());
            by.filter(|by| *by >= 1.0).map(|by| by as u32)
        };
        match record.verdict() {
            PassageVerdict::TooFew => Self::TooFew,
            PassageVerdict::Holds => Self::Hold,
            PassageVerdict::TooLate => by(-1.0).map_or(Self::TooNarrow, Self::TooLate),
            PassageVerdict::TooEarly => by(1.0).map_or(Self::TooNarrow, Self::TooEarly),
            PassageVerdict::TooWide => Self::TooWide,
            PassageVerdict::TooNarrow => Self::TooNarrow,
        }
    }
}
