//! The drivetrain of a bike of which nobody said more than what it is for.

use super::chain_length::chain_length;
use super::{Drivetrain, DrivetrainFacts, Gearing};
use crate::bounds::{self, OutOfRange};
use crate::exposure::Use;
use crate::units::{Chainstay, LogSd};

/// Spread of the logarithm of the exposure that an assumed drivetrain gives, of one source for all riding on it (A).
pub const TYPICAL_LN_SD: LogSd = LogSd::constant(0.15);

/// Chainstay that chains are assumed to be cut for, mm (T).
const CHAINSTAY: Chainstay = Chainstay::constant(435.0);

/// Number of cogs that a use is assumed to have when nobody says (A).
const fn usual_speeds(usage: Use) -> u32 {
    match usage {
        Use::Town | Use::Cargo => 8,
        Use::Touring | Use::EBike => 9,
        Use::ECargo => 10,
        Use::Road | Use::Gravel => 11,
        Use::Mountain => 12,
    }
}

/// Rings of a use with so many cogs (A): one where there are enough cogs or few hills.
const fn usual_rings(usage: Use, speeds: u32) -> &'static [u32] {
    match (usage, speeds) {
        (Use::Road, 1) => &[48],
        (Use::Mountain, 1) => &[32],
        (_, 1) => &[42],
        (Use::Road, _) => &[34, 50],
        (Use::Touring, ..=10) => &[26, 36, 48],
        (Use::Touring, _) => &[30, 46],
        (Use::Gravel, ..=10) => &[30, 46],
        (Use::Gravel, _) => &[40],
        (Use::Mountain, ..=9) => &[22, 32, 42],
        (Use::Mountain, 10) => &[24, 38],
        (Use::Mountain, _) => &[32],
        (Use::Cargo | Use::ECargo, _) => &[40],
        (Use::Town | Use::EBike, _) => &[42],
    }
}

/// Smallest and largest cog of a use with so many cogs (A).
const fn usual_cogs(usage: Use, speeds: u32) -> (u32, u32) {
    match (usage, speeds) {
        (Use::Road, 1) => (16, 16),
        (_, 1) => (18, 18),
        (_, 2..=6) => (14, 28),
        (Use::Road, ..=9) => (12, 26),
        (Use::Road, 10) => (11, 28),
        (Use::Road, _) => (11, 32),
        (Use::Mountain, 12..) => (10, 51),
        (Use::Gravel | Use::Mountain, 11..) => (11, 42),
        (_, 7) => (14, 28),
        (Use::Mountain | Use::Touring, 8) | (_, 9) => (11, 32),
        (_, 8) => (11, 30),
        (_, _) => (11, 36),
    }
}

impl Drivetrain {
    /// The usual drivetrain of a use with so many cogs, `speeds`; the use's usual number when nobody said. All of it is
    /// assumed (A, lengths by the rule of the trade, T): exposure that rests on it is known to [`TYPICAL_LN_SD`] at best
    /// ([`crate::exposure::Assumption::TypicalDrivetrain`]). One cog is a single-speed bike.
    ///
    /// # Errors
    /// [`OutOfRange`] for a number outside [`bounds::COG_COUNT`].
    pub fn typical(usage: Use, speeds: Option<u32>) -> Result<Self, OutOfRange> {
        let speeds = speeds.unwrap_or(usual_speeds(usage));
        bounds::COG_COUNT.check(f64::from(speeds))?;
        let (least, most) = usual_cogs(usage, speeds);
        let facts = DrivetrainFacts {
            rings: usual_rings(usage, speeds).to_vec(),
            cogs: even_steps(least, most, speeds),
            links: 114,
            gearing: Some(if speeds == 1 { Gearing::SingleSpeed } else { Gearing::Derailleur }),
            ..DrivetrainFacts::default()
        };
        let uncut = Self::new(&facts);
        let links = uncut.as_ref().map_or(114, |it| u32::from(chain_length(it, CHAINSTAY).links.get()));
        match Self::new(&DrivetrainFacts { links, ..facts }) {
            Ok(drivetrain) => Ok(drivetrain),
            // The tables above hold legal drivetrains only, as a test of all of them shows.
            Err(super::DrivetrainError::OutOfRange { source, .. }) => Err(source),
            Err(super::DrivetrainError::NotSingleSpeed { .. }) => {
                Err(OutOfRange { bound: &bounds::COG_COUNT, value: f64::from(speeds) })
            }
        }
    }
}

/// So many cogs with steps as even in proportion as whole teeth allow, each larger than the one before.
fn even_steps(least: u32, most: u32, count: u32) -> Vec<u32> {
    let mut cogs = Vec::with_capacity(count as usize);
    for index in 0..count {
        let share = f64::from(index) / f64::from(count.max(2) - 1);
        let even = (f64::from(least) * (f64::from(most) / f64::from(least)).powf(share)).round() as u32;
        cogs.push(cogs.last().map_or(even, |last| even.max(last + 1)));
    }
    cogs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exposure::{ExposureModel, RideExposure, RideFacts, Surface};
    use crate::units::RideDistance;

    #[test]
    fn every_use_and_number_of_cogs_has_a_drivetrain() {
        for &usage in Use::ALL {
            for speeds in 1..=14 {
                let typical = Drivetrain::typical(usage, Some(speeds)).unwrap();
                assert_eq!(typical.cogs().len(), speeds as usize, "{usage}");
                assert!(
                    (80..=136).contains(&typical.links().get()),
                    "{usage} {speeds}: {:?}",
                    typical.links()
                );
                assert_eq!(typical.gearing() == Gearing::SingleSpeed, speeds == 1);
            }
            assert_eq!(
                Drivetrain::typical(usage, None),
                Drivetrain::typical(usage, Some(usual_speeds(usage)))
            );
            assert!(Drivetrain::typical(usage, Some(15)).is_err());
            assert!(Drivetrain::typical(usage, Some(0)).is_err());
        }
    }

    #[test]
    fn neighbouring_numbers_of_cogs_differ_by_less_than_the_spread_that_is_stated() {
        for &usage in Use::ALL {
            let exposure = |speeds| {
                let ride = RideFacts::new(RideDistance::new(20.0).unwrap(), usage, Surface::Paved);
                let typical = Drivetrain::typical(usage, Some(speeds)).unwrap();
                RideExposure::of(&ride, &typical, &ExposureModel::default()).reference_km_before_care.ln()
            };
            for speeds in 7..12 {
                let apart = (exposure(speeds) - exposure(speeds + 1)).abs();
                assert!(apart < 2.0 * TYPICAL_LN_SD.get(), "{usage} {speeds}: {apart}");
            }
        }
    }
}
