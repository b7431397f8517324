//! How fast a chain damages sprockets, by its elongation.

/// Where a constant comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub enum Provenance {
    /// Published.
    S,
    /// Common practice of the trade, without a source.
    T,
    /// Our assumption.
    A,
}

/// A constant that a result rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Basis {
    /// Name of the constant.
    pub name: &'static str,
    /// Its value in words.
    pub value: &'static str,
    /// Where it comes from.
    pub mark: Provenance,
}

/// What every outlook of cassette and rings rests on.
pub const BASIS: &[Basis] = &[
    Basis {
        name: "damage_slopes",
        value: "0.571, 0.857, 2.0 and 3.5 per percent of elongation, up to 0.5, 0.75, 1.0 percent and above",
        mark: Provenance::A,
    },
    Basis {
        name: "chains_per_cassette",
        value: "about 3.5 chains to 0.5 percent, 2 to 0.75 percent, 1 to 1.0 percent",
        mark: Provenance::T,
    },
    Basis {
        name: "skip_threshold_spread",
        value: "log-normal, median 1, sigma 0.6, until a fleet has learned its own",
        mark: Provenance::A,
    },
    Basis {
        name: "shared_part_of_the_spread",
        value: "half of the variance is common to one cassette, until a fleet has learned its own",
        mark: Provenance::A,
    },
    Basis {
        name: "silence",
        value: "a new chain ridden 100 km without a reported skip has held, right nine times of ten",
        mark: Provenance::A,
    },
    Basis {
        name: "reported_skips",
        value: "a worn sprocket is five times as often behind a report as a sound one",
        mark: Provenance::A,
    },
    Basis { name: "cassettes_per_ring", value: "2.5", mark: Provenance::T },
    Basis {
        name: "damage_by_sprocket",
        value: "work through it over its teeth, the busiest sprocket as 1",
        mark: Provenance::A,
    },
];

/// Upper end in percent and slope in cassettes per percent.
const SLOPES: [(f64, f64); 4] = [(0.5, 0.571), (0.75, 0.857), (1.0, 2.0), (f64::INFINITY, 3.5)];

/// Damage h(ε) to the busiest sprocket per percent of further elongation, in cassettes (A).
#[must_use]
pub fn slope(percent: f64) -> f64 {
    SLOPES.iter().find(|(end, _)| percent < *end).map_or(SLOPES[3].1, |(_, slope)| *slope)
}

/// Damage A(ε) = ∫₀^ε h to the busiest sprocket by one chain from new to `percent`, in cassettes; 0 below zero (A).
#[must_use]
pub fn accrued(percent: f64) -> f64 {
    let mut from = 0.0;
    let mut sum = 0.0;
    for (end, slope) in SLOPES {
        if percent <= from {
            break;
        }
        sum += slope * (percent.min(end) - from);
        from = end;
    }
    sum
}

/// Money that one more kilometre costs in sprockets, in the unit of `price`.
///
/// `expected_slope` is the expectation of [`slope`] over what is known of the elongation (at the limit: `slope(limit)`),
/// `percent_per_km` the expected wear rate.
#[must_use]
pub fn cost_per_km(price: f64, expected_slope: f64, percent_per_km: f64) -> f64 {
    price * expected_slope * percent_per_km
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chains_per_cassette_are_the_common_ones() {
        for (limit, chains) in [(0.5, 3.5), (0.75, 2.0), (1.0, 1.0)] {
            assert!((accrued(limit) * chains - 1.0).abs() < 2e-3, "{limit}: {}", accrued(limit));
        }
    }

    #[test]
    fn accrued_is_the_integral_of_the_slope() {
        let step = 1e-5;
        let mut integral = 0.0;
        for i in 0..150_000 {
            integral += slope((i as f64 + 0.5) * step) * step;
        }
        assert!((integral - accrued(1.5)).abs() < 1e-4, "{integral}");
        assert_eq!(accrued(-0.3), 0.0);
    }
}
