//! Replacement by age.

use super::integral::panel;

/// Panels between zero and the horizon.
const PANELS: usize = 512;

/// The age at which replacing costs least.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct AgePolicy {
    /// Age at which to replace; `None` when running to failure costs no more.
    pub age: Option<f64>,
    /// Cost per unit of age when so replaced.
    pub rate: f64,
    /// Cost per unit of age when run to failure.
    pub run_to_failure_rate: f64,
}

/// Cost per unit of age when a part is replaced at `age` or at failure, whichever comes first
/// (S: Barlow & Proschan 1965). Infinite at age 0.
///
/// `survival` is R, 1 at age 0 and never rising; `planned` and `failed` are the costs of either replacement.
#[must_use]
pub fn age_replacement_rate(survival: impl Fn(f64) -> f64, age: f64, planned: f64, failed: f64) -> f64 {
    // c(t) = [c_p R(t) + c_f (1 − R(t))] / ∫₀ᵗ R
    let life = super::integral::integral(0.0, age, PANELS, &survival);
    rate(survival(age), life, planned, failed)
}

fn rate(survival: f64, life: f64, planned: f64, failed: f64) -> f64 {
    if life > 0.0 { (planned * survival + failed * (1.0 - survival)) / life } else { f64::INFINITY }
}

/// The best age up to `horizon`, by which nearly all parts have failed.
///
/// Ages are searched in 512 steps and refined by golden section between the neighbours of the best.
#[must_use]
pub fn age_replacement(survival: impl Fn(f64) -> f64, planned: f64, failed: f64, horizon: f64) -> AgePolicy {
    let step = horizon / PANELS as f64;
    let mut life = vec![0.0; PANELS + 1];
    for i in 0..PANELS {
        life[i + 1] = life[i] + panel(i as f64 * step, (i + 1) as f64 * step, &survival);
    }
    let at = |age: f64| {
        let whole = ((age / step) as usize).min(PANELS);
        let life = life[whole] + panel(whole as f64 * step, age, &survival);
        rate(survival(age), life, planned, failed)
    };
    let run_to_failure_rate = rate(0.0, life[PANELS], planned, failed);
    let best =
        (1..=PANELS).min_by(|&a, &b| at(a as f64 * step).total_cmp(&at(b as f64 * step))).unwrap_or(PANELS);
    let (mut low, mut high) = ((best - 1) as f64 * step, ((best + 1).min(PANELS)) as f64 * step);
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    for _ in 0..80 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if at(a) <= at(b) { high = b } else { low = a }
    }
    let age = 0.5 * (low + high);
    let found = at(age);
    // A saving within the last digits of the integrals is none.
    if best < PANELS && found < run_to_failure_rate * (1.0 - 1e-9) {
        AgePolicy { age: Some(age), rate: found, run_to_failure_rate }
    } else {
        AgePolicy { age: None, rate: run_to_failure_rate, run_to_failure_rate }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_ageing_or_without_a_dearer_failure_parts_run_to_failure() {
        let constant_hazard = |t: f64| (-t / 1_000.0).exp();
        assert_eq!(age_replacement(constant_hazard, 1.0, 5.0, 40_000.0).age, None);
        let ageing = |t: f64| (-(t / 1_000.0).powi(3)).exp();
        assert_eq!(age_replacement(ageing, 1.0, 1.0, 4_000.0).age, None);
        assert!(age_replacement(ageing, 1.0, 5.0, 4_000.0).age.is_some());
    }
}
