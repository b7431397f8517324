//! What costs least for a group of bikes, what it rests on, and other prices to try.

use std::collections::HashMap;

use actix_web::{get, web};
use askama::Template;
use wear_core::policy::{Alternative, Cause, ChoiceCost, LimitCost, PolicyReason, Spread};

use super::coming_year::{self as coming_year_page, ComingYearShown};
use super::failure::Failure;
use super::frame::{Frame, Viewer};
use super::plot::{self, CostAt, CostCurve};
use super::{Answer, html};
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
        self.words.money((cost * self.times).round() as i64)
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
        errors,
        f,
    })
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
    let to_the_end = curve.to_the_end.worth_taking();
    let currency = policy.currency.to_string();
    PolicyShown {
        group: policy.group.to_string(),
        verdict: if to_the_end { f.policy_end() } else { f.policy_limit(f.percent(best.limit_percent, 2)) },
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
        models: policy.chain_models.iter().map(|choice| model(f, choice, &money)).collect(),
        lubricants: policy.lubricants.iter().map(|choice| lubricant(f, choice, &money)).collect(),
        causes_title: f.policy_where(f.percent(best.limit_percent, 2)),
        causes: causes(f, &best.mean, &money),
        prices_title: f.policy_prices(&currency),
        prices: prices(f, &policy.prices),
        basis: basis(f, policy),
        per,
    }
}

fn lines(f: &Frame, policy: &Policy, money: &Money1000<'_>, per: &str) -> Vec<String> {
    let curve = &policy.curve;
    let best = curve.best_point();
    let reason = curve.reason();
    let cost = match reason {
        PolicyReason::ToTheEnd { .. } => curve.to_the_end.cost,
        _ => best.cost,
    };
    let Spread { p10, p50, p90 } = cost;
    let mut lines = vec![f.policy_cost(money.text(p50), per, money.text(p10), money.text(p90))];
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
    let saves = 100.0 * against.more_than_best.p50 / against.cost.p50.max(f64::MIN_POSITIVE);
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
    let mut ways = vec![WayShown {
        name: f.policy_way_best(percent(best.limit_percent)),
        cost: money.text(best.cost.p50),
        more: String::new(),
        verdict: String::new(),
    }];
    let mut add = |name: String, other: &Alternative| ways.push(way(f, name, other, money));
    if percent(policy.current_percent) != percent(best.limit_percent) {
        add(f.policy_way_current(percent(policy.current_percent)), &curve.current);
    }
    add(f.policy_way_end(), &curve.to_the_end);
    for turn in &curve.rotations {
        add(f.policy_way_turn(turn.chains, percent(turn.off_percent)), &turn.against_best);
    }
    if let Some(whole) = &curve.whole_cassette {
        add(f.policy_way_whole(), whole);
    }
    ways
}

fn way(f: &Frame, name: String, other: &Alternative, money: &Money1000<'_>) -> WayShown {
    let more = other.more_than_best.p50;
    let dearer = other.dearer_probability;
    WayShown {
        name,
        cost: money.text(other.cost.p50),
        more: if more >= 0.0 {
            f.policy_dearer(money.text(more))
        } else {
            f.policy_cheaper(money.text(-more))
        },
        verdict: verdict(f, dearer),
    }
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

fn model(f: &Frame, choice: &ChainChoice, money: &Money1000<'_>) -> ModelShown {
    against_in_use(f, (&choice.model.1, choice.is_in_use()), &choice.cost, money)
}

fn lubricant(f: &Frame, choice: &LubricantChoice, money: &Money1000<'_>) -> ModelShown {
    against_in_use(f, (&choice.lubricant.1, choice.is_in_use()), &choice.cost, money)
}

fn against_in_use(
    f: &Frame,
    (name, is_in_use): (&str, bool),
    choice: &ChoiceCost,
    money: &Money1000<'_>,
) -> ModelShown {
    let cost = money.text(choice.cost.p50);
    if is_in_use {
        let way =
            WayShown { name: f.policy_model_in_use(name), cost, more: String::new(), verdict: String::new() };
        return ModelShown { way, tell: String::new() };
    }
    let more = choice.more_than_in_use.p50;
    let more =
        if more >= 0.0 { f.policy_dearer(money.text(more)) } else { f.policy_cheaper(money.text(-more)) };
    let verdict = verdict(f, 1.0 - choice.cheaper_probability);
    ModelShown {
        way: WayShown { name: name.to_owned(), cost, more, verdict },
        tell: match choice.chains_to_tell {
            Some(0) => f.policy_model_told(),
            Some(chains) => chains.to_string(),
            None => f.policy_model_close(),
        },
    }
}

fn causes(f: &Frame, mean: &LimitCost, money: &Money1000<'_>) -> Vec<(String, String)> {
    let LimitCost { chains, cassettes, rings, looks, failures } = mean;
    vec![
        (f.policy_chains(), money.text(*chains)),
        (f.policy_cassettes(), money.text(*cassettes)),
        (f.policy_rings(), money.text(*rings)),
        (f.policy_looks(), money.text(*looks)),
        (f.policy_failures(), money.text(*failures)),
        (f.policy_total(), money.text(mean.total())),
    ]
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
