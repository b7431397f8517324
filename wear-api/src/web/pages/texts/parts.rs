texts! {
    parts_title() = "The shelf, and what is on its way" | "Das Lager und was unterwegs ist";
    parts_none() = "Nothing is counted yet" | "Noch wird nichts gezählt";
    parts_none_text() = "Enter a part model first, then how many lie on the shelf. Swaps take from the count, arrivals add to it." | "Erst ein Teilmodell eintragen, dann wie viele im Lager liegen. Wechsel nehmen davon, Lieferungen kommen dazu.";
    parts_part() = "Part" | "Teil";
    parts_on_shelf() = "On the shelf" | "Im Lager";
    parts_under_way() = "Under way" | "Unterwegs";
    parts_lead_time() = "Days to arrive" | "Tage bis Ankunft";
    parts_count() = "Count" | "Anzahl";
    parts_counted(date) = "counted {date}" | "gezählt {date}";
    parts_count_again() = "Counted anew" | "Neu gezählt";
    parts_start() = "Start counting a model" | "Ein Modell zu zählen beginnen";
    parts_model() = "Part model" | "Teilmodell";
    parts_deliveries() = "Deliveries under way" | "Lieferungen unterwegs";
    parts_deliveries_none() = "Nothing is under way." | "Nichts ist unterwegs.";
    parts_delivery(count, name, date) = "{count} × {name}, expected {date}" | "{count} × {name}, erwartet {date}";
    parts_arrived() = "Arrived today" | "Heute angekommen";
    parts_expect() = "Enter a delivery" | "Lieferung eintragen";
    parts_expected_on() = "Expected on" | "Erwartet am";
    parts_models() = "Part models" | "Teilmodelle";
    parts_new_model() = "Enter a part model" | "Teilmodell eintragen";
    parts_name() = "Name" | "Name des Modells";
    parts_kind() = "Kind" | "Art";
    parts_teeth() = "Teeth (of each cog), or for a chain the number of sprockets" | "Zähne (jedes Ritzels), bei einer Kette die Zahl der Ritzel";
    parts_price(currency) = "Price of one, {currency}" | "Preis für eines, {currency}";
    parts_no_price() = "no price" | "kein Preis";
    parts_models_none() = "No part model yet. A model is what you would order: its name, shape and price." | "Noch kein Teilmodell. Ein Modell ist, was man bestellen würde: Name, Form und Preis.";
}
