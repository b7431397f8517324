### Die Seiten auf Deutsch. Was eine Meldung nennt, steht im englischen Text.

## Zahlen, Daten, Geld

locale =
    .calendar = de_DE
date-long = %-d. %B %Y
date-medium = %-d. %B %Y
date-short = %-d. %b
date-month = %b %Y
decimal-mark = ,
unit-km = km
unit-miles = Meilen
amount-of-money = { $amount } { $currency }

## Frame, sign-in, failures, chances

product-name = Wear
product-purpose = Wear sagt, wann jede Fahrradkette herunter muss, wie sicher das ist und welches Rad zuerst drankommt.
skip-to-content = Zum Inhalt springen
today-is = Heute ist der { $date }
sign-out = Abmelden
nav-pages = Seiten
nav-fleet = Flotte
nav-measure = Messen
nav-bench = Werkbank
nav-parts = Teile
nav-settings = Einstellungen
language-switch = English
waiting-to-send = { $count } auf diesem Gerät, noch zu senden
sign-in-title = In der Werkstatt anmelden
sign-in-token = Dein Zugangsschlüssel
sign-in = Anmelden
sign-in-refused = Dieser Zugangsschlüssel ist nicht bekannt oder wurde widerrufen. Die Leitung kann einen neuen ausgeben.
sign-in-bound = Dieser Zugangsschlüssel gehört einer App und sieht nur deren Räder. Auf den Seiten meldet man sich mit einem eigenen an.
sign-in-how = Wer diesen Dienst betreibt, legt den ersten Zugang mit diesem Befehl an:
sign-in-lasts = Du bleibst 12 Stunden nach der letzten Nutzung angemeldet, höchstens 14 Tage. Auf dem eigenen Gerät: 30 Tage nach der letzten Nutzung, höchstens 90 Tage.
sign-in-by-code = Mit einem Code
sign-in-by-code-text = Die Leitung zeigt ihn dir unter Einstellungen, Team. Wer schon angemeldet ist, findet hinter dem eigenen Namen einen Code für ein weiteres Gerät.
sign-in-code = Anmeldecode
sign-in-code-refused = Dieser Code gilt nicht: Er ist schon benutzt oder älter als 15 Minuten. Lass dir einen neuen zeigen.
sign-in-by-token = Mit einem Zugangsschlüssel
sign-in-own = Das ist mein eigenes Gerät
sign-in-as = Als { $name } anmelden
sign-in-as-text = Rolle: { $role }. Werkstatt: { $workshop }. Der Code gilt einmal.
role =
    .manager = Leitung
    .mechanic = Mechanik
    .app = App
people-title = Team
people-text = Alle, die hier arbeiten, und was sie dürfen. Was sie eintragen, trägt ihren Namen.
people-name = Name
people-add-title = Jemanden hinzufügen
people-add = Hinzufügen und Code zeigen
people-code = Anmeldecode
people-code-for = Anmeldecode für { $name }
people-code-text = Mit der Kamera des Telefons scannen, die Adresse auf dem Gerät öffnen oder den Code auf der Anmeldeseite eintippen. Er gilt einmal, bis { $time }.
people-about = { $devices ->
    [0] { $role }, nicht angemeldet
    [one] { $role }, auf { $devices } Gerät angemeldet
   *[other] { $role }, auf { $devices } Geräten angemeldet
  }
people-sign-out = Überall abmelden
people-remove = Entfernen
people-programs = Programme bekommen einen Schlüssel:
me-title = Deine Anmeldung
me-about = Du bist { $name }, { $role }, bei { $workshop }.
me-other = Auf einem weiteren Gerät anmelden
me-other-text = Zeig hier einen Code an und scanne ihn mit dem Telefon.
me-code = Code anzeigen
me-out-text = Telefon verloren? Melde dich überall ab, dann fragt jedes Gerät neu.
me-out-here = Hier abmelden
me-nobody = Die Seiten der Demonstration stehen allen offen; niemand ist angemeldet.
failure-not-allowed = Dein Zugang erlaubt das nicht
failure-not-allowed-text = Bitte die Leitung der Werkstatt um einen Zugang mit einer anderen Rolle.
failure-forged = Dieses Formular ist abgelaufen
failure-forged-text = Es kam von einer fremden Seite oder aus einer früheren Sitzung. Nichts wurde geändert. Öffne die Seite neu und sende von dort.
failure-not-found = Hier ist nichts
failure-not-found-text = Unter dieser Adresse gibt es nichts. Vielleicht wurde es entfernt.
failure-stale = Inzwischen von jemand anderem geändert
failure-stale-text = Öffne die Seite neu, um den jetzigen Stand zu sehen, und mache dann deine Änderung.
failure-conflict = Das widerspricht dem, was eingetragen ist
failure-conflict-text = Nichts wurde geändert.
failure-invalid = Bitte das Formular prüfen
failure-invalid-text = Nichts wurde geändert. Geh zurück: was du getippt hast, ist noch da.
failure-too-slow = Das hat zu lange gedauert
failure-too-slow-text = Das Formular kam nicht zu Ende. Nichts wurde geändert. Geh zurück und sende es noch einmal.
failure-unavailable = Im Augenblick nicht erreichbar
failure-unavailable-text = Der Dienst ist überlastet oder seine Datenbank nicht erreichbar. Versuche es in einer Minute wieder.
failure-internal = Bei uns ist etwas schiefgegangen
failure-internal-text = Nichts wurde bestätigt, also gilt nichts als gespeichert. Die Ursache steht im Protokoll des Dienstes.
wrong-value = { $what }. Erlaubt: { $allowed }.
wrong-given = { $what }: „{ $given }“
wrong-range = { $low } bis { $high } { $unit }
wrong-whole = { $what }: eine ganze Zahl von { $low } bis { $high }.
wrong-empty = Bitte etwas eintragen: { $what }.
wrong-length = { $what }: { $length } Zeichen sind zu viel; höchstens { $most }.
wrong-control = { $what }: enthält ein Zeichen, das sich nicht schreiben lässt.
wrong-count = { $what }: { $found }. Erlaubt: { $least } bis { $most }.
wrong-unreadable = { $what } ist nicht lesbar
wrong-missing = { $what }: fehlt
wrong-together = { $what } passen nicht zusammen
wrong-future = { $at } liegt in der Zukunft.
wrong-before = { $at } ist zu früh: das Teil wurde am { $fitted } angebracht.
wrong-after = { $at } ist zu spät: das Teil kam am { $removed } ab.
wrong-lubricant-retired = { $at } ist zu spät: der Schmierstoff ist seit { $retired } ausgemustert.
wrong-tool-retired = { $at } ist zu spät: das Werkzeug ist seit { $retired } ausgemustert.
wrong-place = { $places ->
        [0] Dieses Rad hat nach seinem Antrieb keinen Platz für: { $place }. Ist der Antrieb falsch, zuerst ihn berichtigen.
       *[other] Dieses Rad hat nach seinem Antrieb keinen Platz { $position } für: { $place }. Ist der Antrieb falsch, zuerst ihn berichtigen.
    }
wrong-mismatch = Das passt nicht zum Rad. { $reason }.
mismatch-accept = Es ist so gemeint: trotzdem übernehmen
wrong-after-retirement = { $at } ist zu spät: das Rad ist seit { $retired } nicht mehr im Bestand.
wrong-bikes-of-kind = { $count ->
        [one] 1 Rad ist
       *[other] { $count } Räder sind
    } von diesem Typ. Wähle ja oder nein: ja ändert die, die noch die alten Werte haben, nein lässt alle, wie sie sind.
wrong-after-reading = { $at } ist zu spät: die Kette wurde schon am { $taken } gemessen.
wrong-none = Das gibt es in dieser Werkstatt nicht: { $what }.
back-to-fleet = Zur Flotte
chance-none = weniger als 1 von 100
chance-sure = mehr als 99 von 100
chance-of-ten = etwa { $n } von 10
chance-of-hundred = etwa { $n } von 100
caution = Vorsicht
caution-general = Vor der Arbeit an der Kette: Finger, Lappen und Werkzeug weg von allem, was sich drehen kann, und die Anleitung des Herstellers befolgen. Im Zweifel eine Fachkraft fragen.
save = Speichern
cancel = Abbrechen
more = Nächste Seite

## Fleet

fleet-title = Räder nach Dringlichkeit
fleet-headline = { $total ->
        [0] Keine Räder
        [one] { $due ->
            [0] 1 Rad, heute nicht fällig
           *[other] 1 Rad, heute fällig
        }
       *[other] { $due ->
            [0] { $total } Räder, heute keines fällig
            [one] 1 von { $total } Rädern heute fällig
           *[other] { $due } von { $total } Rädern heute fällig
        }
    }
fleet-by-advice = Räder nach Empfehlung
fleet-all = alle
fleet-caption = Balken: von „messen bis“ bis „wechseln bis“. Strich: fällig.
fleet-bike = Rad
fleet-to-do = Was zu tun ist
fleet-left = Kette hält noch
fleet-axis = Zeitleiste von heute bis in sechs Monaten
tick-today = heute
tick-weeks = { $count ->
        [one] 1 Woche
       *[other] { $count } Wochen
    }
tick-months = { $count ->
        [one] 1 Monat
       *[other] { $count } Monate
    }
tick-later = später
fleet-pays-by = messen bis { $date }
fleet-risk-on = wechseln bis { $date }
fleet-no-date = kein Datum
fleet-search = Rad suchen
fleet-search-hint = Nummer oder Gruppe
fleet-group = Gruppe
fleet-any-group = alle Gruppen
fleet-due = Fällig
fleet-due-any = beliebig
fleet-due-days = { $count ->
        [0] heute
        [one] in 1 Tag
       *[other] in { $count } Tagen
    }
fleet-show = Zeigen
fleet-sort-by = Sortieren
fleet-sort =
    .due = nach Dringlichkeit
    .label = nach Nummer
    .group = nach Gruppe
    .left = nach Rest der Kette
fleet-range = { $from }–{ $to } von { $all }
fleet-previous = Vorige Seite
fleet-choose = { $label } auswählen
fleet-choose-page = Alle auf dieser Seite auswählen
fleet-several = Mehrere Räder auf einmal
fleet-several-text = { $count ->
    [one] Für das ausgewählte Rad; ist keines ausgewählt, für das gezeigte.
   *[other] Für die ausgewählten Räder; ist keines ausgewählt, für alle { $count } der Liste.
  }
fleet-several-list = Arbeitsliste drucken
fleet-several-care = Pflege eintragen
worklist-title = { $count ->
    [one] Arbeitsliste vom { $date }: 1 Rad
   *[other] Arbeitsliste vom { $date }: { $count } Räder
  }
worklist-table = Arbeitsliste als Tabelle (CSV)
worklist-file = arbeitsliste
worklist-cut = Nur die ersten { $count } Räder stehen hier. Grenze die Liste ein, um die übrigen zu sehen.
worklist-remark = Gemessen, von wem
worklist-reason = Grund
worklist-due = Fällig
worklist-swap-by = Wechseln bis
worklist-measure-by = Messen bis
worklist-left = Rest der Kette, { $unit }
worklist-over = Schon verschlissen, Wahrscheinlichkeit in %
care-several-title = Pflege mehrerer Räder
care-several-bikes = Räder
care-several-none = Wähle die Räder zuerst in der Flottenliste aus.
care-several-bad-time = „{ $typed }“ ist keine Zeitangabe.
care-several-done = { $count ->
    [one] Die Pflege von 1 Rad ist eingetragen.
   *[other] Die Pflege von { $count } Rädern ist eingetragen.
  }
first-kinds = Benenne deine Radtypen
first-kinds-text = Jeden Typ einmal, mit Antrieb: „Stadt, 8 Gänge“. Ein Rad braucht danach nur noch eine Nummer.
first-bikes = Lege die Räder an
first-or = oder
first-table = importiere eine Tabelle
first-bikes-text = Einzeln oder alle aus einer Tabellenkalkulation. Eine Vorlage gibt es dort.
first-labels = Drucke die Etiketten
first-labels-text = Klebe auf jedes Rad eines. Die Kamera des Telefons öffnet damit das Rad.
first-walk = Geh mit einer Kettenlehre durch den Hof
first-walk-text = Ein Tipp je Rad, ein Rad nach dem anderen.
fleet-empty = Noch keine Räder
fleet-empty-text = Ein Rad wird mit Kettenblättern, Ritzeln und dem Tag eingetragen, an dem seine Kette aufgelegt wurde. Aus seinen Fahrten und gelegentlichen Messungen sagt diese Seite, wann die Kette herunter muss.
fleet-add = Rad eintragen
fleet-none-found = Zurzeit ist kein Rad in diesem Zustand.
fleet-show-all = Alle Räder zeigen
advice-swap-now = vor der nächsten Fahrt wechseln
advice-hold = muss geprüft werden
advice-swap-by-some-day = bald wechseln
advice-measure-by-some-day = bald messen
advice-ride-on = weiterfahren
advice-with = { $advice }: { $parts }
list-and = { $first } und { $last }
advice-swap-by = bis { $date } wechseln
advice-measure-by = bis { $date } messen
advice-measure-now = jetzt messen
why-age-unknown = Wie verschlissen diese Kette ist, weiß niemand: Sie war schon am Rad und wurde nie gemessen.
why-riding-unknown = Seit die Kette montiert oder zuletzt gemessen wurde, { $days ->
        [one] ist für einen Tag
       *[other] sind für { $days } Tage
    } keine Fahrten verzeichnet; wie verschlissen sie ist, weiß niemand.
why-read-at-limit = Gemessen wurden { $read }, also die Grenze; wahrscheinlich ist die Kette bei { $likely }. Zur Sicherheit noch einmal messen.
why-cassette-untried = Neue Kette auf verschlissener Kassette; sie könnte springen: { $chance }. Vor der Ausgabe unter Last prüfen, abseits vom Verkehr. Springt sie, die Kassette wechseln.
why-cassette-skips = Die neue Kette ist laut Meldung gesprungen, wahrscheinlich wegen der verschlissenen Kassette: { $chance }. Nicht unter Last fahren: steifes Glied und Schaltung prüfen, dann die Kassette wechseln.
why-doubt = Messungen und Aufzeichnung passen nicht zusammen, darum gibt es keine einzelne Zahl.
why-never-measured = Nie gemessen: niemand weiß, wie verschlissen sie ist.
why-no-riding = Keine Fahrten verzeichnet: niemand weiß, wie verschlissen sie ist.
why-hold = Die Messungen widersprechen sich, oder es ist keine Kette verzeichnet.
why-over = Schon verschlissen: { $chance }.
why-less = In 1 von 10 Fällen bleiben weniger als { $distance }.
left-none = verschlissen
left-about = etwa { $distance }
left-unknown = unbekannt

## Gruppen

groups-title = Gruppen
groups-link = Gruppen und wie weit ihre Räder fahren
groups-text = Gib hier an, wie weit jedes Rad einer Gruppe pro Woche fährt. Es zählt, wo weder Fahrten noch ein Kilometerzähler das sagen; was für ein Rad selbst angegeben ist, geht vor.
groups-none = Noch keine Gruppen
groups-none-text = Die Gruppe eines Rads wird beim Eintragen genannt.
groups-nothing = nichts angegeben
groups-declare = Nutzung einer Gruppe angeben
groups-asks = { $unit } pro Woche, jedes Rad

## Radtypen

kinds-title = Radtypen
kinds-text = Ein Radtyp hält fest, was seine Räder gemeinsam haben: Nutzung, Antrieb, Grenze, Gruppe und Teilemodelle. Ein neues Rad des Typs übernimmt sie; einzutragen ist dann nur seine Nummer.
kinds-none = Noch kein Radtyp
kinds-none-text = Lege unten den ersten an, z. B. „Leihrad, 8 Gänge“. Name und Zahl der Ritzel genügen.
kinds-kind = Radtyp
kinds-name = Name des Radtyps
kinds-use = Nutzung
kinds-drivetrain = Antrieb
kinds-drivetrain-text = Die Zahl der Ritzel genügt; dann gilt der übliche Antrieb dieser Nutzung. Sind Zähne und Kettenglieder bekannt, trage sie ein: dann gelten sie.
kinds-typical = { $count ->
        [one] 1 Ritzel, üblicher Antrieb
       *[other] { $count } Gänge, üblicher Antrieb
    }
kinds-by-teeth = { $count ->
        [one] Blatt
       *[other] Blätter
    } { $rings }, Ritzel { $cogs }, { $links } Glieder
kinds-limit = Grenze in Prozent, wenn nicht die übliche
kinds-limit-short = Grenze
kinds-usual-limit = übliche
kinds-group = Gruppe, wenn sie nicht wie der Typ heißt
kinds-models = Teilemodelle
kinds-cassette = Kassette oder einzelnes Ritzel
kinds-no-model = nicht bekannt
kinds-no-models = nicht bekannt
kinds-in-fleet = In der Flotte
kinds-bikes = { $count ->
        [0] keine Räder
        [one] 1 Rad
       *[other] { $count } Räder
    }
kinds-new = Radtyp anlegen
kinds-make = Radtyp anlegen
kinds-made = Der Radtyp ist gespeichert. Neue Räder können ihn jetzt haben.
kinds-changed = Die Änderung ist gespeichert.
kinds-deleted = Der Radtyp ist gelöscht.
kinds-change-title = Radtyp: { $name }
kinds-count = { $count ->
        [0] Kein Rad ist von diesem Typ.
        [one] 1 Rad ist von diesem Typ, ausgemusterte mitgezählt.
       *[other] { $count } Räder sind von diesem Typ, ausgemusterte mitgezählt.
    }
kinds-follow = Übernehmen die Räder dieses Typs die Änderung?
kinds-follow-text = Nötig, wenn sich Nutzung, Antrieb, Grenze oder Teilemodelle ändern. Name und Gruppe gelten nur für neue Räder.
kinds-follow-yes = Ja: Räder mit den alten Werten bekommen die neuen, als wäre es von Anfang an so gewesen
kinds-follow-no = Nein: Räder bleiben, wie sie sind; nur neue bekommen die neuen Werte
kinds-delete = Diesen Radtyp löschen…
kinds-delete-text = Löschen lässt sich nur ein Radtyp ohne Räder.
kinds-delete-button = Radtyp löschen

## Bike

