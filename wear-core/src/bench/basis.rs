//! The working basis of the linear relaxation.
//!
//! Each job has exactly one choice, so its "one choice" row needs no row in the basis: one of its basic
//! choices, the *key*, is expressed by the others (generalised upper bounding, Dantzig and Van Slyke 1967,
//! M). What remains is a square matrix with one row for each shared row in use. Its inverse is kept whole:
//! it has tens of rows, not thousands.

use super::model::Model;

/// A basic variable other than a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Basic {
    /// What is left of a row in use, by its place among the rows in use.
    Slack(usize),
    /// A choice of a job that is not its key.
    Choice { job: usize, choice: usize },
}

#[derive(Debug, Clone)]
pub(super) struct Basis {
    /// Rows in use, as row numbers of the model.
    pub rows: Vec<usize>,
    /// For each model row its place in `rows`, or `usize::MAX`.
    pub place: Vec<usize>,
    pub key: Vec<usize>,
    /// Basic choices that are not keys, by job: places in `basic`.
    pub members: Vec<Vec<usize>>,
    pub basic: Vec<Basic>,
    pub value: Vec<f64>,
    pub inverse: Vec<Vec<f64>>,
}

impl Basis {
    /// Every job on the choice `key` names, no row in use.
    pub fn new(model: &Model, key: Vec<usize>) -> Self {
        Self {
            rows: Vec::new(),
            place: vec![usize::MAX; model.row_count()],
            members: vec![Vec::new(); key.len()],
            key,
            basic: Vec::new(),
            value: Vec::new(),
            inverse: Vec::new(),
        }
    }

    /// Value of a job's key: one minus its other basic choices.
    pub fn key_value(&self, job: usize) -> f64 {
        1.0 - self.members[job].iter().map(|&at| self.value[at]).sum::<f64>()
    }

    /// Claims of `choice` beyond those of the job's key, by place among the rows in use.
    pub fn column(&self, model: &Model, job: usize, choice: usize, into: &mut Vec<(usize, f64)>) {
        into.clear();
        let choices = &model.jobs[job].choices;
        for (choice, sign) in [(choice, 1.0), (self.key[job], -1.0)] {
            model.claims(job, choices[choice].day, |row, claim| {
                if self.place[row] != usize::MAX {
                    into.push((self.place[row], sign * claim));
                }
            });
        }
    }

    /// The inverse times a sparse column.
    pub fn solve(&self, column: &[(usize, f64)]) -> Vec<f64> {
        self.inverse.iter().map(|line| column.iter().map(|&(at, x)| line[at] * x).sum()).collect()
    }

    /// Takes a row into use; its slack becomes basic.
    pub fn add_row(&mut self, model: &Model, row: usize) {
        let size = self.rows.len();
        let mut line = vec![0.0; size + 1];
        line[size] = 1.0;
        for (at, basic) in self.basic.iter().enumerate() {
            let Basic::Choice { job, choice } = *basic else { continue };
            let choices = &model.jobs[job].choices;
            let claim = model.claim(job, choices[choice].day, row)
                - model.claim(job, choices[self.key[job]].day, row);
            if claim != 0.0 {
                for (x, y) in line.iter_mut().zip(&self.inverse[at]) {
                    *x -= claim * y;
                }
            }
        }
        for other in &mut self.inverse {
            other.push(0.0);
        }
        let mut left = model.available(row);
        for job in 0..self.key.len() {
            self.each_value(job, |choice, value| {
                left -= value * model.claim(job, model.jobs[job].choices[choice].day, row);
            });
        }
        self.inverse.push(line);
        self.place[row] = size;
        self.rows.push(row);
        self.basic.push(Basic::Slack(size));
        self.value.push(left);
    }

    /// Calls `each` with every basic choice of a job, its key included, and the choice's value.
    pub fn each_value(&self, job: usize, mut each: impl FnMut(usize, f64)) {
        let mut key_value = 1.0;
        for &at in &self.members[job] {
            if let Basic::Choice { choice, .. } = self.basic[at] {
                key_value -= self.value[at];
                each(choice, self.value[at]);
            }
        }
        each(self.key[job], key_value);
    }

