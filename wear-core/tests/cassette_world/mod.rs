//! Fleets of cassettes whose thresholds are known: chains run to about 0.75 %, new ones skip or hold, some skips go
//! unreported, some cassettes are replaced for other reasons. What is told by assumed and by learned thresholds, beside an
//! oracle that knows the truth of the fleet, though not of the single cassette.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};
use wear_core::drivetrain::Teeth;
use wear_core::fleet::cassettes::{CassetteFit, fit};
use wear_core::knock_on::{
    CassetteBuild, CassetteFacts, CassetteLife, CassetteOutlook, ChainWear, CountQuantiles, Removal,
    SkipOutcome, SkipTest, SkipThreshold, SwapReason, Trial, accrued,
};
use wear_core::units::Limit;

const COGS: [u32; 8] = [11, 13, 15, 17, 20, 23, 26, 30];
const WORK: [f64; 8] = [4.0, 12.0, 22.0, 26.0, 18.0, 10.0, 5.0, 3.0];
const LIMIT: f64 = 0.75;

/// Chains after which a cassette is no longer followed.
const MOST_CHAINS: usize = 60;

/// What is true of a fleet.
#[derive(Debug, Clone, Copy)]
pub struct World {
    pub name: &'static str,
    pub median: f64,
    pub sigma: f64,
    pub common_share: f64,
    /// How many of the new chains that skip are reported.
    pub reported: f64,
    /// How many of those that hold are reported to skip all the same.
    pub false_reports: f64,
    /// Spread of the true work of each cog over the usual one, of which nobody knows.
    pub gears_ln_sd: f64,
}

pub const PLAIN: World = World {
    name: "plain",
    median: 1.0,
    sigma: 0.6,
    common_share: 0.5,
    reported: 0.9,
    false_reports: 0.0,
    gears_ln_sd: 0.0,
};

/// One cassette: its thresholds, and its damage when each chain was put on.
struct True {
    thresholds: Vec<f64>,
    work: Vec<f64>,
    wear: Vec<f64>,
}

/// Damage by sprocket when each chain was put on.
fn damage(work: &[f64], wear: &[f64]) -> Vec<Vec<f64>> {
    let raw: Vec<f64> = work.iter().zip(COGS).map(|(work, teeth)| work / f64::from(teeth)).collect();
    let most = raw.iter().copied().fold(0.0, f64::max);
    let mut sum = 0.0;
    let mut rows = Vec::new();
    for wear in wear {
        rows.push(raw.iter().map(|weight| weight / most * sum).collect());
        sum += wear;
    }
    rows
}

impl World {
    fn draw(&self, random: &mut ChaCha8Rng) -> True {
        let normal = Normal::new(0.0, 1.0).expect("a spread");
        let common = normal.sample(random) * self.sigma * self.common_share.sqrt();
        let own = self.sigma * (1.0 - self.common_share).sqrt();
        let thresholds =
            COGS.iter().map(|_| self.median * (common + own * normal.sample(random)).exp()).collect();
        let work = WORK.iter().map(|work| work * (self.gears_ln_sd * normal.sample(random)).exp()).collect();
        let wear = (0..MOST_CHAINS)
            .map(|_| accrued((LIMIT + 0.05 * normal.sample(random)).clamp(0.5, 1.0)))
            .collect();
        True { thresholds, work, wear }
    }

    /// What the oracle goes by.
    pub fn truth(&self) -> SkipThreshold {
        SkipThreshold::learned(self.median.ln(), 0.0, self.sigma, self.common_share).expect("a truth")
    }
}

/// One cassette with what was told of it.
pub struct Followed {
    /// What is entered.
    pub life: CassetteLife,
    /// Chains that were put on, and whether each truly skipped, in order.
    skipped: Vec<bool>,
    /// How often each chain's outcome was entered as held.
    held: Vec<bool>,
    wear: Vec<f64>,
    /// Chains that truly held before the first one skipped.
    lasts: usize,
}

/// A fleet of so many cassettes, each followed until it comes off.
pub fn simulate(world: &World, cassettes: usize, seed: u64) -> Vec<Followed> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    (0..cassettes).map(|_| follow(world, &mut random)).collect()
}

