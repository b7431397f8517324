//! Kilometres that reference kilometres ahead take, as wet months come and go.

/// Days ahead over which wet months count; beyond, years are alike.
pub(super) const DISTANCE_DAYS: f64 = 730.0;

/// Steps of those days.
pub(super) const DISTANCE_STEPS: u32 = 48;

/// Kilometres by reference kilometres ahead.
#[derive(Debug, Clone, PartialEq)]
pub struct DistancesAhead {
    /// Reference km and km, both rising.
    pub(super) steps: Vec<(f64, f64)>,
    /// Kilometres per reference kilometre after them.
    pub(super) beyond: f64,
}

impl DistancesAhead {
    /// Always as many a reference kilometre.
    #[must_use]
    pub const fn at(km_per_reference_km: f64) -> Self {
        Self { steps: Vec::new(), beyond: km_per_reference_km }
    }

    /// Kilometres of the next `reference_km`.
    #[must_use]
    pub fn km(&self, reference_km: f64) -> f64 {
        let after = self.steps.partition_point(|(reached, _)| *reached < reference_km);
        let before = after.checked_sub(1).map_or((0.0, 0.0), |before| self.steps[before]);
        match self.steps.get(after) {
            Some(next) => before.1 + (next.1 - before.1) * (reference_km - before.0) / (next.0 - before.0),
            None => before.1 + self.beyond * (reference_km - before.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn linear_between_steps_and_as_the_year_beyond() {
        let distances = DistancesAhead { steps: vec![(100.0, 60.0), (300.0, 240.0)], beyond: 0.8 };
        for (reference_km, km) in [(0.0, 0.0), (50.0, 30.0), (100.0, 60.0), (200.0, 150.0), (400.0, 320.0)] {
            assert!((distances.km(reference_km) - km).abs() < 1e-9, "{reference_km}");
        }
        assert_eq!(DistancesAhead::at(0.7).km(1_000.0), 700.0);
    }
}
