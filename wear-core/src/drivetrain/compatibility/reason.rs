//! Why parts go together or don't.

use crate::sentences;

sentences! {
    /// Why a verdict is what it is; numbers are teeth, sprockets or pitches, as the sentence says.
    #[derive(Eq)]
    Reason {
        NothingToCompare = "nothing_to_compare", "Nothing to compare: give two parts that meet";
        FrontDerailleurOnNarrowWide { teeth: u16 } = "front_derailleur_on_narrow_wide",
            "The {teeth}-tooth ring has wide and narrow teeth to hold the chain; a front derailleur has to lift it off";
        ChainSprocketsUnknown { cogs: u32 } = "chain_sprockets_unknown",
            "Nobody said how many sprockets the chain is made for; the cassette has {cogs}";
        AsWide { made_for: u32, cogs: u32 } = "as_wide",
            "A chain for {made_for} sprockets is as wide as {cogs} cogs need";
        Wider { made_for: u32, cogs: u32 } = "wider",
            "A chain for {made_for} sprockets is wider than the gaps of {cogs} cogs: it rubs on the next one";
        OneClassNarrower { made_for: u32, cogs: u32 } = "one_class_narrower",
            "A chain for {made_for} sprockets is one class narrower than {cogs} cogs ask for: it mostly runs, and may shift slowly; ask the makers";
        MuchNarrower { made_for: u32, cogs: u32 } = "much_narrower",
            "A chain for {made_for} sprockets is more than one class narrower than {cogs} cogs ask for: it can settle between cogs";
        SingleWidthUnknown = "single_width_unknown",
            "Chains for one sprocket come in two inner widths, 1/8 and 3/32 inch; measure tooth and chain";
        TeethTooWide = "teeth_too_wide",
            "Teeth for 1/8 inch are wider than a 3/32 inch chain: it rides up on them";
        WideChainOnNarrowTeeth = "wide_chain_on_narrow_teeth",
            "A 1/8 inch chain runs on teeth for 3/32 inch, with some noise and more need of a straight chain line";
        SameSingleWidth = "same_single_width", "Chain and teeth have the same width";
        RingWidthUnknown { teeth: u16 } = "ring_width_unknown",
            "Nobody said for how many sprockets the chain or the {teeth}-tooth ring is made";
        SameRingWidth { teeth: u16 } = "same_ring_width", "Chain and {teeth}-tooth ring are made for the same width";
        RingOneClassApart { teeth: u16, ring_for: u32, made_for: u32 } = "ring_one_class_apart",
            "The {teeth}-tooth ring is made for {ring_for} sprockets and the chain for {made_for}: one class apart mostly runs; ask the makers";
        RingTooFarApart { teeth: u16, ring_for: u32, made_for: u32 } = "ring_too_far_apart",
            "The {teeth}-tooth ring is made for {ring_for} sprockets and the chain for {made_for}: too far apart";
        EvenTeeth { teeth: u16 } = "even_teeth", "{teeth} is even: wide teeth meet outer plates on every turn";
        OddTeeth { teeth: u16 } = "odd_teeth",
            "{teeth} is odd: on every second turn a wide tooth meets inner plates";
        WideTeethHold { teeth: u16 } = "wide_teeth_hold",
            "Wide teeth, as on the {teeth}-tooth ring, are shaped for chains of 9 sprockets and more";
        WideTeethHoldLess { teeth: u16 } = "wide_teeth_hold_less",
            "Wide teeth, as on the {teeth}-tooth ring, are shaped for chains of 9 sprockets and more; a wider chain is held less well";
        LinkClosedOnce = "link_closed_once", "The link was closed before, and is made to be closed once";
        LinkChainUnknown { link_for: u32 } = "link_chain_unknown",
            "The link is made for {link_for} sprockets; nobody said what the chain is made for";
        LinkWidthDiffers { link_for: u32, made_for: u32 } = "link_width_differs",
            "The link is made for {link_for} sprockets and the chain for {made_for}: its pins are too long or too short";
        LinkUsedAgain = "link_used_again",
            "The link may be used again: as often as its maker says, and only if it still snaps in firmly";
        LinkFits = "link_fits",
            "Link and chain are made for the same width; which way round it goes is its maker's to say";
        WithinCapacity { needed: u16, capacity: u16 } = "within_capacity",
            "Rings and cogs ask for {needed} teeth of capacity; the cage takes up {capacity}";
        BeyondCapacity { needed: u16, capacity: u16 } = "beyond_capacity",
            "Rings and cogs ask for {needed} teeth of capacity; the cage takes up {capacity}: the chain hangs slack on small ring and small cogs, or is too short on the large ones";
        LargestCog { given: u16, most: u16 } = "largest_cog", "Largest cog {given}; the rear derailleur clears {most}";
        SmallestCog { given: u16, least: u16 } = "smallest_cog",
            "Smallest cog {given}; the rear derailleur is made for {least} and more";
        LargestRing { given: u16, most: u16 } = "largest_ring",
            "Largest ring {given}; the front derailleur is shaped for {most}";
        RingsApart { apart: u16, most: u16 } = "rings_apart",
            "Rings are {apart} teeth apart; the front derailleur takes {most}";
        RingClearance { given: u16, most: u16 } = "ring_clearance", "Largest ring {given}; the frame clears {most}";
        LengthNeeded { needed: u16 } = "length_needed",
            "Largest ring and largest cog on this chainstay ask for {needed} pitches";
        OddLength { given: u16 } = "odd_length",
            "{given} pitches is odd: ends of two inner plates don't join without a half link";
        TooShort { given: u16, needed: u16 } = "too_short",
            "The chain has {given} pitches; largest ring and largest cog ask for {needed}";
        ShorterThanGeometry { given: u16, large: u16, small: u16, least: u16 } = "shorter_than_geometry",
            "{given} pitches don't go round {large} and {small} teeth: with the shortest chainstay that leaves room for the wheel it takes {least}";
        LongerThanGeometry { given: u16, large: u16, small: u16, most: u16, chainstay_mm: u16 } = "longer_than_geometry",
            "{given} pitches are more than any frame asks for: round {large} and {small} teeth, a chainstay of {chainstay_mm} mm takes {most}";
        RightLength { given: u16 } = "right_length", "{given} pitches is what largest ring and largest cog ask for";
        TakeOut { given: u16, over: u16, needed: u16 } = "take_out",
            "The chain has {given} pitches; take out {over} to have {needed}, and check on the bike before it is cut";
        TakeOutAndTension { given: u16, over: u16, needed: u16 } = "take_out_and_tension",
            "The chain has {given} pitches; take out {over} to have {needed}, then set its slack at the dropout";
        CassetteInterfaceUnknown = "cassette_interface_unknown", "Nobody said what interface the cassette has";
        HubTakes { interface: String } = "hub_takes", "The hub takes {interface}";
        HubTakesWithSpacer { interface: String } = "hub_takes_with_spacer",
            "The hub takes {interface} with a spacer: its thickness is the hub maker's to say, and the lock ring has to bite fully";
        HubInterfaceUnknown = "hub_interface_unknown", "Nobody said what interface the hub has";
        HubTakesOthers { taken: String, interface: String } = "hub_takes_others", "The hub takes {taken}, not {interface}";
        ShifterFits { positions: u32, cogs: u32 } = "shifter_fits",
            "{positions} positions for {cogs} cogs; whether shifter and derailleur pull alike is the makers' to say";
        ShifterDiffers { positions: u32, cogs: u32 } = "shifter_differs",
            "{positions} positions for {cogs} cogs: the steps differ in number and mostly in size";
    }
}
