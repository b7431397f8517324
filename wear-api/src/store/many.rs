//! Statements over many rows at once.

use std::fmt::Write;

/// A statement whose `values` list holds 100 rows, 10 rows or one: many rows are few statements, each
/// text is made once, and no text depends on what a client sent.
pub(super) struct Many {
    texts: [&'static str; SIZES.len()],
}

const SIZES: [usize; 3] = [100, 10, 1];

impl Many {
    /// `head`, then rows of `columns` parameters each, then `tail`. Parameters begin after `fixed` ones
    /// that stand in `head` or `row_head`; `row_head` begins each row: `(`, `($1, `, or nothing where a row is a
    /// bare parameter.
    pub(super) fn new(head: &str, row_head: &str, fixed: usize, columns: usize, tail: &str) -> Self {
        let texts = SIZES.map(|rows| {
            let mut text = head.to_owned();
            for row in 0..rows {
                text += if row == 0 { "" } else { ", " };
                text += row_head;
                for column in 0..columns {
                    let comma = if column == 0 { "" } else { ", " };
                    // Writing to a string doesn't fail.
                    let _ = write!(text, "{comma}${}", fixed + row * columns + column + 1);
                }
                text += if row_head.is_empty() { "" } else { ")" };
            }
            text += tail;
            // Leaked once for each statement and size, as texts of statements have to be static.
            &*text.leak()
        });
        Self { texts }
    }

    /// Cuts `items` into batches, each with the text that holds as many rows.
    pub(super) fn batches<'a, T>(
        &self,
        items: &'a [T],
    ) -> impl Iterator<Item = (&'static str, &'a [T])> + use<'a, T> {
        let texts = self.texts;
        let mut rest = items;
        std::iter::from_fn(move || {
            let (size, text) = SIZES.into_iter().zip(texts).find(|(size, _)| *size <= rest.len())?;
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
        let many = Many::new("insert into t values ", "($1, ", 1, 2, " returning a");
        assert_eq!(many.texts()[2], "insert into t values ($1, $2, $3) returning a");
        let ten = many.texts()[1];
        assert!(ten.starts_with("insert into t values ($1, $2, $3), ($1, $4, $5), "), "{ten}");
        assert!(ten.ends_with("($1, $20, $21) returning a"), "{ten}");
    }

    #[test]
    fn batches_hold_every_item_once_in_order() {
        let many = Many::new("", "(", 0, 1, "");
        let items: Vec<usize> = (0..223).collect();
        let batches: Vec<_> = many.batches(&items).map(|(_, batch)| batch.len()).collect();
        assert_eq!(batches, [100, 100, 10, 10, 1, 1, 1]);
        let through: Vec<usize> = many.batches(&items).flat_map(|(_, batch)| batch.to_vec()).collect();
        assert_eq!(through, items);
    }
}
