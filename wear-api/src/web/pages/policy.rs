//! What costs least for a group of bikes, what it rests on, and other prices to try.

use std::collections::HashMap;

use actix_web::{get, post, web};
use askama::Template;
use wear_core::policy::{Alternative, Cause, ChoiceCost, LimitCost, PolicyReason, Spread};
use wear_core::units::Limit;

use super::coming_year::{self as coming_year_page, ComingYearShown};
use super::failure::Failure;
use super::frame::{Frame, Posted, Viewer};
use super::plot::{self, CostAt, CostCurve};
use super::{Answer, encoded, html, see};
use crate::words::{Words, parse_number};
use wear_core::bike::RateSource;

use crate::domain::{ChainChoice, GroupName, LubricantChoice, Money, Policy, PolicyPrices, PriceWishes};
use crate::service::{Services, bikes, coming_year, policy};
use crate::web::auth::Manager;

/// The prices that can be tried, as the form names them.
const PRICES: [&str; 7] = ["chain", "cassette", "rings", "cog", "labour", "reading", "failure"];

/// Probability from which a way is called surely dearer or cheaper (A) …
const SURE: f64 = 0.95;

/// … and from which likely so (A).
const LIKELY: f64 = 0.7;

#[derive(Template)]
#[template(path = "policy.html")]
struct PolicyPage {
    f: Frame,
    groups: Vec<(String, bool)>,
    shown: Option<PolicyShown>,
    coming: Option<ComingYearShown>,
    adopted: Option<String>,
    errors: Vec<String>,
}

struct PolicyShown {
    group: String,
    verdict: String,
    lines: Vec<String>,
    cautions: Vec<String>,
    plot: Option<String>,
    plot_title: String,
    per: String,
    ways: Vec<WayShown>,
    /// Why chains in turn cost what they cost.
    turns: Option<String>,
    bikes: i64,
    models: Vec<ModelShown>,
    lubricants: Vec<ModelShown>,
    causes_title: String,
    causes: Vec<(String, String)>,
    prices_title: String,
    prices: Vec<PriceShown>,
    basis: Vec<String>,
}

struct WayShown {
    name: String,
    cost: String,
    more: String,
    verdict: String,
    /// The limit, as it is sent, where it can be taken over with a button.
    adopt: Option<String>,
}

/// A model of chain, or a lubricant, against the one in use.
struct ModelShown {
    way: WayShown,
    tell: String,
}

struct PriceShown {
    name: &'static str,
    text: String,
    typed: String,
}

/// Costs of the core, per 1,000 reference km, as money for a thousand of the workshop's units.
struct Money1000<'a> {
    words: &'a Words,
    times: f64,
}

impl Money1000<'_> {
    fn text(&self, cost: f64) -> String {
        self.words.money(self.minor(cost))
    }

    fn minor(&self, cost: f64) -> i64 {
        (cost * self.times).round() as i64
    }

    /// How much more than another cost it is, between the two as they are shown.
    fn more(&self, cost: f64, than: f64) -> String {
        let more = self.minor(cost) - self.minor(than);
        match more {
            0 => self.words.policy_alike(),
            1.. => self.words.policy_dearer(self.words.money(more)),
            _ => self.words.policy_cheaper(self.words.money(-more)),
        }
    }

    /// Costs as they are shown, so that they come to the whole as it is shown: the largest bears what rounding leaves.
    fn parts(&self, costs: &[f64]) -> Vec<String> {
        let whole = self.minor(costs.iter().sum());
        let mut minor: Vec<i64> = costs.iter().map(|cost| self.minor(*cost)).collect();
        let left = whole - minor.iter().sum::<i64>();
        if let Some(largest) = minor.iter_mut().max() {
            *largest += left;
        }
        minor.into_iter().chain([whole]).map(|minor| self.words.money(minor)).collect()
    }

    fn whole(&self, cost: f64) -> f64 {
        cost * self.times / 10_f64.powi(self.words.decimals_of_money() as i32)
    }
}

