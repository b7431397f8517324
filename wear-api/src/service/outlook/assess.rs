//! The whole outlook of a bike from what is known of it: no store, no clock.

use chrono::{Days, NaiveDate};
use wear_core::drivetrain::{Drivetrain, Teeth};
use wear_core::exposure::{GearShare, Use};
use wear_core::forecast::{self, AdviceInput, DailyUse, LifeCurve, UseForecast, advise};
use wear_core::knock_on::{
    self, CassetteBuild, CassetteFacts, CassetteOutlook, ChainWear, RingFacts, RingOutlook, SkipTest,
};
use wear_core::policy::LookCosts;
use wear_core::units::{Limit, ReferenceKilometres};

use super::chain::{Chain, ChainReading};
use super::needs::{ModelOnBike, SwapFacts, needs};
use super::timeline::{Accrued, ExposedDay};
use crate::domain::{
    Advice, Band, Basis, BikeId, CassetteReport, CurvePoint, DateBand, DriverShare, EnergySourcePercent,
    Money, Outlook, PartId, RingReport, SprocketDamage, SwapNeeds, Timestamp, Warning,
};

/// A chain's part in the wear of the sprockets it ran on: from an exposure of its own to its last.
#[derive(Debug)]
pub struct SprocketWear<'a> {
    /// The chain.
    pub chain: &'a Chain,
    /// Its exposure when it met the sprocket first.
    pub from: ReferenceKilometres,
}

/// A skip under load that was reported.
#[derive(Debug, Clone, Copy)]
pub struct SkipReport {
    /// When.
    pub reported_at: Timestamp,
    /// The cog.
    pub teeth: Teeth,
    /// What it says of the cassette.
    pub test: SkipTest,
}

/// What is known of a bike.
#[derive(Debug)]
pub struct BikeFacts<'a> {
    /// The bike.
    pub bike_id: BikeId,
    /// What it is used for.
    pub usage: Use,
    /// Its drivetrain.
    pub drivetrain: &'a Drivetrain,
    /// Elongation at which its chain comes off.
    pub limit: Limit,
    /// The risk that the workshop accepts, 0 to 1.
    pub risk: f64,
    /// The chain that is on.
    pub chain: Option<FittedChain<'a>>,
    /// The chains that ran on the present cassette, oldest first, the present one last; none without a cassette.
    pub cassette: Option<Vec<SprocketWear<'a>>>,
    /// Whether worn cogs of it can be replaced one by one.
    pub cassette_build: CassetteBuild,
    /// Its price.
    pub cassette_price: Option<Money>,
    /// The chains that ran on the present rings, oldest first, the present one last.
    pub rings: Option<Vec<SprocketWear<'a>>>,
    /// Skips that riders reported of the present cassette.
    pub skips: Vec<SkipReport>,
    /// What a look and being late cost.
    pub look: LookCosts,
    /// Whether a price of that had to be assumed.
    pub look_is_assumed: bool,
    /// Where the wear rate comes from.
    pub wear_rate_from: String,
    /// The models of the parts that are on it.
    pub models: &'a [ModelOnBike],
    /// The bike's days of riding, in order, whichever chain was on.
    pub days: &'a [ExposedDay],
    /// Since when those days are known.
    pub days_since: Timestamp,
    /// The present.
    pub now: Timestamp,
    /// The present date where the workshop is.
    pub today: NaiveDate,
}

/// The chain that is on a bike.
#[derive(Debug)]
pub struct FittedChain<'a> {
    /// The part.
    pub part_id: PartId,
    /// When it was first fitted.
    pub fitted_at: Timestamp,
    /// Its exposure and posterior.
    pub chain: &'a Chain,
    /// Its readings.
    pub readings: &'a [ChainReading],
}

/// What is to be known of a bike.
#[derive(Debug)]
pub struct Assessed {
    /// Its outlook.
    pub outlook: Outlook,
    /// What its next swap uses.
    pub needs: SwapNeeds,
}

