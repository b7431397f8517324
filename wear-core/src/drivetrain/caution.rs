//! What can hurt someone at a drivetrain, as common practice of the trade says it (T).

use crate::sentences;

sentences! {
    /// A caution.
    #[derive(Copy, Eq, PartialOrd, Ord, Hash)]
    Caution {
        TurningDrivetrain = "turning_drivetrain",
            "Keep hands, hair and sleeves clear of a turning drivetrain: it takes fingers off";
        SharpTeeth = "sharp_teeth",
            "Cog and ring teeth cut: wear gloves, and keep the hand out of the tool's way when it slips";
        MotorStarts = "motor_starts",
            "A motor that starts by itself turns the chain with your hand in it";
        DerailleurMoves = "derailleur_moves",
            "An electronic derailleur moves by itself when a button is touched: keep fingers away";
        ChainWhips = "chain_whips",
            "A chain under tension whips: hold both ends, or bridge them with a hook";
        ChainTooShort = "chain_too_short",
            "A chain that is too short on largest ring and largest cog tears off the derailleur and can lock the wheel";
        LinkUsedOnce = "link_used_once",
            "A connecting link is used once unless it is marked for more";
        LinkNotSeated = "link_not_seated",
            "A link that isn't seated opens under load and throws the rider";
        BrakeDisc = "brake_disc",
            "Keep fingers and solvents off a brake disc: it may be hot, its edge cuts, and oil on it takes the brake away";
        TorqueArm = "torque_arm",
            "A hub's torque arm has to go back the way it was, or the axle turns";
        SnapRing = "snap_ring",
            "A snap ring flies: wear glasses. Cog teeth cut: wear gloves";
        WheelNotFast = "wheel_not_fast",
            "A wheel that isn't fast comes out when the bike is braked or pedalled hard";
        PedalsFirst = "pedals_first",
            "Pedals come before wheels: a bar that slips drives the hand into the ring's teeth";
        DerailleurInSpokes = "derailleur_in_spokes",
            "A derailleur in the spokes locks the wheel: never ride before this is right";
        ChainTooShortHere = "chain_too_short_here",
            "A chain that is too short tears off the derailleur here and can lock the wheel";
        SkipTest = "skip_test",
            "A chain that skips throws the rider: do it seated, slowly, on open ground";
        FirstRide = "first_ride",
            "First test ride off traffic";
        SolventsOnBrakes = "solvents_on_brakes",
            "Solvents and oil stay away from brake discs, pads and rims";
        HandsClear = "hands_clear",
            "Hands clear of a turning drivetrain";
        ChainJumps = "chain_jumps",
            "A chain that jumps under load throws the rider: don't ride in traffic before it is found";
        FrayedCable = "frayed_cable",
            "Frayed cable pricks: cut it, cap it";
        SpokesLock = "spokes_lock",
            "A derailleur in the spokes locks the wheel";
        RingTeeth = "ring_teeth",
            "Ring teeth cut";
        SolventsOnDisc = "solvents_on_disc",
            "Solvents stay away from brake discs and pads";
        FreehubLetsGo = "freehub_lets_go",
            "A freehub that lets go throws the rider";
        MovesByItself = "moves_by_itself",
            "It moves by itself when a button is touched";
        SeatTheLink = "seat_the_link",
            "Load the closed link with the pedals against the brake until both halves have snapped in; a link that isn't seated opens under load and throws the rider";
        DoesntFit = "doesnt_fit",
            "A chain that doesn't fit jumps under load: the rider falls";
        TooShortOnLargest = "too_short_on_largest",
            "On the largest ring and the largest cog a chain that is too short tears off the derailleur and can lock the wheel";
        CassetteMoves = "cassette_moves",
            "A cassette that moves on its body cuts into it and can come loose; the lock ring's torque comes from its maker";
    }
}
