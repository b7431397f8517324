//! Fleets that break one assumption at a time: what comes back is what is true, and answers are nearly as good as those of
//! a filter that is told it. `cargo run --release -p wear-core --example worlds` prints all of them.

mod world;

use wear_core::degradation::FastPhase;
use wear_core::reading::Instrument;
use world::{GOOD_DIAL, GOOD_RULE, TrueCalendar, World, answered, learned, plain, simulate, tool, tried};

#[test]
fn a_rule_that_reads_low_is_found_and_allowed_for() {
    let rule = |bias| tool(Instrument::Rule, Some("workshop"), bias, 0.06);
    for (bias, tools) in [(-0.08, vec![rule(-0.08)]), (0.08, vec![rule(0.08), GOOD_DIAL])] {
        let world = World { tools, seed: 500, ..plain() };
        let chains = simulate(&world);
        let fit = learned(&chains, true);
        let found = fit.tools.tools().find(|(tool, _)| tool.name.as_deref() == Some("workshop"));
        let (_, found) = found.expect("it was read with");
        assert!((found.bias - bias).abs() < 0.025 && found.sd < 0.015, "{found:?}");
        let tried = tried(&world, &chains, &fit);
        // 120 chains: by chance alone the share before P10 is 10 ± 3.
        assert!(tried.learned.loss < 1.1 * tried.oracle.loss, "{} {tried:?}", world.name);
        assert!(tried.learned.before < tried.oracle.before + 14.0, "{tried:?}");
        // As if every tool of its kind were right: the readings as they are, with the same rates.
        let blind = world::judged(&chains, |place, chain| {
            world::predict(&world, &fit.parameters_of_chain(place), &chain.readings, chain.at)
        });
        assert!(blind.loss > 1.1 * tried.oracle.loss, "{blind:?} {tried:?}");
    }
}

#[test]
fn a_gauge_entered_as_the_other_kind_is_found_beside_a_rule() {
    let gauge = tool(Instrument::DropIn, Some("gauge"), 0.0, 0.05);
    let world = World { tools: vec![gauge, GOOD_RULE], seed: 1_400, ..plain() };
    let fit = learned(&simulate(&world), true);
    let (_, found) = fit.tools.tools().find(|(tool, _)| tool.instrument == Instrument::DropIn).expect("read");
    assert!(found.bias.abs() < 0.06 && found.bias.abs() < 3.0 * found.sd, "{found:?}");
}

#[test]
fn two_mechanics_are_told_apart() {
    let persons = vec![("high", 0.05, 1.0), ("low", -0.05, 1.6)];
    let world = World { persons, seed: 700, ..plain() };
    let chains = simulate(&world);
    let fit = learned(&chains, true);
    let of = |name: &str| fit.tools.persons().find(|(person, _)| *person == name).expect("they read").1;
    assert!((of("high").bias - of("low").bias - 0.10).abs() < 0.02, "{:?} {:?}", of("high"), of("low"));
    assert!((1.25..1.9).contains(&(of("low").spread / of("high").spread)), "{:?}", of("low"));
    let named = tried(&world, &chains, &fit);
    let unnamed = answered(&world, &chains, &learned(&chains, false), false);
    assert!(named.learned.loss < 1.06 * named.oracle.loss, "{named:?}");
    assert!(unnamed.loss > 1.02 * named.learned.loss, "{unnamed:?} {named:?}");
}

#[test]
fn a_bike_that_keeps_its_wear_tells_of_its_next_chain() {
    let world = World { kappa: 0.85, tau: 0.35, bikes: 40, chains_a_bike: 4, seed: 800, ..plain() };
    let chains = simulate(&world);
    let fit = learned(&chains, true);
    assert!((0.5..=0.95).contains(&fit.bike_share), "{}", fit.bike_share);
    let named = tried(&world, &chains, &fit);
    let unnamed = answered(&world, &chains, &learned(&chains, false), false);
    assert!(named.learned.loss < 1.1 * named.oracle.loss, "{named:?}");
    assert!(unnamed.loss > 1.05 * named.learned.loss, "{unnamed:?} {named:?}");
    // Chains that share nothing but their group have bikes of no account.
    let world = World { kappa: 0.0, ..world };
    assert!(learned(&simulate(&world), true).bike_share < 0.35);
}

#[test]
fn an_early_fast_phase_is_found_and_none_is_made_up() {
    let fast = FastPhase::new(0.5, 3.0).expect("fast phase");
    let world = World { fast, limit: 1.0, readings: 6, seed: 1_000, ..plain() };
    let chains = simulate(&world);
    let fit = learned(&chains, true);
    assert!(fit.fast_phase_sought && (0.4..0.75).contains(&fit.fast_phase.onset()), "{:?}", fit.fast_phase);
    let tried = tried(&world, &chains, &fit);
    assert!(tried.learned.loss < 1.15 * tried.oracle.loss, "{tried:?}");
    let steady = World { fast: FastPhase::NONE, ..world };
    assert_eq!(learned(&simulate(&steady), true).fast_phase, FastPhase::NONE);
}

#[test]
fn wear_that_grows_over_the_calendar_is_found_and_none_is_made_up() {
    let calendar = TrueCalendar { per_year: 1.4_f64.ln(), km_a_day: 10.0, goes_on: true };
    let world = World { calendar: Some(calendar), chains_a_bike: 3, bikes: 80, seed: 1_700, ..plain() };
    let chains = simulate(&world);
    let fit = learned(&chains, true);
    let found = fit.drift.expect("all chains have days");
    assert!((found.per_year - calendar.per_year).abs() < 3.0 * found.sd && found.sd < 0.08, "{found:?}");
    let dated = tried(&world, &chains, &fit);
    // 80 chains: by chance alone the share before P10 is 10 ± 3.4.
    assert!(dated.learned.loss < 1.1 * dated.oracle.loss && dated.learned.before < 20.0, "{dated:?}");
    let undated = answered(&world, &chains, &learned(&chains, false), false);
    assert!(undated.loss > 1.3 * dated.learned.loss, "{undated:?} {dated:?}");
    let steady = World { calendar: Some(TrueCalendar { per_year: 0.0, ..calendar }), ..world };
    let found = learned(&simulate(&steady), true).drift.expect("all chains have days");
    assert!(found.per_year.abs() < 3.0 * found.sd, "{found:?}");
}
