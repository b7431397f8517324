texts! {
    length_title() = "How long a new chain has to be" | "Wie lang eine neue Kette sein muss";
    length_link() = "How long a new chain has to be" | "Wie lang eine neue Kette sein muss";
    length_text() = "Worked out from the largest ring, the largest cog and the distance between them. Nothing is stored." | "Gerechnet aus größtem Kettenblatt, größtem Ritzel und ihrem Abstand. Nichts wird gespeichert.";
    length_of_bike(label) = "Filled in from bike {label}." | "Ausgefüllt nach Rad {label}.";
    length_stay() = "Chainstay, mm: middle of the bottom bracket to the rear axle" | "Kettenstrebe, mm: Mitte des Tretlagers bis Hinterachse";
    length_stay_hint() = "A tape measure is good enough: 5 mm change the length by less than one link." | "Ein Maßband genügt: 5 mm ändern die Länge um weniger als ein Glied.";
    length_work_out() = "Work it out" | "Ausrechnen";
    length_links(links) = "{links} links, inner and outer counted" | "{links} Glieder, innere und äußere gezählt";
    length_exact(exact, even) = "The formula gives {exact} from largest ring to largest cog; the next even number is {even}." | "Die Formel gibt {exact} von größtem Blatt zu größtem Ritzel; die nächste gerade Zahl ist {even}.";
    length_pair() = "One more pair lets the derailleur swing, as is common practice." | "Ein Paar mehr lässt das Schaltwerk schwingen, wie es Brauch ist.";
    length_straight(stay) = "The chain is straight at a chainstay of {stay} mm: set the wheel so that it has a little play all the way round." | "Gestreckt ist die Kette bei einer Strebe von {stay} mm: das Hinterrad so setzen, dass sie rundum ein wenig Spiel hat.";
    length_capacity(teeth) = "The derailleur's cage has to take up {teeth} teeth; see that its maker allows as many." | "Der Käfig des Schaltwerks muss {teeth} Zähne aufnehmen; nachsehen, ob sein Hersteller so viele erlaubt.";
    length_on_record(links) = "On record for this bike: {links} links." | "Für dieses Rad verzeichnet: {links} Glieder.";
    length_basis() = "It rests on the formula of chain-drive handbooks, short by less than a tenth of a link on a bicycle. A rear suspension that lengthens the chainstay when it is pressed needs the longest distance." | "Grundlage ist die Formel der Handbücher für Kettentriebe; am Fahrrad ist sie um weniger als ein zehntel Glied zu kurz. Eine Hinterradfederung, die beim Einfedern die Strebe verlängert, braucht den größten Abstand.";
    length_caution() = "Before you cut, lay the new chain round the largest ring and the largest cog and see that it reaches. Before riding, try that pair by hand: a chain that is too short tears off the derailleur or locks the wheel. The maker's instructions go before this." | "Vor dem Kürzen die neue Kette um größtes Blatt und größtes Ritzel legen und sehen, ob sie reicht. Vor der Fahrt dieses Paar von Hand probieren: eine zu kurze Kette reißt das Schaltwerk ab oder blockiert das Rad. Die Anleitung des Herstellers geht vor.";
    length_bad_stay(typed) = "“{typed}” is no length. Write millimetres, such as 455." | "„{typed}“ ist keine Länge. Schreibe Millimeter, etwa 455.";
}
