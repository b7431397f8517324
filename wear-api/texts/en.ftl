### The pages in English.
###
### A comment above a text lists what stands in it, in the order of the method's arguments; "(Number)" marks what plural
### rules go by. A text without a value of its own holds sentences by their code. English of the library and of the
### service is written where they are declared; it stands here only where a page says it otherwise.

## Numbers, dates, money

# Names of months and weekdays come from the calendar of this locale.
locale =
    .calendar = en_GB
# Patterns of dates: https://docs.rs/chrono/latest/chrono/format/strftime/
date-long = %-d %B %Y
date-medium = %-d %b %Y
date-short = %-d %b
date-month = %b %Y
decimal-mark = .
unit-km = km
unit-miles = miles
# $amount, $currency
amount-of-money = { $currency } { $amount }

## Frame, sign-in, failures, chances

skip-to-content = Skip to content
# $date
today-is = Today is { $date }
sign-out = Sign out
nav-pages = Pages
nav-fleet = Fleet
nav-measure = Measure
nav-bench = Bench
nav-parts = Parts
nav-settings = Settings
language-switch = Deutsch
# $count
waiting-to-send = { $count } kept on this device, to be sent
sign-in-title = Sign in to the workshop
sign-in-token = Your token
sign-in = Sign in
sign-in-refused = That token isn't known, or it has been revoked. A manager can issue a new one.
sign-in-how = A token is made by whoever runs this service, with this command:
sign-in-lasts = You stay signed in for 12 hours after the last use, and for 14 days at most.
failure-not-allowed = Your token may not do this
failure-not-allowed-text = Ask a manager of the workshop for a token with another role.
failure-forged = This form is no longer good
failure-forged-text = It came from another site or from an earlier session. Nothing was changed. Open the page again and send it from there.
failure-not-found = Nothing here
failure-not-found-text = The address names nothing that this workshop has. It may have been removed.
failure-stale = Someone else was faster
failure-stale-text = It was changed since you opened the page. Open the page again to see the present state, then make your change.
failure-conflict = That contradicts what is there
failure-conflict-text = Nothing was changed.
failure-invalid = Something in the form can't be
failure-invalid-text = Nothing was changed. Go back: what you typed is still there.
failure-unavailable = Not available for the moment
failure-unavailable-text = The service is too busy or its database can't be reached. Try again in a minute.
failure-internal = Something went wrong on our side
failure-internal-text = Nothing was acknowledged, so nothing counts as saved. The cause is in the service's log.
# $what, $allowed
wrong-value = { $what }. Allowed: { $allowed }.
# $what, $given
wrong-given = { $what }: “{ $given }”
# $low, $high, $unit
wrong-range = { $low } to { $high } { $unit }
# $what, $low, $high
wrong-whole = { $what }: a whole number from { $low } to { $high }.
# $what
wrong-empty = Write something: { $what }.
# $what, $length, $most
wrong-length = { $what }: { $length } characters are too many; { $most } at most.
# $what
wrong-control = { $what }: there is a character in it that can't be written.
# $what, $found, $least, $most
wrong-count = { $what }: { $found }. Allowed: { $least } to { $most } of them.
# $what
wrong-unreadable = { $what } can't be read
# $what
wrong-missing = { $what }: missing
# $what
wrong-together = { $what } don't go together
# $at
wrong-future = { $at } is in the future.
# $at, $fitted
wrong-before = { $at } is too early: the part was fitted on { $fitted }.
# $at, $removed
wrong-after = { $at } is too late: the part came off on { $removed }.
# $what
wrong-none = This workshop doesn't have that: { $what }.
back-to-fleet = To the fleet
chance-none = less than 1 chance in 100
chance-sure = more than 99 chances in 100
# $n
chance-of-ten = about { $n } chances in 10
# $n
chance-of-hundred = about { $n } chances in 100
caution = Caution
caution-general = Before working on a chain, keep fingers, cloth and tools clear of anything that can turn, and follow the maker's instructions. If in doubt, ask a qualified mechanic.
save = Save
cancel = Cancel
more = Next page
first-page = Back to the first page

## Fleet

fleet-title = Who needs someone, and when
fleet-one-bike = 1 bike, by when it needs someone
# $count
fleet-bikes = { $count } bikes, by when each needs someone
fleet-by-advice = Bikes by advice
fleet-all = all
fleet-caption = The bar runs from the day on which a reading pays to the day on which the accepted risk of being over the limit is reached; the upright mark is the day someone is needed.
fleet-bike = Bike
fleet-to-do = What to do
fleet-left = Chain left
fleet-axis = Time line from today to six months ahead
tick-today = today
tick-week = 1 week
# $count
tick-weeks = { $count } weeks
# $count
tick-months = { $count } months
tick-later = later
# $date
fleet-pays-by = a reading pays by { $date }
# $date
fleet-risk-on = the accepted risk is reached on { $date }
fleet-no-date = no date
fleet-search = Find a bike
fleet-search-hint = label or group
fleet-group = Group
fleet-any-group = every group
fleet-due = Needed within
fleet-due-any = any time
# $count
fleet-due-days = { $count } days
fleet-show = Show
fleet-empty = No bikes yet
fleet-empty-text = A bike is entered with its rings, cogs and the day its chain was fitted. From its rides and a reading now and then, this page says when its chain has to come off.
fleet-add = Add a bike
fleet-none-found = No bike is in this state now.
fleet-show-all = Show all bikes
advice-swap-now = swap before the next ride
advice-hold = someone has to look
advice-swap-by-some-day = swap by a date
advice-measure-by-some-day = measure by a date
advice-ride-on = ride on
# $date
advice-swap-by = swap by { $date }
# $date
advice-measure-by = measure by { $date }
advice-measure-now = measure now
why-hold = The readings contradict each other, or no chain is on record.
# $chance
why-over = Over its limit already: { $chance }.
# $distance
why-less = One chance in ten that it is less than { $distance }.
left-none = none
# $distance
left-about = about { $distance }
left-unknown = not known

