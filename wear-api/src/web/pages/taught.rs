//! What a fleet has taught, as sections of a page.

use wear_core::degradation::WearParameters;
use wear_core::fleet::LearnedBias;

use super::frame::Frame;
use super::plot;
use crate::domain::{
    BiasToDo, CassettesSaid, FleetRate, Instrument, LubricantEffect, ModelEffect, PersonBias, Tool, ToolBias,
    Workshop, drift_said,
};
use crate::service::calibration::{FEWEST_CHAINS, Known};

/// Standard normal deviate of P90.
const P90: f64 = 1.281_551_565_544_6;

/// Beyond the onset of the fast phase, how much further on its pace is told, percent.
const FURTHER: f64 = 0.25;

/// A person's spread this far from the usual one is worth a word (A).
const WORTH_A_WORD: f64 = 0.15;

/// One thing that was learned.
pub(super) struct Section {
    /// For the heading's anchor.
    pub anchor: &'static str,
    pub title: String,
    pub lines: Vec<String>,
    pub plot: Option<String>,
    pub table: Option<Table>,
    /// Address and text of a link.
    pub link: Option<(&'static str, String)>,
}

/// A table: the first column names the row.
pub(super) struct Table {
    pub first: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
}

pub(super) struct Column {
    pub name: String,
    pub is_amount: bool,
}

pub(super) struct Row {
    pub name: String,
    pub cells: Vec<String>,
}

impl Row {
    /// The cells with their columns.
    pub fn of<'a>(&'a self, table: &'a Table) -> impl Iterator<Item = (&'a Column, &'a String)> {
        table.columns.iter().zip(&self.cells)
    }
}

/// Something that would teach, with an address where it is done.
pub(super) struct ToDo {
    pub text: String,
    pub link: Option<&'static str>,
}

impl ToDo {
    const fn plain(text: String) -> Self {
        Self { text, link: None }
    }
}

fn words(name: String) -> Column {
    Column { name, is_amount: false }
}

fn amounts(name: String) -> Column {
    Column { name, is_amount: true }
}

/// Everything that was learned, what is read with first.
pub(super) fn sections(f: &Frame, known: &Known, in_use: &[Tool]) -> Vec<Section> {
    let mut sections = Vec::new();
    if !known.rates.is_empty() || !in_use.is_empty() {
        sections.push(tools(f, known, in_use));
    }
    if !known.people.is_empty() {
        sections.push(people(f, &known.people));
    }
    if let Some(fleet) = known.rates.first() {
        sections.extend([rates(f, &known.rates), models(f, &known.models), lubricants(f, &known.lubricants)]);
        if !known.conditions.is_empty() {
            sections.push(conditions(f, known));
        }
        sections.push(course(f, known, fleet));
    }
    sections.extend([seasons(f, known), cassettes(f, known)]);
    sections
}

fn named(f: &Frame, learned: &ToolBias, in_use: &[Tool]) -> String {
    match &learned.tool {
        None => f.calibration_unnamed(f.instrument(learned.instrument)),
        Some((id, name)) if in_use.iter().any(|tool| tool.id == *id) => name.to_string(),
        Some((_, name)) => f.calibration_retired(name),
    }
}

/// What makes a tool better known; nothing does for one that is out of use.
fn to_do_with(learned: &ToolBias, in_use: &[Tool]) -> Option<BiasToDo> {
    let retired = learned.tool.as_ref().is_some_and(|(id, _)| !in_use.iter().any(|tool| tool.id == *id));
    learned.to_do().filter(|_| !retired)
}

/// Tools in use of which no reading has told anything yet, with what would.
fn untold<'a>(known: &Known, in_use: &'a [Tool]) -> impl Iterator<Item = (&'a Tool, BiasToDo)> {
    let is_told =
        |tool: &Tool| known.tools.iter().any(|it| it.tool.as_ref().is_some_and(|(id, _)| *id == tool.id));
    let untold: Vec<&Tool> = in_use.iter().filter(|tool| !is_told(tool)).collect();
    untold.into_iter().map(|tool| {
        let gauge = tool.instrument.is_gauge();
        (tool, if gauge { BiasToDo::GaugeAndRule } else { BiasToDo::NewChainWithTool })
    })
}

