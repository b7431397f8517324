//! Which tables there are, and their columns.

wear_core::vocabulary! {
    /// A table that can be exported and imported.
    TableKind, "kind" {
        /// Part models.
        PartModels = "part-models",
        /// Bikes.
        Bikes = "bikes",
        /// Parts, with one line for each stay on a bike.
        Parts = "parts",
        /// Rides.
        Rides = "rides",
        /// Readings.
        Readings = "readings",
        /// Care.
        Care = "care",
        /// Swaps.
        Swaps = "swaps",
        /// What odometers showed.
        Odometer = "odometer",
    }
}

impl TableKind {
    /// Its columns, in the order in which they are exported.
    #[must_use]
    pub const fn columns(self) -> &'static [&'static str] {
        match self {
            Self::PartModels => &[
                "part_model_id",
                "name",
                "place",
                "sprockets",
                "cogs",
                "one_piece",
                "teeth",
                "narrow_wide",
                "price_minor",
                "currency",
                "limit_percent",
                "created_at",
            ],
            Self::Bikes => &[
                "bike_id",
                "label",
                "group",
                "kind",
                "use",
                "rings",
                "cogs",
                "links",
                "gearing",
                "wheel_circumference_mm",
                "jockey_teeth",
                "light_metal_cogs",
                "drivetrain_assumed",
                "limit_percent",
                "care",
                "fitted_on",
                "chain_km",
                "created_at",
                "retired_at",
                "external_id",
            ],
            Self::Parts => &[
                "part_id",
                "place",
                "part_model_id",
                "part_model",
                "label",
                "fitting_id",
                "bike_id",
                "bike",
                "position",
                "fitted_at",
                "removed_at",
                "start",
                "chain_km",
                "created_at",
                "retired_at",
            ],
            Self::Rides => &[
                "bike_id",
                "bike",
                "source",
                "source_id",
                "started_at",
                "distance_km",
                "surface",
                "wet",
                "climb_m",
                "energy_kj",
                "separate",
            ],
            Self::Readings => &[
                "reading_id",
                "bike_id",
                "bike",
                "part_id",
                "taken_at",
                "instrument",
                "percent",
                "spots",
                "pitches",
                "length_mm",
                "mark_percent",
                "drops_in",
                "voided_at",
                "void_reason",
                "odometer_km",
                "tool",
                "read_by",
            ],
            Self::Care => &[
                "care_id",
                "bike_id",
                "bike",
                "kind",
                "done_at",
                "note",
                "odometer_km",
                "lubricant",
                "voided_at",
                "void_reason",
            ],
            Self::Swaps => &[
                "swap_id",
                "bike_id",
                "bike",
                "swapped_at",
                "place",
                "position",
                "part_model_id",
                "part_model",
                "off_part_id",
                "on_part_id",
                "reading_id",
                "note",
                "from_shelf",
                "checklist",
                "voided_at",
                "void_reason",
                "odometer_km",
                "reason",
            ],
            Self::Odometer => &[
                "statement_id",
                "bike_id",
                "bike",
                "read_at",
                "km",
                "entered_with",
                "event_id",
                "voided_at",
                "void_reason",
            ],
        }
    }

    /// Columns that a file has to have. A bike may be named by id or by label.
    #[must_use]
    pub const fn required(self) -> &'static [&'static str] {
        match self {
            Self::PartModels => &["name", "place"],
            Self::Bikes => &["label"],
            Self::Parts => &["place"],
            Self::Rides => &["started_at", "distance_km"],
            Self::Readings => &["instrument"],
            Self::Care => &["kind"],
            Self::Swaps => &["place"],
            Self::Odometer => &["km"],
        }
    }

    /// Columns that a file may have and no export has: they say in short what others say in full, or that a part that doesn't
    /// go with the bike is meant so.
    #[must_use]
    pub const fn in_short(self) -> &'static [&'static str] {
        match self {
            Self::Bikes => &["speeds", "accept_mismatch"],
            Self::Parts | Self::Swaps => &["accept_mismatch"],
            _ => &[],
        }
    }

    /// Whether its lines name a bike.
    #[must_use]
    pub const fn names_bike(self) -> bool {
        matches!(self, Self::Rides | Self::Readings | Self::Care | Self::Swaps | Self::Odometer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_required_is_a_column() {
        for kind in TableKind::ALL {
            assert!(kind.required().iter().all(|column| kind.columns().contains(column)), "{kind}");
            assert_eq!(
                kind.names_bike(),
                kind.columns().contains(&"bike") && *kind != TableKind::Parts,
                "{kind}"
            );
        }
    }
}
