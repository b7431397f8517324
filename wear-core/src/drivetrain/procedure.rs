//! How a part is swapped safely, as data: steps with their cautions and tools, for the bike at hand.
//!
//! The steps are common practice of the trade (T). They stand beside the makers' instructions, never in their place.

use super::Gearing;
use super::caution::Caution;
use crate::sentences;
use crate::vocabulary::vocabulary;

use Instruction as I;

vocabulary! {
    /// What is swapped.
    SwapOf, "place" {
        /// The chain.
        Chain = "chain",
        /// The cassette, or the cog of a hub.
        Cassette = "cassette",
        /// A ring.
        Ring = "ring",
    }
}

vocabulary! {
    /// What moves the derailleur or the hub's gears.
    Shifting, "shifting" {
        /// A cable.
        Cable = "cable",
        /// A motor with a battery.
        Electronic = "electronic",
    }
}

vocabulary! {
    /// How the cogs come off.
    CogBuild, "cog_build" {
        /// A cassette that comes off whole.
        OnePiece = "one_piece",
        /// A cassette whose cogs come off one by one.
        SeparateCogs = "separate_cogs",
        /// One cog.
        SingleCog = "single_cog",
    }
}

/// The bike at hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BikeAtHand {
    /// How the wheel is driven.
    pub gearing: Gearing,
    /// How the cogs come off.
    pub cogs: CogBuild,
    /// What shifts it; `None` when nobody said.
    pub shifting: Option<Shifting>,
    /// Whether a motor helps.
    pub motor: bool,
}

sentences! {
    /// What to do in a step.
    #[derive(Copy, Eq, PartialOrd, Ord, Hash)]
    Instruction {
        MotorOff = "motor_off",
            "Switch the motor off and take the battery out";
        Stand = "stand",
            "Hang the bike in a stand, or lean it so that it can't fall";
        Slacken = "slacken",
            "Shift to the smallest ring and the smallest cog, so that the chain is slack";
        Battery = "battery",
            "See that the derailleur's battery is charged, and don't unplug it while it shifts";
        ReadOld = "read_old",
            "Measure the old chain once more under tension and enter what you read";
        OpenChain = "open_chain",
            "Open the connecting link, or push out a pin where there is none";
        Length = "length",
            "Count the new chain's links against the old one's, or work the length out; never by laying a worn chain beside it";
        Cut = "cut",
            "Cut the new chain to length";
        Thread = "thread",
            "Thread the chain the way the old one ran: through the front cage, over the ring, round the jockey wheels, the right side out";
        ThreadPlain = "thread_plain",
            "Lay the chain over ring and cog, the right side out";
        Close = "close",
            "Close the connecting link with a new one of the chain's width, the way round that its maker says";
        LinkSeated = "link_seated",
            "Load the link: rear brake on, push the pedal hard until both halves snap in; look at it closely";
        NoStiffLink = "no_stiff_link",
            "Turn the cranks backwards and look for a link that doesn't straighten";
        SlackSet = "slack_set",
            "Set the slack at the dropout or the tensioner: about a finger's width up and down in the middle, nowhere tight through a whole turn; wheel straight, nuts tight";
        WheelOut = "wheel_out",
            "Take the rear wheel out";
        HubCable = "hub_cable",
            "Loosen the hub's cable, or park its actuator, as its maker says";
        LockRingOff = "lock_ring_off",
            "Hold the cogs with the chain whip and unscrew the lock ring";
        CogOff = "cog_off",
            "Take the cog off as its fastening asks: snap ring, lock ring or thread";
        LookAtBody = "look_at_body",
            "Look at the freehub body: deep bites of old cogs are filed smooth, a cracked one is replaced";
        CassetteOn = "cassette_on",
            "Slide the new cassette on, wide spline to wide spline, with the spacers that its maker names";
        CogsOn = "cogs_on",
            "Put the worn cogs' successors in their places, with the same spacers between them, wide spline to wide spline";
        CogOn = "cog_on",
            "Put the new cog on, dished the same way, and see that its fastening is home all round";
        LockRingOn = "lock_ring_on",
            "Screw the lock ring on by hand first, then tighten it";
        NoPlay = "no_play",
            "Rock the cogs by hand: they don't move on their body";
        WheelIn = "wheel_in",
            "Put the wheel back: straight, axle home, fastening closed";
        WheelFast = "wheel_fast",
            "Lift the bike and hit the wheel downwards: it stays in its place; the brake works";
        PedalsFirst = "pedals_first",
            "Loosen pedals and crank bolts while the wheels stand and the chain is on the largest ring";
        CrankOff = "crank_off",
            "Take the crank off where the ring doesn't come off over it";
        RingOff = "ring_off",
            "Undo the ring bolts crosswise, a half turn at a time";
        RingOn = "ring_on",
            "Put the new ring on, its catch pin behind the crank arm and its mark where the maker shows; tighten the bolts crosswise";
        CrankOn = "crank_on",
            "Put the crank back and tighten its bolts";
        CrankFast = "crank_fast",
            "Rock crank and ring by hand: no play, the ring runs true";
        FrontCage = "front_cage",
            "Front cage a coin's thickness above the largest ring and parallel to it";
        EndStops = "end_stops",
            "End stops: in the stand push the derailleur by hand past the smallest and past the largest cog; it must not reach frame or spokes";
        CogClearance = "cog_clearance",
            "Clearance of the upper jockey wheel to the largest cog, as the derailleur's maker says; it never touches";
        IndexingCable = "indexing_cable",
            "Indexing: shift through all cogs both ways; set the cable's tension a quarter turn at a time until none lags or rattles";
        IndexingElectronic = "indexing_electronic",
            "Indexing: put the derailleur in its adjusting mode, trim it in the middle of the cassette, then shift through all cogs both ways";
        Indexing = "indexing",
            "Indexing: shift through all cogs both ways; set cable tension, or the trim of an electronic derailleur, until none lags or rattles";
        HubIndexing = "hub_indexing",
            "Set the hub's gears by the marks its maker gives, and shift through all of them standing still and turning";
        LargestToLargest = "largest_to_largest",
            "By hand, shift to the largest ring and the largest cog: the cage still has some swing left";
        SkipTest = "skip_test",
            "Off traffic, press the pedals hard on the cogs that are used most: a new chain that skips means a worn cog; enter it as a symptom";
        FirstRide = "first_ride",
            "First ride off traffic, through all gears, brakes tried first";
        Clean = "clean",
            "Clean what the new part touches; lubricate the chain's joints, wipe the rest off";
        Enter = "enter",
            "Enter the swap with this list";
    }
}

