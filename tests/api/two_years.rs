//! Two years of a yard of sixteen bikes, day by day over HTTP with the clock moved by hand: planned by the service,
//! against swapping at a fixed distance and against measuring every four weeks and swapping at the limit.
//!
//! The yard is invented. Its chains wear by the gamma process that the model assumes, but with a rate and a load of
//! each bike's own and with wetter rain than the model's default, none of which the service is told. Rides and luck
//! are the same for every way of working. Rides are posted on bench days and before swaps, as each batch has every bike
//! looked at anew: with forty bikes and a batch a day the outlooks alone took more than a quarter of an hour. Run it by hand:
//!
//!     cargo nextest run -p wear-tests --test api --run-ignored only two_years --no-capture

use std::collections::HashMap;
use std::fmt;

use chrono::{Datelike, Duration, Weekday};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, LogNormal, Normal};
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_api::service::worker;
use wear_core::degradation::WearParameters;
use wear_core::drivetrain::{Drivetrain, DrivetrainFacts};
use wear_core::exposure::care::{CareModel, CareState, Segment};
use wear_core::exposure::{ExposureModel, RideExposure, RideFacts, Surface, Use};
use wear_core::knock_on::accrued;
use wear_core::units::RideDistance;
use wear_tests::{TestServer, TestStore};

const BIKES: usize = 16;
const DAYS: usize = 730;
const LIMIT: f64 = 0.75;
/// Minutes of a bench day: Monday, Wednesday and Friday.
const BENCH: u32 = 50;
/// Of these the plan may use so many; the rest is for readings.
const PLANNED: u32 = 40;
const CHAIN_MINUTES: u32 = 20;
const CASSETTE_MINUTES: u32 = 25;
const SETUP_MINUTES: u32 = 10;
const READING_MINUTES: u32 = 5;
/// A chain and its labour, minor units.
const CHAIN_COST: u64 = 1490 + 1000;
/// A cassette and its labour.
const CASSETTE_COST: u64 = 2790 + 800;
const READING_COST: u64 = 150;
/// A failure on the road.
const FAILURE_COST: u64 = 6000;

/// Luck of its own for each bike, purpose and number.
fn luck(bike: usize, purpose: u64, number: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64((bike as u64) << 40 | purpose << 32 | number)
}

fn log_normal(sd: f64, random: &mut ChaCha8Rng) -> f64 {
    LogNormal::new(0.0, sd).expect("a spread").sample(random)
}

/// Kilometres and rain of a bike's day; the same whoever plans.
fn ride(bike: usize, day: usize) -> Option<(f64, bool)> {
    let mean = 8.0 + 22.0 * luck(bike, 1, 0).random::<f64>();
    let mut random = luck(bike, 2, day as u64);
    let wet = luck(BIKES, 3, day as u64).random::<f64>() < 0.3;
    let season = 1.0 + 0.4 * (std::f64::consts::TAU * day as f64 / 365.0).cos();
    (random.random::<f64>() < 0.7).then(|| {
        let km: f64 = mean * season * log_normal(0.4, &mut random) / 0.7;
        ((km.min(300.0) * 100.0).round() / 100.0, wet)
    })
}

struct Bike {
    number: usize,
    /// How much faster or slower its chains wear than the model's, and how much heavier its riders are.
    factor: f64,
    chains: u64,
    rate: f64,
    first: f64,
    worn: f64,
    exposure: f64,
    care: CareState,
    km: f64,
    damage: f64,
    threshold: f64,
    cassettes: u64,
}

impl Bike {
    fn new(number: usize) -> Self {
        let factor = log_normal(0.25, &mut luck(number, 4, 0));
        let mut bike = Self {
            number,
            factor,
            chains: 0,
            rate: 0.0,
            first: 0.0,
            worn: 0.0,
            exposure: 0.0,
            care: CareState::fresh(),
            km: 0.0,
            damage: 0.0,
            threshold: 0.0,
            cassettes: 0,
        };
        bike.fit_chain();
        bike.fit_cassette();
        bike
    }

