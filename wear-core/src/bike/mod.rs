//! A bike or a chain, as a user holds it: events in any order go in, an outlook comes out.
//!
//! [`Bike`] and [`Chain`] take what happened; [`Outlook`] says what is known and what to do. The modules beside this one
//! hold the mathematics that they use.

mod assess;
#[allow(clippy::module_inception)]
mod bike;
mod chain;
mod doubt;
mod knock_on;
mod log;
mod lubricant_clock;
mod lubrication;
mod moment;
mod next_swap;
mod outlook;
mod past;
mod picture;
mod rate;
mod reading;
mod ridden_under;
mod ride;
mod riding;
mod timeline;
mod trials;
mod usual;
mod warning;

pub use assess::Assessment;
pub use bike::{Bike, Chain, SkipReport, Sprockets};
pub use chain::{ChainRecord, ChainStart};
pub use moment::Moment;
pub use next_swap::{NextSwap, SWAP_DAYS, SwapTiming, USUAL_COMMON, given};
pub use outlook::{
    Assumption, Basis, CassetteBasis, CassetteReport, CurvePoint, DayQuantiles, DriverShare,
    EnergySourcePercent, ExplanationReport, KilometresFrom, NextChain, Outlook, RingReport, SprocketDamage,
    StartKnown,
};
pub use past::{ReadOver, SeenPassing};
pub use picture::{PathPoint, Picture};
pub use rate::{Rate, RateSource};
pub use reading::Reading;
pub use ridden_under::{RiddenUnder, UnderLubricant};
pub use ride::{Ride, RideTotals};
pub use riding::{Declared, Riding, Unlogged, UnloggedRiding};
pub use timeline::{Accrued, ExposedDay, Stay, UnloggedKm};
pub use usual::km_per_reference_km;
pub use warning::{ReadingSaid, Said, Warning};
