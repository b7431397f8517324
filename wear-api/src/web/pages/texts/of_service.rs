//! What the service says in English of values and of changes that contradict each other, as the pages say it.

use crate::web::pages::words::Words;

/// What the service says, how a page says it in English, and in German.
pub(in crate::web::pages) const SAID: &[(&str, &str, &str)] = &[
    // Values.
    ("part model", "part model", "Teilemodell"),
    ("part models", "part models", "Teilemodelle"),
    ("bike", "bike", "Rad"),
    ("token", "token", "Schlüssel"),
    ("time", "time", "Zeit"),
    ("date", "date", "Datum"),
    ("day", "day", "Tag"),
    ("month", "month", "Monat"),
    ("spots", "places measured", "gemessene Stellen"),
    ("part", "part", "Teil"),
    ("from and to", "the first and the last day", "erster und letzter Tag"),
    ("from, a date in the past,", "first day, in the past", "erster Tag, in der Vergangenheit"),
    ("cogs", "cogs", "Ritzel"),
    ("rings", "rings", "Kettenblätter"),
    ("calendar", "calendar", "Kalender"),
    ("workshop", "workshop", "Werkstatt"),
    ("workshop name", "workshop name", "Name der Werkstatt"),
    ("label", "label", "Nummer oder Name"),
    ("group", "group", "Gruppe"),
    ("note", "remark or reason", "Bemerkung oder Grund"),
    ("name", "name", "Name"),
    ("url", "address", "Adresse"),
    ("time_zone", "time zone", "Zeitzone"),
    ("currency", "currency", "Währung"),
    ("price", "price", "Preis"),
    ("amount in minor units", "amount", "Betrag"),
    ("place", "place", "Ort am Rad"),
    ("position", "position", "Stelle"),
    ("teeth", "teeth", "Zähne"),
    ("limit", "limit", "Grenze"),
    ("arrival", "day of arrival", "Tag der Ankunft"),
    ("service level", "service level", "Lieferbereitschaft"),
    ("secret", "secret", "Geheimnis"),
    ("message", "message", "Nachricht"),
    ("reading", "reading", "Messung"),
    ("measurement", "measurement", "Messung"),
    ("gearing", "gearing", "Schaltung"),
    ("step of a swap", "step of a swap", "Schritt eines Wechsels"),
    ("part of the drivetrain", "part of the drivetrain", "Teil des Antriebs"),
    ("cog on this bike", "cog on this bike", "Ritzel an diesem Rad"),
    ("chain on this bike", "chain on this bike", "Kette an diesem Rad"),
    ("bench plan", "bench plan", "Werkbankplan"),
    ("proposed bench plan", "proposed bench plan", "vorgeschlagener Werkbankplan"),
    ("swap that counts", "swap that counts", "Wechsel, der zählt"),
    ("substitutes", "substitutes", "Ersatzmodelle"),
    ("the part that went on", "the part that went on", "das angebrachte Teil"),
    ("thing", "thing", "Ding"),
    ("after", "place in the list", "Stelle in der Liste"),
    ("count on the shelf", "count on the shelf", "Anzahl im Lager"),
    ("count of a delivery", "count of a delivery", "Anzahl einer Lieferung"),
    ("pack size", "pack size", "Packungsgröße"),
    ("lead time in days", "lead time in days", "Lieferzeit in Tagen"),
    ("minutes", "minutes", "Minuten"),
    // Ranges and their units.
    ("elongation reading", "elongation", "Längung"),
    ("swap limit", "limit", "Grenze"),
    ("gauge mark", "gauge mark", "Marke der Lehre"),
    ("measured pitches", "measured pitches", "gemessene Teilungen"),
    ("length over 24 pitches", "length over 24 pitches", "Länge über 24 Teilungen"),
    ("chain length", "chain length", "Kettenlänge"),
    ("chainstay", "chainstay", "Kettenstrebe"),
    ("jockey wheel teeth", "teeth of the jockey wheels", "Zähne der Schaltröllchen"),
    ("probability", "chance", "Chance"),
    ("bench minutes", "bench minutes", "Minuten der Werkbank"),
    ("job minutes", "minutes of a job", "Minuten einer Arbeit"),
    ("part count", "number of parts", "Anzahl Teile"),
    ("percent", "percent", "Prozent"),
    ("pitches", "pitches", "Teilungen"),
    // Combinations and forms.
    (
        "a drop-in gauge and a percent or length",
        "a drop-in gauge and a percent or length",
        "eine Kettenlehre und Prozent oder Länge",
    ),
    (
        "this instrument and drops_in",
        "this instrument and dropping in",
        "dieses Messmittel und das Einfallen",
    ),
    (
        "this instrument and a length over pitches",
        "this instrument and a length over pitches",
        "dieses Messmittel und eine Länge über Teilungen",
    ),
    (
        "the symptom and what is said of a skip",
        "the symptom and what is said of a skip",
        "die Auffälligkeit und was vom Springen gesagt ist",
    ),
    ("reading and place", "the reading and the place", "die Messung und der Ort am Rad"),
    ("part_model_id and place", "the model and the place", "das Modell und der Ort am Rad"),
    (
        "part_model_id and the part's place",
        "the model and the part's place",
        "das Modell und der Ort des Teils",
    ),
    (
        "gearing and the number of sprockets",
        "the gearing and the number of sprockets",
        "die Schaltung und die Zahl der Ritzel",
    ),
    ("half of the voiding", "the voiding", "das Ungültigmachen"),
    ("half of the ride's identity", "the ride's identity", "die Kennung der Fahrt"),
    ("half of the price", "the price", "der Preis"),
    (
        "setup_minutes and the minutes of a swap",
        "the minutes for setting up and those of a swap",
        "die Minuten zum Einrichten und die eines Wechsels",
    ),
    (
        "this model and its substitutes",
        "this model and its substitutes",
        "dieses Modell und seine Ersatzmodelle",
    ),
    (
        "the substitute's place and the model's",
        "the places of the substitute and of the model",
        "die Orte von Ersatzmodell und Modell",
    ),
    ("a date that isn't after today", "a day that isn't after today", "ein Tag, der nicht nach heute liegt"),
    (
        "1 to 92 days, the last not before the first",
        "1 to 92 days, the last not before the first",
        "1 bis 92 Tage, der letzte nicht vor dem ersten",
    ),
    ("YYYY-MM", "YYYY-MM", "JJJJ-MM"),
    (
        "a date as YYYY-MM-DD, 1970 to 9999",
        "a date as YYYY-MM-DD, 1970 to 9999",
        "ein Datum als JJJJ-MM-TT, 1970 bis 9999",
    ),
    ("today or later", "today or later", "heute oder später"),
    (
        "a last day not before the first",
        "a last day not before the first",
        "ein letzter Tag nicht vor dem ersten",
    ),
    ("a limit with place chain", "a limit with a chain only", "eine Grenze nur bei einer Kette"),
    ("a measurement of a known kind", "a measurement of a known kind", "eine Messung bekannter Art"),
    (
        "a name of the IANA time zone database, such as Europe/Dublin",
        "a name of the IANA time zone database, such as Europe/Dublin",
        "ein Name aus der Zeitzonendatenbank der IANA, etwa Europe/Dublin",
    ),
    ("a number of teeth", "a number of teeth", "eine Zahl von Zähnen"),
    ("number of teeth", "a number of teeth", "eine Zahl von Zähnen"),
    ("teeth of each cog: 11-13-15", "teeth of each cog: 11-13-15", "Zähne jedes Ritzels: 11-13-15"),
    ("a part model of the same place", "a model for the same place", "ein Modell für denselben Ort am Rad"),
    (
        "a part model that fits the part's place",
        "a model that fits the part's place",
        "ein Modell, das an den Ort des Teils passt",
    ),
    ("a part model that fits the place", "a model that fits the place", "ein Modell, das an den Ort passt"),
    ("a part of this place", "a part for this place", "ein Teil für diesen Ort"),
    ("a reading with place chain", "a reading with a chain only", "eine Messung nur bei einer Kette"),
    (
        "a token as it was shown when made",
        "a token as it was shown when made",
        "ein Schlüssel, wie er beim Machen gezeigt wurde",
    ),
    ("an address as it was shown", "an address as it was shown", "eine Adresse, wie sie gezeigt wurde"),
    ("an https:// address", "an https:// address", "eine Adresse mit https://"),
    (
        "an address on the public internet",
        "an address on the public internet",
        "eine Adresse im öffentlichen Internet",
    ),
    ("an amount such as 12.50", "an amount such as 12.50", "ein Betrag, etwa 12,50"),
    ("a number from 0.5 to 0.999", "a number from 0.5 to 0.999", "eine Zahl von 0,5 bis 0,999"),
    (
        "cog_teeth and new_chain with skips_under_load",
        "a cog and a new chain with skipping only",
        "ein Ritzel und eine neue Kette nur beim Springen",
    ),
    (
        "mark_percent and drops_in with drop_in and drop_in_isolating",
        "a mark, and whether it drops in, with a drop-in gauge only",
        "eine Marke, und ob sie einfällt, nur bei einer Kettenlehre",
    ),
    (
        "percent or spots with rule, caliper and dial",
        "percent with rule, caliper and dial",
        "Prozent bei Lineal, Messschieber und Messuhr",
    ),
    (
        "pitches and length_mm with rule",
        "pitches and millimetres with a rule",
        "Teilungen und Millimeter bei einem Lineal",
    ),
    ("other part models, each named once", "other models, each named once", "andere Modelle, jedes einmal"),
    (
        "part_id with voided readings",
        "readings of a part that don't count",
        "Messungen eines Teils, die nicht zählen",
    ),
    (
        "place, or part_model_id, or both",
        "a place, a model, or both",
        "ein Ort am Rad, ein Modell oder beides",
    ),
    (
        "setup_minutes up to the shortest swap's minutes",
        "setting up takes no longer than the shortest swap",
        "das Einrichten dauert nicht länger als der kürzeste Wechsel",
    ),
    (
        "single_speed with one ring and one cog",
        "single speed with one ring and one cog only",
        "Eingang nur mit einem Kettenblatt und einem Ritzel",
    ),
    ("stays that don't overlap", "times that don't overlap", "Zeiten, die sich nicht überschneiden"),
    ("the same place", "the same place", "derselbe Ort am Rad"),
    (
        "the same stay; swaps and removals change it",
        "the same time; swaps and removals change it",
        "dieselbe Zeit; Wechsel und Abnehmen ändern sie",
    ),
    (
        "the time at which it was retired",
        "the time at which it was retired",
        "die Zeit, zu der es ausgemustert wurde",
    ),
    ("three upper-case letters, ISO 4217", "three letters as EUR", "drei Buchstaben, etwa EUR"),
    ("whsec_ and base64", "whsec_ and base64", "whsec_ und Base64"),
];

