//! One bike's rings, cogs, chain length and wheel.

use thiserror::Error;

use crate::bounds::{self, OutOfRange};
use crate::units::{JockeyTeeth, Limit, Links, Teeth, WheelCircumference};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// How the rear wheel is driven.
    Gearing, "gearing" {
        /// Several cogs, several rings or both, with a sprung cage that keeps the slack strand tight.
        Derailleur = "derailleur",
        /// The gears are inside the hub.
        HubGear = "hub_gear",
        /// One ring, one cog, no gears.
        SingleSpeed = "single_speed",
    }
}

/// Wheel circumference that is assumed when none is given: 2,105 mm, a 25-622 tyre (T: the tables that come with
/// cycle computers).
pub const DEFAULT_WHEEL: WheelCircumference = WheelCircumference::constant(2_105.0);

/// Teeth of a jockey wheel that are assumed when none are given (T).
pub const DEFAULT_JOCKEY_TEETH: JockeyTeeth = JockeyTeeth::constant(11);

const LIMIT_NARROW: Limit = Limit::constant(0.5);
const LIMIT_WIDE: Limit = Limit::constant(0.75);
const LIMIT_ONE_SPROCKET: Limit = Limit::constant(1.0);

/// A drivetrain as someone wrote it down, not yet checked.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DrivetrainFacts {
    /// Teeth of each ring, in any order.
    pub rings: Vec<u32>,
    /// Teeth of each cog, in any order.
    pub cogs: Vec<u32>,
    /// Chain length in pitches.
    pub links: u32,
    /// Gearing; derived from the number of rings and cogs when absent.
    pub gearing: Option<Gearing>,
    /// Rolling circumference of the driven wheel, mm; 2,105 mm when absent.
    pub wheel_circumference_mm: Option<u32>,
    /// Teeth of each of the two jockey wheels; 11 when absent.
    pub jockey_teeth: Option<u32>,
    /// Whether any cog is of aluminium or titanium.
    pub light_metal_cogs: bool,
}

/// What is wrong with a [`DrivetrainFacts`].
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum DrivetrainError {
    /// A number is outside its range.
    #[error("{field}: {source}")]
    OutOfRange {
        /// Path of the field, such as `cogs/3`.
        field: String,
        /// The range that was missed.
        source: OutOfRange,
    },
    /// The stated gearing needs one ring and one cog.
    #[error("gearing: single_speed takes one ring and one cog, given {rings} and {cogs}")]
    NotSingleSpeed {
        /// Number of rings given.
        rings: usize,
        /// Number of cogs given.
        cogs: usize,
    },
}

impl DrivetrainError {
    /// Path of the field that is wrong, with `/` between its steps.
    #[must_use]
    pub fn field(&self) -> &str {
        match self {
            Self::OutOfRange { field, .. } => field,
            Self::NotSingleSpeed { .. } => "gearing",
        }
    }
}

fn at<T>(field: impl Into<String>, result: Result<T, OutOfRange>) -> Result<T, DrivetrainError> {
    result.map_err(|source| DrivetrainError::OutOfRange { field: field.into(), source })
}

fn teeth(field: &str, counts: &[u32], bound: &'static bounds::Bound) -> Result<Vec<Teeth>, DrivetrainError> {
    at(field, bound.check(counts.len() as f64))?;
    let mut teeth = counts
        .iter()
        .enumerate()
        .map(|(i, &count)| at(format!("{field}/{i}"), Teeth::new(count)))
        .collect::<Result<Vec<_>, _>>()?;
    teeth.sort_unstable();
    Ok(teeth)
}

/// A checked drivetrain.
#[derive(Debug, Clone, PartialEq)]
pub struct Drivetrain {
    rings: Vec<Teeth>,
    cogs: Vec<Teeth>,
    links: Links,
    gearing: Gearing,
    wheel: WheelCircumference,
    jockey: Option<JockeyTeeth>,
    light_metal_cogs: bool,
}