sentences! {
    /// A tool.
    #[derive(Copy, Eq, PartialOrd, Ord, Hash)]
    Tool {
        WorkStand = "work_stand",
            "work stand";
        SteelRuleOrChainGauge = "steel_rule_or_chain_gauge",
            "steel rule or chain gauge";
        LinkPliers = "link_pliers",
            "link pliers";
        ChainTool = "chain_tool",
            "chain tool";
        ChainWhip = "chain_whip",
            "chain whip";
        LockRingTool = "lock_ring_tool",
            "lock ring tool";
        LongWrench = "long_wrench",
            "long wrench";
        SnapRingPliersOrLockRingTool = "snap_ring_pliers_or_lock_ring_tool",
            "snap ring pliers or lock ring tool";
        TorqueWrench = "torque_wrench",
            "torque wrench";
        PedalWrench = "pedal_wrench",
            "pedal wrench";
        CrankTool = "crank_tool",
            "crank tool";
        HexKeysOrStarKeys = "hex_keys_or_star_keys",
            "hex keys or star keys";
        RingNutWrench = "ring_nut_wrench",
            "ring nut wrench";
        ScrewdriverOrHexKey = "screwdriver_or_hex_key",
            "screwdriver or hex key";
    }
}

sentences! {
    /// Where a torque comes from.
    #[derive(Copy, Eq, PartialOrd, Ord, Hash)]
    Torque {
        Maker = "maker", "from the maker";
    }
}

sentences! {
    /// What goes before all steps.
    #[derive(Copy, Eq, PartialOrd, Ord, Hash)]
    Deference {
        MakersAndRules = "makers_and_rules",
            "The makers' instructions and local rules go before these steps. Whoever isn't sure leaves the work to a qualified mechanic";
    }
}

/// One step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// A stable word for checklists.
    pub id: &'static str,
    /// What to do.
    pub what: Instruction,
    /// What can hurt someone.
    pub caution: Option<Caution>,
    /// Tools.
    pub tools: &'static [Tool],
    /// Where a torque comes from.
    pub torque: Option<Torque>,
    /// Whether it is a check after the work, to be ticked before the bike goes out.
    pub check: bool,
}

