//! The cassette against hub and shifter.

use super::{CassettePart, Finding, HubPart, Parts, Question, Source, SprocketCount, Verdict};

pub(super) fn findings(parts: &Parts) -> Vec<Finding> {
    let mut found = Vec::new();
    if let Some(cassette) = &parts.cassette {
        if let Some(hub) = &parts.hub {
            found.push(freehub(cassette, hub));
        }
        if let Some(positions) = parts.shifter_sprockets {
            found.push(shifter(cassette, positions));
        }
    }
    found
}

fn same(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}

fn freehub(cassette: &CassettePart, hub: &HubPart) -> Finding {
    let finding = |verdict, reason: String| Finding::new(Question::Freehub, verdict, Source::Entered, reason);
    let Some(interface) = &cassette.interface else {
        return finding(Verdict::Check, "Nobody said what interface the cassette has".into());
    };
    if hub.interfaces.iter().any(|taken| same(taken, interface)) {
        finding(Verdict::Fits, format!("The hub takes {interface}"))
    } else if hub.interfaces_with_spacer.iter().any(|taken| same(taken, interface)) {
        finding(
            Verdict::Check,
            format!("The hub takes {interface} with a spacer: its thickness is the hub maker's to say, and the lock ring has to bite fully"),
        )
        .careful("A cassette that moves on its body cuts into it and can come loose; the lock ring's torque comes from its maker")
    } else if hub.interfaces.is_empty() && hub.interfaces_with_spacer.is_empty() {
        finding(Verdict::Check, "Nobody said what interface the hub has".into())
    } else {
        finding(Verdict::Doesnt, format!("The hub takes {}, not {interface}", hub.interfaces.join(", ")))
    }
}

fn shifter(cassette: &CassettePart, positions: SprocketCount) -> Finding {
    let (cogs, positions) = (cassette.cogs.len() as u32, positions.get());
    let finding =
        |verdict, reason: String| Finding::new(Question::Shifter, verdict, Source::CommonPractice, reason);
    if cogs == positions {
        finding(
            Verdict::Fits,
            format!(
                "{positions} positions for {cogs} cogs; whether shifter and derailleur pull alike is the makers' to say"
            ),
        )
    } else {
        let reason =
            format!("{positions} positions for {cogs} cogs: the steps differ in number and mostly in size");
        finding(Verdict::Doesnt, reason)
    }
}