/// The outlook, and what the next swap uses.
#[must_use]
pub fn assess(facts: &BikeFacts<'_>) -> Assessed {
    match &facts.chain {
        Some(fitted) => with_chain(facts, fitted),
        None => Assessed {
            outlook: without_chain(facts),
            needs: SwapNeeds {
                certain_in_days: None,
                by_day: [0.0; crate::domain::NEED_DAYS.len()],
                parts: Vec::new(),
            },
        },
    }
}

fn without_chain(facts: &BikeFacts<'_>) -> Outlook {
    Outlook {
        bike_id: facts.bike_id,
        part_id: None,
        computed_at: facts.now,
        advice: Advice::Hold,
        reason: "No chain is on record for this bike; fit one, or enter the swap that took it off".to_owned(),
        limit_percent: facts.limit.get(),
        elongation_percent: None,
        remaining_km: None,
        remaining_reference_km: None,
        probability_over_limit: None,
        limit_on: None,
        swap_by: None,
        measure_by: None,
        drivers: Vec::new(),
        cassette: None,
        rings: Vec::new(),
        warnings: vec![Warning {
            code: "no_chain".to_owned(),
            message: "No chain is on record for this bike".to_owned(),
        }],
        basis: basis(facts, None, None),
        curve: Vec::new(),
    }
}

fn with_chain(facts: &BikeFacts<'_>, fitted: &FittedChain<'_>) -> Assessed {
    let chain = fitted.chain;
    let sight = chain.posterior.sight(chain.at(), facts.limit);
    let life = sight.outlook();
    let usage = use_forecast(facts);
    let curve = LifeCurve::of(&sight, life.remaining.p90);
    let knock_on_now = chain.knock_on_seen(&sight);
    let day_of = |level| usage.and_then(|usage| curve.day_reaching(&usage, level));
    let over = life.probability_over_limit;
    let swap_in_days = day_of(facts.risk);
    // A reading pays where the probability of being late reaches what a look is worth; never after the swap.
    let measure_in_days = day_of(facts.risk.min(facts.look.due_probability()));
    // From the tenth to the ninetieth percentile a normal distribution spans 2.5631 standard deviations.
    let elongation_sd = (life.elongation.p90 - life.elongation.p10) / 2.563_1;
    let (advice, reason) = advise(&AdviceInput {
        probability_over_limit: over,
        risk: facts.risk,
        elongation_sd,
        swap_in_days,
        measure_in_days,
        in_use: usage.is_some(),
        contradictory: chain.posterior.is_contradictory(),
    });
    let date = |days: u32| facts.today.checked_add_days(Days::new(u64::from(days)));
    let due_now = advice == Advice::SwapNow;
    let km_per_reference_km =
        usage.map(|usage| usage.km_per_reference_km()).or_else(|| lifetime_ratio(&chain.accrued));
    let remaining = Band::from(life.remaining);
    let mut warnings = chain.warnings(fitted.readings);
    if fitted.readings.is_empty() {
        warnings.push(Warning {
            code: "no_reading".to_owned(),
            message: "This chain was never measured; the outlook rests on its rides alone".to_owned(),
        });
    }
    warnings.extend(facts.skips.iter().map(|skip| Warning {
        code: "skip_reported".to_owned(),
        message: format!(
            "A skip under load was reported on {} on the {}-tooth cog: the cassette's outlook counts it. It can throw the rider: find its cause before the bike goes out",
            skip.reported_at.utc_date(),
            skip.teeth.get()
        ),
    }));
    let cassette = facts.cassette.as_ref().and_then(|wear| cassette(facts, wear, km_per_reference_km));
    let rings = facts.rings.as_ref().map_or_else(Vec::new, |wear| rings(facts, wear));
    let needs = needs(&SwapFacts {
        advice,
        swap_in_days,
        curve: &curve,
        usage: usage.as_ref(),
        knock_on: knock_on_now,
        limit: facts.limit,
        drivetrain: facts.drivetrain,
        cassette: cassette.as_ref(),
        rings: &rings,
        models: facts.models,
    });
    let outlook = Outlook {
        bike_id: facts.bike_id,
        part_id: Some(fitted.part_id),
        computed_at: facts.now,
        advice,
        reason: reason.to_string(),
        limit_percent: facts.limit.get(),
        elongation_percent: Some(life.elongation.into()),
        remaining_km: km_per_reference_km.map(|ratio| remaining.times(ratio)),
        remaining_reference_km: Some(remaining),
        probability_over_limit: Some(over),
        limit_on: usage.map(|_| DateBand {
            p10: day_of(0.1).and_then(date),
            p50: day_of(0.5).and_then(date),
            p90: day_of(0.9).and_then(date),
        }),
        swap_by: if due_now { Some(facts.today) } else { swap_in_days.and_then(date) },
        measure_by: match advice {
            Advice::MeasureBy => measure_in_days.map_or(Some(facts.today), date),
            _ if due_now => None,
            _ => measure_in_days.and_then(date),
        },
        drivers: drivers(&chain.accrued),
        cassette,
        rings,
        warnings,
        basis: basis(facts, Some(fitted), usage),
        curve: curve
            .points()
            .map(|(ahead, probability_over_limit)| CurvePoint {
                ahead_km: ahead * km_per_reference_km.unwrap_or(1.0),
                probability_over_limit,
            })
            .collect(),
    };
    Assessed { outlook, needs }
}

