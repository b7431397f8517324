//! A workshop: the tenant, and the settings that hold for all of its bikes.

use super::{Field, Form};
use chrono_tz::Tz;
use wear_core::reading::InstrumentCalibrations;
use wear_core::units::{InstrumentBias, InstrumentSd, Limit, Probability};

use super::{
    CareSetting, Currency, Instrument, Invalid, Money, SoonDays, Timestamp, WorkshopId, WorkshopName,
};

wear_core::vocabulary! {
    /// Unit in which people see distances. What is stored and sent stays in km.
    UnitsShown, "units_shown" {
        /// Kilometres.
        Km = "km",
        /// Miles.
        Miles = "miles",
    }
}

wear_core::vocabulary! {
    /// Language of the pages.
    Language, "language" {
        /// English.
        En = "en",
        /// German.
        De = "de",
    }
}

/// A workshop's own swap limits; where there is none, the trade's hold.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct DefaultLimits {
    /// 11 or more sprockets.
    pub eleven_or_more: Option<Limit>,
    /// 2 to 10 sprockets.
    pub up_to_ten: Option<Limit>,
    /// One sprocket: single speed and hub gear.
    pub single_sprocket: Option<Limit>,
}

/// What a workshop's own instrument does: read minus true, and the spread of one reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibration {
    /// The instrument.
    pub instrument: Instrument,
    /// Bias, percent elongation.
    pub bias: InstrumentBias,
    /// Standard deviation of one reading, percent elongation.
    pub sd: InstrumentSd,
}

/// What things cost a workshop, minor units of its currency; nil where it doesn't say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Costs {
    /// Labour of one swap.
    pub swap_labour_minor: i64,
    /// One reading.
    pub reading_minor: i64,
    /// One failure on the road.
    pub failure_minor: i64,
}

impl Costs {
    /// Costs, each 0 to [`Money::MAXIMUM_MINOR`].
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`].
    pub fn check(self, currency: Currency) -> Result<Self, Invalid> {
        for minor in [self.swap_labour_minor, self.reading_minor, self.failure_minor] {
            Money::new(minor, currency)?;
        }
        Ok(self)
    }
}

/// What a workshop can set.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkshopSettings {
    /// Its name; no two workshops of one store have the same, whatever the case.
    pub name: WorkshopName,
    /// Time zone of its dates.
    pub time_zone: Tz,
    /// Unit in which people see distances.
    pub units_shown: UnitsShown,
    /// Language of its pages, with the way to write numbers and dates.
    pub language: Language,
    /// Currency of its prices and costs.
    pub currency: Currency,
    /// The probability of being over the limit at which a chain is to be swapped.
    pub risk: Probability,
    /// Its own swap limits.
    pub limits: DefaultLimits,
    /// What things cost.
    pub costs: Costs,
    /// Its calibrated instruments, at most one entry each.
    pub calibrations: Vec<Calibration>,
    /// How far care of its bikes is told, where the bike doesn't say; none when by what is entered.
    pub care: Option<CareSetting>,
    /// Days before its day that a reading or a swap is told to be due soon.
    pub soon_days: SoonDays,
}

impl WorkshopSettings {
    /// Risk at which a chain is to be swapped until the workshop says otherwise (A).
    pub const DEFAULT_RISK: f64 = 0.2;

    /// The settings of a new workshop: UTC, km, English, euro, the default risk, nothing of its own.
    ///
    /// # Errors
    /// None in practice: the defaults are legal, which a test shows.
    pub fn defaults(name: WorkshopName) -> Result<Self, Invalid> {
        Ok(Self {
            name,
            time_zone: Tz::UTC,
            units_shown: UnitsShown::Km,
            language: Language::En,
            currency: "EUR".parse()?,
            risk: Probability::new(Self::DEFAULT_RISK)?,
            limits: DefaultLimits::default(),
            costs: Costs::default(),
            calibrations: Vec::new(),
            care: None,
            soon_days: SoonDays::WEEK,
        })
    }

    /// Its instruments as the core takes them.
    #[must_use]
    pub fn instruments(&self) -> InstrumentCalibrations {
        self.calibrations.iter().fold(InstrumentCalibrations::default(), |all, own| {
            all.with(own.instrument, wear_core::reading::Calibration::new(own.bias, own.sd))
        })
    }
}

/// A workshop.
#[derive(Debug, Clone, PartialEq)]
pub struct Workshop {
    /// Its id.
    pub id: WorkshopId,
    /// Its settings.
    pub settings: WorkshopSettings,
    /// When it was made.
    pub created_at: Timestamp,
    /// Counts the changes of its settings, from 1.
    pub revision: i64,
}

/// Parses the name of a time zone, `Europe/Dublin`.
///
/// # Errors
/// [`Invalid::Malformed`].
pub fn parse_time_zone(given: &str) -> Result<Tz, Invalid> {
    given.parse().map_err(|_| Invalid::Malformed { what: Field::TimeZone, allowed: Form::TimeZone })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_workshop_starts_with_legal_settings() {
        let settings = WorkshopSettings::defaults(WorkshopName::new("Harbour").unwrap()).unwrap();
        assert_eq!(settings.risk.get(), WorkshopSettings::DEFAULT_RISK);
        assert_eq!(settings.currency.as_str(), "EUR");
    }

    #[test]
    fn time_zones_go_by_their_names() {
        assert_eq!(parse_time_zone("Europe/Dublin"), Ok(Tz::Europe__Dublin));
        assert!(parse_time_zone("Dublin").is_err());
    }
}