    fn fit_chain(&mut self) {
        let parameters = WearParameters::default();
        let mut random = luck(self.number, 5, self.chains);
        self.chains += 1;
        self.rate = 0.125e-3 * self.factor * log_normal(0.25, &mut random);
        let first = Normal::new(parameters.initial_mean(), parameters.initial_sd()).expect("a spread");
        self.first = first.sample(&mut random);
        (self.worn, self.exposure, self.km, self.care) = (0.0, 0.0, 0.0, CareState::fresh());
    }

    fn fit_cassette(&mut self) {
        self.threshold = log_normal(0.3, &mut luck(self.number, 6, self.cassettes));
        self.cassettes += 1;
        self.damage = 0.0;
    }

    fn elongation(&self) -> f64 {
        self.first + 0.03 * (1.0 - (-self.exposure / 150.0).exp()) + self.worn
    }

    /// Rides a day; whether it ended in a failure.
    fn ride(&mut self, day: usize, drivetrain: &Drivetrain) -> bool {
        let Some((km, wet)) = ride(self.number, day) else { return false };
        let facts = RideFacts::new(RideDistance::new(km).expect("a distance"), Use::Town, Surface::Paved);
        let base =
            RideExposure::of(&facts, drivetrain, &ExposureModel::default()).reference_km_before_context;
        // Rain wears by 2.3 here; the model's default is 2.
        let segment =
            if wet { Segment { dry: 0.0, wet: 2.3 * base } } else { Segment { dry: base, wet: 0.0 } };
        let (exposure, care) = CareModel::default().accrue(self.care, segment);
        self.care = care;
        self.exposure += exposure;
        self.km += km;
        let before = self.elongation();
        let mut random = luck(self.number, 7, day as u64);
        self.worn += Gamma::new(self.rate * exposure / 0.01, 0.01).expect("a shape").sample(&mut random);
        let now = self.elongation();
        self.damage += accrued(now) - accrued(before);
        let over = now - LIMIT;
        let by_chain = if over > 0.0 { 1e-4 * (1.0 + over / 0.1) } else { 0.0 };
        let by_cassette = if self.damage > 1.6 * self.threshold { 5e-4 } else { 0.0 };
        random.random::<f64>() < km * (by_chain + by_cassette)
    }

    /// A rule's reading.
    fn read(&self, day: usize) -> f64 {
        let error = Normal::new(0.0, 0.06).expect("a spread").sample(&mut luck(self.number, 8, day as u64));
        ((self.elongation() + error).clamp(-0.3, 3.0) * 100.0).round() / 100.0
    }
}

/// What a way of working took.
#[derive(Default)]
struct Tally {
    name: String,
    chains: u64,
    cassettes: u64,
    readings: u64,
    failures: u64,
    minutes: Vec<u32>,
    percent_over_at_swap: f64,
}

impl Tally {
    fn new(name: &str) -> Self {
        Self { name: name.to_owned(), minutes: vec![0; DAYS], ..Self::default() }
    }

    fn cost(&self) -> u64 {
        self.chains * CHAIN_COST
            + self.cassettes * CASSETTE_COST
            + self.readings * READING_COST
            + self.failures * FAILURE_COST
    }

    fn minutes_over(&self) -> u32 {
        let open = |day: usize| if is_bench_day(day) { BENCH } else { 0 };
        self.minutes.iter().enumerate().map(|(day, minutes)| minutes.saturating_sub(open(day))).sum()
    }

    /// Swaps the chain, and the cassette where it is asked for or a new chain skips on it; whether it went too.
    fn swap(&mut self, bike: &mut Bike, day: usize, with_cassette: bool) -> bool {
        self.chains += 1;
        self.percent_over_at_swap += (bike.elongation() - LIMIT).max(0.0);
        self.minutes[day] += CHAIN_MINUTES;
        bike.fit_chain();
        let cassette = with_cassette || bike.damage > bike.threshold;
        if cassette {
            self.cassettes += 1;
            self.minutes[day] += CASSETTE_MINUTES - SETUP_MINUTES;
            bike.fit_cassette();
        }
        cassette
    }

