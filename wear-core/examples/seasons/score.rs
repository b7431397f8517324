//! Forecasts of a yard held against what came.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};
use wear_core::fleet::demand::Demand;
use wear_core::forecast::{DailyUse, LifeCurve, UseForecast, UseHistory, UsualYear};
use wear_core::units::Probability;

use crate::yard::{Yard, ridden};

/// Days of the year from which forecasts are made: the beginnings of January, March, May, July, September, November.
pub const ORIGINS: [usize; 6] = [0, 59, 120, 181, 243, 304];

/// How well a chain's remaining reference km are known, standard deviation of their logarithm.
const LIFE_LN_SD: f64 = 0.12;

const HALF_YEAR: usize = 182;

/// What is counted.
#[derive(Debug, Clone, Copy, Default)]
pub struct Score {
    pub asked: f64,
    pub not_in_use: f64,
    pub inside: f64,
    pub before: f64,
    pub after: f64,
    /// Chains over their limit on the day of `swap_by`.
    pub over: f64,
    pub told: f64,
    /// Pinball loss of the three dates, days.
    pub loss: f64,
    pub demands: f64,
    pub demands_inside: f64,
    pub announced: f64,
    pub came: f64,
}

impl Score {
    pub fn add(&mut self, other: &Self) {
        self.asked += other.asked;
        self.not_in_use += other.not_in_use;
        self.inside += other.inside;
        self.before += other.before;
        self.after += other.after;
        self.over += other.over;
        self.told += other.told;
        self.loss += other.loss;
        self.demands += other.demands;
        self.demands_inside += other.demands_inside;
        self.announced += other.announced;
        self.came += other.came;
    }

    pub fn coverage(&self) -> f64 {
        self.inside / self.asked
    }

    pub fn share_before(&self) -> f64 {
        self.before / self.asked
    }

    pub fn share_after(&self) -> f64 {
        self.after / self.asked
    }

    pub fn share_over(&self) -> f64 {
        self.over / self.told
    }

    pub fn mean_loss(&self) -> f64 {
        self.loss / self.asked
    }

    pub fn demand_coverage(&self) -> f64 {
        self.demands_inside / self.demands
    }
}

/// A way to forecast: of each bike its days up to yesterday.
pub trait Way {
    type Forecast;

    /// Of all bikes of a yard.
    fn forecasts(&self, bikes: &[(i64, &[DailyUse])], last_day: i64) -> Vec<Option<Self::Forecast>>;

    /// First day on which the probability is reached.
    fn day(&self, forecast: &Self::Forecast, curve: &LifeCurve, level: f64) -> Option<u32>;

    /// Demand over days.
    fn demand(&self, bikes: &[(Self::Forecast, LifeCurve)], days: f64) -> Demand;
}

/// The library's, with the yard's usual year.
pub struct Pooled;

/// The library's of each bike alone.
pub struct Alone;

impl Way for Pooled {
    type Forecast = UseForecast;

    fn forecasts(&self, bikes: &[(i64, &[DailyUse])], last_day: i64) -> Vec<Option<UseForecast>> {
        let histories: Vec<UseHistory> =
            bikes.iter().filter_map(|(first, days)| UseHistory::of(*first, days)).collect();
        let usual = UsualYear::of(&histories);
        bikes.iter().map(|(_, days)| UseForecast::in_usual_year(days, last_day, &usual)).collect()
    }

    fn day(&self, forecast: &UseForecast, curve: &LifeCurve, level: f64) -> Option<u32> {
        curve.day_reaching(forecast, level)
    }

    fn demand(&self, bikes: &[(UseForecast, LifeCurve)], days: f64) -> Demand {
        Demand::under_shared_use(days, bikes.iter().map(|(forecast, curve)| (forecast, curve)))
    }
}

impl Way for Alone {
    type Forecast = UseForecast;

    fn forecasts(&self, bikes: &[(i64, &[DailyUse])], _: i64) -> Vec<Option<UseForecast>> {
        bikes.iter().map(|(_, days)| UseForecast::from_days(days)).collect()
    }