fn tools(f: &Frame, known: &Known, in_use: &[Tool]) -> Section {
    let better = |to_do: Option<BiasToDo>| match to_do {
        Some(to_do) => f.said(&to_do),
        None => f.calibration_known(),
    };
    let told = known.tools.iter().map(|learned| Row {
        name: named(f, learned, in_use),
        cells: vec![
            f.said(&learned.said()),
            f.number(learned.bias.readings as f64, 0),
            better(to_do_with(learned, in_use)),
        ],
    });
    let untold = untold(known, in_use).map(|(tool, to_do)| Row {
        name: tool.name.to_string(),
        cells: vec![f.calibration_untold(), f.number(0.0, 0), f.said(&to_do)],
    });
    Section {
        anchor: "tools",
        title: f.tools_title(),
        lines: vec![f.calibration_tools_text()],
        plot: None,
        table: Some(Table {
            first: f.tools_tool(),
            columns: vec![
                words(f.calibration_reads()),
                amounts(f.track_readings()),
                words(f.calibration_better()),
            ],
            rows: told.chain(untold).collect(),
        }),
        link: Some(("/tools", f.tools_link())),
    }
}

fn people(f: &Frame, people: &[PersonBias]) -> Section {
    let row = |person: &PersonBias| {
        let LearnedBias { readings, spread, .. } = person.bias;
        let reads = f.said(&person.said());
        let scatters = (spread - 1.0).abs() >= WORTH_A_WORD;
        Row {
            name: person.name.clone(),
            cells: vec![
                if scatters { f.calibration_scatters(reads, f.number(spread, 1)) } else { reads },
                f.number(readings as f64, 0),
                person.to_do().map_or_else(|| f.calibration_known(), |to_do| f.said(&to_do)),
            ],
        }
    };
    Section {
        anchor: "people",
        title: f.calibration_people(),
        lines: vec![f.calibration_people_text()],
        plot: None,
        table: Some(Table {
            first: f.calibration_person(),
            columns: vec![
                words(f.calibration_reads()),
                amounts(f.track_readings()),
                words(f.calibration_better()),
            ],
            rows: people.iter().map(row).collect(),
        }),
        link: None,
    }
}

/// Percent per thousand of the workshop's unit: most likely, and the span of 8 cases in 10 with that spread.
fn pace(f: &Frame, ln_rate: f64, ln_sd: f64) -> (String, String, String) {
    let far = f.km_of(1_000.0);
    let percent = |deviates: f64| far * (ln_rate + deviates * ln_sd).exp();
    (f.percent(percent(0.0), 3), f.number(percent(-P90), 3), f.percent(percent(P90), 3))
}

fn rates(f: &Frame, rates: &[FleetRate]) -> Section {
    let row = |rate: &FleetRate| {
        let ln_rate = rate.parameters.mean_log_rate();
        let (likely, low, high) = pace(f, ln_rate, rate.mean_log_rate_sd);
        let (_, slow, fast) = pace(f, ln_rate, rate.parameters.sd_log_rate());
        Row {
            name: rate.group.as_ref().map_or_else(|| f.calibration_fleet(), ToString::to_string),
            cells: vec![
                // What the middle chain of one group does says nothing of the middle group.
                if rate.group.is_some() { f.calibration_range(likely, low, high) } else { likely },
                f.calibration_span(slow, fast),
                f.number(rate.chains_read as f64, 0),
            ],
        }
    };
    Section {
        anchor: "rates",
        title: f.calibration_rates(),
        lines: vec![f.calibration_rates_text(f.thousand())],
        plot: None,
        table: Some(Table {
            first: f.fleet_group(),
            columns: vec![
                amounts(f.calibration_middle()),
                amounts(f.calibration_chains()),
                amounts(f.calibration_measured()),
            ],
            rows: rates.iter().map(row).collect(),
        }),
        link: None,
    }
}