impl Drivetrain {
    /// Checks facts. Rings and cogs come out sorted from fewest to most teeth.
    ///
    /// # Errors
    /// [`DrivetrainError`], naming the field: a count outside [`bounds::RING_COUNT`], [`bounds::COG_COUNT`],
    /// [`bounds::TEETH`], [`bounds::LINKS`], [`bounds::JOCKEY_TEETH`] or [`bounds::WHEEL_CIRCUMFERENCE`], or a
    /// single-speed bike with several sprockets.
    pub fn new(facts: &DrivetrainFacts) -> Result<Self, DrivetrainError> {
        let rings = teeth("rings", &facts.rings, &bounds::RING_COUNT)?;
        let cogs = teeth("cogs", &facts.cogs, &bounds::COG_COUNT)?;
        let links = at("links", Links::new(facts.links))?;
        let one_of_each = rings.len() == 1 && cogs.len() == 1;
        let gearing = match facts.gearing {
            Some(Gearing::SingleSpeed) if !one_of_each => {
                return Err(DrivetrainError::NotSingleSpeed { rings: rings.len(), cogs: cogs.len() });
            }
            Some(gearing) => gearing,
            None if one_of_each => Gearing::SingleSpeed,
            None => Gearing::Derailleur,
        };
        let wheel = match facts.wheel_circumference_mm {
            Some(mm) => at("wheel_circumference_mm", WheelCircumference::new(f64::from(mm)))?,
            None => DEFAULT_WHEEL,
        };
        let jockey = match facts.jockey_teeth {
            Some(count) => at("jockey_teeth", JockeyTeeth::new(count)).map(Some)?,
            None => (gearing == Gearing::Derailleur || !one_of_each).then_some(DEFAULT_JOCKEY_TEETH),
        };
        Ok(Self { rings, cogs, links, gearing, wheel, jockey, light_metal_cogs: facts.light_metal_cogs })
    }

    /// A derailleur bike, by the teeth of its rings and cogs and its chain's length in pitches; everything else usual.
    ///
    /// # Errors
    /// As [`Drivetrain::new`].
    pub fn derailleur(
        rings: impl Into<Vec<u32>>,
        cogs: impl Into<Vec<u32>>,
        links: u32,
    ) -> Result<Self, DrivetrainError> {
        Self::new(&DrivetrainFacts {
            rings: rings.into(),
            cogs: cogs.into(),
            links,
            gearing: Some(Gearing::Derailleur),
            ..DrivetrainFacts::default()
        })
    }

    /// Rings, fewest teeth first; never empty.
    #[must_use]
    pub fn rings(&self) -> &[Teeth] {
        &self.rings
    }

    /// Cogs, fewest teeth first; never empty.
    #[must_use]
    pub fn cogs(&self) -> &[Teeth] {
        &self.cogs
    }

    /// Chain length.
    #[must_use]
    pub fn links(&self) -> Links {
        self.links
    }

    /// Gearing.
    #[must_use]
    pub fn gearing(&self) -> Gearing {
        self.gearing
    }

    /// Rolling circumference of the driven wheel.
    #[must_use]
    pub fn wheel(&self) -> WheelCircumference {
        self.wheel
    }

    /// Teeth of each of the two jockey wheels, where the chain runs over any.
    #[must_use]
    pub fn jockey(&self) -> Option<JockeyTeeth> {
        self.jockey
    }

    /// Whether any cog is of aluminium or titanium.
    #[must_use]
    pub fn has_light_metal_cogs(&self) -> bool {
        self.light_metal_cogs
    }

    /// The swap limit that [`default_limit`] gives for this drivetrain.
    #[must_use]
    pub fn default_limit(&self) -> Limit {
        default_limit(self.gearing, self.cogs.len(), self.light_metal_cogs)
    }
}

