//! How many pitches a chain needs.

use std::f64::consts::PI;

use super::compatibility::{Finding, Question, Reason, Source, Verdict};
use super::{Drivetrain, Gearing, PITCH_MM};
use crate::bounds;
use crate::units::{Chainstay, Links, Teeth};

/// Pitches added to an even length so that the derailleur can swing: one inner and one outer (T).
pub const DERAILLEUR_PAIR: u16 = 2;

/// Length in pitches of a chain round two sprockets whose centres are `centre_pitches` apart
/// (S: the formula of chain-drive handbooks; an approximation, short by less than 0.1 pitch on a bicycle).
///
/// `centre_pitches` must be positive.
#[must_use]
pub fn pitches_for_centre(centre_pitches: f64, small: Teeth, large: Teeth) -> f64 {
    // L = 2C + (z1 + z2)/2 + ((z2 − z1)/2π)²/C
    let (z1, z2) = (small.as_f64(), large.as_f64());
    2.0 * centre_pitches + (z1 + z2) / 2.0 + ((z2 - z1) / (2.0 * PI)).powi(2) / centre_pitches
}

/// Centre distance in pitches at which a chain of `pitches` pitches is straight: the inverse of
/// [`pitches_for_centre`]. `None` when the chain is too short to go round both sprockets.
#[must_use]
pub fn centre_for_pitches(pitches: f64, small: Teeth, large: Teeth) -> Option<f64> {
    // C = {L − (z1 + z2)/2 + √[(L − (z1 + z2)/2)² − 8((z2 − z1)/2π)²]}/4
    let (z1, z2) = (small.as_f64(), large.as_f64());
    let spare = pitches - (z1 + z2) / 2.0;
    let square = spare * spare - 8.0 * ((z2 - z1) / (2.0 * PI)).powi(2);
    (spare > 0.0 && square >= 0.0).then(|| (spare + square.sqrt()) / 4.0)
}

/// Length in pitches along the common tangents and the arcs of the two sprockets, pitch circles taken as z/2π
/// pitches (C: plane geometry). `None` when the circles' centres are closer than the difference of their radii.
#[must_use]
pub fn tangent_pitches_for_centre(centre_pitches: f64, small: Teeth, large: Teeth) -> Option<f64> {
    // L = 2√(C² − (r2 − r1)²) + (z1 + z2)/2 + (z2 − z1)/π · asin((r2 − r1)/C)
    let (z1, z2) = (small.as_f64(), large.as_f64());
    let difference = (z2 - z1) / (2.0 * PI);
    (centre_pitches > difference.abs()).then(|| {
        2.0 * (centre_pitches * centre_pitches - difference * difference).sqrt()
            + (z1 + z2) / 2.0
            + (z2 - z1) / PI * (difference / centre_pitches).asin()
    })
}

/// What chain a frame and its sprockets take.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct ChainLength {
    /// The formula's length from the largest ring to the largest cog, pitches.
    pub exact_pitches: f64,
    /// Pitches to fit: rounded up to an even number, and one more pair with a derailleur (T).
    pub links: Links,
    /// Chainstay at which `links` is straight, mm. A bike without a derailleur is tensioned to this.
    pub straight_chainstay_mm: f64,
}

/// Chain length for a drivetrain on a chainstay of the given length. The drivetrain's own `links` are not used.
#[must_use]
pub fn chain_length(drivetrain: &Drivetrain, chainstay: Chainstay) -> ChainLength {
    let (small, large) = largest_pair(drivetrain);
    let centre = chainstay.get() / PITCH_MM;
    let exact = pitches_for_centre(centre, small, large);
    let even = (exact / 2.0).ceil() as u16 * 2;
    let links = match drivetrain.gearing() {
        Gearing::Derailleur => even + DERAILLEUR_PAIR,
        Gearing::HubGear | Gearing::SingleSpeed => even,
    };
    let straight = centre_for_pitches(f64::from(links), small, large).unwrap_or(centre);
    ChainLength {
        exact_pitches: exact,
        links: Links::new(u32::from(links)).unwrap_or(drivetrain.links()),
        straight_chainstay_mm: straight * PITCH_MM,
    }
}