/// Beginning and end of what the service says of a contradiction, and how a page says it.
pub(in crate::web::pages) const CONTRADICTIONS: &[(&str, &str, &str, &str)] = &[
    (
        "the place ",
        "; enter a swap instead",
        "There is a part in this place at that time. Record a swap instead.",
        "An dieser Stelle ist zu dieser Zeit ein Teil. Trage stattdessen einen Wechsel ein.",
    ),
    (
        "the part is on a bike at that time",
        "",
        "The part is on a bike at that time.",
        "Das Teil ist zu dieser Zeit an einem Rad.",
    ),
    (
        "the part is on a bike; take it off first",
        "",
        "The part is on a bike. Take it off first.",
        "Das Teil ist an einem Rad. Nimm es erst ab.",
    ),
    ("the part is off already", "", "The part is off already.", "Das Teil ist schon ab."),
    (
        "the part that went on has been elsewhere since",
        "",
        "The part that went on has been elsewhere since. Put that right first.",
        "Das angebrachte Teil war seitdem woanders. Bringe erst das in Ordnung.",
    ),
    (
        "the part that came off has been on a bike since",
        "",
        "The part that came off has been on a bike since. Take that back first.",
        "Das abgenommene Teil war seitdem an einem Rad. Nimm erst das zurück.",
    ),
    (
        "both parts have the same reading",
        "",
        "Both parts have the same reading. Mark one of them as not counting first.",
        "Beide Teile haben dieselbe Messung. Markiere erst eine davon als nicht zählend.",
    ),
    (
        "the part that went on has readings that count",
        "",
        "The part that went on has readings that count. Mark them as not counting first.",
        "Das angebrachte Teil hat Messungen, die zählen. Markiere sie erst als nicht zählend.",
    ),
    (
        "the stay of the part that came off has been changed since",
        "",
        "The time of the part that came off has been changed since. Put that right first.",
        "Die Zeit des abgenommenen Teils wurde seitdem geändert. Bringe erst das in Ordnung.",
    ),
    (
        "",
        " is a bench day already; change that one",
        "This day is in the list already. Remove it there first.",
        "Dieser Tag steht schon in der Liste. Entferne ihn dort erst.",
    ),
    (
        "count of this part model is kept already",
        "",
        "This model is counted already. Change its count in the table.",
        "Dieses Modell wird schon gezählt. Ändere seine Zahl in der Tabelle.",
    ),
    (
        "the present proposal is ",
        "",
        "There is a newer proposal. Look at it before you accept it.",
        "Es gibt einen neueren Vorschlag. Sieh ihn an, bevor du ihn annimmst.",
    ),
    (
        "the workshop has ",
        " hooks, the most there may be",
        "The workshop has as many hooks as there may be. Remove one first.",
        "Die Werkstatt hat schon so viele Meldungen, wie es geben darf. Entferne erst eine.",
    ),
    (
        "the hook is disabled since ",
        "; enable it first",
        "The hook is switched off. Switch it on first.",
        "Die Meldung ist ausgeschaltet. Schalte sie erst ein.",
    ),
    ("the delivery has arrived", "", "The delivery has arrived.", "Die Lieferung ist angekommen."),
    (
        "there is no curve for these prices",
        "",
        "There is no curve for these prices.",
        "Für diese Preise gibt es keine Kurve.",
    ),
    (
        "it contradicts what is stored",
        "",
        "It contradicts what is stored.",
        "Es widerspricht dem, was gespeichert ist.",
    ),
];