## Bike

# $label
bike-title = Bike { $label }
# $group
bike-of-group = Group { $group }
# $whose, $count
bike-basis-learned = { $whose }, chains read: { $count }
bike-of-fleet = the whole fleet
# $left, $date
bike-sentence-soon = Most likely { $left } left, about { $date }; one chance in ten that nothing is left.
# $left, $date, $least
bike-sentence = Most likely { $left } left, about { $date }; one chance in ten that it is less than { $least }.
# $left, $least
bike-sentence-no-date = Most likely { $left } left; one chance in ten that it is less than { $least }. It isn't ridden, so there is no date.
# $chance, $limit
bike-sentence-over = Nothing left: the chain is over its limit of { $limit } already, { $chance }.
# $left, $least
bike-sentence-far = Most likely { $left } left, more than ten years at its present use; one chance in ten that it is less than { $least }.
# $chance
bike-sentence-unridden = No rides are on record, so there is no distance and no date. Chance of being over the limit: { $chance }.
bike-sentence-none = No chain is on record. Fit one below, or record the swap that put it on.
bike-measure = Measure
bike-swap = Record a swap
bike-care = Record care
# $measure, $over
bike-chances = Chance of being over the limit today: { $over }. A reading pays by { $measure }.
# $over
bike-chance-over = Chance of being over the limit today: { $over }.
bike-overdue-caution = A chain this worn can slip or break under load, and a rider can fall. Keep the bike in until the chain has been changed or measured.
bike-where = Where the chain is
bike-path = How it got here and where it goes
bike-path-key = Square: rule. Diamond: caliper. Circle: dial. Triangle up: a gauge dropped in, so at least that. Triangle down: it stayed out, so at most that. Crossed out: set aside as a blunder.
bike-path-band = The band holds 8 chances in 10; it narrows where a reading came in.
bike-drivers = What wore it
# $km, $reference
bike-drivers-text = { $km } on this chain wore it as much as { $reference } of dry road with a cared-for chain.
bike-no-rides = No rides are on record for this chain. They come from a ride log, a file or the interface.
driver = Cause
driver-share = Share of the wear
driver-distance = the distance itself
driver-energy = work put through the chain
driver-gears = gears, chain length and wheel
driver-surface = surface
driver-wet = wet
driver-care = riding on without care
driver-spared = spared it
bike-cassette = Cassette
# $p50, $p10, $p90
bike-cassette-text = It still takes about { $p50 } new chains before one skips on it; 8 chances in 10 for { $p10 } to { $p90 }.
# $p90
bike-cassette-unlikely = It most likely takes no further chain, one chance in ten of { $p90 } or more.
bike-cassette-done = It takes no further chain: a new one would most likely skip on it, so it is changed along with the chain.
# $chance
bike-cassette-skips = A new chain would skip on it today: { $chance }.
# $now, $per, $limit
bike-cassette-cost = Riding on costs { $now } of cassette per { $per } now, { $limit } at the limit.
bike-cassette-looks = Worn-looking teeth aren't worn teeth: shifting ramps are shaped that way. A new chain that skips under load decides.
bike-skip-caution = Try for skipping at walking pace, off traffic, with both hands on the bars: a skip throws the rider forward.
bike-rings = Rings
bike-warnings = What someone should know
bike-basis = What this rests on
# $readings, $rate
bike-basis-text = { $readings } readings of this chain; wear rate from: { $rate }.
bike-basis-default = the default for want of learned data
# $measured, $climb, $distance
bike-basis-energy = Work through the chain: { $measured } measured, { $climb } from distance and climb, { $distance } from distance alone.
bike-basis-assumed = Surface, wet, care and gears count by assumed factors until the fleet has taught its own.
bike-history = History
bike-rides-by-month = Rides by month
event-when = When
event-what = What
event-detail = Detail
event-reading = reading
event-care = care
event-swap = swap
# $reason
event-voided = doesn't count: { $reason }
event-void = Doesn't count
event-void-reason = Why it doesn't count
event-none = Nothing yet. Rides, readings, care and swaps will stand here.
event-all = Show all
bike-fittings = Parts on it
# $date
fitting-since = since { $date }
# $from, $to
fitting-until = { $from } to { $to }
fitting-take-off = Take off
fitting-fit = Fit a new part to an empty place
fitting-place = Place
fitting-position = Which one, from the largest ring or smallest cog
fitting-button = Fit
fitting-earlier = Parts that were on it
# $instrument, $percent
measured-percent = { $instrument }: { $percent }
# $instrument, $length, $pitches, $percent
measured-length = { $instrument }: { $length } mm over { $pitches } pitches, { $percent }
# $instrument, $count, $mean, $worst
measured-spots = { $instrument }: { $count } spots, { $mean } on average, { $worst } at worst
# $instrument, $mark
measured-in = { $instrument } { $mark }: dropped in
# $instrument, $mark
measured-out = { $instrument } { $mark }: stayed out
warning-uneven = The spots of a reading differ by more than 0.15 %: look for a stiff or damaged stretch.
warning-contradiction = Readings contradict each other. Either another chain was measured, or this one was changed and nobody wrote it down: mark the wrong reading as not counting, or record the swap.
# $date, $teeth
warning-skip = On { $date } a skip under load was reported on the cog of { $teeth } teeth: the cassette's outlook counts it. It can throw the rider: find its cause before the bike goes out.
warning-no-reading = This chain was never measured; all of this rests on its rides alone.
warning-no-chain = No chain is on record for this bike.
rule-title = The chain along a twelve-inch rule
# $likely, $low, $high, $limit, $length
rule-description = 24 pitches of a new chain are twelve inches long. This one is most likely { $likely } longer; 8 chances in 10 for { $low } to { $high }. Its limit is { $limit }, a length of { $length } mm.
# $percent, $length
rule-limit = limit { $percent } = { $length } mm
# $percent
rule-likely = most likely { $percent }
path-title = Elongation against time
path-axes = Up: elongation in percent of the pitch. Across: months.
# $percent
path-limit = limit { $percent }
# $date
path-swap-by = swap by { $date }
# $date, $likely, $low, $high
path-point = { $date }: most likely { $likely }, 8 chances in 10 for { $low } to { $high }
path-one-reading = One reading of this chain.
# $count
path-readings = { $count } readings of this chain.
# $likely, $limit
path-now = Today most likely { $likely }, with a limit of { $limit }.
# $date, $likely, $low, $high
path-by = By { $date } most likely { $likely }, 8 chances in 10 for { $low } to { $high }.
path-hover = Point at the plot to read a day.
# $teeth, $damage, $chance
cog-described = { $teeth } teeth: { $damage } used up, worn out: { $chance }.
cog-axis-teeth = Below: teeth.
cog-axis-damage = Above: used up.
cassette-plot-title = Cassette, sprocket by sprocket
rings-plot-title = Rings, one by one
rides-title = Distance ridden by month
# $total, $from, $to, $wet
rides-description = { $total } from { $from } to { $to }, of it { $wet } in the wet.
# $month, $distance, $rides, $wet
rides-month = { $month }: { $distance } in { $rides } rides, { $wet } of it wet
# $unit
rides-axes = Up: { $unit } a month; the hatched part was wet. Across: months.
new-bike-title = Add a bike
new-bike-label = Label: the number on its frame
new-bike-group = Group: bikes that wear alike
new-bike-use = Used for
new-bike-rings = Teeth of its rings, as 42 or 50 34
new-bike-cogs = Teeth of its cogs, as 11 13 15 17 20 23 26 30
new-bike-links = Links of its chain: pitches, inner and outer counted
new-bike-gearing = Gearing
gearing-auto = as the sprockets say
new-bike-fitted = Day on which its chain was fitted, new

