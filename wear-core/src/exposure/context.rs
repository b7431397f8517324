//! What the bike rode on, and how much faster that wears.

use crate::bounds::{self, OutOfRange};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a ride was ridden on.
    Surface, "surface" {
        /// Asphalt, concrete, setts.
        Paved = "paved",
        /// Gravel and firm unpaved roads.
        Gravel = "gravel",
        /// Mud or sand.
        Mud = "mud",
        /// A trainer indoors.
        Indoor = "indoor",
    }
}

vocabulary! {
    /// Surface and weather together, as exposure is summed by.
    Context, "context" {
        /// Paved and dry: the reference.
        PavedDry = "paved_dry",
        /// Paved and wet.
        PavedWet = "paved_wet",
        /// Gravel, dry.
        GravelDry = "gravel_dry",
        /// Gravel, wet.
        GravelWet = "gravel_wet",
        /// Mud that fell dry, or sand.
        MudDry = "mud_dry",
        /// Wet mud or wet sand.
        MudWet = "mud_wet",
        /// Indoors.
        Indoor = "indoor",
    }
}

impl Context {
    /// The context of a ride. Indoors is never wet: `wet` says nothing there.
    #[must_use]
    pub const fn of(surface: Surface, wet: bool) -> Self {
        match (surface, wet) {
            (Surface::Paved, false) => Self::PavedDry,
            (Surface::Paved, true) => Self::PavedWet,
            (Surface::Gravel, false) => Self::GravelDry,
            (Surface::Gravel, true) => Self::GravelWet,
            (Surface::Mud, false) => Self::MudDry,
            (Surface::Mud, true) => Self::MudWet,
            (Surface::Indoor, _) => Self::Indoor,
        }
    }

    /// The surface.
    #[must_use]
    pub const fn surface(self) -> Surface {
        match self {
            Self::PavedDry | Self::PavedWet => Surface::Paved,
            Self::GravelDry | Self::GravelWet => Surface::Gravel,
            Self::MudDry | Self::MudWet => Surface::Mud,
            Self::Indoor => Surface::Indoor,
        }
    }

    /// Whether it was wet.
    #[must_use]
    pub const fn is_wet(self) -> bool {
        matches!(self, Self::PavedWet | Self::GravelWet | Self::MudWet)
    }

    pub(crate) const COUNT: usize = Self::ALL.len();

    pub(crate) const fn index(self) -> usize {
        self as usize
    }
}

/// A wear multiplier that is not known exactly: log-normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Multiplier {
    /// Median.
    pub median: f64,
    /// Standard deviation of the logarithm.
    pub ln_sd: f64,
}

/// The wear multiplier of each context, against dry pavement.
///
/// Defaults are assumptions (A). Water and grit don't multiply in full: dry gravel is dust that partly falls off, wet
/// gravel a paste, and mud is an abrasive paste already, so the wet factor falls from 2.0 on pavement to 1.6 on gravel
/// and 1.25 in mud.
///
/// | context | median | σ of ln |
/// |---|---|---|
/// | paved dry | 1.0 | 0 (by definition) |
/// | paved wet | 2.0 | 0.4 |
/// | gravel dry | 1.8 | 0.4 |
/// | gravel wet | 2.88 | 0.5 |
/// | mud dry | 4.0 | 0.6 |
/// | mud wet | 5.0 | 0.7 |
/// | indoor | 0.6 | 0.3 |
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ContextMultipliers([Multiplier; Context::COUNT]);

impl Default for ContextMultipliers {
    fn default() -> Self {
        let row = |median, ln_sd| Multiplier { median, ln_sd };
        Self([
            row(1.0, 0.0),
            row(2.0, 0.4),
            row(1.8, 0.4),
            row(2.88, 0.5),
            row(4.0, 0.6),
            row(5.0, 0.7),
            row(0.6, 0.3),
        ])
    }
}

impl ContextMultipliers {
    /// The multiplier of one context.
    #[must_use]
    pub const fn get(&self, context: Context) -> Multiplier {
        self.0[context.index()]
    }

    /// The same with one multiplier replaced, for a fleet that has learned its own.
    ///
    /// # Errors
    /// [`OutOfRange`] when the median is outside [`bounds::CONTEXT_MULTIPLIER`] or the deviation outside
    /// [`bounds::LN_SD`].
    pub fn with(mut self, context: Context, multiplier: Multiplier) -> Result<Self, OutOfRange> {
        self.0[context.index()] = Multiplier {
            median: bounds::CONTEXT_MULTIPLIER.check(multiplier.median)?,
            ln_sd: bounds::LN_SD.check(multiplier.ln_sd)?,
        };
        Ok(self)
    }

    /// Multiplier of the surface when dry, and the factor that being wet puts on it; their product is the context's.
    #[must_use]
    pub fn factors(&self, context: Context) -> (f64, f64) {
        let dry = self.get(Context::of(context.surface(), false)).median;
        (dry, self.get(context).median / dry)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_round_trip_and_unknown_ones_list_what_is_allowed() {
        for surface in Surface::ALL {
            assert_eq!(surface.as_str().parse(), Ok(*surface));
        }
        let error = "ice".parse::<Surface>().unwrap_err();
        assert_eq!(error.to_string(), "surface is \"ice\", allowed paved, gravel, mud, indoor");
    }

    #[test]
    fn context_is_its_surface_and_weather() {
        for context in Context::ALL {
            assert_eq!(Context::of(context.surface(), context.is_wet()), *context);
            let (surface, wet) = ContextMultipliers::default().factors(*context);
            assert!((surface * wet - ContextMultipliers::default().get(*context).median).abs() < 1e-12);
            assert!(wet >= 1.0);
        }
    }
}