doubt-title = Was geschehen sein kann
doubt-text = Jede Erklärung hat ihre eigenen Zahlen; die Schaltfläche berichtigt die Aufzeichnung, alles Weitere folgt daraus.
doubt-nearly-sure = über 99 %
doubt-what = Erklärung
doubt-likely = Wahrscheinlichkeit
doubt-then = Dann gilt
doubt-numbers = Verschleiß { $elongation }, noch { $left }: { $advice }
doubt-as-recorded = Die Aufzeichnung stimmt, die Messung weicht zufällig ab.
doubt-unrecorded-swap = Zwischen { $after } und { $by } kam eine neue Kette ans Rad, und niemand trug es ein.
doubt-missing-riding = Zwischen { $after } und { $by } fehlen Fahrten von { $distance }.
doubt-wrong-reading = Die Messung vom { $by } ist falsch oder stammt von einer anderen Kette.
doubt-mend-unrecorded-swap = Kettenwechsel am { $date } eintragen
doubt-mend-missing-riding = Fahrten von { $distance } am { $date } eintragen
doubt-mend-wrong-reading = Messung als falsch kennzeichnen
doubt-mended = Die Aufzeichnung ist berichtigt.
doubt-mended-note = Nachgetragen, wie es die Messungen nahelegen
doubt-gone = Messungen und Aufzeichnung passen inzwischen zusammen; nichts wurde geändert.
bike-left = Dieses Rad ist seit { $at } nicht mehr im Bestand. Es steht in keiner Liste, Bestellung oder Planung, und was seither gefahren wird, zählt nicht.
bike-bring-back = Wieder in den Bestand nehmen
edit-title = Rad { $label } bearbeiten
edit-text = Was du berichtigst, gilt von Anfang an; der Verlauf bleibt.
edit-assumed = Dieser Antrieb ist angenommen, weil niemand gesagt hat, welcher es ist.
edit-drivetrain-text = Ein anderer Antrieb ändert, was jede Fahrt gezählt hat.
edit-done = Die Änderung ist gespeichert.
bike-edit = Rad bearbeiten
bike-take-out = Dieses Rad aus dem Bestand nehmen…
bike-take-out-text = Seine Geschichte bleibt. Es lässt sich jederzeit zurückholen.
bike-take-out-button = Aus dem Bestand nehmen
bike-goes-with = Auch verschlissen, zusammen mit der Kette ersetzen: { $parts }
bike-title = Rad { $label }
bike-of-group = Gruppe { $group }
bike-basis-learned = { $whose }, gemessene Ketten: { $count }
bike-of-fleet = der ganzen Flotte
bike-sentence-soon = Wahrscheinlich noch { $left }, etwa bis { $date }. Schon jetzt verschlissen: { $chance }.
bike-sentence = Wahrscheinlich noch { $left }, etwa bis { $date }; in 1 von 10 Fällen weniger als { $least }.
bike-sentence-no-date = Wahrscheinlich noch { $left }; in 1 von 10 Fällen weniger als { $least }. Das Rad wird nicht gefahren, darum gibt es kein Datum.
bike-sentence-by-use = Wahrscheinlich noch { $left }, nach der Nutzung des Rads geschätzt; in 1 von 10 Fällen weniger als { $least }. Niemand hat angegeben, wie weit es fährt, darum gibt es kein Datum.
bike-sentence-by-group = Wahrscheinlich noch { $left }, nach seiner Gruppe geschätzt; in 1 von 10 Fällen weniger als { $least }. Niemand hat angegeben, wie weit es fährt, darum gibt es kein Datum.
use-say = Angeben, wie weit es fährt
bike-sentence-over = Verschlissen: Die Kette ist schon über ihrer Grenze von { $limit }, { $chance }.
bike-sentence-far = Wahrscheinlich noch { $left }, bei jetziger Nutzung mehr als zehn Jahre; in 1 von 10 Fällen weniger als { $least }.
bike-sentence-unridden = Es sind keine Fahrten verzeichnet, darum gibt es weder Strecke noch Datum. Über der Grenze: { $chance }.
bike-sentence-none = Es ist keine Kette verzeichnet. Trage unten eine ein oder den Wechsel, mit dem sie aufgelegt wurde.
bike-measure = Messen
bike-swap = Wechsel eintragen
bike-care = Pflege eintragen
bike-chances = Heute über der Grenze: { $over }. Messen bis { $measure }.
bike-measure-by = Messen bis { $measure }.
bike-chance-over = Heute über der Grenze: { $over }.
bike-overdue-caution = Eine so verschlissene Kette kann unter Last springen oder reißen, und wer fährt, kann stürzen. Das Rad bleibt hier, bis die Kette gewechselt oder gemessen ist.
bike-where = Verschleiß jetzt
bike-path = Verschleiß im Verlauf
bike-path-key = Quadrat: Lineal. Raute: Messschieber. Kreis: Messuhr. Dreieck nach oben: Lehre fiel hinein, also mindestens so viel. Dreieck nach unten: blieb draußen, also höchstens so viel. Durchgestrichen: als Messfehler nicht berücksichtigt.
bike-path-band = Das Band umfasst 8 von 10 Fällen; bei jeder Messung wird es schmaler.
bike-drivers = Was sie verschlissen hat
bike-drivers-text = { $km } mit dieser Kette haben sie so verschlissen wie { $reference } trockene Straße mit gepflegter Kette.
bike-no-rides = Für diese Kette sind keine Fahrten verzeichnet. Sie kommen aus einem Fahrtenbuch, einer Datei oder der Schnittstelle.
driver = Ursache
driver-share = Anteil am Verschleiß
driver-distance = die Strecke selbst
driver-energy = Arbeit durch die Kette
driver-gears = Gänge, Kettenlänge und Rad
driver-surface = Untergrund
driver-wet = Nässe
driver-care = Fahren ohne Pflege
driver-spared = hat geschont
bike-cassette = Kassette
bike-cog = Ritzel
bike-cassette-text = Sie verträgt noch etwa { $p50 ->
        [one] eine neue Kette
       *[other] { $p50 } neue Ketten
    }, bis eine darauf springt; in 8 von 10 Fällen { $p10 } bis { $p90 }.
bike-cassette-unlikely = Sie verträgt wahrscheinlich keine weitere Kette; in 1 von 10 Fällen noch { $p90 } oder mehr.
bike-cassette-done = Zusammen mit der Kette wechseln: Eine neue Kette würde höchstwahrscheinlich darauf springen.
bike-cassette-skips = Eine neue Kette würde heute darauf springen: { $chance }.
bike-cassette-next = Ist diese Kette verschlissen, würde die nächste darauf springen: { $chance }.
bike-cassette-held = { $held ->
        [one] Eine neue Kette hat bisher darauf gehalten.
       *[other] { $held } neue Ketten haben bisher darauf gehalten.
    }
bike-cassette-cost = Warten verschleißt jetzt Kassette für { $now } je { $per }, an der Grenze für { $limit }.
bike-cassette-looks = Zähne, die verschlissen aussehen, sind es nicht immer: Schaltrampen sind so geformt. Ob eine neue Kette unter Last springt, entscheidet.
bike-skip-caution = Im Schritttempo auf Springen prüfen, abseits vom Verkehr, beide Hände am Lenker: Springt die Kette, droht ein Sturz.
bike-rings = Kettenblätter
bike-warnings = Warnungen
bike-basis = Grundlage
bike-basis-text = { $readings ->
        [one] 1 Messung
       *[other] { $readings } Messungen
    } dieser Kette; Verschleißrate aus: { $rate }.
bike-basis-default = der Voreinstellung, da noch nichts gelernt ist
bike-basis-energy = Arbeit durch die Kette: { $measured } gemessen, { $climb } aus Strecke und Anstieg, { $distance } aus der Strecke allein.
bike-basis-assumed = Untergrund, Nässe, Pflege und Gänge zählen mit angenommenen Faktoren, bis die Flotte eigene gelehrt hat.
bike-history = Verlauf
bike-rides-by-month = Fahrten nach Monat
event-when = Wann
event-what = Was
event-detail = Einzelheiten
event-reading = Messung
event-care = Pflege
event-care-with = { $care } mit { $lubricant }
event-odometer = Kilometerstand
event-swap = Wechsel
event-voided = als falsch markiert: { $reason }
event-void = Als falsch markieren …
event-restore = Wieder zählen
event-again = Noch einmal eintragen
event-void-reason = Warum es falsch ist
event-none = Noch nichts. Fahrten, Messungen, Pflege und Wechsel werden hier stehen.
event-all = Alle zeigen
ride-files-link = Fahrten aus Dateien eintragen (GPX, FIT)
ride-files-title = Fahrten aus Dateien
ride-files-text = Dateien, wie Fahrradcomputer und Apps sie ausgeben: GPX oder FIT, auch mit gzip gepackt. Mehrere auf einmal; dieselbe Datei zweimal ist eine Fahrt.
ride-files-bike = Rad (Nummer)
ride-files-files = Dateien
ride-files-largest = Zusammen höchstens { $size } MB.
ride-files-surface = Untergrund
ride-files-surface-of-file = wie in der Datei, sonst Asphalt
surface-name =
    .paved = Asphalt
    .gravel = Schotter
    .mud = Matsch
    .indoor = drinnen
ride-files-wet = Es war nass
ride-files-day = Tag
ride-files-day-text = Nur für Dateien ohne Zeiten.
ride-files-take = Fahrten eintragen
ride-files-no-bike = Kein Rad der Flotte heißt „{ $label }“.
ride-files-none = Wähle mindestens eine Datei.
ride-files-too-large = Zusammen sind die Dateien größer als { $size } MB. Sende weniger auf einmal.
ride-files-done = { $count ->
    [0] Keine Datei wurde für { $label } eingetragen.
    [one] 1 Datei wurde für { $label } eingetragen.
   *[other] { $count } Dateien wurden für { $label } eingetragen.
  }
ride-files-file = Datei
ride-files-what = Was daraus wurde
ride-files-new = Neue Fahrt: { $time }, { $distance }
ride-files-again = Schon bekannt: { $time }, { $distance }
ride-files-deleted = Früher gelöscht, bleibt so: { $time }
ride-files-twice = { $time }, { $distance }: Eine andere Quelle kennt diese Fahrt schon; sie zählt einmal.
riding-title = Kilometerstand, Nutzung und Pflege
odometer-asks = Kilometerstand jetzt, { $unit }
odometer-optional = Kilometerstand, { $unit } (freiwillig)
odometer-save = Kilometerstand speichern
odometer-range = Ein Kilometerzähler zeigt 0 bis { $most } { $unit }.
use-title = Angegebene Nutzung
use-text = Zählt nur, wo weder Fahrten noch Kilometerzähler sagen, wie weit das Rad fuhr.
use-always = etwa { $distance } pro Woche
use-from = etwa { $distance } pro Woche ab dem { $from }
use-until = etwa { $distance } pro Woche bis zum { $until }
use-between = etwa { $distance } pro Woche vom { $from } bis zum { $until }
use-of-group = { $told } (seine Gruppe)
use-asks = { $unit } pro Woche
use-from-asks = Ab wann, wenn nicht schon immer
use-until-asks = Bis wann, wenn es endet
use-save = Nutzung speichern
use-remove = Entfernen
use-range = Die Nutzung liegt zwischen 0 und { $most } { $unit } pro Woche.
care-setting-title = Aufzeichnung der Pflege
care-setting-asks = Pflege ist
care-setting-workshop = wie in den Einstellungen der Werkstatt
care-setting-entries = bis zum ersten Eintrag eines Rads nicht aufgezeichnet, danach aufgezeichnet
care-setting-recorded = aufgezeichnet: jede Pflege wird eingetragen
care-setting-km = regelmäßig: alle so viele { $unit } gereinigt und geschmiert
care-setting-weeks = regelmäßig: alle so viele Wochen gereinigt und geschmiert
care-setting-unrecorded = nicht aufgezeichnet: niemand führt Buch
care-setting-every = Regelmäßig: { $unit } oder Wochen
care-setting-range = Regelmäßige Pflege braucht eine ganze Zahl: { $least } bis { $most } { $unit } oder 1 bis 104 Wochen.
bike-fittings = Teile daran
fitting-since = seit { $date }
fitting-until = { $from } bis { $to }
fitting-take-off = Abnehmen
fitting-fit = Neues Teil an einen leeren Platz
fitting-place = Platz
fitting-position = Welches, vom größten Blatt oder kleinsten Ritzel
fitting-button = Anbringen
fitting-earlier = Frühere Teile
start-new = Neu montiert am { $date }
start-found = Vorgefunden; erfasst seit { $date }
start-found-after = Vorgefunden, mit etwa { $distance } Laufleistung; erfasst seit { $date }
start-none = Keine Kette erfasst
start-correct = Anfang berichtigen …
start-correct-text = Mit Tag: Kette, Kassette und Blätter vom Anfang wurden an ihm neu montiert. Ohne Tag: Sie sind vorgefunden, und die Messungen entscheiden.
start-fitted-on = Neu montiert am
start-chain-km = Sonst: ungefähre Laufleistung, { $unit }, falls bekannt
measured-percent = { $instrument }: { $percent }
measured-length = { $instrument }: { $length } mm über { $pitches } Teilungen, { $percent }
measured-spots = { $instrument }: { $count } Stellen, { $mean } im Mittel, { $worst } an der schlechtesten
measured-in = { $instrument } { $mark }: fiel hinein
measured-out = { $instrument } { $mark }: blieb draußen
warning-uneven = Die Stellen einer Messung weichen um mehr als 0,15 % ab: nach einem steifen oder beschädigten Stück suchen.
warning-contradiction = Messungen widersprechen sich. Entweder wurde eine andere Kette gemessen, oder diese wurde gewechselt und niemand hat es eingetragen: die irrtümliche Messung als falsch markieren oder den Wechsel eintragen.
warning-skip = Am { $date } wurde Springen unter Last auf dem Ritzel mit { $teeth } Zähnen gemeldet; die Aussicht der Kassette berücksichtigt es. Es kann zum Sturz führen: erst die Ursache finden, dann das Rad ausgeben.
warning-unrecorded-swap = Messungen und Aufzeichnung passen nicht zusammen. Wahrscheinlich ({ $percent }) wurde die Kette zwischen dem { $after } und dem { $by } gewechselt und niemand hat es eingetragen: den Wechsel eintragen.
warning-missing-rides = Messungen und Aufzeichnung passen nicht zusammen. Wahrscheinlich ({ $percent }) fehlen Fahrten zwischen dem { $after } und dem { $by }: die Fahrten eintragen.
warning-wrong-reading = Messungen und Aufzeichnung passen nicht zusammen. Wahrscheinlich ({ $percent }) ist die Messung vom { $by } falsch oder von einer anderen Kette: als falsch markieren oder noch einmal messen.
warning-no-reading = Diese Kette wurde nie gemessen: alles hier ist geschätzt.
warning-no-chain = Für dieses Rad ist keine Kette verzeichnet.
warning-new-counter = Der Kilometerzähler zeigte { $before_km } am { $before } und { $after_km } am { $after }: er zählt als neuer Zähler. Wie weit das Rad dazwischen fuhr, ist nicht bekannt. Stimmt eine Zahl nicht, als falsch markieren.
warning-rides-exceed = Vom { $before } bis zum { $after } ergeben die Fahrten { $rides }, der Kilometerzähler { $counter }: es gelten die Fahrten. Auf doppelt eingetragene Fahrten und den am Zähler eingestellten Radumfang prüfen.
warning-care-silent = Seit { $distance } ist keine Pflege eingetragen; das zählt als Vernachlässigung. Wurde die Kette gepflegt: eintragen, oder die Pflege des Rads auf regelmäßig oder nicht aufgezeichnet stellen.
rule-title = Die Kette an einem Zwölf-Zoll-Lineal
rule-description = 24 Teilungen einer neuen Kette sind zwölf Zoll lang. Diese ist wahrscheinlich { $likely } länger; in 8 von 10 Fällen { $low } bis { $high }. Ihre Grenze ist { $limit }, eine Länge von { $length } mm.
rule-limit = Grenze { $percent } = { $length } mm
rule-likely = wahrscheinlich { $percent }
path-title = Längung im Verlauf
path-axes = Längung in Prozent der Teilung, nach Monat.
path-limit = Grenze { $percent }
path-swap-by = wechseln bis { $date }
path-point = { $date }: wahrscheinlich { $likely }, in 8 von 10 Fällen { $low } bis { $high }
path-readings = { $count ->
        [one] 1 Messung
       *[other] { $count } Messungen
    } dieser Kette.
path-now = Heute wahrscheinlich { $likely }, bei einer Grenze von { $limit }.
path-by = Bis { $date } wahrscheinlich { $likely }, in 8 von 10 Fällen { $low } bis { $high }.
path-hover = Auf das Bild zeigen, um einen Tag abzulesen.
cog-described = { $teeth } Zähne: zu { $damage } verschlissen; ganz verschlissen: { $chance }.
cog-axis-teeth = Zähne unten
cog-axis-damage = % verschlissen oben
cassette-plot-title = Kassette, Ritzel für Ritzel
rings-plot-title = Kettenblätter, eins nach dem anderen
rides-title = Gefahrene Strecke nach Monat
rides-description = { $total } von { $from } bis { $to }, davon { $wet } bei Nässe.
rides-month = { $month }: { $distance } in { $rides ->
        [one] 1 Fahrt
       *[other] { $rides } Fahrten
    }, davon { $wet } nass
rides-axes = { $unit } im Monat; der schraffierte Teil war nass.
new-bike-next = Speichern, dann das nächste
new-bike-next-text = Den Rest sagt der Radtyp.
new-bike-entered = { $label } ist angelegt. Das nächste?
new-bike-table = Räder aus einer Tabelle importieren
new-bike-title = Rad eintragen
new-bike-label = Nummer am Rahmen
new-bike-group = Gruppe: Räder, die ähnlich verschleißen
new-bike-use = Genutzt für
new-bike-rings = Zähne der Kettenblätter, z. B. 42 oder 50 34
new-bike-cogs = Zähne der Ritzel, z. B. 11 13 15 17 20 23 26 30
new-bike-links = Zahl der Kettenglieder
new-bike-gearing = Schaltung
new-bike-kind = Radtyp
new-bike-kinds-link = Radtypen: was gleiche Räder gemeinsam haben, einmal eingetragen
new-bike-no-kind = keiner
new-bike-drivetrain-text = Nur Nummer oder Name muss sein. Ist der Antrieb nicht bekannt, leer lassen, die Zahl der Ritzel angeben oder ein Rad mit gleichem Antrieb wählen; sonst gilt der übliche.
new-bike-speeds = Zahl der Ritzel
new-bike-like = Gleicher Antrieb wie Rad
new-bike-no-like = keins
new-bike-use-of-kind = wie der Radtyp, sonst Stadt
gearing-auto = nach den Ritzeln
new-bike-fitted = Tag, an dem Kette, Kassette und Blätter neu montiert wurden
new-bike-as-found = Leer lassen, wenn das niemand weiß: dann gelten sie als vorgefunden, und die erste Messung entscheidet.
new-bike-chain-km = Ungefähre Laufleistung der Kette, { $unit }, falls bekannt

## Measuring

measure-title = Kette messen
measure-bike = Rad { $label } messen
measure-pick = Welches Rad?
measure-pick-hint = Die Nummer am Rahmen tippen oder den Code auf dem Etikett mit der Kamera des Telefons lesen.
measure-find = Suchen
measure-due = Warten auf eine Messung
measure-due-none = Kein Rad wartet gerade auf eine Messung.
measure-no-match = Kein Rad hat „{ $text }“ in Nummer oder Gruppe.
measure-way = Womit?
way-rule-inches = Lineal, Zoll
way-rule-mm = Lineal, Millimeter
way-rule-percent = Lineal, Prozent
way-caliper = Messschieber, Prozent
way-dial = Messuhr, Prozent
walk-title = Durch den Hof
walk-with = Lehre und Marke
walk-gauge = { $kind }, { $mark }
walk-gauge-kind =
    .drop_in = Kettenlehre
    .drop_in_isolating = Rollenspielfrei
walk-done = { $done } von { $all } heute gemessen. Tipp an, was die Lehre tut.
walk-in = Fällt hinein
walk-out = Bleibt draußen
way-drop-in = Kettenlehre
way-drop-in-isolating = Kettenlehre, rollenspielfrei
way-drop-in-how = Die übliche Art: sie drückt die Rollen an ihren Enden auseinander.
way-isolating-how = Sie drückt beide Rollen in dieselbe Richtung.
way-rule-how = Kette gespannt, von der Kante eines Bolzens zur selben Kante des Bolzens 24 Teilungen weiter.
way-percent-how = Mehrere Stellen zugleich: nacheinander tippen, z. B. 0,30 0,33 0,31.
measure-length-inches = Länge über 24 Teilungen, Zoll
measure-length-mm = Länge über 24 Teilungen, mm
measure-percent = Längung, Prozent
measure-quick = oder antippen, was es zeigt
measure-drops-in = { $mark } fällt hinein
measure-stays-out = { $mark } bleibt draußen
measure-save = Messung speichern
measure-pad = Zahlenfeld
kept-here = Keine Verbindung. Was du eingetragen hast, bleibt auf diesem Gerät und wird einmal gesendet, sobald die Verbindung wieder da ist.
measure-sent = Gesendet
measure-refused = wurde abgelehnt; Rad öffnen und neu eintragen
measure-signed-out = Melde dich an, um zu senden, was hier liegt.
measure-not-a-number = „{ $text }“ ist keine Zahl. Tippe 0,31 oder 0.31; beim Lineal auch 12 1/16.
measure-missing = Tippe, was das Messmittel zeigt.
measure-percent-range = −0,3 bis 3 Prozent. Bei einer größeren Zahl Einheit und Kette prüfen.
measure-length-range = 24 Teilungen sind 304,0 bis 311,0 mm oder 11,97 bis 12,24 Zoll. Anzahl und Einheit prüfen.
measure-no-chain = Zu dieser Zeit war keine Kette an diesem Rad. Erst eine anbringen oder den Wechsel eintragen.
measure-caution = Finger weg vom Antrieb, solange sich etwas drehen kann; beim Messen die Kurbel festhalten.
result-title = Rad { $label }: Messung gespeichert
result-voided = Zurückgenommen
result-voided-text = Die Messung zählt nicht mehr. Sie bleibt verzeichnet.
result-undo = Zurücknehmen
result-undo-hint = eine Minute lang
result-undo-late = Die Minute ist vorbei. Auf der Seite des Rades lässt sich eine Messung noch als falsch markieren, mit Grund.
result-undone-reason = zurückgenommen von der messenden Person
result-next = Nächstes Rad messen
result-bike = Seite dieses Rades

## Swaps and care

swap-title = Wechsel an Rad { $label } eintragen
swap-what = Was ersetzt wurde
swap-worn-too = Außer der Kette verschlissen.
swap-worn-text = Beim selben Termin ersetzen: Eine neue Kette kann auf verschlissenen Zähnen springen, und wer fährt, kann stürzen.
# $part, $chance
swap-worn = { $part }: verschlissen, { $chance }
# $chance
swap-cassette-worn = Zusammen mit der Kette ersetzen. Eine neue Kette würde darauf springen: { $chance }.
# $chance
swap-cassette-may = Eine neue Kette springt darauf vielleicht: { $chance }. Vor der Ausgabe des Rads prüfen, ob sie springt.
# $chance
swap-cassette-stays = Kann bleiben. Eine neue Kette würde darauf springen: { $chance }.
# $chance
swap-ring-worn = Zusammen mit der Kette ersetzen. Verschlissen: { $chance }.
# $chance
swap-ring-may = Vielleicht verschlissen: { $chance }. Bei abgenommener Kette ansehen.
# $chance
swap-ring-stays = Kann bleiben. Verschlissen: { $chance }.
swap-model = Neues Modell
# $name, $count (Number)
swap-model-on-shelf = { $name } – { $count ->
        [0] keines im Lager
       *[other] { $count } im Lager
    }
