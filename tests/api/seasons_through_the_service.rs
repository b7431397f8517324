//! Yards with seasons, day by day over HTTP with the clock moved by hand: dates, `swap_by` and demand from six days of the
//! year, and half a year on the service's word against looks every six weeks.
//!
//! The yards are those of `wear-core/examples/seasons`: none of them follows the model. Chains wear by a gamma process whose
//! rates the service isn't told, and wetter rain than it assumes in some yards. Each is looked at with a rule every six
//! weeks and swapped at the limit. Run it by hand, with a number of seeds in `SEASON_SEEDS` (3 when left
//! out), the first of them in `SEASON_FIRST`, and how many of the six days in `SEASON_DAYS`:
//!
//!     cargo nextest run -p wear-tests --test api --run-ignored only seasons_through --no-capture

use std::collections::BTreeMap;

use chrono::{Duration, NaiveDate};
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, Normal};
use serde_json::{Value, json};
use wear_api::domain::Timestamp;
use wear_core::forecast::DailyUse;
use wear_tests::{TestServer, TestStore};

#[path = "../../wear-core/examples/seasons/yard.rs"]
#[allow(dead_code, reason = "the example draws more yards")]
mod yard;

use yard::{BikeDays, Yard, known_yards, ridden};

/// Days of record before the first day that is asked from.
const HISTORY: usize = 760;

/// The beginnings of January, March, May, July, September, November of 2029, days after the first.
const ORIGINS: [usize; 6] = [0, 59, 120, 181, 243, 304];

const LIMIT: f64 = 0.75;
const LOOKS_EVERY: usize = 42;
const HALF_YEAR: usize = 182;

/// What the first night of a yard with two years on record may take of a busy machine.
const AN_HOUR: std::time::Duration = std::time::Duration::from_secs(3_600);

fn seeds() -> std::ops::Range<u64> {
    let number = |name| std::env::var(name).ok().and_then(|seeds| seeds.parse().ok());
    let first = number("SEASON_FIRST").unwrap_or(0);
    first..first + number("SEASON_SEEDS").unwrap_or(3)
}

/// How many yards live a year on the service's word.
fn yards_asked() -> usize {
    std::env::var("SEASON_YARDS").ok().and_then(|yards| yards.parse().ok()).unwrap_or(2)
}

/// How many of the six days are asked from.
fn days() -> usize {
    std::env::var("SEASON_DAYS").ok().and_then(|days| days.parse().ok()).unwrap_or(ORIGINS.len())
}

fn normal(mean: f64, sd: f64, random: &mut ChaCha8Rng) -> f64 {
    Normal::new(mean, sd).expect("a spread").sample(random)
}

/// A chain from the day on which it was put on, counted from the beginning of the record.
struct Chain {
    from: usize,
    /// Elongation at the end of each day.
    worn: Vec<f64>,
}

impl Chain {
    fn new(days: &BikeDays, bike: usize, number: usize, from: usize, seed: u64) -> Self {
        let mut of_bike = ChaCha8Rng::seed_from_u64(seed << 32 | (bike as u64) << 8);
        let mut random = ChaCha8Rng::seed_from_u64(seed << 32 | (bike as u64) << 8 | (1 + number as u64));
        let rate = 0.33e-3 * (normal(0.0, 0.15, &mut of_bike) + normal(0.0, 0.2, &mut random)).exp();
        let first = normal(0.04, 0.03, &mut random);
        let (mut exposure, mut grown) = (0.0, 0.0);
        let worn = days.days[from - days.first_day..].iter().map(|day| {
            if day.reference_km > 0.0 {
                exposure += day.reference_km;
                grown +=
                    Gamma::new(rate * day.reference_km / 0.01, 0.01).expect("a shape").sample(&mut random);
            }
            first + 0.03 * (1.0 - (-exposure / 150.0_f64).exp()) + grown
        });
        Self { from, worn: worn.collect() }
    }

    /// On the evening of a day.
    fn on(&self, day: usize) -> f64 {
        self.worn[day - self.from]
    }

    /// Days from a morning to the end of the one on which the limit is reached.
    fn left(&self, morning: usize) -> f64 {
        let at = self.worn[morning - self.from..].iter().position(|worn| *worn >= LIMIT);
        at.map_or(f64::INFINITY, |at| (at + 1) as f64)
    }
}

struct World {
    server: TestServer,
    begins: i64,
    bikes: Vec<BikeDays>,
    chains: Vec<Chain>,
    /// Chains of each bike so far.
    numbers: Vec<usize>,
    ids: BTreeMap<usize, String>,
    seed: u64,
    /// The morning that the clock stands at, days since the beginning.
    morning: usize,
    looks: usize,
    swaps: usize,
}