/// Refuses a drivetrain's chain that no frame goes with.
///
/// Too short: it can't go round the largest ring and the largest cog even where the tyre nearly touches the bottom bracket;
/// a chainstay is longer than the wheel's radius, its circumference over 2π (C: plane geometry). Too long: it is longer than
/// the longest chainstay of [`bounds::CHAINSTAY`] (A) asks for, rounded up to an even number and with the derailleur's pair.
/// Between the two, the bike decides.
///
/// # Errors
/// A finding that says why.
pub fn links_that_go(drivetrain: &Drivetrain) -> Result<(), Finding> {
    let (small, large) = largest_pair(drivetrain);
    let given = drivetrain.links().get();
    let pitches = |chainstay_mm: f64| pitches_for_centre(chainstay_mm / PITCH_MM, small, large);
    let wheel_radius_mm = drivetrain.wheel().get() / (2.0 * PI);
    let least = pitches(wheel_radius_mm).ceil() as u16;
    let most = (pitches(bounds::CHAINSTAY.maximum) / 2.0).ceil() as u16 * 2 + DERAILLEUR_PAIR;
    let (small, large) = (small.get(), large.get());
    let reason = if given < least {
        Reason::ShorterThanGeometry { given, large, small, least }
    } else if given > most {
        Reason::LongerThanGeometry {
            given,
            large,
            small,
            most,
            chainstay_mm: bounds::CHAINSTAY.maximum as u16,
        }
    } else {
        return Ok(());
    };
    Err(Finding {
        question: Question::ChainLength,
        verdict: Verdict::Doesnt,
        reason,
        source: Source::Geometry,
        caution: None,
    })
}

/// Largest ring and largest cog, the one with fewer teeth first.
fn largest_pair(drivetrain: &Drivetrain) -> (Teeth, Teeth) {
    let ring = drivetrain.rings()[drivetrain.rings().len() - 1];
    let cog = drivetrain.cogs()[drivetrain.cogs().len() - 1];
    if ring < cog { (ring, cog) } else { (cog, ring) }
}

/// Teeth that the derailleur's cage has to take up: ring difference plus cog difference.
#[must_use]
pub fn needed_capacity(drivetrain: &Drivetrain) -> u16 {
    let span = |teeth: &[Teeth]| teeth[teeth.len() - 1].get() - teeth[0].get();
    span(drivetrain.rings()) + span(drivetrain.cogs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bounds;
    use crate::drivetrain::DrivetrainFacts;

    #[test]
    fn extremes_stay_inside_the_legal_lengths() {
        for stay in [bounds::CHAINSTAY.minimum, bounds::CHAINSTAY.maximum] {
            for (ring, cog) in [(9, 9), (9, 80), (80, 9), (80, 80)] {
                let facts = DrivetrainFacts {
                    rings: vec![ring],
                    cogs: vec![9, cog],
                    links: 114,
                    ..Default::default()
                };
                let length = chain_length(&Drivetrain::new(&facts).unwrap(), Chainstay::new(stay).unwrap());
                assert_eq!(length.links.get() % 2, 0);
                assert!(length.links.as_f64() >= length.exact_pitches + 2.0);
                assert!(length.links.as_f64() < length.exact_pitches + 4.0);
                assert!(length.straight_chainstay_mm > stay);
            }
        }
    }

    #[test]
    fn a_chain_goes_with_some_frame_or_is_refused() {
        let found = |ring: u32, cog: u32, links: u32, wheel: Option<u32>| {
            let facts = DrivetrainFacts {
                rings: vec![ring],
                cogs: vec![11, cog],
                links,
                wheel_circumference_mm: wheel,
                ..Default::default()
            };
            links_that_go(&Drivetrain::new(&facts).unwrap()).map_err(|finding| finding.reason.code())
        };
        // A wheel of 2,105 mm asks for a chainstay of 335 mm and more: 2 · 26.4 + 36 + 0.1 pitches round 42 and 30 teeth.
        assert_eq!(found(42, 30, 114, None), Ok(()));
        assert_eq!(found(42, 30, 89, None), Ok(()));
        assert_eq!(found(42, 30, 88, None), Err("shorter_than_geometry"));
        assert_eq!(found(80, 30, 40, None), Err("shorter_than_geometry"));
        // A child's bike of 12 inches has a short chain.
        assert_eq!(found(25, 14, 60, Some(935)), Ok(()));
        assert_eq!(found(42, 30, 166, None), Ok(()));
        assert_eq!(found(42, 30, 167, None), Err("longer_than_geometry"));
    }

    #[test]
    fn inverse_returns_the_centre_distance() {
        let (small, large) = (Teeth::new(20).unwrap(), Teeth::new(63).unwrap());
        for centre in [20.0, 36.0, 60.0] {
            let back = centre_for_pitches(pitches_for_centre(centre, small, large), small, large).unwrap();
            assert!((back - centre).abs() < 1e-9);
        }
        assert_eq!(centre_for_pitches(41.0, small, large), None);
    }
}
