//! What can be wrong with a field, and where the field stands.

use std::fmt;

use thiserror::Error;
use wear_core::bounds::OutOfRange;
use wear_core::drivetrain::DrivetrainError;
use wear_core::drivetrain::compatibility::{Finding, Reason, Source};
use wear_core::reading::MeasurementError;
use wear_core::vocabulary::UnknownWord;

use super::{BikeId, Field, Form, Place, Timestamp};

/// Why a value isn't accepted. The text says what was given; [`Invalid::allowed`] what would be right.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum Invalid {
    /// A number outside its range, from the table of bounds.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
    /// A whole number outside its range.
    #[error("{what} is {given}")]
    WholeNumber {
        /// Name of the quantity.
        what: Field,
        /// What was given.
        given: i64,
        /// Smallest legal value.
        minimum: i64,
        /// Largest legal value.
        maximum: i64,
    },
    /// More than the rest of a ride allows.
    #[error("{what} is {given} {unit} on {distance_km} km")]
    TooMuchForRide {
        /// Name of the quantity.
        what: Field,
        /// What was given.
        given: f64,
        /// Most that the ride allows.
        maximum: f64,
        /// Unit of both.
        unit: &'static str,
        /// How far the ride went.
        distance_km: f64,
    },
    /// A text too short or too long, counted in characters after trimming.
    #[error("{what} has {length} characters")]
    TextLength {
        /// Name of the text.
        what: Field,
        /// Characters found.
        length: usize,
        /// Fewest characters allowed.
        minimum: usize,
        /// Most characters allowed.
        maximum: usize,
    },
    /// A text with a control character in it.
    #[error("{what} holds a control character")]
    ControlCharacter {
        /// Name of the text.
        what: Field,
    },
    /// A word that isn't in its list.
    #[error("{what} is {given:?}")]
    UnknownWord {
        /// Name of the list.
        what: &'static str,
        /// What was given, shortened to 64 characters.
        given: String,
        /// The words that would do.
        allowed: &'static [&'static str],
    },
    /// A list with too few or too many entries.
    #[error("{what} has {found} entries")]
    Count {
        /// Name of the list.
        what: Field,
        /// Entries found.
        found: usize,
        /// Fewest entries allowed.
        minimum: usize,
        /// Most entries allowed.
        maximum: usize,
    },
    /// A text that should have a form and hasn't: an id, a time, a currency, a cursor.
    #[error("{what} is malformed")]
    Malformed {
        /// Name of the value.
        what: Field,
        /// The form it should have.
        allowed: Form,
    },
    /// A text that should have a form and hasn't, with what was given.
    #[error("{what} is {given:?}")]
    Unparsed {
        /// Name of the value.
        what: Field,
        /// What was given, shortened to 64 characters.
        given: String,
        /// The form it should have.
        allowed: Form,
    },
    /// A value that isn't there and has to be.
    #[error("{what} is missing")]
    Missing {
        /// Name of the value.
        what: Field,
        /// What should be there.
        allowed: Form,
    },
    /// Two values that don't go together.
    #[error("{what} don't go together")]
    Together {
        /// Names of the values.
        what: Field,
        /// Which combination would do.
        allowed: Form,
    },
    /// A time or date after the present.
    #[error("{given} is in the future")]
    InFuture {
        /// What was given.
        given: Timestamp,
        /// The present.
        now: Timestamp,
    },
    /// An event on a part before the part was fitted.
    #[error("{given} is before the part was fitted")]
    BeforeFitting {
        /// What was given.
        given: Timestamp,
        /// When the part was fitted.
        fitted_at: Timestamp,
    },
    /// An event on a part after the part was taken off.
    #[error("{given} is after the part was taken off")]
    AfterRemoval {
        /// What was given.
        given: Timestamp,
        /// When the part was taken off.
        removed_at: Timestamp,
    },
    /// An event of a bike after it left the fleet.
    #[error("{given} is after the bike left the fleet")]
    AfterRetirement {
        /// What was given.
        given: Timestamp,
        /// When it left.
        retired_at: Timestamp,
    },
    /// A reading with a tool that was out of use by then.
    #[error("{given} is after the tool was retired")]
    ToolRetired {
        /// What was given.
        given: Timestamp,
        /// When it was retired.
        retired_at: Timestamp,
    },
    /// Care with a lubricant that was out of use by then.
    #[error("{given} is after the lubricant was retired")]
    LubricantRetired {
        /// What was given.
        given: Timestamp,
        /// When it was retired.
        retired_at: Timestamp,
    },
    /// A kind's change of which it isn't said whether bikes follow.
    #[error("{count} {} of this kind: say whether they follow", if *count == 1 { "bike is" } else { "bikes are" })]
    BikesOfKind {
        /// How many.
        count: usize,
    },
    /// A fitting later than what was read of the part.
    #[error("{given} is after the chain's first reading")]
    AfterReading {
        /// What was given.
        given: Timestamp,
        /// When it was read first.
        taken_at: Timestamp,
    },
    /// A reading later in the chain's life than now, both in reference km.
    #[error("{at} reference km is later than the case's own at_reference_km")]
    ReadingAhead {
        /// What was given.
        at: f64,
        /// The chain's exposure now.
        now: f64,
    },
    /// A place that the bike lacks.
    #[error("{}", no_place(*place, *position, *places))]
    NoPlace {
        /// The place.
        place: Place,
        /// Which of several, from 0.
        position: u8,
        /// How many the bike has.
        places: usize,
    },
    /// A part, or a chain's length, that doesn't go with the bike.
    #[error("doesn't go with the bike: {reason} ({source})", source = .rests_on)]
    Mismatch {
        /// Why.
        reason: Box<Reason>,
        /// What that rests on.
        rests_on: Source,
    },
    /// A ride that another bike has already, where ids are the workshop's.
    #[error("is the id of a ride of bike {bike}")]
    RideElsewhere {
        /// That bike.
        bike: BikeId,
    },
    /// An id of something that this workshop doesn't have.
    #[error("there is no such {what}")]
    NoSuch {
        /// What the id should name.
        what: Field,
    },
}