## Measuring

measure-title = Measure a chain
# $label
measure-bike = Measure bike { $label }
measure-pick = Which bike?
measure-pick-hint = Type the number on its frame, or scan the code on its label with the phone's camera.
measure-find = Find
measure-due = Waiting for a reading
measure-due-none = No bike waits for a reading now.
# $text
measure-no-match = No bike has “{ $text }” in its label or group.
measure-way = With what?
way-rule-inches = Rule, inches
way-rule-mm = Rule, millimetres
way-rule-percent = Rule, percent
way-caliper = Caliper, percent
way-dial = Dial gauge, percent
way-drop-in = Drop-in gauge
way-drop-in-isolating = Drop-in gauge, one-way
way-drop-in-how = The usual kind: it pushes the rollers at its ends apart.
way-isolating-how = It pushes both rollers the same way.
way-rule-how = Chain under tension, from one pin's edge to the same edge of the pin 24 pitches on.
way-percent-how = Several spots at once: write them one after another, as 0.30 0.33 0.31.
measure-length-inches = Length over 24 pitches, inches
measure-length-mm = Length over 24 pitches, mm
measure-percent = Elongation, percent
measure-quick = or tap what it shows
# $mark
measure-drops-in = { $mark } drops in
# $mark
measure-stays-out = { $mark } stays out
measure-save = Save the reading
measure-pad = Number pad
kept-here = No connection. What you entered is kept on this device and will be sent once, when the connection is back.
measure-sent = Sent
measure-refused = was refused; open the bike and enter it again
measure-signed-out = Sign in to send what is kept here.
# $text
measure-not-a-number = “{ $text }” is no number. Write 0.31 or 0,31; on a rule also 12 1/16.
measure-missing = Write what the instrument shows.
measure-percent-range = It can be −0.3 to 3 percent. A larger number is another unit, or another chain.
measure-length-range = 24 pitches are 304.0 to 311.0 mm, or 11.97 to 12.24 inches. Another number is another count or unit.
measure-no-chain = No chain was on this bike at that time. Fit one first, or record the swap.
measure-caution = Keep fingers out of the drivetrain while anything can turn; hold the crank still while you measure.
# $label
result-title = Bike { $label }: reading saved
result-voided = Undone
result-voided-text = The reading doesn't count. It stays on record.
result-undo = Undo
result-undo-hint = for one minute
result-undo-late = The minute is over. On the bike's page a reading can still be marked as not counting, with a reason.
result-undone-reason = undone by the one who measured
result-next = Measure the next bike
result-bike = This bike's page

## Swaps and care

# $label
swap-title = Record a swap on bike { $label }
swap-what = What was swapped
swap-model = What went on
swap-same-model = the same as before
swap-when = When
swap-when-hint = left empty: now
swap-note = Remark
swap-save = Record the swap
swap-reading = What the old chain read, percent, if it was measured
swap-reading-with = Read with
# $text
swap-bad-time = “{ $text }” is no time. Choose a day and an hour that are not in the future.
# $label
care-title = Record care of bike { $label }
care-kind = What was done
care-done = The care is recorded.
care-save = Record the care
care-caution = Solvents and lubricants stay away from brake discs, pads and rims, and off the skin; follow the maker's sheet. Turn the crank by hand only, fingers clear of chain and sprockets.
steps-title = Swapping the chain safely
steps-of = What is being swapped
steps-chain = Chain
steps-cassette = Cassette or cog
steps-ring = Ring
steps-tick = Tick each step as you do it; the ticks are kept with the swap.
steps-to-entry = Straight to the entry
# $tools
steps-tools = Tools: { $tools }.
steps-torque = Torque from the maker.
steps-check = check
# $links
steps-links = This bike's chain has { $links } links on record, inner and outer counted.
swap-enter = Enter the swap
swap-done = The swap is recorded.
swap-unticked = These checks weren't ticked. See that they are done before the bike goes out:
# $count
swap-ticked = { $count } steps ticked
swap-void = This swap never was
swap-void-text = Takes the swap back: the old part counts as still on, and the shelf gets its part back.