/// The bike's use of late, days without a ride included, up to the day before the present one.
pub(super) fn use_forecast(facts: &BikeFacts<'_>) -> Option<UseForecast> {
    let last = facts.now.utc_date().pred_opt()?;
    let window = Days::new(forecast::SEASON_DAYS as u64 - 1);
    let first = facts.days_since.utc_date().max(last.checked_sub_days(window)?);
    let mut days = Vec::new();
    let mut exposed = facts.days.iter().skip_while(|exposed| exposed.day < first).peekable();
    for day in first.iter_days().take_while(|day| *day <= last) {
        days.push(exposed.next_if(|exposed| exposed.day == day).map_or(DailyUse::default(), |it| it.used));
    }
    UseForecast::from_days(&days)
}

fn lifetime_ratio(accrued: &Accrued) -> Option<f64> {
    (accrued.reference_km > 0.0).then(|| accrued.km / accrued.reference_km)
}

fn drivers(accrued: &Accrued) -> Vec<DriverShare> {
    accrued.parts.shares_percent().map_or_else(Vec::new, |shares| {
        shares
            .iter()
            .map(|&(driver, share_percent)| DriverShare { driver: driver.to_string(), share_percent })
            .collect()
    })
}

/// What each chain did to a set of sprockets, by expectation; the present chain is the last.
fn chain_wear(wear: &[SprocketWear<'_>], shares: &[f64]) -> Vec<ChainWear> {
    wear.iter()
        .map(|stay| {
            let before = if stay.from.get() > 0.0 { stay.chain.knock_on_at(stay.from).accrued } else { 0.0 };
            let accrued = &stay.chain.accrued;
            let share_of_life = if accrued.reference_km > 0.0 {
                (stay.chain.at().get() - stay.from.get()) / accrued.reference_km
            } else {
                0.0
            };
            ChainWear {
                expected_accrued: (stay.chain.knock_on().accrued - before).max(0.0),
                work: shares.iter().map(|share| share * accrued.energy_kj * share_of_life).collect(),
            }
        })
        .collect()
}

fn cassette(
    facts: &BikeFacts<'_>,
    wear: &[SprocketWear<'_>],
    km_per_reference_km: Option<f64>,
) -> Option<CassetteReport> {
    let cogs = facts.drivetrain.cogs();
    let shares = GearShare::usual(facts.drivetrain, facts.usage).by_cog(cogs);
    let chains = chain_wear(wear, &shares);
    let (present, past) = chains.split_last()?;
    let outlook = CassetteOutlook::of(&CassetteFacts {
        cogs,
        build: facts.cassette_build,
        past,
        present,
        chains_before_cog: &[],
        skip_tests: &facts.skips.iter().map(|skip| skip.test).collect::<Vec<_>>(),
        limit: facts.limit,
    })
    .ok()?;
    let stay = wear.last()?;
    let percent_per_km =
        stay.chain.mean_rate() / km_per_reference_km.filter(|ratio| *ratio > 0.0).unwrap_or(1.0);
    let share_now = knock_on::cost_per_km(1.0, stay.chain.knock_on().slope, percent_per_km);
    let share_at_limit = knock_on::cost_per_km(1.0, knock_on::slope(facts.limit.get()), percent_per_km);
    let money =
        |share: f64| facts.cassette_price.map(|price| (price.minor() as f64 * share * 1e3).round() as i64);
    let knock_on::CountQuantiles { p10, p50, p90 } = outlook.chains_to_come;
    Some(CassetteReport {
        sprockets: outlook
            .sprockets
            .iter()
            .map(|sprocket| SprocketDamage {
                teeth: u32::from(sprocket.teeth),
                damage: sprocket.damage,
                probability_skips: sprocket.skips_with_new_chain,
            })
            .collect(),
        probability_skips: outlook.skips_with_new_chain,
        chains_to_come: Band { p10: f64::from(p10), p50: f64::from(p50), p90: f64::from(p90) },
        share_per_km_now: share_now,
        share_per_km_at_limit: share_at_limit,
        cost_per_1000_km_now_minor: money(share_now),
        cost_per_1000_km_at_limit_minor: money(share_at_limit),
    })
}

fn rings(facts: &BikeFacts<'_>, wear: &[SprocketWear<'_>]) -> Vec<RingReport> {
    let rings = facts.drivetrain.rings();
    let shares = GearShare::usual(facts.drivetrain, facts.usage).by_ring(rings);
    let chains = chain_wear(wear, &shares);
    let Some((present, past)) = chains.split_last() else { return Vec::new() };
    let ring_facts = RingFacts { rings, past, present, chains_before_ring: &[], limit: facts.limit };
    RingOutlook::of(&ring_facts).map_or_else(
        |_| Vec::new(),
        |outlook| {
            outlook
                .rings
                .iter()
                .map(|ring| RingReport {
                    teeth: u32::from(ring.teeth),
                    damage: ring.damage / knock_on::RING_THRESHOLD,
                    probability_worn: ring.skips_with_new_chain,
                })
                .collect()
        },
    )
}

fn basis(facts: &BikeFacts<'_>, fitted: Option<&FittedChain<'_>>, usage: Option<UseForecast>) -> Basis {
    let mut assumed = vec![
        "multipliers of surface and water".to_owned(),
        "multiplier of the distance since care".to_owned(),
        "gears by use".to_owned(),
        "knock-on slopes and thresholds".to_owned(),
    ];
    if facts.wear_rate_from == "default" {
        assumed.push("wear rate".to_owned());
    }
    if facts.look_is_assumed {
        assumed.push("prices that decide when a reading pays".to_owned());
    }
    let accrued = fitted.map(|fitted| &fitted.chain.accrued);
    let by_source = accrued.map(|accrued| accrued.by_source).unwrap_or_default();
    let total = by_source.measured + by_source.distance_and_climb + by_source.distance;
    let percent = |part: f64| if total > 0.0 { 100.0 * part / total } else { 0.0 };
    if by_source.distance > 0.0 {
        assumed.push("work per kilometre by use".to_owned());
    }
    if by_source.distance_and_climb > 0.0 {
        assumed.push("rider's mass by use".to_owned());
    }
    Basis {
        readings_used: fitted.map_or(0, |fitted| fitted.readings.len() as u32),
        last_reading_at: fitted.and_then(|fitted| fitted.readings.iter().map(|it| it.taken_at).max()),
        fitted_at: fitted.map(|fitted| fitted.fitted_at),
        distance_km: accrued.map_or(0.0, |accrued| accrued.km),
        reference_km: accrued.map_or(0.0, |accrued| accrued.reference_km),
        energy_source_percent: EnergySourcePercent {
            measured: percent(by_source.measured),
            distance_and_climb: percent(by_source.distance_and_climb),
            distance: percent(by_source.distance),
        },
        reference_km_per_day: usage.map(|usage| usage.reference_km_per_day()),
        km_per_reference_km: usage.map(|usage| usage.km_per_reference_km()),
        wear_rate_from: facts.wear_rate_from.clone(),
        assumed,
    }
}