swap-other-teeth = Andere Zähnezahl als verzeichnet
swap-doesnt-go = Passt nicht zu diesem Rad: es wird nachgefragt
swap-nothing-chosen = Ankreuzen, was ersetzt wurde. Nichts wurde eingetragen.
swap-reading-without-chain = Eine Messung der alten Kette gehört zu einer neuen Kette: die Kette ankreuzen oder die Messung leer lassen.
# $place, $text
swap-part-refused = { $place }: { $text } Nichts wurde eingetragen.
swap-undone-reason = gleich nach dem Eintragen zurückgenommen
swap-undo = Zurücknehmen
swap-undone = Zurückgenommen. Was abkam, gilt als noch am Rad, und das Lager hat seine Teile zurück.
swap-same-model = dasselbe wie zuvor
swap-when = Wann
swap-when-hint = leer lassen für jetzt
swap-note = Bemerkung
swap-save = Wechsel eintragen
swap-why = Warum Kassette oder Kettenblatt gewechselt wurde
swap-why-hint = zeigt, was solche Teile aushalten
swap-why-unsaid = keine Angabe
swap-reading = Was die alte Kette zeigte, Prozent, falls gemessen
swap-reading-with = Gemessen mit
swap-reading-tool = { $name } ({ $instrument })
swap-bad-time = „{ $text }“ ist keine Zeit. Wähle Tag und Stunde, nicht in der Zukunft.
care-title = Pflege von Rad { $label } eintragen
care-kind = Was getan wurde
care-done = Die Pflege ist eingetragen.
care-lubricant = Schmierstoff
care-lubricant-unnamed = keine Angabe
care-save = Pflege eintragen
care-caution = Lösungsmittel und Schmierstoffe gehören nicht auf Bremsscheiben, Beläge und Felgen und nicht auf die Haut; das Sicherheitsblatt des Herstellers beachten. Kurbel nur von Hand drehen, Finger weg von Kette und Ritzeln.
steps-heading = Schritte
steps-of = Was gewechselt wird
steps-chain = Kette
steps-cassette = Kassette oder Ritzel
steps-ring = Kettenblatt
steps-tick = Jeden Schritt abhaken, sobald er getan ist; die Haken bleiben beim Wechsel.
steps-to-entry = Gleich zum Eintragen
steps-tools = Werkzeug: { $tools }.
steps-torque = Drehmoment vom Hersteller.
steps-check = Prüfung
steps-links = Für dieses Rad verzeichnet: { $links } Kettenglieder.
swap-enter = Wechsel eintragen
swap-done = Eingetragen: { $parts } ersetzt.
swap-unticked = Diese Prüfungen sind nicht abgehakt. Vor der Ausgabe des Rads nachholen:
swap-ticked = { $count ->
        [one] 1 Schritt abgehakt
       *[other] { $count } Schritte abgehakt
    }
swap-void = Diesen Wechsel zurücknehmen …
swap-void-text = Das alte Teil gilt als noch am Rad, und das Lager bekommt sein Teil zurück.

## Symptoms

symptom-note = Auffälligkeit notieren
symptom-title = Auffälligkeiten an Rad { $label }
symptom-intro = Ein Tippen trägt es ein, mit der jetzigen Zeit.
symptom-which-cog = Springt unter Last: auf welchem Ritzel?
symptom-cog = { $teeth } Zähne
symptom-cog-unknown = Weiß nicht
symptom-new-chain = Mit neuer Kette ausprobiert
symptom-other = Etwas anderes
symptom-remark = Bemerkung, falls nötig: vor dem Tippen schreiben
symptom-noted = Notiert: { $what }
symptom-on-cog = { $what }, Ritzel mit { $teeth } Zähnen
symptom-with-new-chain = { $what }, mit neuer Kette
symptom-evidence = Das zählt als Beleg: die Aussicht für Kassette und Kette berücksichtigt es.
symptom-lead = Das ist ein Hinweis, kein Beleg: die Aussicht bleibt, wie sie war. In dieser Reihenfolge nach der Ursache sehen, wie es üblich ist.
symptom-look = Wo nachsehen, das Wahrscheinlichste zuerst
symptom-model-says = Nach dem Verschleiß allein: { $chance }.
symptom-take-back = Zurücknehmen
symptom-taken-back = auf der Seite zurückgenommen
symptom-is-void = Zurückgenommen; es zählt nicht.
symptom-to-bike = Zu Rad { $label }
event-symptom = Auffälligkeit

## Bench, cards and labels

bench-title = Werkbankplan
bench-none = Noch kein Plan
bench-none-text = Ein Plan legt jedes fällige Rad auf einen Tag, an dem die Werkbank Zeit hat und die Teile da sind, sodass Warten und frühes Wechseln am wenigsten kosten. Nichts steht fest, bis du ihn bestätigst.
bench-from = Von
bench-to = Bis
bench-compute = Plan erstellen
bench-compute-again = Neuen Plan erstellen
bench-accepted = Bestätigt am { $date }.
bench-proposal = Vorschlag vom { $date }, noch nicht bestätigt.
bench-accept = Diesen Plan bestätigen
bench-see-proposal = Den neueren Vorschlag ansehen
bench-see-accepted = Zurück zum bestätigten Plan
bench-nothing-due = In diesen Tagen muss keine Kette herunter.
bench-nothing-known = { $bikes ->
        [one] Noch ist kein Wechsel geplant: erst muss 1 Rad gemessen werden.
       *[other] Noch ist kein Wechsel geplant: erst müssen { $bikes } Räder gemessen werden.
    }
bench-optimal = Das ist der günstigste mögliche Plan: { $cost }.
bench-gap = Dieser Plan kostet { $cost }; der günstigste kann nicht weniger als { $bound } kosten.
bench-load = { $needed ->
        [one] 1 Minute Arbeit ist
       *[other] { $needed } Minuten Arbeit sind
    } fällig; die Werkbank hat { $available }.
bench-minutes-used = { $used } von { $minutes ->
        [one] 1 Minute
       *[other] { $minutes } Minuten
    } belegt
bench-free-day = Nichts geplant.
bench-free-days = { $from } bis { $to }: { $count ->
        [one] 1 Werkbanktag
       *[other] { $count } Werkbanktage
    }, nichts geplant.
bench-closed = geschlossen
bench-bike = Rad
bench-work = Arbeit
bench-minutes = Minuten
bench-due = Bester Tag
bench-kept = bestätigt
bench-card = Karte
bench-pick-list = Benötigte Teile
bench-unknown-model = { $place }, Modell nicht verzeichnet
bench-stays-for-part = Verschlissen, bleibt aber dran, bis das neue Teil da ist: { $part }.
bench-stays-for-day = Verschlissen, bleibt aber dran, bis ein Tag für beides lang genug ist: { $part }.
bench-left-out = Was fehlt, und nicht geplante Räder
bench-short-minutes = { $date }: { $missing ->
        [one] 1 Minute
       *[other] { $missing } Minuten
    } zu wenig für { $bikes }.
bench-short-length = { $bikes }: länger als jeder Werkbanktag. Selbst { $date } ist um { $missing ->
        [one] 1 Minute
       *[other] { $missing } Minuten
    } zu kurz.
bench-short-parts = { $date }: noch { $missing } × { $part } nötig für { $bikes }.
bench-short-away = An jedem Werkbanktag außer Haus: { $bikes }.
bench-short-days = Kein offener Werkbanktag für { $bikes }.
bench-short-below = { $count ->
        [one] 1 Rad nicht geplant
       *[other] { $count } Räder nicht geplant
    }. Was fehlt, steht unter den Tagen.
bench-moved = Vom bestätigten Tag verschoben
bench-moved-to = { $label }: vom { $from } auf { $to }
bench-moved-out = { $label }: vom { $from }, jetzt nicht geplant
bench-moved-stays = { $label }: nicht mehr am { $from }, die Kette kann drauf bleiben
bench-measure-first = Erst messen
bench-measure-lead = Ihre Ketten müssen vielleicht in diesen Tagen herunter. Eine Messung entscheidet: erst messen, dann neu planen.
bench-measure-by = bis { $date }
bench-progress = { $done } von { $jobs ->
        [one] 1 Auftrag
       *[other] { $jobs } Aufträgen
    } erledigt.
bench-left-today = Heute hat die Werkbank noch { $minutes ->
        [0] keine Minute
        [one] 1 Minute
       *[other] { $minutes } Minuten
    }; Feierabend ist um { $closes }.
bench-troubled = { $count ->
        [one] 1 Auftrag passt nicht mehr
       *[other] { $count } Aufträge passen nicht mehr
    }
bench-troubled-text = Verschiebe die Aufträge oder mach einen neuen Plan: er hält jeden bestätigten Tag, der sich halten lässt.
bench-newly = Seit diesem Plan fällig geworden
bench-newly-due = { $label }: fällig am { $due }, nicht in diesem Plan
bench-job = Auftrag
bench-job-done = Erledigt
bench-job-move = Verschieben …
bench-job-place = Tag geben …
bench-job-title = Werkbankauftrag: Rad { $label }
bench-job-now = Geplant für { $day }.
bench-job-nowhere = Noch ohne Tag.
bench-job-choose = Tag wählen
bench-job-held = Der Auftrag bleibt dann in jedem Plan an diesem Tag, solange die Werkbank offen ist und die Teile da sind.
bench-job-hold = antippen, um ihn hier festzuhalten
bench-job-details = Mit Modellen, Messung und Prüfungen eintragen
bench-job-release = Wieder den Plan entscheiden lassen
bench-by-hand = an diesem Tag festgehalten
bench-takes = { $minutes ->
        [one] Dauert 1 Minute.
       *[other] Dauert { $minutes } Minuten.
    }
bench-done-on = erledigt { $when }
bench-recorded = Eingetragen für Rad { $label }: { $parts } ersetzt.
bench-stays-in = Das Rad bis dahin nicht ausgeben.
bench-checks = Prüfungen vor der Ausgabe
trouble-day-passed = Sein Tag ist vorbei, erledigt ist er nicht.
trouble-bench-closed = Die Werkbank ist an seinem Tag geschlossen.
trouble-today-is-over = Die Werkbank ist für heute geschlossen.
trouble-day-overfull = Passt nicht mehr hinein: die Aufträge des Tages dauern { $takes ->
        [one] 1 Minute
       *[other] { $takes } Minuten
    }, der Tag hat { $has }.
trouble-bike-away = Das Rad ist an seinem Tag nicht da.
trouble-part-missing = Bis dahin ist kein Teil da: { $part }.
trouble-still-on = Die Kette ist gewechselt, das ist noch dran: { $part }. Eine neue Kette kann darauf springen, und wer fährt, kann stürzen.
trouble-left-fleet = Das Rad ist nicht mehr in der Flotte.
trouble-can-stay-until = Nach heutigem Stand kann die Kette bis { $date } bleiben.
trouble-can-stay = Nach heutigem Stand kann die Kette bleiben.
trouble-measure-first = Erst messen: es ist jetzt zu wenig bekannt.
trouble-needs-checking = Muss erst geprüft werden.
trouble-due-earlier = Inzwischen früher fällig: { $date }.
trouble-also-worn = Inzwischen auch verschlissen: { $part }.
bench-no-day-minutes = Der Werkbank { $missing ->
        [one] fehlt 1 Minute
       *[other] fehlen { $missing } Minuten
    }; Räder mit höherem Risiko gehen vor.
bench-no-day-length = Kein Tag ist lang genug: es dauert { $minutes ->
        [one] 1 Minute
       *[other] { $minutes } Minuten
    }.
bench-no-day-part = In diesen Tagen ist kein Teil da: { $part }.
bench-no-day-away = Es ist an keinem Werkbanktag da.
bench-no-day-closed = Die Werkbank ist an keinem Tag offen.
bench-no-day-others = Warten kostet weniger als jeder Tag, der frei ist; Räder mit höherem Risiko gehen vor.
bench-served-by-risk = Zuerst bedient, weil Warten bei ihnen mehr kostet (mindestens { $least } am Tag gegenüber { $most }): { $labels }.
bench-served-by-hand = Zuerst bedient, weil jemand ihren Tag gewählt hat: { $labels }.
bench-served-by-promise = Zuerst bedient, weil ihr Tag bestätigt war: { $labels }.
bench-served-by-fit = Zuerst bedient, weil sie in die freien Tage passen: { $labels }.
bench-look-first = Muss erst geprüft werden
bench-days = Ausnahmen
bench-days-text = Die üblichen Minuten stehen in den Einstellungen; hier Feiertage oder lange Samstage eintragen.
bench-day = Tag
bench-add = Eintragen
bench-remove = Entfernen
bench-bookings = Räder außer Haus
bench-bookings-none = Kein Rad ist außer Haus.
bench-booking = { $label }: { $from } bis { $to }
bench-label = Nummer des Rades
bench-no-such = Kein Rad hat genau die Nummer „{ $label }“.
bench-print = Liste zum Drucken
bench-plot-title = Belegte Minuten am { $day }
list-title = Werkbankliste, { $from } bis { $to }
list-done = Erledigt
card-title = Arbeitskarte: Rad { $label }
card-parts = Teile
card-part-chain = Kette, { $links } Teilungen, und ein passendes Verbindungsglied
card-part-worn = { $part } – auch verschlissen: { $chance }
card-planned = Auf der Werkbank: { $day }.
card-steps = Schritte
card-read = Gemessen, bevor sie abkam: ______ %
card-by = Erledigt von: ____________  Datum: ____________
card-scan = Zum Messen oder Eintragen scannen
labels-title = Etiketten
labels-text = Ein Etikett für jedes Rad; mit der Telefonkamera gelesen öffnet es die Messseite. So anbringen, dass weder Kette noch Zug noch Hand daran reibt.
labels-none = Sobald Räder eingetragen sind, hat hier jedes sein Etikett.
labels-open = Etiketten zum Drucken
qr-title = Code, der Rad { $label } öffnet
print-hint = Diese Seite im Browser drucken.

## Stock

parts-title = Lager und Lieferungen
parts-none = Noch wird nichts gezählt
parts-none-text = Erst ein Teilemodell eintragen, dann wie viele im Lager liegen. Wechsel nehmen davon, Lieferungen kommen dazu.
parts-part = Teil
parts-on-shelf = Im Lager
parts-under-way = Bestellt
parts-planned = Für den Werkbankplan
parts-bench-lacking = Dem Werkbankplan fehlen
parts-bench-lacks = { $missing } × { $name } bis { $date }, für { $bikes }
parts-lead-time = Lieferzeit, Tage
parts-count = Anzahl
parts-counted = gezählt { $date }
parts-count-again = Neu gezählt
parts-start = Ein Modell zu zählen beginnen
parts-model = Teilemodell
parts-deliveries = Lieferungen unterwegs
parts-deliveries-none = Nichts ist unterwegs.
parts-delivery = { $count } × { $name }, erwartet { $date }
parts-arrived = Heute angekommen
parts-expect = Lieferung eintragen
parts-expected-on = Erwartet am
parts-models = Teilemodelle
parts-new-model = Teilemodell eintragen
parts-name = Name des Modells
parts-kind = Art
parts-teeth = Zähne (jedes Ritzels), bei einer Kette die Zahl der Ritzel
parts-price = Preis für eines, { $currency }
parts-no-price = kein Preis
parts-models-none = Noch kein Teilemodell. Ein Modell ist, was man bestellen würde: Name, Form und Preis.

## Orders

orders-title = Bedarf der nächsten { $days ->
        [one] Tages
       *[other] { $days } Tage
    }
orders-nothing = Das Lager deckt, was zu erwarten ist. Nichts muss bestellt werden.
orders-none = Kein Wechsel ist zu erwarten
orders-none-text = Sobald Räder eingetragen sind und gefahren werden, steht hier, wie viele Ketten, Kassetten und Blätter die nächsten Wochen brauchen und wann zu bestellen ist.
orders-now = Jetzt bestellen
orders-part = Teil
orders-quantity = Bestellen
orders-lasts = Wahrscheinlichkeit, dass das Lager bis zur Lieferung reicht
orders-counted = Aus den Aussichten von { $bikes ->
        [one] 1 Rad
       *[other] { $bikes } Rädern
    }.
orders-waiting = { $bikes ->
        [one] 1 weiteres wird
       *[other] { $bikes } weitere werden
    } gerade neu berechnet und hier nicht mitgezählt.
orders-plot-title = Lager und Lieferungen gegen den Bedarf von { $days } Tagen
orders-point = { $name }: wahrscheinlich { $p50 } gebraucht, in 1 von 10 Fällen mehr als { $p90 }; im Lager: { $shelf }, bestellt: { $coming }.
orders-point-none = { $name }: wahrscheinlich keine gebraucht, Bedarf in weniger als 1 von 10 Fällen; im Lager: { $shelf }, bestellt: { $coming }.
orders-point-few = { $name }: wahrscheinlich keine gebraucht, in 1 von 10 Fällen aber { $p90 } oder mehr; im Lager: { $shelf }, bestellt: { $coming }.
orders-axes = Schraffiert: im Lager. Umrandet: mit Lieferungen.
orders-marks = Striche: wahrscheinlicher Bedarf, und der in 1 von 10 Fällen überschrittene.
orders-not-counted = nicht gezählt
orders-unnamed = { $place } { $shape }, kein Modell eingetragen

## Hilfe und was ohne Verbindung aufgeht

help-link = Hilfe und Begriffe
help-title = Hilfe
help-on-this-page = Auf dieser Seite
help-first = Der erste Tag
help-then = Danach trägst du ein, was geschieht: Fahrten (aus Dateien, von einer App oder vom Kilometerzähler), Messungen, Pflege und Wechsel. Jeden Morgen sagt die Flottenseite, welches Rad zuerst jemanden braucht.
help-measuring = Eine Kette messen
help-gauge = Ohne Kraft auf ein gespanntes Stück Kette legen. Bleibt sie draußen, ist die Kette unter der Marke. Fällt sie hinein, hat die Kette die Marke erreicht. Die meisten Lehren zeigen zu viel, weil sie die Rollen auseinanderdrücken; das ist eingerechnet.
help-rule-name = Lineal
help-rule = Die Null auf die Mitte eines Bolzens legen und ablesen, wo der 24. Bolzen danach liegt: bei einer neuen Kette zwölf Zoll, also 304,8 mm. Ein Sechzehntelzoll mehr sind etwa 0,5 %.
help-shapes = Was die Zeichen bedeuten
help-advice =
    .swap_now = Wahrscheinlich verschlissen: eine neue Kette, bevor das Rad hinausgeht.
    .hold = Erst muss jemand nachsehen: Es ist zu wenig bekannt, Messungen widersprechen sich, oder eine neue Kette springt vielleicht.
    .swap_by = Eine neue Kette bis zum genannten Tag.
    .measure_by = Eine Messung bis zum genannten Tag sagt mehr, als sie kostet.
    .ride_on = Zurzeit ist nichts zu tun.
help-words = Begriffe
help-elongation-name = Längung
help-elongation = Bolzen und Hülsen verschleißen, die Kette wird länger: oben neu, unten verschlissen. In Prozent der neuen Länge. Das misst jede Lehre.
help-limit-name = Grenze
help-limit = Die Längung, bei der eine Kette herunterkommt: oft 0,5 % ab elf Ritzeln, 0,75 % bis zehn; die Angabe des Herstellers geht vor. Wo die Kette gerade steht, weiß niemand genau; die Kurve zeigt, wie wahrscheinlich jede Längung ist.
help-drivetrain-name = Ritzel und Kettenblätter
help-drivetrain = 1: die Kassette mit ihren Ritzeln oder ein einzelnes Ritzel. 2: das Kettenblatt an der Kurbel, oder mehrere. Eine Kette, die zu lange läuft, verschleißt beide.
help-skip-name = Springen
help-skip = Eine neue Kette findet auf verschlissenen, hakenförmigen Zähnen keinen Halt und springt unter Last; das kann zum Sturz führen. Dann muss die Kassette mit der Kette gewechselt werden.
help-chance-name = 3 von 10
help-chance = Von zehn Ketten, über die gleich viel bekannt ist, sind drei so.
help-reference-name = Vergleichskilometer
help-reference = Ein Kilometer auf trockenem Asphalt mit sauberer Kette. Regen, Matsch, Schmutz und Last lassen einen gefahrenen Kilometer mehr zählen.
help-found-name = Wie vorgefunden
help-found = Eine Kette, die schon am Rad war, als es angelegt wurde. Niemand weiß, wie weit sie gelaufen ist; darum sagt die erste Messung am meisten.
help-dates-name = Messen bis, wechseln bis
help-dates = „Wechseln bis“ ist der Tag, an dem die Wahrscheinlichkeit, jenseits der Grenze zu sein, das Risiko aus den Einstellungen erreicht. „Messen bis“ ist der Tag, ab dem sich eine Messung lohnt.
help-turn-name = Ketten im Wechsel
help-turn = Zwei oder mehr Ketten, die auf einer Kassette getauscht werden, damit alle zusammen verschleißen.
old-page = Keine Verbindung: Diese Seite ist vom { $time }.
offline-title = Keine Verbindung
offline-text = Diese Seite wurde auf diesem Gerät noch nicht angesehen. Angesehene Seiten gehen weiter auf; was du dort einträgst, wird aufgehoben und einmal gesendet.

