//! What the core says in English, in the other language: steps of a swap, leads, and what was assumed.

/// Each sentence and its translation.
pub(in crate::web::pages) const GERMAN: &[(&str, &str)] = &[
    (
        "The makers' instructions and local rules go before these steps. Whoever isn't sure leaves the work to a qualified mechanic",
        "Die Anleitungen der Hersteller und örtliche Regeln gehen diesen Schritten vor. Wer nicht sicher ist, überlässt die Arbeit einer Fachkraft",
    ),
    ("from the maker", "vom Hersteller"),
    (
        "Keep hands, hair and sleeves clear of a turning drivetrain: it takes fingers off",
        "Hände, Haare und Ärmel weg vom drehenden Antrieb: er kostet Finger",
    ),
    (
        "Cog and ring teeth cut: wear gloves, and keep the hand out of the tool's way when it slips",
        "Zähne von Ritzeln und Blättern schneiden: Handschuhe tragen, und die Hand aus dem Weg des Werkzeugs, wenn es abrutscht",
    ),
    ("Switch the motor off and take the battery out", "Motor ausschalten und Akku herausnehmen"),
    (
        "A motor that starts by itself turns the chain with your hand in it",
        "Ein Motor, der von selbst anläuft, dreht die Kette mit der Hand darin",
    ),
    (
        "Hang the bike in a stand, or lean it so that it can't fall",
        "Rad in den Ständer hängen oder so anlehnen, dass es nicht fällt",
    ),
    (
        "Shift to the smallest ring and the smallest cog, so that the chain is slack",
        "Auf das kleinste Blatt und das kleinste Ritzel schalten, damit die Kette locker ist",
    ),
    (
        "See that the derailleur's battery is charged, and don't unplug it while it shifts",
        "Der Akku des Schaltwerks ist geladen; nicht abstecken, während es schaltet",
    ),
    (
        "An electronic derailleur moves by itself when a button is touched: keep fingers away",
        "Ein elektronisches Schaltwerk bewegt sich, sobald eine Taste berührt wird: Finger weg",
    ),
    (
        "Measure the old chain once more under tension and enter what you read",
        "Alte Kette noch einmal unter Spannung messen und eintragen, was sie zeigt",
    ),
    (
        "Open the connecting link, or push out a pin where there is none",
        "Verbindungsglied öffnen oder, wo keines ist, einen Bolzen austreiben",
    ),
    (
        "A chain under tension whips: hold both ends, or bridge them with a hook",
        "Eine gespannte Kette schlägt aus: beide Enden halten oder mit einem Haken überbrücken",
    ),
    (
        "Count the new chain's links against the old one's, or work the length out; never by laying a worn chain beside it",
        "Glieder der neuen Kette nach denen der alten abzählen oder die Länge ausrechnen; nie nach einer danebengelegten verschlissenen Kette",
    ),
    (
        "A chain that is too short on largest ring and largest cog tears off the derailleur and can lock the wheel",
        "Eine Kette, die auf größtem Blatt und größtem Ritzel zu kurz ist, reißt das Schaltwerk ab und kann das Rad blockieren",
    ),
    ("Cut the new chain to length", "Neue Kette auf Länge bringen"),
    (
        "Thread the chain the way the old one ran: through the front cage, over the ring, round the jockey wheels, the right side out",
        "Kette einfädeln, wie die alte lief: durch den Umwerfer, über das Blatt, um die Schaltröllchen, richtige Seite nach außen",
    ),
    (
        "Lay the chain over ring and cog, the right side out",
        "Kette über Blatt und Ritzel legen, richtige Seite nach außen",
    ),
    (
        "Close the connecting link with a new one of the chain's width, the way round that its maker says",
        "Mit einem neuen Verbindungsglied in der Breite der Kette schließen, so herum, wie der Hersteller es sagt",
    ),
    (
        "A connecting link is used once unless it is marked for more",
        "Ein Verbindungsglied wird nur einmal verwendet, wenn nichts anderes darauf steht",
    ),
    (
        "Load the link: rear brake on, push the pedal hard until both halves snap in; look at it closely",
        "Glied belasten: Hinterradbremse ziehen, Pedal kräftig treten, bis beide Hälften einrasten; genau ansehen",
    ),
    (
        "A link that isn't seated opens under load and throws the rider",
        "Ein Glied, das nicht eingerastet ist, öffnet sich unter Last und wirft ab, wer fährt",
    ),
    (
        "Turn the cranks backwards and look for a link that doesn't straighten",
        "Kurbel rückwärts drehen und ein Glied suchen, das sich nicht streckt",
    ),
    (
        "Set the slack at the dropout or the tensioner: about a finger's width up and down in the middle, nowhere tight through a whole turn; wheel straight, nuts tight",
        "Durchhang am Ausfallende oder Spanner einstellen: in der Mitte etwa ein Finger breit auf und ab, über eine ganze Umdrehung nirgends stramm; Rad gerade, Muttern fest",
    ),
    ("Take the rear wheel out", "Hinterrad herausnehmen"),
    (
        "Keep fingers and solvents off a brake disc: it may be hot, its edge cuts, and oil on it takes the brake away",
        "Finger und Löser weg von der Bremsscheibe: sie kann heiß sein, ihre Kante schneidet, und mit Öl darauf bremst sie nicht",
    ),
    (
        "Loosen the hub's cable, or park its actuator, as its maker says",
        "Zug der Nabe lösen oder ihren Stellantrieb parken, wie der Hersteller es sagt",
    ),
    (
        "A hub's torque arm has to go back the way it was, or the axle turns",
        "Die Drehmomentstütze der Nabe muss wieder so sitzen wie vorher, sonst dreht die Achse",
    ),
    (
        "Hold the cogs with the chain whip and unscrew the lock ring",
        "Ritzel mit der Kettenpeitsche halten und den Verschlussring lösen",
    ),
    (
        "Take the cog off as its fastening asks: snap ring, lock ring or thread",
        "Ritzel abnehmen, wie seine Befestigung es verlangt: Sprengring, Verschlussring oder Gewinde",
    ),
    (
        "A snap ring flies: wear glasses. Cog teeth cut: wear gloves",
        "Ein Sprengring fliegt: Brille tragen. Zähne schneiden: Handschuhe tragen",
    ),
    (
        "Look at the freehub body: deep bites of old cogs are filed smooth, a cracked one is replaced",
        "Freilaufkörper ansehen: tiefe Kerben alter Ritzel glatt feilen, einen gerissenen ersetzen",
    ),
    (
        "Slide the new cassette on, wide spline to wide spline, with the spacers that its maker names",
        "Neue Kassette aufschieben, breite Nut auf breite Nut, mit den Scheiben, die der Hersteller nennt",
    ),
    (
        "Put the worn cogs' successors in their places, with the same spacers between them, wide spline to wide spline",
        "Neue Ritzel an die Stelle der verschlissenen, mit denselben Scheiben dazwischen, breite Nut auf breite Nut",
    ),
    (
        "Put the new cog on, dished the same way, and see that its fastening is home all round",
        "Neues Ritzel mit der Wölbung zur selben Seite auflegen; die Befestigung sitzt rundum",
    ),
    (
        "Screw the lock ring on by hand first, then tighten it",
        "Verschlussring erst von Hand ansetzen, dann anziehen",
    ),
    (
        "Rock the cogs by hand: they don't move on their body",
        "An den Ritzeln rütteln: sie bewegen sich nicht auf ihrem Körper",
    ),
    (
        "Put the wheel back: straight, axle home, fastening closed",
        "Rad einsetzen: gerade, Achse ganz drin, Befestigung geschlossen",
    ),
    (
        "Lift the bike and hit the wheel downwards: it stays in its place; the brake works",
        "Rad anheben und von oben auf das Laufrad schlagen: es bleibt an seinem Platz; die Bremse wirkt",
    ),
    (
        "A wheel that isn't fast comes out when the bike is braked or pedalled hard",
        "Ein Laufrad, das nicht fest ist, springt beim Bremsen oder kräftigen Treten heraus",
    ),
    (
        "Loosen pedals and crank bolts while the wheels stand and the chain is on the largest ring",
        "Pedale und Kurbelschrauben lösen, solange die Räder stehen und die Kette auf dem größten Blatt liegt",
    ),
    (
        "Pedals come before wheels: a bar that slips drives the hand into the ring's teeth",
        "Pedale kommen vor den Rädern: ein Schlüssel, der abrutscht, treibt die Hand in die Zähne",
    ),
    (
        "Take the crank off where the ring doesn't come off over it",
        "Kurbel abnehmen, wo das Blatt nicht über sie hinweg abgeht",
    ),
    (
        "Undo the ring bolts crosswise, a half turn at a time",
        "Blattschrauben über Kreuz lösen, je eine halbe Umdrehung",
    ),
    (
        "Put the new ring on, its catch pin behind the crank arm and its mark where the maker shows; tighten the bolts crosswise",
        "Neues Blatt auflegen, Fangstift hinter die Kurbel, Marke wie vom Hersteller gezeigt; Schrauben über Kreuz anziehen",
    ),
    ("Put the crank back and tighten its bolts", "Kurbel aufsetzen und ihre Schrauben anziehen"),
    (
        "Rock crank and ring by hand: no play, the ring runs true",
        "An Kurbel und Blatt rütteln: kein Spiel, das Blatt läuft rund",
    ),
    (
        "Front cage a coin's thickness above the largest ring and parallel to it",
        "Umwerfer eine Münze dick über dem größten Blatt und parallel dazu",
    ),
    (
        "End stops: in the stand push the derailleur by hand past the smallest and past the largest cog; it must not reach frame or spokes",
        "Endanschläge: im Ständer das Schaltwerk von Hand über das kleinste und das größte Ritzel hinaus drücken; es darf weder Rahmen noch Speichen erreichen",
    ),
    (
        "A derailleur in the spokes locks the wheel: never ride before this is right",
        "Ein Schaltwerk in den Speichen blockiert das Rad: nie fahren, bevor das stimmt",
    ),
    (
        "Clearance of the upper jockey wheel to the largest cog, as the derailleur's maker says; it never touches",
        "Abstand des oberen Schaltröllchens zum größten Ritzel, wie der Hersteller des Schaltwerks sagt; es berührt nie",
    ),
    (
        "Indexing: shift through all cogs both ways; set the cable's tension a quarter turn at a time until none lags or rattles",
        "Schaltung einstellen: durch alle Ritzel hin und zurück; Zugspannung je um eine Vierteldrehung ändern, bis keines hängt oder rattert",
    ),
    (
        "Indexing: put the derailleur in its adjusting mode, trim it in the middle of the cassette, then shift through all cogs both ways",
        "Schaltung einstellen: Schaltwerk in den Einstellmodus, in der Mitte der Kassette feinstellen, dann durch alle Ritzel hin und zurück",
    ),
    (
        "Indexing: shift through all cogs both ways; set cable tension, or the trim of an electronic derailleur, until none lags or rattles",
        "Schaltung einstellen: durch alle Ritzel hin und zurück; Zugspannung oder die Feinstellung eines elektronischen Schaltwerks ändern, bis keines hängt oder rattert",
    ),
    (
        "Set the hub's gears by the marks its maker gives, and shift through all of them standing still and turning",
        "Gänge der Nabe nach den Marken des Herstellers einstellen und im Stehen wie im Drehen alle schalten",
    ),
    (
        "By hand, shift to the largest ring and the largest cog: the cage still has some swing left",
        "Von Hand auf größtes Blatt und größtes Ritzel: der Käfig kann noch etwas weiter schwingen",
    ),
    (
        "A chain that is too short tears off the derailleur here and can lock the wheel",
        "Eine zu kurze Kette reißt hier das Schaltwerk ab und kann das Rad blockieren",
    ),
    (
        "Off traffic, press the pedals hard on the cogs that are used most: a new chain that skips means a worn cog; enter it as a symptom",
        "Abseits vom Verkehr auf den meistgefahrenen Ritzeln kräftig treten: springt die neue Kette, ist das Ritzel verschlissen; als Beobachtung eintragen",
    ),
    (
        "A chain that skips throws the rider: do it seated, slowly, on open ground",
        "Eine Kette, die springt, wirft ab: im Sitzen, langsam, auf freier Fläche",
    ),
    (
        "First ride off traffic, through all gears, brakes tried first",
        "Erste Fahrt abseits vom Verkehr, durch alle Gänge, zuerst die Bremsen",
    ),
    ("First test ride off traffic", "Erste Probefahrt abseits vom Verkehr"),
    (
        "Clean what the new part touches; lubricate the chain's joints, wipe the rest off",
        "Reinigen, was das neue Teil berührt; Gelenke der Kette schmieren, den Rest abwischen",
    ),
    (
        "Solvents and oil stay away from brake discs, pads and rims",
        "Löser und Öl gehören nicht auf Bremsscheiben, Beläge und Felgen",
    ),
    ("Enter the swap with this list", "Wechsel mit dieser Liste eintragen"),
    ("work stand", "Montageständer"),
    ("steel rule or chain gauge", "Stahllineal oder Kettenlehre"),
    ("link pliers", "Kettengliedzange"),
    ("chain tool", "Kettennieter"),
    ("chain whip", "Kettenpeitsche"),
    ("lock ring tool", "Nuss für den Verschlussring"),
    ("long wrench", "langer Schlüssel"),
    ("snap ring pliers or lock ring tool", "Sprengringzange oder Nuss für den Verschlussring"),
    ("torque wrench", "Drehmomentschlüssel"),
    ("pedal wrench", "Pedalschlüssel"),
    ("crank tool", "Kurbelwerkzeug"),
    ("hex keys or star keys", "Innensechskant oder Sternschlüssel"),
    ("ring nut wrench", "Blattschraubenschlüssel"),
    ("screwdriver or hex key", "Schraubendreher oder Innensechskant"),
    ("Hands clear of a turning drivetrain", "Hände weg vom drehenden Antrieb"),
    (
        "A chain that jumps under load throws the rider: don't ride in traffic before it is found",
        "Eine Kette, die unter Last springt, wirft ab: nicht im Verkehr fahren, bevor die Ursache gefunden ist",
    ),
    (
        "Which cog? Press hard on it with a new chain, off traffic; looks tell nothing, as shift teeth look worn when new",
        "Welches Ritzel? Mit neuer Kette abseits vom Verkehr kräftig darauf treten; das Aussehen sagt nichts, denn Schaltzähne sehen neu schon verschlissen aus",
    ),
    ("Measure the chain under tension at several places", "Kette unter Spannung an mehreren Stellen messen"),
    (
        "Shift through all cogs in the stand: none lags, none rattles",
        "Im Ständer durch alle Ritzel schalten: keines hängt, keines rattert",
    ),
    (
        "Turn the cranks backwards and watch the lower strand for a kink; look at the connecting link",
        "Kurbel rückwärts drehen und im unteren Trum nach einem Knick sehen; Verbindungsglied ansehen",
    ),
    (
        "Sight along the cage: the jockey wheels stand under each other and in line with the cogs; measure with a hanger gauge",
        "Am Käfig entlang peilen: die Schaltröllchen stehen untereinander und in einer Linie mit den Ritzeln; mit einer Schaltaugenlehre messen",
    ),
    (
        "Pull the shifter's cable by hand: rust, kinks and frayed ends drag",
        "Schaltzug von Hand ziehen: Rost, Knicke und ausgefranste Enden bremsen",
    ),
    ("Frayed cable pricks: cut it, cap it", "Ausgefranster Zug sticht: abschneiden, Endkappe darauf"),
    (
        "In the stand push the derailleur past both ends by hand: it doesn't reach frame or spokes",
        "Im Ständer das Schaltwerk von Hand über beide Enden drücken: es erreicht weder Rahmen noch Speichen",
    ),
    ("A derailleur in the spokes locks the wheel", "Ein Schaltwerk in den Speichen blockiert das Rad"),
    (
        "Front cage parallel to the rings and a coin's thickness above the largest",
        "Umwerfer parallel zu den Blättern und eine Münze dick über dem größten",
    ),
    (
        "Lift the chain at the front of the ring under tension: more than half a tooth shows is worn",
        "Kette vorn am Blatt unter Spannung abheben: zeigt sich mehr als ein halber Zahn, ist es verschlissen",
    ),
    ("Ring teeth cut", "Blattzähne schneiden"),
    (
        "Largest ring and cog: some swing left. Smallest: no sag. Hub gear: a finger's slack",
        "Größtes Blatt und Ritzel: der Käfig kann noch schwingen. Kleinste: kein Durchhang. Nabenschaltung: ein Finger Spiel",
    ),
    (
        "Rock ring, crank, cassette and wheel by hand; lock ring and bolts at the torque from the maker",
        "An Blatt, Kurbel, Kassette und Laufrad rütteln; Verschlussring und Schrauben mit dem Drehmoment des Herstellers",
    ),
    (
        "Wipe a link: black paste or bright dry metal",
        "Ein Glied abwischen: schwarze Paste oder blankes trockenes Metall",
    ),
    ("Solvents stay away from brake discs and pads", "Löser gehören nicht auf Bremsscheiben und Beläge"),
    (
        "Hold the wheel, turn the cogs by hand: they catch at once, every time",
        "Laufrad halten, Ritzel von Hand drehen: sie greifen sofort, jedes Mal",
    ),
    ("A freehub that lets go throws the rider", "Ein Freilauf, der durchrutscht, wirft ab"),
    (
        "Turn each by hand: runs free, teeth not pointed, upper one with its small float",
        "Jedes von Hand drehen: läuft frei, Zähne nicht spitz, das obere mit seinem kleinen Seitenspiel",
    ),
    (
        "Compare chain, cogs, rings and shifter: widths and counts",
        "Kette, Ritzel, Blätter und Schalthebel vergleichen: Breiten und Anzahlen",
    ),
    (
        "Charge; look at the plugs; put the derailleur back from its crash position",
        "Laden; Stecker ansehen; Schaltwerk aus der Schutzstellung zurückholen",
    ),
    ("It moves by itself when a button is touched", "Es bewegt sich, sobald eine Taste berührt wird"),
    (
        "Set it by its maker's marks; if it still slips, the hub is opened by a qualified mechanic",
        "Nach den Marken des Herstellers einstellen; rutscht sie weiter, öffnet eine Fachkraft die Nabe",
    ),
    ("damage by elongation and its spread", "Schaden je Längung und seine Streuung"),
    ("failures on the road by elongation", "Ausfälle unterwegs je Längung"),
    ("elongation at which a set has had it", "Längung, bei der ein ganzer Satz verbraucht ist"),
    ("kilometres per reference kilometre", "Kilometer je Referenzkilometer"),
    ("wear rate", "Verschleißrate"),
    ("price of a chain", "Preis einer Kette"),
    ("price of a cassette", "Preis einer Kassette"),
    ("price of a ring", "Preis eines Kettenblatts"),
];

