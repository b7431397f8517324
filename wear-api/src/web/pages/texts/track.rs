texts! {
    track_title() = "How the forecasts did" | "Wie die Vorhersagen lagen";
    track_none() = "No forecast has met a reading yet" | "Noch traf keine Vorhersage auf eine Messung";
    track_none_text() = "Each time a chain is measured, the reading is held against what was forecast before it. Once there are some, this page shows how often the forecast held, good months and bad." | "Jedes Mal, wenn eine Kette gemessen wird, wird die Messung mit dem verglichen, was zuvor vorhergesagt war. Sobald es welche gibt, zeigt diese Seite, wie oft die Vorhersage hielt, in guten und schlechten Monaten.";
    track_sentence(covered, readings, share) = "{covered} of {readings} readings lay in the forecast's middle range: {share}. Right would be 8 in 10." | "{covered} von {readings} Messungen lagen im mittleren Bereich der Vorhersage: {share}. Richtig wären 8 von 10.";
    track_chance(readings, low, high) = "With {readings} readings, chance alone explains {low} to {high}." | "Bei {readings} Messungen erklärt der Zufall allein {low} bis {high}.";
    track_bias_none(percent) = "On average chains read what was forecast, to within {percent}." | "Im Mittel zeigten Ketten, was vorhergesagt war, bis auf {percent}.";
    track_held() = "That is within what chance explains." | "Das liegt in dem, was der Zufall erklärt.";
    track_too_sure() = "The forecasts were surer than they should have been. Plan with more margin." | "Die Vorhersagen waren sicherer, als sie sein durften. Plane mit mehr Reserve.";
    track_too_vague() = "The forecasts were less sure than they could have been." | "Die Vorhersagen waren unsicherer, als nötig war.";
    track_bias_faster(percent) = "On average chains read {percent} more than forecast: they wear faster than we say." | "Im Mittel zeigten Ketten {percent} mehr als vorhergesagt: sie verschleißen schneller, als wir sagen.";
    track_bias_slower(percent) = "On average chains read {percent} less than forecast: they wear slower than we say." | "Im Mittel zeigten Ketten {percent} weniger als vorhergesagt: sie verschleißen langsamer, als wir sagen.";
    track_better(ours, fixed, line) = "Mean miss: {ours}. Giving every chain one distance would miss by {fixed}, a straight line through its readings by {line}." | "Mittlerer Fehler: {ours}. Eine feste Strecke für alle Ketten läge um {fixed} daneben, eine Gerade durch die Messungen um {line}.";
    track_worse(ours, fixed, line) = "Mean miss: {ours}. A simpler rule did better: one distance for every chain misses by {fixed}, a straight line through its readings by {line}." | "Mittlerer Fehler: {ours}. Eine einfachere Regel war besser: eine feste Strecke für alle liegt um {fixed} daneben, eine Gerade durch die Messungen um {line}.";
    track_kept(kept, all) = "{kept} of these {all} forecasts were on record before the reading; the others were computed afterwards from the readings before." | "{kept} dieser {all} Vorhersagen waren vor der Messung verzeichnet; die anderen wurden danach aus den Messungen zuvor gerechnet.";
    track_months() = "Month by month" | "Monat für Monat";
    track_plot_title() = "Share of readings in the forecast's middle range, by month" | "Anteil der Messungen im mittleren Bereich der Vorhersage, nach Monat";
    track_plot_point(month, share, readings, low, high) = "{month}: {share} of {readings} readings; chance explains {low} to {high}." | "{month}: {share} von {readings} Messungen; der Zufall erklärt {low} bis {high}.";
    track_plot_axes() = "Up: share held. Across: months. The box is what chance explains, the mark what was." | "Nach oben: Anteil, der hielt. Quer: Monate. Der Kasten ist, was der Zufall erklärt, die Marke, was war.";
    track_right() = "right: 80 %" | "richtig: 80 %";
    track_group() = "Group" | "Gruppe";
    track_readings() = "Readings" | "Messungen";
    track_share() = "Held" | "Gehalten";
    track_verdict() = "In words" | "In Worten";
    track_outside_chance() = "outside what chance explains" | "außerhalb dessen, was der Zufall erklärt";
    track_inside_chance() = "within what chance explains" | "in dem, was der Zufall erklärt";
    nav_track_record() = "Track record" | "Trefferbuch";
}
