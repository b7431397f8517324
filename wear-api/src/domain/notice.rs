//! What hooks and messages say beside an outlook's own reasons.

wear_core::sentences! {
    /// What is told of a part or of the fleet.
    NoticeSaid {
        CassetteWorn { percent: u32 } = "cassette_worn",
            "A new chain will likely skip on this cassette ({percent} %): plan a cassette with the next chain. A skip can throw the rider: test for skipping under load, off traffic, before the bike goes out.";
        RingWorn { teeth: u16, percent: u32 } = "ring_worn",
            "The {teeth}-tooth chainring will likely be worn out with the chain ({percent} %): plan a chainring with the next chain.";
        CameOff = "came_off", "The part came off the bike.";
        NotDue = "not_due", "What was announced is no longer due.";
        OrderNeeded { count: u32, percent: u32 } = "order_needed",
            "Order {count}: what there is lasts until a delivery with a probability of {percent} %.";
        RecordTooNarrow { percent: u32, readings: u32, least: u32, most: u32 } = "intervals_too_narrow",
            "{percent} % of {readings} readings lay between P10 and P90, and chance explains {least} to {most} %: the forecasts are surer than they should be. Plan with more margin.";
        RecordTooWide { percent: u32, readings: u32, least: u32, most: u32 } = "intervals_too_wide",
            "{percent} % of {readings} readings lay between P10 and P90, and chance explains {least} to {most} %: the forecasts are less sure than they could be.";
    }
}

impl NoticeSaid {
    /// A probability or share in whole percent, as sentences say it.
    #[must_use]
    pub fn percent(share: f64) -> u32 {
        (100.0 * share.clamp(0.0, 1.0)).round() as u32
    }
}