    fn measure(&mut self, bike: &Bike, day: usize) -> f64 {
        self.readings += 1;
        self.minutes[day] += READING_MINUTES;
        bike.read(day)
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "| {} | {:.2} | {} | {} | {} | {} | {} | {} | {:.3} |",
            self.name,
            self.cost() as f64 / 100.0,
            self.failures,
            self.chains,
            self.cassettes,
            self.readings,
            self.minutes.iter().sum::<u32>(),
            self.minutes_over(),
            self.percent_over_at_swap / self.chains.max(1) as f64
        )
    }
}

/// Day 0 is Thursday 2026-11-26.
fn is_bench_day(day: usize) -> bool {
    matches!((day + 3) % 7, 0 | 2 | 4)
}

fn drivetrain() -> Drivetrain {
    Drivetrain::new(&DrivetrainFacts {
        rings: vec![42],
        cogs: vec![11, 13, 15, 17, 20, 23, 26, 30],
        links: 114,
        ..DrivetrainFacts::default()
    })
    .expect("a drivetrain")
}

/// Works without the service: `due` says on a bench day whether a bike's chain comes off.
fn by_rule(name: &str, mut due: impl FnMut(&mut Tally, &Bike, usize) -> bool) -> Tally {
    let mut tally = Tally::new(name);
    let mut bikes: Vec<Bike> = (0..BIKES).map(Bike::new).collect();
    let drivetrain = drivetrain();
    for day in 0..DAYS {
        for bike in &mut bikes {
            if bike.ride(day, &drivetrain) {
                tally.failures += 1;
                tally.swap(bike, day, false);
            }
            if is_bench_day(day) && due(&mut tally, bike, day) {
                tally.swap(bike, day, false);
            }
        }
    }
    tally
}

fn at_distance(km: f64) -> Tally {
    by_rule(&format!("swap at {km} km"), |_, bike, _| bike.km >= km)
}

/// Three bench days a week for four weeks are twelve: each bike is measured on one of them.
fn every_four_weeks() -> Tally {
    by_rule("measure every four weeks, swap at the limit", |tally, bike, day| {
        let bench_day = (0..day % 28).filter(|&before| is_bench_day(before)).count();
        bench_day == bike.number % 12 && tally.measure(bike, day) >= LIMIT
    })
}

/// The service's part: what the yard's people post and read.
struct Yard {
    server: TestServer,
    ids: Vec<String>,
    chains: Vec<String>,
    models: [String; 2],
    /// Rides that are not posted yet.
    rides: Vec<Value>,
}

