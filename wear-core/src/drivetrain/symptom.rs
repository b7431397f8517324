//! What a rider reports, and where to look for its cause.
//!
//! The causes and their order are common practice of the trade (T). What is known of the bike moves a cause to the top.

use super::Gearing;
use super::caution::Caution;
use crate::sentences;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a rider reports.
    Symptom, "symptom" {
        /// The chain jumps under load.
        SkipsUnderLoad = "skips_under_load",
        /// The chain comes off.
        DropsChain = "drops_chain",
        /// It makes a noise.
        Noisy = "noisy",
        /// Gears come late or not at all.
        SlowShifts = "slow_shifts",
    }
}

vocabulary! {
    /// What may be behind it.
    Cause, "cause" {
        /// A worn cog under a chain that is longer or shorter than it.
        WornCog = "worn_cog",
        /// A chain beyond its limit.
        WornChain = "worn_chain",
        /// Gears that are set wrong.
        Indexing = "indexing",
        /// A link that doesn't bend, or a bent one.
        StiffLink = "stiff_link",
        /// A derailleur hanger that is bent.
        BentHanger = "bent_hanger",
        /// Cable or housing with friction.
        Cable = "cable",
        /// End stops that are set wrong.
        EndStops = "end_stops",
        /// Front cage out of place.
        FrontCage = "front_cage",
        /// Rings whose teeth are worn.
        WornRing = "worn_ring",
        /// A chain of the wrong length or too little tension.
        ChainLength = "chain_length",
        /// Rings, cogs or a lock ring that are loose.
        LooseParts = "loose_parts",
        /// Dirt, or no lubricant.
        DirtyOrDry = "dirty_or_dry",
        /// A freehub that doesn't catch.
        Freehub = "freehub",
        /// Jockey wheels that are worn or stick.
        JockeyWheels = "jockey_wheels",
        /// Parts that don't go together.
        DontFit = "dont_fit",
        /// Battery or motor of an electronic derailleur.
        Battery = "battery",
        /// A hub gear that is set wrong or worn inside.
        HubGear = "hub_gear",
    }
}

/// What is known of the bike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownOfBike {
    /// How the wheel is driven.
    pub gearing: Gearing,
    /// Rings.
    pub rings: usize,
    /// Probability that the chain is over its limit.
    pub chain_over: f64,
    /// Probability that a new chain skips on some cog.
    pub cog_worn: f64,
    /// Probability that some ring is worn out.
    pub ring_worn: f64,
}

/// A cause to look at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// The cause.
    pub cause: Cause,
    /// How to look.
    pub look: Inspection,
    /// What can hurt someone.
    pub caution: Option<Caution>,
    /// What the model says of it, as a probability; `None` where it says nothing.
    pub probability: Option<f64>,
}

/// Above this probability a cause comes first (A).
const LIKELY: f64 = 0.5;

sentences! {
    /// How to look for a cause; the words are those of [`Cause`].
    #[derive(Copy, Eq, PartialOrd, Ord, Hash)]
    Inspection {
        WornCog = "worn_cog",
            "Which cog? Press hard on it with a new chain, off traffic; looks tell nothing, as shift teeth look worn when new";
        WornChain = "worn_chain",
            "Measure the chain under tension at several places";
        Indexing = "indexing",
            "Shift through all cogs in the stand: none lags, none rattles";
        StiffLink = "stiff_link",
            "Turn the cranks backwards and watch the lower strand for a kink; look at the connecting link";
        BentHanger = "bent_hanger",
            "Sight along the cage: the jockey wheels stand under each other and in line with the cogs; measure with a hanger gauge";
        Cable = "cable",
            "Pull the shifter's cable by hand: rust, kinks and frayed ends drag";
        EndStops = "end_stops",
            "In the stand push the derailleur past both ends by hand: it doesn't reach frame or spokes";
        FrontCage = "front_cage",
            "Front cage parallel to the rings and a coin's thickness above the largest";
        WornRing = "worn_ring",
            "Lift the chain at the front of the ring under tension: more than half a tooth shows is worn";
        ChainLength = "chain_length",
            "Largest ring and cog: some swing left. Smallest: no sag. Hub gear: a finger's slack";
        LooseParts = "loose_parts",
            "Rock ring, crank, cassette and wheel by hand; lock ring and bolts at the torque from the maker";
        DirtyOrDry = "dirty_or_dry",
            "Wipe a link: black paste or bright dry metal";
        Freehub = "freehub",
            "Hold the wheel, turn the cogs by hand: they catch at once, every time";
        JockeyWheels = "jockey_wheels",
            "Turn each by hand: runs free, teeth not pointed, upper one with its small float";
        DontFit = "dont_fit",
            "Compare chain, cogs, rings and shifter: widths and counts";
        Battery = "battery",
            "Charge; look at the plugs; put the derailleur back from its crash position";
        HubGear = "hub_gear",
            "Set it by its maker's marks; if it still slips, the hub is opened by a qualified mechanic";
    }
}

impl Cause {
    /// How to look for it.
    #[must_use]
    pub const fn inspection(self) -> Inspection {
        match self {
            Self::WornCog => Inspection::WornCog,
            Self::WornChain => Inspection::WornChain,
            Self::Indexing => Inspection::Indexing,
            Self::StiffLink => Inspection::StiffLink,
            Self::BentHanger => Inspection::BentHanger,
            Self::Cable => Inspection::Cable,
            Self::EndStops => Inspection::EndStops,
            Self::FrontCage => Inspection::FrontCage,
            Self::WornRing => Inspection::WornRing,
            Self::ChainLength => Inspection::ChainLength,
            Self::LooseParts => Inspection::LooseParts,
            Self::DirtyOrDry => Inspection::DirtyOrDry,
            Self::Freehub => Inspection::Freehub,
            Self::JockeyWheels => Inspection::JockeyWheels,
            Self::DontFit => Inspection::DontFit,
            Self::Battery => Inspection::Battery,
            Self::HubGear => Inspection::HubGear,
        }
    }

