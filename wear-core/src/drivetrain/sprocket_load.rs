//! How a sprocket's teeth share the chain's tension, and the industrial elongation limit.

use super::Teeth;

/// Ratio of the tension behind a tooth to the tension ahead of it, on a chain whose pitch matches the sprocket's
/// (S at second hand: chain-drive handbooks). It lies between 0 and 1.
///
/// A worn chain doesn't match, and loads fewer teeth than this says.
#[must_use]
pub fn tension_ratio(teeth: Teeth) -> f64 {
    // T_k = T_0·[sin φ / sin(φ + 2β)]^k,  2β = 360°/N,  φ = 17° − 64°/N
    let n = teeth.as_f64();
    let pressure = (17.0 - 64.0 / n).to_radians();
    pressure.sin() / (pressure + (360.0 / n).to_radians()).sin()
}

/// Share of the tension that tooth number `index` takes, counted from 0 where the tight strand runs on.
#[must_use]
pub fn tooth_share(teeth: Teeth, index: u32) -> f64 {
    let ratio = tension_ratio(teeth);
    (1.0 - ratio) * ratio.powf(f64::from(index))
}

/// Elongation in percent at which an industrial drive's chain is replaced
/// (S: chain makers' handbooks): the smaller of 3 and 200/N, N the larger sprocket's teeth.
///
/// A bicycle chain comes off long before: see [`super::default_limit`].
#[must_use]
pub fn industrial_limit_percent(larger_sprocket: Teeth) -> f64 {
    (200.0 / larger_sprocket.as_f64()).min(3.0)
}

/// The same on fixed centres, in percent (S).
pub const INDUSTRIAL_LIMIT_FIXED_CENTRES_PERCENT: f64 = 1.5;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bounds;

    #[test]
    fn shares_are_a_distribution_on_every_legal_sprocket() {
        for count in bounds::TEETH.minimum as u32..=bounds::TEETH.maximum as u32 {
            let teeth = Teeth::new(count).unwrap();
            let ratio = tension_ratio(teeth);
            assert!(ratio > 0.0 && ratio < 1.0, "{count}: {ratio}");
            let sum: f64 = (0..400).map(|index| tooth_share(teeth, index)).sum();
            assert!((sum - 1.0).abs() < 1e-12, "{count}: {sum}");
        }
    }
}