## Symptoms

symptom-note = Note a symptom
# $label
symptom-title = What was noticed on bike { $label }
symptom-intro = One tap notes it, as of now.
symptom-which-cog = Skips under load: on which cog?
# $teeth
symptom-cog = { $teeth } teeth
symptom-cog-unknown = Don't know
symptom-new-chain = It was tried with a new chain
symptom-other = Something else
symptom-remark = Remark, if there is one: written before the tap
# $what
symptom-noted = Noted: { $what }
# $what, $teeth
symptom-on-cog = { $what }, cog of { $teeth } teeth
# $what
symptom-with-new-chain = { $what }, with a new chain
symptom-evidence = This counts as evidence: the outlook of cassette and chain has taken it in.
symptom-lead = This is a lead, not evidence: the outlook stays as it was. Look for the cause in this order, as is common practice.
symptom-look = Where to look, the likeliest first
# $chance
symptom-model-says = From wear alone: { $chance }.
symptom-take-back = Take it back
symptom-taken-back = taken back on the page
symptom-is-void = It was taken back and doesn't count.
# $label
symptom-to-bike = To bike { $label }
event-symptom = symptom

## Bench, cards and labels

bench-title = Who is on the bench, and when
bench-none = No plan yet
bench-none-text = A plan puts each bike that is due on a day on which the bench has time and the parts are there, so that waiting and hurrying cost least. Nothing is fixed until you accept it.
bench-from = From
bench-to = To
bench-compute = Make a plan
bench-compute-again = Make a new plan
# $date
bench-accepted = Accepted on { $date }: its days are promises.
# $date
bench-proposal = A proposal of { $date }. Nothing is promised yet.
bench-accept = Accept this plan
bench-see-proposal = See the newer proposal
bench-see-accepted = Back to the accepted plan
# $cost
bench-optimal = No plan is cheaper: it costs { $cost } in life thrown away, risk and knock-on wear.
# $cost, $bound
bench-gap = It costs { $cost } in life thrown away, risk and knock-on wear; none can cost less than { $bound }.
# $needed, $available
bench-load = { $needed } minutes of work are due; the bench has { $available }.
# $used, $minutes
bench-minutes-used = { $used } of { $minutes } minutes used
bench-free-day = Nobody planned.
# $from, $to, $count
bench-free-days = { $from } to { $to }: { $count } bench days, nobody planned.
bench-closed = closed
bench-bike = Bike
bench-work = Work
bench-minutes = Minutes
bench-due = Best day
bench-kept = promised
bench-card = Card
bench-pick-list = Parts to lay out
# $place
bench-unknown-model = { $place }, model not on record
# $part
bench-stays-for-part = Worn, but stays on until the new one is there: { $part }.
# $part
bench-stays-for-day = Worn, but stays on until a day is long enough for both: { $part }.
bench-left-out = What is short, and who is on no day
# $date, $missing, $bikes
bench-short-minutes = { $date }: { $missing } minutes too few for { $bikes }.
# $bikes, $date, $missing
bench-short-length = { $bikes }: longer than any bench day. Even { $date } is { $missing } minutes too short.
# $date, $missing, $part, $bikes
bench-short-parts = { $date }: { $missing } more of { $part } needed for { $bikes }.
# $bikes
bench-short-away = Away on every bench day: { $bikes }.
# $bikes
bench-short-days = No bench day is open for { $bikes }.
# $count
bench-short-below = On no day: { $count }. What is short stands below the days.
bench-moved = Moved from a promised day
# $label, $from, $to
bench-moved-to = { $label }: from { $from } to { $to }
# $label, $from
bench-moved-out = { $label }: from { $from }, now on no day
# $label, $from
bench-moved-stays = { $label }: no longer on { $from }, its chain can stay
bench-measure-first = Measure first
bench-measure-lead = Their chains may have to come off before the last day. A reading decides, so measure them and plan again.
# $label, $date
bench-measure-by = { $label }, by { $date }
bench-look-first = Someone has to look first
bench-days = Days that differ from the week
bench-days-text = Usual minutes stand in the settings; here a holiday or a long Saturday.
bench-day = Day
bench-add = Add
bench-remove = Remove
bench-bookings = Bikes away
bench-bookings-none = No bike is booked out.
# $label, $from, $to
bench-booking = { $label }: { $from } to { $to }
bench-label = Label of the bike
# $label
bench-no-such = No bike has exactly the label “{ $label }”.
bench-print = List to print
# $day
bench-plot-title = Minutes used on { $day }
# $from, $to
list-title = Bench list, { $from } to { $to }
list-done = Done
# $label
card-title = Bench card: bike { $label }
card-parts = Parts
# $links
card-part-chain = chain, { $links } pitches, and a connecting link that fits it
card-part-cassette = cassette, likely: a new chain would probably skip on this one
card-steps = Steps
card-read = Read before it came off: ______ %
card-by = Done by: ____________  Date: ____________
card-scan = Scan to measure or record
labels-title = Labels
labels-text = One label for each bike; scanned with a phone's camera it opens the measuring page. Fix it where no chain, cable or hand rubs.
labels-none = Once bikes are entered, each has its label here.
labels-open = Labels to print
# $label
qr-title = Code that opens bike { $label }
print-hint = Print this page with the browser.