impl World {
    async fn open(yard: &Yard, seed: u64) -> Self {
        let yard = Yard { history_days: HISTORY, ..yard.clone() };
        // Luck of its own for each yard, as all bikes of one have its years in common.
        let luck = yard.name.bytes().fold(seed, |luck, byte| 31 * (luck % 1_000_003) + u64::from(byte));
        let (origin, bikes) = ridden(&yard, 1_096, luck);
        let server = TestServer::start(TestStore::sqlite().await).await;
        let begins = origin - HISTORY as i64;
        let first = NaiveDate::default() + Duration::days(begins);
        let morning = first.and_hms_opt(6, 0, 0).expect("a time").and_utc();
        server.wait(morning - server.now().datetime());
        let chains = bikes.iter().enumerate();
        let chains = chains.map(|(bike, days)| Chain::new(days, bike, 0, days.first_day, seed)).collect();
        let numbers = vec![1; bikes.len()];
        Self {
            server,
            begins,
            bikes,
            chains,
            numbers,
            ids: BTreeMap::new(),
            seed,
            morning: 0,
            looks: 0,
            swaps: 0,
        }
    }

    fn at(&self, day: usize, hour: i64) -> String {
        let date = NaiveDate::default() + Duration::days(self.begins + day as i64);
        format!("{date}T{hour:02}:00:00Z")
    }

    fn day_of(&self, date: &Value) -> f64 {
        let Some(date) = date.as_str() else { return f64::INFINITY };
        let date: NaiveDate = date.parse().expect("a date");
        (date - NaiveDate::default()).num_days() as f64 - self.begins as f64 - self.morning as f64
    }

    /// Lets days pass: what was ridden is posted, and bikes that joined are entered.
    async fn ride_to(&mut self, morning: usize) {
        self.server.wait(Duration::days((morning - self.morning) as i64));
        for (bike, days) in self.bikes.iter().enumerate() {
            if days.first_day < morning && !self.ids.contains_key(&bike) {
                let mut body = wear_tests::bike(&format!("{bike:03}"));
                body["fitted_on"] = self.at(days.first_day, 0)[..10].into();
                body["group"] = "yard".into();
                let id = self.server.post("/v1/bikes", &body).await.expect(201).id();
                self.ids.insert(bike, id);
            }
        }
        let mut rides = Vec::new();
        for (bike, id) in &self.ids {
            let days = &self.bikes[*bike];
            for day in self.morning.max(days.first_day)..morning {
                let DailyUse { km, reference_km } = days.days[day - days.first_day];
                if km >= 0.1 {
                    let km = (km.min(900.0) * 10.0).round() / 10.0;
                    rides.push(json!({"bike_id": id, "started_at": self.at(day, 8), "distance_km": km,
                        "wet": reference_km > 1.01 * km, "source": "log", "source_id": format!("{bike}-{day}")}));
                }
            }
        }
        for batch in rides.chunks(5_000) {
            let report = self.server.post("/v1/rides", &json!({"rides": batch})).await.expect(200).body;
            assert_eq!(report["accepted"], batch.len(), "{report}");
        }
        self.morning = morning;
    }

    async fn look(&mut self, bike: usize, day: usize) -> f64 {
        self.looks += 1;
        let mut random = ChaCha8Rng::seed_from_u64(self.seed << 40 | (bike as u64) << 20 | day as u64);
        let percent = (100.0 * normal(self.chains[bike].on(day), 0.06, &mut random)).round() / 100.0;
        let percent = percent.clamp(-0.3, 3.0);
        let reading = json!({"taken_at": self.at(day, 17), "instrument": "rule", "percent": percent});
        self.server.post(&format!("/v1/bikes/{}/readings", self.ids[&bike]), &reading).await.check(201);
        percent
    }

    async fn swap(&mut self, bike: usize, day: usize) {
        self.swaps += 1;
        let swap = json!({"swapped_at": self.at(day, 18), "place": "chain"});
        self.server.post(&format!("/v1/bikes/{}/swaps", self.ids[&bike]), &swap).await.check(201);
        let number = self.numbers[bike];
        self.numbers[bike] += 1;
        self.chains[bike] = Chain::new(&self.bikes[bike], bike, number, day + 1, self.seed);
    }

