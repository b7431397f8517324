texts! {
    orders_title(days) = "What the next {days} days need" | "Was die nächsten {days} Tage brauchen";
    orders_nothing() = "The shelf covers what is expected. Nothing has to be ordered." | "Das Lager deckt, was zu erwarten ist. Nichts muss bestellt werden.";
    orders_none() = "No swap is expected" | "Kein Wechsel ist zu erwarten";
    orders_none_text() = "Once bikes are entered and ridden, this says how many chains, cassettes and rings the next weeks take, and when to order them." | "Sobald Räder eingetragen sind und gefahren werden, steht hier, wie viele Ketten, Kassetten und Blätter die nächsten Wochen brauchen und wann zu bestellen ist.";
    orders_now() = "To order now" | "Jetzt zu bestellen";
    orders_part() = "Part" | "Teil";
    orders_quantity() = "Order" | "Bestellen";
    orders_lasts() = "Shelf lasts until it could arrive" | "Lager reicht bis zum Eintreffen";
    orders_counted(bikes) = "Counted from the outlooks of {bikes} bikes." | "Gezählt aus den Aussichten von {bikes} Rädern.";
    orders_waiting(bikes) = "{bikes} more are being computed anew and weren't counted." | "{bikes} weitere werden gerade neu gerechnet und zählten nicht mit.";
    orders_plot_title(days) = "Shelf and deliveries against what {days} days need" | "Lager und Lieferungen gegen den Bedarf von {days} Tagen";
    orders_point(name, p50, p90, shelf, coming) = "{name}: most likely {p50} needed, one chance in ten of more than {p90}; on the shelf: {shelf}, under way: {coming}." | "{name}: wahrscheinlich {p50} gebraucht, mit einer Chance von 1 zu 10 mehr als {p90}; im Lager: {shelf}, unterwegs: {coming}.";
    orders_point_none(name, shelf, coming) = "{name}: most likely none needed, and a need is less likely than one chance in ten; on the shelf: {shelf}, under way: {coming}." | "{name}: wahrscheinlich keine gebraucht, und ein Bedarf ist seltener als einmal in zehn; im Lager: {shelf}, unterwegs: {coming}.";
    orders_point_few(name, p90, shelf, coming) = "{name}: most likely none needed, one chance in ten of {p90} or more; on the shelf: {shelf}, under way: {coming}." | "{name}: wahrscheinlich keine gebraucht, mit einer Chance von 1 zu 10 aber {p90} oder mehr; im Lager: {shelf}, unterwegs: {coming}.";
    orders_axes() = "Across: parts. Hatched: on the shelf. Outlined: with deliveries." | "Quer: Teile. Schraffiert: im Lager. Umrandet: mit Lieferungen.";
    orders_marks() = "Upright: most likely need, and the need passed once in ten." | "Senkrecht: wahrscheinlicher Bedarf, und der einmal in zehn überschrittene.";
    orders_not_counted() = "not counted" | "nicht gezählt";
    orders_unnamed(place, shape) = "{place} {shape}, no model entered" | "{place} {shape}, kein Modell eingetragen";
}