## Stock

parts-title = The shelf, and what is on its way
parts-none = Nothing is counted yet
parts-none-text = Enter a part model first, then how many lie on the shelf. Swaps take from the count, arrivals add to it.
parts-part = Part
parts-on-shelf = On the shelf
parts-under-way = Under way
parts-lead-time = Days to arrive
parts-count = Count
# $date
parts-counted = counted { $date }
parts-count-again = Counted anew
parts-start = Start counting a model
parts-model = Part model
parts-deliveries = Deliveries under way
parts-deliveries-none = Nothing is under way.
# $count, $name, $date
parts-delivery = { $count } × { $name }, expected { $date }
parts-arrived = Arrived today
parts-expect = Enter a delivery
parts-expected-on = Expected on
parts-models = Part models
parts-new-model = Enter a part model
parts-name = Name
parts-kind = Kind
parts-teeth = Teeth (of each cog), or for a chain the number of sprockets
# $currency
parts-price = Price of one, { $currency }
parts-no-price = no price
parts-models-none = No part model yet. A model is what you would order: its name, shape and price.

## Orders

# $days
orders-title = What the next { $days } days need
orders-nothing = The shelf covers what is expected. Nothing has to be ordered.
orders-none = No swap is expected
orders-none-text = Once bikes are entered and ridden, this says how many chains, cassettes and rings the next weeks take, and when to order them.
orders-now = To order now
orders-part = Part
orders-quantity = Order
orders-lasts = Shelf lasts until it could arrive
# $bikes
orders-counted = Counted from the outlooks of { $bikes } bikes.
# $bikes
orders-waiting = { $bikes } more are being computed anew and weren't counted.
# $days
orders-plot-title = Shelf and deliveries against what { $days } days need
# $name, $p50, $p90, $shelf, $coming
orders-point = { $name }: most likely { $p50 } needed, one chance in ten of more than { $p90 }; on the shelf: { $shelf }, under way: { $coming }.
# $name, $shelf, $coming
orders-point-none = { $name }: most likely none needed, and a need is less likely than one chance in ten; on the shelf: { $shelf }, under way: { $coming }.
# $name, $p90, $shelf, $coming
orders-point-few = { $name }: most likely none needed, one chance in ten of { $p90 } or more; on the shelf: { $shelf }, under way: { $coming }.
orders-axes = Across: parts. Hatched: on the shelf. Outlined: with deliveries.
orders-marks = Upright: most likely need, and the need passed once in ten.
orders-not-counted = not counted
# $place, $shape
orders-unnamed = { $place } { $shape }, no model entered

## Part history and audit

lives-title = Lives of parts
lives-link = Lives of parts, across bikes
lives-all = All
lives-place = Kind
lives-none = No part yet
lives-none-text = Every bike that is entered brings its parts; every swap adds one. Their distance and the bikes they were on stand here.
lives-distance = Ridden
lives-reference = Wears like
lives-bikes = On bikes
lives-reference-text = “Wears like” is the distance on a dry road with a cared-for chain that would wear a part as much.
# $label, $when
lives-stay = { $label }, { $when }
lives-done = done with
lives-on-none = on none yet
audit-title = Who did what
audit-text = Every change, the latest first. This list only grows.
audit-none = Nothing was changed yet.
audit-when = When
audit-who = Who
audit-what = What
audit-program = the service itself
# $start
audit-gone = token { $start }
# $thing, $act
audit-other = { $thing }: { $act }

## Track record

track-title = How the forecasts did
track-none = No forecast has met a reading yet
track-none-text = Each time a chain is measured, the reading is held against what was forecast before it. Once there are some, this page shows how often the forecast held, good months and bad.
# $covered, $readings, $share
track-sentence = { $covered } of { $readings } readings lay in the forecast's middle range: { $share }. Right would be 8 in 10.
# $readings, $low, $high
track-chance = With { $readings } readings, chance alone explains { $low } to { $high }.
# $percent
track-bias-none = On average chains read what was forecast, to within { $percent }.
track-held = That is within what chance explains.
track-too-sure = The forecasts were surer than they should have been. Plan with more margin.
track-too-vague = The forecasts were less sure than they could have been.
# $percent
track-bias-faster = On average chains read { $percent } more than forecast: they wear faster than we say.
# $percent
track-bias-slower = On average chains read { $percent } less than forecast: they wear slower than we say.
# $ours, $fixed, $line
track-better = Mean miss: { $ours }. Giving every chain one distance would miss by { $fixed }, a straight line through its readings by { $line }.
# $ours, $fixed, $line
track-worse = Mean miss: { $ours }. A simpler rule did better: one distance for every chain misses by { $fixed }, a straight line through its readings by { $line }.
# $kept, $all
track-kept = { $kept } of these { $all } forecasts were on record before the reading; the others were computed afterwards from the readings before.
track-months = Month by month
track-plot-title = Share of readings in the forecast's middle range, by month
# $month, $share, $readings, $low, $high
track-plot-point = { $month }: { $share } of { $readings } readings; chance explains { $low } to { $high }.
track-plot-axes = Up: share held. Across: months. The box is what chance explains, the mark what was.
track-right = right: 80 %
track-group = Group
track-readings = Readings
track-share = Held
track-verdict = In words
track-outside-chance = outside what chance explains
track-inside-chance = within what chance explains
nav-track-record = Track record

## Costs

