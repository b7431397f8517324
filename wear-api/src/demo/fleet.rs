//! Which bikes the invented yard has.

use chrono::{Days, NaiveDate};
use rand::RngExt as _;
use rand_chacha::ChaCha8Rng;
use wear_core::drivetrain::{DrivetrainFacts, Gearing};
use wear_core::exposure::Use;

use crate::domain::{BikeFacts, Drivetrain, GroupName, Label, Timestamp};

/// How a bike came to a state that a person has to look at, told on purpose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Story {
    /// Ridden, cared for and measured as most are.
    Usual,
    /// Somebody put a new chain on and told nobody.
    SecretSwap,
    /// Nobody has measured it for a year.
    Forgotten,
    /// It has stood in the shed since the summer.
    Stored,
}

/// A bike before it is entered.
#[derive(Debug, Clone)]
pub struct PlannedBike {
    /// What it is.
    pub facts: BikeFacts,
    /// What became of it.
    pub story: Story,
    /// Days since it came to the yard.
    pub age_days: u64,
    /// Mean distance of a day on which it is out, km.
    pub day_km: f64,
    /// Probability of being out on a day.
    pub out: f64,
    /// Its true median wear, as a factor on the default.
    pub wear: f64,
    /// Days between readings, on average; some groups are read often.
    pub days_between_readings: u64,
}

impl PlannedBike {
    /// The day its parts were fitted.
    #[must_use]
    pub fn fitted_on(&self, now: Timestamp) -> NaiveDate {
        let today = now.utc_date();
        today.checked_sub_days(Days::new(self.age_days)).unwrap_or(today)
    }
}

struct Group {
    name: &'static str,
    usage: Use,
    count: usize,
    rings: &'static [u32],
    cogs: &'static [u32],
    links: u32,
    gearing: Option<Gearing>,
    day_km: f64,
    wear: f64,
    days_between_readings: u64,
}

const GROUPS: [Group; 5] = [
    Group {
        name: "quay-town-8s",
        usage: Use::Town,
        count: 26,
        rings: &[42],
        cogs: &[11, 13, 15, 17, 20, 23, 26, 30],
        links: 114,
        gearing: None,
        day_km: 17.0,
        wear: 1.0,
        days_between_readings: 32,
    },
    Group {
        name: "long-quay-cargo",
        usage: Use::ECargo,
        count: 8,
        rings: &[38],
        cogs: &[11, 13, 15, 18, 21, 24, 28, 32, 36],
        links: 132,
        gearing: None,
        day_km: 19.0,
        wear: 1.2,
        days_between_readings: 20,
    },
    Group {
        name: "island-gravel-12s",
        usage: Use::Gravel,
        count: 12,
        rings: &[40],
        cogs: &[10, 11, 12, 13, 15, 17, 19, 21, 24, 28, 32, 36],
        links: 116,
        gearing: None,
        day_km: 28.0,
        wear: 0.85,
        days_between_readings: 22,
    },
    Group {
        name: "pier-hub",
        usage: Use::Town,
        count: 10,
        rings: &[40],
        cogs: &[19],
        links: 106,
        gearing: Some(Gearing::HubGear),
        day_km: 14.0,
        wear: 0.9,
        days_between_readings: 70,
    },
    Group {
        name: "road-11s",
        usage: Use::Road,
        count: 5,
        rings: &[50, 34],
        cogs: &[11, 12, 13, 14, 15, 17, 19, 21, 24, 27, 30],
        links: 110,
        gearing: None,
        day_km: 42.0,
        wear: 0.9,
        days_between_readings: 24,
    },
];

/// The yard's bikes, in the order of their numbers.
#[must_use]
pub fn bikes(random: &mut ChaCha8Rng) -> Vec<PlannedBike> {
    let mut planned = Vec::new();
    for group in &GROUPS {
        for index in 0..group.count {
            let story = match index {
                3 if group.count > 5 => Story::SecretSwap,
                5 => Story::Forgotten,
                7 => Story::Stored,
                _ => Story::Usual,
            };
            let facts = DrivetrainFacts {
                rings: group.rings.to_vec(),
                cogs: group.cogs.to_vec(),
                links: group.links,
                gearing: group.gearing,
                ..DrivetrainFacts::default()
            };
            // The tables above are legal, which the demonstration's own test shows.
            let parsed = (
                Drivetrain::new(&facts),
                GroupName::new(group.name),
                Label::new(&format!("{:03}", planned.len() + 1)),
            );
            let (Ok(drivetrain), Ok(name), Ok(label)) = parsed else { continue };
            planned.push(PlannedBike {
                facts: BikeFacts {
                    label,
                    group: name,
                    usage: group.usage,
                    drivetrain,
                    is_assumed: false,
                    limit: None,
                    care: None,
                    kind: None,
                    external_id: None,
                },
                story,
                age_days: random.random_range(400..730),
                day_km: group.day_km * random.random_range(0.7..1.3),
                out: random.random_range(0.45..0.8),
                wear: group.wear,
                days_between_readings: group.days_between_readings,
            });
        }
    }
    planned
}