impl crate::web::pages::words::Words {
    /// A sentence of the core's in the language of the page; as it stands where there is no translation.
    pub(in crate::web::pages) fn of_core<'a>(&self, english: &'a str) -> &'a str {
        match self.tag() {
            "de" => GERMAN.iter().find(|(en, _)| *en == english).map_or(english, |(_, de)| *de),
            _ => english,
        }
    }
}

#[cfg(test)]
mod tests {
    use wear_core::drivetrain::Gearing;
    use wear_core::drivetrain::procedure::{BikeAtHand, CogBuild, DEFER, Shifting, SwapOf, TORQUE, steps};
    use wear_core::drivetrain::symptom::{KnownOfBike, Symptom, leads};

    use super::GERMAN;

    fn all_the_core_says() -> Vec<&'static str> {
        let mut said = vec![DEFER, TORQUE];
        for &gearing in Gearing::ALL {
            for &cogs in CogBuild::ALL {
                for shifting in [None, Some(Shifting::Cable), Some(Shifting::Electronic)] {
                    let bike = BikeAtHand { gearing, cogs, shifting, motor: true };
                    for step in SwapOf::ALL.iter().flat_map(|&swap| steps(swap, bike)) {
                        said.push(step.what);
                        said.extend(step.caution);
                        said.extend(step.tools);
                    }
                }
            }
            let bike = KnownOfBike { gearing, rings: 2, chain_over: 0.0, cog_worn: 0.0, ring_worn: 0.0 };
            for lead in Symptom::ALL.iter().flat_map(|&symptom| leads(symptom, &bike)) {
                said.push(lead.look);
                said.extend(lead.caution);
            }
        }
        said
    }

    #[test]
    fn all_that_the_core_says_is_translated() {
        let missing: Vec<_> =
            all_the_core_says().into_iter().filter(|said| !GERMAN.iter().any(|(en, _)| en == said)).collect();
        assert!(missing.is_empty(), "{missing:#?}");
    }
}
