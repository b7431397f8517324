//! `wear-api estimate`: cases as NDJSON in, answers as NDJSON out, in the same order.

use std::io::{self, BufRead, BufReader, Read, Write};
use std::num::NonZero;
use std::process::ExitCode;
use std::thread;

use clap::Args;
use serde_json::json;
use wear_core::degradation::WearParameters;
use wear_core::fleet::calibration::{self, ChainHistory, FleetFit};
use wear_core::reading::InstrumentCalibrations;

use super::Ended;
use crate::domain::FieldErrors;
use crate::estimate::{Case, Learned, RawCase, answer};
use crate::input::{Place, WrongField, parse_json};

/// Longest line that is read, bytes.
const LONGEST_LINE: u64 = 1 << 20;

/// Cases answered between writes when everything has been read.
const BLOCK: usize = 2_048;

#[derive(Debug, Args)]
pub(super) struct Estimate {
    /// Read everything first, fit the wear of each group to all of its chains, then answer
    #[arg(long)]
    learn: bool,
}

/// One line of input: a case, or what is wrong with it.
enum Line {
    Case(Box<Case>),
    Wrong { number: usize, error: String },
}

impl Estimate {
    pub(super) fn run(self) -> Ended {
        let input = BufReader::with_capacity(1 << 16, io::stdin().lock());
        let output = io::BufWriter::new(io::stdout().lock());
        let all_answered = if self.learn { learn(input, output) } else { stream(input, output) };
        match all_answered {
            Ok(true) => Ok(ExitCode::SUCCESS),
            Ok(false) => Ok(ExitCode::FAILURE),
            // Whoever read the answers has had enough.
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(ExitCode::SUCCESS),
            Err(error) => Err(error.into()),
        }
    }
}

/// Answers each line as it comes.
fn stream(mut input: BufReader<impl Read>, mut output: impl Write) -> io::Result<bool> {
    let mut all_answered = true;
    let mut number = 0;
    while let Some(line) = next_line(&mut input, &mut number)? {
        all_answered &= matches!(line, Line::Case(_));
        write_answer(&mut output, &line, Learned::No)?;
        if input.buffer().is_empty() {
            output.flush()?;
        }
    }
    output.flush()?;
    Ok(all_answered)
}

/// Reads everything, fits the groups, answers.
fn learn(mut input: BufReader<impl Read>, mut output: impl Write) -> io::Result<bool> {
    let mut number = 0;
    let mut lines = Vec::new();
    while let Some(line) = next_line(&mut input, &mut number)? {
        lines.push(line);
    }
    let chains: Vec<ChainHistory<'_>> = lines
        .iter()
        .filter_map(|line| match line {
            Line::Case(case) => Some(case.history()),
            Line::Wrong { .. } => None,
        })
        .collect();
    let fit = calibration::fit(&chains, &WearParameters::default(), &InstrumentCalibrations::default());
    let threads = thread::available_parallelism().map_or(1, NonZero::get);
    // Each line with its place among the cases.
    let mut cases = 0;
    let lines: Vec<(usize, Line)> = lines
        .into_iter()
        .map(|line| {
            let place = cases;
            cases += usize::from(matches!(line, Line::Case(_)));
            (place, line)
        })
        .collect();
    for block in lines.chunks(BLOCK) {
        let answered = thread::scope(|scope| {
            let workers: Vec<_> = block
                .chunks(block.len().div_ceil(threads))
                .map(|lines| scope.spawn(|| answer_lines(lines, &fit)))
                .collect();
            workers
                .into_iter()
                .map(|worker| worker.join().map_err(|_| io::Error::other("a thread broke off"))?)
                .collect::<io::Result<Vec<Vec<u8>>>>()
        })?;
        for text in answered {
            output.write_all(&text)?;
        }
    }
    output.flush()?;
    Ok(lines.iter().all(|(_, line)| matches!(line, Line::Case(_))))
}

fn answer_lines(lines: &[(usize, Line)], fit: &FleetFit) -> io::Result<Vec<u8>> {
    let mut text = Vec::new();
    for (place, line) in lines {
        write_answer(&mut text, line, Learned::From(fit, *place))?;
    }
    Ok(text)
}

fn write_answer(output: &mut impl Write, line: &Line, from: Learned<'_>) -> io::Result<()> {
    match line {
        Line::Case(case) => serde_json::to_writer(&mut *output, &answer(case, from))?,
        Line::Wrong { number, error } => {
            serde_json::to_writer(&mut *output, &json!({ "line": number, "error": error }))?;
        }
    }
    output.write_all(b"\n")
}

/// The next line that isn't blank; `number` counts all lines from 1.
fn next_line(input: &mut impl BufRead, number: &mut usize) -> io::Result<Option<Line>> {
    loop {
        let mut text = Vec::new();
        let read = input.by_ref().take(LONGEST_LINE + 1).read_until(b'\n', &mut text)?;
        if read == 0 {
            return Ok(None);
        }
        *number += 1;
        if read as u64 > LONGEST_LINE && text.last() != Some(&b'\n') {
            skip_line(input)?;
            let error =
                format!("the line is longer than {LONGEST_LINE} bytes; allowed: lines up to that length");
            return Ok(Some(Line::Wrong { number: *number, error }));
        }
        if text.iter().all(u8::is_ascii_whitespace) {
            continue;
        }
        return Ok(Some(match parse(&text) {
            Ok(case) => Line::Case(Box::new(case)),
            Err(error) => Line::Wrong { number: *number, error },
        }));
    }
}

fn skip_line(input: &mut impl BufRead) -> io::Result<()> {
    loop {
        let buffer = input.fill_buf()?;
        if buffer.is_empty() {
            return Ok(());
        }
        let end = buffer.iter().position(|&byte| byte == b'\n');
        let used = end.map_or(buffer.len(), |end| end + 1);
        input.consume(used);
        if end.is_some() {
            return Ok(());
        }
    }
}

fn parse(text: &[u8]) -> Result<Case, String> {
    let raw: RawCase = parse_json(text).map_err(|error| error.into_wrong_field().to_string())?;
    raw.parse().map_err(|errors| in_one_line(&errors))
}

fn in_one_line(errors: &FieldErrors) -> String {
    let wrong = errors.as_slice().iter().map(|error| WrongField {
        place: Place::Body(error.pointer.clone()),
        message: error.message(),
        allowed: error.allowed(),
    });
    wrong.map(|field| field.to_string()).collect::<Vec<_>>().join("; ")
}
