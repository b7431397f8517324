//! Whether parts go together.
//!
//! Parts are described by numbers and generic classes; which maker's part has which is for those who enter it. What is
//! common practice of the trade says so (T). A maker's own word goes before anything here.

mod chain;
mod gears;
mod reason;
mod sprockets;

use std::fmt;

use super::caution::Caution;
use super::{Gearing, Links, Teeth};
use crate::bounds::{self, OutOfRange};
use crate::units::Chainstay;
use crate::vocabulary::vocabulary;

pub use reason::Reason;

vocabulary! {
    /// Whether parts go together; the later the word, the worse.
    Verdict, "verdict" {
        /// They do.
        Fits = "fits",
        /// Someone has to look, or something isn't known.
        Check = "check",
        /// They don't.
        Doesnt = "does_not",
    }
}

vocabulary! {
    /// What was asked.
    Question, "question" {
        /// Chain against the number of sprockets.
        ChainWidth = "chain_width",
        /// Chain against a single sprocket's teeth.
        SprocketWidth = "sprocket_width",
        /// Chain against a ring.
        RingWidth = "ring_width",
        /// A ring with wide and narrow teeth in turn.
        NarrowWide = "narrow_wide",
        /// Connecting link against the chain.
        ConnectingLink = "connecting_link",
        /// Length of the chain.
        ChainLength = "chain_length",
        /// What the rear derailleur takes up.
        Capacity = "capacity",
        /// Cogs against the rear derailleur.
        CogRange = "cog_range",
        /// Rings against the front derailleur.
        RingRange = "ring_range",
        /// Rings against the frame.
        RingClearance = "ring_clearance",
        /// Cassette against the hub.
        Freehub = "freehub",
        /// Cassette against the shifter.
        Shifter = "shifter",
        /// Something to compare at all.
        Parts = "parts",
    }
}

vocabulary! {
    /// Inner width of a chain for one sprocket, and the teeth that it takes.
    SingleWidth, "width" {
        /// 1/2 × 1/8 inch.
        EighthInch = "eighth_inch",
        /// 1/2 × 3/32 inch.
        ThreeThirtySecondsInch = "three_thirty_seconds_inch",
    }
}

/// What a verdict rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Source {
    /// Common practice of the trade, without a source (T).
    CommonPractice,
    /// Plane geometry or counting.
    Geometry,
    /// What the maker states, as it was entered.
    Entered,
    /// ISO 9633: two inner widths of chains for one sprocket (standard from memory, M).
    Standard,
}

impl Source {
    /// In words.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::CommonPractice => "common practice",
            Self::Geometry => "geometry",
            Self::Entered => "the maker's number, as entered",
            Self::Standard => "ISO 9633, from memory",
        }
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// One answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// What was asked.
    pub question: Question,
    /// Whether it goes together.
    pub verdict: Verdict,
    /// Why.
    pub reason: Reason,
    /// What that rests on.
    pub source: Source,
    /// What can hurt someone, where something can.
    pub caution: Option<Caution>,
}

impl Finding {
    fn new(question: Question, verdict: Verdict, source: Source, reason: Reason) -> Self {
        Self { question, verdict, reason, source, caution: None }
    }

    fn careful(self, caution: Caution) -> Self {
        Self { caution: Some(caution), ..self }
    }
}

/// A number of sprockets, 1 to 14.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct SprocketCount(u32);

impl SprocketCount {
    /// A number inside [`bounds::COG_COUNT`].
    ///
    /// # Errors
    /// [`OutOfRange`].
    pub fn new(count: u32) -> Result<Self, OutOfRange> {
        bounds::COG_COUNT.check(f64::from(count)).map(|_| Self(count))
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> u32 {
        self.0
    }

    /// Class of outer width, the widest 0: one sprocket; 2 to 8; then each number by itself (T).
    const fn width_class(self) -> u32 {
        match self.0 {
            0 | 1 => 0,
            2..=8 => 1,
            more => more - 7,
        }
    }
}

/// A chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChainPart {
    /// Sprockets that it is made for.
    pub sprockets: Option<SprocketCount>,
    /// Its inner width, for chains of one sprocket.
    pub width: Option<SingleWidth>,
    /// Its length as it is, pitches.
    pub links: Option<Links>,
}