    fn day(&self, forecast: &UseForecast, curve: &LifeCurve, level: f64) -> Option<u32> {
        Pooled.day(forecast, curve, level)
    }

    fn demand(&self, bikes: &[(UseForecast, LifeCurve)], days: f64) -> Demand {
        Pooled.demand(bikes, days)
    }
}

/// Makes forecasts of a yard from one day of the year and scores them.
pub fn score<W: Way>(way: &W, yard: &Yard, day_of_year: usize, seed: u64) -> Score {
    let (origin, bikes) = ridden(yard, day_of_year, seed);
    let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0x9e37);
    let normal = Normal::new(0.0, 1.0).expect("a normal");
    let begins = origin - yard.history_days as i64;
    let known: Vec<(i64, &[DailyUse])> = bikes
        .iter()
        .map(|bike| (begins + bike.first_day as i64, &bike.days[..yard.history_days - bike.first_day]))
        .collect();
    let mut score = Score::default();
    let mut asked: Vec<(W::Forecast, LifeCurve)> = Vec::new();
    let mut came = 0_usize;
    for (bike, (forecast, (_, history))) in
        bikes.iter().zip(way.forecasts(&known, origin - 1).into_iter().zip(&known))
    {
        // What a year brings at the present level, for lives of a month to a year.
        let ahead = &bike.days[history.len()..];
        let a_day = ahead[..365].iter().map(|day| day.reference_km).sum::<f64>() / 365.0;
        let life = a_day.max(0.5) * (30.0_f64).mul_add(1.0, 300.0 * random.random::<f64>().powi(2));
        let told = life * (LIFE_LN_SD * normal.sample(&mut random)).exp();
        let Some(forecast) = forecast else {
            score.not_in_use += 1.0;
            continue;
        };
        let curve = LifeCurve::sample(told * (1.2816 * LIFE_LN_SD).exp(), |s| {
            normal_below((s / told).ln() / LIFE_LN_SD)
        });
        let mut sum = 0.0;
        let day = ahead.iter().position(|day| {
            sum += day.reference_km;
            sum >= life
        });
        let day = day.map_or(f64::INFINITY, |day| (day + 1) as f64);
        let at = |level| way.day(&forecast, &curve, level).map_or(f64::INFINITY, f64::from);
        let (p10, p50, p90) = (at(0.1), at(0.5), at(0.9));
        score.asked += 1.0;
        if day < p10 {
            score.before += 1.0;
        } else if day > p90 {
            score.after += 1.0;
        } else {
            score.inside += 1.0;
        }
        let swap = at(0.2);
        score.told += 1.0;
        score.over += f64::from(day < swap);
        let pinball = |level: f64, told: f64| {
            let (told, day) = (told.min(1_500.0), day.min(1_500.0));
            if day >= told { level * (day - told) } else { (1.0 - level) * (told - day) }
        };
        score.loss += (pinball(0.1, p10) + pinball(0.5, p50) + pinball(0.9, p90)) / 3.0;
        came += usize::from(day <= HALF_YEAR as f64);
        asked.push((forecast, curve));
    }
    if !asked.is_empty() {
        let demand = way.demand(&asked, HALF_YEAR as f64);
        let level = |p| Probability::new(p).expect("a probability");
        let (low, high) = (demand.quantile(level(0.1)), demand.quantile(level(0.9)));
        score.demands = 1.0;
        score.demands_inside = f64::from(u8::from((low..=high).contains(&came)));
        score.announced = demand.mean();
        score.came = came as f64;
    }
    score
}

/// Φ by its error function's series of Abramowitz & Stegun 7.1.26, to 1.5e-7.
pub fn normal_below(z: f64) -> f64 {
    let x = z.abs() / 2.0_f64.sqrt();
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let poly = t
        * (0.254_829_592
            + t * (-0.284_496_736 + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    let upper = 0.5 * poly * (-x * x).exp();
    if z > 0.0 { 1.0 - upper } else { upper }
}
