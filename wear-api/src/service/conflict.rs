//! What stands in the way of a change.

wear_core::sentences! {
    /// Why a change contradicts what is there already.
    #[derive(Eq)]
    Conflict {
        BikeLabelled { label: String, bike: String } = "bike_labelled",
            "bike {bike} of the fleet has the label {label} already; use another, or retire that bike first";
        BikeLabelledNow = "bike_labelled_now", "another bike of the fleet has this label now; use another";
        LabelTaken = "label_taken", "another bike of the fleet has this label; use another";
        ExternalIdTaken = "external_id_taken", "another bike has this external_id; use another";
        BikeExternalId { external_id: String, bike: String } = "bike_external_id",
            "bike {bike} has the external_id {external_id} already";
        RideElsewhere { bike: String, ride: String } = "ride_elsewhere",
            "ride {ride} of bike {bike} has this source and source_id, and ids are the workshop's; say move: true to move it here";
        RideThere { bike: String, ride: String } = "ride_there",
            "bike {bike} has a ride {ride} of the same source and source_id; change or restore that one";
        BikeRetired { at: String } = "bike_retired", "the bike left the fleet at {at}; bring it back first";
        VoidedBefore { what: &'static str } = "voided_before", "the {what} was voided before";
        CountsAlready { what: &'static str } = "counts_already",
            "the {what} counts already, or the same was entered again since";
        TakenOffBySwap { at: String } = "taken_off_by_swap",
            "a swap took the part off at {at}; void that swap and enter it with its own time";
        LastManager = "last_manager",
            "this is the last manager's token in force; make another one first, or nobody can make tokens any more";
        PlaceTaken { place: String, at: String } = "place_taken",
            "the place {place} is not empty at {at}; enter a swap instead";
        PartOnBikeThen = "part_on_bike_then", "the part is on a bike at that time";
        PartOnBike = "part_on_bike", "the part is on a bike; take it off first";
        PartOff = "part_off", "the part is off already";
        FittedBySwap { at: String } = "fitted_by_swap",
            "a swap put the part on at {at}; void that swap and enter it with its own time";
        PartElsewhere = "part_elsewhere", "the part that went on has been elsewhere since; put that right first";
        PartBackOnBike = "part_back_on_bike", "the part that came off has been on a bike since; take that back first";
        KindNamed = "kind_named", "there is a kind of bike with this name already";
        KindInUse { bikes: u32 } = "kind_in_use", "bikes of this kind: {bikes}; give them another kind first";
        ToolNamed = "tool_named", "there is a tool with this name already";
        LubricantNamed = "lubricant_named", "there is a lubricant with this name already";
        SameReading = "same_reading", "both parts have the same reading; void one of them first";
        ReadingsCount = "readings_count", "the part that went on has readings that count; void them first";
        StayChanged = "stay_changed",
            "the stay of the part that came off has been changed since; put that right first";
        BenchDayTaken { date: String } = "bench_day_taken", "{date} is a bench day already; change that one";
        StockKept = "stock_kept", "count of this part model is kept already; change it";
        OtherProposal { plan: String } = "other_proposal",
            "the present proposal is {plan}; look at it before you accept it";
        TooManyHooks { most: String } = "too_many_hooks", "the workshop has {most} hooks, the most there may be";
        TooManyHooksOfToken { most: String } = "too_many_hooks_of_token",
            "this token has {most} hooks, the most there may be";
        AppNamed = "app_named", "there is an app with this name already";
        AppInUse = "app_in_use",
            "bikes are this app's or tokens of it are in force; take the bikes from it and revoke the tokens first";
        RiderInUse = "rider_in_use",
            "bikes are this rider's or tokens for them are in force; take the bikes from them and revoke the tokens first";
        HookDisabled { since: String, reason: String } = "hook_disabled",
            "the hook is disabled since {since} ({reason}); enable it first";
        TooManyDigests { most: String } = "too_many_digests",
            "the workshop has {most} digests, the most there may be";
        NoMail = "no_mail", "this service sends no e-mail: whoever runs it sets smtp-url, mail-from and public-url";
        DigestStopped { at: String } = "digest_stopped",
            "its recipient stopped it at {at}; make another one if they want it again";
        DeliveryArrived = "delivery_arrived",
            "the delivery has arrived; set arrived_on to null first when it hasn't";
        PricesBeyondReason { cause: String } = "prices_beyond_reason", "{cause}";
        NoCurve = "no_curve", "there is no curve for these prices";
        Stored = "stored", "it contradicts what is stored";
    }
}
