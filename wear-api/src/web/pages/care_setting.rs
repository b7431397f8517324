//! How far care is told: the choice on a bike's page and in the settings.

use wear_core::bounds::CARE_INTERVAL_KM;

use super::frame::Fields;
use crate::domain::{CareSetting, CareState};
use crate::words::Words;

/// What the choice says where care isn't set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unset {
    /// A bike goes by its workshop.
    AsWorkshop,
    /// A workshop goes by what is entered.
    ByEntries,
}

/// The choice as it is shown.
#[derive(Debug)]
pub(super) struct CareChoice {
    /// Values, texts, and which is chosen.
    pub states: Vec<(&'static str, String, bool)>,
    /// Distance in the workshop's unit, or weeks, of a routine.
    pub every: String,
}

const RECORDED: &str = "recorded";
const EVERY_KM: &str = "every_km";
const EVERY_WEEKS: &str = "every_weeks";
const UNRECORDED: &str = "unrecorded";

impl CareChoice {
    /// Of what is set.
    pub fn of(words: &Words, unset: Unset, set: Option<CareSetting>) -> Self {
        let (chosen, every) = match set {
            None => ("", None),
            Some(CareSetting::Recorded) => (RECORDED, None),
            Some(CareSetting::Unrecorded) => (UNRECORDED, None),
            Some(CareSetting::Routine(interval)) => match interval.every_km() {
                Some(km) => (EVERY_KM, Some(shown(words, km))),
                None => (EVERY_WEEKS, interval.every_weeks()),
            },
        };
        Self::typed(words, unset, chosen, every.map(|every| every.to_string()).unwrap_or_default())
    }

    /// Of what was typed.
    pub fn typed(words: &Words, unset: Unset, chosen: &str, every: String) -> Self {
        let left = match unset {
            Unset::AsWorkshop => words.care_setting_workshop(),
            Unset::ByEntries => words.care_setting_entries(),
        };
        let states = [
            ("", left),
            (RECORDED, words.care_setting_recorded()),
            (EVERY_KM, words.care_setting_km(words.unit())),
            (EVERY_WEEKS, words.care_setting_weeks()),
            (UNRECORDED, words.care_setting_unrecorded()),
        ];
        Self { states: states.map(|(value, text)| (value, text, value == chosen)).into(), every }
    }
}

/// Kilometres of a routine in whole units of the workshop's.
fn shown(words: &Words, km: i64) -> i64 {
    words.in_units(km as f64).round() as i64
}

/// What was chosen in the fields `care` and `care_every`; what still stands there as it was shown is what is stored, so
/// that no rounding changes it.
///
/// # Errors
/// What is wrong, in words.
pub(super) fn parse(
    words: &Words,
    fields: &Fields,
    stored: Option<CareSetting>,
) -> Result<Option<CareSetting>, String> {
    let every = fields.filled("care_every").map(str::trim);
    let whole = || every.and_then(|typed| typed.parse::<i64>().ok());
    let setting = match fields.get("care") {
        "" => return Ok(None),
        EVERY_KM => match stored {
            Some(CareSetting::Routine(interval))
                if interval.every_km().is_some_and(|km| whole() == Some(shown(words, km))) =>
            {
                return Ok(stored);
            }
            _ => {
                let km = whole().map(|distance| words.km_of(distance as f64).round() as i64);
                CareSetting::new(CareState::Routine, km, None)
            }
        },
        EVERY_WEEKS => match whole() {
            Some(weeks) => CareSetting::new(CareState::Routine, None, Some(weeks)),
            None => CareSetting::new(CareState::Routine, None, None),
        },
        UNRECORDED => CareSetting::new(CareState::Unrecorded, None, None),
        _ => CareSetting::new(CareState::Recorded, None, None),
    };
    let least = words.number(words.in_units(CARE_INTERVAL_KM.minimum).round(), 0);
    let most = words.number(words.in_units(CARE_INTERVAL_KM.maximum).round(), 0);
    setting.map(Some).map_err(|_| words.care_setting_range(least, most, words.unit()))
}
