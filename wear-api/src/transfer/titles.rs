//! Titles of columns as people write them, in English and German, beside the names of the columns themselves.

use super::kind::TableKind;

/// What people call columns of one kind of table: the title as [`folded`] has it, and the column.
type Titles = &'static [(&'static str, &'static str)];

/// How tables of events call the bike.
const BIKE: Titles = &[
    ("bike label", "bike"),
    ("bike no", "bike"),
    ("bike number", "bike"),
    ("label", "bike"),
    ("number", "bike"),
    ("no", "bike"),
    ("rad", "bike"),
    ("radnummer", "bike"),
    ("nummer", "bike"),
    ("nr", "bike"),
];

const BIKES: Titles = &[
    ("bike", "label"),
    ("bike label", "label"),
    ("bike no", "label"),
    ("bike number", "label"),
    ("number", "label"),
    ("no", "label"),
    ("name", "label"),
    ("fleet", "group"),
    ("bike group", "group"),
    ("bike kind", "kind"),
    ("kind of bike", "kind"),
    ("used for", "use"),
    ("usage", "use"),
    ("chainring", "rings"),
    ("chainrings", "rings"),
    ("chain rings", "rings"),
    ("front teeth", "rings"),
    ("cassette", "cogs"),
    ("sprockets", "cogs"),
    ("rear teeth", "cogs"),
    ("chain links", "links"),
    ("number of links", "links"),
    ("gears", "speeds"),
    ("number of gears", "speeds"),
    ("limit", "limit_percent"),
    ("limit %", "limit_percent"),
    ("chain limit", "limit_percent"),
    ("chain fitted", "fitted_on"),
    ("chain fitted on", "fitted_on"),
    ("new chain on", "fitted_on"),
    ("chain new on", "fitted_on"),
    ("km on chain", "chain_km"),
    ("chain km", "chain_km"),
    ("own id", "external_id"),
    ("rad", "label"),
    ("radnummer", "label"),
    ("nummer", "label"),
    ("nr", "label"),
    ("bezeichnung", "label"),
    ("flotte", "group"),
    ("gruppe", "group"),
    ("radtyp", "kind"),
    ("typ", "kind"),
    ("nutzung", "use"),
    ("einsatz", "use"),
    ("kettenblatt", "rings"),
    ("kettenblätter", "rings"),
    ("kassette", "cogs"),
    ("ritzel", "cogs"),
    ("glieder", "links"),
    ("kettenglieder", "links"),
    ("gänge", "speeds"),
    ("grenze", "limit_percent"),
    ("grenze %", "limit_percent"),
    ("kette neu am", "fitted_on"),
    ("neue kette am", "fitted_on"),
    ("km der kette", "chain_km"),
    ("kette km", "chain_km"),
    ("kundennummer", "external_id"),
];

const RIDES: Titles = &[
    ("start", "started_at"),
    ("started", "started_at"),
    ("start time", "started_at"),
    ("when", "started_at"),
    ("km", "distance_km"),
    ("distance km", "distance_km"),
    ("distance in km", "distance_km"),
    ("kilometres", "distance_km"),
    ("kilometers", "distance_km"),
    ("climb m", "climb_m"),
    ("ascent m", "climb_m"),
    ("climb in m", "climb_m"),
    ("rain", "wet"),
    ("energy kj", "energy_kj"),
    ("work kj", "energy_kj"),
    ("beginn", "started_at"),
    ("wann", "started_at"),
    ("kilometer", "distance_km"),
    ("strecke km", "distance_km"),
    ("höhenmeter", "climb_m"),
    ("anstieg m", "climb_m"),
    ("untergrund", "surface"),
    ("nass", "wet"),
    ("arbeit kj", "energy_kj"),
];

const READINGS: Titles = &[
    ("date", "taken_at"),
    ("measured", "taken_at"),
    ("measured on", "taken_at"),
    ("when", "taken_at"),
    ("wear %", "percent"),
    ("elongation %", "percent"),
    ("%", "percent"),
    ("length mm", "length_mm"),
    ("mark %", "mark_percent"),
    ("gauge mark", "mark_percent"),
    ("measured with", "instrument"),
    ("gauge", "instrument"),
    ("odometer", "odometer_km"),
    ("odometer km", "odometer_km"),
    ("by", "read_by"),
    ("measured by", "read_by"),
    ("datum", "taken_at"),
    ("gemessen am", "taken_at"),
    ("wann", "taken_at"),
    ("längung %", "percent"),
    ("verschleiß %", "percent"),
    ("länge mm", "length_mm"),
    ("marke %", "mark_percent"),
    ("gemessen mit", "instrument"),
    ("kilometerstand", "odometer_km"),
    ("von", "read_by"),
    ("gemessen von", "read_by"),
];

