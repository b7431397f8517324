//! The committed table of outside checks, made from what the checks found.

use std::fmt::Write as _;
use std::path::Path;

use super::{Found, Provenance};

const PREFACE: &str = "# Outside checks

Values that others published, or that were computed with a library that shares nothing with this crate, beside what comes
out here. Marks: S published, M published but written down from memory, C computed with a named reference, T common practice
of the trade. Numbers are shown to ten digits, the difference is ours less the value; 0 is less than a ten thousand
millionth of the value. Each row has its tolerance in `tests/published/*.toml`, and the test fails when one is passed. The
test makes this table and fails when it isn't the one that is printed here; this writes it anew:

```sh
WRITE_OUTSIDE_TABLE=1 cargo test -p wear-core --test published
```
";

/// Ten significant digits.
fn short(value: f64) -> String {
    let rounded: f64 = format!("{value:.9e}").parse().unwrap();
    rounded.to_string()
}

fn difference(ours: f64, value: f64) -> String {
    let difference = ours - value;
    if difference.abs() <= 1e-10 * value.abs() { "0".to_owned() } else { format!("{difference:+.1e}") }
}

fn table(found: &[Found]) -> String {
    let mut text = PREFACE.to_owned();
    let of = |mark: Provenance| found.iter().filter(|found| found.row.mark == mark).count();
    let (s, m, c, t) = (of(Provenance::S), of(Provenance::M), of(Provenance::C), of(Provenance::T));
    writeln!(text, "\n{} rows: {s} S, {m} M, {c} C, {t} T.\n", found.len()).unwrap();
    text.push_str("| what | mark | value | ours | difference | source |\n|---|---|---|---|---|---|\n");
    for Found { row, ours } in found {
        let (value, ours, by) = (short(row.value), short(*ours), difference(*ours, row.value));
        writeln!(text, "| {} | {:?} | {value} | {ours} | {by} | {} |", row.name, row.mark, row.source)
            .unwrap();
    }
    text
}

/// The committed table is the one of this run; with `WRITE_OUTSIDE_TABLE` it becomes that.
pub fn check(found: &[Found]) {
    let made = table(found);
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("OUTSIDE.md");
    if std::env::var_os("WRITE_OUTSIDE_TABLE").is_some() {
        std::fs::write(&file, made).unwrap();
        return;
    }
    let committed = std::fs::read_to_string(&file).unwrap();
    for (line, (committed, made)) in committed.lines().zip(made.lines()).enumerate() {
        assert_eq!(committed, made, "line {} of OUTSIDE.md", line + 1);
    }
    assert_eq!(committed.lines().count(), made.lines().count(), "lines of OUTSIDE.md");
}
