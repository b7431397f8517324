//! What can't be, said to people: typed values that aren't accepted, and changes that contradict what is there.

use super::failure::Failure;
use super::words::Words;
use crate::domain::{FieldErrors, Invalid};
use crate::service::ServiceError;

impl Words {
    /// One value that isn't accepted, and what would be.
    pub fn wrong(&self, cause: &Invalid) -> String {
        let noun = |what: &'static str| self.of_service(what).to_owned();
        match cause {
            Invalid::OutOfRange(error) => {
                let bound = error.bound;
                let unit = self.of_service(bound.unit);
                let allowed = self.wrong_range(self.plain(bound.minimum), self.plain(bound.maximum), unit);
                self.wrong_value(format!("{}: {}", noun(bound.name), self.plain(error.value)), allowed.trim())
            }
            Invalid::WholeNumber { what, minimum, maximum, .. } => {
                self.wrong_whole(noun(what), self.number(*minimum as f64, 0), self.number(*maximum as f64, 0))
            }
            Invalid::TooMuchForRide { what, given, maximum, unit, .. } => {
                let given = format!("{} {unit}", self.number(*given, 0));
                self.wrong_value(
                    self.wrong_given(noun(what), &given),
                    format!("0 – {} {unit}", self.number(*maximum, 0)),
                )
            }
            Invalid::TextLength { what, length: 0, .. } => self.wrong_empty(noun(what)),
            Invalid::TextLength { what, length, maximum, .. } => {
                self.wrong_length(noun(what), length, maximum)
            }
            Invalid::ControlCharacter { what } => self.wrong_control(noun(what)),
            Invalid::UnknownWord { what, given, allowed } => {
                self.wrong_value(self.wrong_given(noun(what), given), allowed.join(", "))
            }
            Invalid::Count { what, found, minimum, maximum } => {
                self.wrong_count(noun(what), found, minimum, maximum)
            }
            Invalid::Malformed { what, allowed } => {
                self.wrong_value(self.wrong_unreadable(noun(what)), self.of_service(allowed))
            }
            Invalid::Unparsed { what, given, allowed } => {
                self.wrong_value(self.wrong_given(noun(what), given), self.of_service(allowed))
            }
            Invalid::Missing { what, allowed } => {
                self.wrong_value(self.wrong_missing(noun(what)), self.of_service(allowed))
            }
            Invalid::Together { what, allowed } => {
                self.wrong_value(self.wrong_together(noun(what)), self.of_service(allowed))
            }
            Invalid::InFuture { given, .. } => self.wrong_future(self.instant(*given)),
            Invalid::BeforeFitting { given, fitted_at } => {
                self.wrong_before(self.instant(*given), self.instant(*fitted_at))
            }
            Invalid::AfterRemoval { given, removed_at } => {
                self.wrong_after(self.instant(*given), self.instant(*removed_at))
            }
            Invalid::ReadingAhead { .. } => self.wrong_value(cause, cause.allowed()),
            Invalid::NoSuch { what } => self.wrong_none(noun(what)),
        }
    }

    /// All values that aren't accepted.
    pub fn wrongs(&self, errors: &FieldErrors) -> Vec<String> {
        errors.as_slice().iter().map(|error| self.wrong(&error.cause)).collect()
    }

    /// What a page says, with its form, of a change that was refused.
    ///
    /// # Errors
    /// What needs a page of its own.
    pub fn refused(&self, error: ServiceError) -> Result<Vec<String>, Failure> {
        match error {
            ServiceError::Invalid(errors) => Ok(self.wrongs(&errors)),
            ServiceError::Conflict { detail } => {
                Ok(vec![self.contradiction(&detail).unwrap_or(&detail).to_owned()])
            }
            other => Err(other.into()),
        }
    }

    /// A number with as many decimals as it has.
    fn plain(&self, value: f64) -> String {
        let decimals = format!("{value}").split_once('.').map_or(0, |(_, fraction)| fraction.len().min(4));
        self.number(value, decimals)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Label, Language, ShelfCount, Timestamp};

    #[test]
    fn what_is_wrong_is_said_in_the_language_of_the_page() {
        let (en, de) = (Words::of(Language::En), Words::of(Language::De));
        let links = wear_core::units::Links::new(4).expect_err("too few");
        let late: Timestamp = "2026-03-01T08:30:00Z".parse().expect("a time");
        let table: [(Invalid, &str, &str); 6] = [
            (
                links.into(),
                "chain length: 4. Allowed: 40 to 260 pitches.",
                "Kettenlänge: 4. Erlaubt: 40 bis 260 Teilungen.",
            ),
            (
                Label::new("").expect_err("empty"),
                "Write something: label.",
                "Bitte etwas eintragen: Nummer oder Name.",
            ),
            (
                ShelfCount::new(-1).expect_err("negative"),
                "count on the shelf: a whole number from 0 to 1,000,000.",
                "Anzahl im Lager: eine ganze Zahl von 0 bis 1.000.000.",
            ),
            (
                Invalid::InFuture { given: late, now: late },
                "1 Mar 2026, 08:30 is in the future.",
                "1. März 2026, 08:30 liegt in der Zukunft.",
            ),
            (
                Invalid::NoSuch { what: "bike" },
                "This workshop doesn't have that: bike.",
                "Das hat diese Werkstatt nicht: Rad.",
            ),
            (
                Invalid::unparsed("date", "x", "a date as YYYY-MM-DD, 1970 to 9999"),
                "date: “x”. Allowed: a date as YYYY-MM-DD, 1970 to 9999.",
                "Datum: „x“. Erlaubt: ein Datum als JJJJ-MM-TT, 1970 bis 9999.",
            ),
        ];
        for (cause, english, german) in table {
            assert_eq!((en.wrong(&cause).as_str(), de.wrong(&cause).as_str()), (english, german));
        }
    }
}