#[get("/policy")]
pub(super) async fn page(
    viewer: Viewer<Manager>,
    services: web::Data<Services>,
    query: web::Query<HashMap<String, String>>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let groups = bikes::groups(&services, &actor).await?;
    let asked = query.get("group").map(|name| name.trim()).unwrap_or_default();
    let largest = groups.iter().max_by_key(|(_, bikes)| *bikes);
    let group =
        groups.iter().find(|(name, _)| name.as_str() == asked).or(largest).map(|(name, _)| name.clone());
    let mut errors = Vec::new();
    let wishes = wishes(&f, &query, &mut errors);
    let shown = match &group {
        None => None,
        Some(group) => {
            let facts = policy::facts(&services, &actor, group.clone(), wishes).await?;
            let policy = web::block(move || facts.policy()).await.map_err(|_| Failure::Internal)??;
            Some(shown(&f, &policy))
        }
    };
    // Of the group that was asked for, else of all bikes.
    let of = group.clone().filter(|group| group.as_str() == asked);
    let gathered = coming_year::gather(&services, &actor, of).await?;
    let ahead = web::block(move || gathered.count()).await.map_err(|_| Failure::Internal)?;
    let chosen = |name: &GroupName| group.as_ref() == Some(name);
    html(&PolicyPage {
        groups: groups.iter().map(|(name, _)| (name.as_str().to_owned(), chosen(name))).collect(),
        shown,
        coming: coming_year_page::shown(&f, &ahead),
        adopted: adopted(&f, &query, group.as_ref()),
        errors,
        f,
    })
}

/// What a limit that was taken over means.
fn adopted(f: &Frame, query: &HashMap<String, String>, group: Option<&GroupName>) -> Option<String> {
    let limit =
        query.get("adopted").and_then(|limit| limit.parse().ok()).and_then(|it| Limit::new(it).ok())?;
    let bikes: i64 = query.get("bikes")?.parse().ok()?;
    Some(f.policy_adopted(bikes, group?.as_str(), f.percent(limit.get(), 2)))
}

/// Takes a limit over for all bikes of the group.
#[post("/policy/adopt")]
pub(super) async fn take_over(posted: Posted<Manager>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, .. }, fields } = posted;
    let group = GroupName::new(fields.get("group")).map_err(|_| Failure::Garbled)?;
    let limit = fields.get("limit").parse().ok().and_then(|limit| Limit::new(limit).ok());
    let limit = limit.ok_or(Failure::Garbled)?;
    let bikes = services
        .change(&actor, async |work| policy::adopt(&services, work, group.clone(), limit).await)
        .await?;
    let group = encoded(group.as_str());
    Ok(see(format!("/policy?group={group}&adopted={}&bikes={bikes}", limit.get())))
}

fn wishes(f: &Frame, typed: &HashMap<String, String>, errors: &mut Vec<String>) -> PriceWishes {
    let mut wish = |name: &str| {
        let text = typed.get(name).map(|text| text.trim()).filter(|text| !text.is_empty())?;
        let minor = parse_number(text).map(|amount| amount * 10_f64.powi(f.decimals_of_money() as i32));
        let minor = minor.filter(|minor| (0.0..=Money::MAXIMUM_MINOR as f64).contains(minor));
        if minor.is_none() {
            errors.push(f.policy_bad_price(text.chars().take(24).collect::<String>()));
        }
        minor.map(|minor| minor.round() as i64)
    };
    let [
        chain_minor,
        cassette_minor,
        rings_minor,
        cog_minor,
        swap_labour_minor,
        reading_minor,
        failure_minor,
    ] = PRICES.map(&mut wish);
    PriceWishes {
        chain_minor,
        cassette_minor,
        rings_minor,
        cog_minor,
        swap_labour_minor,
        reading_minor,
        failure_minor,
    }
}