fn follow(world: &World, random: &mut ChaCha8Rng) -> Followed {
    let cassette = world.draw(random);
    let (truth, known) = (damage(&cassette.work, &cassette.wear), damage(&WORK, &cassette.wear));
    let skips = |row: &Vec<f64>| {
        let place = row.iter().zip(&cassette.thresholds).position(|(damage, threshold)| damage >= threshold);
        place.filter(|_| row.iter().any(|damage| *damage > 0.0))
    };
    let lasts = truth.iter().position(|row| skips(row).is_some()).unwrap_or(MOST_CHAINS);
    let mut followed = Followed {
        life: CassetteLife::default(),
        skipped: Vec::new(),
        held: Vec::new(),
        wear: cassette.wear.clone(),
        // The first chain meets a new cassette.
        lasts: lasts.saturating_sub(1),
    };
    for (chain, (true_row, row)) in truth.iter().zip(&known).enumerate() {
        let skip = skips(true_row);
        let reported = match skip {
            Some(_) => random.random_bool(world.reported),
            None => chain > 0 && random.random_bool(world.false_reports),
        };
        if chain > 0 {
            followed.skipped.push(skip.is_some());
            followed.held.push(!reported);
            let sprocket = skip.filter(|_| reported && random.random_bool(0.5));
            let outcome = if reported { SkipOutcome::ReportedNew } else { SkipOutcome::Unreported };
            followed.life.trials.push(Trial { damage: row.clone(), sprocket, new_chain: true, outcome });
        }
        // What is reported to skip is replaced; one in twelve goes for other reasons.
        let reason = match reported {
            true => Some(SwapReason::Skips),
            false if random.random_bool(1.0 / 12.0) => Some(SwapReason::Upgrade),
            false => None,
        };
        if reason.is_some() {
            followed.life.removal = Some(Removal { damage: row.clone(), reason });
            break;
        }
    }
    followed
}

/// What a fleet's fit says.
pub fn learned(fleet: &[Followed]) -> CassetteFit {
    let lives: Vec<CassetteLife> = fleet.iter().map(|followed| followed.life.clone()).collect();
    fit(&lives)
}

/// How well cassettes of another fleet are told of.
#[derive(Debug, Clone, Copy, Default)]
pub struct Score {
    pub swaps: f64,
    pub brier: f64,
    pub told: f64,
    pub skipped: f64,
    pub asked: f64,
    pub inside: f64,
    pub before: f64,
    pub beyond: f64,
}

impl Score {
    pub fn brier(&self) -> f64 {
        self.brier / self.swaps
    }

    pub fn inside(&self) -> f64 {
        self.inside / self.asked
    }

    fn ask(&mut self, CountQuantiles { p10, p50: _, p90 }: CountQuantiles, came: usize) {
        let (p10, p90) = (p10 as usize, p90 as usize);
        self.asked += 1.0;
        self.inside += f64::from(u8::from((p10..=p90).contains(&came)));
        self.before += f64::from(u8::from(came < p10));
        self.beyond += f64::from(u8::from(came > p90));
    }
}

/// At each chain swap: the probability of a skip against what came, and the chains to come against those that came.
pub fn score(fleet: &[Followed], threshold: SkipThreshold) -> Score {
    let cogs: Vec<Teeth> = COGS.iter().map(|teeth| Teeth::new(*teeth).expect("a cog")).collect();
    let wear = |expected_accrued: f64| ChainWear { expected_accrued, work: WORK.to_vec() };
    let mut score = Score::default();
    for followed in fleet {
        for (chain, skipped) in followed.skipped.iter().enumerate() {
            // The chain before is worn out, and those before it did what was entered.
            let past: Vec<ChainWear> = followed.wear[..chain].iter().copied().map(wear).collect();
            let tests: Vec<SkipTest> = (0..chain)
                .filter(|before| followed.held[*before])
                .flat_map(|before| {
                    (0..COGS.len()).map(move |sprocket| SkipTest {
                        sprocket,
                        chains_before: before + 1,
                        outcome: SkipOutcome::Unreported,
                    })
                })
                .collect();
            let outlook = CassetteOutlook::of(&CassetteFacts {
                cogs: &cogs,
                build: CassetteBuild::OnePiece,
                past: &past,
                present: &wear(followed.wear[chain]),
                chains_before_cog: &[],
                skip_tests: &tests,
                unnamed_reports: &[],
                found: None,
                threshold,
                limit: Limit::new(LIMIT).expect("a limit"),
            })
            .expect("facts that belong together");
            let told = outlook.skips_with_new_chain;
            let answer = f64::from(u8::from(*skipped));
            score.swaps += 1.0;
            score.told += told;
            score.skipped += answer;
            score.brier += (told - answer).powi(2);
            score.ask(outlook.chains_to_come, followed.lasts.saturating_sub(chain));
            if *skipped {
                break;
            }
        }
    }
    score
}