/// What a change of ln θ makes of wear, as a span of 8 cases in 10.
fn change(f: &Frame, ln_mean: f64, ln_sd: f64) -> String {
    let percent = |deviates: f64| 100.0 * (ln_mean + deviates * ln_sd).exp_m1();
    let plus = |percent: f64| if percent >= 0.5 { "+" } else { "" };
    let (low, high) = (percent(-P90), percent(P90));
    let low = format!("{}{}", plus(low), f.number(low, 0));
    f.calibration_span(low, format!("{}{}", plus(high), f.percent(high, 0)))
}

fn models(f: &Frame, models: &[ModelEffect]) -> Section {
    let row = |model: &ModelEffect| Row {
        name: model.model.1.clone(),
        cells: vec![
            f.said(&model.said()),
            change(f, model.effect.ln_mean, model.effect.ln_sd),
            f.number(model.effect.chains as f64, 0),
        ],
    };
    let table = Table {
        first: f.policy_model(),
        columns: vec![
            words(f.calibration_against_fleet()),
            amounts(f.calibration_eight()),
            amounts(f.calibration_measured()),
        ],
        rows: models.iter().map(row).collect(),
    };
    Section {
        anchor: "models",
        title: f.calibration_models(),
        lines: vec![if models.is_empty() {
            f.calibration_models_none()
        } else {
            f.calibration_models_text()
        }],
        plot: None,
        table: (!models.is_empty()).then_some(table),
        link: f.may_manage().then(|| ("/policy#models", f.calibration_models_cost())),
    }
}

fn lubricants(f: &Frame, lubricants: &[LubricantEffect]) -> Section {
    let row = |lubricant: &LubricantEffect| Row {
        name: lubricant.lubricant.1.clone(),
        cells: vec![
            f.said(&lubricant.said()),
            change(f, lubricant.effect.ln_mean, lubricant.effect.ln_sd),
            f.number(lubricant.effect.chains as f64, 0),
        ],
    };
    let table = Table {
        first: f.policy_lubricant(),
        columns: vec![
            words(f.calibration_against_fleet()),
            amounts(f.calibration_eight()),
            amounts(f.calibration_measured()),
        ],
        rows: lubricants.iter().map(row).collect(),
    };
    Section {
        anchor: "lubricants",
        title: f.calibration_lubricants(),
        lines: vec![if lubricants.is_empty() {
            f.calibration_lubricants_none()
        } else {
            f.calibration_lubricants_text()
        }],
        plot: None,
        table: (!lubricants.is_empty()).then_some(table),
        link: f.may_manage().then(|| ("/policy#lubricants", f.calibration_lubricants_cost())),
    }
}

/// What rain, gravel, mud, trainers and neglect do.
fn conditions(f: &Frame, known: &Known) -> Section {
    Section {
        anchor: "conditions",
        title: f.calibration_conditions(),
        lines: known.conditions.iter().map(|condition| f.said(&condition.said())).collect(),
        plot: None,
        table: None,
        link: None,
    }
}

/// How wear goes on in a bike's chains, in a worn chain and over the years.
fn course(f: &Frame, known: &Known, fleet: &FleetRate) -> Section {
    let share = fleet.of_bikes.share;
    let bikes = if share > 0.0 {
        f.calibration_bikes(f.percent(100.0 * share, 0))
    } else {
        f.calibration_bikes_unknown()
    };
    let phase = fleet.parameters.fast_phase();
    let fast = if phase.onset().is_finite() && phase.gain() > 0.0 {
        f.calibration_fast(
            f.percent(phase.onset(), 2),
            f.percent(phase.onset() + FURTHER, 2),
            f.number(1.0 + FURTHER * phase.gain(), 1),
        )
    } else {
        f.calibration_fast_unknown()
    };
    let drift = known.drift.map_or_else(
        || f.calibration_drift_unknown(),
        |drift| f.calibration_drift(f.said(&drift_said(drift)), change(f, drift.per_year, drift.sd)),
    );
    Section {
        anchor: "course",
        title: f.calibration_course(),
        lines: vec![bikes, fast, drift],
        plot: None,
        table: None,
        link: None,
    }
}

