//! A table of sums by bike and block, taken apart into a factor of each: `value ≈ row · column · offset`.

use std::collections::BTreeMap;

use super::wave::Wave;

/// Rounds of the fit: the likelihood is that of Poisson counts, and each round maximises it over one side (M).
const ROUNDS: usize = 100;

/// One sum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    pub row: usize,
    pub column: i64,
    pub offset: f64,
    pub value: f64,
}

/// What a column has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Column {
    pub place: i64,
    pub factor: f64,
    /// What its rows would come to if its factor were 1.
    pub usual: f64,
    /// Number of rows of equal size that would tell as much.
    pub effective: f64,
}

/// The factors.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TwoWay {
    rows: Vec<(f64, f64)>,
    columns: Vec<Column>,
}

impl TwoWay {
    /// `None` where nothing was used.
    pub fn of(cells: &[Cell], rows: usize) -> Option<Self> {
        let cells: Vec<&Cell> = cells.iter().filter(|cell| cell.offset > 0.0).collect();
        let places: BTreeMap<i64, usize> = cells
            .iter()
            .map(|cell| cell.column)
            .collect::<std::collections::BTreeSet<_>>()
            .into_iter()
            .enumerate()
            .map(|(place, column)| (column, place))
            .collect();
        let column_of: Vec<usize> = cells.iter().map(|cell| places[&cell.column]).collect();
        let mut of_rows = vec![(0.0, 0.0); rows];
        let mut of_columns = vec![1.0; places.len()];
        for _ in 0..ROUNDS {
            of_rows.fill((0.0, 0.0));
            for (cell, column) in cells.iter().zip(&column_of) {
                let (value, usual) = &mut of_rows[cell.row];
                *value += cell.value;
                *usual += of_columns[*column] * cell.offset;
            }
            let factor = |row: usize| {
                let (value, usual): (f64, f64) = of_rows[row];
                if usual > 0.0 { value / usual } else { 0.0 }
            };
            let mut sums = vec![(0.0, 0.0); places.len()];
            for (cell, column) in cells.iter().zip(&column_of) {
                sums[*column].0 += cell.value;
                sums[*column].1 += factor(cell.row) * cell.offset;
            }
            for (of_column, (value, usual)) in of_columns.iter_mut().zip(&sums) {
                *of_column = if *usual > 0.0 { value / usual } else { 0.0 };
            }
            // The mean of the columns is 1.
            let mean = of_columns.iter().sum::<f64>() / of_columns.len() as f64;
            if !(mean > 0.0 && mean.is_finite()) {
                return None;
            }
            of_columns.iter_mut().for_each(|factor| *factor /= mean);
        }
        let rows: Vec<(f64, f64)> = of_rows
            .iter()
            .map(|&(value, usual)| (if usual > 0.0 { value / usual } else { 0.0 }, value))
            .collect();
        let mut sums = vec![(0.0, 0.0); places.len()];
        for (cell, column) in cells.iter().zip(&column_of) {
            let usual = rows[cell.row].0 * cell.offset;
            sums[*column].0 += usual;
            sums[*column].1 += usual * usual;
        }
        let columns = places
            .into_keys()
            .zip(of_columns)
            .zip(sums)
            .filter(|(_, (usual, _))| *usual > 0.0)
            .map(|((place, factor), (usual, squares))| Column {
                place,
                factor,
                usual,
                effective: usual * usual / squares,
            })
            .collect();
        Some(Self { rows, columns })
    }

    pub fn columns(&self) -> impl Iterator<Item = &Column> + '_ {
        self.columns.iter()
    }

    /// Factor of each row, and all that it came to.
    pub fn rows(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.rows.iter().copied()
    }

    /// Mean over the columns of what is left of ln factor when a wave is taken out, by what they tell.
    pub fn mean_ln_over(&self, wave: &Wave, middle_of: impl Fn(i64) -> f64) -> f64 {
        let (mut sum, mut weight) = (0.0, 0.0);
        for column in self.columns.iter() {
            let usual = wave.ln_at(middle_of(column.place)).exp();
            sum += column.factor * column.usual;
            weight += usual * column.usual;
        }
        if sum > 0.0 && weight > 0.0 { (sum / weight).ln() } else { 0.0 }
    }

    /// Variance of a cell's value over what is expected of it, relative, by expectation.
    pub fn scatter(&self, cells: &[Cell]) -> f64 {
        let factors: BTreeMap<i64, f64> =
            self.columns.iter().map(|column| (column.place, column.factor)).collect();
        let (mut squares, mut weight) = (0.0, 0.0);
        for cell in cells {
            let Some(factor) = factors.get(&cell.column) else { continue };
            let expected = self.rows[cell.row].0 * factor * cell.offset;
            if expected > 0.0 {
                squares += (cell.value - expected).powi(2) / expected;
                weight += expected;
            }
        }
        if weight > 0.0 { squares / weight } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Small bikes in winter, large ones in summer: only what each does over its own mean makes a season.
    #[test]
    fn bikes_that_come_and_go_make_no_season() {
        let mut cells = Vec::new();
        for block in 0..13_i64 {
            for row in 0..6_usize {
                let large = row >= 3;
                if large && !(4..9).contains(&block) {
                    continue;
                }
                let level = if large { 30.0 } else { 10.0 };
                cells.push(Cell { row, column: block, offset: 28.0, value: 28.0 * level });
            }
        }
        let fit = TwoWay::of(&cells, 6).expect("used");
        for column in fit.columns() {
            assert!((column.factor - 1.0).abs() < 1e-9, "{column:?}");
        }
        let levels: Vec<f64> = fit.rows().map(|(factor, _)| factor).collect();
        assert!((levels[0] - 10.0).abs() < 1e-6 && (levels[5] - 30.0).abs() < 1e-6);
        assert_eq!(TwoWay::of(&[Cell { row: 0, column: 0, offset: 28.0, value: 0.0 }], 1), None);
    }
}