/// A cassette, or the one cog of a hub.
#[derive(Debug, Clone, PartialEq)]
pub struct CassettePart {
    /// Teeth of its cogs, fewest first; never empty.
    pub cogs: Vec<Teeth>,
    /// Width of the teeth, where there is one cog.
    pub width: Option<SingleWidth>,
    /// Interface to the hub: the name of an open standard or the user's own name for a class.
    pub interface: Option<String>,
}

/// A rear hub.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HubPart {
    /// Interfaces that it takes.
    pub interfaces: Vec<String>,
    /// Interfaces that it takes with a spacer.
    pub interfaces_with_spacer: Vec<String>,
}

/// A ring.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RingPart {
    /// Its teeth.
    pub teeth: Teeth,
    /// Whether wide and narrow teeth take turns.
    pub narrow_wide: bool,
    /// Sprockets of the chain that it is made for.
    pub sprockets: Option<SprocketCount>,
}

/// A rear derailleur, by its maker's numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RearDerailleurPart {
    /// Teeth that its cage takes up.
    pub capacity_teeth: Option<u16>,
    /// Largest cog that it clears.
    pub largest_cog: Option<Teeth>,
    /// Smallest cog that it reaches.
    pub smallest_cog: Option<Teeth>,
}

/// A front derailleur, by its maker's numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FrontDerailleurPart {
    /// Largest ring that it is shaped for.
    pub largest_ring: Option<Teeth>,
    /// Largest difference of teeth between rings.
    pub difference_teeth: Option<u16>,
}

/// A connecting link.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ConnectingLinkPart {
    /// Sprockets of the chain that it is made for.
    pub sprockets: SprocketCount,
    /// Whether its maker allows it to be used again.
    pub reusable: bool,
    /// Whether it was closed before.
    pub used: bool,
}

/// Parts that are to go together; what isn't there isn't compared.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Parts {
    /// The chain.
    pub chain: Option<ChainPart>,
    /// The cassette, or the one cog.
    pub cassette: Option<CassettePart>,
    /// The rear hub.
    pub hub: Option<HubPart>,
    /// The rings.
    pub rings: Vec<RingPart>,
    /// The rear derailleur.
    pub rear_derailleur: Option<RearDerailleurPart>,
    /// The front derailleur.
    pub front_derailleur: Option<FrontDerailleurPart>,
    /// The connecting link.
    pub connecting_link: Option<ConnectingLinkPart>,
    /// Positions of the rear shifter.
    pub shifter_sprockets: Option<SprocketCount>,
    /// Length of the chainstay.
    pub chainstay: Option<Chainstay>,
    /// Largest ring that the frame clears.
    pub frame_largest_ring: Option<Teeth>,
    /// How the wheel is driven; by the number of sprockets when it isn't said.
    pub gearing: Option<Gearing>,
}

/// What was found, one answer a question, in the order of [`Question`].
#[must_use]
pub fn compare(parts: &Parts) -> Vec<Finding> {
    let mut findings: Vec<Finding> = chain::findings(parts)
        .into_iter()
        .chain(sprockets::findings(parts))
        .chain(gears::findings(parts))
        .collect();
    if findings.is_empty() {
        findings.push(Finding::new(
            Question::Parts,
            Verdict::Check,
            Source::Geometry,
            Reason::NothingToCompare,
        ));
    }
    findings.sort_by_key(|finding| finding.question);
    findings
}

/// The worst of the verdicts.
#[must_use]
pub fn overall(findings: &[Finding]) -> Verdict {
    findings.iter().map(|finding| finding.verdict).max().unwrap_or(Verdict::Check)
}
