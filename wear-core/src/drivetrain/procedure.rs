//! How a part is swapped safely, as data: steps with their cautions and tools, for the bike at hand.
//!
//! The steps are common practice of the trade (T). They stand beside the makers' instructions, never in their place.

use super::Gearing;
use crate::vocabulary::vocabulary;

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

/// One step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// A stable word for checklists.
    pub id: &'static str,
    /// What to do.
    pub what: &'static str,
    /// What can hurt someone.
    pub caution: Option<&'static str>,
    /// Tools.
    pub tools: &'static [&'static str],
    /// Where a torque comes from.
    pub torque: Option<&'static str>,
    /// Whether it is a check after the work, to be ticked before the bike goes out.
    pub check: bool,
}

/// Where every torque comes from.
pub const TORQUE: &str = "from the maker";

/// What holds for all of it.
pub const DEFER: &str = "The makers' instructions and local rules go before these steps. Whoever isn't sure leaves the work to a qualified mechanic";

const fn step(id: &'static str, what: &'static str) -> Step {
    Step { id, what, caution: None, tools: &[], torque: None, check: false }
}

impl Step {
    const fn careful(self, caution: &'static str) -> Self {
        Self { caution: Some(caution), ..self }
    }

    const fn with(self, tools: &'static [&'static str]) -> Self {
        Self { tools, ..self }
    }

    const fn torqued(self) -> Self {
        Self { torque: Some(TORQUE), ..self }
    }

    const fn after(self) -> Self {
        Self { check: true, ..self }
    }
}

const FINGERS: &str = "Keep hands, hair and sleeves clear of a turning drivetrain: it takes fingers off";
const EDGES: &str =
    "Cog and ring teeth cut: wear gloves, and keep the hand out of the tool's way when it slips";

const MOTOR_OFF: Step = step("motor_off", "Switch the motor off and take the battery out")
    .careful("A motor that starts by itself turns the chain with your hand in it");
const STAND: Step =
    step("stand", "Hang the bike in a stand, or lean it so that it can't fall").with(&["work stand"]);
const SMALLEST: Step =
    step("slacken", "Shift to the smallest ring and the smallest cog, so that the chain is slack")
        .careful(FINGERS);
const BATTERY: Step =
    step("battery", "See that the derailleur's battery is charged, and don't unplug it while it shifts")
        .careful("An electronic derailleur moves by itself when a button is touched: keep fingers away");
const READ_OLD: Step =
    step("read_old", "Measure the old chain once more under tension and enter what you read")
        .with(&["steel rule or chain gauge"]);
const OPEN: Step = step("open_chain", "Open the connecting link, or push out a pin where there is none")
    .with(&["link pliers", "chain tool"])
    .careful("A chain under tension whips: hold both ends, or bridge them with a hook");
const LENGTH: Step = step("length", "Count the new chain's links against the old one's, or work the length out; never by laying a worn chain beside it")
    .careful("A chain that is too short on largest ring and largest cog tears off the derailleur and can lock the wheel");
const CUT: Step = step("cut", "Cut the new chain to length").with(&["chain tool"]);
const THREAD: Step = step(
    "thread",
    "Thread the chain the way the old one ran: through the front cage, over the ring, round the jockey wheels, the right side out",
);
const THREAD_PLAIN: Step = step("thread", "Lay the chain over ring and cog, the right side out");
const CLOSE: Step = step(
    "close",
    "Close the connecting link with a new one of the chain's width, the way round that its maker says",
)
.with(&["link pliers"])
.careful("A connecting link is used once unless it is marked for more");
const SEATED: Step = step(
    "link_seated",
    "Load the link: rear brake on, push the pedal hard until both halves snap in; look at it closely",
)
.careful("A link that isn't seated opens under load and throws the rider")
.after();
const STIFF: Step =
    step("no_stiff_link", "Turn the cranks backwards and look for a link that doesn't straighten")
        .careful(FINGERS)
        .after();
const TENSION: Step = step("slack_set", "Set the slack at the dropout or the tensioner: about a finger's width up and down in the middle, nowhere tight through a whole turn; wheel straight, nuts tight")
    .careful(FINGERS)
    .torqued()
    .after();
const WHEEL_OUT: Step = step("wheel_out", "Take the rear wheel out")
    .careful("Keep fingers and solvents off a brake disc: it may be hot, its edge cuts, and oil on it takes the brake away");
const HUB_LOOSE: Step = step("hub_cable", "Loosen the hub's cable, or park its actuator, as its maker says")
    .careful("A hub's torque arm has to go back the way it was, or the axle turns");
const LOCK_RING_OFF: Step =
    step("lock_ring_off", "Hold the cogs with the chain whip and unscrew the lock ring")
        .with(&["chain whip", "lock ring tool", "long wrench"])
        .careful(EDGES);
const FREEWHEEL_OFF: Step =
    step("cog_off", "Take the cog off as its fastening asks: snap ring, lock ring or thread")
        .with(&["snap ring pliers or lock ring tool", "chain whip"])
        .careful("A snap ring flies: wear glasses. Cog teeth cut: wear gloves");
