//! Schemas of words and of bounded numbers, drawn from where the words and bounds are written.

use std::borrow::Cow;

use utoipa::openapi::schema::{Array, ArrayBuilder, Object, ObjectBuilder, SchemaType, Type};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};
use wear_core::bounds::{self, Bound};
use wear_core::drivetrain::{compatibility, procedure, symptom};
use wear_core::{drivetrain, exposure, reading};

use crate::domain::{self, BikeSort, Language, Place, PlanState, RideIdScope, Role, UnitsShown};
use crate::transfer::{Separator, TableKind};

macro_rules! schema_of_words {
    ($type:ident, $about:literal, $words:expr) => {
        impl PartialSchema for $type {
            fn schema() -> RefOr<Schema> {
                ObjectBuilder::new()
                    .schema_type(Type::String)
                    .description(Some($about))
                    .enum_values(Some($words.to_vec()))
                    .into()
            }
        }

        impl ToSchema for $type {
            fn name() -> Cow<'static, str> {
                Cow::Borrowed(stringify!($type))
            }
        }
    };
}

/// Schemas of vocabularies that are this crate's own and stand in requests and answers as they are.
macro_rules! words {
    ($($type:ident: $about:literal;)+) => {
        $(schema_of_words!($type, $about, $type::WORDS);)+
    };
}

/// Schemas of words whose type can't carry one: the core's, or none at all. An empty type of the name stands for them.
macro_rules! stand_ins {
    ($($type:ident: $about:literal, $words:expr;)+) => {$(
        #[doc = concat!("Stands for the words of `", stringify!($type), "` in schemas.")]
        #[derive(Debug)]
        pub enum $type {}

        schema_of_words!($type, $about, $words);
    )+};
}

words! {
    TableKind: "A table that can be exported and imported.";
    Separator: "What stands between the cells of an export.";
    BikeSort: "Order of a list of bikes.";
    Place: "Where on a bike a part sits.";
    PlanState: "Which of the workshop's bench plans.";
    RideIdScope: "Within what a source's ids tell rides apart: a bike, or the workshop.";
    Role: "What a token may do; each role may do what the ones after it may.";
    Language: "Language of the pages.";
    UnitsShown: "Unit in which people see distances; what is sent stays in km.";
}

stand_ins! {
    AttemptOutcome: "What an attempt to deliver came to.", domain::AttemptOutcome::WORDS;
    ChangedKind: "What was changed.", domain::ChangedKind::WORDS;
    Advice: "What to do about a bike: nothing, measure by a date, swap the chain by a date, swap it now, or look: the data are missing or contradict each other.", domain::Advice::WORDS;
    SwapReason: "Why a cassette, a cog or a ring came off.", domain::SwapReason::WORDS;
    CareState: "How far care is told.", domain::CareState::WORDS;
    CareKind: "What was done to the drivetrain.", domain::CareKind::WORDS;
    Constraint: "What there is too little of.", &["minutes", "length", "part", "away", "days"];
    MessageState: "Where a message stands: it will be tried, the receiver took it, or it is not tried any more.", domain::MessageState::WORDS;
    DisabledReason: "Why a hook gets no messages: a manager switched it off, its receiver answered 410, or nothing got through for about a day.", domain::DisabledReason::WORDS;
    DigestOutcome: "What became of a digest's message: the mail server took it, nothing was due, or it was refused for good or not taken until the next one came.", domain::DigestOutcome::WORDS;
    DigestPeriod: "How often a digest comes.", domain::DigestPeriod::WORDS;
    Weekday: "A day of the week.", domain::Weekday::WORDS;
    Cause: "What may be behind a symptom.", symptom::Cause::WORDS;
    CogBuild: "How the cogs come off.", procedure::CogBuild::WORDS;
    FittingQuestion: "What was asked of parts that are to go together.", compatibility::Question::WORDS;
    Gearing: "How the rear wheel is driven.", drivetrain::Gearing::WORDS;
    HookEvent: "What a hook can be told of.", domain::HookEvent::WORDS;
    Covariate: "What can be learned to make chains wear faster or slower.", wear_core::fleet::multipliers::Covariate::WORDS;
    Instrument: "What a chain is measured with.", reading::Instrument::WORDS;
    PlanStatus: "How good a plan is known to be.", &["optimal", "within_gap"];
    Shifting: "What moves derailleur or hub gears.", procedure::Shifting::WORDS;
    SingleWidth: "Inner width of a chain for one sprocket: 1/2 by 1/8 or by 3/32 inch.", compatibility::SingleWidth::WORDS;
    Surface: "What a ride was on.", exposure::Surface::WORDS;
    SwapOf: "What is swapped.", procedure::SwapOf::WORDS;
    Symptom: "What a rider reports.", symptom::Symptom::WORDS;
    Use: "What a bike is used for.", exposure::Use::WORDS;
    Verdict: "Whether parts go together.", compatibility::Verdict::WORDS;
    WaitsFor: "For what a worn part waits: the new part, or a day that is long enough for all that the bike needs.", &["part", "day"];
}