    /// What can hurt someone while looking for it.
    #[must_use]
    pub const fn caution(self) -> Option<Caution> {
        match self {
            Self::WornCog | Self::HubGear => Some(Caution::ChainJumps),
            Self::WornChain
            | Self::Indexing
            | Self::StiffLink
            | Self::FrontCage
            | Self::ChainLength
            | Self::JockeyWheels => Some(Caution::HandsClear),
            Self::Cable => Some(Caution::FrayedCable),
            Self::EndStops => Some(Caution::SpokesLock),
            Self::WornRing => Some(Caution::RingTeeth),
            Self::DirtyOrDry => Some(Caution::SolventsOnDisc),
            Self::Freehub => Some(Caution::FreehubLetsGo),
            Self::Battery => Some(Caution::MovesByItself),
            Self::BentHanger | Self::LooseParts | Self::DontFit => None,
        }
    }
}

const fn usual(symptom: Symptom) -> &'static [Cause] {
    use Cause as C;
    match symptom {
        Symptom::SkipsUnderLoad => &[
            C::WornCog,
            C::WornChain,
            C::Indexing,
            C::HubGear,
            C::StiffLink,
            C::BentHanger,
            C::Cable,
            C::ChainLength,
            C::Freehub,
            C::WornRing,
            C::LooseParts,
            C::DontFit,
        ],
        Symptom::DropsChain => &[
            C::EndStops,
            C::FrontCage,
            C::ChainLength,
            C::WornRing,
            C::BentHanger,
            C::StiffLink,
            C::WornChain,
            C::LooseParts,
            C::DontFit,
        ],
        Symptom::Noisy => &[
            C::DirtyOrDry,
            C::Indexing,
            C::FrontCage,
            C::ChainLength,
            C::WornChain,
            C::JockeyWheels,
            C::BentHanger,
            C::LooseParts,
            C::WornRing,
            C::DontFit,
        ],
        Symptom::SlowShifts => &[
            C::Cable,
            C::Indexing,
            C::HubGear,
            C::Battery,
            C::BentHanger,
            C::DirtyOrDry,
            C::JockeyWheels,
            C::WornChain,
            C::DontFit,
        ],
    }
}

fn applies(cause: Cause, bike: &KnownOfBike) -> bool {
    match cause {
        Cause::HubGear => bike.gearing == Gearing::HubGear,
        Cause::FrontCage => bike.gearing == Gearing::Derailleur && bike.rings > 1,
        Cause::Indexing | Cause::BentHanger | Cause::EndStops | Cause::JockeyWheels | Cause::Battery => {
            bike.gearing == Gearing::Derailleur
        }
        Cause::Cable => bike.gearing != Gearing::SingleSpeed,
        _ => true,
    }
}

/// Where to look, in order: what the model holds likely first, then as is common practice.
#[must_use]
pub fn leads(symptom: Symptom, bike: &KnownOfBike) -> Vec<Lead> {
    let mut leads: Vec<Lead> = usual(symptom)
        .iter()
        .filter(|cause| applies(**cause, bike))
        .map(|&cause| {
            let probability = match cause {
                Cause::WornChain => Some(bike.chain_over),
                Cause::WornCog => Some(bike.cog_worn),
                Cause::WornRing => Some(bike.ring_worn),
                _ => None,
            };
            Lead { cause, look: cause.inspection(), caution: cause.caution(), probability }
        })
        .collect();
    leads.sort_by_key(|lead| !lead.probability.is_some_and(|probability| probability >= LIKELY));
    leads
}

#[cfg(test)]
mod tests {
    use super::*;

    const BIKE: KnownOfBike = KnownOfBike {
        gearing: Gearing::Derailleur,
        rings: 2,
        chain_over: 0.1,
        cog_worn: 0.1,
        ring_worn: 0.0,
    };

    fn causes(symptom: Symptom, bike: &KnownOfBike) -> Vec<Cause> {
        leads(symptom, bike).into_iter().map(|lead| lead.cause).collect()
    }

    #[test]
    fn what_is_likely_comes_first() {
        assert_eq!(causes(Symptom::Noisy, &BIKE)[0], Cause::DirtyOrDry);
        assert_eq!(causes(Symptom::Noisy, &KnownOfBike { chain_over: 0.7, ..BIKE })[0], Cause::WornChain);
        assert_eq!(causes(Symptom::SkipsUnderLoad, &BIKE)[0], Cause::WornCog);
        let worn_chain = KnownOfBike { chain_over: 0.9, ..BIKE };
        assert_eq!(causes(Symptom::SkipsUnderLoad, &worn_chain)[..2], [Cause::WornChain, Cause::WornCog]);
    }

    #[test]
    fn causes_are_those_of_the_bike() {
        for &symptom in Symptom::ALL {
            let hub = KnownOfBike { gearing: Gearing::HubGear, rings: 1, ..BIKE };
            let hub = causes(symptom, &hub);
            assert!(!hub.contains(&Cause::EndStops) && !hub.contains(&Cause::BentHanger) && hub.len() >= 4);
            assert!(!causes(symptom, &BIKE).contains(&Cause::HubGear));
            let one_ring = KnownOfBike { rings: 1, ..BIKE };
            assert!(!causes(symptom, &one_ring).contains(&Cause::FrontCage));
            let single = KnownOfBike { gearing: Gearing::SingleSpeed, rings: 1, ..BIKE };
            assert!(!causes(symptom, &single).contains(&Cause::Cable));
        }
    }
}
