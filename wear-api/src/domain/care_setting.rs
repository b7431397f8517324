//! What is known of the care of a bike, or of all bikes of a workshop.

use std::fmt;
use std::str::FromStr;

use wear_core::bounds::{Bound, CARE_INTERVAL_KM, CARE_INTERVAL_WEEKS};
use wear_core::exposure::care_habit::CareRoutine;
use wear_core::units::Kilometres;

use super::{Field, Form, Invalid};

/// How far care is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CareSetting {
    /// All care is entered: silence is neglect.
    Recorded,
    /// Cleaned and lubricated every so often, whether entered or not.
    Routine(CareInterval),
    /// Nobody says.
    Unrecorded,
}

/// How often a drivetrain is cleaned and lubricated: whole kilometres inside [`CARE_INTERVAL_KM`] or whole weeks inside
/// [`CARE_INTERVAL_WEEKS`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CareInterval(CareRoutine);

fn whole(given: i64, bound: &'static Bound) -> Result<u16, Invalid> {
    let (minimum, maximum) = (bound.minimum as i64, bound.maximum as i64);
    let wrong = Invalid::WholeNumber { what: Field::Quantity { bound }, given, minimum, maximum };
    u16::try_from(given).ok().filter(|_| (minimum..=maximum).contains(&given)).ok_or(wrong)
}

impl CareInterval {
    /// Every so many kilometres.
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`].
    pub fn km(given: i64) -> Result<Self, Invalid> {
        let km = whole(given, &CARE_INTERVAL_KM)?;
        Ok(Self(CareRoutine::Distance(Kilometres::new(f64::from(km))?)))
    }

    /// Every so many weeks.
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`].
    pub fn weeks(given: i64) -> Result<Self, Invalid> {
        Ok(Self(CareRoutine::Weeks(whole(given, &CARE_INTERVAL_WEEKS)?)))
    }

    /// As the library takes it.
    #[must_use]
    pub const fn routine(self) -> CareRoutine {
        self.0
    }

    /// Kilometres, where it goes by them.
    #[must_use]
    pub fn every_km(self) -> Option<i64> {
        match self.0 {
            CareRoutine::Distance(km) => Some(km.get().round() as i64),
            CareRoutine::Weeks(_) => None,
        }
    }

    /// Weeks, where it goes by them.
    #[must_use]
    pub fn every_weeks(self) -> Option<i64> {
        match self.0 {
            CareRoutine::Distance(_) => None,
            CareRoutine::Weeks(weeks) => Some(i64::from(weeks)),
        }
    }
}

impl CareSetting {
    /// The word for its state.
    #[must_use]
    pub const fn state(self) -> CareState {
        match self {
            Self::Recorded => CareState::Recorded,
            Self::Routine(_) => CareState::Routine,
            Self::Unrecorded => CareState::Unrecorded,
        }
    }

    /// From its parts.
    ///
    /// # Errors
    /// Which part is wrong, and why: the interval belongs to a routine, which has one.
    pub fn new(
        state: CareState,
        every_km: Option<i64>,
        every_weeks: Option<i64>,
    ) -> Result<Self, (&'static str, Invalid)> {
        let apart = |field| {
            Err((field, Invalid::Together { what: Field::CareAndInterval, allowed: Form::IntervalOfRoutine }))
        };
        match (state, every_km, every_weeks) {
            (CareState::Recorded, None, None) => Ok(Self::Recorded),
            (CareState::Unrecorded, None, None) => Ok(Self::Unrecorded),
            (CareState::Routine, Some(km), None) => {
                CareInterval::km(km).map(Self::Routine).map_err(|cause| ("every_km", cause))
            }
            (CareState::Routine, None, Some(weeks)) => {
                CareInterval::weeks(weeks).map(Self::Routine).map_err(|cause| ("every_weeks", cause))
            }
            (CareState::Routine, None, None) => {
                Err(("every_km", Invalid::Missing { what: Field::CareInterval, allowed: Form::KmOrWeeks }))
            }
            (CareState::Routine, Some(_), Some(_)) => {
                Err(("every_weeks", Invalid::Together { what: Field::KmAndWeeks, allowed: Form::KmOrWeeks }))
            }
            (_, Some(_), _) => apart("every_km"),
            (_, None, Some(_)) => apart("every_weeks"),
        }
    }
}

wear_core::vocabulary! {
    /// How far care is told, as a word.
    CareState, "state" {
        /// All of it is entered.
        Recorded = "recorded",
        /// Every so many km or weeks.
        Routine = "routine",
        /// Nobody says.
        Unrecorded = "unrecorded",
    }
}

/// The notation of tables: `recorded`, `unrecorded`, `every 300 km`, `every 2 weeks`.
impl fmt::Display for CareSetting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Recorded | Self::Unrecorded => f.write_str(self.state().as_str()),
            Self::Routine(interval) => match interval.0 {
                CareRoutine::Distance(km) => write!(f, "every {} km", km.get()),
                CareRoutine::Weeks(weeks) => write!(f, "every {weeks} weeks"),
            },
        }
    }
}

impl FromStr for CareSetting {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        let number = |text: &str| text.parse().map_err(|_| unread(given));
        match given.split_whitespace().collect::<Vec<_>>().as_slice() {
            ["recorded"] => Ok(Self::Recorded),
            ["unrecorded"] => Ok(Self::Unrecorded),
            ["every", km, "km"] => Ok(Self::Routine(CareInterval::km(number(km)?)?)),
            ["every", weeks, "weeks" | "week"] => Ok(Self::Routine(CareInterval::weeks(number(weeks)?)?)),
            _ => Err(unread(given)),
        }
    }
}

fn unread(given: &str) -> Invalid {
    Invalid::unparsed(Field::CareSetting, given, Form::CareSetting)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_setting_reads_back_from_its_notation() {
        for text in ["recorded", "unrecorded", "every 300 km", "every 2 weeks"] {
            assert_eq!(text.parse::<CareSetting>().unwrap().to_string(), text);
        }
        for wrong in ["", "routine", "every 5 km", "every 0 weeks", "every 2 days", "every 1.5 weeks"] {
            assert!(wrong.parse::<CareSetting>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn an_interval_belongs_to_a_routine() {
        use CareState::{Recorded, Routine};
        assert!(CareSetting::new(Routine, Some(300), None).is_ok());
        for (state, km, weeks, field) in [
            (Recorded, Some(300), None, "every_km"),
            (Recorded, None, Some(2), "every_weeks"),
            (Routine, None, None, "every_km"),
            (Routine, Some(300), Some(2), "every_weeks"),
            (Routine, Some(1), None, "every_km"),
            (Routine, None, Some(1_000), "every_weeks"),
        ] {
            assert_eq!(CareSetting::new(state, km, weeks).unwrap_err().0, field);
        }
    }
}