nav-policy = Costs
policy-title = What costs least
policy-none = No bike yet, so there is nothing to compare
policy-none-text = Once bikes are entered, this compares what it costs to take chains off early, late, or never.
policy-group = Bikes of the group
policy-look = Compare
# $best
policy-limit = Cheapest limit: take chains off at { $best }
policy-end = Cheapest: run chain, cassette and rings to their end together
# $cost, $per, $low, $high
policy-cost = Most likely { $cost } per { $per }; 8 chances in 10 for { $low } to { $high }.
# $low, $high, $every
policy-interval = With all that isn't known, the best limit lies between { $low } and { $high }, 8 chances in 10. Measuring about every { $every } suits it.
# $best, $every
policy-exact = With all that isn't known, { $best } stays the best limit in 8 cases of 10. Measuring about every { $every } suits it.
# $current, $percent, $chance
policy-worth = Changing from { $current }, the limit in use, saves about { $percent }; that it saves anything: { $chance }. Worth it.
# $current, $percent, $chance
policy-not-worth = Changing from { $current }, the limit in use, saves about { $percent }; that it saves anything: { $chance }. Not worth a change.
# $current
policy-same = { $current } is the limit in use already.
# $earlier, $later
policy-between = Earlier, { $earlier } cost more than is saved; later, { $later } do.
# $later
policy-lowest = It is as early as was looked at: later, { $later } cost more than is saved.
# $earlier
policy-highest = It is as late as was looked at: earlier, { $earlier } cost more than is saved.
# $percent
policy-to-the-end = That costs about { $percent } less than the best limit: cassette and rings are cheap beside the chains that would spare them.
# $limit
policy-beyond = What is cheapest here goes beyond { $limit }, the trade's usual limit for these sprockets. A worn chain skips or breaks under load and throws its rider: the makers' limits go first.
policy-free-failure = A failure on the road counts as free here. Set what it costs before you follow this.
policy-curve = Cost by limit
# $per
policy-plot-title = Cost per { $per } by the elongation at which chains come off
# $best, $cost, $low, $low_cost, $high, $high_cost
policy-plot-says = Least at { $best }: { $cost }. At { $low }: { $low_cost }. At { $high }: { $high_cost }.
# $limit, $cost, $low, $high
policy-plot-point = { $limit }: most likely { $cost }, 8 chances in 10 for { $low } to { $high }
# $currency, $per
policy-plot-axes = Up: { $currency } per { $per }. Across: elongation at which chains come off. Band: 8 chances in 10.
policy-plot-best = least
policy-plot-current = in use
policy-others = What else could be done
policy-way = Way
# $per
policy-per = Per { $per }
policy-more = Against the best limit
policy-verdict = Verdict
# $limit
policy-way-best = Chains off at { $limit }, the best limit
# $limit
policy-way-current = Chains off at { $limit }, the limit in use
policy-way-end = Chain, cassette and rings to their end together
# $chains, $limit
policy-way-turn = { $chains } chains in turn on one cassette, all off at { $limit }
policy-way-whole = The best limit, with whole cassettes instead of single cogs
# $amount
policy-dearer = { $amount } more
# $amount
policy-cheaper = { $amount } less
policy-surely-dearer = surely dearer
policy-likely-dearer = likely dearer
policy-open = nobody can tell
policy-likely-cheaper = likely cheaper
policy-surely-cheaper = surely cheaper
# $limit
policy-where = Where the money goes with chains off at { $limit }
policy-where-text = On average over what is uncertain, so that the sum may differ a little from the most likely.
policy-cause = Cause
policy-chains = chains
policy-cassettes = cassettes
policy-rings = rings
policy-looks = measuring
policy-failures = failures on the road
policy-total = all together
# $currency
policy-prices = Try other prices, { $currency }
policy-prices-text = This changes nothing that is stored. Clear a field to go back to the stored or assumed price.
policy-price-chain = A chain
policy-price-cassette = A cassette
policy-price-rings = All rings of a bike
policy-price-cog = A single cog, if they come apart
policy-price-labour = Labour of one swap
policy-price-reading = One reading
policy-price-failure = One failure on the road
# $typed
policy-bad-price = “{ $typed }” is no amount. Type one such as 12.50; nothing was taken from it.
policy-basis = What this rests on
# $list
policy-assumed = Assumed, for want of data: { $list }.
policy-rate-default = Wear rate: the default, as no chain has taught it yet.
# $count
policy-rate-fleet = Wear rate: learned from { $count } chains of the fleet that were read.
# $count, $group
policy-rate-group = Wear rate: learned from { $count } chains of { $group } that were read.
# $count
policy-bikes = Group of { $count } bikes.

## Chain length

length-title = How long a new chain has to be
length-link = How long a new chain has to be
length-text = Worked out from the largest ring, the largest cog and the distance between them. Nothing is stored.
# $label
length-of-bike = Filled in from bike { $label }.
length-stay = Chainstay, mm: middle of the bottom bracket to the rear axle
length-stay-hint = A tape measure is good enough: 5 mm change the length by less than one link.
length-work-out = Work it out
# $links
length-links = { $links } links, inner and outer counted
# $exact, $even
length-exact = The formula gives { $exact } from largest ring to largest cog; the next even number is { $even }.
length-pair = One more pair lets the derailleur swing, as is common practice.
# $stay
length-straight = The chain is straight at a chainstay of { $stay } mm: set the wheel so that it has a little play all the way round.
# $teeth
length-capacity = The derailleur's cage has to take up { $teeth } teeth; see that its maker allows as many.
# $links
length-on-record = On record for this bike: { $links } links.
length-basis = It rests on the formula of chain-drive handbooks, short by less than a tenth of a link on a bicycle. A rear suspension that lengthens the chainstay when it is pressed needs the longest distance.
length-caution = Before you cut, lay the new chain round the largest ring and the largest cog and see that it reaches. Before riding, try that pair by hand: a chain that is too short tears off the derailleur or locks the wheel. The maker's instructions go before this.
# $typed
length-bad-stay = “{ $typed }” is no length. Write millimetres, such as 455.