const CARE: Titles = &[
    ("date", "done_at"),
    ("done", "done_at"),
    ("done on", "done_at"),
    ("when", "done_at"),
    ("what", "kind"),
    ("care", "kind"),
    ("remark", "note"),
    ("odometer", "odometer_km"),
    ("odometer km", "odometer_km"),
    ("lube", "lubricant"),
    ("datum", "done_at"),
    ("wann", "done_at"),
    ("was", "kind"),
    ("pflege", "kind"),
    ("bemerkung", "note"),
    ("kilometerstand", "odometer_km"),
    ("schmiermittel", "lubricant"),
];

const SWAPS: Titles = &[
    ("date", "swapped_at"),
    ("swapped", "swapped_at"),
    ("swapped on", "swapped_at"),
    ("when", "swapped_at"),
    ("part", "place"),
    ("what", "place"),
    ("model", "part_model"),
    ("remark", "note"),
    ("odometer", "odometer_km"),
    ("odometer km", "odometer_km"),
    ("datum", "swapped_at"),
    ("gewechselt am", "swapped_at"),
    ("wann", "swapped_at"),
    ("teil", "place"),
    ("was", "place"),
    ("modell", "part_model"),
    ("bemerkung", "note"),
    ("kilometerstand", "odometer_km"),
    ("grund", "reason"),
];

const ODOMETER: Titles = &[
    ("date", "read_at"),
    ("read", "read_at"),
    ("read on", "read_at"),
    ("when", "read_at"),
    ("odometer", "km"),
    ("odometer km", "km"),
    ("kilometres", "km"),
    ("kilometers", "km"),
    ("datum", "read_at"),
    ("abgelesen am", "read_at"),
    ("wann", "read_at"),
    ("kilometerstand", "km"),
    ("kilometer", "km"),
];

impl TableKind {
    const fn titles(self) -> &'static [Titles] {
        match self {
            Self::Bikes => &[BIKES],
            Self::Rides => &[BIKE, RIDES],
            Self::Readings => &[BIKE, READINGS],
            Self::Care => &[BIKE, CARE],
            Self::Swaps => &[BIKE, SWAPS],
            Self::Odometer => &[BIKE, ODOMETER],
            Self::PartModels | Self::Parts => &[],
        }
    }

    /// The column that a title means: by its own name, or as people call it. A unit that isn't the column's is another title.
    pub(super) fn column_of(self, title: &str) -> Option<&'static str> {
        let name = title.trim().to_ascii_lowercase();
        let mut known = self.columns().iter().chain(self.in_short());
        if let Some(column) = known.find(|column| **column == name) {
            return Some(column);
        }
        let plain = folded(title);
        let mut known = self.columns().iter().chain(self.in_short());
        if let Some(column) = known.find(|column| column.replace('_', " ") == plain) {
            return Some(column);
        }
        let mut titles = self.titles().iter().flat_map(|titles| titles.iter());
        titles.find(|(title, _)| *title == plain).map(|(_, column)| *column)
    }
}

/// A title in lower case, its words with one space between, without brackets, dots and lines: `Distance (km)` is `distance km`.
fn folded(title: &str) -> String {
    let words = title.to_lowercase();
    let words = words.split(|c: char| c.is_whitespace() || "()[]{},.:;_-/#".contains(c));
    words.filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_title_means_a_column_and_means_it_once() {
        for kind in TableKind::ALL {
            let mut seen = std::collections::HashSet::new();
            for (title, column) in kind.titles().iter().flat_map(|titles| titles.iter()) {
                let known = kind.columns().contains(column) || kind.in_short().contains(column);
                assert!(known && seen.insert(title) && folded(title) == *title, "{kind}: {title}");
                assert_eq!(
                    kind.column_of(title),
                    Some(*column),
                    "{kind}: another column has the name {title}"
                );
            }
        }
    }

    #[test]
    fn titles_are_read_as_people_write_them() {
        for (kind, title, column) in [
            (TableKind::Bikes, "Bike no.", Some("label")),
            (TableKind::Bikes, " Chain fitted on ", Some("fitted_on")),
            (TableKind::Bikes, "Limit (%)", Some("limit_percent")),
            (TableKind::Bikes, "Limit percent", Some("limit_percent")),
            (TableKind::Bikes, "KETTENBLÄTTER", Some("rings")),
            (TableKind::Rides, "Distance (km)", Some("distance_km")),
            (TableKind::Rides, "Distance (mi)", None),
            (TableKind::Rides, "Distance", None),
            (TableKind::Rides, "Bike", Some("bike")),
            (TableKind::Bikes, "Colour", None),
            (TableKind::Bikes, "", None),
        ] {
            assert_eq!(kind.column_of(title), column, "{title}");
        }
    }
}