## Part history and audit

lives-title = Verlauf der Teile
lives-link = Verlauf der Teile
lives-all = Alle
lives-place = Art
lives-none = Noch kein Teil
lives-none-text = Jedes eingetragene Rad bringt seine Teile mit, jeder Wechsel ein neues. Hier stehen ihre Strecken und die Räder, an denen sie waren.
lives-distance = Gefahren
lives-reference = Verschleiß wie
lives-bikes = An Rädern
lives-reference-text = „Verschleiß wie“ ist die Strecke auf trockener Straße mit gepflegter Kette, die ein Teil ebenso verschleißt.
lives-stay = { $label }, { $when }
lives-done = ausgemustert
lives-on-none = noch nicht angebracht
audit-title = Wer was getan hat
audit-text = Jede Änderung, die neueste zuerst. Diese Liste wächst nur.
audit-none = Noch wurde nichts geändert.
audit-when = Wann
audit-who = Wer
audit-what = Was
audit-program = der Dienst selbst
audit-gone = Zugang { $start }
audit-other = { $thing }: { $act }

## Track record

track-title = Prognosegüte
track-none = Noch traf keine Vorhersage auf eine Messung
track-none-text = Jedes Mal, wenn eine Kette gemessen wird, wird die Messung mit der Vorhersage davor verglichen. Sobald es welche gibt, zeigt diese Seite, wie oft die Vorhersage hielt, in guten und schlechten Monaten.
track-sentence = { $covered } von { $readings ->
        [one] 1 Messung
       *[other] { $readings } Messungen
    } lagen im mittleren Bereich der Vorhersage: { $share }. Richtig wären 8 von 10.
track-chance = Bei { $readings ->
        [one] 1 Messung
       *[other] { $readings } Messungen
    } ergäbe der Zufall { $low } bis { $high }.
track-bias-none = Im Mittel zeigten Ketten, was vorhergesagt war, bis auf { $percent }.
track-held = Das liegt in dem, was der Zufall ergäbe.
track-too-sure = Die Vorhersagen waren sicherer, als sie sein durften. Plane mit mehr Reserve.
track-too-vague = Die Vorhersagen waren unsicherer, als nötig war.
track-bias-faster = Im Mittel zeigten Ketten { $percent } mehr als vorhergesagt: sie verschleißen schneller, als wir sagen.
track-bias-slower = Im Mittel zeigten Ketten { $percent } weniger als vorhergesagt: sie verschleißen langsamer, als wir sagen.
track-better = Mittlerer Fehler: { $ours }. Eine feste Strecke für alle Ketten läge um { $fixed } daneben, eine Gerade durch die Messungen um { $line }.
track-worse = Mittlerer Fehler: { $ours }. Eine einfachere Regel war besser: eine feste Strecke für alle liegt um { $fixed } daneben, eine Gerade durch die Messungen um { $line }.
track-kept = { $kept } dieser { $all } Vorhersagen waren vor der Messung verzeichnet; die anderen wurden danach aus den Messungen zuvor berechnet.
track-months = Monat für Monat
track-plot-title = Anteil der Messungen im mittleren Bereich der Vorhersage, nach Monat
track-plot-point = { $month }: { $share } von { $readings ->
        [one] 1 Messung
       *[other] { $readings } Messungen
    }; der Zufall ergäbe { $low } bis { $high }.
track-plot-axes = Anteil, der hielt, nach Monat. Kasten: was der Zufall ergäbe. Marke: was war.
track-right = richtig: 80 %
track-by-group = Messungen nach Gruppe
track-group = Gruppe
track-readings = Messungen
track-share = Gehalten
track-verdict = In Worten
track-outside-chance = außerhalb dessen, was der Zufall ergäbe
track-inside-chance = in dem, was der Zufall ergäbe
track-shown = Kilometer, Termine und Wechsel: wie sie angezeigt wurden
track-shown-text = Was man damals sehen konnte, verglichen mit dem, was kam.
track-made-later = Kilometer, Termine und Wechsel: nachträglich berechnet
track-made-later-text = Für jeden Monatsanfang nur aus dem berechnet, was damals bekannt war. Importierte Daten werden danach beurteilt.
track-about = Vorhersage
track-came = Was kam
track-means = Was es bedeutet
track-kilometres = Kilometer
track-dates = Termine
track-dates-from-december = Termine, genannt von Dezember bis Februar
track-dates-from-march = Termine, genannt von März bis Mai
track-dates-from-june = Termine, genannt von Juni bis August
track-dates-from-september = Termine, genannt von September bis November
track-dates-by-group = Termine nach Gruppe
track-swap-by = Genannte Wechseltage
track-demand = Wechsel je Quartal
track-skips = Überspringen auf der alten Kassette
track-passages = Nach { $chains ->
        [one] 1 Kette
       *[other] { $chains } Ketten
    } zu urteilen, wurden { $covered } der Grenzen im genannten Bereich erreicht (richtig: 80 %), { $early } davor und { $late } danach.
track-swap-by-judged = Von { $judged ->
        [one] 1 Kette, die
       *[other] { $judged } Ketten, die
    } bis zum genannten Tag gefahren wurden, waren { $over } über der Grenze (akzeptiert: { $accepted } von 10).
track-swap-by-unread = { $ridden ->
        [one] 1 Kette wurde
       *[other] { $ridden } Ketten wurden
    } bis zum genannten Tag gefahren und seither nicht gemessen.
track-swap-by-early = { $early ->
        [one] 1 Kette kam
       *[other] { $early } Ketten kamen
    } vor dem genannten Tag herunter: im Mittel { $days } Tage davor.
track-demand-quarters = In { $covered } von { $quarters ->
        [one] 1 Quartal
       *[other] { $quarters } Quartalen
    } lag die Zahl der Wechsel im genannten Bereich. Wechsel insgesamt: { $came }; erwartet: { $expected }.
track-skips-tried = { $skipped } von { $tried ->
        [one] 1 neuen Kette
       *[other] { $tried } neuen Ketten
    } sprangen auf der alten Kassette über; erwartet: { $told }.
nav-track-record = Prognosegüte

## Was die Flotte gelehrt hat

nav-calibration = Kalibrierung
calibration-title = Was die Flotte gelehrt hat
calibration-learned = Aus { $chains ->
        [one] 1 gemessenen Kette
       *[other] { $chains } gemessenen Ketten
    } gelernt
calibration-when = Zuletzt gelernt am { $at }. Das nächste Mal von selbst: { $next }.
calibration-next = Jede Nacht ein Versuch; der nächste am { $next }.
calibration-ask = Jetzt lernen
calibration-asked = Die Flotte lernt. Bei 1.000 Ketten dauert das Sekunden; danach werden die Prognosen neu berechnet.
calibration-asked-done = Fertig: was hier steht, wurde gerade gelernt. Die Prognosen folgen binnen einer Minute.
calibration-look-again = Nachsehen, ob es fertig ist
calibration-none = Über den Verschleiß noch nichts gelernt
calibration-none-text = { $fewest ->
        [one] Dazu braucht es 1 gemessene Kette.
       *[other] Dazu braucht es { $fewest } gemessene Ketten.
    } Bis dahin gelten übliche Werte; sie stehen am Ende dieser Seite.
calibration-here = Auf dieser Seite
calibration-to-do = Was am meisten lehren würde
calibration-to-do-none = Es fehlt nichts: Werkzeuge, Leute und Kassetten sind gut genug bekannt. Miss weiter, wie die Flottenseite es sagt.
calibration-do = { $who }: { $what }
calibration-do-measure = { $fewest ->
        [one] 1 Kette
       *[other] { $fewest } Ketten
    } messen, jede mindestens zweimal im Abstand von einigen Wochen
calibration-do-name-tools = Werkzeuge benennen und bei jeder Messung sagen, welches es war
calibration-do-cassettes = Überspringen melden, und bei jedem Wechsel sagen, warum die Kassette abkam
calibration-tools-text = Wie viel jedes Werkzeug zu hoch oder zu niedrig misst. Alle Prognosen rechnen damit; ein Werkzeug, das falsch misst, schadet also nicht, sobald das bekannt ist.
calibration-reads = Misst
calibration-better = Um mehr zu wissen
calibration-unnamed = { $instrument }, ohne Namen
calibration-retired = { $name } (ausgemustert)
calibration-known = gut genug bekannt
calibration-untold = noch nichts bekannt
calibration-people = Leute
calibration-people-text = Wie viel jede Person mit demselben Werkzeug zu hoch oder zu niedrig misst. Auch damit rechnen die Prognosen.
calibration-person = Person
calibration-scatters = { $reads }; einzelne Messungen streuen { $times }-mal so stark wie üblich
calibration-rates = Wie schnell Ketten verschleißen
calibration-rates-text = Längung je { $per } trockener Straße mit gepflegter Kette. In Klammern: 8 von 10 Fällen. Eine Gruppe mit wenigen Ketten stützt sich auf die anderen.
calibration-fleet = die ganze Flotte
calibration-middle = Mittlere Kette der Gruppe
calibration-chains = 8 von 10 Ketten
calibration-measured = Gemessene Ketten
calibration-range = { $likely } ({ $low } bis { $high })
calibration-span = { $low } bis { $high }
calibration-models = Kettenmodelle
calibration-models-text = Wie schnell jedes Modell verschleißt, verglichen mit dem Mittel der Flotte.
calibration-models-none = Modelle werden verglichen, sobald Ketten von mindestens zweien gemessen wurden.
calibration-models-cost = Was jedes auf die Strecke kostet
calibration-against-fleet = Gegenüber dem Mittel
calibration-eight = 8 von 10 Fällen
calibration-lubricants = Schmierstoffe
calibration-lubricants-text = Wie schnell Ketten mit jedem verschleißen, verglichen mit dem Mittel der Flotte.
calibration-lubricants-none = Schmierstoffe werden verglichen, sobald bei der Pflege mindestens zwei genannt und Ketten mit beiden gemessen wurden.
calibration-lubricants-cost = Was jeder auf die Strecke kostet
calibration-conditions = Regen, Schotter, Schlamm, Rolle, Pflege
calibration-course = Räder, verschlissene Ketten, Jahre
calibration-bikes = { $share } der Unterschiede zwischen den Ketten einer Gruppe kommen von den Rädern: was frühere Ketten eines Rades gezeigt haben, zählt für seine nächste.
calibration-bikes-unknown = Ob ein Rad alle seine Ketten gleich verschleißt, ist noch nicht bekannt; dazu braucht es mehr Räder mit zwei gemessenen Ketten.
calibration-fast = Ab { $onset } verschleißen Ketten schneller: bei { $then } { $times }-mal so schnell.
calibration-fast-unknown = Ob Ketten gegen Ende schneller verschleißen, ist nicht bekannt: zu wenige wurden so weit gemessen. Angenommen ist ein gleiches Tempo bis zum Ende.
calibration-drift = { $said } (in 8 von 10 Fällen { $span }).
calibration-drift-unknown = Ob sich der Verschleiß von Jahr zu Jahr ändert, ist noch nicht bekannt.
calibration-seasons = Das Jahr
calibration-seasons-text = Wie viel in jedem Monat gefahren wird, verglichen mit dem Jahresmittel. Termine und Bestellungen richten sich danach.
calibration-seasons-none = Die Saison lernt die Flotte aus mindestens drei Rädern, von denen ein Jahr erfasst ist. Bis dahin lassen die Termine Raum dafür.
calibration-season = Saison
calibration-bikes-counted = Räder
calibration-cassettes = Kassetten
calibration-cassettes-so-far = Bisher: { $held ->
        [one] 1 neue Kette hielt
       *[other] { $held } neue Ketten hielten
    }, { $skipped ->
        [0] kein Überspringen wurde
        [one] 1 Überspringen wurde
       *[other] { $skipped }-mal wurde Überspringen
    } gemeldet, { $used ->
        [0] keine Kassette kam
        [one] 1 Kassette kam
       *[other] { $used } Kassetten kamen
    } verschlissen oder überspringend ab.
calibration-assumed = Noch angenommen
calibration-assumed-rate = Die mittlere Kette längt sich um { $likely } je { $per } trockener Straße mit gepflegter Kette; 8 von 10 Ketten um { $low } bis { $high }.
calibration-assumed-tools = Eine Kettenlehre fällt { $early } zu früh hinein, ein Messschieber misst { $caliper } zu hoch; Lineal, Messuhr und rollenspielfreie Lehre messen richtig. Alle Leute messen gleich.
calibration-assumed-season = Keine Saison: die Termine sind deshalb unsicherer.
season-plot-title = Nutzung nach Monat, verglichen mit dem Jahresmittel
season-plot-point = { $month }: das { $times }-Fache des Mittels, { $low } bis { $high } in 8 von 10 Fällen.
season-plot-axes = Vielfaches des Jahresmittels. Kasten: 8 von 10 Fällen. Marke: am wahrscheinlichsten.
season-mean = Mittel

## Messwerkzeuge

tools-title = Messwerkzeuge
tools-link = Messwerkzeuge benennen, umbenennen und ausmustern
tools-text = Gib jedem Lineal, jedem Messschieber und jeder Lehre einen Namen und schreibe ihn darauf. Messungen mit genanntem Werkzeug zeigen, wie viel es zu hoch oder zu niedrig misst, und die Prognosen rechnen damit.
tools-none = Noch kein Werkzeug hat einen Namen
tools-none-text = Bis dahin zählen alle Werkzeuge einer Art als eines. Benenne unten das erste, z. B. „Lineal Werkbank“.
tools-tool = Werkzeug
tools-is = Was es ist
tools-state = Stand
tools-in-use = in Gebrauch
tools-retired-on = ausgemustert am { $date }
tools-new = Ein Werkzeug benennen
tools-name = Name, wie er auf dem Werkzeug steht
tools-make = Werkzeug anlegen
tools-named = Das Werkzeug ist gespeichert. Beim Messen lässt es sich jetzt wählen.
tools-changed = Das Werkzeug hat seinen neuen Namen.
tools-retired = Das Werkzeug ist ausgemustert. Was damit gemessen wurde, bleibt.
tools-back = Das Werkzeug ist wieder in Gebrauch.
tools-change-title = Werkzeug: { $name }
tools-rename-text = Ein neuer Name ändert nichts an dem, was über das Werkzeug gelernt wurde.
tools-take-back = Wieder in Gebrauch nehmen
tools-retire = Dieses Werkzeug ausmustern…
tools-retire-text = Beim Messen lässt es sich dann nicht mehr wählen. Was damit gemessen wurde, bleibt, auch was darüber gelernt wurde.
tools-retire-button = Werkzeug ausmustern
tools-choose = Werkzeug
tools-unnamed = keins genannt

## Costs

nav-policy = Kosten
policy-title = Günstigste Grenze
policy-none = Noch kein Rad, also gibt es nichts zu vergleichen
policy-none-text = Sobald Räder eingetragen sind, vergleicht diese Seite, was es kostet, Ketten früh, spät oder nie abzunehmen.
policy-group = Räder der Gruppe
policy-look = Vergleichen
policy-limit = Ketten bei { $best } statt bei { $current } wechseln
policy-keep = Weiter bei { $current } wechseln
policy-end = Am günstigsten: Kette, Kassette und Blätter gemeinsam zu Ende fahren
policy-cost = Am günstigsten ist { $best }: im Mittel { $cost } je { $per }; in 8 von 10 Fällen { $low } bis { $high }.
policy-cost-end = Im Mittel { $cost } je { $per }; in 8 von 10 Fällen { $low } bis { $high }.
policy-interval = Mit aller Unsicherheit liegt die beste Grenze in 8 von 10 Fällen zwischen { $low } und { $high }. Dazu passt eine Messung etwa alle { $every }.
policy-exact = Mit aller Unsicherheit bleibt { $best } in 8 von 10 Fällen die beste Grenze. Dazu passt eine Messung etwa alle { $every }.
policy-worth = Der Wechsel von { $current }, der jetzigen Grenze, spart etwa { $percent }; dass er überhaupt spart: { $chance }. Lohnt sich.
policy-not-worth = Der Wechsel von { $current }, der jetzigen Grenze, spart etwa { $percent }; dass er überhaupt spart: { $chance }. Lohnt sich nicht.
policy-same = { $current } ist schon die jetzige Grenze.
policy-between = Früher kosten { $earlier } mehr, als gespart wird; später { $later }.
policy-lowest = Früheres wurde nicht verglichen; später kosten { $later } mehr, als gespart wird.
policy-highest = Späteres wurde nicht verglichen; früher kosten { $earlier } mehr, als gespart wird.
policy-to-the-end = Das kostet etwa { $percent } weniger als die beste Grenze: Kassette und Blätter sind billig neben den Ketten, die sie schonen würden.
policy-beyond = Das Günstigste liegt hier über { $limit }, der im Handwerk üblichen Grenze für diese Ritzel. Eine verschlissene Kette springt oder reißt unter Last und wirft ab: die Grenzen der Hersteller gehen vor.
policy-free-failure = Ein Ausfall unterwegs zählt hier als umsonst. Erst eintragen, was er kostet, dann danach handeln.
policy-curve = Kosten je Grenze
policy-plot-title = Kosten je { $per } nach der Längung, bei der Ketten abgenommen werden
policy-plot-says = Am wenigsten bei { $best }: { $cost }. Bei { $low }: { $low_cost }. Bei { $high }: { $high_cost }.
policy-plot-point = { $limit }: wahrscheinlich { $cost }, in 8 von 10 Fällen { $low } bis { $high }
policy-plot-axes = { $currency } je { $per }, nach der Längung, bei der Ketten abgenommen werden. Band: 8 von 10 Fällen.
policy-plot-best = am wenigsten
policy-plot-current = jetzt
policy-others = Andere Möglichkeiten
policy-models = Welche Kette
policy-model = Modell
policy-model-in-use = { $name }, im Einsatz
policy-model-more = Gegenüber der jetzigen
policy-model-tell = Noch nötige Ketten für ein sicheres Urteil
policy-model-told = keine
policy-model-close = zu ähnlich
policy-lubricants = Welcher Schmierstoff
policy-lubricant = Schmierstoff
policy-lubricant-more = Gegenüber dem jetzigen
policy-way = Möglichkeit
policy-per = Je { $per }
policy-more = Gegenüber der besten Grenze
policy-verdict = Urteil
policy-way-best = Ketten ab bei { $limit }, der besten Grenze
policy-way-current = Ketten ab bei { $limit }, der jetzigen Grenze
policy-way-end = Kette, Kassette und Blätter gemeinsam zu Ende
policy-way-turn = { $chains } Ketten abwechselnd auf einer Kassette, alle ab bei { $limit }
policy-way-best-in-use = Ketten bei { $limit } wechseln, beste und geltende Grenze
policy-way-usual = Ketten bei { $limit } wechseln, eine übliche Grenze
policy-turn-why = Ketten im Wechsel werden alle { $every } getauscht. Bei zwei Ketten kostet allein diese Arbeit { $work } je { $per }, Ketten und Ritzel kosten { $rest }: Der Wechsel lohnt sich, wo das Tauschen fast nichts kostet.
policy-alike = gleich
policy-adopt-column = Übernehmen
policy-adopt = Übernehmen
policy-adopt-text = { $count ->
        [one] Übernehmen macht die Grenze zu der des einen Rads von { $group }.
       *[other] Übernehmen macht die Grenze zu der aller { $count } Räder von { $group }.
    } Grenzen jenseits der üblichen haben keinen Knopf.
policy-adopted = { $count ->
        [one] Das eine Rad von { $group } hat jetzt die Grenze { $limit }.
       *[other] Alle { $count } Räder von { $group } haben jetzt die Grenze { $limit }.
    } Ihre Termine folgen in wenigen Minuten.
