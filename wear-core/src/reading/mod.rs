//! What a reading tells about a chain's elongation.

mod instrument;
mod likelihood;
mod measurement;
mod spots;

pub use instrument::{Calibration, Instrument, InstrumentCalibrations};
pub(crate) use likelihood::FLOOR;
pub use likelihood::Likelihood;
pub use measurement::{Content, Measurement, MeasurementError};
pub use spots::{SPREAD_THAT_WARNS, Spots};
