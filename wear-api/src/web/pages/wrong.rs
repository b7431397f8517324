//! What can't be, said to people: typed values that aren't accepted, and changes that contradict what is there.

use wear_core::bounds::Bound;

use super::failure::Failure;
use crate::domain::{Field, FieldErrors, Invalid};
use crate::service::ServiceError;
use crate::words::Words;

impl Words {
    /// One value that isn't accepted, and what would be.
    pub fn wrong(&self, cause: &Invalid) -> String {
        let noun = |what: &Field| self.field(what);
        match cause {
            Invalid::OutOfRange(error) => {
                let bound = error.bound;
                let unit = self.word("unit", bound.unit);
                let allowed = self.wrong_range(self.plain(bound.minimum), self.plain(bound.maximum), unit);
                self.wrong_value(
                    format!("{}: {}", self.quantity(bound), self.plain(error.value)),
                    allowed.trim(),
                )
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
                self.wrong_value(self.wrong_given(self.word("vocabulary", what), given), allowed.join(", "))
            }
            Invalid::Count { what, found, minimum, maximum } => {
                self.wrong_count(noun(what), found, minimum, maximum)
            }
            Invalid::Malformed { what, allowed } => {
                self.wrong_value(self.wrong_unreadable(noun(what)), self.said(allowed))
            }
            Invalid::Unparsed { what, given, allowed } => {
                self.wrong_value(self.wrong_given(noun(what), given), self.said(allowed))
            }
            Invalid::Missing { what, allowed } => {
                self.wrong_value(self.wrong_missing(noun(what)), self.said(allowed))
            }
            Invalid::Together { what, allowed } => {
                self.wrong_value(self.wrong_together(noun(what)), self.said(allowed))
            }
            Invalid::InFuture { given, .. } => self.wrong_future(self.instant(*given)),
            Invalid::BeforeFitting { given, fitted_at } => {
                self.wrong_before(self.instant(*given), self.instant(*fitted_at))
            }
            Invalid::AfterRemoval { given, removed_at } => {
                self.wrong_after(self.instant(*given), self.instant(*removed_at))
            }
            Invalid::AfterRetirement { given, retired_at } => {
                self.wrong_after_retirement(self.instant(*given), self.instant(*retired_at))
            }
            Invalid::ToolRetired { given, retired_at } => {
                self.wrong_tool_retired(self.instant(*given), self.instant(*retired_at))
            }
            Invalid::LubricantRetired { given, retired_at } => {
                self.wrong_lubricant_retired(self.instant(*given), self.instant(*retired_at))
            }
            Invalid::BikesOfKind { count } => self.wrong_bikes_of_kind(count),
            Invalid::AfterReading { given, taken_at } => {
                self.wrong_after_reading(self.instant(*given), self.instant(*taken_at))
            }
            Invalid::ReadingAhead { .. } => self.wrong_value(cause, cause.allowed()),
            Invalid::RideElsewhere { .. } => self.wrong_value(cause, cause.allowed()),
            Invalid::NoSuch { what } => self.wrong_none(noun(what)),
            Invalid::NoPlace { place, position, places } => {
                self.wrong_place(self.place(*place), f64::from(*position) + 1.0, *places as f64)
            }
            Invalid::Mismatch { reason, .. } => self.wrong_mismatch(self.said(reason.as_ref())),
        }
    }

    /// What is wrong with a field whose place says already which it is.
    pub fn wrong_in_short(&self, cause: &Invalid) -> String {
        match cause {
            Invalid::OutOfRange(error) => self.wrong_is(self.plain(error.value)),
            Invalid::WholeNumber { given, .. } => self.wrong_is(self.number(*given as f64, 0)),
            Invalid::UnknownWord { given, .. } | Invalid::Unparsed { given, .. } => {
                self.wrong_is(format!("{given:?}"))
            }
            Invalid::TextLength { length: 0, .. } | Invalid::Count { found: 0, .. } => self.wrong_is_empty(),
            Invalid::TextLength { length, .. } => self.wrong_has_characters(length),
            Invalid::Count { found, .. } => self.wrong_has_entries(found),
            Invalid::Malformed { .. } => self.wrong_is_unreadable(),
            Invalid::Missing { .. } => self.wrong_is_missing(),
            other => self.wrong(other),
        }
    }

    /// What would be right.
    pub fn allowed(&self, cause: &Invalid) -> String {
        match cause {
            Invalid::OutOfRange(error) => {
                let bound = error.bound;
                let unit = self.word("unit", bound.unit);
                let range = self.wrong_range(self.plain(bound.minimum), self.plain(bound.maximum), unit);
                range.trim().to_owned()
            }
            Invalid::WholeNumber { minimum, maximum, .. } => {
                self.wrong_from_to(self.number(*minimum as f64, 0), self.number(*maximum as f64, 0))
            }
            Invalid::TextLength { minimum, maximum, .. } => {
                self.wrong_allowed_characters(self.wrong_from_to(minimum, maximum))
            }
            Invalid::Count { minimum, maximum, .. } => {
                self.wrong_allowed_entries(self.wrong_from_to(minimum, maximum))
            }
            Invalid::UnknownWord { allowed, .. } => allowed.join(", "),
            Invalid::Malformed { allowed, .. }
            | Invalid::Unparsed { allowed, .. }
            | Invalid::Missing { allowed, .. }
            | Invalid::Together { allowed, .. } => self.said(allowed),
            other => other.allowed(),
        }
    }

    /// What a value is of.
    fn field(&self, field: &Field) -> String {
        match field {
            Field::Quantity { bound } => self.quantity(bound),
            other => self.said(other),
        }
    }

    /// A quantity of the library's table of ranges.
    fn quantity(&self, bound: &Bound) -> String {
        self.own_word("quantity", bound.code).unwrap_or_else(|| bound.name.to_owned())
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
            ServiceError::Conflict(conflict) => Ok(vec![self.said(&conflict)]),
            other => Err(other.into()),
        }
    }

    /// Whether a part, or a chain's length, doesn't go with the bike: a form may say that it is meant so.
    pub fn is_mismatch(error: &ServiceError) -> bool {
        let ServiceError::Invalid(errors) = error else { return false };
        errors.as_slice().iter().any(|error| matches!(error.cause, Invalid::Mismatch { .. }))
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
    use crate::domain::{Form, Label, Language, ShelfCount, Timestamp};

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
                Invalid::NoSuch { what: Field::Bike },
                "This workshop has no such thing: bike.",
                "Das gibt es in dieser Werkstatt nicht: Rad.",
            ),
            (
                Invalid::unparsed(Field::Date, "x", Form::Date),
                "date: “x”. Allowed: a date as YYYY-MM-DD, 1970 to 9999.",
                "Datum: „x“. Erlaubt: ein Datum als JJJJ-MM-TT, 1970 bis 9999.",
            ),
        ];
        for (cause, english, german) in table {
            assert_eq!((en.wrong(&cause).as_str(), de.wrong(&cause).as_str()), (english, german));
        }
    }
}
