//! How far care is told: the choice on a bike's page and in the settings.

use super::frame::Fields;
use super::words::Words;
use crate::domain::{CareSetting, CareState};

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
    /// Kilometres or weeks of a routine.
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
                Some(km) => (EVERY_KM, Some(km)),
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
            (EVERY_KM, words.care_setting_km()),
            (EVERY_WEEKS, words.care_setting_weeks()),
            (UNRECORDED, words.care_setting_unrecorded()),
        ];
        Self { states: states.map(|(value, text)| (value, text, value == chosen)).into(), every }
    }
}

/// What was chosen in the fields `care` and `care_every`.
///
/// # Errors
/// What is wrong, in words.
pub(super) fn parse(words: &Words, fields: &Fields) -> Result<Option<CareSetting>, String> {
    let every = fields.filled("care_every").map(str::trim);
    let whole = || every.and_then(|typed| typed.parse::<i64>().ok());
    let setting = match fields.get("care") {
        "" => return Ok(None),
        EVERY_KM => CareSetting::new(CareState::Routine, whole(), None),
        EVERY_WEEKS => match whole() {
            Some(weeks) => CareSetting::new(CareState::Routine, None, Some(weeks)),
            None => CareSetting::new(CareState::Routine, None, None),
        },
        UNRECORDED => CareSetting::new(CareState::Unrecorded, None, None),
        _ => CareSetting::new(CareState::Recorded, None, None),
    };
    setting.map(Some).map_err(|(_, cause)| words.wrong(&cause))
}