policy-way-whole = Die beste Grenze, mit ganzen Kassetten statt einzelner Ritzel
policy-dearer = { $amount } mehr
policy-cheaper = { $amount } weniger
policy-surely-dearer = teurer
policy-likely-dearer = wohl teurer
policy-open = nicht zu sagen
policy-likely-cheaper = wohl günstiger
policy-surely-cheaper = günstiger
policy-where = Wohin das Geld geht, wenn Ketten bei { $limit } abgehen
policy-where-text = Im Mittel; die Ursachen ergeben zusammen die Summe.
policy-cause = Ursache
policy-chains = Ketten
policy-cassettes = Kassetten
policy-rings = Kettenblätter
policy-looks = Messungen
policy-failures = Ausfälle unterwegs
policy-total = zusammen
policy-prices = Andere Preise ausprobieren, { $currency }
policy-prices-text = Das ändert nichts Gespeichertes. Ein leeres Feld nimmt wieder den gespeicherten oder angenommenen Preis.
policy-price-chain = Eine Kette
policy-price-cassette = Eine Kassette
policy-price-rings = Alle Blätter eines Rads
policy-price-cog = Ein einzelnes Ritzel, falls zerlegbar
policy-price-labour = Arbeit eines Wechsels
policy-price-reading = Eine Messung
policy-price-failure = Ein Ausfall unterwegs
coming-of-all = Das kommende Jahr: alle Räder
coming-of-group = Das kommende Jahr: { $group }
coming-text = Was die Wechsel jedes Monats verbrauchen: in der Hälfte der Fälle mehr, in der Hälfte weniger; in Klammern der Bereich, der in 8 von 10 Fällen stimmt.
coming-month = Monat
coming-chains = Ketten
coming-cassettes = Kassetten
coming-rings = Kettenblätter
coming-hours = Werkstattstunden
coming-cost = Teile und Arbeit
coming-rest = Rest { $month }, mit allem Überfälligen
coming-twelve = Die zwölf vollen Monate
coming-cell = { $likely } ({ $low } bis { $high })
coming-together = Ein nasses Jahr oder eines mit viel Betrieb verschiebt alle Monate gleich; deshalb ergeben die Bereiche der Monate zusammen nicht den des Jahres.
coming-waiting = { $count ->
    [one] Ein Rad zählt noch nicht mit: Seine Prognose wird gerade neu berechnet.
   *[other] { $count } Räder zählen noch nicht mit: Ihre Prognosen werden gerade neu berechnet.
}
policy-bad-price = „{ $typed }“ ist kein Betrag. Z. B. 12,50 eingeben; das Feld zählte nicht.
policy-basis = Grundlage
policy-assumed = Mangels Daten angenommen: { $list }.
policy-rate-default = Verschleißrate: die Voreinstellung, da noch nichts gelernt ist.
policy-rate-fleet = Verschleißrate: gelernt aus { $count ->
        [one] 1 gemessenen Kette
       *[other] { $count } gemessenen Ketten
    } der Flotte.
policy-rate-group = Verschleißrate: gelernt aus { $count ->
        [one] 1 gemessenen Kette
       *[other] { $count } gemessenen Ketten
    } von { $group }.
policy-bikes = Gruppe von { $count ->
        [one] 1 Rad
       *[other] { $count } Rädern
    }.

## Chain length

length-title = Kettenlänge
length-link = Kettenlänge
length-text = Berechnet aus größtem Kettenblatt, größtem Ritzel und ihrem Abstand. Nichts wird gespeichert.
length-of-bike = Ausgefüllt nach Rad { $label }.
length-stay = Kettenstrebe, mm: Mitte des Tretlagers bis Hinterachse
length-stay-hint = Ein Maßband genügt: 5 mm ändern die Länge um weniger als ein Glied.
length-work-out = Ausrechnen
length-links = { $links } Glieder, innere und äußere gezählt
length-exact = Die Formel gibt { $exact } von größtem Blatt zu größtem Ritzel; die nächste gerade Zahl ist { $even }.
length-pair = Ein Paar mehr lässt dem Schaltwerk Spielraum, wie es üblich ist.
length-straight = Gestreckt ist die Kette bei einer Strebe von { $stay } mm: das Hinterrad so setzen, dass sie rundum ein wenig Spiel hat.
length-capacity = Der Käfig des Schaltwerks muss { $teeth } Zähne aufnehmen; nachsehen, ob sein Hersteller so viele erlaubt.
length-on-record = Für dieses Rad verzeichnet: { $links } Glieder.
length-basis = Grundlage ist die Formel der Handbücher für Kettentriebe; am Fahrrad ist sie um weniger als ein zehntel Glied zu kurz. Eine Hinterradfederung, die beim Einfedern die Strebe verlängert, braucht den größten Abstand.
length-caution = Vor dem Kürzen die neue Kette um größtes Blatt und größtes Ritzel legen und sehen, ob sie reicht. Vor der Fahrt dieses Paar von Hand probieren: eine zu kurze Kette reißt das Schaltwerk ab oder blockiert das Rad. Die Anleitung des Herstellers geht vor.
length-bad-stay = „{ $typed }“ ist keine Länge. Millimeter eingeben, z. B. 455.

## Notifications

nav-hooks = Meldungen
digest-title = { $workshop } am { $date }
digest-subject = { $workshop }: { $count ->
    [one] 1 Rad fällig
   *[other] { $count } Räder fällig
}
digest-subject-nothing = { $workshop }: kein Rad fällig
digest-intro = { $count ->
    [one] 1 Rad ist bis { $until } fällig.
   *[other] { $count } Räder sind bis { $until } fällig.
}
digest-nothing = Bis { $until } ist kein Rad fällig.
digest-more = Und { $count } weitere
digest-caution = Beachte vor der Arbeit die Schritte auf der Seite des Rads: zuerst die Pedale, Hände weg vom drehenden Antrieb, Ritzelkanten schneiden. Eine verschlissene Kette oder Kassette kann springen und zum Sturz führen: prüfe unter Last und abseits des Verkehrs, bevor das Rad rausgeht.
digest-because = Du bekommst diese E-Mail, weil { $workshop } diese Adresse für eine Liste fälliger Räder eingetragen hat.
digest-unsubscribe = Diese E-Mails abbestellen
unsubscribe-title = E-Mails abbestellen
unsubscribe-asks = An { $address } werden keine Listen fälliger Räder mehr geschickt.
unsubscribe-do = Abbestellen
unsubscribe-done = Abbestellt. An diese Adresse werden keine solchen E-Mails mehr geschickt.
mend-unrecorded-swap = einen Wechsel der Kette zwischen { $after } und { $by } eintragen
mend-missing-distance = Fahrten von etwa { $distance } zwischen { $after } und { $by } eintragen
mend-missing-riding = die Fahrten zwischen { $after } und { $by } eintragen
mend-wrong-reading = die Messung vom { $by } als falsch markieren oder nochmals messen
mend-as-recorded = nochmals messen
wrong-is = ist { $given }
wrong-is-empty = ist leer
wrong-has-characters = hat { $count } Zeichen
wrong-has-entries = hat { $count } Einträge
wrong-is-unreadable = ist nicht lesbar
wrong-is-missing = fehlt
wrong-from-to = { $least } bis { $most }
wrong-allowed-characters = { $range } Zeichen
wrong-allowed-entries = { $range } Einträge
problem-changes-forgotten = Änderungen nach dieser Stelle sind nicht mehr gespeichert. Lies die Listen neu und folge von dort an.
problem-stale = Jemand anderes hat es in der Zwischenzeit geändert.
problem-no-such = Das gibt es in dieser Werkstatt nicht: { $thing }.
problem-body = der Inhalt
problem-file = die Datei
problem-on-line = { $wrong } (Zeile { $line })
problem-line = Zeile { $line }
problem-cell = Zeile { $line }, { $column }
problem-mistakes = { $count } Fehler, der erste: { $first }
problem-field = { $place } { $wrong }; erlaubt: { $allowed }
problem-fields = { $first } (und { $count } weitere)
plan-and-more = { $shown } und { $more } weitere
plan-minutes-used = { $used } von { $has } Minuten sind belegt
plan-planned = { $count ->
    [one] 1 Rad
   *[other] { $count } Räder
} an { $busy } von { $days } Werkbanktagen vom { $from } bis { $to }
plan-left-out = Nicht eingeplant: { $bikes }
plan-rings-stay = Ein verschlissenes Kettenblatt bleibt vorerst, weil das Teil oder ein Tag fehlt, der lang genug ist: { $bikes }
plan-minutes-over = Alle fälligen Räder brauchen { $needed } Minuten, und die Werkbank hat { $has }: { $over } zu wenig
plan-to-measure = Zu messen, bevor sie einen Tag bekommen: { $bikes }
plan-promises-kept = Alle { $count } zugesagten Tage werden eingehalten
plan-promises-broken = { $broken } von { $count } zugesagten Tagen werden nicht eingehalten: { $bikes }
plan-cheapest = Kein Plan, der dieselben Zusagen einhält, kostet weniger
plan-gap = Ein anderer Plan könnte höchstens { $percent } der Kosten sparen
plan-assumes-failures = Ausfälle je Kilometer über der Grenze
plan-assumes-uncounted-parts = Teile, die niemand zählt, sind da
plan-assumes-cassette-price = Preis von Kassetten, deren Modell keinen hat
plan-assumes-chain-price = Preis von Ketten, deren Modell keinen hat
plan-ring-waits-for-part = ein verschlissenes Kettenblatt wartet auf das neue Teil
plan-ring-waits-for-day = ein verschlissenes Kettenblatt wartet auf einen Tag, der für beides reicht
plan-would-skip = Eine neue Kette würde darauf mit einer Wahrscheinlichkeit von { $probability } springen
plan-promised-later = es ist für den { $date } zugesagt, nach dem letzten Tag dieses Plans
plan-no-chain = keine Kette ist dafür erfasst
plan-being-computed = seine Prognose wird gerade neu berechnet; plane gleich nochmals
plan-promised-day-passed = der zugesagte Tag ist vorbei, und die Kette ist noch am Rad
plan-bench-closed = an diesem Tag arbeitet die Werkbank nicht mehr
plan-bike-away = das Rad ist an diesem Tag nicht da
plan-day-too-short = es braucht { $takes } Minuten, und der Tag hat { $has }
plan-day-overfull = die { $has } Minuten oder die Teile des Tages reichen nicht mehr für alles, was zugesagt war
plan-chain-can-stay-until = nach dem, was seither bekannt ist, kann die Kette bis { $until } bleiben
plan-chain-can-stay = nach dem, was seither bekannt ist, kann die Kette vorerst bleiben
swap-shelf-empty = Laut Lagerbuch war kein Teil dieses Modells da; der Bestand bleibt bei null. Zähle das Lager
swap-shelf-last = Das war das letzte Teil dieses Modells im Lager
hooks-title = Benachrichtigungen
hooks-none = Noch kein Webhook
hooks-none-text = Ein Webhook ist die Adresse eines anderen Programms. Es bekommt einmal eine signierte Nachricht, wenn etwas eintritt, das du unten auswählst.
hooks-secret = Signaturschlüssel von { $label }. Jetzt kopieren; er wird nicht wieder gezeigt.
hooks-label = Name des Webhooks
hooks-url = Adresse, https://
hooks-events = Sendet, wenn
hooks-event-measure-by = eine Messung ist fällig
hooks-event-swap-by = ein Wechsel ist bis zu einem Tag fällig
hooks-event-swap-now = ein Wechsel ist jetzt fällig
hooks-event-measure-soon = eine Messung ist bald fällig
hooks-event-swap-soon = ein Wechsel ist bald fällig
hooks-event-check = ein Rad muss geprüft werden
hooks-event-no-longer-due = etwas Gemeldetes ist erledigt oder nicht mehr fällig
hooks-event-cassette-worn = eine Kassette sollte mit der Kette gewechselt werden
hooks-event-ring-worn = ein Kettenblatt sollte mit der Kette gewechselt werden
hooks-event-order-needed = ein Teil sollte bestellt werden
hooks-event-record-drifted = Prognosen liegen weiter daneben, als der Zufall erklärt
hooks-event-bike-retired = ein Rad aus dem Bestand genommen wurde
hooks-event-bike-returned = ein Rad wieder im Bestand ist
hooks-event-ride-rejected = Fahrten wurden abgelehnt
hooks-event-hook-disabled = ein anderer Webhook wurde abgeschaltet
hooks-event-test = eine Testnachricht
hooks-new = Ein weiteres Programm benachrichtigen
hooks-make = Webhook anlegen
hooks-well = in Ordnung
hooks-failing = schlägt seit { $since } fehl; wird weiter versucht
hooks-off-by-hand = abgeschaltet { $since }
hooks-off-gone = abgeschaltet { $since }: der Empfänger will keine Nachrichten mehr
hooks-off-failing = abgeschaltet { $since }: einen Tag lang kam nichts durch
hooks-test = Testnachricht senden
hooks-switch-off = Abschalten
hooks-switch-on = Einschalten
hooks-rotate = Neuer Signaturschlüssel
hooks-rotate-text = Nachrichten werden einen Tag lang auch mit dem alten signiert.
hooks-log = Letzte Nachrichten
hooks-log-none = Noch keine Nachricht.
hooks-delivered = zugestellt
hooks-waiting = wartet, { $tries ->
        [one] 1 Versuch
       *[other] { $tries } Versuche
    }
hooks-given-up = aufgegeben nach { $tries ->
        [one] 1 Versuch
       *[other] { $tries } Versuchen
    }
hooks-again = Noch einmal senden
hooks-no-event = Wähle mindestens ein Ereignis.

## Import and export

template-get = Vorlage für Räder (CSV)
template-text = In der Tabellenkalkulation ausfüllen, eine Zeile je Rad, und als CSV speichern. Die Überschriften dürfen deine eigenen Worte sein: „Nr.“, „Gänge“, „Neue Kette am“. Tage als 2026-03-01 oder 1.3.2026.
template-titles = Rad, Gruppe, Nutzung, Gänge, Neue Kette am
template-group = Stadtverleih
tables-title = Import und Export
tables-text = Tabellen als CSV, für eine Tabellenkalkulation, ein anderes Programm oder eine andere Werkstatt.
tables-export = Exportieren
tables-comma = mit Komma
tables-semicolon = mit Semikolon und Dezimalkomma
tables-import = Importieren
tables-order = Für den Umzug einer Werkstatt in der Reihenfolge oben importieren: Worauf sich eine Tabelle bezieht, muss schon da sein.
tables-kind = Was die Datei enthält
tables-file = Die Datei
tables-largest = CSV in UTF-8, bis { $mib } MiB. Die Spalten sind die des Exports oder haben übliche Überschriften.
tables-check = Datei prüfen
tables-check-text = Noch wird nichts geändert.
tables-no-file = Wähle zuerst eine Datei.
tables-too-large = Die Datei ist größer als { $mib } MiB. Mit dem Befehl oder der Schnittstelle importieren, oder in Teilen.
tables-mistakes = Nichts wurde geändert. Fehler gefunden: { $found }; gezeigt: { $shown }.
tables-line = Zeile
tables-column = Spalte
tables-wrong = Was nicht stimmt
tables-whole-line = ganze Zeile
tables-would = { $kind }, { $lines ->
        [one] 1 Zeile
       *[other] { $lines } Zeilen
    }, keine Fehler: { $new } wären neu, { $changed } geändert, { $known } bekannt.
tables-confirm = Jetzt importieren
tables-did = { $kind }, { $lines ->
        [one] 1 Zeile
       *[other] { $lines } Zeilen
    } importiert: { $new } neu, { $changed } geändert, { $known } bekannt. Die Aussichten folgen in wenigen Minuten.
tables-odd = { $lines ->
        [one] 1 Fahrt zählt
       *[other] { $lines } Fahrten zählen
    } vorerst nicht: keine Kette erfasst, oder das Rad war nicht mehr im Bestand.
tables-part-models = Teilemodelle
tables-bikes = Räder
tables-parts = Teile und wo sie waren
tables-rides = Fahrten
tables-readings = Messungen
tables-care = Pflege
tables-swaps = Wechsel
tables-odometer = Kilometerstände
tables-notice = Rad { $bike }: { $notice }

## Settings

settings-title = Einstellungen
settings-saved = Gespeichert. Alle Aussichten werden binnen einer Minute neu berechnet.
settings-workshop = Werkstatt
settings-name = Name der Werkstatt
settings-zone = Zeitzone, z. B. Europe/Dublin
settings-language = Sprache ihrer Seiten
settings-units = Strecken in
settings-km = Kilometern
settings-miles = Meilen
settings-currency = Währung, drei Buchstaben
settings-risk = Akzeptiertes Risiko, über der Grenze zu sein, Prozent
settings-risk-text = Eine Kette ist an dem Tag zum Wechsel fällig, an dem dieses Risiko erreicht ist. Niedriger heißt früher wechseln.
settings-soon = Bald fällig, Tage vorher
settings-soon-text = Webhooks und E-Mails melden eine Messung oder einen Wechsel so viele Tage vor dem Tag als bald fällig.
settings-limits = Grenzen der Längung, Prozent
settings-limits-text = Leer gelten die üblichen Werte: 0,5 ab 11 Ritzeln, 0,75 bis 10, 1,0 bei einem.
settings-limit-many = 11 Ritzel und mehr
settings-limit-some = 2 bis 10 Ritzel
settings-limit-one = ein Ritzel
settings-costs = Kosten, { $currency }
settings-cost-swap = Arbeit eines Wechsels
settings-cost-reading = eine Messung
settings-cost-failure = ein Ausfall unterwegs
settings-bench = Werkbank
settings-bench-week = Minuten nach Wochentag
settings-bench-minutes = Minuten für den Wechsel: { $place }
settings-bench-closes = Feierabend, Stunden:Minuten
settings-bench-setup = davon zum Einrichten, einmal je Rad
settings-tokens = Zugänge
settings-tokens-text = Ein Zugangsschlüssel meldet jemanden an oder lässt ein Programm herein. Er wird einmal gezeigt.
settings-token-new = Zugang anlegen
settings-token-label = Für wen oder was
settings-token-role = Rolle
settings-token-made = Zugangsschlüssel für { $label }. Jetzt kopieren; er wird nicht wieder gezeigt.
settings-token-revoke = Widerrufen
settings-token-revoked = widerrufen { $date }
settings-token-made-on = angelegt { $date }
settings-token-of-app = für die App { $app }
settings-token-of-rider = für die Räder von { $rider }
settings-token-of-both = App { $app } für die Räder von { $rider }
settings-token-gone = (gelöscht)
links-title = App verbinden
links-text = Mit einem Code bekommt eine App Zugang, ohne dass jemand einen Schlüssel kopiert. Er gilt einmal und 15 Minuten lang. Die App sieht dann die hier gewählten Räder und sonst keine.
links-rider = Wessen Räder
links-no-rider = Nur die, die die App selbst anlegt
links-app = Welche App
links-no-app = Beliebige App, für die Räder einer Person
links-label = Wie der Zugang heißen soll
links-make = Code anzeigen
links-code = Code für die App
links-made = Diesen Code in die App eintippen oder dort scannen:
links-until = gültig bis { $time }
links-waiting = Noch nicht benutzte Codes
links-take-back = Zurücknehmen
links-parties = Personen und Apps
links-parties-text = Der Name einer Person steht hier und sonst nirgends.
links-rider-name = Name der Person
links-rider-new = Person hinzufügen
links-app-name = Name der App
links-app-new = App hinzufügen
links-rider-needed = Wähle, wessen Räder die App sehen darf. Ohne Person kann nur die Leitung eine App zulassen.
authorize-title = { $app } bittet um Zugang
authorize-text = Die App darf dann die hier gewählten Räder sehen, für sie Einträge machen und sich selbst benachrichtigen lassen. Der Zugang lässt sich in den Einstellungen widerrufen.
authorize-choose = Bitte wählen
authorize-where = Die Antwort geht an { $origin }.
authorize-allow = Erlauben
authorize-deny = Jetzt nicht
settings-calendar = Kalender
settings-calendar-text = Kalenderprogramme können die Wechsel der nächsten sechs Monate zeigen und die Tage mit anderen Werkbankzeiten. Sie lesen sie unter einer eigenen Adresse; wer die Adresse hat, liest mit.
settings-calendar-none = Der Kalender hat gerade keine Adresse.
settings-calendar-since = Er hat seit { $at } eine Adresse. Sie lässt sich nicht wieder zeigen.
settings-calendar-make = Adresse anlegen
settings-calendar-renew = Adresse ersetzen
settings-calendar-renew-text = Der alte Link gilt dann nicht mehr.
settings-calendar-close = Adresse entfernen
settings-calendar-made = Die Adresse des Kalenders. Jetzt kopieren; sie wird nicht wieder gezeigt.
role-manager = Leitung: Einstellungen, Zugänge und alles Weitere
role-mechanic = Mechanik: die tägliche Arbeit
role-app = Programm: sendet Fahrten, liest Aussichten
settings-wrong = { $what }: schreibe { $allowed }.
a-number = eine Zahl

## Words and sentences by their code

place =
    .chain = Kette
    .cassette = Kassette
    .cog = Ritzel
    .ring = Kettenblatt
    .jockey_wheels = Schaltröllchen
swap-reason =
    .worn = verschlissen
    .skips = die Kette sprang unter Last
    .damaged = beschädigt
    .upgrade = gegen ein anderes Teil
    .other = aus anderen Gründen