impl Yard {
    async fn open() -> Self {
        let server = TestServer::start(TestStore::sqlite().await).await;
        let patch = |path: &'static str, body: Value| {
            let request = server.request(Method::PATCH, path).bearer_auth(server.token_of(Role::Manager));
            server.send(request.header("if-match", "\"1\"").json(&body))
        };
        let costs = json!({"costs": {"swap_labour_minor": 1000, "reading_minor": READING_COST, "failure_minor": FAILURE_COST}});
        let _costs = patch("/v1/workshop", costs).await.expect(200);
        let week = json!({"week_minutes": [PLANNED, 0, PLANNED, 0, PLANNED, 0, 0], "chain_minutes": CHAIN_MINUTES,
            "cassette_minutes": CASSETTE_MINUTES, "setup_minutes": SETUP_MINUTES});
        let _week = patch("/v1/bench-settings", week).await.expect(200);
        let chain = json!({"name": "Chain", "place": "chain", "sprockets": 8, "price_minor": 1490, "currency": "EUR"});
        let cassette = json!({"name": "Cassette", "place": "cassette", "cogs": [11, 13, 15, 17, 20, 23, 26, 30],
            "one_piece": true, "price_minor": 2790, "currency": "EUR"});
        let mut models = [String::new(), String::new()];
        for (model, body) in models.iter_mut().zip([chain, cassette]) {
            *model = server.post("/v1/part-models", &body).await.expect(201).id();
        }
        let mut yard = Self { server, ids: Vec::new(), chains: Vec::new(), models, rides: Vec::new() };
        for number in 0..BIKES {
            let mut body = wear_tests::bike(&format!("{number:03}"));
            body["fitted_on"] = "2026-11-25".into();
            let id = yard.server.post("/v1/bikes", &body).await.expect(201).id();
            yard.chains.push(yard.fitted(&id).await);
            yard.ids.push(id);
        }
        yard.server.wait(Duration::days(1));
        yard
    }

    async fn fitted(&self, id: &str) -> String {
        let fittings = self.server.get(&format!("/v1/bikes/{id}/fittings")).await.expect(200).body;
        let items = fittings["items"].as_array().expect("fittings");
        let chain = items.iter().find(|item| item["place"] == "chain" && item["removed_at"].is_null());
        chain.and_then(|chain| chain["part_id"].as_str()).expect("a chain").to_owned()
    }

    /// The clock stands at noon.
    fn at(&self, hour: i64) -> String {
        self.server.now().plus(Duration::hours(hour - 12)).to_string()
    }

    fn ride(&mut self, day: usize) {
        for bike in 0..BIKES {
            let Some((km, wet)) = ride(bike, day) else { continue };
            let ridden = json!({"bike_id": self.ids[bike], "started_at": self.at(8), "distance_km": km, "wet": wet,
                "surface": "paved", "source": "log", "source_id": format!("{bike}-{day}")});
            self.rides.push(ridden);
        }
    }

    async fn post_rides(&mut self) {
        let rides = std::mem::take(&mut self.rides);
        if rides.is_empty() {
            return;
        }
        let count = rides.len();
        let report = self.server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
        assert_eq!(report["accepted"], count, "{report}");
    }

    async fn post_swap(&mut self, bike: usize, hour: i64, cassette: bool) {
        let path = format!("/v1/bikes/{}/swaps", self.ids[bike]);
        for (place, model) in ["chain", "cassette"].iter().zip(&self.models).take(1 + usize::from(cassette)) {
            let swap = json!({"swapped_at": self.at(hour), "place": place, "part_model_id": model});
            let swapped = self.server.post(&path, &swap).await.expect(201).body;
            if *place == "chain" {
                self.chains[bike] = swapped["on_part_id"].as_str().expect("a part").to_owned();
            }
        }
    }

    /// Until no bike waits for its outlook, the server's own worker included.
    async fn outlooks_are_fresh(&self) {
        loop {
            worker::drain(&self.server.services).await.expect("outlooks");
            let mut tx = self.server.services.store.begin_system_read().await.expect("begins");
            if tx.outlook_backlog().await.expect("a count").0 == 0 {
                return;
            }
            tokio::time::sleep(std::time::Duration::from_millis(20)).await;
        }
    }

    /// Bikes that the service wants measured by the next bench day.
    async fn to_measure(&self) -> Vec<usize> {
        let soon = self.server.now().plus(Duration::days(3)).utc_date();
        let path = format!("/v1/outlooks?advice=measure_by&due_before={soon}&limit=100");
        let list = self.server.get(&path).await.expect(200).body;
        let listed = list["items"].as_array().expect("items");
        let number = |item: &Value| self.ids.iter().position(|id| item["bike_id"] == **id).expect("ours");
        listed.iter().map(number).collect()
    }

    /// Plans two weeks, accepts, and gives today's visits: bike, whether the cassette goes too, minutes.
    async fn todays_visits(&self) -> Vec<(usize, bool, u32)> {
        let today = self.server.now().utc_date();
        let window = json!({"from": today, "to": today + Duration::days(13)});
        let plan = self.server.post("/v1/bench-plan", &window).await.expect(201).body;
        let accepted =
            self.server.post("/v1/bench-plan/accept", &json!({"id": plan["id"]})).await.expect(200).body;
        let date = today.to_string();
        let days = accepted["days"].as_array().expect("days");
        let Some(day) = days.iter().find(|day| day["date"] == *date) else { return Vec::new() };
        assert!(day["minutes_used"].as_u64() <= day["minutes"].as_u64(), "{day}");
        let visits = day["visits"].as_array().expect("visits");
        visits
            .iter()
            .map(|visit| {
                let bike = self.ids.iter().position(|id| visit["bike_id"] == **id).expect("ours");
                let tasks = visit["tasks"].as_array().expect("tasks");
                assert_eq!(tasks[0]["part_id"], self.chains[bike]);
                let cassette = tasks.iter().any(|task| task["place"] == "cassette");
                (bike, cassette, visit["minutes"].as_u64().expect("minutes") as u32)
            })
            .collect()
    }
}