    /// Looks every six weeks, each bike on a day of its own, and swaps at the limit.
    async fn look_from(&mut self, from: usize) {
        for day in from..self.morning {
            for bike in 0..self.bikes.len() {
                let first = self.bikes[bike].first_day.max(self.chains[bike].from);
                if day % LOOKS_EVERY == bike % LOOKS_EVERY
                    && day > first
                    && self.look(bike, day).await >= LIMIT
                {
                    self.swap(bike, day).await;
                }
            }
        }
    }

    /// The days on which chains would come off if each were swapped as it reaches its limit.
    fn at_the_limit(&self, days: usize) -> Vec<usize> {
        let mut swapped_on = Vec::new();
        for bike in self.ids.keys().copied() {
            let mut day = self.morning as f64 + self.chains[bike].left(self.morning);
            for number in self.numbers[bike].. {
                if day >= (self.morning + days) as f64 {
                    break;
                }
                let on = day as usize;
                swapped_on.push(on);
                let next = Chain::new(&self.bikes[bike], bike, number, on, self.seed);
                day += next.left(on);
            }
        }
        swapped_on
    }

    /// The night comes: it learns from all that was posted, and every outlook is of the new day. It is asked for, as the
    /// server's own worker has done the night's job as soon as the clock moved, before anything was posted.
    async fn night(&self) {
        self.server.settle_within(AN_HOUR).await;
        self.server.wait(Duration::minutes(1));
        self.server.post("/v1/calibration", &json!({})).await.check(202);
        let asked_at = self.server.now();
        for _ in 0..20 {
            // What was learned is told a moment before the outlooks that rest on it are asked for.
            self.server.settle_within(AN_HOUR).await;
            let learned = self.server.get("/v1/calibration").await.expect(200).body["learned_at"].clone();
            let learned = learned.as_str().and_then(|at| at.parse::<Timestamp>().ok());
            if learned.is_some_and(|learned| asked_at <= learned) {
                return;
            }
            // A store that was too busy isn't the end of it: jobs come due again a while later.
            self.server.wait(Duration::minutes(2));
        }
        panic!("nothing was learned");
    }

    async fn outlook(&self, bike: usize) -> Value {
        self.server.get(&format!("/v1/bikes/{}/outlook", self.ids[&bike])).await.expect(200).body
    }
}

#[derive(Default, Clone, Copy)]
struct Score {
    asked: f64,
    without_date: f64,
    before: f64,
    after: f64,
    told: f64,
    over: f64,
    demands: f64,
    demands_inside: f64,
    announced: f64,
    came: f64,
    seasons: f64,
}

impl Score {
    fn add(&mut self, other: &Self) {
        let Self {
            asked,
            without_date,
            before,
            after,
            told,
            over,
            demands,
            demands_inside,
            announced,
            came,
            seasons,
        } = other;
        self.asked += asked;
        self.without_date += without_date;
        self.before += before;
        self.after += after;
        self.told += told;
        self.over += over;
        self.demands += demands;
        self.demands_inside += demands_inside;
        self.announced += announced;
        self.came += came;
        self.seasons += seasons;
    }

    fn row(&self, name: &str) {
        println!(
            "| {name} | {:.0} | {:.2} | {:.2} | {:.2} | {:.2} | {:.0} of {:.0} | {:.0} / {:.0} | {:.0} | {:.2} |",
            self.asked,
            1.0 - (self.before + self.after) / self.asked,
            self.before / self.asked,
            self.after / self.asked,
            self.over / self.told,
            self.demands_inside,
            self.demands,
            self.announced,
            self.came,
            self.without_date,
            self.seasons / (self.asked + self.without_date),
        );
    }
}

async fn asked(world: &World) -> Score {
    let mut score = Score::default();
    let mut came = 0.0;
    for bike in world.ids.keys().copied() {
        let outlook = world.outlook(bike).await;
        score.seasons += f64::from(u8::from(outlook["basis"]["use_season"] != "assumed"));
        let day = world.chains[bike].left(world.morning);
        let swap = match outlook["advice"].as_str() {
            Some("swap_now") => 0.0,
            _ => world.day_of(&outlook["swap_by"]),
        };
        let advised = matches!(outlook["advice"].as_str(), Some("swap_now" | "swap_by"));
        came += f64::from(u8::from(if advised { swap } else { day } <= HALF_YEAR as f64));
        if outlook["limit_on"].is_null() {
            score.without_date += 1.0;
            continue;
        }
        let [p10, p90] = ["p10", "p90"].map(|level| world.day_of(&outlook["limit_on"][level]));
        score.asked += 1.0;
        score.before += f64::from(u8::from(day < p10));
        score.after += f64::from(u8::from(day > p90));
        // Those that are over already are no promise of a day to come.
        if swap > 0.0 {
            score.told += 1.0;
            score.over += f64::from(u8::from(day < swap));
        }
    }
    let orders = world.server.get("/v1/orders-needed?horizon_days=182").await.expect(200).body;
    let items = orders["items"].as_array().expect("items");
    let chains = items.iter().find(|item| item["place"] == "chain");
    let demand = |of: &str| chains.map_or(0.0, |chains| chains["demand"][of].as_f64().expect("a number"));
    score.demands = 1.0;
    score.demands_inside = f64::from(u8::from((demand("p10")..=demand("p90")).contains(&came)));
    (score.announced, score.came) = (demand("mean"), came);
    score
}