const fn step(id: &'static str, what: Instruction) -> Step {
    Step { id, what, caution: None, tools: &[], torque: None, check: false }
}

impl Step {
    const fn careful(self, caution: Caution) -> Self {
        Self { caution: Some(caution), ..self }
    }

    const fn with(self, tools: &'static [Tool]) -> Self {
        Self { tools, ..self }
    }

    const fn torqued(self) -> Self {
        Self { torque: Some(Torque::Maker), ..self }
    }

    const fn after(self) -> Self {
        Self { check: true, ..self }
    }
}

const MOTOR_OFF: Step = step("motor_off", I::MotorOff).careful(Caution::MotorStarts);
const STAND: Step = step("stand", I::Stand).with(&[Tool::WorkStand]);
const SMALLEST: Step = step("slacken", I::Slacken).careful(Caution::TurningDrivetrain);
const BATTERY: Step = step("battery", I::Battery).careful(Caution::DerailleurMoves);
const READ_OLD: Step = step("read_old", I::ReadOld).with(&[Tool::SteelRuleOrChainGauge]);
const OPEN: Step =
    step("open_chain", I::OpenChain).with(&[Tool::LinkPliers, Tool::ChainTool]).careful(Caution::ChainWhips);
const LENGTH: Step = step("length", I::Length).careful(Caution::ChainTooShort);
const CUT: Step = step("cut", I::Cut).with(&[Tool::ChainTool]);
const THREAD: Step = step("thread", I::Thread);
const THREAD_PLAIN: Step = step("thread", I::ThreadPlain);
const CLOSE: Step = step("close", I::Close).with(&[Tool::LinkPliers]).careful(Caution::LinkUsedOnce);
const SEATED: Step = step("link_seated", I::LinkSeated).careful(Caution::LinkNotSeated).after();
const STIFF: Step = step("no_stiff_link", I::NoStiffLink).careful(Caution::TurningDrivetrain).after();
const TENSION: Step = step("slack_set", I::SlackSet).careful(Caution::TurningDrivetrain).torqued().after();
const WHEEL_OUT: Step = step("wheel_out", I::WheelOut).careful(Caution::BrakeDisc);
const HUB_LOOSE: Step = step("hub_cable", I::HubCable).careful(Caution::TorqueArm);
const LOCK_RING_OFF: Step = step("lock_ring_off", I::LockRingOff)
    .with(&[Tool::ChainWhip, Tool::LockRingTool, Tool::LongWrench])
    .careful(Caution::SharpTeeth);
const FREEWHEEL_OFF: Step = step("cog_off", I::CogOff)
    .with(&[Tool::SnapRingPliersOrLockRingTool, Tool::ChainWhip])
    .careful(Caution::SnapRing);
const LOOK_BODY: Step = step("look_at_body", I::LookAtBody);
const CASSETTE_ON: Step = step("cassette_on", I::CassetteOn);
const COGS_ON: Step = step("cogs_on", I::CogsOn);
const COG_ON: Step = step("cog_on", I::CogOn);
const LOCK_RING_ON: Step =
    step("lock_ring_on", I::LockRingOn).with(&[Tool::LockRingTool, Tool::TorqueWrench]).torqued();
const NO_PLAY: Step = step("no_play", I::NoPlay).careful(Caution::SharpTeeth).after();
const WHEEL_IN: Step = step("wheel_in", I::WheelIn).torqued();
const WHEEL_FAST: Step = step("wheel_fast", I::WheelFast).careful(Caution::WheelNotFast).after();
const PEDALS: Step = step("pedals_first", I::PedalsFirst)
    .with(&[Tool::PedalWrench, Tool::CrankTool])
    .careful(Caution::PedalsFirst);
const CRANK_OFF: Step = step("crank_off", I::CrankOff).with(&[Tool::CrankTool]);
const RING_OFF: Step = step("ring_off", I::RingOff)
    .with(&[Tool::HexKeysOrStarKeys, Tool::RingNutWrench])
    .careful(Caution::SharpTeeth);