instrument =
    .rule = Lineal
    .caliper = Messschieber
    .dial = Messuhr
    .drop_in = Kettenlehre
    .drop_in_isolating = Kettenlehre, rollenspielfrei
care =
    .cleaned = gereinigt
    .lubricated = geschmiert
    .cleaned_and_lubricated = gereinigt und geschmiert
gearing =
    .derailleur = Kettenschaltung
    .hub_gear = Nabenschaltung
    .single_speed = Singlespeed
use =
    .town = Stadt
    .touring = Reise
    .road = Straße
    .gravel = Gravel
    .mountain = Gelände
    .cargo = Lasten
    .e_bike = E-Bike
    .e_cargo = E-Lastenrad
symptom =
    .skips_under_load = Springt unter Last
    .drops_chain = Kette fällt ab
    .noisy = Macht Geräusche
    .slow_shifts = Schaltet träge oder gar nicht
cause =
    .worn_cog = Verschlissenes Ritzel
    .worn_chain = Verschlissene Kette
    .indexing = Schaltung verstellt
    .stiff_link = Steifes oder verbogenes Glied
    .bent_hanger = Verbogenes Schaltauge
    .cable = Schwergängiger Zug
    .end_stops = Endanschläge
    .front_cage = Umwerfer verstellt
    .worn_ring = Verschlissenes Kettenblatt
    .chain_length = Kette zu lang, zu kurz oder zu locker
    .loose_parts = Etwas ist locker
    .dirty_or_dry = Schmutzige oder trockene Kette
    .freehub = Freilauf, der nicht greift
    .jockey_wheels = Schaltröllchen
    .dont_fit = Teile, die nicht zusammenpassen
    .battery = Akku oder Motor des Schaltwerks
    .hub_gear = Nabenschaltung verstellt oder verschlissen
act =
    .create = { $thing }: eingetragen
    .change = { $thing }: geändert
    .remove = { $thing }: entfernt
    .delete = { $thing }: entfernt
    .retire = { $thing }: entfernt
    .revoke = { $thing }: entfernt
    .void = { $thing }: als falsch markiert
    .begin = { $thing }: begonnen
    .end = { $thing }: beendet
    .renew = { $thing }: neue Adresse
    .close = { $thing }: Adresse weggenommen
    .accept = { $thing }: bestätigt
    .compute = { $thing }: berechnet
    .move = { $thing }: auf einen anderen Tag gelegt
    .release = { $thing }: nicht mehr auf seinem Tag festgehalten
    .restore = { $thing }: zählt wieder
    .ask = { $thing }: angefordert
    .import = { $thing }: importiert
    .redeliver = { $thing }: nochmals gesendet
    .rotate_secret = { $thing }: neuer Signaturschlüssel
    .test = { $thing }: Testnachricht gesendet
    .redeem = { $thing }: eingelöst
    .offer = { $thing }: angelegt
    .adopt = { $thing }: übernommen
    .end_all = { $thing }: überall beendet
thing =
    .limit = Grenze einer Gruppe
    .address = Adresse
    .digest = E-Mail-Übersicht
    .group = Gruppe
    .kind_of_bike = Radtyp
    .lubricant = Schmierstoff
    .message = Nachricht
    .odometer_statement = Kilometerstand
    .proposed_bench_plan = Vorschlag eines Werkbankplans
    .settings = Einstellungen
    .stock_of_that_part_model = Lagerbestand dieses Teilemodells
    .tool = Messmittel
    .bench_job = Werkbankauftrag
    .bench_day = Werkbanktag
    .bench_plan = Werkbankplan
    .bench_settings = Einstellungen der Werkbank
    .bike = Rad
    .booking = Buchung
    .calendar = Kalender
    .table = Tabelle
    .calibration = Lernen der Flotte
    .care = Pflege
    .declared_use = Angegebene Nutzung
    .delivery = Lieferung
    .fitting = Montage
    .hook = Webhook
    .odometer = Kilometerstand
    .part = Teil
    .part_model = Teilemodell
    .reading = Messung
    .ride = Fahrt
    .session = Anmeldung
    .sign_in = Anmeldecode
    .stock = Lager
    .swap = Wechsel
    .symptom = Auffälligkeit
    .token = Zugang
    .app = App
    .rider = Person
    .link = Verbindung
    .workshop = Werkstatteinstellungen
instruction =
    .motor_off = Motor ausschalten und Akku herausnehmen
    .stand = Rad in den Ständer hängen oder so anlehnen, dass es nicht fällt
    .slacken = Auf das kleinste Blatt und das kleinste Ritzel schalten, damit die Kette locker ist
    .battery = Der Akku des Schaltwerks ist geladen; nicht abstecken, während es schaltet
    .read_old = Alte Kette noch einmal unter Spannung messen und eintragen, was sie zeigt
    .open_chain = Verbindungsglied öffnen oder, wo keines ist, einen Bolzen austreiben
    .length = Glieder der neuen Kette nach denen der alten abzählen oder die Länge ausrechnen; nie nach einer danebengelegten verschlissenen Kette
    .cut = Neue Kette auf Länge bringen
    .thread = Kette einfädeln, wie die alte lief: durch den Umwerfer, über das Blatt, um die Schaltröllchen, richtige Seite nach außen
    .thread_plain = Kette über Blatt und Ritzel legen, richtige Seite nach außen
    .close = Mit einem neuen Verbindungsglied in der Breite der Kette schließen, so herum, wie der Hersteller es sagt
    .link_seated = Glied belasten: Hinterradbremse ziehen, Pedal kräftig treten, bis beide Hälften einrasten; genau ansehen
    .no_stiff_link = Kurbel rückwärts drehen und ein Glied suchen, das sich nicht streckt
    .slack_set = Durchhang am Ausfallende oder Spanner einstellen: in der Mitte etwa ein Finger breit auf und ab, über eine ganze Umdrehung nirgends stramm; Rad gerade, Muttern fest
    .wheel_out = Hinterrad herausnehmen
    .hub_cable = Zug der Nabe lösen oder ihren Stellantrieb parken, wie der Hersteller es sagt
    .lock_ring_off = Ritzel mit der Kettenpeitsche halten und den Verschlussring lösen
    .cog_off = Ritzel abnehmen, wie seine Befestigung es verlangt: Sprengring, Verschlussring oder Gewinde
    .look_at_body = Freilaufkörper ansehen: tiefe Kerben alter Ritzel glatt feilen, einen gerissenen ersetzen
    .cassette_on = Neue Kassette aufschieben, breite Nut auf breite Nut, mit den Scheiben, die der Hersteller nennt
    .cogs_on = Neue Ritzel an die Stelle der verschlissenen, mit denselben Scheiben dazwischen, breite Nut auf breite Nut
    .cog_on = Neues Ritzel mit der Wölbung zur selben Seite auflegen; die Befestigung sitzt rundum
    .lock_ring_on = Verschlussring erst von Hand ansetzen, dann anziehen
    .no_play = An den Ritzeln rütteln: sie bewegen sich nicht auf ihrem Körper
    .wheel_in = Rad einsetzen: gerade, Achse ganz drin, Befestigung geschlossen
    .wheel_fast = Rad anheben und von oben auf das Laufrad schlagen: es bleibt an seinem Platz; die Bremse wirkt
    .pedals_first = Pedale und Kurbelschrauben lösen, solange die Räder stehen und die Kette auf dem größten Blatt liegt
    .crank_off = Kurbel abnehmen, wo das Blatt nicht über sie hinweg abgeht
    .ring_off = Blattschrauben über Kreuz lösen, je eine halbe Umdrehung
    .ring_on = Neues Blatt auflegen, Fangstift hinter die Kurbel, Marke wie vom Hersteller gezeigt; Schrauben über Kreuz anziehen
    .crank_on = Kurbel aufsetzen und ihre Schrauben anziehen
    .crank_fast = An Kurbel und Blatt rütteln: kein Spiel, das Blatt läuft rund
    .front_cage = Umwerfer eine Münze dick über dem größten Blatt und parallel dazu
    .end_stops = Endanschläge: im Ständer das Schaltwerk von Hand über das kleinste und das größte Ritzel hinaus drücken; es darf weder Rahmen noch Speichen erreichen
    .cog_clearance = Abstand des oberen Schaltröllchens zum größten Ritzel, wie der Hersteller des Schaltwerks sagt; es berührt nie
    .indexing_cable = Schaltung einstellen: durch alle Ritzel hin und zurück; Zugspannung je um eine Vierteldrehung ändern, bis keines hängt oder rattert
    .indexing_electronic = Schaltung einstellen: Schaltwerk in den Einstellmodus, in der Mitte der Kassette feinstellen, dann durch alle Ritzel hin und zurück
    .indexing = Schaltung einstellen: durch alle Ritzel hin und zurück; Zugspannung oder die Feinstellung eines elektronischen Schaltwerks ändern, bis keines hängt oder rattert
    .hub_indexing = Gänge der Nabe nach den Marken des Herstellers einstellen und im Stehen wie im Drehen alle schalten
    .largest_to_largest = Von Hand auf größtes Blatt und größtes Ritzel: der Käfig kann noch etwas weiter schwingen
    .skip_test = Abseits vom Verkehr auf den meistgefahrenen Ritzeln kräftig treten: springt die neue Kette, ist das Ritzel verschlissen; als Beobachtung eintragen
    .first_ride = Erste Fahrt abseits vom Verkehr, durch alle Gänge, zuerst die Bremsen
    .clean = Reinigen, was das neue Teil berührt; Gelenke der Kette schmieren, den Rest abwischen
    .enter = Wechsel mit dieser Liste eintragen
tool =
    .work_stand = Montageständer
    .steel_rule_or_chain_gauge = Stahllineal oder Kettenlehre
    .link_pliers = Kettengliedzange
    .chain_tool = Kettennieter
    .chain_whip = Kettenpeitsche
    .lock_ring_tool = Nuss für den Verschlussring
    .long_wrench = langer Schlüssel
    .snap_ring_pliers_or_lock_ring_tool = Sprengringzange oder Nuss für den Verschlussring
    .torque_wrench = Drehmomentschlüssel
    .pedal_wrench = Pedalschlüssel
    .crank_tool = Kurbelwerkzeug
    .hex_keys_or_star_keys = Innensechskant oder Sternschlüssel
    .ring_nut_wrench = Blattschraubenschlüssel
    .screwdriver_or_hex_key = Schraubendreher oder Innensechskant
torque =
    .maker = vom Hersteller
deference =
    .makers_and_rules = Die Anleitungen der Hersteller und örtliche Regeln gehen diesen Schritten vor. Wer nicht sicher ist, überlässt die Arbeit einer Fachkraft
inspection =
    .worn_cog = Welches Ritzel? Mit neuer Kette abseits vom Verkehr kräftig darauf treten; das Aussehen sagt nichts, denn Schaltzähne sehen neu schon verschlissen aus
    .worn_chain = Kette unter Spannung an mehreren Stellen messen
    .indexing = Im Ständer durch alle Ritzel schalten: keines hängt, keines rattert
    .stiff_link = Kurbel rückwärts drehen und im unteren Trum nach einem Knick sehen; Verbindungsglied ansehen
    .bent_hanger = Am Käfig entlang peilen: die Schaltröllchen stehen untereinander und in einer Linie mit den Ritzeln; mit einer Schaltaugenlehre messen
    .cable = Schaltzug von Hand ziehen: Rost, Knicke und ausgefranste Enden bremsen
    .end_stops = Im Ständer das Schaltwerk von Hand über beide Enden drücken: es erreicht weder Rahmen noch Speichen
    .front_cage = Umwerfer parallel zu den Blättern und eine Münze dick über dem größten
    .worn_ring = Kette vorn am Blatt unter Spannung abheben: zeigt sich mehr als ein halber Zahn, ist es verschlissen
    .chain_length = Größtes Blatt und Ritzel: der Käfig kann noch schwingen. Kleinste: kein Durchhang. Nabenschaltung: ein Finger Spiel
    .loose_parts = An Blatt, Kurbel, Kassette und Laufrad rütteln; Verschlussring und Schrauben mit dem Drehmoment des Herstellers
    .dirty_or_dry = Ein Glied abwischen: schwarze Paste oder blankes trockenes Metall
    .freehub = Laufrad halten, Ritzel von Hand drehen: sie greifen sofort, jedes Mal
    .jockey_wheels = Jedes von Hand drehen: läuft frei, Zähne nicht spitz, das obere mit seinem kleinen Seitenspiel
    .dont_fit = Kette, Ritzel, Blätter und Schalthebel vergleichen: Breiten und Anzahlen
    .battery = Laden; Stecker ansehen; Schaltwerk aus der Schutzstellung zurückholen
    .hub_gear = Nach den Marken des Herstellers einstellen; rutscht sie weiter, öffnet eine Fachkraft die Nabe
hazard =
    .turning_drivetrain = Hände, Haare und Ärmel weg vom drehenden Antrieb: er kann Finger abtrennen
    .sharp_teeth = Zähne von Ritzeln und Blättern schneiden: Handschuhe tragen, und die Hand aus dem Weg des Werkzeugs, wenn es abrutscht
    .motor_starts = Ein Motor, der von selbst anläuft, dreht die Kette mit der Hand darin
    .derailleur_moves = Ein elektronisches Schaltwerk bewegt sich, sobald eine Taste berührt wird: Finger weg
    .chain_whips = Eine gespannte Kette schlägt aus: beide Enden halten oder mit einem Haken überbrücken
    .chain_too_short = Eine Kette, die auf größtem Blatt und größtem Ritzel zu kurz ist, reißt das Schaltwerk ab und kann das Rad blockieren
    .link_used_once = Ein Verbindungsglied wird nur einmal verwendet, wenn nichts anderes darauf steht
    .link_not_seated = Ein Glied, das nicht eingerastet ist, öffnet sich unter Last und wirft ab, wer fährt
    .brake_disc = Finger und Lösungsmittel weg von der Bremsscheibe: sie kann heiß sein, ihre Kante schneidet, und mit Öl darauf bremst sie nicht
    .torque_arm = Die Drehmomentstütze der Nabe muss wieder so sitzen wie vorher, sonst dreht die Achse
    .snap_ring = Ein Sprengring fliegt: Brille tragen. Zähne schneiden: Handschuhe tragen
    .wheel_not_fast = Ein Laufrad, das nicht fest ist, springt beim Bremsen oder kräftigen Treten heraus
    .pedals_first = Pedale kommen vor den Rädern: ein Schlüssel, der abrutscht, treibt die Hand in die Zähne
    .derailleur_in_spokes = Ein Schaltwerk in den Speichen blockiert das Rad: nie fahren, bevor das stimmt
    .chain_too_short_here = Eine zu kurze Kette reißt hier das Schaltwerk ab und kann das Rad blockieren
    .skip_test = Eine Kette, die springt, wirft ab: im Sitzen, langsam, auf freier Fläche
    .first_ride = Erste Probefahrt abseits vom Verkehr
    .solvents_on_brakes = Lösungsmittel und Öl gehören nicht auf Bremsscheiben, Beläge und Felgen
    .hands_clear = Hände weg vom drehenden Antrieb
    .chain_jumps = Eine Kette, die unter Last springt, wirft ab: nicht im Verkehr fahren, bevor die Ursache gefunden ist
    .frayed_cable = Ausgefranster Zug sticht: abschneiden, Endkappe darauf
    .spokes_lock = Ein Schaltwerk in den Speichen blockiert das Rad
    .ring_teeth = Blattzähne schneiden
    .solvents_on_disc = Lösungsmittel gehören nicht auf Bremsscheiben und Beläge
    .freehub_lets_go = Ein Freilauf, der durchrutscht, wirft ab
    .moves_by_itself = Es bewegt sich, sobald eine Taste berührt wird
    .seat_the_link = Das geschlossene Glied mit dem Pedal gegen die Bremse belasten, bis beide Hälften eingerastet sind; ein Glied, das nicht sitzt, öffnet sich unter Last, und wer fährt, stürzt
    .doesnt_fit = Eine Kette, die nicht passt, springt unter Last: Sturzgefahr
    .too_short_on_largest = Auf größtem Blatt und größtem Ritzel reißt eine zu kurze Kette das Schaltwerk ab und kann das Rad blockieren
    .cassette_moves = Eine Kassette, die sich auf ihrem Körper bewegt, frisst sich hinein und kann sich lösen; das Drehmoment des Verschlussrings nennt sein Hersteller
assumption =
    .damage = Schaden je Längung und seine Streuung
    .road_failures = Ausfälle unterwegs je Längung
    .end_of_set = Längung, bei der ein Satz verschlissen ist
    .km_per_reference_km = Kilometer je Referenzkilometer
    .wear_rate = Verschleißrate
    .chain_price = Preis einer Kette
    .cassette_price = Preis einer Kassette
    .ring_price = Preis eines Kettenblatts
    .reading_price = Preis einer Messung
field =
    .named = { $name }
    .quantity = { $bound }
    .length_mm = Länge in mm
    .mark_on_scale = die Marke einer Lehre und ein Messmittel, das eine Zahl zeigt
    .length_without_rule = eine Länge über Teilungen und ein anderes Messmittel als das Lineal
    .number_on_gauge = eine Zahl und eine Lehre, die nur hineinfällt oder nicht
    .percent_on_gauge = eine Kettenlehre und Prozent oder Länge
    .drops_in_without_gauge = dieses Messmittel und das Hineinfallen
    .length_on_instrument = dieses Messmittel und eine Länge über Teilungen
    .gearing_and_sprockets = die Schaltung und die Zahl der Ritzel
    .measurement = Messung
    .what_was_read = was abgelesen wurde
    .mark_percent = Marke der Lehre
    .drops_in = ob sie hineinfällt
    .id = Kennung
    .after = Stelle in der Liste
    .amount_minor = Betrag
    .arrival = Tag der Ankunft
    .bike = Rad
    .bike_id = Kennung des Rads
    .bikes = Räder
    .calendar = Kalender
    .cases = Fälle
    .bike_kind = Radtyp
    .kind_id_and_name = kind_id und kind
    .drivetrain_twice = speeds, like_bike_id und der Rest eines Antriebs
    .chain_km_and_new = Kilometer der Kette und eine Kette, die neu angebracht wurde
    .chain_on_this_bike = Kette an diesem Rad
    .cog_on_this_bike = Ritzel an diesem Rad
    .care_and_interval = der Zustand der Pflege und ein Abstand
    .care_interval = Abstand der Pflege
    .care_setting = Pflege
    .cogs = Ritzel
    .currency = Währung
    .date = Datum
    .days = Tage
    .events = Ereignisse
    .since = since
    .flag = Ja oder Nein
    .from_and_to = erster und letzter Tag
    .from_and_until = erster und letzter Tag
    .km_and_weeks = ein Abstand in km und einer in Wochen
    .odometer_and_voided = der Kilometerstand und das Ungültigmachen
    .from_in_the_past = erster Tag, in der Vergangenheit
    .half_of_price = der Preis
    .half_of_ride_identity = die Kennung der Fahrt
    .external_id = external_id
    .bike_twice = bike_id und bike_external_id
    .bike_of_external_id = Rad mit dieser external_id
    .external_id_twice = external_id und die der Adresse
    .move_within_bike = move und Kennungen, die nur Fahrten eines Rads unterscheiden
    .half_of_voiding = das Ungültigmachen
    .interfaces = Aufnahmen
    .label = Nummer oder Name
    .group = Gruppe
    .workshop_name = Name der Werkstatt
    .source = Quelle
    .soon_days = Tage bis „bald fällig“
    .email_address = E-Mail-Adresse
    .hour = Stunde
    .period_and_weekday = der Rhythmus und der Wochentag
    .groups = Gruppen
    .source_id = Kennung bei der Quelle
    .note = Bemerkung oder Grund
    .idempotency_key = Idempotency-Key
    .limit = Grenze
    .limit_and_place = limit_percent und place
    .limit_and_model_place = die Grenze und der Ort des Modells
    .list = Liste
    .month = Monat
    .name = Name
    .number = Zahl
    .numbers = Zahlen
    .overlap_hours = Stunden der Überschneidung
    .part = Teil
    .part_model = Teilemodell
    .part_of_drivetrain = Teil des Antriebs
    .part_and_new_part = ein vorhandenes Teil und die Angaben zu einem neuen
    .model_and_place = das Modell und der Ort am Rad
    .model_and_part_place = das Modell und der Ort des Teils
    .place = Ort am Rad
    .position = Stelle
    .price = Preis
    .reading = Messung
    .reason_and_place = der Grund und der Ort am Rad
    .reading_and_place = die Messung und der Ort am Rad
    .readings = Messungen
    .retirement_and_bike = retired_at und das des Rads
    .rides = Fahrten
    .care_and_lubricant = Pflege ohne Schmieren und ein Schmierstoff
    .tool = Werkzeug
    .tool_and_instrument = das Werkzeug und das Messmittel
    .read_by = gemessen von
    .model = Modell
    .lubricant = Schmierstoff
    .ride_climb = Höhenmeter der Fahrt
    .ride_energy = Arbeit der Fahrt
    .ridden_on_and_times = Tag der Fahrt und Zeiten in der Datei
    .ridden_on_without_times = Tag der Fahrt für eine Datei ohne Zeiten
    .rings = Kettenblätter
    .secret = Signaturschlüssel
    .secret_bytes = Bytes des Signaturschlüssels
    .service_level = Lieferbereitschaft
    .setup_and_swap_minutes = die Minuten zum Einrichten und die eines Wechsels
    .closes_at = Feierabend
    .several_readings = mehrere von Prozent, Stellen und Länge
    .spots = gemessene Stellen
    .step_of_swap = Schritt eines Wechsels
    .substitutes = Ersatzmodelle
    .teeth = Zähne
    .part_and_place = das Teil und sein Ort am Rad
    .part_model_and_place = das Teilemodell und der Ort am Rad
    .part_that_went_on = das angebrachte Teil
    .place_and_model_so_far = der Ort am Rad und der bisherige des Modells
    .place_and_part_so_far = der Ort am Rad und der bisherige des Teils
    .place_and_shape = der Ort am Rad und was die Form beschreibt
    .substitute_and_model = die Orte von Ersatzmodell und Modell
    .symptom_and_skip = die Auffälligkeit und was vom Springen gesagt ist
    .line_and_stored = diese Zeile und was gespeichert ist
    .model_and_substitutes = dieses Modell und seine Ersatzmodelle
    .stay_and_part = diese Zeit und eine andere des Teils
    .stay_and_place = diese Zeit und die eines anderen Teils am selben Ort
    .stay_and_stored = diese Zeit und die gespeicherte
    .time = Zeit
    .time_zone = Zeitzone
    .token = Zugangsschlüssel
    .app_or_rider = App oder Person
    .role_and_reach = diese Rolle und eine App oder Person
    .app = App
    .rider = Person
    .redirect_uri = redirect_uri
    .redirect_uris = redirect_uris
    .two_calibrations = zwei Kalibrierungen eines Messmittels
    .url = Adresse
    .voided_without_part = voided_at ohne part_id
    .half_of_wind = Windstärke ohne Windrichtung oder umgekehrt
    .shelf_count = Anzahl im Lager
    .delivery_count = Anzahl einer Lieferung
    .pack_size = Packungsgröße
    .lead_time_days = Lieferzeit in Tagen
