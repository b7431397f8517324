//! Single cells: formulas made harmless, numbers in either notation.

use std::borrow::Cow;

/// What a spreadsheet takes for the beginning of a formula, in full width too.
const FORMULA: &[char] = &['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];

/// The mark that makes a cell a text.
const MARK: char = '\'';

/// A text that no spreadsheet calculates with: one that begins like a formula, or with the mark itself, gets the mark in
/// front.
pub(super) fn neutralised(text: &str) -> Cow<'_, str> {
    if text.starts_with(FORMULA) || text.starts_with(MARK) {
        Cow::Owned(format!("{MARK}{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// The text as it was before [`neutralised`]; a mark that stands for nothing else stays.
pub(super) fn restored(cell: &str) -> &str {
    match cell.strip_prefix(MARK) {
        Some(rest) if rest.starts_with(FORMULA) || rest.starts_with(MARK) => rest,
        _ => cell,
    }
}

/// What separates whole from decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Decimal {
    Point,
    Comma,
}

/// A number as it was written, and its decimal mark if it has one; `None` for what is no plain number. No thousands
/// separators, no exponents of a thousand digits, no `NaN`.
pub(super) fn number(cell: &str) -> Option<(f64, Option<Decimal>)> {
    let plain = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+' | 'e' | 'E');
    if cell.is_empty() || cell.len() > 64 || !cell.chars().all(plain) {
        return None;
    }
    let decimal = match (cell.matches('.').count(), cell.matches(',').count()) {
        (0, 0) => None,
        (1, 0) => Some(Decimal::Point),
        (0, 1) => Some(Decimal::Comma),
        _ => return None,
    };
    let value: f64 = cell.replace(',', ".").parse().ok()?;
    value.is_finite().then_some((value, decimal))
}

/// Whole thousandths or millionths as a decimal number, exactly, without trailing zeros.
pub(super) fn fixed(units: i64, decimals: usize) -> String {
    let sign = if units < 0 { "-" } else { "" };
    let digits = format!("{:0width$}", units.unsigned_abs(), width = decimals + 1);
    let (whole, part) = digits.split_at(digits.len() - decimals);
    let part = part.trim_end_matches('0');
    if part.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{part}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_made_harmless_and_come_back() {
        for text in
            ["=1+1", "+49 1", "-x", "@SUM(A1)", "\tx", "'quoted", "''", "＝A1", "041", "", "a=b", "it's"]
        {
            let cell = neutralised(text);
            assert!(!cell.starts_with(FORMULA), "{cell}");
            assert_eq!(restored(&cell), text);
        }
        assert_eq!(neutralised("=HYPERLINK(\"x\")"), "'=HYPERLINK(\"x\")");
        // A mark that somebody typed stays.
        assert_eq!(restored("'041"), "'041");
    }

    #[test]
    fn numbers_have_one_decimal_mark() {
        assert_eq!(number("18,4"), Some((18.4, Some(Decimal::Comma))));
        assert_eq!(number("18.4"), Some((18.4, Some(Decimal::Point))));
        assert_eq!(number("-3"), Some((-3.0, None)));
        for wrong in ["1.234,5", "1,234.5", "1.2.3", "", "NaN", "inf", "1 000", "0x10", "1e999", "12 km"] {
            assert_eq!(number(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn whole_units_are_written_exactly() {
        for (units, decimals, text) in [
            (18_400_000, 6, "18.4"),
            (1, 6, "0.000001"),
            (0, 3, "0"),
            (350_000, 3, "350"),
            (-12_345, 3, "-12.345"),
        ] {
            assert_eq!(fixed(units, decimals), text);
        }
        assert_eq!((fixed(123_456_789, 6).parse::<f64>().unwrap() * 1e6).round() as i64, 123_456_789);
    }
}
