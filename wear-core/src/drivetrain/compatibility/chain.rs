//! The chain against cogs, rings and its connecting link.

use super::Caution;
use super::{
    ChainPart, ConnectingLinkPart, Finding, Parts, Question, Reason, RingPart, SingleWidth, Source,
    SprocketCount, Verdict,
};

pub(super) fn findings(parts: &Parts) -> Vec<Finding> {
    let mut found = Vec::new();
    if let Some(chain) = &parts.chain {
        if let Some(cassette) = &parts.cassette {
            match cassette.cogs.len() {
                1 => found.push(single(chain, cassette.width)),
                cogs => found.push(across(chain, cogs as u32)),
            }
        }
        for ring in &parts.rings {
            found.push(ring_width(chain, ring));
            if ring.narrow_wide {
                found.push(narrow_wide_chain(chain, ring));
            }
        }
        if let Some(link) = &parts.connecting_link {
            found.push(connecting_link(chain, link));
        }
    }
    for ring in parts.rings.iter().filter(|ring| ring.narrow_wide) {
        found.push(narrow_wide_teeth(ring));
        if parts.rings.len() > 1 || parts.front_derailleur.is_some() {
            found.push(Finding::new(
                Question::NarrowWide,
                Verdict::Doesnt,
                Source::CommonPractice,
                Reason::FrontDerailleurOnNarrowWide { teeth: ring.teeth.get() },
            ));
        }
    }
    found
}

/// A chain against several cogs, by its class of outer width.
fn across(chain: &ChainPart, cogs: u32) -> Finding {
    let finding =
        |verdict, reason: Reason| Finding::new(Question::ChainWidth, verdict, Source::CommonPractice, reason);
    let Some(made_for) = chain.sprockets else {
        return finding(Verdict::Check, Reason::ChainSprocketsUnknown { cogs });
    };
    let (chain_class, cog_class) = (made_for.width_class(), SprocketCount(cogs).width_class());
    let made_for = made_for.get();
    if chain_class == cog_class {
        finding(Verdict::Fits, Reason::AsWide { made_for, cogs })
    } else if chain_class < cog_class {
        finding(Verdict::Doesnt, Reason::Wider { made_for, cogs }).careful(Caution::DoesntFit)
    } else if chain_class == cog_class + 1 {
        finding(Verdict::Check, Reason::OneClassNarrower { made_for, cogs })
    } else {
        finding(Verdict::Doesnt, Reason::MuchNarrower { made_for, cogs }).careful(Caution::DoesntFit)
    }
}

/// A chain on one cog, by inner width.
fn single(chain: &ChainPart, teeth: Option<SingleWidth>) -> Finding {
    let finding =
        |verdict, source, reason: Reason| Finding::new(Question::SprocketWidth, verdict, source, reason);
    // Chains for several sprockets are all narrower inside than 1/8 inch.
    let width = match (chain.width, chain.sprockets) {
        (Some(width), _) => Some(width),
        (None, Some(count)) if count.get() > 1 => Some(SingleWidth::ThreeThirtySecondsInch),
        (None, _) => None,
    };
    match (width, teeth) {
        (None, _) | (_, None) => finding(Verdict::Check, Source::Standard, Reason::SingleWidthUnknown),
        (Some(SingleWidth::ThreeThirtySecondsInch), Some(SingleWidth::EighthInch)) => {
            finding(Verdict::Doesnt, Source::Standard, Reason::TeethTooWide).careful(Caution::DoesntFit)
        }
        (Some(SingleWidth::EighthInch), Some(SingleWidth::ThreeThirtySecondsInch)) => {
            finding(Verdict::Fits, Source::CommonPractice, Reason::WideChainOnNarrowTeeth)
        }
        (Some(_), Some(_)) => finding(Verdict::Fits, Source::Standard, Reason::SameSingleWidth),
    }
}

fn ring_width(chain: &ChainPart, ring: &RingPart) -> Finding {
    let teeth = ring.teeth.get();
    let finding =
        |verdict, reason: Reason| Finding::new(Question::RingWidth, verdict, Source::CommonPractice, reason);
    let (Some(made_for), Some(ring_for)) = (chain.sprockets, ring.sprockets) else {
        return finding(Verdict::Check, Reason::RingWidthUnknown { teeth });
    };
    let apart = made_for.width_class().abs_diff(ring_for.width_class());
    let (made_for, ring_for) = (made_for.get(), ring_for.get());
    match apart {
        0 => finding(Verdict::Fits, Reason::SameRingWidth { teeth }),
        1 => finding(Verdict::Check, Reason::RingOneClassApart { teeth, ring_for, made_for }),
        _ => finding(Verdict::Doesnt, Reason::RingTooFarApart { teeth, ring_for, made_for })
            .careful(Caution::DoesntFit),
    }
}

fn narrow_wide_teeth(ring: &RingPart) -> Finding {
    let teeth = ring.teeth.get();
    if teeth.is_multiple_of(2) {
        Finding::new(Question::NarrowWide, Verdict::Fits, Source::Geometry, Reason::EvenTeeth { teeth })
    } else {
        Finding::new(Question::NarrowWide, Verdict::Doesnt, Source::Geometry, Reason::OddTeeth { teeth })
            .careful(Caution::DoesntFit)
    }
}

fn narrow_wide_chain(chain: &ChainPart, ring: &RingPart) -> Finding {
    let teeth = ring.teeth.get();
    match chain.sprockets {
        Some(count) if count.width_class() >= 2 => Finding::new(
            Question::NarrowWide,
            Verdict::Fits,
            Source::CommonPractice,
            Reason::WideTeethHold { teeth },
        ),
        _ => Finding::new(
            Question::NarrowWide,
            Verdict::Check,
            Source::CommonPractice,
            Reason::WideTeethHoldLess { teeth },
        ),
    }
}

fn connecting_link(chain: &ChainPart, link: &ConnectingLinkPart) -> Finding {
    let finding = |verdict, reason: Reason| {
        Finding::new(Question::ConnectingLink, verdict, Source::CommonPractice, reason)
            .careful(Caution::SeatTheLink)
    };
    let link_for = link.sprockets.get();
    if link.used && !link.reusable {
        return finding(Verdict::Doesnt, Reason::LinkClosedOnce);
    }
    let Some(made_for) = chain.sprockets else {
        return finding(Verdict::Check, Reason::LinkChainUnknown { link_for });
    };
    if made_for.width_class() != link.sprockets.width_class() {
        let made_for = made_for.get();
        return finding(Verdict::Doesnt, Reason::LinkWidthDiffers { link_for, made_for });
    }
    if link.used {
        return finding(Verdict::Check, Reason::LinkUsedAgain);
    }
    finding(Verdict::Fits, Reason::LinkFits)
}