/// Name and unit, where the name doesn't end in it.
fn about(bound: &Bound) -> String {
    if bound.unit.is_empty() || bound.name.ends_with(bound.unit) {
        bound.name.to_owned()
    } else {
        format!("{}, {}", bound.name, bound.unit)
    }
}

fn number(kind: Type, bound: &Bound) -> Object {
    ObjectBuilder::new()
        .schema_type(kind)
        .minimum(Some(bound.minimum))
        .maximum(Some(bound.maximum))
        .description(Some(about(bound)))
        .build()
}

fn whole(bound: &Bound) -> Object {
    let mut object = number(Type::Integer, bound);
    object.minimum = Some((bound.minimum as i64).into());
    object.maximum = Some((bound.maximum as i64).into());
    object
}

macro_rules! bounded {
    ($($name:ident = $make:ident($bound:ident);)+) => {
        $(
            #[doc = concat!("A number inside [`bounds::", stringify!($bound), "`].")]
            #[must_use]
            pub fn $name() -> Object {
                $make(&bounds::$bound)
            }
        )+

        /// The same for fields that may be left out or null.
        pub mod optional {
            use super::{Object, bounds, or_null, real, whole};

            $(
                #[doc = concat!("A number inside [`bounds::", stringify!($bound), "`], or null.")]
                #[must_use]
                pub fn $name() -> Object {
                    or_null($make(&bounds::$bound))
                }
            )+
        }
    };
}

fn or_null(mut object: Object) -> Object {
    if let SchemaType::Type(kind) = object.schema_type {
        object.schema_type = SchemaType::Array(vec![kind, Type::Null]);
    }
    object
}

fn real(bound: &Bound) -> Object {
    number(Type::Number, bound)
}

bounded! {
    percent = real(ELONGATION_READING);
    limit_percent = real(LIMIT);
    mark_percent = real(GAUGE_MARK);
    pitches = whole(MEASURED_PITCHES);
    distance_km = real(RIDE_DISTANCE);
    odometer_km = real(ODOMETER);
    km_per_week = real(KM_PER_WEEK);
    every_km = whole(CARE_INTERVAL_KM);
    every_weeks = whole(CARE_INTERVAL_WEEKS);
    chain_km = real(DISTANCE);
    climb_m = real(RIDE_ASCENT);
    energy_kj = real(RIDE_ENERGY);
    reference_km = real(REFERENCE_KM);
    links = whole(LINKS);
    teeth = whole(TEETH);
    jockey_teeth = whole(JOCKEY_TEETH);
    wheel_circumference_mm = whole(WHEEL_CIRCUMFERENCE);
    probability = real(PROBABILITY);
    bias_percent = real(INSTRUMENT_BIAS);
    sd_percent = real(INSTRUMENT_SD);
    mass_kg = real(TOTAL_MASS);
    drag_area_m2 = real(DRAG_AREA);
    rolling_coefficient = real(ROLLING);
    wind_m_s = real(WIND_SPEED);
    bearing_degrees = real(BEARING);
}

/// Elongations at several places on one chain.
#[must_use]
pub fn spots() -> Array {
    list(percent(), &bounds::SPOTS, "Elongation at several places of the chain")
}

/// Elongations at several places on one chain, or null.
#[must_use]
pub fn spots_or_null() -> Array {
    array_or_null(spots())
}

/// Teeth of the cogs, or null.
#[must_use]
pub fn cogs_or_null() -> Array {
    array_or_null(cogs())
}

fn array_or_null(mut array: Array) -> Array {
    array.schema_type = SchemaType::Array(vec![Type::Array, Type::Null]);
    array
}

/// Teeth of the rings.
#[must_use]
pub fn rings() -> Array {
    list(teeth(), &bounds::RING_COUNT, "Teeth of each ring, in any order")
}

/// Teeth of the cogs.
#[must_use]
pub fn cogs() -> Array {
    list(teeth(), &bounds::COG_COUNT, "Teeth of each cog, in any order")
}

fn list(items: Object, count: &Bound, about: &str) -> Array {
    ArrayBuilder::new()
        .description(Some(about))
        .items(items)
        .min_items(Some(count.minimum as usize))
        .max_items(Some(count.maximum as usize))
        .build()
}