impl Invalid {
    /// [`Invalid::UnknownWord`], with what was given cut to a length fit for a message.
    #[must_use]
    pub fn unknown_word(what: &'static str, given: &str, allowed: &'static [&'static str]) -> Self {
        Self::UnknownWord { what, given: given.chars().take(64).collect(), allowed }
    }

    /// [`Invalid::Unparsed`], with what was given cut to a length fit for a message.
    #[must_use]
    pub fn unparsed(what: Field, given: &str, allowed: Form) -> Self {
        Self::Unparsed { what, given: given.chars().take(64).collect(), allowed }
    }

    /// [`Invalid::Mismatch`] of what was found.
    #[must_use]
    pub fn mismatch(finding: Finding) -> Self {
        Self::Mismatch { reason: Box::new(finding.reason), rests_on: finding.source }
    }

    /// What would be accepted, in words.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::NoPlace { places: 0, .. } => {
                "a place that the bike has; correct its drivetrain first where it is wrong".to_owned()
            }
            Self::NoPlace { places: 1, .. } => {
                "0; correct the bike's drivetrain first where it is wrong".to_owned()
            }
            Self::NoPlace { places, .. } => {
                let last = places - 1;
                format!("0 to {last}; correct the bike's drivetrain first where it is wrong")
            }
            Self::Mismatch { .. } => {
                "what goes with the bike, or accept_mismatch: true where it is meant so".to_owned()
            }
            Self::OutOfRange(error) => error.bound.allowed(),
            Self::WholeNumber { minimum, maximum, .. } => format!("{minimum} to {maximum}"),
            Self::TooMuchForRide { maximum, unit, distance_km, .. } => {
                format!("0 to {maximum:.0} {unit} on {distance_km} km")
            }
            Self::TextLength { minimum, maximum, .. } => format!("{minimum} to {maximum} characters"),
            Self::ControlCharacter { .. } => "text without control characters".to_owned(),
            Self::UnknownWord { allowed, .. } => allowed.join(", "),
            Self::Count { minimum, maximum, .. } => format!("{minimum} to {maximum} entries"),
            Self::Malformed { allowed, .. }
            | Self::Unparsed { allowed, .. }
            | Self::Missing { allowed, .. }
            | Self::Together { allowed, .. } => allowed.to_string(),
            Self::InFuture { now, .. } => format!("up to {now}"),
            Self::BeforeFitting { fitted_at, .. } => format!("from {fitted_at}"),
            Self::AfterRemoval { removed_at, .. } => format!("up to {removed_at}"),
            Self::AfterRetirement { retired_at, .. }
            | Self::ToolRetired { retired_at, .. }
            | Self::LubricantRetired { retired_at, .. } => {
                format!("up to {retired_at}")
            }
            Self::BikesOfKind { .. } => {
                "true to change those whose own value is the kind's old one, false to leave \
                                         all as they are"
                    .to_owned()
            }
            Self::AfterReading { taken_at, .. } => format!("up to {taken_at}"),
            Self::ReadingAhead { now, .. } => format!("0 to {now} reference km"),
            Self::RideElsewhere { .. } => "that bike, or move: true to move the ride here".to_owned(),
            Self::NoSuch { what } => format!("id of a {what} of this workshop"),
        }
    }

    /// This error at a field, given as a JSON pointer (RFC 6901).
    #[must_use]
    pub fn at(self, pointer: impl Into<String>) -> FieldError {
        FieldError { pointer: pointer.into(), cause: self }
    }
}