fn shown(f: &Frame, policy: &Policy) -> PolicyShown {
    let words = f.words();
    let curve = &policy.curve;
    // A thousand miles are more kilometres than a thousand kilometres.
    let km = 1_000_000.0 / words.in_units(1_000.0);
    let money = Money1000 { words, times: km / 1_000.0 / policy.km_per_reference_km };
    let per = words.thousand();
    let points: Vec<CostAt> = curve
        .points
        .iter()
        .map(|point| CostAt {
            limit: point.limit_percent,
            low: money.whole(point.cost.p10),
            likely: money.whole(point.cost.p50),
            high: money.whole(point.cost.p90),
        })
        .collect();
    let best = curve.best_point();
    let currency = policy.currency.to_string();
    PolicyShown {
        group: policy.group.to_string(),
        verdict: headline(f, policy),
        lines: lines(f, policy, &money, &per),
        cautions: cautions(f, policy),
        plot: plot::cost(
            words,
            &CostCurve {
                points: &points,
                best: curve.best,
                current: policy.current_percent,
                per: &per,
                currency: &currency,
            },
        ),
        plot_title: f.policy_plot_title(&per),
        ways: ways(f, policy, &money),
        turns: turns(f, policy, &money, &per),
        bikes: policy.bikes,
        models: models(f, &policy.chain_models, &money),
        lubricants: lubricants(f, &policy.lubricants, &money),
        causes_title: f.policy_where(f.percent(best.limit_percent, 2)),
        causes: causes(f, &best.mean, &money),
        prices_title: f.policy_prices(&currency),
        prices: prices(f, &policy.prices),
        basis: basis(f, policy),
        per,
    }
}

/// What to do, in a line.
fn headline(f: &Frame, policy: &Policy) -> String {
    let curve = &policy.curve;
    let (best, current) =
        (f.percent(curve.best_point().limit_percent, 2), f.percent(policy.current_percent, 2));
    if curve.to_the_end.worth_taking() {
        f.policy_end()
    } else if best == current || !curve.current.worth_leaving() {
        f.policy_keep(current)
    } else {
        f.policy_limit(best, current)
    }
}

/// Why chains in turn cost what they cost: the work of changing them over.
fn turns(f: &Frame, policy: &Policy, money: &Money1000<'_>, per: &str) -> Option<String> {
    let two = policy.curve.rotations.first()?;
    let every = f.about(policy::TURN_KM * policy.km_per_reference_km);
    let work = money.text(two.against_best.mean.looks);
    let rest = money.text(two.against_best.mean.total() - two.against_best.mean.looks);
    Some(f.policy_turn_why(every, work, per, rest))
}

fn lines(f: &Frame, policy: &Policy, money: &Money1000<'_>, per: &str) -> Vec<String> {
    let curve = &policy.curve;
    let best = curve.best_point();
    let reason = curve.reason();
    let (mean, cost) = match reason {
        PolicyReason::ToTheEnd { .. } => (curve.to_the_end.mean, curve.to_the_end.cost),
        _ => (best.mean, best.cost),
    };
    let Spread { p10, p90, .. } = cost;
    let limit = f.percent(best.limit_percent, 2);
    let mut lines = vec![match reason {
        PolicyReason::ToTheEnd { .. } => {
            f.policy_cost_end(money.text(mean.total()), per, money.text(p10), money.text(p90))
        }
        _ => f.policy_cost(limit, money.text(mean.total()), per, money.text(p10), money.text(p90)),
    }];
    match reason {
        PolicyReason::Between { earlier, later, .. } => {
            lines.push(f.policy_between(f.cost_cause(earlier), f.cost_cause(later)));
        }
        PolicyReason::Lowest { later, .. } => lines.push(f.policy_lowest(f.cost_cause(later))),
        PolicyReason::Highest { earlier, .. } => lines.push(f.policy_highest(f.cost_cause(earlier))),
        PolicyReason::ToTheEnd { percent } => {
            lines.push(f.policy_to_the_end(f.percent(percent, 0)));
            return lines;
        }
        _ => {}
    }
    let every = f.about(best.look_every_km * policy.km_per_reference_km);
    let (low, high) = (f.percent(curve.best_by_scenario.p10, 2), f.percent(curve.best_by_scenario.p90, 2));
    lines.push(if low == high { f.policy_exact(low, every) } else { f.policy_interval(low, high, every) });
    let current = f.percent(policy.current_percent, 2);
    let against = &curve.current;
    let (dearer, cheapest) = (against.mean.total(), best.mean.total());
    let saves = 100.0 * (dearer - cheapest) / dearer.max(f64::MIN_POSITIVE);
    let (saves, sure) = (f.percent(saves.max(0.0), 0), f.chance(against.dearer_probability));
    lines.push(if current == f.percent(best.limit_percent, 2) {
        f.policy_same(current)
    } else if against.worth_leaving() {
        f.policy_worth(current, saves, sure)
    } else {
        f.policy_not_worth(current, saves, sure)
    });
    lines
}