async fn by_the_service() -> Tally {
    let mut yard = Yard::open().await;
    let mut tally = Tally::new("planned by the service");
    let mut bikes: Vec<Bike> = (0..BIKES).map(Bike::new).collect();
    let drivetrain = drivetrain();
    let mut swaps: HashMap<usize, usize> = HashMap::new();
    for day in 0..DAYS {
        let weekday = yard.server.now().utc_date().weekday();
        assert_eq!(is_bench_day(day), matches!(weekday, Weekday::Mon | Weekday::Wed | Weekday::Fri));
        yard.ride(day);
        for (number, bike) in bikes.iter_mut().enumerate() {
            if bike.ride(day, &drivetrain) {
                tally.failures += 1;
                let cassette = tally.swap(bike, day, false);
                yard.post_rides().await;
                yard.post_swap(number, 9, cassette).await;
                *swaps.entry(number).or_default() += 1;
            }
        }
        if is_bench_day(day) {
            yard.post_rides().await;
            yard.outlooks_are_fresh().await;
            for number in yard.to_measure().await {
                let percent = tally.measure(&bikes[number], day);
                let reading = json!({"taken_at": yard.at(10), "instrument": "rule", "percent": percent});
                let path = format!("/v1/bikes/{}/readings", yard.ids[number]);
                let _read = yard.server.post(&path, &reading).await.expect(201);
            }
            yard.outlooks_are_fresh().await;
            for (number, with_cassette, _) in yard.todays_visits().await {
                let cassette = tally.swap(&mut bikes[number], day, with_cassette);
                yard.post_swap(number, 11, cassette).await;
                *swaps.entry(number).or_default() += 1;
            }
        }
        yard.server.wait(Duration::days(1));
    }
    // What the service has on record is what the yard did.
    let mut recorded = 0;
    for (number, id) in yard.ids.iter().enumerate() {
        let list = yard.server.get(&format!("/v1/bikes/{id}/swaps?limit=100")).await.expect(200).body;
        let chains =
            list["items"].as_array().into_iter().flatten().filter(|swap| swap["place"] == "chain").count();
        assert_eq!(chains, swaps.get(&number).copied().unwrap_or(0), "{number}");
        recorded += chains as u64;
    }
    assert_eq!(recorded, tally.chains);
    tally
}

#[tokio::test]
#[ignore = "minutes"]
async fn two_years_of_a_yard() {
    let mut tallies = vec![by_the_service().await, every_four_weeks()];
    let distances = (6..=20).map(|step| at_distance(f64::from(step) * 250.0));
    let best = distances.min_by_key(Tally::cost).expect("distances");
    tallies.push(at_distance(3000.0));
    tallies.push(Tally { name: format!("{} (the cheapest, known afterwards)", best.name), ..best });
    println!(
        "| way of working | total cost | failures on the road | chains | cassettes | readings | bench minutes | minutes over | mean percent over the limit at the swap |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    for tally in &tallies {
        println!("{tally}");
    }
    assert!(tallies.iter().all(|tally| tally.chains > BIKES as u64), "every way swaps");
}
