//! Integrals of smooth functions.

/// Gauss–Legendre nodes and weights on [−1, 1], eight points, the positive half (C: numpy `leggauss(8)`).
const HALF: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
    (0.960_289_856_497_536_2, 0.101_228_536_290_376_3),
];

/// Nodes of one panel and their weights.
pub(super) fn nodes(from: f64, to: f64) -> [(f64, f64); 8] {
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    let mut nodes = [(0.0, 0.0); 8];
    for (i, (x, weight)) in HALF.into_iter().enumerate() {
        nodes[2 * i] = (middle - half * x, half * weight);
        nodes[2 * i + 1] = (middle + half * x, half * weight);
    }
    nodes
}

/// Integral of `function` over one panel.
pub(super) fn panel(from: f64, to: f64, function: impl Fn(f64) -> f64) -> f64 {
    nodes(from, to).into_iter().map(|(x, weight)| weight * function(x)).sum()
}

/// Integral of `function` over `panels` equal panels.
pub(super) fn integral(from: f64, to: f64, panels: usize, function: impl Fn(f64) -> f64) -> f64 {
    let step = (to - from) / panels as f64;
    (0..panels).map(|i| panel(from + i as f64 * step, from + (i + 1) as f64 * step, &function)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_to_degree_fifteen() {
        for degree in 0..16 {
            let exact = 2.0_f64.powi(degree + 1) / f64::from(degree + 1);
            let found = panel(0.0, 2.0, |x| x.powi(degree));
            assert!((found / exact - 1.0).abs() < 1e-13, "{degree}");
        }
        assert!((integral(0.0, 40.0, 64, |x| (-x).exp()) - 1.0).abs() < 1e-12);
    }
}
