//! Statements over many rows at once.

use std::fmt::Write;

use super::Engine;

/// A statement for several fixed numbers of rows, down to one: many rows are few statements, each text is
/// made once, and no text depends on what a client sent.
pub(super) struct Many {
    sizes: [usize; 4],
    texts: [&'static str; 4],
}

/// Rows of a statement that writes.
const WRITTEN: [usize; 4] = [100, 20, 5, 1];

/// Most rows of a statement on SQLite: finding a parameter's name there takes longer the more there are before it, and
/// trips are short.
const MOST_ON_SQLITE: usize = 20;

/// Rows of a statement that looks up: each is planned as a select of its own, and with more of them planning
/// costs more than the trips that are saved.
const LOOKED_UP: [usize; 4] = [20, 8, 3, 1];

impl Many {
    /// `head`, then rows with commas in between, then `tail`. In `row` each `?` stands for a parameter of its
    /// own; they are numbered after the `fixed` ones that `head` and `row` name.
    pub(super) fn new(head: &str, row: &str, fixed: usize, tail: &str) -> Self {
        Self::of_sizes(WRITTEN, head, row, ", ", fixed, tail)
    }

    fn of_sizes(sizes: [usize; 4], head: &str, row: &str, between: &str, fixed: usize, tail: &str) -> Self {
        let texts = sizes.map(|rows| {
            let mut text = head.to_owned();
            let mut number = fixed;
            for index in 0..rows {
                text += if index == 0 { "" } else { between };
                for (part, piece) in row.split('?').enumerate() {
                    if part > 0 {
                        number += 1;
                        // Writing to a string doesn't fail.
                        let _ = write!(text, "${number}");
                    }
                    text += piece;
                }
            }
            text += tail;
            // Leaked once for each statement and size, as texts of statements have to be static.
            &*text.leak()
        });
        Self { sizes, texts }
    }

    /// Looks up the rows of each key, in no order. Not `in (values …)`: on a workshop that Postgres has no statistics
    /// of, it takes that for few rows and reads all that the workshop has, for each batch (26 s in place of 1.8 s for
    /// 10,000 known rides). Not `in ($2, $3, …)` either: there it reads small tables from end to end and builds the
    /// list anew for every row of them (3 ms in place of 0.3). Selects of their own are planned one by one, by index.
    pub(super) fn look_up(select: &str) -> Self {
        Self::of_sizes(LOOKED_UP, "", select, " union all ", 1, "")
    }

    /// Joins ids with tables: `select` reads from `asked`, whose one column `id` holds them. Their type is that of the
    /// empty arm's column, as neither store could tell it from the parameters alone.
    pub(super) fn join(select: &str) -> Self {
        let head = "with asked (id) as (select workshop_id from workshops where 1 = 0 union all ";
        Self::of_sizes(WRITTEN, head, "select ?", " union all ", 1, &format!(") {select}"))
    }

    /// Cuts `items` into batches, each with the text that holds as many rows.
    pub(super) fn batches<'a, T>(
        &self,
        engine: Engine,
        items: &'a [T],
    ) -> impl Iterator<Item = (&'static str, &'a [T])> + use<'a, T> {
        let (sizes, texts) = (self.sizes, self.texts);
        let most = if engine == Engine::Sqlite { MOST_ON_SQLITE } else { usize::MAX };
        let mut rest = items;
        std::iter::from_fn(move || {
            let (size, text) =
                sizes.into_iter().zip(texts).find(|(size, _)| *size <= rest.len().min(most))?;
            let (batch, after) = rest.split_at(size);
            rest = after;
            Some((text, batch))
        })
    }

    /// Every text.
    pub(super) const fn texts(&self) -> &[&'static str] {
        &self.texts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_numbered_through() {
        let many = Many::new("insert into t values ", "($1, ?, ?)", 1, " returning a");
        assert_eq!(many.texts()[3], "insert into t values ($1, $2, $3) returning a");
        let five = many.texts()[2];
        assert!(five.starts_with("insert into t values ($1, $2, $3), ($1, $4, $5), "), "{five}");
        assert!(five.ends_with("($1, $10, $11) returning a"), "{five}");
    }

    #[test]
    fn batches_hold_every_item_once_in_order() {
        let many = Many::new("", "?", 0, "");
        let items: Vec<usize> = (0..223).collect();
        for (engine, sizes) in [
            (Engine::Postgres, [vec![100; 2], vec![20], vec![1; 3]].concat()),
            (Engine::Sqlite, [vec![20; 11], vec![1; 3]].concat()),
        ] {
            let batches: Vec<_> = many.batches(engine, &items).map(|(_, batch)| batch.to_vec()).collect();
            assert_eq!(batches.iter().map(Vec::len).collect::<Vec<_>>(), sizes);
            assert_eq!(batches.concat(), items);
        }
    }
}