fn yards() -> Vec<Yard> {
    let names = ["hire, summer, 26", "closed in winter, 26", "commuters, flat, 26", "club, spring, 26"];
    known_yards().into_iter().filter(|yard| names.iter().any(|name| yard.name.starts_with(name))).collect()
}

const HEADER: &str = "| | dates | inside | before P10 | after P90 | over at swap_by | half-years inside | told / came | no date | season known |\n|---|---|---|---|---|---|---|---|---|---|";

#[tokio::test]
#[ignore = "run by hand"]
async fn six_days_of_the_year() {
    println!("{HEADER}");
    let mut by_origin = [Score::default(); 6];
    let mut all = Score::default();
    for yard in yards() {
        let mut of_yard = Score::default();
        for seed in seeds() {
            let mut world = World::open(&yard, seed).await;
            for (place, origin) in ORIGINS.into_iter().take(days()).enumerate() {
                let from = world.morning;
                world.ride_to(HISTORY + origin).await;
                world.look_from(from).await;
                world.night().await;
                let score = asked(&world).await;
                by_origin[place].add(&score);
                of_yard.add(&score);
            }
        }
        of_yard.row(&yard.name);
        all.add(&of_yard);
    }
    for (origin, score) in ORIGINS.iter().zip(&by_origin) {
        score.row(&format!("from day {origin}"));
    }
    all.row("all");
    assert!((0.70..0.92).contains(&(1.0 - (all.before + all.after) / all.asked)));
}

/// What half a year took.
#[derive(Default)]
struct Half {
    passed: usize,
    looks: usize,
    swaps: usize,
    early: usize,
    told: usize,
    /// The day of each swap.
    swapped_on: Vec<usize>,
}

/// Whether more than 30 % of a chain's life was left.
fn is_early(chain: &Chain, day: usize) -> bool {
    let life = chain.left(chain.from);
    life.is_finite() && chain.left(day + 1) > 0.3 * life && chain.on(day) < LIMIT - 0.3 * (LIMIT - 0.07)
}

/// A yard that looked every six weeks up to a morning.
async fn looked_after(yard: &Yard, seed: u64, until: usize) -> World {
    let mut world = World::open(yard, seed).await;
    world.ride_to(until).await;
    world.look_from(0).await;
    world
}

async fn on_the_services_word(world: &mut World, from: usize, weeks: usize) -> Half {
    (world.looks, world.swaps) = (0, 0);
    let mut half = Half::default();
    let mut passed = vec![false; world.bikes.len()];
    for week in 1..=weeks {
        world.night().await;
        let day = world.morning;
        let soon = world.at(day + 7, 0);
        let path = format!("/v1/outlooks?due_before={}&limit=100", &soon[..10]);
        let listed = world.server.get(&path).await.expect(200).body;
        let listed: Vec<Value> = listed["items"].as_array().expect("items").clone();
        world.ride_to(day + 1).await;
        for item in listed {
            let bike = world.ids.iter().find(|(_, id)| item["bike_id"] == **id).map(|(bike, _)| *bike);
            let bike = bike.expect("ours");
            let advice = item["advice"].as_str().expect("a word").to_owned();
            let is_due = |of: &str| world.day_of(&item[of]) <= 7.0;
            if matches!(advice.as_str(), "measure_by" | "hold" | "ride_on")
                && (advice == "hold" || is_due("measure_by"))
            {
                let _read = world.look(bike, day).await;
                let now = world.outlook(bike).await;
                let swap = now["advice"] == "swap_now"
                    || now["advice"] == "swap_by" && world.day_of(&now["swap_by"]) <= 7.0;
                if !swap {
                    continue;
                }
            } else if !(advice == "swap_now" || is_due("swap_by")) {
                continue;
            }
            half.told += 1;
            half.early += usize::from(is_early(&world.chains[bike], day));
            world.swap(bike, day).await;
            half.swapped_on.push(day);
            passed[bike] = false;
        }
        world.ride_to(from + 7 * week).await;
        for bike in world.ids.keys() {
            if !passed[*bike]
                && world.chains[*bike].from < world.morning
                && world.chains[*bike].on(world.morning - 1) > LIMIT + 0.1
            {
                passed[*bike] = true;
                half.passed += 1;
            }
        }
    }
    (half.looks, half.swaps) = (world.looks, world.swaps);
    half
}

