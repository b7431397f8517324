//! What the process counts, for Prometheus: requests and how long they took, how old outlooks were when they were
//! made, how deliveries of hooks ended. What is a state of the store is asked for when someone looks.

use std::fmt::Write as _;
use std::sync::LazyLock;
use std::time::Duration;

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::Registry;

use crate::domain::{AttemptOutcome, Backlog};
use crate::store::Connections;

/// Media type of what [`text`] gives.
pub const MEDIA_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// Upper bounds of the classes of request times, seconds (A: around the 50 ms and 2 s that are promised).
const REQUEST_SECONDS: [f64; 15] =
    [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0];

/// Upper bounds of the classes of waits for the store, seconds (A: up to the ten after which it is given up).
const STORE_WAIT_SECONDS: [f64; 10] = [0.001, 0.002, 0.005, 0.02, 0.1, 0.5, 1.0, 2.0, 5.0, 10.0];

/// Upper bounds of the classes of outlook delays, seconds (A: around the 2 s that are promised).
const OUTLOOK_SECONDS: [f64; 10] = [0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 15.0, 60.0, 600.0];

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Request {
    method: String,
    route: String,
    status: u16,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Route {
    method: String,
    route: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Delivery {
    outcome: &'static str,
}

struct Metrics {
    registry: Registry,
    requests: Family<Request, Counter>,
    request_seconds: Family<Route, Histogram>,
    outlook_seconds: Histogram,
    hooks: Family<Delivery, Counter>,
    store_wait: Family<Access, Histogram>,
    sign_ins_refused: Counter,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Access {
    access: &'static str,
}

static METRICS: LazyLock<Metrics> = LazyLock::new(|| {
    let mut registry = Registry::with_prefix("wear");
    let requests = Family::default();
    registry.register("requests", "Requests answered, by documented address", requests.clone());
    let request_seconds =
        Family::<Route, Histogram>::new_with_constructor(|| Histogram::new(REQUEST_SECONDS.iter().copied()));
    registry.register("request_seconds", "Time until the answer began", request_seconds.clone());
    let outlook_seconds = Histogram::new(OUTLOOK_SECONDS.iter().copied());
    registry.register(
        "outlook_delay_seconds",
        "Time from the first event on a bike to its new outlook, where the worker made it",
        outlook_seconds.clone(),
    );
    let hooks = Family::<Delivery, Counter>::default();
    for outcome in AttemptOutcome::ALL {
        drop(hooks.get_or_create(&Delivery { outcome: outcome.as_str() }));
    }
    registry.register("hook_deliveries", "Attempts to deliver a hook, by outcome", hooks.clone());
    let store_wait = Family::<Access, Histogram>::new_with_constructor(|| {
        Histogram::new(STORE_WAIT_SECONDS.iter().copied())
    });
    registry.register(
        "store_wait_seconds",
        "Time until a transaction had a connection and had begun, to read or to write",
        store_wait.clone(),
    );
    let sign_ins_refused = Counter::default();
    registry.register(
        "sign_ins_refused",
        "Sign-ins to the pages with a token that opens nothing",
        sign_ins_refused.clone(),
    );
    Metrics { registry, requests, request_seconds, outlook_seconds, hooks, store_wait, sign_ins_refused }
});

/// Counts a request. `route` is the documented pattern, so that ids don't make labels.
pub fn request(method: &str, route: &str, status: u16, took: Duration) {
    let (method, route) = (method.to_owned(), route.to_owned());
    METRICS
        .request_seconds
        .get_or_create(&Route { method: method.clone(), route: route.clone() })
        .observe(took.as_secs_f64());
    METRICS.requests.get_or_create(&Request { method, route, status }).inc();
}

/// Counts an outlook that the worker made, `delay` after the event that asked for it.
pub fn outlook_made(delay: Duration) {
    METRICS.outlook_seconds.observe(delay.as_secs_f64());
}

/// Counts an attempt to deliver a hook.
pub fn hook_delivery(outcome: AttemptOutcome) {
    METRICS.hooks.get_or_create(&Delivery { outcome: outcome.as_str() }).inc();
}

/// Counts how long a transaction waited for its connection; `access` is `read` or `write`.
pub fn store_wait(access: &'static str, waited: Duration) {
    METRICS.store_wait.get_or_create(&Access { access }).observe(waited.as_secs_f64());
}

/// Counts a sign-in that was refused.
pub fn sign_in_refused() {
    METRICS.sign_ins_refused.inc();
}

/// What the process takes, as far as the system tells.
fn process(mut state: impl FnMut(&str, &str, f64)) {
    let cpu = rustix::time::clock_gettime(rustix::time::ClockId::ProcessCPUTime);
    let seconds = cpu.tv_sec as f64 + cpu.tv_nsec as f64 / 1e9;
    state("process_cpu_seconds", "Processor time that the process has taken", seconds);
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let of_status = |name: &str| {
        let line = status.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(':'))?;
        line.split_whitespace().next()?.parse::<f64>().ok()
    };
    if let Some(kib) = of_status("VmRSS") {
        state("process_resident_bytes", "Memory that the process holds", kib * 1_024.0);
    }
    if let Some(threads) = of_status("Threads") {
        state("process_threads", "Threads of the process", threads);
    }
    if let Ok(open) = std::fs::read_dir("/proc/self/fd") {
        state("process_open_files", "Files and sockets that the process has open", open.count() as f64);
    }
    let limit = rustix::process::getrlimit(rustix::process::Resource::Nofile).current;
    if let Some(limit) = limit {
        state("process_most_open_files", "Files and sockets that the process may have open", limit as f64);
    }
}

/// Everything in the OpenMetrics text format. `backlog` is missing when the store doesn't answer.
///
/// # Errors
/// [`std::fmt::Error`] when a metric can't be written: none in practice.
pub fn text(backlog: Option<&Backlog>, connections: &Connections) -> Result<String, std::fmt::Error> {
    let mut states = Registry::with_prefix("wear");
    let mut state = |name: &str, help: &str, value: f64| {
        let gauge = Gauge::<f64, std::sync::atomic::AtomicU64>::default();
        gauge.set(value);
        states.register(name, help, gauge);
    };
    state("store_answers", "1 when the store answered just now", f64::from(u8::from(backlog.is_some())));
    if let Some(Backlog { bikes, oldest_bike_seconds, jobs, oldest_job_seconds, begun }) = backlog {
        state("outlooks_waiting", "Bikes that wait for a new outlook", *bikes as f64);
        state("outlooks_oldest_wait_seconds", "How long the first of them has waited", *oldest_bike_seconds);
        state("jobs_waiting", "Jobs that are due", *jobs as f64);
        state("jobs_begun", "Jobs that a worker holds or that wait to be tried again", *begun as f64);
        state("jobs_oldest_wait_seconds", "How long the first of them has been due", *oldest_job_seconds);
    }
    let Connections { open, idle, most } = connections;
    state("store_connections_open", "Connections to the store", f64::from(*open));
    state("store_connections_idle", "Of these, idle", f64::from(*idle));
    state("store_connections_most", "Most connections that this process opens", f64::from(*most));
    process(state);
    let mut text = String::new();
    encode(&mut text, &METRICS.registry)?;
    // Each registry ends its text; one end is enough.
    let ended = text.trim_end().strip_suffix("# EOF").map(str::len);
    text.truncate(ended.unwrap_or(text.len()));
    let mut rest = String::new();
    encode(&mut rest, &states)?;
    text.write_str(&rest)?;
    Ok(text)
}
