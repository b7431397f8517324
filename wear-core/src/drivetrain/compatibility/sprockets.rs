//! The cassette against hub and shifter.

use super::{
    CassettePart, Caution, Finding, HubPart, Parts, Question, Reason, Source, SprocketCount, Verdict,
};

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
    let finding = |verdict, reason: Reason| Finding::new(Question::Freehub, verdict, Source::Entered, reason);
    let Some(interface) = &cassette.interface else {
        return finding(Verdict::Check, Reason::CassetteInterfaceUnknown);
    };
    let interface = interface.clone();
    if hub.interfaces.iter().any(|taken| same(taken, &interface)) {
        finding(Verdict::Fits, Reason::HubTakes { interface })
    } else if hub.interfaces_with_spacer.iter().any(|taken| same(taken, &interface)) {
        finding(Verdict::Check, Reason::HubTakesWithSpacer { interface }).careful(Caution::CassetteMoves)
    } else if hub.interfaces.is_empty() && hub.interfaces_with_spacer.is_empty() {
        finding(Verdict::Check, Reason::HubInterfaceUnknown)
    } else {
        finding(Verdict::Doesnt, Reason::HubTakesOthers { taken: hub.interfaces.join(", "), interface })
    }
}

fn shifter(cassette: &CassettePart, positions: SprocketCount) -> Finding {
    let (cogs, positions) = (cassette.cogs.len() as u32, positions.get());
    let finding =
        |verdict, reason: Reason| Finding::new(Question::Shifter, verdict, Source::CommonPractice, reason);
    if cogs == positions {
        finding(Verdict::Fits, Reason::ShifterFits { positions, cogs })
    } else {
        let reason = Reason::ShifterDiffers { positions, cogs };
        finding(Verdict::Doesnt, reason)
    }
}