const RING_ON: Step = step("ring_on", I::RingOn).with(&[Tool::TorqueWrench]).torqued();
const CRANK_ON: Step = step("crank_on", I::CrankOn).with(&[Tool::TorqueWrench]).torqued();
const CRANK_FAST: Step = step("crank_fast", I::CrankFast).careful(Caution::TurningDrivetrain).after();
const FRONT_HEIGHT: Step = step("front_cage", I::FrontCage).careful(Caution::TurningDrivetrain).after();
const END_STOPS: Step = step("end_stops", I::EndStops)
    .with(&[Tool::ScrewdriverOrHexKey])
    .careful(Caution::DerailleurInSpokes)
    .after();
const CLEARANCE: Step = step("cog_clearance", I::CogClearance).careful(Caution::TurningDrivetrain).after();
const INDEX_CABLE: Step = step("indexing", I::IndexingCable).careful(Caution::TurningDrivetrain).after();
const INDEX_ELECTRONIC: Step =
    step("indexing", I::IndexingElectronic).careful(Caution::TurningDrivetrain).after();
const INDEX_ANY: Step = step("indexing", I::Indexing).careful(Caution::TurningDrivetrain).after();
const HUB_INDEX: Step = step("hub_indexing", I::HubIndexing).careful(Caution::TurningDrivetrain).after();
const LARGEST: Step =
    step("largest_to_largest", I::LargestToLargest).careful(Caution::ChainTooShortHere).after();
const SKIP_TEST: Step = step("skip_test", I::SkipTest).careful(Caution::SkipTest).after();
const FIRST_RIDE: Step = step("first_ride", I::FirstRide).careful(Caution::FirstRide).after();
const CLEAN: Step = step("clean", I::Clean).careful(Caution::SolventsOnBrakes);
const ENTER: Step = step("enter", I::Enter).after();

/// The steps of a swap, in order.
#[must_use]
pub fn steps(swap: SwapOf, bike: BikeAtHand) -> Vec<Step> {
    let derailleur = bike.gearing == Gearing::Derailleur;
    let mut steps = Vec::new();
    if bike.motor {
        steps.push(MOTOR_OFF);
    }
    if swap == SwapOf::Ring {
        steps.push(PEDALS);
    }
    steps.push(STAND);
    if derailleur {
        if bike.shifting == Some(Shifting::Electronic) {
            steps.push(BATTERY);
        }
        steps.push(SMALLEST);
    }
    match swap {
        SwapOf::Chain => steps.extend([
            READ_OLD,
            OPEN,
            CLEAN,
            LENGTH,
            CUT,
            if derailleur { THREAD } else { THREAD_PLAIN },
            CLOSE,
            SEATED,
            STIFF,
        ]),
        SwapOf::Cassette => cassette(bike, &mut steps),
        SwapOf::Ring => {
            steps.extend([CRANK_OFF, RING_OFF, CLEAN, RING_ON, CRANK_ON, CRANK_FAST]);
            if derailleur {
                steps.push(FRONT_HEIGHT);
            }
        }
    }
    if derailleur {
        steps.extend([END_STOPS, CLEARANCE]);
        steps.push(match bike.shifting {
            Some(Shifting::Cable) => INDEX_CABLE,
            Some(Shifting::Electronic) => INDEX_ELECTRONIC,
            None => INDEX_ANY,
        });
        steps.push(LARGEST);
    } else {
        steps.push(TENSION);
        if bike.gearing == Gearing::HubGear {
            steps.push(HUB_INDEX);
        }
    }
    if swap != SwapOf::Ring {
        steps.push(SKIP_TEST);
    }
    steps.extend([FIRST_RIDE, ENTER]);
    steps
}

fn cassette(bike: BikeAtHand, steps: &mut Vec<Step>) {
    if bike.gearing == Gearing::HubGear {
        steps.push(HUB_LOOSE);
    }
    steps.push(WHEEL_OUT);
    match bike.cogs {
        CogBuild::OnePiece => steps.extend([LOCK_RING_OFF, LOOK_BODY, CLEAN, CASSETTE_ON, LOCK_RING_ON]),
        CogBuild::SeparateCogs => steps.extend([LOCK_RING_OFF, LOOK_BODY, CLEAN, COGS_ON, LOCK_RING_ON]),
        CogBuild::SingleCog => steps.extend([FREEWHEEL_OFF, CLEAN, COG_ON]),
    }
    steps.extend([NO_PLAY, WHEEL_IN, WHEEL_FAST]);
}