/// Swap limit in percent by common practice (T): 0.5 for 11 or more cogs and for aluminium or titanium cogs, 0.75
/// for up to 10, 1.0 for single-speed and hub gears.
#[must_use]
pub fn default_limit(gearing: Gearing, cog_count: usize, light_metal_cogs: bool) -> Limit {
    match (gearing, cog_count) {
        _ if light_metal_cogs => LIMIT_NARROW,
        (Gearing::SingleSpeed | Gearing::HubGear, _) => LIMIT_ONE_SPROCKET,
        (Gearing::Derailleur, 11..) => LIMIT_NARROW,
        (Gearing::Derailleur, 2..) => LIMIT_WIDE,
        // One cog behind a front derailleur: the chain is as wide as a single-speed chain may be.
        (Gearing::Derailleur, _) => LIMIT_WIDE,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facts(rings: &[u32], cogs: &[u32]) -> DrivetrainFacts {
        DrivetrainFacts {
            rings: rings.to_vec(),
            cogs: cogs.to_vec(),
            links: 114,
            ..DrivetrainFacts::default()
        }
    }

    #[test]
    fn sorts_and_derives_gearing_and_limit() {
        let cases: [(&[u32], &[u32], Gearing, f64); 5] = [
            (&[42], &[30, 11, 13, 26, 15, 17, 23, 20], Gearing::Derailleur, 0.75),
            (&[50, 34], &[11, 12, 13, 14, 15, 17, 19, 21, 24, 27, 30], Gearing::Derailleur, 0.5),
            (&[44], &[18], Gearing::SingleSpeed, 1.0),
            (&[44, 32], &[18], Gearing::Derailleur, 0.75),
            (&[40], &[11, 13, 15, 17, 19, 21, 24, 28, 32, 37], Gearing::Derailleur, 0.75),
        ];
        for (rings, cogs, gearing, limit) in cases {
            let drivetrain = Drivetrain::new(&facts(rings, cogs)).unwrap();
            assert_eq!(drivetrain.gearing(), gearing);
            assert_eq!(drivetrain.default_limit().get(), limit, "{cogs:?}");
            assert!(drivetrain.cogs().is_sorted() && drivetrain.rings().is_sorted());
            assert_eq!(drivetrain.jockey().is_some(), gearing == Gearing::Derailleur);
        }
        let light = DrivetrainFacts { light_metal_cogs: true, ..facts(&[42], &[11, 15, 19]) };
        assert_eq!(Drivetrain::new(&light).unwrap().default_limit().get(), 0.5);
        let hub = DrivetrainFacts { gearing: Some(Gearing::HubGear), ..facts(&[42], &[18]) };
        assert_eq!(Drivetrain::new(&hub).unwrap().default_limit().get(), 1.0);
    }

    #[test]
    fn errors_name_the_field() {
        let with_links = |links| DrivetrainFacts { links, ..facts(&[42], &[11, 13]) };
        let cases = [
            (facts(&[], &[11]), "rings"),
            (facts(&[30, 40, 50, 60], &[11]), "rings"),
            (facts(&[42], &[]), "cogs"),
            (facts(&[42], &[11; 15]), "cogs"),
            (facts(&[42, 8], &[11]), "rings/1"),
            (facts(&[42], &[11, 13, 81]), "cogs/2"),
            (with_links(39), "links"),
            (with_links(261), "links"),
            (with_links(u32::MAX), "links"),
            (DrivetrainFacts { gearing: Some(Gearing::SingleSpeed), ..facts(&[42], &[11, 13]) }, "gearing"),
            (DrivetrainFacts { jockey_teeth: Some(3), ..facts(&[42], &[11, 13]) }, "jockey_teeth"),
            (
                DrivetrainFacts { wheel_circumference_mm: Some(2), ..facts(&[42], &[11, 13]) },
                "wheel_circumference_mm",
            ),
        ];
        for (facts, field) in cases {
            let error = Drivetrain::new(&facts).unwrap_err();
            assert_eq!(error.field(), field);
            assert!(error.to_string().starts_with(field), "{error}");
        }
    }
}