const LOOK_BODY: Step = step(
    "look_at_body",
    "Look at the freehub body: deep bites of old cogs are filed smooth, a cracked one is replaced",
);
const CASSETTE_ON: Step = step(
    "cassette_on",
    "Slide the new cassette on, wide spline to wide spline, with the spacers that its maker names",
);
const COGS_ON: Step = step(
    "cogs_on",
    "Put the worn cogs' successors in their places, with the same spacers between them, wide spline to wide spline",
);
const COG_ON: Step =
    step("cog_on", "Put the new cog on, dished the same way, and see that its fastening is home all round");
const LOCK_RING_ON: Step = step("lock_ring_on", "Screw the lock ring on by hand first, then tighten it")
    .with(&["lock ring tool", "torque wrench"])
    .torqued();
const NO_PLAY: Step =
    step("no_play", "Rock the cogs by hand: they don't move on their body").careful(EDGES).after();
const WHEEL_IN: Step =
    step("wheel_in", "Put the wheel back: straight, axle home, fastening closed").torqued();
const WHEEL_FAST: Step =
    step("wheel_fast", "Lift the bike and hit the wheel downwards: it stays in its place; the brake works")
        .careful("A wheel that isn't fast comes out when the bike is braked or pedalled hard")
        .after();
const PEDALS: Step = step(
    "pedals_first",
    "Loosen pedals and crank bolts while the wheels stand and the chain is on the largest ring",
)
.with(&["pedal wrench", "crank tool"])
.careful("Pedals come before wheels: a bar that slips drives the hand into the ring's teeth");
const CRANK_OFF: Step =
    step("crank_off", "Take the crank off where the ring doesn't come off over it").with(&["crank tool"]);
const RING_OFF: Step = step("ring_off", "Undo the ring bolts crosswise, a half turn at a time")
    .with(&["hex keys or star keys", "ring nut wrench"])
    .careful(EDGES);
const RING_ON: Step = step("ring_on", "Put the new ring on, its catch pin behind the crank arm and its mark where the maker shows; tighten the bolts crosswise")
    .with(&["torque wrench"])
    .torqued();
const CRANK_ON: Step =
    step("crank_on", "Put the crank back and tighten its bolts").with(&["torque wrench"]).torqued();
const CRANK_FAST: Step =
    step("crank_fast", "Rock crank and ring by hand: no play, the ring runs true").careful(FINGERS).after();
const FRONT_HEIGHT: Step =
    step("front_cage", "Front cage a coin's thickness above the largest ring and parallel to it")
        .careful(FINGERS)
        .after();
const END_STOPS: Step = step("end_stops", "End stops: in the stand push the derailleur by hand past the smallest and past the largest cog; it must not reach frame or spokes")
    .with(&["screwdriver or hex key"])
    .careful("A derailleur in the spokes locks the wheel: never ride before this is right")
    .after();
const CLEARANCE: Step = step("cog_clearance", "Clearance of the upper jockey wheel to the largest cog, as the derailleur's maker says; it never touches").careful(FINGERS).after();
const INDEX_CABLE: Step = step("indexing", "Indexing: shift through all cogs both ways; set the cable's tension a quarter turn at a time until none lags or rattles").careful(FINGERS).after();
const INDEX_ELECTRONIC: Step = step("indexing", "Indexing: put the derailleur in its adjusting mode, trim it in the middle of the cassette, then shift through all cogs both ways").careful(FINGERS).after();
const INDEX_ANY: Step = step("indexing", "Indexing: shift through all cogs both ways; set cable tension, or the trim of an electronic derailleur, until none lags or rattles").careful(FINGERS).after();
const HUB_INDEX: Step = step("hub_indexing", "Set the hub's gears by the marks its maker gives, and shift through all of them standing still and turning").careful(FINGERS).after();
const LARGEST: Step = step(
    "largest_to_largest",
    "By hand, shift to the largest ring and the largest cog: the cage still has some swing left",
)
.careful("A chain that is too short tears off the derailleur here and can lock the wheel")
.after();
const SKIP_TEST: Step = step("skip_test", "Off traffic, press the pedals hard on the cogs that are used most: a new chain that skips means a worn cog; enter it as a symptom")
    .careful("A chain that skips throws the rider: do it seated, slowly, on open ground")
    .after();
const FIRST_RIDE: Step = step("first_ride", "First ride off traffic, through all gears, brakes tried first")
    .careful("First test ride off traffic")
    .after();
const CLEAN: Step =
    step("clean", "Clean what the new part touches; lubricate the chain's joints, wipe the rest off")
        .careful("Solvents and oil stay away from brake discs, pads and rims");
const ENTER: Step = step("enter", "Enter the swap with this list").after();

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
            all.into_iter().find(|step| step.id == "indexing").map(|step| step.what)
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
                assert!(steps.iter().all(|step| step.torque.is_none_or(|torque| torque == TORQUE)));
                assert!(steps.iter().filter(|step| step.check).count() >= 4);
                let first = steps.iter().position(|step| step.id == "first_ride").unwrap();
                assert!(steps[..first].iter().all(|step| step.id != "enter"));
            }
        }
        // No number of newton metres stands anywhere.
        assert!(ALL.iter().all(|step| !step.what.contains("Nm") && !step.what.contains("N·m")));
    }
}