/// Every step that there is: what a checklist may name.
pub const ALL: &[Step] = &[
    MOTOR_OFF,
    STAND,
    SMALLEST,
    BATTERY,
    READ_OLD,
    OPEN,
    LENGTH,
    CUT,
    THREAD,
    CLOSE,
    SEATED,
    STIFF,
    TENSION,
    WHEEL_OUT,
    HUB_LOOSE,
    LOCK_RING_OFF,
    FREEWHEEL_OFF,
    LOOK_BODY,
    CASSETTE_ON,
    COGS_ON,
    COG_ON,
    LOCK_RING_ON,
    NO_PLAY,
    WHEEL_IN,
    WHEEL_FAST,
    PEDALS,
    CRANK_OFF,
    RING_OFF,
    RING_ON,
    CRANK_ON,
    CRANK_FAST,
    FRONT_HEIGHT,
    END_STOPS,
    CLEARANCE,
    INDEX_ANY,
    HUB_INDEX,
    LARGEST,
    SKIP_TEST,
    FIRST_RIDE,
    CLEAN,
    ENTER,
];

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    fn every_bike() -> impl Iterator<Item = BikeAtHand> {
        let shifting = [None, Some(Shifting::Cable), Some(Shifting::Electronic)];
        Gearing::ALL.iter().flat_map(move |&gearing| {
            CogBuild::ALL.iter().flat_map(move |&cogs| {
                shifting.into_iter().flat_map(move |shifting| {
                    [false, true].map(|motor| BikeAtHand { gearing, cogs, shifting, motor })
                })
            })
        })
    }

    fn ids(swap: SwapOf, bike: BikeAtHand) -> Vec<&'static str> {
        steps(swap, bike).into_iter().map(|step| step.id).collect()
    }

    #[test]
    fn each_bike_has_its_own_steps() {
        let town = BikeAtHand {
            gearing: Gearing::Derailleur,
            cogs: CogBuild::OnePiece,
            shifting: Some(Shifting::Cable),
            motor: false,
        };
        for &swap in SwapOf::ALL {
            let steps = ids(swap, town);
            for check in ["end_stops", "cog_clearance", "indexing", "first_ride"] {
                assert!(steps.contains(&check), "{swap} {check}");
            }
            let hub = ids(swap, BikeAtHand { gearing: Gearing::HubGear, cogs: CogBuild::SingleCog, ..town });
            assert!(hub.contains(&"slack_set") && hub.contains(&"hub_indexing"));
            assert!(!hub.contains(&"end_stops") && !hub.contains(&"indexing"));
        }
        assert!(ids(SwapOf::Cassette, town).contains(&"cassette_on"));
        let separate = BikeAtHand { cogs: CogBuild::SeparateCogs, ..town };
        assert!(ids(SwapOf::Cassette, separate).contains(&"cogs_on"));
        let words = |shifting| {
            let all = steps(SwapOf::Chain, BikeAtHand { shifting, ..town });
            all.into_iter().find(|step| step.id == "indexing").map(|step| step.what.to_string())
        };
        assert!(words(Some(Shifting::Cable)).unwrap().contains("cable's tension"));
        assert!(words(Some(Shifting::Electronic)).unwrap().contains("adjusting mode"));
        let motor = BikeAtHand { motor: true, ..town };
        assert_eq!(ids(SwapOf::Ring, motor)[..2], ["motor_off", "pedals_first"]);
    }

    #[test]
    fn steps_are_known_once_and_torques_are_the_makers() {
        let known: BTreeSet<_> = ALL.iter().map(|step| step.id).collect();
        assert_eq!(known.len(), ALL.len());
        for bike in every_bike() {
            for &swap in SwapOf::ALL {
                let steps = steps(swap, bike);
                let once: BTreeSet<_> = steps.iter().map(|step| step.id).collect();
                assert_eq!(once.len(), steps.len());
                assert!(once.is_subset(&known));
                assert!(steps.iter().all(|step| step.torque.is_none_or(|torque| torque == Torque::Maker)));
                assert!(steps.iter().filter(|step| step.check).count() >= 4);
                let first = steps.iter().position(|step| step.id == "first_ride").unwrap();
                assert!(steps[..first].iter().all(|step| step.id != "enter"));
            }
        }
        // No number of newton metres stands anywhere.
        assert!(
            ALL.iter()
                .all(|step| !step.what.to_string().contains("Nm") && !step.what.to_string().contains("N·m"))
        );
    }
}
