texts! {
    skip_to_content() = "Skip to content" | "Zum Inhalt springen";
    today_is(date) = "Today is {date}" | "Heute ist der {date}";
    sign_out() = "Sign out" | "Abmelden";
    nav_pages() = "Pages" | "Seiten";
    nav_fleet() = "Fleet" | "Flotte";
    nav_measure() = "Measure" | "Messen";
    nav_bench() = "Bench" | "Werkbank";
    nav_parts() = "Parts" | "Teile";
    nav_settings() = "Settings" | "Einstellungen";
    language_switch() = "Deutsch" | "English";
    waiting_to_send(count) = "{count} kept on this device, to be sent" | "{count} auf diesem Gerät, noch zu senden";

    sign_in_title() = "Sign in to the workshop" | "In der Werkstatt anmelden";
    sign_in_token() = "Your token" | "Dein Schlüssel";
    sign_in() = "Sign in" | "Anmelden";
    sign_in_refused() = "That token isn't known, or it has been revoked. A manager can issue a new one." | "Dieser Schlüssel ist nicht bekannt oder wurde widerrufen. Die Leitung kann einen neuen ausgeben.";
    sign_in_how() = "A token is made by whoever runs this service, with this command:" | "Einen Schlüssel macht, wer diesen Dienst betreibt, mit diesem Befehl:";
    sign_in_lasts() = "You stay signed in for 12 hours after the last use, and for 14 days at most." | "Du bleibst 12 Stunden nach der letzten Nutzung angemeldet, höchstens 14 Tage.";

    failure_not_allowed() = "Your token may not do this" | "Dein Schlüssel darf das nicht";
    failure_not_allowed_text() = "Ask a manager of the workshop for a token with another role." | "Bitte die Leitung der Werkstatt um einen Schlüssel mit einer anderen Rolle.";
    failure_forged() = "This form is no longer good" | "Dieses Formular gilt nicht mehr";
    failure_forged_text() = "It came from another site or from an earlier session. Nothing was changed. Open the page again and send it from there." | "Es kam von einer fremden Seite oder aus einer früheren Sitzung. Nichts wurde geändert. Öffne die Seite neu und sende von dort.";
    failure_not_found() = "Nothing here" | "Hier ist nichts";
    failure_not_found_text() = "The address names nothing that this workshop has. It may have been removed." | "Die Adresse nennt nichts, was diese Werkstatt hat. Vielleicht wurde es entfernt.";
    failure_stale() = "Someone else was faster" | "Jemand war schneller";
    failure_stale_text() = "It was changed since you opened the page. Open the page again to see the present state, then make your change." | "Es wurde geändert, seit du die Seite geöffnet hast. Öffne sie neu und mache dann deine Änderung.";
    failure_conflict() = "That contradicts what is there" | "Das widerspricht dem, was da ist";
    failure_conflict_text() = "Nothing was changed." | "Nichts wurde geändert.";
    failure_invalid() = "Something in the form can't be" | "Etwas im Formular kann nicht sein";
    failure_invalid_text() = "Nothing was changed. Go back: what you typed is still there." | "Nichts wurde geändert. Geh zurück: was du getippt hast, ist noch da.";
    failure_unavailable() = "Not available for the moment" | "Im Augenblick nicht erreichbar";
    failure_unavailable_text() = "The service is too busy or its database can't be reached. Try again in a minute." | "Der Dienst ist überlastet oder seine Datenbank nicht erreichbar. Versuche es in einer Minute wieder.";
    failure_internal() = "Something went wrong on our side" | "Bei uns ist etwas schiefgegangen";
    failure_internal_text() = "Nothing was acknowledged, so nothing counts as saved. The cause is in the service's log." | "Nichts wurde bestätigt, also gilt nichts als gespeichert. Die Ursache steht im Protokoll des Dienstes.";
    wrong_value(what, allowed) = "{what}. Allowed: {allowed}." | "{what}. Erlaubt: {allowed}.";
    wrong_given(what, given) = "{what}: “{given}”" | "{what}: „{given}“";
    wrong_range(low, high, unit) = "{low} to {high} {unit}" | "{low} bis {high} {unit}";
    wrong_whole(what, low, high) = "{what}: a whole number from {low} to {high}." | "{what}: eine ganze Zahl von {low} bis {high}.";
    wrong_empty(what) = "Write something: {what}." | "Bitte etwas eintragen: {what}.";
    wrong_length(what, length, most) = "{what}: {length} characters are too many; {most} at most." | "{what}: {length} Zeichen sind zu viel; höchstens {most}.";
    wrong_control(what) = "{what}: there is a character in it that can't be written." | "{what}: darin steht ein Zeichen, das sich nicht schreiben lässt.";
    wrong_count(what, found, least, most) = "{what}: {found}. Allowed: {least} to {most} of them." | "{what}: {found}. Erlaubt: {least} bis {most}.";
    wrong_unreadable(what) = "{what} can't be read" | "{what} ist nicht lesbar";
    wrong_missing(what) = "{what}: missing" | "{what}: fehlt";
    wrong_together(what) = "{what} don't go together" | "{what} passen nicht zusammen";
    wrong_future(at) = "{at} is in the future." | "{at} liegt in der Zukunft.";
    wrong_before(at, fitted) = "{at} is too early: the part was fitted on {fitted}." | "{at} ist zu früh: das Teil wurde am {fitted} angebracht.";
    wrong_after(at, removed) = "{at} is too late: the part came off on {removed}." | "{at} ist zu spät: das Teil kam am {removed} ab.";
    wrong_none(what) = "This workshop doesn't have that: {what}." | "Das hat diese Werkstatt nicht: {what}.";
    back_to_fleet() = "To the fleet" | "Zur Flotte";

    chance_none() = "less than 1 chance in 100" | "weniger als 1 zu 100";
    chance_sure() = "more than 99 chances in 100" | "mehr als 99 von 100";
    chance_of_ten(n) = "about {n} chances in 10" | "etwa {n} von 10";
    chance_of_hundred(n) = "about {n} chances in 100" | "etwa {n} von 100";

    caution() = "Caution" | "Vorsicht";
    caution_general() = "Before working on a chain, keep fingers, cloth and tools clear of anything that can turn, and follow the maker's instructions. If in doubt, ask a qualified mechanic." | "Vor der Arbeit an der Kette: Finger, Lappen und Werkzeug weg von allem, was sich drehen kann, und die Anleitung des Herstellers befolgen. Im Zweifel eine Fachkraft fragen.";
    save() = "Save" | "Speichern";
    cancel() = "Cancel" | "Abbrechen";
    more() = "Next page" | "Nächste Seite";
    first_page() = "Back to the first page" | "Zurück zur ersten Seite";
}
