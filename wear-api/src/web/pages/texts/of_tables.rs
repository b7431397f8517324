//! What the service says in English of a table's cells, as the page says it. Names of columns stay as they stand in the
//! table.

use crate::web::pages::words::Words;

/// What is said of a line or cell, and its German.
const SAID: &[(&str, &str)] = &[
    ("is missing", "fehlt"),
    ("is there twice", "steht zweimal da"),
    ("is not a column of this table", "ist keine Spalte dieser Tabelle"),
    ("has a quote that isn't closed", "hat ein Anführungszeichen, das nicht geschlossen ist"),
    ("has no header", "hat keine Kopfzeile"),
    ("limit_percent and place don't go together", "limit_percent und place passen nicht zusammen"),
    ("retired_at and the bike's don't go together", "retired_at und das des Rads passen nicht zusammen"),
    ("the part and its place don't go together", "das Teil und sein Ort am Rad passen nicht zusammen"),
    (
        "the part model and the place don't go together",
        "das Teilmodell und der Ort am Rad passen nicht zusammen",
    ),
    (
        "the place and the model's place so far don't go together",
        "der Ort am Rad und der bisherige des Modells passen nicht zusammen",
    ),
    (
        "the place and the part's place so far don't go together",
        "der Ort am Rad und der bisherige des Teils passen nicht zusammen",
    ),
    (
        "the place and what describes the shape don't go together",
        "der Ort am Rad und was die Form beschreibt passen nicht zusammen",
    ),
    (
        "this line and what is stored don't go together",
        "diese Zeile und was gespeichert ist passen nicht zusammen",
    ),
    (
        "this stay and another one of the part don't go together",
        "diese Zeit und eine andere des Teils passen nicht zusammen",
    ),
    (
        "this stay and that of another part at the place don't go together",
        "diese Zeit und die eines anderen Teils am selben Ort passen nicht zusammen",
    ),
    (
        "this stay and the one that is stored don't go together",
        "diese Zeit und die gespeicherte passen nicht zusammen",
    ),
    ("voided_at and no part_id don't go together", "voided_at ohne part_id passen nicht zusammen"),
    ("a closing quote", "ein schließendes Anführungszeichen"),
    (
        "a column bike with labels, or bike_id with ids",
        "eine Spalte bike mit Nummern oder bike_id mit Kennungen",
    ),
    ("a column of this name", "eine Spalte dieses Namens"),
    ("each column once", "jede Spalte einmal"),
    ("shorter lines", "kürzere Zeilen"),
    ("text in UTF-8", "Text in UTF-8"),
    ("a line that contradicts nothing", "eine Zeile, die nichts widerspricht"),
    ("a number", "eine Zahl"),
    ("a whole number", "eine ganze Zahl"),
    ("a value in this cell", "ein Wert in dieser Zelle"),
    ("as in 42, 11-13-15, 114", "wie in 42, 11-13-15, 114"),
    ("true or false", "true oder false"),
    ("whole numbers with hyphens in between: 50-34", "ganze Zahlen mit Bindestrichen dazwischen: 50-34"),
    ("numbers with spaces in between: 0.31 0.33", "Zahlen mit Leerzeichen dazwischen: 0.31 0.33"),
    (
        "a decimal point, or semicolons between the cells",
        "ein Dezimalpunkt oder Strichpunkte zwischen den Zellen",
    ),
    ("a number without thousands separators", "eine Zahl ohne Tausendertrenner"),
    ("one decimal mark throughout the table", "ein und dasselbe Dezimalzeichen in der ganzen Tabelle"),
    ("a label that one bike has, or its bike_id", "eine Nummer, die ein Rad hat, oder seine bike_id"),
    (
        "the label of a bike that isn't retired, or its bike_id",
        "die Nummer eines Rads, das nicht ausgemustert ist, oder seine bike_id",
    ),
    (
        "a name that one model has, or its part_model_id",
        "ein Name, den ein Modell hat, oder seine part_model_id",
    ),
    (
        "a name that one model of the place has, or its part_model_id",
        "ein Name, den ein Modell für den Ort hat, oder seine part_model_id",
    ),
    (
        "the name of a part model of the place, or its part_model_id",
        "der Name eines Modells für den Ort oder seine part_model_id",
    ),
    (
        "on_part_id with off_part_id, reading_id and voided_at",
        "on_part_id bei off_part_id, reading_id und voided_at",
    ),
    ("price_minor and currency together", "price_minor und currency zusammen"),
    ("source and source_id together", "source und source_id zusammen"),
    ("voided_at and void_reason together", "voided_at und void_reason zusammen"),
    (
        "sprockets for chain; cogs and one_piece for cassette; teeth for cog, ring and jockey_wheels; narrow_wide for ring",
        "sprockets bei chain; cogs und one_piece bei cassette; teeth bei cog, ring und jockey_wheels; narrow_wide bei ring",
    ),
];

impl Words {
    /// What is wrong with a cell, or what it may hold, as the page says it.
    pub(in crate::web::pages) fn of_tables(&self, said: &str) -> String {
        if self.tag() != "de" {
            return said.to_owned();
        }
        if let Some((_, german)) = SAID.iter().find(|(english, _)| *english == said) {
            return (*german).to_owned();
        }
        let known = self.of_service(said);
        if known != said {
            return known.to_owned();
        }
        if let Some(number) = said.strip_prefix("has ").and_then(|rest| rest.strip_suffix(" cells")) {
            return format!("hat {number} Zellen");
        }
        if let Some(number) = said.strip_suffix(" cells, as the header has") {
            return format!("{number} Zellen, wie die Kopfzeile");
        }
        if let Some(rest) = said.strip_prefix("is longer than ") {
            let number = rest.split(' ').next().unwrap_or_default();
            return format!(
                "ist länger als {number} Bytes; vielleicht ist ein Anführungszeichen nicht geschlossen"
            );
        }
        if let Some(cause) = said.strip_prefix("can't be read: ") {
            return format!("ist nicht lesbar: {cause}");
        }
        if let Some(value) = said.strip_prefix("is ") {
            return format!("ist {value}");
        }
        if let Some((low, (high, unit))) =
            said.split_once(" to ").map(|(low, rest)| (low, rest.split_once(' ').unwrap_or((rest, ""))))
            && low.parse::<f64>().is_ok()
        {
            return format!("{low} bis {high} {}", self.of_service(unit)).trim().to_owned();
        }
        said.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Language;

    #[test]
    fn what_is_wrong_with_a_cell_is_said_in_german() {
        let de = Words::of(Language::De);
        for (english, german) in [
            ("is \"gestern\"", "ist \"gestern\""),
            ("is missing", "fehlt"),
            ("has 3 cells", "hat 3 Zellen"),
            ("-0.3 to 3 percent", "-0.3 bis 3 Prozent"),
            ("40 to 260 pitches", "40 bis 260 Teilungen"),
            ("the same place", "derselbe Ort am Rad"),
        ] {
            assert_eq!(de.of_tables(english), german);
        }
        assert_eq!(Words::of(Language::En).of_tables("is missing"), "is missing");
    }
}
