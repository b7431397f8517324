//! The plan as numbers: choices of each job, rows that choices share.

/// Where a job may go and what that costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Choice {
    /// Index of the day, or [`Model::left_out_day`].
    pub day: usize,
    /// Cost of this choice.
    pub cost: f64,
}

/// One job's claims and choices. The choices are sorted by cost; one of them is to be left out.
#[derive(Debug, Clone)]
pub(super) struct ModelJob {
    pub minutes: f64,
    /// Part index and how many of it.
    pub needs: Vec<(usize, f64)>,
    pub choices: Vec<Choice>,
}

/// Use of one part on all days up to `last_day` may not exceed `available`.
#[derive(Debug, Clone, Copy)]
pub(super) struct PartLimit {
    pub part: usize,
    pub last_day: usize,
    pub available: f64,
}

/// A generalised assignment problem with cumulative part limits.
///
/// Rows are numbered: row `j` below the number of days is day `j`'s minutes, the rest are the part limits
/// in order.
#[derive(Debug, Clone)]
pub(super) struct Model {
    pub capacity: Vec<f64>,
    pub part_count: usize,
    /// Sorted by part, then by day.
    pub limits: Vec<PartLimit>,
    pub jobs: Vec<ModelJob>,
    /// For each part the range of its limits.
    part_limits: Vec<std::ops::Range<usize>>,
}

/// Minutes and counts are compared with this relative tolerance, as sums of decimals are not exact.
pub(super) const FIT_TOLERANCE: f64 = 1e-9;

impl Model {
    /// `limits` must be sorted by part and day.
    pub fn new(capacity: Vec<f64>, part_count: usize, limits: Vec<PartLimit>, jobs: Vec<ModelJob>) -> Self {
        let mut part_limits = vec![0..0; part_count];
        for (index, limit) in limits.iter().enumerate() {
            let range = &mut part_limits[limit.part];
            *range = if range.start == range.end { index..index + 1 } else { range.start..index + 1 };
        }
        Self { capacity, part_count, limits, jobs, part_limits }
    }

    /// The day index that stands for being left out.
    pub fn left_out_day(&self) -> usize {
        self.capacity.len()
    }

    pub fn row_count(&self) -> usize {
        self.capacity.len() + self.limits.len()
    }

    pub fn available(&self, row: usize) -> f64 {
        let days = self.capacity.len();
        if row < days { self.capacity[row] } else { self.limits[row - days].available }
    }

    /// Indices into [`Model::limits`] of one part.
    pub fn limits_of(&self, part: usize) -> std::ops::Range<usize> {
        self.part_limits[part].clone()
    }

    /// What `job` takes from `row` when it is on `day`.
    pub fn claim(&self, job: usize, day: usize, row: usize) -> f64 {
        let days = self.capacity.len();
        let job = &self.jobs[job];
        if row < days {
            return if day == row { job.minutes } else { 0.0 };
        }
        let limit = &self.limits[row - days];
        if day > limit.last_day {
            return 0.0;
        }
        job.needs.iter().find(|need| need.0 == limit.part).map_or(0.0, |need| need.1)
    }

    /// Calls `each` with every row that `job` claims on `day` and how much.
    pub fn claims(&self, job: usize, day: usize, mut each: impl FnMut(usize, f64)) {
        let days = self.capacity.len();
        if day == days {
            return;
        }
        let job = &self.jobs[job];
        each(day, job.minutes);
        for &(part, count) in &job.needs {
            for index in self.limits_of(part) {
                if day <= self.limits[index].last_day {
                    each(days + index, count);
                }
            }
        }
    }

    /// Total number of choices.
    pub fn choice_count(&self) -> usize {
        self.jobs.iter().map(|job| job.choices.len()).sum()
    }

    /// Cost of a full choice vector.
    pub fn cost(&self, chosen: &[usize]) -> f64 {
        self.jobs.iter().zip(chosen).map(|(job, &choice)| job.choices[choice].cost).sum()
    }

    /// A step `g` such that every plan's cost is a multiple of it, or 0 when none is found.
    ///
    /// Looks for whole numbers after multiplying with 1, 10, … 10⁴.
    pub fn cost_step(&self) -> f64 {
        let costs = || self.jobs.iter().flat_map(|job| job.choices.iter().map(|choice| choice.cost));
        let mut scale = 1.0;
        for _ in 0..5 {
            let whole = |cost: f64| {
                let scaled = cost * scale;
                scaled < 1e12 && (scaled - scaled.round()).abs() <= 1e-9 * scaled.max(1.0)
            };
            if costs().all(whole) {
                let divisor =
                    costs().fold(0_u64, |divisor, cost| gcd(divisor, (cost * scale).round() as u64));
                return divisor as f64 / scale;
            }
            scale *= 10.0;
        }
        0.0
    }
}

fn gcd(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// Work done, in units of roughly one multiplication, and how much is allowed.
///
/// Limits are counted and not timed, so the same problem always gets the same plan.
#[derive(Debug, Clone, Copy)]
pub(super) struct Work {
    pub done: u64,
    pub limit: u64,
    /// Rows that a typical choice claims: what looking at one choice costs.
    rows_per_choice: u64,
}

impl Work {
    /// No limit yet.
    pub fn new(model: &Model) -> Self {
        let claims: usize = model.jobs.iter().map(|job| job.needs.len()).sum();
        Self { done: 0, limit: u64::MAX, rows_per_choice: 1 + (claims / model.jobs.len().max(1)) as u64 }
    }

    /// Counts looking at `choices` choices.
    pub fn spend(&mut self, choices: usize) {
        self.done += choices as u64 * self.rows_per_choice;
    }

    pub fn is_spent(&self) -> bool {
        self.done >= self.limit
    }
}

/// SplitMix64 (Steele, Lea, Flood 2014): a fixed, seedless stream for tie-breaks and neighbourhoods.
#[derive(Debug, Clone)]
pub(super) struct Stream(pub u64);

impl Stream {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A whole number below `end`; 0 when `end` is 0.
    pub fn below(&mut self, end: usize) -> usize {
        if end == 0 { 0 } else { (self.next() % end as u64) as usize }
    }

    /// A number in [0, 1).
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}