impl Words {
    /// A name or form of the service's as a page says it; as it stands where there is no other.
    pub(in crate::web::pages) fn of_service<'a>(&self, said: &'a str) -> &'a str {
        let found = SAID.iter().find(|(it, ..)| *it == said);
        found.map_or(said, |(_, english, german)| if self.tag() == "de" { german } else { english })
    }

    /// A contradiction as a page says it; none where there is no sentence for it.
    pub(in crate::web::pages) fn contradiction(&self, said: &str) -> Option<&'static str> {
        let found =
            CONTRADICTIONS.iter().find(|(start, end, ..)| said.starts_with(start) && said.ends_with(end));
        found.map(|(_, _, english, german)| if self.tag() == "de" { *german } else { *english })
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;

    use super::{CONTRADICTIONS, SAID};

    /// What is of a request's form, or of tables; no page's form can cause it.
    const NEVER_ON_A_PAGE: [&str; 6] = [
        "JSON in UTF-8",
        "one JSON value (no NaN, no infinity)",
        "a UUID",
        "a line that contradicts nothing",
        "as in 42, 11-13-15, 114",
        "secret's bytes",
    ];

    fn sources(folder: &Path, out: &mut Vec<String>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() && !path.ends_with("imports") {
                sources(&path, out);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                out.push(fs::read_to_string(path).unwrap());
            }
        }
    }

    /// The texts that follow one of these beginnings in the code, tests left out.
    fn after(beginnings: &[&str]) -> Vec<String> {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        let mut texts = Vec::new();
        for folder in ["domain", "service"] {
            sources(&root.join(folder), &mut texts);
        }
        let mut found = Vec::new();
        for text in &texts {
            let code = text.split("#[cfg(test)]").next().unwrap();
            for beginning in beginnings {
                for rest in code.split(beginning).skip(1) {
                    let rest = rest.trim_start();
                    if let Some(literal) = rest.strip_prefix('"').and_then(|rest| rest.split('"').next()) {
                        found.push(literal.to_owned());
                    }
                }
            }
        }
        found
    }

    #[test]
    fn all_that_the_service_says_of_values_has_its_words() {
        let said = after(&["what:", "allowed:", "let what =", "let allowed =", "unparsed("]);
        assert!(said.len() > 40, "{said:?}");
        let known =
            |it: &&String| SAID.iter().any(|(said, ..)| said == it) || NEVER_ON_A_PAGE.contains(&it.as_str());
        let missing: Vec<_> = said.iter().filter(|it| !known(it)).collect();
        assert!(missing.is_empty(), "{missing:#?}");
    }

    #[test]
    fn every_contradiction_has_its_words() {
        let said = after(&[
            "detail:",
            "detail: format!(",
            "let detail =",
            "let detail = format!(",
            "conflict(",
            "beyond(",
        ]);
        assert!(said.len() > 8, "{said:?}");
        let known = |it: &&String| {
            CONTRADICTIONS.iter().any(|(start, end, ..)| it.starts_with(start) && it.ends_with(end))
        };
        let missing: Vec<_> = said.iter().filter(|it| !known(it)).collect();
        assert!(missing.is_empty(), "{missing:#?}");
    }
}