form =
    .email_address = eine E-Mail-Adresse wie hof@raeder.example, ohne Namen davor
    .weekday_with_weekly = ein Wochentag bei wöchentlich, keiner bei täglich
    .chain_km_as_found = Kilometer einer vorgefundenen Kette, ohne Tag des Anbringens
    .one_of_them = eines davon
    .whole_drivetrain = Blätter, Ritzel und Glieder, oder die Zahl der Gänge hinten, oder ein anderes Rad
    .name_of_kind = der Name eines Radtyps dieser Werkstatt
    .length_with_pitches = eine Länge mit Teilungen
    .up_to_1000 = 0 bis 1000
    .up_to_billions = 0 bis 1000000000000
    .page_size = 1 bis 100
    .feed_size = 1 bis 1.000
    .feed_place = now, oder next aus einer früheren Antwort, unverändert
    .line_of_odometer = eine Zeile der Tabelle odometer
    .care_setting = recorded, unrecorded, every 300 km oder every 2 weeks
    .interval_of_routine = ein Abstand nur bei regelmäßiger Pflege
    .km_or_weeks = entweder km oder Wochen
    .days_182 = 1 bis 182
    .window_92 = 1 bis 92 Tage, der letzte nicht vor dem ersten
    .month = JJJJ-MM
    .uuid = eine UUID
    .date = ein Datum als JJJJ-MM-TT, 1970 bis 9999
    .time_of_day = eine Uhrzeit als HH:MM, 00:00 bis 24:00
    .bench_day_of_plan = ein Tag des Plans, an dem die Werkbank besetzt ist, heute oder später
    .not_after_today = ein Tag, der nicht nach heute liegt
    .decimal_number = eine Dezimalzahl
    .decimal_point = ein Dezimalpunkt oder Strichpunkte zwischen den Zellen
    .label_of_one_bike = eine Nummer, die ein Rad hat, oder seine bike_id
    .last_not_before_first = ein letzter Tag nicht vor dem ersten
    .limit_with_chain = eine Grenze nur bei einer Kette
    .line_without_contradiction = eine Zeile, die nichts widerspricht
    .time_zone = ein Name aus der Zeitzonendatenbank der IANA, z. B. Europe/Dublin
    .name_of_one_model = ein Name, den ein Modell hat, oder seine part_model_id
    .name_of_one_model_of_place = ein Name, den ein Modell für den Ort hat, oder seine part_model_id
    .number = eine Zahl
    .service_level = eine Zahl von 0,5 bis 0,999
    .number_of_teeth = eine Zahl von Zähnen
    .teeth = eine Zahl von Zähnen
    .no_thousands = eine Zahl ohne Tausendertrenner
    .model_of_same_place = ein Modell für denselben Ort am Rad
    .model_for_part_place = ein Modell, das an den Ort des Teils passt
    .model_for_place = ein Modell, das an den Ort passt
    .lubricant_where_lubricated = ein Schmierstoff bei „geschmiert“ oder „gereinigt und geschmiert“
    .name_of_lubricant = der Name eines Schmierstoffs dieser Werkstatt
    .tool_of_instrument = ein Werkzeug dieser Art
    .part_of_place = ein Teil für diesen Ort
    .reason_with_sprockets = ein Grund nur bei Kassette, Ritzel oder Kettenblatt
    .reading_with_chain = eine Messung nur bei einer Kette
    .token_as_shown = ein Zugangsschlüssel, wie er beim Anlegen gezeigt wurde
    .app_rider_or_both = eine App, eine Person oder beides
    .bound_app = App oder Person nur mit der Rolle App
    .redirect_uri = eine vollständige https://-Adresse oder eine http://-Adresse von 127.0.0.1 oder [::1], ohne Fragment, Benutzername und Passwort
    .label_without_app = ein Name für den Zugang, wenn keine App gewählt ist
    .value_in_cell = ein Wert in dieser Zelle
    .whole_number = eine ganze Zahl
    .address_as_shown = eine Adresse, wie sie gezeigt wurde
    .public_address = eine Adresse im öffentlichen Internet
    .amount = ein Betrag, z. B. 12,50
    .https_address = eine Adresse mit https://
    .teeth_and_links = wie in 42, 11-13-15, 114
    .both_or_neither = beides oder keines
    .cog_with_skip = ein Ritzel und eine neue Kette nur beim Springen
    .instrument_once = jedes Messmittel einmal
    .numbers_with_spaces = Zahlen mit Leerzeichen dazwischen: 0.31 0.33
    .part_on_with_rest = on_part_id bei off_part_id, reading_id und voided_at
    .one_decimal_mark = ein und dasselbe Dezimalzeichen in der ganzen Tabelle
    .other_models_once = andere Modelle, jedes einmal
    .part_with_voided = Messungen eines Teils, die nicht zählen
    .place_or_model = ein Ort am Rad, ein Modell oder beides
    .price_and_currency = price_minor und currency zusammen
    .setup_up_to_shortest = das Einrichten dauert nicht länger als der kürzeste Wechsel
    .source_and_id = source und source_id zusammen
    .bike_id_or_external = bike_id oder bike_external_id
    .external_id_not_in_use = eine external_id, die kein anderes Rad hat
    .external_id_of_address = dieselbe external_id, oder keine
    .workshop_scope = move mit id_scope workshop
    .day_of_own_times = der Tag der Zeiten in der Datei oder keiner
    .day_of_ride = der Tag der Fahrt als JJJJ-MM-TT, bis heute
    .shape_of_place = sprockets bei chain; cogs und one_piece bei cassette; teeth bei cog, ring und jockey_wheels; narrow_wide bei ring
    .stays_apart = Zeiten, die sich nicht überschneiden
    .teeth_of_each_cog = Zähne jedes Ritzels
    .teeth_of_each_cog_as = Zähne jedes Ritzels: 11-13-15
    .label_not_in_use = ein Etikett, das kein anderes Rad im Bestand hat
    .label_of_bike_in_use = die Nummer eines Rads, das nicht ausgemustert ist, oder seine bike_id
    .name_of_model_of_place = der Name eines Modells für den Ort oder seine part_model_id
    .same_place = derselbe Ort am Rad
    .same_stay = dieselbe Zeit; Wechsel und Abnehmen ändern sie
    .retirement_time = die Zeit, zu der es ausgemustert wurde
    .currency = drei Buchstaben, z. B. EUR
    .today_or_later = heute oder später
    .flag = true oder false
    .voided_and_reason = voided_at und void_reason zusammen
    .wholes_with_hyphens = ganze Zahlen mit Bindestrichen dazwischen: 50-34
    .secret = whsec_ und Base64
    .time = eine Zeit nach RFC 3339 mit Zeitzone, 1970 bis 9999
    .cursor = die Stelle aus dem Verweis „next“ dieser Liste, unverändert
    .hook_address = eine vollständige Adresse mit https:// und Rechnername, ohne Benutzername, Passwort und Sprungmarke
    .part_or_place = part_id allein oder place mit oder ohne part_model_id
    .mark_with_gauge = eine Marke, und ob sie hineinfällt, nur bei einer Kettenlehre
    .percent_spots_or_length = Prozent oder Stellen, beim Lineal auch Länge und Teilungen
    .percent_with_scale = Prozent bei Lineal, Messschieber und Messuhr
    .length_with_rule = Teilungen und Millimeter bei einem Lineal
    .known_measurement = eine Messung bekannter Art
    .single_speed = Singlespeed nur mit einem Kettenblatt und einem Ritzel
    .nominal_mark = die Nennmarke der Lehre, Prozent
meaning =
    .kilometres_too_few = Zu wenige Ketten wurden bis zur Grenze gefahren, um zu sagen, ob die Kilometer stimmen.
    .kilometres_hold = Die Kilometer stimmen: plane danach.
    .kilometres_too_late = Ketten erreichen ihre Grenze etwa { $km } km früher als genannt: miss um so viel früher.
    .kilometres_too_early = Ketten halten etwa { $km } km länger als genannt: miss, bevor du wechselst.
    .kilometres_too_narrow = Die Kilometer sind unsicherer als genannt: plane mehr Reserve ein und miss öfter.
    .kilometres_too_wide = Die Kilometer sind sicherer als genannt: weniger Reserve genügt.
    .dates_too_few = Zu wenige Ketten wurden bis zur Grenze gefahren, um zu sagen, ob die Termine stimmen.
    .dates_hold = Die Termine stimmen: plane danach.
    .dates_too_late = Ketten erreichen ihre Grenze etwa { $days ->
        [one] 1 Tag
       *[other] { $days } Tage
    } früher als genannt: prüfe um so viel früher.
    .dates_too_early = Ketten halten etwa { $days ->
        [one] 1 Tag
       *[other] { $days } Tage
    } länger als genannt: miss, bevor du wechselst.
    .dates_too_narrow = Die Termine sind unsicherer als genannt: plane mehr Reserve ein und miss öfter.
    .dates_too_wide = Die Termine sind sicherer als genannt: weniger Reserve genügt.
    .swap_by_too_few = Zu wenige Ketten wurden bis zum genannten Tag gefahren und danach gemessen, um das Risiko zu beurteilen.
    .swap_by_kept = Das ist, was akzeptiert war: behalte das gewählte Risiko.
    .swap_by_too_late = Das ist mehr, als akzeptiert war: wechsle vor dem genannten Tag, oder wähle ein kleineres Risiko.
    .swap_by_too_early = Das ist weniger, als akzeptiert war: die genannten Tage liegen auf der sicheren Seite.
    .demand_too_few = Zu wenige Quartale sind vorbei, um die Zahlen zu beurteilen.
    .demand_holds = Die Zahlen stimmen: bestelle danach.
    .demand_too_few_forecast = Es kommen mehr Wechsel als vorhergesagt: bestelle etwa { $percent } % mehr.
    .demand_too_many_forecast = Es kommen weniger Wechsel als vorhergesagt: bestelle etwa { $percent } % weniger.
    .demand_too_narrow = Die Zahlen schwanken mehr als genannt: halte mehr Teile vorrätig.
    .skips_too_few = Zu wenige neue Ketten wurden auf alten Kassetten probiert, um etwas zu sagen.
    .skips_hold = Kassetten lassen so oft überspringen wie genannt: bestelle danach.
    .skips_more = Kassetten lassen öfter überspringen als genannt: halte bei jedem Kettenwechsel eine bereit.
    .skips_fewer = Kassetten lassen seltener überspringen als genannt: probiere die neue Kette, bevor du die Kassette ersetzt.
fit =
    .nothing_to_compare = Nichts zu vergleichen: zwei Teile angeben, die sich berühren
    .front_derailleur_on_narrow_wide = Das Kettenblatt mit { $teeth } Zähnen hält die Kette mit breiten und schmalen Zähnen; ein Umwerfer muss sie davon abheben
    .chain_sprockets_unknown = Niemand hat gesagt, für wie viele Ritzel die Kette ist; die Kassette hat { $cogs }
    .as_wide = Eine Kette für { $made_for } Ritzel ist so breit, wie { $cogs } Ritzel sie brauchen
    .wider = Eine Kette für { $made_for } Ritzel ist breiter als die Lücken von { $cogs } Ritzeln: sie schleift am nächsten
    .one_class_narrower = Eine Kette für { $made_for } Ritzel ist eine Klasse schmaler, als { $cogs } Ritzel verlangen: meist läuft sie und schaltet vielleicht träge; die Hersteller fragen
    .much_narrower = Eine Kette für { $made_for } Ritzel ist mehr als eine Klasse schmaler, als { $cogs } Ritzel verlangen: sie kann zwischen die Ritzel geraten
    .single_width_unknown = Ketten für ein Ritzel gibt es mit zwei Innenbreiten, 1/8 und 3/32 Zoll; Zahn und Kette messen
    .teeth_too_wide = Zähne für 1/8 Zoll sind breiter als eine Kette von 3/32 Zoll: sie steigt darauf auf
    .wide_chain_on_narrow_teeth = Eine Kette von 1/8 Zoll läuft auf Zähnen für 3/32 Zoll, etwas lauter und mit mehr Anspruch an eine gerade Kettenlinie
    .same_single_width = Kette und Zähne sind gleich breit
    .ring_width_unknown = Niemand hat gesagt, für wie viele Ritzel die Kette oder das Kettenblatt mit { $teeth } Zähnen ist
    .same_ring_width = Kette und Kettenblatt mit { $teeth } Zähnen sind für die gleiche Breite gemacht
    .ring_one_class_apart = Das Kettenblatt mit { $teeth } Zähnen ist für { $ring_for } Ritzel, die Kette für { $made_for }: eine Klasse Abstand läuft meist; die Hersteller fragen
    .ring_too_far_apart = Das Kettenblatt mit { $teeth } Zähnen ist für { $ring_for } Ritzel, die Kette für { $made_for }: zu weit auseinander
    .even_teeth = { $teeth } ist gerade: breite Zähne treffen bei jeder Umdrehung Außenlaschen
    .odd_teeth = { $teeth } ist ungerade: bei jeder zweiten Umdrehung trifft ein breiter Zahn Innenlaschen
    .wide_teeth_hold = Breite Zähne wie am Kettenblatt mit { $teeth } Zähnen sind für Ketten ab 9 Ritzel geformt
    .wide_teeth_hold_less = Breite Zähne wie am Kettenblatt mit { $teeth } Zähnen sind für Ketten ab 9 Ritzel geformt; eine breitere Kette halten sie schlechter
    .link_closed_once = Das Verschlussglied war schon geschlossen und ist für einmal gemacht
    .link_chain_unknown = Das Verschlussglied ist für { $link_for } Ritzel; niemand hat gesagt, wofür die Kette ist
    .link_width_differs = Das Verschlussglied ist für { $link_for } Ritzel, die Kette für { $made_for }: seine Stifte sind zu lang oder zu kurz
    .link_used_again = Das Verschlussglied darf wieder verwendet werden: so oft, wie sein Hersteller sagt, und nur, wenn es noch fest einrastet
    .link_fits = Verschlussglied und Kette sind für die gleiche Breite gemacht; wie herum es gehört, sagt sein Hersteller
    .within_capacity = Kettenblätter und Ritzel verlangen { $needed } Zähne Kapazität; der Käfig nimmt { $capacity } auf
    .beyond_capacity = Kettenblätter und Ritzel verlangen { $needed } Zähne Kapazität; der Käfig nimmt { $capacity } auf: die Kette hängt auf kleinem Blatt und kleinen Ritzeln durch oder ist für die großen zu kurz
    .largest_cog = Größtes Ritzel { $given }; das Schaltwerk lässt { $most } zu
    .smallest_cog = Kleinstes Ritzel { $given }; das Schaltwerk ist für { $least } und mehr gemacht
    .largest_ring = Größtes Kettenblatt { $given }; der Umwerfer ist für { $most } geformt
    .rings_apart = Die Kettenblätter liegen { $apart } Zähne auseinander; der Umwerfer schafft { $most }
    .ring_clearance = Größtes Kettenblatt { $given }; am Rahmen ist Platz für { $most }
    .length_needed = Größtes Kettenblatt und größtes Ritzel verlangen an dieser Kettenstrebe { $needed } Glieder
    .odd_length = { $given } Glieder ist ungerade: zwei Innenglieder verbinden sich nicht ohne Halbglied
    .too_short = Die Kette hat { $given } Glieder; größtes Kettenblatt und größtes Ritzel verlangen { $needed }
    .shorter_than_geometry = { $given } Glieder reichen nicht um { $large } und { $small } Zähne: an der kürzesten Kettenstrebe, bei der das Rad noch Platz hat, braucht es { $least }
    .longer_than_geometry = { $given } Glieder sind mehr, als ein Rahmen verlangt: um { $large } und { $small } Zähne braucht eine Kettenstrebe von { $chainstay_mm } mm { $most }
    .right_length = { $given } Glieder sind, was größtes Kettenblatt und größtes Ritzel verlangen
    .take_out = Die Kette hat { $given } Glieder; { $over } herausnehmen, damit es { $needed } sind, und vor dem Kürzen am Rad prüfen
    .take_out_and_tension = Die Kette hat { $given } Glieder; { $over } herausnehmen, damit es { $needed } sind, dann am Ausfallende spannen
    .cassette_interface_unknown = Niemand hat gesagt, welche Aufnahme die Kassette hat
    .hub_takes = Die Nabe nimmt { $interface }
    .hub_takes_with_spacer = Die Nabe nimmt { $interface } mit einem Distanzring: wie dick, sagt der Nabenhersteller, und der Abschlussring muss ganz greifen
    .hub_interface_unknown = Niemand hat gesagt, welche Aufnahme die Nabe hat
    .hub_takes_others = Die Nabe nimmt { $taken }, nicht { $interface }
    .shifter_fits = { $positions } Stufen für { $cogs } Ritzel; ob Schalthebel und Schaltwerk gleich weit ziehen, sagen die Hersteller
    .shifter_differs = { $positions } Stufen für { $cogs } Ritzel: die Schritte sind andere an Zahl und meist auch an Weite
bias =
    .reads_high = misst { $percent } % zu hoch, ± { $give_or_take }
    .reads_low = misst { $percent } % zu niedrig, ± { $give_or_take }
    .reads_true = misst richtig, ± { $give_or_take } %
    .drops_in_early = fällt { $percent } % zu früh hinein, ± { $give_or_take }
    .drops_in_late = fällt { $percent } % zu spät hinein, ± { $give_or_take }
bias-to-do =
    .new_chain_with_tool = damit eine neue Kette messen
    .new_chain_by_person = eine neue Kette messen
    .gauge_and_rule = einige Ketten damit und mit einem Lineal messen
effect =
    .wears_faster = { $percent } % schneller
    .wears_slower = { $percent } % langsamer
    .wears_alike = gleich
    .under_wears_faster = { $percent } % schneller
    .under_wears_slower = { $percent } % langsamer
    .under_wears_alike = gleich
    .rises = Ketten verschleißen von Jahr zu Jahr { $percent } % schneller
    .falls = Ketten verschleißen von Jahr zu Jahr { $percent } % langsamer
    .stays = Ketten verschleißen wie vor einem Jahr