async fn looked_at_every_six_weeks(yard: &Yard, seed: u64, from: usize) -> Half {
    let mut world = looked_after(yard, seed, from).await;
    (world.looks, world.swaps) = (0, 0);
    let mut half = Half::default();
    let mut passed = vec![false; world.bikes.len()];
    for week in 1..=HALF_YEAR / 7 {
        let before = world.morning;
        world.ride_to(from + 7 * week).await;
        let on_before: Vec<usize> = world.chains.iter().map(|chain| chain.from).collect();
        for bike in world.ids.keys() {
            let chain = &world.chains[*bike];
            if !passed[*bike] && chain.from < before && chain.on(before) > LIMIT + 0.1 {
                passed[*bike] = true;
                half.passed += 1;
            }
        }
        world.look_from(before).await;
        for (bike, from) in on_before.iter().enumerate() {
            if world.chains[bike].from != *from {
                passed[bike] = false;
            }
        }
    }
    (half.looks, half.swaps) = (world.looks, world.swaps);
    half
}

#[tokio::test]
#[ignore = "run by hand"]
async fn half_a_year_on_its_word() {
    println!(
        "| yard, seed | way | passed by 0.1 % | looks | swaps | told to swap with more than 30 % left |\n|---|---|---|---|---|---|"
    );
    // From the beginning of March of the third year.
    let from = HISTORY + 59;
    for yard in yards().into_iter().take(2) {
        for seed in seeds() {
            let mut world = looked_after(&yard, seed, from).await;
            let on_its_word = on_the_services_word(&mut world, from, HALF_YEAR / 7).await;
            for (way, half) in [
                ("the service's word", on_its_word),
                ("every six weeks", looked_at_every_six_weeks(&yard, seed, from).await),
            ] {
                let Half { passed, looks, swaps, early, told, swapped_on: _ } = half;
                println!(
                    "| {}, {seed} | {way} | {passed} | {looks} | {swaps} | {early} of {told} |",
                    yard.name
                );
            }
        }
    }
}

#[tokio::test]
#[ignore = "run by hand"]
async fn a_year_by_month_against_what_came() {
    println!(
        "| yard, seed | month | chains told (P10 to P90) | at the limit | came |\n|---|---|---|---|---|"
    );
    let (mut inside, mut months_asked) = (0, 0);
    for yard in yards().into_iter().take(yards_asked()) {
        for seed in seeds() {
            let mut world = looked_after(&yard, seed, HISTORY).await;
            world.night().await;
            let told = world.server.get("/v1/coming-year").await.expect(200).body;
            let months = told["months"].as_array().expect("months").clone();
            let at_the_limit = world.at_the_limit(365 + 31);
            let lived = on_the_services_word(&mut world, HISTORY, 57).await;
            let month_of = |day: &usize| world.at(*day, 12)[..7].to_owned();
            let range = |told: &Value| {
                let [p10, mean, p90] =
                    ["p10", "mean", "p90"].map(|of| told["chains"][of].as_f64().expect("a number"));
                (format!("{mean:.1} ({p10:.0} to {p90:.0})"), p10..=p90)
            };
            let (mut all, mut all_at_the_limit) = (0, 0);
            for month in &months {
                let name = month["month"].as_str().expect("a month");
                let in_month = |days: &[usize]| days.iter().map(month_of).filter(|of| of == name).count();
                let (came, limit) = (in_month(&lived.swapped_on), in_month(&at_the_limit));
                let (text, told) = range(month);
                println!("| {}, {seed} | {name} | {text} | {limit} | {came} |", yard.name);
                inside += usize::from(told.contains(&(came as f64)));
                (all, all_at_the_limit) = (all + came, all_at_the_limit + limit);
                months_asked += 1;
            }
            let (text, _) = range(&told["year"]);
            println!("| {}, {seed} | **year** | {text} | {all_at_the_limit} | {all} |", yard.name);
        }
    }
    println!("{inside} of {months_asked} months inside");
    assert!(inside * 2 > months_asked, "{inside} of {months_asked}");
}