    /// Makes the member at `at` its job's key; the old key takes the place `at`.
    pub fn exchange_key(&mut self, job: usize, at: usize) {
        let Basic::Choice { choice, .. } = self.basic[at] else { return };
        let old_key_value = self.key_value(job);
        let size = self.rows.len();
        let mut line: Vec<f64> = (0..size).map(|k| -self.inverse[at][k]).collect();
        for &other in &self.members[job] {
            if other != at {
                for (x, y) in line.iter_mut().zip(&self.inverse[other]) {
                    *x -= y;
                }
            }
        }
        self.inverse[at] = line;
        self.basic[at] = Basic::Choice { job, choice: self.key[job] };
        self.key[job] = choice;
        self.value[at] = old_key_value;
    }

    /// Puts `entering` at place `at`, given the entering column in basis coordinates.
    pub fn pivot(&mut self, at: usize, entering: Basic, direction: &[f64]) {
        let pivot = direction[at];
        let step = self.value[at] / pivot;
        let mut line = std::mem::take(&mut self.inverse[at]);
        for x in &mut line {
            *x /= pivot;
        }
        for (other, &factor) in direction.iter().enumerate() {
            if other != at && factor != 0.0 {
                for (x, y) in self.inverse[other].iter_mut().zip(&line) {
                    *x -= factor * y;
                }
                self.value[other] -= step * factor;
            }
        }
        self.inverse[at] = line;
        self.value[at] = step;
        if let Basic::Choice { job, .. } = self.basic[at] {
            self.members[job].retain(|&member| member != at);
        }
        if let Basic::Choice { job, .. } = entering {
            self.members[job].push(at);
        }
        self.basic[at] = entering;
    }

    /// Computes the inverse and the values anew. False when the basis is singular.
    pub fn refresh(&mut self, model: &Model) -> bool {
        let size = self.rows.len();
        let mut matrix = vec![vec![0.0; size]; size];
        let mut column = Vec::new();
        for (at, basic) in self.basic.iter().enumerate() {
            match *basic {
                Basic::Slack(row) => matrix[row][at] = 1.0,
                Basic::Choice { job, choice } => {
                    self.column(model, job, choice, &mut column);
                    for &(row, claim) in &column {
                        matrix[row][at] += claim;
                    }
                }
            }
        }
        let Some(inverse) = invert(matrix) else { return false };
        let mut right: Vec<f64> = self.rows.iter().map(|&row| model.available(row)).collect();
        for (job, &key) in self.key.iter().enumerate() {
            model.claims(job, model.jobs[job].choices[key].day, |row, claim| {
                if self.place[row] != usize::MAX {
                    right[self.place[row]] -= claim;
                }
            });
        }
        self.value = inverse.iter().map(|line| line.iter().zip(&right).map(|(x, y)| x * y).sum()).collect();
        self.inverse = inverse;
        true
    }
}

/// Gauss–Jordan elimination with row exchange.
fn invert(mut matrix: Vec<Vec<f64>>) -> Option<Vec<Vec<f64>>> {
    let size = matrix.len();
    let mut inverse: Vec<Vec<f64>> =
        (0..size).map(|i| (0..size).map(|j| f64::from(u8::from(i == j))).collect()).collect();
    for column in 0..size {
        let best =
            (column..size).max_by(|&a, &b| matrix[a][column].abs().total_cmp(&matrix[b][column].abs()))?;
        if matrix[best][column].abs() < 1e-10 {
            return None;
        }
        matrix.swap(column, best);
        inverse.swap(column, best);
        let pivot = matrix[column][column];
        let pivot_line: Vec<f64> = matrix[column].iter().map(|x| x / pivot).collect();
        let pivot_inverse: Vec<f64> = inverse[column].iter().map(|x| x / pivot).collect();
        for line in 0..size {
            let factor = matrix[line][column];
            if line != column && factor != 0.0 {
                for k in 0..size {
                    matrix[line][k] -= factor * pivot_line[k];
                    inverse[line][k] -= factor * pivot_inverse[k];
                }
            }
        }
        matrix[column] = pivot_line;
        inverse[column] = pivot_inverse;
    }
    Some(inverse)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inverse_times_matrix_is_identity() {
        let matrix = vec![vec![0.0, 2.0, 1.0], vec![1.0, 0.0, 3.0], vec![4.0, 5.0, 0.0]];
        let inverse = invert(matrix.clone()).expect("regular");
        for (i, line) in inverse.iter().enumerate() {
            for j in 0..3 {
                let x: f64 = line.iter().zip(&matrix).map(|(x, row)| x * row[j]).sum();
                assert!((x - f64::from(u8::from(i == j))).abs() < 1e-12);
            }
        }
        assert!(invert(vec![vec![1.0, 2.0], vec![2.0, 4.0]]).is_none());
    }
}