/// A place that isn't there, as it follows the field that names it.
fn no_place(place: Place, position: u8, places: usize) -> String {
    match places {
        0 => format!("is {place}, which this bike's drivetrain doesn't have"),
        1 => format!("is {position}, and this bike's drivetrain has one {place}"),
        _ => format!("is {position}, and this bike's drivetrain has {places} of {place}"),
    }
}

impl From<UnknownWord> for Invalid {
    fn from(UnknownWord { what, given, allowed }: UnknownWord) -> Self {
        Self::unknown_word(what, &given, allowed)
    }
}

impl From<MeasurementError> for Invalid {
    fn from(error: MeasurementError) -> Self {
        match error {
            MeasurementError::GaugeHasNoPercent { .. } => {
                Self::Together { what: Field::PercentOnGauge, allowed: Form::MarkWithGauge }
            }
            MeasurementError::NotAGauge { .. } => {
                Self::Together { what: Field::DropsInWithoutGauge, allowed: Form::PercentWithScale }
            }
            MeasurementError::NoLength { .. } => {
                Self::Together { what: Field::LengthOnInstrument, allowed: Form::LengthWithRule }
            }
            MeasurementError::OutOfRange(error) => Self::OutOfRange(error),
            MeasurementError::Spots { count } => {
                Self::Count { what: Field::Spots, found: count, minimum: 1, maximum: 32 }
            }
            _ => Self::Malformed { what: Field::Measurement, allowed: Form::KnownMeasurement },
        }
    }
}

impl From<DrivetrainError> for FieldError {
    /// The pointer is relative to the drivetrain: `/cogs/3`.
    fn from(error: DrivetrainError) -> Self {
        let pointer = format!("/{}", error.field());
        match error {
            DrivetrainError::OutOfRange { source, .. } => Invalid::from(source).at(pointer),
            _ => {
                Invalid::Together { what: Field::GearingAndSprockets, allowed: Form::SingleSpeed }.at(pointer)
            }
        }
    }
}

/// One field of a request that isn't accepted.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{pointer}: {cause}")]
pub struct FieldError {
    /// JSON pointer (RFC 6901) to the field: `/drivetrain/rings/0`; empty for the whole document.
    pub pointer: String,
    /// Why.
    pub cause: Invalid,
}

impl FieldError {
    /// What was wrong, in words.
    #[must_use]
    pub fn message(&self) -> String {
        self.cause.to_string()
    }

    /// What would be accepted, in words.
    #[must_use]
    pub fn allowed(&self) -> String {
        self.cause.allowed()
    }

    /// The same error seen from one level up: `prefix` goes before the pointer.
    #[must_use]
    pub fn under(mut self, prefix: &str) -> Self {
        self.pointer.insert_str(0, prefix);
        self
    }
}

/// The fields of a request that aren't accepted, collected so that one answer names all of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FieldErrors(Vec<FieldError>);

impl FieldErrors {
    /// No error yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Passes a good value through and keeps an error under `pointer`.
    pub fn keep<T, E: Into<Invalid>>(
        &mut self,
        pointer: impl Into<String>,
        result: Result<T, E>,
    ) -> Option<T> {
        result.map_err(|error| self.0.push(error.into().at(pointer))).ok()
    }

    /// Adds one error.
    pub fn push(&mut self, error: FieldError) {
        self.0.push(error);
    }

    /// Adds errors found one level down; `prefix` goes before their pointers.
    pub fn extend_under(&mut self, prefix: &str, errors: Self) {
        self.0.extend(errors.0.into_iter().map(|error| error.under(prefix)));
    }

    /// Whether nothing was wrong.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The errors, in the order found.
    #[must_use]
    pub fn as_slice(&self) -> &[FieldError] {
        &self.0
    }

    /// The errors, in the order found.
    #[must_use]
    pub fn into_vec(self) -> Vec<FieldError> {
        self.0
    }
}

impl From<FieldError> for FieldErrors {
    fn from(error: FieldError) -> Self {
        Self(vec![error])
    }
}

impl fmt::Display for FieldErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, error) in self.0.iter().enumerate() {
            write!(f, "{}{error}", if index == 0 { "" } else { "; " })?;
        }
        Ok(())
    }
}

impl std::error::Error for FieldErrors {}