fn cautions(f: &Frame, policy: &Policy) -> Vec<String> {
    let mut cautions = Vec::new();
    if policy.goes_beyond_trade_limit() {
        cautions.push(f.policy_beyond(f.percent(policy.trade_percent, 2)));
    }
    if policy.prices.failure_minor == 0 {
        cautions.push(f.policy_free_failure());
    }
    cautions
}

fn ways(f: &Frame, policy: &Policy, money: &Money1000<'_>) -> Vec<WayShown> {
    let curve = &policy.curve;
    let best = curve.best_point();
    let percent = |value: f64| f.percent(value, 2);
    let (current_shown, best_shown) = (percent(policy.current_percent), percent(best.limit_percent));
    // Beyond the trade's limit nobody is led by a button.
    let adopt = |limit: f64| {
        let offered = limit <= policy.trade_percent + 1e-9 && percent(limit) != current_shown;
        offered.then(|| format!("{limit:.2}"))
    };
    let cheapest = best.mean.total();
    let other = |name: String, other: &Alternative, adopt: Option<String>| WayShown {
        name,
        cost: money.text(other.mean.total()),
        more: money.more(other.mean.total(), cheapest),
        verdict: verdict(f, other.dearer_probability),
        adopt,
    };
    let name = if best_shown == current_shown {
        f.policy_way_best_in_use(best_shown.clone())
    } else {
        f.policy_way_best(best_shown.clone())
    };
    let cost = money.text(cheapest);
    let mut limits = vec![(
        best.limit_percent,
        WayShown {
            name,
            cost,
            more: String::new(),
            verdict: String::new(),
            adopt: adopt(best.limit_percent),
        },
    )];
    if current_shown != best_shown {
        let shown = other(f.policy_way_current(current_shown.clone()), &curve.current, None);
        limits.push((policy.current_percent, shown));
    }
    for usual in &curve.usual {
        let shown = percent(usual.limit_percent);
        if shown != best_shown && shown != current_shown {
            let adopt = adopt(usual.limit_percent);
            limits.push((usual.limit_percent, other(f.policy_way_usual(shown), &usual.against_best, adopt)));
        }
    }
    limits.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut ways: Vec<WayShown> = limits.into_iter().map(|(_, way)| way).collect();
    ways.push(other(f.policy_way_end(), &curve.to_the_end, None));
    for turn in &curve.rotations {
        let name = f.policy_way_turn(turn.chains, percent(turn.off_percent));
        ways.push(other(name, &turn.against_best, None));
    }
    if let Some(whole) = &curve.whole_cassette {
        ways.push(other(f.policy_way_whole(), whole, None));
    }
    ways
}

fn verdict(f: &Frame, dearer: f64) -> String {
    if dearer >= SURE {
        f.policy_surely_dearer()
    } else if dearer >= LIKELY {
        f.policy_likely_dearer()
    } else if dearer > 1.0 - LIKELY {
        f.policy_open()
    } else if dearer > 1.0 - SURE {
        f.policy_likely_cheaper()
    } else {
        f.policy_surely_cheaper()
    }
}

fn models(f: &Frame, choices: &[ChainChoice], money: &Money1000<'_>) -> Vec<ModelShown> {
    let in_use = choices.iter().find(|choice| choice.is_in_use()).map(|choice| choice.cost.mean);
    let one = |choice: &ChainChoice| {
        against_in_use(f, (&choice.model.1, choice.is_in_use()), &choice.cost, in_use, money)
    };
    choices.iter().map(one).collect()
}