## Notifications

nav-hooks = Hooks
hooks-title = Who is told
hooks-none = Nobody is told yet
hooks-none-text = A hook is the address of another program. It is told, once and signed, when a bike comes due for a reading or a swap.
# $label
hooks-secret = Secret of { $label }, which signs its messages. Copy it now; it isn't shown again.
hooks-label = What people call it
hooks-url = Address, https://
hooks-events = What it is told of
hooks-event-measure-by = a reading is due
hooks-event-swap-by = a swap is due by a date
hooks-event-swap-now = a swap is due now
hooks-event-ride-rejected = rides were refused
hooks-event-hook-disabled = another hook was switched off
hooks-event-test = a test
hooks-new = Tell another program
hooks-make = Make the hook
hooks-well = all is well
# $since
hooks-failing = nothing gets through since { $since }; tried again
# $since
hooks-off-by-hand = switched off { $since }
# $since
hooks-off-gone = switched off { $since }: the receiver wants no more
# $since
hooks-off-failing = switched off { $since }: nothing got through for a day
hooks-test = Send a test
hooks-switch-off = Switch off
hooks-switch-on = Switch on
hooks-rotate = New secret
hooks-rotate-text = The old one signs along for a day.
hooks-log = Last messages
hooks-log-none = No message yet.
hooks-delivered = delivered
# $tries
hooks-waiting = waiting, { $tries } tries
# $tries
hooks-given-up = given up after { $tries } tries
hooks-again = Send again
hooks-no-event = Choose at least one thing that it is told of.

## Import and export

tables-title = Import and export
tables-text = Tables as CSV, for a spreadsheet, another program or another workshop.
tables-export = Export
tables-comma = with commas
tables-semicolon = with semicolons and decimal commas
tables-import = Import
tables-order = To move a workshop, import in the order above: what is named in a table has to be there.
tables-kind = What the file holds
tables-file = The file
# $mib
tables-largest = CSV in UTF-8, up to { $mib } MiB. The columns are those of the export.
tables-check = Check the file
tables-check-text = Nothing is changed yet.
tables-no-file = Choose a file first.
# $mib
tables-too-large = The file is larger than { $mib } MiB. Import it by command or over the interface for programs, or in pieces.
# $found, $shown
tables-mistakes = Nothing was changed. Mistakes found: { $found }; shown: { $shown }.
tables-line = Line
tables-column = Column
tables-wrong = What is wrong
tables-whole-line = whole line
# $kind, $lines, $new, $changed, $known
tables-would = { $kind }, { $lines } lines, no mistakes: { $new } would be new, { $changed } changed, { $known } are known.
tables-confirm = Import it
# $kind, $lines, $new, $changed, $known
tables-did = { $kind }, { $lines } lines imported: { $new } new, { $changed } changed, { $known } known. Outlooks follow within minutes.
tables-part-models = Part models
tables-bikes = Bikes
tables-parts = Parts and where they were
tables-rides = Rides
tables-readings = Readings
tables-care = Care
tables-swaps = Swaps

## Settings

settings-title = Settings
settings-saved = Saved. Every outlook is computed anew within a minute.
settings-workshop = Workshop
settings-name = Its name
settings-zone = Time zone of its dates, as Europe/Dublin
settings-language = Language of its pages
settings-units = Distances in
settings-km = kilometres
settings-miles = miles
settings-currency = Currency, three letters
settings-risk = Accepted risk of being over the limit, percent
settings-risk-text = A chain is to come off on the day on which this chance is reached. Lower means earlier swaps.
settings-limits = Limits of elongation, percent
settings-limits-text = Left empty, the trade's habit holds: 0.5 for 11 or more sprockets, 0.75 up to 10, 1.0 for one.
settings-limit-many = 11 sprockets and more
settings-limit-some = 2 to 10 sprockets
settings-limit-one = one sprocket
# $currency
settings-costs = What things cost, { $currency }
settings-cost-swap = labour of one swap
settings-cost-reading = one reading
settings-cost-failure = one failure on the road
settings-bench = Bench
settings-bench-week = Minutes by weekday
# $place
settings-bench-minutes = Minutes to swap: { $place }
settings-bench-setup = of these for setting up, once a bike
settings-tokens = Tokens
settings-tokens-text = A token signs someone in and lets a program in. It is shown once.
settings-token-new = Make a token
settings-token-label = For whom or what
settings-token-role = Role
# $label
settings-token-made = Token for { $label }. Copy it now; it isn't shown again.
settings-token-revoke = Revoke
# $date
settings-token-revoked = revoked { $date }
# $date
settings-token-made-on = made { $date }
settings-calendar = Calendar
settings-calendar-text = Calendar programs can show the swaps of the half year ahead and the days on which the bench works other than usual. They read them at an address of the workshop's own; whoever has it reads them.
settings-calendar-none = The calendar has no address now.
# $at
settings-calendar-since = It has an address since { $at }. Only its owner has seen it; it can't be shown again.
settings-calendar-make = Give it an address
settings-calendar-renew = Give it another address
settings-calendar-renew-text = The address before opens nothing any more.
settings-calendar-close = Take the address away
settings-calendar-made = The calendar's address. Copy it now; it isn't shown again.
role-manager = manager: settings, tokens, and all below
role-mechanic = mechanic: the daily work
role-app = app: sends rides, reads outlooks
# $what, $allowed
settings-wrong = { $what }: write { $allowed }.
a-number = a number

## Words and sentences by their code

place =
    .chain = chain
    .cassette = cassette
    .cog = cog
    .ring = ring
    .jockey_wheels = jockey wheels
