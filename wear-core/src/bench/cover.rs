//! Who is left out, as whole jobs.
//!
//! The minutes of all jobs less those of all days have to be left out, by jobs as a whole: a covering knapsack. The
//! linear relaxation leaves out a part of the job that is cheapest for its minutes, which costs far less.

use super::model::{FIT_TOLERANCE, Model};

/// Most cells of the table.
const MOST_CELLS: f64 = 4_000.0;

/// Minutes that have to be left out, in cells.
#[derive(Debug)]
pub(super) struct Cover {
    /// By job; rounded up.
    length: Vec<usize>,
    /// Rounded down.
    needed: usize,
    /// Jobs that can only be left out; their minutes are not in `needed`.
    forced: Vec<bool>,
}

impl Cover {
    pub fn of(model: &Model) -> Self {
        let out = model.left_out_day();
        let forced: Vec<bool> =
            model.jobs.iter().map(|job| job.choices.iter().all(|choice| choice.day == out)).collect();
        let open = |job: usize| !forced[job];
        let total: f64 = (0..forced.len()).filter(|&job| open(job)).map(|job| model.jobs[job].minutes).sum();
        let room: f64 = model.capacity.iter().map(|minutes| minutes + FIT_TOLERANCE * minutes.max(1.0)).sum();
        let missing = (total - room - 1e-9 * total).max(0.0);
        let lengths = || model.jobs.iter().map(|job| job.minutes);
        // Exact where lengths are multiples of a power of two that is coarse enough.
        let exact = (-4..=14).map(|power| f64::exp2(f64::from(power))).find(|factor| {
            lengths().all(|length| {
                let scaled = length * factor;
                scaled < 1e9 && (scaled - scaled.round()).abs() <= 1e-9 * scaled.max(1.0)
            })
        });
        let factor = match exact {
            Some(factor) if missing * factor <= MOST_CELLS => factor,
            _ if missing > 0.0 => MOST_CELLS / missing,
            _ => 1.0,
        };
        let cells = |length: f64| (length * factor - 1e-6).ceil().max(0.0) as usize;
        Self { length: lengths().map(cells).collect(), needed: cells(missing), forced }
    }
}

/// The table of the covering knapsack, kept for the next.
#[derive(Debug, Default)]
pub(super) struct CoverTable {
    /// Least cost of covering so many cells with jobs that cost something to be left out.
    value: Vec<f64>,
    taking: Vec<bool>,
    open: Vec<(usize, f64)>,
    /// What those cost that gain by being left out.
    sure: f64,
    pub cells_filled: usize,
}

impl CoverTable {
    /// The least sum of `cost` over jobs left out that cover what is needed. `taken` is told each.
    pub fn fill(&mut self, cover: &Cover, cost: impl Fn(usize) -> f64, mut taken: impl FnMut(usize)) -> f64 {
        let Self { value, taking, open, sure, cells_filled } = self;
        open.clear();
        *sure = 0.0;
        let mut needed = cover.needed;
        for job in 0..cover.length.len() {
            let cost = cost(job);
            if cover.forced[job] || cost < 0.0 {
                *sure += cost;
                if !cover.forced[job] {
                    needed = needed.saturating_sub(cover.length[job]);
                }
                taken(job);
            } else if cover.length[job] > 0 {
                open.push((job, cost));
            }
        }
        let width = needed + 1;
        value.clear();
        value.resize(width, f64::INFINITY);
        value[0] = 0.0;
        taking.clear();
        *cells_filled = cover.length.len();
        if needed == 0 {
            return *sure;
        }
        taking.resize(width * open.len(), false);
        *cells_filled += width * open.len();
        for (&(job, cost), taking) in open.iter().zip(taking.chunks_exact_mut(width)) {
            let length = cover.length[job];
            for cell in (1..width).rev() {
                let with = value[cell.saturating_sub(length)] + cost;
                if with < value[cell] {
                    value[cell] = with;
                    taking[cell] = true;
                }
            }
        }
        let mut cell = needed;
        for (&(job, _), taking) in open.iter().zip(taking.chunks_exact(width)).rev() {
            if taking[cell] {
                taken(job);
                cell = cell.saturating_sub(cover.length[job]);
            }
        }
        *sure + value[needed]
    }

    /// No more than the least sum with `job` left out, after [`CoverTable::fill`] at the same costs.
    pub fn with(&self, cover: &Cover, job: usize, cost: f64) -> f64 {
        let needed = self.value.len() - 1;
        if cover.forced[job] || cost < 0.0 {
            return self.sure + self.value[needed];
        }
        self.sure + self.value[needed.saturating_sub(cover.length[job])] + cost
    }
}

#[cfg(test)]
mod tests {
    use super::super::model::{Choice, ModelJob, Stream};
    use super::*;

    /// Some too long for the day, whole or odd minutes.
    fn random_model(stream: &mut Stream) -> Model {
        let odd = stream.below(2) == 0;
        let job = |stream: &mut Stream| {
            let minutes = if odd { 3.0 * stream.unit() } else { 0.5 * stream.below(8) as f64 };
            let out = Choice { day: 1, cost: 10.0 * stream.unit() };
            let mut choices = vec![out];
            if minutes <= 3.0 {
                choices.insert(0, Choice { day: 0, cost: 0.0 });
            }
            ModelJob { minutes, needs: Vec::new(), choices }
        };
        let jobs = (0..1 + stream.below(8)).map(|_| job(stream)).collect();
        Model::new(vec![3.0], 0, Vec::new(), jobs)
    }

    #[test]
    fn it_is_the_least_cost_of_leaving_enough_out() {
        let mut stream = Stream(29);
        let (mut covered, mut exact) = (0, 0);
        for _ in 0..3_000 {
            let model = random_model(&mut stream);
            let count = model.jobs.len();
            let costs: Vec<f64> = (0..count).map(|_| 10.0 * stream.unit() - 3.0).collect();
            let cover = Cover::of(&model);
            let mut table = CoverTable::default();
            let mut taken = Vec::new();
            let least = table.fill(&cover, |job| costs[job], |job| taken.push(job));
            let sum: f64 = taken.iter().map(|&job| costs[job]).sum();
            assert!((sum - least).abs() < 1e-9, "the jobs told cost {sum}, not {least}");
            let mut truth = f64::INFINITY;
            let mut with = vec![f64::INFINITY; count];
            for set in 0..1_usize << count {
                let out = |job: usize| set >> job & 1 == 1;
                let stays: f64 = (0..count).filter(|&job| !out(job)).map(|job| model.jobs[job].minutes).sum();
                let may = (0..count).all(|job| out(job) || model.jobs[job].minutes <= 3.0);
                if stays <= 3.0 + 1e-12 && may {
                    let cost: f64 = (0..count).filter(|&job| out(job)).map(|job| costs[job]).sum();
                    truth = truth.min(cost);
                    (0..count).filter(|&job| out(job)).for_each(|job| with[job] = with[job].min(cost));
                }
            }
            assert!(least <= truth + 1e-9, "{least} above {truth}");
            for (job, with) in with.iter().enumerate() {
                assert!(table.with(&cover, job, costs[job]) <= with + 1e-9);
            }
            covered += usize::from(cover.needed > 0);
            exact += usize::from(least > truth - 1e-9);
        }
        assert!(covered > 1_000 && exact > 2_700, "{covered} covered, {exact} exact");
    }
}
