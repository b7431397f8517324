//! Roots of increasing functions whose derivative is known.

/// Value and derivative of a function at one point.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tangent {
    pub(crate) value: f64,
    pub(crate) slope: f64,
}

/// The smallest bracketed root of an increasing function on `[low, high]`, by Newton's steps where they stay
/// inside the bracket and shrink it fast enough, else by `halve(low, high)`.
///
/// Stops when a step is below `tolerance(x)`, or after 100 steps.
pub(crate) fn increasing(
    (mut low, mut high): (f64, f64),
    start: f64,
    halve: impl Fn(f64, f64) -> f64,
    tolerance: impl Fn(f64) -> f64,
    mut function: impl FnMut(f64) -> Tangent,
) -> f64 {
    let mut x = start.clamp(low, high);
    let mut previous = f64::INFINITY;
    for _ in 0..100 {
        let Tangent { value, slope } = function(x);
        if value >= 0.0 {
            high = high.min(x);
        } else {
            low = low.max(x);
        }
        if high - low <= tolerance(x) {
            break;
        }
        let newton = x - value / slope;
        let step = (newton - x).abs();
        let next =
            if newton > low && newton < high && step < 0.7 * previous { newton } else { halve(low, high) };
        previous = if next == newton { step } else { f64::INFINITY };
        let moved = (next - x).abs();
        x = next;
        if moved <= tolerance(x) {
            break;
        }
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;

    fn solve(function: impl Fn(f64) -> Tangent) -> f64 {
        increasing((0.0, 1e6), 3.0, |a, b| 0.5 * (a + b), |x| 1e-12 * x.abs().max(1e-3), function)
    }

    #[test]
    fn finds_roots_of_kind_and_of_unkind_functions() {
        let cube = solve(|x| Tangent { value: x.powi(3) - 2.0, slope: 3.0 * x * x });
        assert!((cube - 2.0_f64.cbrt()).abs() < 1e-11);
        let flat = solve(|x| Tangent { value: (x - 7.0).powi(3).atan(), slope: 0.0 });
        assert!((flat - 7.0).abs() < 1e-6, "{flat}");
        let nowhere = solve(|_| Tangent { value: -1.0, slope: f64::NAN });
        assert!((nowhere - 1e6).abs() < 1e-3);
    }
}