instrument =
    .rule = rule
    .caliper = caliper
    .dial = dial gauge
    .drop_in = drop-in gauge
    .drop_in_isolating = drop-in gauge, one-way
care =
    .cleaned = cleaned
    .lubricated = lubricated
    .cleaned_and_lubricated = cleaned and lubricated
gearing =
    .derailleur = derailleur
    .hub_gear = hub gear
    .single_speed = single speed
use =
    .town = town
    .touring = touring
    .road = road
    .gravel = gravel
    .mountain = mountain
    .cargo = cargo
    .e_bike = with a motor
    .e_cargo = cargo with a motor
symptom =
    .skips_under_load = Skips under load
    .drops_chain = Chain comes off
    .noisy = Noisy
    .slow_shifts = Shifts slowly or not at all
cause =
    .worn_cog = Worn cog
    .worn_chain = Worn chain
    .indexing = Gears out of adjustment
    .stiff_link = Stiff or bent link
    .bent_hanger = Bent derailleur hanger
    .cable = Cable that drags
    .end_stops = End stops
    .front_cage = Front cage out of place
    .worn_ring = Worn ring
    .chain_length = Chain too long, too short or too slack
    .loose_parts = Something loose
    .dirty_or_dry = Dirty or dry chain
    .freehub = Freehub that doesn't catch
    .jockey_wheels = Jockey wheels
    .dont_fit = Parts that don't go together
    .battery = Battery or motor of the derailleur
    .hub_gear = Hub gear out of adjustment or worn
act =
    .create = { $thing }: entered
    .change = { $thing }: changed
    .remove = { $thing }: removed
    .delete = { $thing }: removed
    .retire = { $thing }: removed
    .revoke = { $thing }: removed
    .void = { $thing }: marked as not counting
    .begin = { $thing }: begun
    .end = { $thing }: ended
    .renew = { $thing }: a new address
    .close = { $thing }: address taken away
    .accept = { $thing }: accepted
    .compute = { $thing }: computed
    .ask = { $thing }: asked for
    .import = { $thing }: imported
    .redeliver = { $thing }: sent again
    .rotate_secret = { $thing }: a new secret
    .test = { $thing }: a test sent
thing =
    .bench_day = Bench day
    .bench_plan = Bench plan
    .bench_settings = Bench settings
    .bike = Bike
    .booking = Booking
    .calendar = Calendar
    .table = Table
    .calibration = Fleet learning
    .care = Care
    .delivery = Delivery
    .fitting = Fitting
    .hook = Hook
    .part = Part
    .part_model = Part model
    .reading = Reading
    .ride = Ride
    .session = Sign-in
    .stock = Shelf
    .swap = Swap
    .symptom = Symptom
    .token = Token
    .workshop = Workshop settings
field =
    .length_mm = length in mm
    .drops_in_without_gauge = this instrument and dropping in
    .gearing_and_sprockets = the gearing and the number of sprockets
    .after = place in the list
    .amount_minor = amount
    .arrival = day of arrival
    .from_and_to = the first and the last day
    .from_in_the_past = first day, in the past
    .half_of_price = the price
    .half_of_ride_identity = the ride's identity
    .half_of_voiding = the voiding
    .note = remark or reason
    .model_and_place = the model and the place
    .model_and_part_place = the model and the part's place
    .reading_and_place = the reading and the place
    .setup_and_swap_minutes = the minutes for setting up and those of a swap
    .spots = places measured
    .substitute_and_model = the places of the substitute and of the model
    .time_zone = time zone
    .url = address
form =
    .not_after_today = a day that isn't after today
    .limit_with_chain = a limit with a chain only
    .teeth = a number of teeth
    .model_of_same_place = a model for the same place
    .model_for_part_place = a model that fits the part's place
    .model_for_place = a model that fits the place
    .part_of_place = a part for this place
    .reading_with_chain = a reading with a chain only
    .cog_with_skip = a cog and a new chain with skipping only
    .other_models_once = other models, each named once
    .part_with_voided = readings of a part that don't count
    .place_or_model = a place, a model, or both
    .setup_up_to_shortest = setting up takes no longer than the shortest swap
    .stays_apart = times that don't overlap
    .same_stay = the same time; swaps and removals change it
    .currency = three letters as EUR
    .mark_with_gauge = a mark, and whether it drops in, with a drop-in gauge only
    .percent_with_scale = percent with rule, caliper and dial
    .length_with_rule = pitches and millimetres with a rule
    .single_speed = single speed with one ring and one cog only
conflict =
    .place_taken = There is a part in this place at that time. Record a swap instead.
    .part_on_bike_then = The part is on a bike at that time.
    .part_on_bike = The part is on a bike. Take it off first.
    .part_off = The part is off already.
    .part_elsewhere = The part that went on has been elsewhere since. Put that right first.
    .part_back_on_bike = The part that came off has been on a bike since. Take that back first.
    .same_reading = Both parts have the same reading. Mark one of them as not counting first.
    .readings_count = The part that went on has readings that count. Mark them as not counting first.
    .stay_changed = The time of the part that came off has been changed since. Put that right first.
    .bench_day_taken = This day is in the list already. Remove it there first.
    .stock_kept = This model is counted already. Change its count in the table.
    .other_proposal = There is a newer proposal. Look at it before you accept it.
    .too_many_hooks = The workshop has as many hooks as there may be. Remove one first.
    .hook_disabled = The hook is switched off. Switch it on first.
    .delivery_arrived = The delivery has arrived.
    .no_curve = There is no curve for these prices.
    .stored = It contradicts what is stored.
quantity =
    .ELONGATION_READING = elongation
    .LIMIT = limit
    .JOCKEY_TEETH = teeth of the jockey wheels
    .PROBABILITY = chance
    .JOB_MINUTES = minutes of a job
    .PART_COUNT = number of parts
