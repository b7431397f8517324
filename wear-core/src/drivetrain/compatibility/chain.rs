//! The chain against cogs, rings and its connecting link.

use super::{
    ChainPart, ConnectingLinkPart, Finding, Parts, Question, RingPart, SingleWidth, Source, SprocketCount,
    Verdict,
};

const SEAT: &str = "Load the closed link with the pedals against the brake until both halves have snapped in; a link that isn't seated opens under load and throws the rider";

const SKIPS: &str = "A chain that doesn't fit jumps under load: the rider falls";

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
                format!("The {}-tooth ring has wide and narrow teeth to hold the chain; a front derailleur has to lift it off", ring.teeth.get()),
            ));
        }
    }
    found
}

/// A chain against several cogs, by its class of outer width.
fn across(chain: &ChainPart, cogs: u32) -> Finding {
    let finding =
        |verdict, reason: String| Finding::new(Question::ChainWidth, verdict, Source::CommonPractice, reason);
    let Some(made_for) = chain.sprockets else {
        return finding(
            Verdict::Check,
            format!("Nobody said how many sprockets the chain is made for; the cassette has {cogs}"),
        );
    };
    let (chain_class, cog_class) = (made_for.width_class(), SprocketCount(cogs).width_class());
    let made_for = made_for.get();
    if chain_class == cog_class {
        finding(Verdict::Fits, format!("A chain for {made_for} sprockets is as wide as {cogs} cogs need"))
    } else if chain_class < cog_class {
        finding(
            Verdict::Doesnt,
            format!("A chain for {made_for} sprockets is wider than the gaps of {cogs} cogs: it rubs on the next one"),
        )
        .careful(SKIPS)
    } else if chain_class == cog_class + 1 {
        finding(
            Verdict::Check,
            format!(
                "A chain for {made_for} sprockets is one class narrower than {cogs} cogs ask for: it mostly runs, and may shift slowly; ask the makers"
            ),
        )
    } else {
        finding(
            Verdict::Doesnt,
            format!("A chain for {made_for} sprockets is more than one class narrower than {cogs} cogs ask for: it can settle between cogs"),
        )
        .careful(SKIPS)
    }
}

/// A chain on one cog, by inner width.
fn single(chain: &ChainPart, teeth: Option<SingleWidth>) -> Finding {
    let finding =
        |verdict, source, reason: &str| Finding::new(Question::SprocketWidth, verdict, source, reason);
    // Chains for several sprockets are all narrower inside than 1/8 inch.
    let width = match (chain.width, chain.sprockets) {
        (Some(width), _) => Some(width),
        (None, Some(count)) if count.get() > 1 => Some(SingleWidth::ThreeThirtySecondsInch),
        (None, _) => None,
    };
    match (width, teeth) {
        (None, _) | (_, None) => finding(
            Verdict::Check,
            Source::Standard,
            "Chains for one sprocket come in two inner widths, 1/8 and 3/32 inch; measure tooth and chain",
        ),
        (Some(SingleWidth::ThreeThirtySecondsInch), Some(SingleWidth::EighthInch)) => finding(
            Verdict::Doesnt,
            Source::Standard,
            "Teeth for 1/8 inch are wider than a 3/32 inch chain: it rides up on them",
        )
        .careful(SKIPS),
        (Some(SingleWidth::EighthInch), Some(SingleWidth::ThreeThirtySecondsInch)) => finding(
            Verdict::Fits,
            Source::CommonPractice,
            "A 1/8 inch chain runs on teeth for 3/32 inch, with some noise and more need of a straight chain line",
        ),
        (Some(_), Some(_)) => finding(Verdict::Fits, Source::Standard, "Chain and teeth have the same width"),
    }
}

fn ring_width(chain: &ChainPart, ring: &RingPart) -> Finding {
    let teeth = ring.teeth.get();
    let finding =
        |verdict, reason: String| Finding::new(Question::RingWidth, verdict, Source::CommonPractice, reason);
    let (Some(made_for), Some(ring_for)) = (chain.sprockets, ring.sprockets) else {
        return finding(
            Verdict::Check,
            format!("Nobody said for how many sprockets the chain or the {teeth}-tooth ring is made"),
        );
    };
    let apart = made_for.width_class().abs_diff(ring_for.width_class());
    let (made_for, ring_for) = (made_for.get(), ring_for.get());
    match apart {
        0 => finding(Verdict::Fits, format!("Chain and {teeth}-tooth ring are made for the same width")),
        1 => finding(
            Verdict::Check,
            format!("The {teeth}-tooth ring is made for {ring_for} sprockets and the chain for {made_for}: one class apart mostly runs; ask the makers"),
        ),
        _ => finding(
            Verdict::Doesnt,
            format!("The {teeth}-tooth ring is made for {ring_for} sprockets and the chain for {made_for}: too far apart"),
        )
        .careful(SKIPS),
    }
}

fn narrow_wide_teeth(ring: &RingPart) -> Finding {
    let teeth = ring.teeth.get();
    if teeth.is_multiple_of(2) {
        Finding::new(
            Question::NarrowWide,
            Verdict::Fits,
            Source::Geometry,
            format!("{teeth} is even: wide teeth meet outer plates on every turn"),
        )
    } else {
        Finding::new(
            Question::NarrowWide,
            Verdict::Doesnt,
            Source::Geometry,
            format!("{teeth} is odd: on every second turn a wide tooth meets inner plates"),
        )
        .careful(SKIPS)
    }
}

fn narrow_wide_chain(chain: &ChainPart, ring: &RingPart) -> Finding {
    let teeth = ring.teeth.get();
    match chain.sprockets {
        Some(count) if count.width_class() >= 2 => Finding::new(
            Question::NarrowWide,
            Verdict::Fits,
            Source::CommonPractice,
            format!(
                "Wide teeth, as on the {teeth}-tooth ring, are shaped for chains of 9 sprockets and more"
            ),
        ),
        _ => Finding::new(
            Question::NarrowWide,
            Verdict::Check,
            Source::CommonPractice,
            format!(
                "Wide teeth, as on the {teeth}-tooth ring, are shaped for chains of 9 sprockets and more; a wider chain is held less well"
            ),
        ),
    }
}

fn connecting_link(chain: &ChainPart, link: &ConnectingLinkPart) -> Finding {
    let finding = |verdict, reason: String| {
        Finding::new(Question::ConnectingLink, verdict, Source::CommonPractice, reason).careful(SEAT)
    };
    let for_count = link.sprockets.get();
    if link.used && !link.reusable {
        return finding(Verdict::Doesnt, "The link was closed before, and is made to be closed once".into());
    }
    let Some(made_for) = chain.sprockets else {
        return finding(
            Verdict::Check,
            format!("The link is made for {for_count} sprockets; nobody said what the chain is made for"),
        );
    };
    if made_for.width_class() != link.sprockets.width_class() {
        let made_for = made_for.get();
        return finding(
            Verdict::Doesnt,
            format!(
                "The link is made for {for_count} sprockets and the chain for {made_for}: its pins are too long or too short"
            ),
        );
    }
    if link.used {
        return finding(
            Verdict::Check,
            "The link may be used again: as often as its maker says, and only if it still snaps in firmly"
                .into(),
        );
    }
    finding(
        Verdict::Fits,
        "Link and chain are made for the same width; which way round it goes is its maker's to say".into(),
    )
}