fn lubricants(f: &Frame, choices: &[LubricantChoice], money: &Money1000<'_>) -> Vec<ModelShown> {
    let in_use = choices.iter().find(|choice| choice.is_in_use()).map(|choice| choice.cost.mean);
    let one = |choice: &LubricantChoice| {
        against_in_use(f, (&choice.lubricant.1, choice.is_in_use()), &choice.cost, in_use, money)
    };
    choices.iter().map(one).collect()
}

fn against_in_use(
    f: &Frame,
    (name, is_in_use): (&str, bool),
    choice: &ChoiceCost,
    in_use: Option<f64>,
    money: &Money1000<'_>,
) -> ModelShown {
    let cost = money.text(choice.mean);
    if is_in_use {
        let (more, verdict) = (String::new(), String::new());
        let way = WayShown { name: f.policy_model_in_use(name), cost, more, verdict, adopt: None };
        return ModelShown { way, tell: String::new() };
    }
    let more = in_use.map(|in_use| money.more(choice.mean, in_use)).unwrap_or_default();
    let verdict = verdict(f, 1.0 - choice.cheaper_probability);
    ModelShown {
        way: WayShown { name: name.to_owned(), cost, more, verdict, adopt: None },
        tell: match choice.chains_to_tell {
            Some(0) => f.policy_model_told(),
            Some(chains) => chains.to_string(),
            None => f.policy_model_close(),
        },
    }
}

fn causes(f: &Frame, mean: &LimitCost, money: &Money1000<'_>) -> Vec<(String, String)> {
    let LimitCost { chains, cassettes, rings, looks, failures } = *mean;
    let names = [
        f.policy_chains(),
        f.policy_cassettes(),
        f.policy_rings(),
        f.policy_looks(),
        f.policy_failures(),
        f.policy_total(),
    ];
    names.into_iter().zip(money.parts(&[chains, cassettes, rings, looks, failures])).collect()
}

fn prices(f: &Frame, prices: &PolicyPrices) -> Vec<PriceShown> {
    let PolicyPrices {
        chain_minor,
        cassette_minor,
        rings_minor,
        cog_minor,
        swap_labour_minor,
        reading_minor,
        failure_minor,
    } = *prices;
    let values = [
        (f.policy_price_chain(), Some(chain_minor)),
        (f.policy_price_cassette(), Some(cassette_minor)),
        (f.policy_price_rings(), Some(rings_minor)),
        (f.policy_price_cog(), cog_minor),
        (f.policy_price_labour(), Some(swap_labour_minor)),
        (f.policy_price_reading(), Some(reading_minor)),
        (f.policy_price_failure(), Some(failure_minor)),
    ];
    let decimals = f.decimals_of_money();
    PRICES
        .into_iter()
        .zip(values)
        .map(|(name, (text, minor))| PriceShown {
            name,
            text,
            typed: minor
                .map(|minor| f.typed(minor as f64 / 10_f64.powi(decimals as i32), decimals))
                .unwrap_or_default(),
        })
        .collect()
}

fn basis(f: &Frame, policy: &Policy) -> Vec<String> {
    let mut basis = vec![match &policy.wear_rate_from {
        RateSource::Default => f.policy_rate_default(),
        RateSource::Fleet { chains_read } => f.policy_rate_fleet(chains_read),
        RateSource::Group { group, chains_read } => f.policy_rate_group(chains_read, group),
    }];
    if !policy.assumed.is_empty() {
        let list: Vec<String> = policy.assumed.iter().map(|it| f.said(it)).collect();
        basis.push(f.policy_assumed(list.join(", ")));
    }
    basis.push(f.policy_bikes(policy.bikes));
    basis
}

impl Words {
    /// What a cost comes from.
    fn cost_cause(&self, cause: Cause) -> String {
        match cause {
            Cause::Chains => self.policy_chains(),
            Cause::Cassettes => self.policy_cassettes(),
            Cause::Rings => self.policy_rings(),
            Cause::Looks => self.policy_looks(),
            Cause::Failures => self.policy_failures(),
            _ => self.policy_total(),
        }
    }
}