condition =
    .rain_learned = Regen verschleißt Ketten { $times }-mal so schnell wie eine trockene Straße (in 8 von 10 Fällen: { $from } bis { $to })
    .rain_assumed = Angenommen: Regen verschleißt Ketten { $times }-mal so schnell wie eine trockene Straße. Gelernt wird es, sobald sich { $enough } Ketten darin unterscheiden; bisher { $chains }
    .gravel_learned = Schotter verschleißt Ketten { $times }-mal so schnell wie eine trockene Straße (in 8 von 10 Fällen: { $from } bis { $to })
    .gravel_assumed = Angenommen: Schotter verschleißt Ketten { $times }-mal so schnell wie eine trockene Straße. Gelernt wird es, sobald sich { $enough } Ketten darin unterscheiden; bisher { $chains }
    .mud_learned = Schlamm und Sand verschleißen Ketten { $times }-mal so schnell wie eine trockene Straße (in 8 von 10 Fällen: { $from } bis { $to })
    .mud_assumed = Angenommen: Schlamm und Sand verschleißen Ketten { $times }-mal so schnell wie eine trockene Straße. Gelernt wird es, sobald sich { $enough } Ketten darin unterscheiden; bisher { $chains }
    .indoor_learned = Auf der Rolle verschleißen Ketten { $times }-mal so schnell wie auf trockener Straße (in 8 von 10 Fällen: { $from } bis { $to })
    .indoor_assumed = Angenommen: Auf der Rolle verschleißen Ketten { $times }-mal so schnell wie auf trockener Straße. Gelernt wird es, sobald sich { $enough } Ketten darin unterscheiden; bisher { $chains }
    .neglect_learned = Eine Kette, die niemand pflegt, verschleißt { $times }-mal so schnell wie eine gereinigte und geschmierte (in 8 von 10 Fällen: { $from } bis { $to })
    .neglect_assumed = Angenommen: Eine Kette, die niemand pflegt, verschleißt { $times }-mal so schnell wie eine gereinigte und geschmierte. Gelernt wird es, sobald sich { $enough } Ketten darin unterscheiden; bisher { $chains }
season =
    .not_yet = nicht bekannt: weniger als ein Jahr erfasst ({ $days ->
        [one] 1 Tag
       *[other] { $days } Tage
    })
    .flat = das ganze Jahr etwa gleich
    .peak = am meisten im { $most }, das { $times }-Fache des Mittels, ± { $give_or_take } %; am wenigsten im { $least }, das { $least_times }-Fache
cassettes =
    .learned = Eure Kassetten vertragen das { $median }-Fache des üblichen Verschleißes, bis eine neue Kette überspringt, ± { $give_or_take }. Das zeigen { $held ->
        [one] 1 neue Kette, die hielt
       *[other] { $held } neue Ketten, die hielten
    }, { $skipped ->
        [one] 1 gemeldetes Überspringen
       *[other] { $skipped }-mal gemeldetes Überspringen
    } und { $used_up ->
        [one] 1 Kassette, die verschlissen oder überspringend abkam
       *[other] { $used_up } Kassetten, die verschlissen oder überspringend abkamen
    }.
    .not_yet = Noch nicht gelernt. Übliche Werte gelten, bis { $fewest } Kassetten gezeigt haben, was sie vertragen, und einige davon ihr Ende.
conflict =
    .too_many_digests = Die Werkstatt hat schon { $most } E-Mail-Übersichten; mehr sind nicht möglich.
    .no_mail = Dieser Dienst verschickt keine E-Mails. Dafür braucht er die Einstellungen smtp-url, mail-from und public-url.
    .digest_stopped = Der Empfänger hat sie abbestellt ({ $at }). Lege eine neue an, wenn er sie wieder möchte.
    .lubricant_named = Einen Schmierstoff mit diesem Namen gibt es schon.
    .voided_before = Das gilt schon nicht mehr.
    .counts_already = Das gilt schon, oder dasselbe wurde seither neu erfasst.
    .taken_off_by_swap = Ein Tausch hat das Teil am { $at } abgenommen. Diesen Tausch zurücknehmen und mit seiner Zeit neu erfassen.
    .last_manager = Das ist der letzte gültige Zugang mit Leitungsrecht. Erst einen anderen anlegen.
    .bike_labelled = Ein Rad im Bestand heißt schon { $label }. Ein anderes Etikett nehmen oder jenes Rad erst aus dem Bestand nehmen.
    .external_id_taken = Ein anderes Rad hat diese external_id. Bitte eine andere nehmen.
    .bike_labelled_now = Ein anderes Rad im Bestand hat inzwischen dieses Etikett. Bitte ein anderes nehmen.
    .label_taken = Ein anderes Rad im Bestand hat schon dieses Etikett. Bitte ein anderes nehmen.
    .bike_external_id = Ein anderes Rad hat schon die external_id { $external_id }.
    .ride_elsewhere = Diese Fahrt ist schon bei einem anderen Rad ({ $bike }) erfasst.
    .ride_there = Beim anderen Rad gibt es schon eine Fahrt derselben Quelle mit derselben Kennung.
    .bike_retired = Das Rad ist seit { $at } nicht mehr im Bestand; erst zurückholen.
    .tool_named = Ein Werkzeug mit diesem Namen gibt es schon.
    .kind_named = Einen Radtyp mit diesem Namen gibt es schon.
    .kind_in_use = { $bikes ->
        [one] 1 Rad ist von diesem Typ. Gib ihm zuerst einen anderen.
       *[other] { $bikes } Räder sind von diesem Typ. Gib ihnen zuerst einen anderen.
    }
    .place_taken = An dieser Stelle ist zu dieser Zeit ein Teil. Trage stattdessen einen Wechsel ein.
    .part_on_bike_then = Das Teil ist zu dieser Zeit an einem Rad.
    .part_on_bike = Das Teil ist an einem Rad. Nimm es erst ab.
    .part_off = Das Teil ist schon ab.
    .fitted_by_swap = Ein Wechsel hat das Teil zu dieser Zeit angebracht. Mache ihn rückgängig und trage ihn mit der richtigen Zeit ein.
    .part_elsewhere = Das angebrachte Teil war seitdem woanders. Bringe erst das in Ordnung.
    .part_back_on_bike = Das abgenommene Teil war seitdem an einem Rad. Nimm erst das zurück.
    .same_reading = Beide Teile haben dieselbe Messung. Markiere erst eine davon als falsch.
    .readings_count = Das angebrachte Teil hat Messungen, die zählen. Markiere sie erst als falsch.
    .stay_changed = Die Zeit des abgenommenen Teils wurde seitdem geändert. Bringe erst das in Ordnung.
    .bench_day_taken = Dieser Tag steht schon in der Liste. Entferne ihn dort erst.
    .stock_kept = Dieses Modell wird schon gezählt. Ändere seine Zahl in der Tabelle.
    .other_proposal = Es gibt einen neueren Vorschlag. Sieh ihn an, bevor du ihn bestätigst.
    .too_many_hooks = Die Werkstatt hat schon die höchste Zahl an Webhooks. Entferne erst einen.
    .too_many_hooks_of_token = Dieser Zugang hat schon { $most } Webhooks, mehr gibt es nicht.
    .app_named = Eine App mit diesem Namen gibt es schon.
    .app_in_use = Der App gehören noch Räder, oder Zugänge für sie gelten noch. Nimm ihr erst die Räder und widerrufe die Zugänge.
    .rider_in_use = Der Person gehören noch Räder, oder Zugänge für sie gelten noch. Nimm ihr erst die Räder und widerrufe die Zugänge.
    .hook_disabled = Der Webhook ist ausgeschaltet. Schalte ihn erst ein.
    .delivery_arrived = Die Lieferung ist angekommen.
    .no_curve = Für diese Preise gibt es keine Kurve.
    .stored = Es widerspricht dem, was gespeichert ist.
    .prices_beyond_reason = Diese Preise liegen zusammen außerhalb des Sinnvollen.
ride_fault =
    .format = ist weder GPX noch FIT
    .zip_archive = ist ein Zip-Archiv
    .gzip = lässt sich nicht entpacken: { $cause }
    .too_large = ist entpackt größer als { $bytes } Bytes
    .too_many_points = hat mehr als { $most } Punkte
    .not_utf8 = ist ab Byte { $byte } kein UTF-8
    .xml = ist kein gültiges XML: { $cause }
    .document_type = enthält eine Dokumenttyp-Deklaration
    .entity = enthält die Entität { $name }
    .too_deep = hat mehr als { $most } Ebenen ineinander
    .not_gpx = hat das Wurzelelement { $name }
    .version = hat die Version { $name }
    .no_track = enthält keine aufgezeichnete Strecke
    .too_few_points = { $count ->
        [0] hat keinen Punkt
        [one] hat nur einen Punkt
       *[other] hat { $count } Punkte
    }
    .missing = fehlt
    .value = ist { $given }
    .clock_not_set = ist { $given }, die Uhr des Geräts war nicht gestellt
    .in_future = ist { $given }, das liegt in der Zukunft
    .too_long = ist { $given }, der erste Punkt ist von { $started_at }
    .fit = lässt sich nicht lesen: { $cause }
    .nothing_ridden = enthält keine gefahrene Strecke: { $cause }
    .too_much = ist mehr, als eine Fahrt sein kann: { $cause }
ride_form =
    .gpx_or_fit = GPX 1.1 oder eine FIT-Aktivität
    .file_inside = die GPX- oder FIT-Datei darin, unverpackt oder mit gzip gepackt
    .whole_gzip = eine vollständige gzip-Datei
    .bytes = höchstens { $most } Bytes
    .most_points = höchstens { $most } Punkte
    .utf8 = Text in UTF-8
    .xml = gültiges XML
    .no_document_type = XML ohne Dokumenttyp-Deklaration
    .entities = amp, lt, gt, quot, apos und Zeichenreferenzen
    .depth = höchstens { $most } Ebenen
    .versions = 1.1 oder 1.0
    .track = mindestens ein trk mit Punkten
    .two_points = mindestens 2 Punkte
    .value = ein Wert
    .these = { $form }
    .set_clock = ab 2000-01-01T00:00:00Z
    .up_to = bis { $now }
    .one_ride = Zeiten innerhalb von 31 Tagen: eine Fahrt je Datei
    .whole_fit = eine vollständige FIT-Datei
    .activity = 4, eine Aktivität
    .cycling = Radfahren (2), E-Bike (21) oder allgemein (0)
    .moves = eine Strecke mit Bewegung, oder die Arbeit auf dem Rollentrainer
table_fault =
    .no_header = hat keine Kopfzeile
    .unknown_column = ist keine Spalte dieser Tabelle
    .column_twice = steht zweimal da
    .column_missing = fehlt
    .cells = hat { $count } Zellen
    .not_utf8 = ist kein UTF-8
    .endless = ist länger als { $bytes } Bytes; vielleicht ist ein Anführungszeichen nicht geschlossen
    .open_quote = hat ein Anführungszeichen, das nicht geschlossen ist
    .unreadable = ist nicht lesbar: { $cause }
table_form =
    .header_with = eine Kopfzeile mit { $columns }
    .columns = { $columns }
    .each_once = jede Spalte einmal
    .this_column = eine Spalte dieses Namens
    .bike_column = eine Spalte bike mit Nummern oder bike_id mit Kennungen
    .cells_as_header = { $count } Zellen, wie die Kopfzeile
    .utf8 = Text in UTF-8
    .shorter_lines = kürzere Zeilen
    .closing_quote = ein schließendes Anführungszeichen
    .csv = CSV (RFC 4180)
unit =
    .percent = Prozent
    .pitches = Teilungen
    .teeth = Zähne
    .rings = Kettenblätter
    .cogs = Ritzel
    .spots = Stellen
    .minutes = Minuten
    .parts = Teile
vocabulary =
    .place = Ort am Rad
    .instrument = Messmittel
    .gearing = Schaltung
    .use = Nutzung
    .role = Rolle
    .kind = Art
    .state = Zustand
    .entered_with = eingetragen mit
    .language = Sprache
    .surface = Untergrund
    .motor = Motor
    .symptom = Auffälligkeit
quantity =
    .ELONGATION_READING = Längung
    .LIMIT = Grenze
    .GAUGE_MARK = Marke der Lehre
    .MEASURED_PITCHES = gemessene Teilungen
    .LENGTH_PER_24_PITCHES = Länge über 24 Teilungen
    .SPOTS = gemessene Stellen
    .TEETH = Zähne
    .LINKS = Kettenlänge
    .CHAINSTAY = Kettenstrebe
    .RING_COUNT = Kettenblätter
    .COG_COUNT = Ritzel
    .JOCKEY_TEETH = Zähne der Schaltröllchen
    .PROBABILITY = Wahrscheinlichkeit
    .BENCH_MINUTES = Minuten der Werkbank
    .JOB_MINUTES = Minuten einer Arbeit
    .PART_COUNT = Anzahl Teile
    .RIDE_DISTANCE = Strecke der Fahrt
    .ODOMETER = Kilometerstand
    .KM_PER_WEEK = Strecke pro Woche
    .CARE_INTERVAL_KM = Kilometer zwischen zwei Reinigungen
    .CARE_INTERVAL_WEEKS = Wochen zwischen zwei Reinigungen
    .RIDE_ASCENT = Anstieg der Fahrt
    .RIDE_ENERGY = Arbeit der Fahrt
    .WHEEL_CIRCUMFERENCE = Radumfang
    .TOTAL_MASS = Gesamtgewicht
notice =
    .cassette_worn = Eine neue Kette springt auf dieser Kassette wahrscheinlich ({ $percent } %): plane mit der nächsten Kette eine Kassette ein. Ein Sprung kann zum Sturz führen: prüfe vor der Ausfahrt unter Last und abseits des Verkehrs, ob sie springt.
    .ring_worn = Das Kettenblatt mit { $teeth } Zähnen ist mit der Kette wahrscheinlich verschlissen ({ $percent } %): plane mit der nächsten Kette ein Kettenblatt ein.
    .came_off = Das Teil ist nicht mehr am Rad.
    .not_due = Was gemeldet war, ist nicht mehr fällig.
    .order_needed = Bestelle { $count }: der Vorrat reicht mit { $percent } % Wahrscheinlichkeit bis zur Lieferung.
    .intervals_too_narrow = { $percent } % von { $readings } Messungen lagen zwischen P10 und P90, und der Zufall erklärt { $least } bis { $most } %: die Prognosen sind sicherer, als sie sein sollten. Plane mehr Spielraum ein.
    .intervals_too_wide = { $percent } % von { $readings } Messungen lagen zwischen P10 und P90, und der Zufall erklärt { $least } bis { $most } %: die Prognosen sind unsicherer, als sie sein müssten.
reason =
    .no_chain = Für dieses Rad ist keine Kette erfasst. Montiere eine, oder trage den Wechsel ein, der sie abgenommen hat
    .contradiction = Die Messungen widersprechen sich; jemand muss sich diese Kette ansehen
    .doubt_unrecorded_swap = Messungen und Aufzeichnung passen nicht zusammen; am wahrscheinlichsten wurde eine neue Kette montiert und nicht eingetragen ({ $probability }), und davon hängt ab, was zu tun ist
    .doubt_missing_riding = Messungen und Aufzeichnung passen nicht zusammen; am wahrscheinlichsten fehlen Fahrten ({ $probability }), und davon hängt ab, was zu tun ist
    .doubt_wrong_reading = Messungen und Aufzeichnung passen nicht zusammen; am wahrscheinlichsten ist eine Messung falsch ({ $probability }), und davon hängt ab, was zu tun ist
    .doubt_as_recorded = Messungen und Aufzeichnung passen nicht zusammen; am wahrscheinlichsten ist es Zufall ({ $probability }), und davon hängt ab, was zu tun ist
    .likely_over = Die Kette ist mit einer Wahrscheinlichkeit von { $probability } über ihrer Grenze
    .risk_passed = Die Wahrscheinlichkeit, über der Grenze zu sein, ist { $probability } und damit über den akzeptierten { $risk }; eine neue Messung würde wenig ändern
    .risk_passed_unmeasured = Die Wahrscheinlichkeit, über der Grenze zu sein, ist { $probability } und damit über den akzeptierten { $risk }; eine Messung sagt, ob die Kette gewechselt werden muss
    .risk_reached = Die Wahrscheinlichkeit, über der Grenze zu sein, erreicht { $days ->
        [0] heute
        [one] in 1 Tag
       *[other] in { $days } Tagen
    } die akzeptierten { $risk }
    .reading_pays = Die Längung der Kette ist nur auf ±{ $sd } bekannt; { $days ->
        [0] eine Messung heute
        [one] eine Messung innerhalb eines Tages
       *[other] eine Messung innerhalb von { $days } Tagen
    } entscheidet, ob sie bleiben kann
    .nothing_due = Das akzeptierte Risiko wird erst { $days ->
        [one] in 1 Tag
       *[other] in { $days } Tagen
    } erreicht
    .nothing_due_ever = Das akzeptierte Risiko wird in zehn Jahren Nutzung nicht erreicht
    .age_unknown = Niemand weiß, wie verschlissen diese Kette ist: sie war schon am Rad und wurde nie gemessen
    .riding_unknown = Seit diese Kette montiert oder zuletzt gemessen wurde, sind { $days ->
        [one] für 1 Tag
       *[other] für { $days } Tage
    } keine Fahrten erfasst; niemand weiß, wie verschlissen sie ist
    .read_at_limit = Gemessen wurden { $read }, das ist an der Grenze; die Kette liegt am wahrscheinlichsten bei { $likely }. Miss nochmals, um sicher zu sein
    .cassette_untried = Die Kette ist neu und springt auf dieser verschlissenen Kassette wahrscheinlich ({ $probability }). Prüfe sie unter Last und abseits des Verkehrs, bevor das Rad rausgeht: ein Sprung kann zum Sturz führen. Springt sie, wechsle die Kassette
    .cassette_skips = Die neue Kette springt laut Meldung, am wahrscheinlichsten auf einer verschlissenen Kassette ({ $probability }). Fahre sie nicht unter Last: suche nach einem steifen Glied, prüfe die Einstellung der Schaltung, dann wechsle die Kassette
    .no_use = Keine Fahrten in letzter Zeit, daher kein Datum; die Wahrscheinlichkeit, über der Grenze zu sein, ist { $probability }
problem =
    .invalid-json = Der Inhalt ist kein JSON
    .invalid-parameter = Ein Parameter oder Header ist falsch
    .not-signed-in = Es braucht einen Zugang
    .role-not-allowed = Die Rolle des Zugangs darf das nicht
    .not-found = Hier ist nichts
    .method-not-allowed = Diese Methode ist hier nicht erlaubt
    .not-acceptable = Format nicht verfügbar
    .changes-forgotten = Diese Änderungen sind nicht mehr gespeichert
    .conflict = Es widerspricht dem, was da ist
    .request-in-flight = Die erste Anfrage wird noch beantwortet
    .stale = Seit du es gelesen hast, wurde es geändert
    .too-slow = Der Inhalt kam zu langsam
    .body-too-large = Der Inhalt ist zu groß
    .unsupported-media-type = Der Inhalt hat das falsche Format
    .invalid-body = Der Inhalt hat falsche Felder
    .invalid-ride-file = In der Datei wurde keine Fahrt gefunden
    .invalid-table = Die Tabelle hat Fehler
    .idempotency-key-reused = Der Idempotenz-Schlüssel wurde für etwas anderes benutzt
    .precondition-required = Sag, welchen Stand du änderst
    .too-many-requests = Zu viele Anfragen
    .internal = Bei uns ist etwas schiefgegangen
    .unavailable = Gerade nicht verfügbar
ride-warning =
    .energy_not_measured = Eine Arbeit von 0 kJ über eine Strecke zählt als nicht gemessen
    .rides_overlap = { $others ->
        [one] Eine andere Fahrt dieses Rads liegt, auch bei 60 km/h, in derselben Zeit: eine der beiden kann falsch sein
       *[other] { $others } andere Fahrten dieses Rads liegen, auch bei 60 km/h, in derselben Zeit: einige können falsch sein
    }
    .counted_with = Eine andere Quelle hat dieselbe Fahrt gesendet, und jene zählt: { $ride }; sind es zwei Fahrten, setze separate: true
    .counts_for = Eine andere Quelle hat dieselbe Fahrt gesendet, die neben dieser nicht zählt: { $ride }; sind es zwei Fahrten, setze separate: true
    .before_fitting = Damals war keine Kette erfasst, die erste wurde { $at } montiert; die Fahrt zählt nicht, bis dieser Tag berichtigt ist
    .no_chain = Damals war keine Kette erfasst; die Fahrt verschleißt keine
    .after_retirement = Das Rad wurde { $at } aus dem Bestand genommen; die Fahrt bleibt gespeichert und zählt nur, wenn das Rad zurückkommt
    .deleted = Die Fahrt wurde { $at } gelöscht und bleibt es; stelle sie wieder her, wenn sie zählen soll

choice =
    .in_use = { $who } ist im Einsatz
    .told = { $who } ist mit einer Wahrscheinlichkeit von { $percent } % günstiger als { $in_use }
    .more_would_tell = { $who } ist mit einer Wahrscheinlichkeit von { $percent } % günstiger als { $in_use }; etwa { $chains } Ketten mehr würden es zeigen
    .too_close = { $who } ist mit einer Wahrscheinlichkeit von { $percent } % günstiger als { $in_use }; die beiden liegen so nah beieinander, dass auch mehr Ketten es nicht zeigen würden