fn seasons(f: &Frame, known: &Known) -> Section {
    let rows = known.years.iter().map(|learned| Row {
        name: learned.group.as_ref().map_or_else(|| f.calibration_fleet(), ToString::to_string),
        cells: vec![f.said(&learned.said(known.year)), f.number(learned.bikes as f64, 0)],
    });
    let months = known.years.first().map(|learned| learned.months(known.year)).unwrap_or_default();
    let table = Table {
        first: f.fleet_group(),
        columns: vec![words(f.calibration_season()), amounts(f.calibration_bikes_counted())],
        rows: rows.collect(),
    };
    Section {
        anchor: "seasons",
        title: f.calibration_seasons(),
        lines: vec![if table.rows.is_empty() {
            f.calibration_seasons_none()
        } else {
            f.calibration_seasons_text()
        }],
        plot: plot::season(f.words(), &months),
        table: (!table.rows.is_empty()).then_some(table),
        link: None,
    }
}

fn cassettes(f: &Frame, known: &Known) -> Section {
    let said = CassettesSaid::of(known.cassettes);
    let mut lines = vec![f.said(&said)];
    if let (CassettesSaid::NotYet { .. }, Some(learned)) = (&said, known.cassettes) {
        let fit = learned.fit;
        lines.push(f.calibration_cassettes_so_far(fit.held, fit.skipped, fit.used_up));
    }
    Section {
        anchor: "cassettes",
        title: f.calibration_cassettes(),
        lines,
        plot: None,
        table: None,
        link: None,
    }
}

/// What would teach most.
pub(super) fn to_do(f: &Frame, known: &Known, in_use: &[Tool]) -> Vec<ToDo> {
    let mut all = Vec::new();
    if known.rates.is_empty() {
        all.push(ToDo { text: f.calibration_do_measure(FEWEST_CHAINS), link: Some("/measure") });
    }
    if in_use.is_empty() {
        all.push(ToDo { text: f.calibration_do_name_tools(), link: Some("/tools") });
    }
    all.extend(known.tools.iter().filter_map(|learned| {
        let to_do = to_do_with(learned, in_use)?;
        Some(ToDo::plain(f.calibration_do(named(f, learned, in_use), f.said(&to_do))))
    }));
    let untold = untold(known, in_use);
    all.extend(untold.map(|(tool, to_do)| ToDo::plain(f.calibration_do(&tool.name, f.said(&to_do)))));
    all.extend(known.people.iter().filter_map(|person| {
        let to_do = person.to_do()?;
        Some(ToDo::plain(f.calibration_do(&person.name, f.said(&to_do))))
    }));
    if matches!(CassettesSaid::of(known.cassettes), CassettesSaid::NotYet { .. }) {
        all.push(ToDo::plain(f.calibration_do_cassettes()));
    }
    all
}

/// What holds because nobody taught anything else.
pub(super) fn assumed(f: &Frame, known: &Known, workshop: &Workshop) -> Vec<String> {
    let mut all = Vec::new();
    if known.rates.is_empty() {
        let usual = WearParameters::default();
        let (likely, low, high) = pace(f, usual.mean_log_rate(), usual.sd_log_rate());
        all.push(f.calibration_assumed_rate(likely, f.thousand(), low, high));
        let instruments = workshop.settings.instruments();
        let bias = |instrument: Instrument| f.percent(instruments.of(instrument).bias(), 2);
        all.push(f.calibration_assumed_tools(bias(Instrument::DropIn), bias(Instrument::Caliper)));
    }
    if !known.years.first().is_some_and(|learned| learned.year.is_learned()) {
        all.push(f.calibration_assumed_season());
    }
    all.push(f.bike_basis_assumed());
    all
}
