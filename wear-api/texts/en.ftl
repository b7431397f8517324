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

product-name = Wear
product-purpose = Wear says when each bicycle chain has to come off, how sure that is, and which bike needs someone first.
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
waiting-to-send = { $count } kept on this device, waiting to be sent
sign-in-title = Sign in to the workshop
sign-in-token = Your access token
sign-in = Sign in
sign-in-refused = That token isn't known, or it has been revoked. A manager can issue a new one.
sign-in-bound = That token is an app's and sees only this app's bikes. Sign in to the pages with a token of your own.
sign-in-how = Whoever runs this service makes the first token with this command:
sign-in-lasts = You stay signed in for 12 hours after the last use, and for 14 days at most. On your own device: for 30 days after the last use, and for 90 days at most.
sign-in-by-code = With a code
sign-in-by-code-text = A manager shows you one under Settings, People. Someone who is signed in already finds one for another device behind their own name.
sign-in-code = Sign-in code
sign-in-code-refused = That code isn’t in force: it has been used, or more than 15 minutes have passed. Ask for a new one.
sign-in-by-token = With an access token
sign-in-own = This is my own device
# $name
sign-in-as = Sign in as { $name }
# $role, $workshop
sign-in-as-text = Role: { $role }. Workshop: { $workshop }. The code works once.
role =
    .manager = manager
    .mechanic = mechanic
    .app = app
people-title = People
people-text = Everyone who works here, and what they may do. What they record carries their name.
people-name = Name
people-add-title = Add a person
people-add = Add and show a code
people-code = Sign-in code
# $name
people-code-for = Sign-in code for { $name }
# $time
people-code-text = Scan it with the phone’s camera, open the address on the device, or type the code on the sign-in page. It works once, until { $time }.
# $role, $devices (Number)
people-about = { $devices ->
    [0] { $role }, not signed in
    [one] { $role }, signed in on { $devices } device
   *[other] { $role }, signed in on { $devices } devices
  }
people-sign-out = Sign out everywhere
people-remove = Remove
people-programs = Programs come in with a token:
me-title = Your sign-in
# $name, $role, $workshop
me-about = You are { $name }, { $role } at { $workshop }.
me-other = Sign in on another device
me-other-text = Show a code here, and scan it with your phone.
me-code = Show a code
me-out-text = Lost a phone? Sign out everywhere, and every device asks again.
me-out-here = Sign out here
me-nobody = The pages of the demonstration are open to everybody; nobody is signed in.
failure-not-allowed = Your token doesn't allow this
failure-not-allowed-text = Ask a manager of the workshop for a token with another role.
failure-forged = This form has expired
failure-forged-text = It came from another site or from an earlier session. Nothing was changed. Open the page again and send it from there.
failure-not-found = Nothing here
failure-not-found-text = There is nothing at this address. It may have been removed.
failure-stale = Changed by someone else in the meantime
failure-stale-text = Open the page again to see the present state, then make your change.
failure-conflict = That contradicts what is on record
failure-conflict-text = Nothing was changed.
failure-invalid = Check the form
failure-invalid-text = Nothing was changed. Go back: what you typed is still there.
failure-too-slow = That took too long
failure-too-slow-text = The form stopped coming. Nothing was changed. Go back and send it again.
failure-unavailable = Not available at the moment
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
# $what, $length (Number), $most
wrong-length = { $what }: { $length ->
        [one] 1 character is
       *[other] { $length } characters are
    } too many; { $most } at most.
# $what
wrong-control = { $what }: contains a character that can't be written.
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
# $at, $retired
wrong-lubricant-retired = { $at } is too late: the lubricant was retired on { $retired }.
# $at, $retired
wrong-tool-retired = { $at } is too late: the tool was retired on { $retired }.
# $place, $position (Number), $places (Number)
wrong-place = { $places ->
        [0] This bike has no { $place } by its drivetrain. Correct the drivetrain first where it is wrong.
       *[other] This bike has no { $place } no. { $position } by its drivetrain. Correct the drivetrain first where it is wrong.
    }
# $reason
wrong-mismatch = This doesn't go with the bike. { $reason }.
mismatch-accept = It is meant so: take it all the same
# $at, $retired
wrong-after-retirement = { $at } is too late: the bike left the fleet on { $retired }.
# $count (Number)
wrong-bikes-of-kind = { $count ->
        [one] 1 bike is
       *[other] { $count } bikes are
    } of this kind. Choose yes or no: yes changes those that still have the old values, no leaves all as they are.
# $at, $taken
wrong-after-reading = { $at } is too late: the chain was first measured on { $taken }.
# $what
wrong-none = This workshop has no such thing: { $what }.
back-to-fleet = To the fleet
chance-none = less than 1 chance in 100
chance-sure = more than 99 chances in 100
# $n (Number)
chance-of-ten = about { $n ->
        [one] 1 chance
       *[other] { $n } chances
    } in 10
# $n (Number)
chance-of-hundred = about { $n ->
        [one] 1 chance
       *[other] { $n } chances
    } in 100
caution = Caution
caution-general = Before working on a chain, keep fingers, cloth and tools clear of anything that can turn, and follow the maker's instructions. If in doubt, ask a qualified mechanic.
save = Save
cancel = Cancel
more = Next page

## Fleet

fleet-title = Bikes, most urgent first
# $total (Number), $due (Number)
fleet-headline = { $total ->
        [0] No bikes
        [one] { $due ->
            [0] 1 bike, not due today
           *[other] 1 bike, due today
        }
       *[other] { $due ->
            [0] { $total } bikes, none due today
            [one] 1 of { $total } bikes due today
           *[other] { $due } of { $total } bikes due today
        }
    }
fleet-by-advice = Bikes by advice
fleet-all = all
fleet-caption = Bar: from “measure by” to “swap by”. Mark: due.
fleet-bike = Bike
fleet-to-do = What to do
fleet-left = Left in the chain
fleet-axis = Time line from today to six months ahead
tick-today = today
# $count (Number)
tick-weeks = { $count ->
        [one] 1 week
       *[other] { $count } weeks
    }
# $count (Number)
tick-months = { $count ->
        [one] 1 month
       *[other] { $count } months
    }
tick-later = later
# $date
fleet-pays-by = measure by { $date }
# $date
fleet-risk-on = swap by { $date }
fleet-no-date = no date
fleet-search = Find a bike
fleet-search-hint = label or group
fleet-group = Group
fleet-any-group = all groups
fleet-due = Due
fleet-due-any = any time
# $count (Number)
fleet-due-days = { $count ->
        [0] today
        [one] within 1 day
       *[other] within { $count } days
    }
fleet-show = Show
fleet-sort-by = Sort by
fleet-sort =
    .due = most urgent
    .label = label
    .group = group
    .left = least left
# $from, $to, $all
fleet-range = { $from }–{ $to } of { $all }
fleet-previous = Previous page
# $label
fleet-choose = Choose { $label }
fleet-choose-page = Choose all on this page
fleet-several = Several bikes at once
# $count (Number)
fleet-several-text = { $count ->
    [one] For the chosen bike; with none chosen, for the one listed.
   *[other] For the chosen bikes; with none chosen, for all { $count } listed.
  }
fleet-several-list = Worklist to print
fleet-several-care = Record care
# $count (Number), $date
worklist-title = { $count ->
    [one] Worklist of { $date }: 1 bike
   *[other] Worklist of { $date }: { $count } bikes
  }
worklist-table = Worklist as a table (CSV)
worklist-file = worklist
# $count
worklist-cut = Only the first { $count } bikes are listed. Narrow the list down to see the others.
worklist-remark = Read, done by
worklist-reason = Reason
worklist-due = Due
worklist-swap-by = Swap by
worklist-measure-by = Measure by
# $unit
worklist-left = Left in the chain, { $unit }
worklist-over = Worn out already, chance in %
care-several-title = Care of several bikes
care-several-bikes = Bikes
care-several-none = Choose the bikes in the fleet’s list first.
# $typed
care-several-bad-time = “{ $typed }” isn’t a time.
# $count (Number)
care-several-done = { $count ->
    [one] The care of 1 bike is recorded.
   *[other] The care of { $count } bikes is recorded.
  }
first-kinds = Name your kinds of bike
first-kinds-text = Each kind once, with its drivetrain: “town, 8 speeds”. Bikes then need no more than a label.
first-bikes = Enter the bikes
first-or = or
first-table = import a table
first-bikes-text = One by one, or all from a spreadsheet. There is a template.
first-labels = Print the labels
first-labels-text = Paste one on each bike. A phone’s camera opens the bike from it.
first-walk = Walk the yard with a gauge
first-walk-text = One tap a bike, one bike after the other.
fleet-empty = No bikes yet
fleet-empty-text = Enter a bike with its rings, its cogs and the day its chain was fitted. From its rides and an occasional reading, this page says when the chain has to come off.
fleet-add = Add a bike
fleet-none-found = No bike is in this state now.
fleet-show-all = Show all bikes
advice-swap-now = swap before the next ride
advice-hold = needs checking
advice-swap-by-some-day = swap soon
advice-measure-by-some-day = measure soon
advice-ride-on = ride on
# $advice, $parts
advice-with = { $advice }: { $parts }
# $first, $last
list-and = { $first } and { $last }
# $date
advice-swap-by = swap by { $date }
# $date
advice-measure-by = measure by { $date }
advice-measure-now = measure now
why-age-unknown = Nobody knows how worn this chain is: it was on the bike already and was never measured.
# $days (Number)
why-riding-unknown = { $days ->
        [one] No riding is on record for the day
       *[other] No riding is on record for the { $days } days
    } since this chain was fitted or last measured, so nobody knows how worn it is.
# $read, $likely
why-read-at-limit = { $read } was read, which is at the limit; the chain is most likely at { $likely }. Measure again to be sure.
# $chance
why-cassette-untried = New chain on a worn cassette; it may skip: { $chance }. Test it under load, off traffic, before the bike goes out. If it skips, replace the cassette.
# $chance
why-cassette-skips = The new chain was reported to skip, most likely on a worn cassette: { $chance }. Don't ride it under load: check for a stiff link and the adjustment of the gears, then replace the cassette.
why-doubt = Readings and record don't agree, so no single number can be given.
why-never-measured = Never measured: nobody knows how worn it is.
why-no-riding = No riding on record: nobody knows how worn it is.
why-hold = The readings contradict each other, or no chain is on record.
# $chance
why-over = Already worn out: { $chance }.
# $distance
why-less = 1 chance in 10 that less than { $distance } is left.
left-none = worn out
# $distance
left-about = about { $distance }
left-unknown = unknown

## Groups

groups-title = Groups
groups-link = Groups, and how far their bikes are ridden
groups-text = Say here how far each bike of a group is ridden a week. It counts where neither rides nor an odometer say so; what is declared of a bike itself goes first.
groups-none = No groups yet
groups-none-text = A bike's group is named when the bike is entered.
groups-nothing = nothing declared
groups-declare = Declare use of a group
# $unit
groups-asks = { $unit } a week, each bike

## Kinds of bike

kinds-title = Kinds of bike
kinds-text = A kind keeps what its bikes have in common: use, drivetrain, limit, group and part models. A new bike of the kind takes them over, so its label is all there is to enter.
kinds-none = No kind of bike yet
kinds-none-text = Name the first one below, for example “hire bike, 8 speeds”. The name and the number of cogs are enough.
kinds-kind = Kind
kinds-name = Name of the kind
kinds-use = Use
kinds-drivetrain = Drivetrain
kinds-drivetrain-text = The number of cogs is enough; the usual drivetrain of the use is assumed then. If you know the teeth and the links, enter them: they count.
# $count (Number)
kinds-typical = { $count ->
        [one] 1 cog, typical
       *[other] { $count } speeds, typical
    }
# $count (Number), $rings, $cogs, $links
kinds-by-teeth = { $count ->
        [one] Ring
       *[other] Rings
    } { $rings }, cogs { $cogs }, { $links } links
kinds-limit = Limit, percent, if not the usual one
kinds-limit-short = Limit
kinds-usual-limit = usual
kinds-group = Group, if not named like the kind
kinds-models = Part models
kinds-cassette = Cassette or single cog
kinds-no-model = not known
kinds-no-models = not known
kinds-in-fleet = In the fleet
# $count (Number)
kinds-bikes = { $count ->
        [0] no bikes
        [one] 1 bike
       *[other] { $count } bikes
    }
kinds-new = Add a kind
kinds-make = Add the kind
kinds-made = The kind is saved. New bikes can be of it now.
kinds-changed = The change is saved.
kinds-deleted = The kind is deleted.
# $name
kinds-change-title = Kind of bike: { $name }
# $count (Number)
kinds-count = { $count ->
        [0] No bike is of this kind.
        [one] 1 bike is of this kind, retired ones included.
       *[other] { $count } bikes are of this kind, retired ones included.
    }
kinds-follow = Do the bikes of this kind take over the change?
kinds-follow-text = Needed when use, drivetrain, limit or part models change. Name and group concern new bikes only.
kinds-follow-yes = Yes: bikes that still have the old values get the new ones, as if from the start
kinds-follow-no = No: bikes stay as they are; only new ones get the new values
kinds-delete = Delete this kind…
kinds-delete-text = Only a kind without bikes can be deleted.
kinds-delete-button = Delete the kind

## Bike

doubt-title = What may have happened
doubt-text = Each explanation has its own numbers; the button mends the record, and everything follows.
doubt-nearly-sure = more than 99 %
doubt-what = Explanation
doubt-likely = Probability
doubt-then = If so
# $elongation, $left, $advice
doubt-numbers = wear { $elongation }, { $left } left: { $advice }
doubt-as-recorded = The record is right, and the reading is off by chance.
# $after, $by
doubt-unrecorded-swap = A new chain was fitted between { $after } and { $by } and nobody recorded it.
# $after, $by, $distance
doubt-missing-riding = { $distance } of riding between { $after } and { $by } are missing.
# $by
doubt-wrong-reading = The reading of { $by } is wrong, or was taken from another chain.
# $date
doubt-mend-unrecorded-swap = Record a chain swap on { $date }
# $distance, $date
doubt-mend-missing-riding = Add { $distance } of riding on { $date }
doubt-mend-wrong-reading = Mark the reading as wrong
doubt-mended = The record was mended.
doubt-mended-note = Recorded afterwards, as the readings suggest
doubt-gone = Readings and record agree by now; nothing was changed.
# $at
bike-left = This bike left the fleet on { $at }. It is in no list, order or plan, and what is ridden since doesn't count.
bike-bring-back = Bring it back into the fleet
# $label
edit-title = Edit bike { $label }
edit-text = What you correct counts as if it had been so from the start; the history stays.
edit-assumed = This drivetrain was assumed, as nobody said what it is.
edit-drivetrain-text = Another drivetrain changes what every ride was worth.
edit-done = The change is saved.
bike-edit = Edit the bike
bike-take-out = Take this bike out of the fleet…
bike-take-out-text = Its history stays. You can bring it back at any time.
bike-take-out-button = Take it out
# $parts
bike-goes-with = Worn as well, replace together with the chain: { $parts }
# $label
bike-title = Bike { $label }
# $group
bike-of-group = Group { $group }
# $whose, $count
bike-basis-learned = { $whose }, chains read: { $count }
bike-of-fleet = the whole fleet
# $left, $date, $chance
bike-sentence-soon = Most likely { $left } left, until about { $date }. Worn out already: { $chance }.
# $left, $date, $least
bike-sentence = Most likely { $left } left, until about { $date }; 1 chance in 10 that it is less than { $least }.
# $left, $least
bike-sentence-no-date = Most likely { $left } left; 1 chance in 10 that it is less than { $least }. The bike isn't ridden, so there is no date.
# $left, $least
bike-sentence-by-use = Most likely { $left } left, going by what the bike is used for; 1 chance in 10 that it is less than { $least }. Nobody has said how far it is ridden, so there is no date.
# $left, $least
bike-sentence-by-group = Most likely { $left } left, going by its group; 1 chance in 10 that it is less than { $least }. Nobody has said how far it is ridden, so there is no date.
use-say = Say how far it is ridden
# $chance, $limit
bike-sentence-over = Worn out: the chain is already over its limit of { $limit }, { $chance }.
# $left, $least
bike-sentence-far = Most likely { $left } left, more than ten years at present use; 1 chance in 10 that it is less than { $least }.
# $chance
bike-sentence-unridden = No rides are on record, so there is no distance and no date. Over the limit: { $chance }.
bike-sentence-none = No chain is on record. Fit one below, or record the swap that put it on.
bike-measure = Measure
bike-swap = Record a swap
bike-care = Record care
# $measure, $over
bike-chances = Over the limit today: { $over }. Measure by { $measure }.
# $measure
bike-measure-by = Measure by { $measure }.
# $over
bike-chance-over = Over the limit today: { $over }.
bike-overdue-caution = A chain this worn can slip or break under load, and a rider can fall. Keep the bike in until the chain has been changed or measured.
bike-where = Wear now
bike-path = Wear over time
bike-path-key = Square: rule. Diamond: caliper. Circle: dial. Triangle up: a gauge dropped in, so at least that. Triangle down: it stayed out, so at most that. Crossed out: ignored as an error.
bike-path-band = The band covers 8 cases in 10; it narrows at each reading.
bike-drivers = What wore it
# $km, $reference
bike-drivers-text = { $km } on this chain wore it as much as { $reference } of dry road with a cared-for chain.
bike-no-rides = No rides are on record for this chain. They come from a ride log, a file or the API.
driver = Cause
driver-share = Share of the wear
driver-distance = the distance itself
driver-energy = work put through the chain
driver-gears = gears, chain length and wheel
driver-surface = surface
driver-wet = wet
driver-care = riding without care
driver-spared = spared it
bike-cassette = Cassette
bike-cog = Cog
# $p50 (Number), $p10, $p90
bike-cassette-text = It will take about { $p50 ->
        [one] 1 more chain
       *[other] { $p50 } more chains
    } before a new one skips on it; { $p10 } to { $p90 } in 8 cases of 10.
# $p90
bike-cassette-unlikely = It will most likely take no further chain; 1 chance in 10 that it takes { $p90 } or more.
bike-cassette-done = Replace it together with the chain: a new chain would most likely skip on it.
# $chance
bike-cassette-skips = A new chain would skip on it today: { $chance }.
# $chance
bike-cassette-next = Once this chain is worn out, the next one would skip on it: { $chance }.
# $held (Number)
bike-cassette-held = { $held ->
        [one] 1 new chain has held on it so far.
       *[other] { $held } new chains have held on it so far.
    }
# $now, $per, $limit
bike-cassette-cost = Waiting wears out { $now } of cassette per { $per } now, { $limit } at the limit.
bike-cassette-looks = Worn-looking teeth aren't worn teeth: shifting ramps are shaped that way. A new chain that skips under load decides.
bike-skip-caution = Test for skipping at walking pace, off traffic, with both hands on the bars: a skip can throw the rider.
bike-rings = Rings
bike-warnings = Warnings
bike-basis = Based on
# $readings (Number), $rate
bike-basis-text = { $readings ->
        [one] 1 reading
       *[other] { $readings } readings
    } of this chain; wear rate from: { $rate }.
bike-basis-default = the default, as nothing has been learned yet
# $measured, $climb, $distance
bike-basis-energy = Work through the chain: { $measured } measured, { $climb } from distance and ascent, { $distance } from distance alone.
bike-basis-assumed = Surface, wet, care and gears count with assumed factors until the fleet has taught its own.
bike-history = History
bike-rides-by-month = Rides by month
event-when = When
event-what = What
event-detail = Details
event-reading = reading
event-care = care
# $care, $lubricant
event-care-with = { $care } with { $lubricant }
event-odometer = odometer
event-swap = swap
# $reason
event-voided = marked as wrong: { $reason }
event-void = Mark as wrong…
event-restore = Count it again
event-again = Record it again
event-void-reason = Why it is wrong
event-none = Nothing yet. Rides, readings, care and swaps will stand here.
event-all = Show all
ride-files-link = Enter rides from files (GPX, FIT)
ride-files-title = Rides from files
ride-files-text = Files as bike computers and ride apps export them: GPX or FIT, also gzipped. Several at once; the same file twice is one ride.
ride-files-bike = Bike (label)
ride-files-files = Files
# $size
ride-files-largest = Together no more than { $size } MB.
ride-files-surface = Surface
ride-files-surface-of-file = as the file says, else paved
surface-name =
    .paved = paved
    .gravel = gravel
    .mud = mud
    .indoor = indoors
ride-files-wet = It was wet
ride-files-day = Day
ride-files-day-text = Only for files without times.
ride-files-take = Enter the rides
# $label
ride-files-no-bike = No bike in the fleet is called “{ $label }”.
ride-files-none = Choose one file or more.
# $size
ride-files-too-large = Together the files are larger than { $size } MB. Send fewer at once.
# $count (Number), $label
ride-files-done = { $count ->
    [0] No file was taken for { $label }.
    [one] 1 file was taken for { $label }.
   *[other] { $count } files were taken for { $label }.
  }
ride-files-file = File
ride-files-what = What became of it
# $time, $distance
ride-files-new = New ride: { $time }, { $distance }
# $time, $distance
ride-files-again = Known already: { $time }, { $distance }
# $time
ride-files-deleted = Deleted before, and left so: { $time }
# $time, $distance
ride-files-twice = { $time }, { $distance }: another source tells of this ride already; it counts once.
riding-title = Odometer, use and care
# $unit
odometer-asks = Odometer now, { $unit }
# $unit
odometer-optional = Odometer, { $unit } (optional)
odometer-save = Save the odometer
# $most, $unit
odometer-range = An odometer shows 0 to { $most } { $unit }.
use-title = Declared use
use-text = Counts only where neither rides nor the odometer say how far the bike went.
# $distance
use-always = about { $distance } a week
# $distance, $from
use-from = about { $distance } a week from { $from }
# $distance, $until
use-until = about { $distance } a week until { $until }
# $distance, $from, $until
use-between = about { $distance } a week from { $from } to { $until }
# $told
use-of-group = { $told } (its group)
# $unit
use-asks = { $unit } a week
use-from-asks = From, if not always so
use-until-asks = Until, if it ends
use-save = Save the use
use-remove = Remove
# $most, $unit
use-range = Use is 0 to { $most } { $unit } a week.
care-setting-title = Record of care
care-setting-asks = Care is
care-setting-workshop = as in the workshop's settings
care-setting-entries = unrecorded until a bike's first entry, recorded from then on
care-setting-recorded = recorded: all care is entered
# $unit
care-setting-km = routine: cleaned and lubricated every so many { $unit }
care-setting-weeks = routine: cleaned and lubricated every so many weeks
care-setting-unrecorded = unrecorded: nobody keeps track
# $unit
care-setting-every = Routine: { $unit } or weeks
# $least, $most, $unit
care-setting-range = Routine care needs a whole number: { $least } to { $most } { $unit } or 1 to 104 weeks.
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
# $date
start-new = Fitted new on { $date }
# $date
start-found = As found; on record since { $date }
# $date, $distance
start-found-after = As found, with about { $distance } on it; on record since { $date }
start-none = No chain on record
start-correct = Correct the start…
start-correct-text = With a day: the chain, cassette and rings that came first were fitted new on it. Without: they are as found, and readings decide.
start-fitted-on = Fitted new on
# $unit
start-chain-km = Else: about how far it had run, { $unit }, if known
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
warning-contradiction = Readings contradict each other. Either another chain was measured, or this one was changed and nobody recorded it: mark the mistaken reading as wrong, or record the swap.
# $date, $teeth
warning-skip = On { $date } skipping under load was reported on the { $teeth }-tooth cog; the cassette's outlook takes it into account. It can throw the rider: find the cause before the bike goes out.
# $percent, $after, $by
warning-unrecorded-swap = Readings and record don't agree. Most likely ({ $percent }) the chain was replaced between { $after } and { $by } and nobody recorded it: record the swap.
# $percent, $after, $by
warning-missing-rides = Readings and record don't agree. Most likely ({ $percent }) rides between { $after } and { $by } are missing: enter them.
# $percent, $by
warning-wrong-reading = Readings and record don't agree. Most likely ({ $percent }) the reading of { $by } is wrong, or was taken from another chain: mark it as wrong, or measure again.
warning-no-reading = This chain was never measured: everything here is estimated.
warning-no-chain = No chain is on record for this bike.
# $before_km, $before, $after_km, $after
warning-new-counter = The odometer showed { $before_km } on { $before } and { $after_km } on { $after }: counted as a new odometer. How far the bike went in between isn't known. If a number is wrong, mark it as wrong.
# $before, $after, $rides, $counter
warning-rides-exceed = From { $before } to { $after } the rides add up to { $rides } and the odometer counted { $counter }: the rides count. Check for rides entered twice, and the odometer's wheel size.
# $distance
warning-care-silent = No care was entered for { $distance }, which counts as neglect. If the chain was looked after, enter it, or set the bike's care to routine or unrecorded.
rule-title = The chain along a twelve-inch rule
# $likely, $low, $high, $limit, $length
rule-description = 24 pitches of a new chain are twelve inches long. This one is most likely { $likely } longer; { $low } to { $high } in 8 cases of 10. Its limit is { $limit }, a length of { $length } mm.
# $percent, $length
rule-limit = limit { $percent } = { $length } mm
# $percent
rule-likely = most likely { $percent }
path-title = Elongation over time
path-axes = Elongation in percent of the pitch, by month.
# $percent
path-limit = limit { $percent }
# $date
path-swap-by = swap by { $date }
# $date, $likely, $low, $high
path-point = { $date }: most likely { $likely }, { $low } to { $high } in 8 cases of 10
# $count (Number)
path-readings = { $count ->
        [one] 1 reading
       *[other] { $count } readings
    } of this chain.
# $likely, $limit
path-now = Today most likely { $likely }, with a limit of { $limit }.
# $date, $likely, $low, $high
path-by = By { $date } most likely { $likely }, { $low } to { $high } in 8 cases of 10.
path-hover = Point at the plot to read a day.
# $teeth, $damage, $chance
cog-described = { $teeth } teeth: { $damage } worn, worn out: { $chance }.
cog-axis-teeth = Teeth below
cog-axis-damage = % worn above
cassette-plot-title = Cassette, sprocket by sprocket
rings-plot-title = Rings, one by one
rides-title = Distance ridden by month
# $total, $from, $to, $wet
rides-description = { $total } from { $from } to { $to }, of it { $wet } in the wet.
# $month, $distance, $rides (Number), $wet
rides-month = { $month }: { $distance } in { $rides ->
        [one] 1 ride
       *[other] { $rides } rides
    }, { $wet } of it wet
# $unit
rides-axes = { $unit } a month; the hatched part was wet.
new-bike-next = Save, then the next
new-bike-next-text = The kind says the rest.
# $label
new-bike-entered = { $label } is entered. The next one?
new-bike-table = Import bikes from a table
new-bike-title = Add a bike
new-bike-label = Label: the number on its frame
new-bike-group = Group: bikes that wear alike
new-bike-use = Used for
new-bike-rings = Teeth of its rings, e.g. 42, or 50 34
new-bike-cogs = Teeth of its cogs, e.g. 11 13 15 17 20 23 26 30
new-bike-links = Number of links
new-bike-gearing = Gearing
new-bike-kind = Kind of bike
new-bike-kinds-link = Kinds of bike: what equal bikes have in common, entered once
new-bike-no-kind = none
new-bike-drivetrain-text = Only the label is needed. If the drivetrain isn't known, leave it empty or give the number of cogs or a bike with the same drivetrain; the usual one is assumed.
new-bike-speeds = Number of cogs
new-bike-like = Same drivetrain as bike
new-bike-no-like = none
new-bike-use-of-kind = as its kind, else town
gearing-auto = from the sprockets
new-bike-fitted = Day its chain, cassette and rings were fitted, new
new-bike-as-found = Leave it empty when nobody knows: they count as found, and the first measurement tells.
# $unit
new-bike-chain-km = About how far the chain has run already, { $unit }, if known

## Measuring

measure-title = Measure a chain
# $label
measure-bike = Measure bike { $label }
measure-pick = Which bike?
measure-pick-hint = Type the number on the frame, or scan the code on the label with the phone's camera.
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
walk-title = Walk the yard
walk-with = Gauge and mark
# $kind, $mark
walk-gauge = { $kind }, { $mark }
walk-gauge-kind =
    .drop_in = Drop-in
    .drop_in_isolating = Roller-free
# $done (Number), $all (Number)
walk-done = { $done } of { $all } measured today. Tap what the gauge does.
walk-in = Drops in
walk-out = Stays out
way-drop-in = Drop-in gauge
way-drop-in-isolating = Drop-in gauge, roller-free
way-drop-in-how = The usual kind: it pushes the rollers at its ends apart.
way-isolating-how = It pushes both rollers the same way.
way-rule-how = Chain under tension, from one pin's edge to the same edge of the pin 24 pitches on.
way-percent-how = Several spots at once: type them one after another, e.g. 0.30 0.33 0.31.
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
measure-not-a-number = “{ $text }” isn't a number. Type 0.31 or 0,31; on a rule also 12 1/16.
measure-missing = Type what the instrument shows.
measure-percent-range = −0.3 to 3 percent. For a larger number, check the unit and the chain.
measure-length-range = 24 pitches are 304.0 to 311.0 mm, or 11.97 to 12.24 inches. Check the count and the unit.
measure-no-chain = No chain was on this bike at that time. Fit one first, or record the swap.
measure-caution = Keep fingers out of the drivetrain while anything can turn; hold the crank still while you measure.
# $label
result-title = Bike { $label }: reading saved
result-voided = Undone
result-voided-text = The reading no longer counts. It stays on record.
result-undo = Undo
result-undo-hint = for one minute
result-undo-late = The minute is over. On the bike's page a reading can still be marked as wrong, with a reason.
result-undone-reason = undone by the one who measured
result-next = Measure the next bike
result-bike = This bike's page

## Swaps and care

# $label
swap-title = Record a swap on bike { $label }
swap-what = What was replaced
swap-worn-too = Worn besides the chain.
swap-worn-text = Replace it in the same visit: a new chain can skip on worn teeth and throw the rider.
# $part, $chance
swap-worn = { $part }: worn out, { $chance }
# $chance
swap-cassette-worn = Replace it together with the chain. A new chain would skip on it: { $chance }.
# $chance
swap-cassette-may = A new chain may skip on it: { $chance }. Test for skipping before the bike goes out.
# $chance
swap-cassette-stays = Can stay. A new chain would skip on it: { $chance }.
# $chance
swap-ring-worn = Replace it together with the chain. Worn out: { $chance }.
# $chance
swap-ring-may = May be worn out: { $chance }. Look at it with the chain off.
# $chance
swap-ring-stays = Can stay. Worn out: { $chance }.
swap-model = Model that went on
# $name, $count (Number)
swap-model-on-shelf = { $name } – { $count ->
        [0] none on the shelf
       *[other] { $count } on the shelf
    }
swap-other-teeth = Other teeth than on record
swap-doesnt-go = Doesn't go with this bike: you will be asked
swap-nothing-chosen = Tick what was replaced. Nothing was recorded.
swap-reading-without-chain = A reading of the old chain goes with a new chain: tick the chain, or leave the reading empty.
# $place, $text
swap-part-refused = { $place }: { $text } Nothing was recorded.
swap-undone-reason = undone right after it was recorded
swap-undo = Undo
swap-undone = Undone. What came off counts as still on the bike, and stock has its parts back.
swap-same-model = the same as before
swap-when = When
swap-when-hint = leave empty for now
swap-note = Remark
swap-save = Record the swap
swap-why = Why the old cassette or ring came off
swap-why-hint = shows how much wear such parts stand
swap-why-unsaid = not said
swap-reading = What the old chain read, percent, if it was measured
swap-reading-with = Read with
# $name, $instrument
swap-reading-tool = { $name } ({ $instrument })
# $text
swap-bad-time = “{ $text }” isn't a time. Choose a day and an hour that are not in the future.
# $label
care-title = Record care of bike { $label }
care-kind = What was done
care-done = The care is recorded.
care-lubricant = Lubricant
care-lubricant-unnamed = not said
care-save = Record the care
care-caution = Keep solvents and lubricants away from brake discs, pads and rims, and off the skin; follow the maker's safety sheet. Turn the crank by hand only, fingers clear of chain and sprockets.
steps-heading = Steps
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
steps-links = On record for this bike: { $links } links.
swap-enter = Enter the swap
# $parts
swap-done = Recorded: { $parts } replaced.
swap-unticked = These checks weren't ticked. Do them before the bike goes out:
# $count (Number)
swap-ticked = { $count ->
        [one] 1 step ticked
       *[other] { $count } steps ticked
    }
swap-void = Undo this swap…
swap-void-text = The old part counts as still on the bike, and stock gets its part back.

## Symptoms

symptom-note = Note a symptom
# $label
symptom-title = Symptoms on bike { $label }
symptom-intro = One tap records it, as of now.
symptom-which-cog = Skips under load: on which cog?
# $teeth
symptom-cog = { $teeth } teeth
symptom-cog-unknown = Don't know
symptom-new-chain = Tested with a new chain
symptom-other = Something else
symptom-remark = Remark, if any: type it before you tap
# $what
symptom-noted = Noted: { $what }
# $what, $teeth
symptom-on-cog = { $what }, { $teeth }-tooth cog
# $what
symptom-with-new-chain = { $what }, with a new chain
symptom-evidence = This counts as evidence: the outlook of cassette and chain takes it into account.
symptom-lead = This is a lead, not evidence: the outlook stays as it was. Look for the cause in this order, as is common practice.
symptom-look = Where to look, likeliest first
# $chance
symptom-model-says = From wear alone: { $chance }.
symptom-take-back = Take it back
symptom-taken-back = taken back on the page
symptom-is-void = Taken back; it doesn't count.
# $label
symptom-to-bike = To bike { $label }
event-symptom = symptom

## Bench, cards and labels

bench-title = Bench plan
bench-none = No plan yet
bench-none-text = A plan puts each bike that is due on a day when the bench has time and the parts are there, at the lowest cost of waiting and of swapping early. Nothing is fixed until you confirm it.
bench-from = From
bench-to = To
bench-compute = Make a plan
bench-compute-again = Make a new plan
# $date
bench-accepted = Confirmed on { $date }.
# $date
bench-proposal = Proposal of { $date }, not confirmed yet.
bench-accept = Confirm this plan
bench-see-proposal = See the newer proposal
bench-see-accepted = Back to the confirmed plan
bench-nothing-due = No chain has to come off in these days.
# $bikes (Number)
bench-nothing-known = { $bikes ->
        [one] No swap is planned yet: 1 bike has to be measured first.
       *[other] No swap is planned yet: { $bikes } bikes have to be measured first.
    }
# $cost
bench-optimal = This is the cheapest plan there is: { $cost }.
# $cost, $bound
bench-gap = This plan costs { $cost }; the cheapest can't cost less than { $bound }.
# $needed (Number), $available (Number)
bench-load = { $needed ->
        [one] 1 minute of work is
       *[other] { $needed } minutes of work are
    } due; the bench has { $available }.
# $used (Number), $minutes (Number)
bench-minutes-used = { $used } of { $minutes ->
        [one] 1 minute
       *[other] { $minutes } minutes
    } used
bench-free-day = Nothing planned.
# $from, $to, $count (Number)
bench-free-days = { $from } to { $to }: { $count ->
        [one] 1 bench day
       *[other] { $count } bench days
    }, nothing planned.
bench-closed = closed
bench-bike = Bike
bench-work = Work
bench-minutes = Minutes
bench-due = Best day
bench-kept = confirmed
bench-card = Card
bench-pick-list = Parts needed
# $place
bench-unknown-model = { $place }, model not on record
# $part
bench-stays-for-part = Worn, but stays on until the new one is there: { $part }.
# $part
bench-stays-for-day = Worn, but stays on until a day is long enough for both: { $part }.
bench-left-out = What is short, and bikes not planned
# $date, $missing (Number), $bikes
bench-short-minutes = { $date }: { $missing ->
        [one] 1 minute
       *[other] { $missing } minutes
    } short for { $bikes }.
# $bikes, $date, $missing (Number)
bench-short-length = { $bikes }: longer than any bench day. Even { $date } is { $missing ->
        [one] 1 minute
       *[other] { $missing } minutes
    } too short.
# $date, $missing (Number), $part, $bikes
bench-short-parts = { $date }: { $missing } more × { $part } needed for { $bikes }.
# $bikes
bench-short-away = Away on every bench day: { $bikes }.
# $bikes
bench-short-days = No bench day is open for { $bikes }.
# $count (Number)
bench-short-below = { $count ->
        [one] 1 bike not planned
       *[other] { $count } bikes not planned
    }. What is short stands below the days.
bench-moved = Moved from a confirmed day
# $label, $from, $to
bench-moved-to = { $label }: from { $from } to { $to }
# $label, $from
bench-moved-out = { $label }: from { $from }, now not planned
# $label, $from
bench-moved-stays = { $label }: no longer on { $from }, its chain can stay
bench-measure-first = Measure first
bench-measure-lead = Their chains may have to come off in these days. A reading decides: measure them, then plan again.
# $date
bench-measure-by = by { $date }
# $done (Number), $jobs (Number)
bench-progress = { $done } of { $jobs ->
        [one] 1 job
       *[other] { $jobs } jobs
    } done.
# $minutes (Number), $closes
bench-left-today = Today the bench has { $minutes ->
        [0] no minute
        [one] 1 minute
       *[other] { $minutes } minutes
    } left; it closes at { $closes }.
# $count (Number)
bench-troubled = { $count ->
        [one] 1 job no longer fits
       *[other] { $count } jobs no longer fit
    }
bench-troubled-text = Move the jobs, or make a new plan: it keeps every confirmed day that it can.
bench-newly = Due since this plan was made
# $label, $due
bench-newly-due = { $label }: due { $due }, not in this plan
bench-job = Job
bench-job-done = Done
bench-job-move = Move…
bench-job-place = Give it a day…
# $label
bench-job-title = Bench job: bike { $label }
# $day
bench-job-now = Planned for { $day }.
bench-job-nowhere = It has no day.
bench-job-choose = Choose its day
bench-job-held = The job then stays on that day in every plan, as long as the bench is open and the parts are there.
bench-job-hold = tap to hold it here
bench-job-details = Record it with models, reading and checks
bench-job-release = Let the planner choose again
bench-by-hand = held on this day
# $minutes (Number)
bench-takes = { $minutes ->
        [one] Takes 1 minute.
       *[other] Takes { $minutes } minutes.
    }
# $when
bench-done-on = done { $when }
# $label, $parts
bench-recorded = Recorded for bike { $label }: { $parts } replaced.
bench-stays-in = Keep the bike in until it is done.
bench-checks = Checks before it goes out
trouble-day-passed = Its day has passed and it isn't done.
trouble-bench-closed = The bench is closed on its day.
trouble-today-is-over = The bench is closed for today.
# $takes (Number), $has (Number)
trouble-day-overfull = Doesn't fit any more: the jobs of the day take { $takes ->
        [one] 1 minute
       *[other] { $takes } minutes
    }, the day has { $has }.
trouble-bike-away = The bike is away on its day.
# $part
trouble-part-missing = No part for it by then: { $part }.
# $part
trouble-still-on = The chain is done, this is still on: { $part }. A new chain can skip on it and throw the rider.
trouble-left-fleet = The bike left the fleet.
# $date
trouble-can-stay-until = By what is known now its chain can stay until { $date }.
trouble-can-stay = By what is known now its chain can stay.
trouble-measure-first = Measure it first: too little is known now.
trouble-needs-checking = Needs checking first.
# $date
trouble-due-earlier = Due earlier by now: { $date }.
# $part
trouble-also-worn = Also worn by now: { $part }.
# $missing (Number)
bench-no-day-minutes = The bench lacks { $missing ->
        [one] 1 minute
       *[other] { $missing } minutes
    }; bikes with more at risk go first.
# $minutes (Number)
bench-no-day-length = No day is long enough: it takes { $minutes ->
        [one] 1 minute
       *[other] { $minutes } minutes
    }.
# $part
bench-no-day-part = No part for it in these days: { $part }.
bench-no-day-away = It is away on every bench day.
bench-no-day-closed = The bench is open on no day.
bench-no-day-others = Waiting costs less than any day that is left; bikes with more at risk go first.
# $labels, $least, $most
bench-served-by-risk = Served first, as waiting costs more with them (at least { $least } a day, against { $most }): { $labels }.
# $labels
bench-served-by-hand = Served first, as somebody chose their day: { $labels }.
# $labels
bench-served-by-promise = Served first, as their day was confirmed: { $labels }.
# $labels
bench-served-by-fit = Served first, as they fit the days that are left: { $labels }.
bench-look-first = Needs checking first
bench-days = Exceptions
bench-days-text = The usual minutes are in the settings; enter a holiday or a long Saturday here.
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
# $part, $chance
card-part-worn = { $part } – worn as well: { $chance }
# $day
card-planned = On the bench: { $day }.
card-steps = Steps
card-read = Read before it came off: ______ %
card-by = Done by: ____________  Date: ____________
card-scan = Scan to measure or record
labels-title = Labels
labels-text = One label for each bike; scanned with a phone's camera it opens the measuring page. Stick it where no chain, cable or hand rubs.
labels-none = Once bikes are entered, each has its label here.
labels-open = Labels to print
# $label
qr-title = Code that opens bike { $label }
print-hint = Print this page from the browser.

## Stock

parts-title = Stock and deliveries
parts-none = Nothing is counted yet
parts-none-text = Enter a part model first, then how many are on the shelf. Swaps take from the count, deliveries add to it.
parts-part = Part
parts-on-shelf = On the shelf
parts-under-way = On order
parts-planned = For the bench plan
parts-bench-lacking = The bench plan lacks
# $missing (Number), $name, $date, $bikes
parts-bench-lacks = { $missing } × { $name } by { $date }, for { $bikes }
parts-lead-time = Delivery time, days
parts-count = Count
# $date
parts-counted = counted { $date }
parts-count-again = New count
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

# $days (Number)
orders-title = Parts needed in the next { $days ->
        [one] day
       *[other] { $days } days
    }
orders-nothing = The shelf covers what is expected. Nothing has to be ordered.
orders-none = No swap is expected
orders-none-text = Once bikes are entered and ridden, this says how many chains, cassettes and rings the next weeks take, and when to order them.
orders-now = Order now
orders-part = Part
orders-quantity = Order
orders-lasts = Chance that stock lasts until delivery
# $bikes (Number)
orders-counted = From the outlooks of { $bikes ->
        [one] 1 bike
       *[other] { $bikes } bikes
    }.
# $bikes (Number)
orders-waiting = { $bikes ->
        [one] 1 more is
       *[other] { $bikes } more are
    } being computed again and not counted here.
# $days
orders-plot-title = Shelf and deliveries against what { $days } days need
# $name, $p50, $p90, $shelf, $coming
orders-point = { $name }: most likely { $p50 } needed, 1 chance in 10 of more than { $p90 }; on the shelf: { $shelf }, on order: { $coming }.
# $name, $shelf, $coming
orders-point-none = { $name }: most likely none needed, less than 1 chance in 10 of any; on the shelf: { $shelf }, on order: { $coming }.
# $name, $p90, $shelf, $coming
orders-point-few = { $name }: most likely none needed, 1 chance in 10 of { $p90 } or more; on the shelf: { $shelf }, on order: { $coming }.
orders-axes = Hatched: on the shelf. Outlined: with deliveries.
orders-marks = Marks: most likely need, and the need exceeded in 1 case of 10.
orders-not-counted = not counted
# $place, $shape
orders-unnamed = { $place } { $shape }, no model entered

## Help, and what opens without a connection

help-link = Help and words
help-title = Help
help-on-this-page = On this page
help-first = The first day
help-then = Then record what happens: rides (from files, an app, or the odometer), readings, care and swaps. Each morning the fleet’s page says who needs someone first.
help-measuring = Measuring a chain
help-gauge = Lay it on a taut stretch of chain, without force. It stays out: the chain is below the gauge’s mark. It drops in: the chain has reached it. Most gauges read high, as they push the rollers apart; that is reckoned with.
help-rule-name = Rule
help-rule = Lay the zero on the middle of a pin and read where the 24th pin after it is: twelve inches, or 304.8 mm, on a new chain. A sixteenth of an inch more is about 0.5 %.
help-shapes = What the shapes mean
help-advice =
    .swap_now = It is probably worn out: a new chain before the bike goes out.
    .hold = Something has to be looked at first: nobody knows enough, readings contradict each other, or a new chain may skip.
    .swap_by = A new chain by the date given.
    .measure_by = A reading by the date given tells more than it costs.
    .ride_on = Nothing to do for now.
help-words = Words
help-elongation-name = Elongation
help-elongation = Pins and bushings wear, so the chain gets longer: above new, below worn. In percent of the new length. It is what every gauge measures.
help-limit-name = Limit
help-limit = The elongation at which a chain comes off: often 0.5 % for eleven sprockets and more, 0.75 % for up to ten; the maker’s word goes first. Where the chain is now is never known exactly; the curve shows how likely each elongation is.
help-drivetrain-name = Cogs and rings
help-drivetrain = 1: the cassette with its cogs, or one cog. 2: the ring at the crank, or several. A chain that runs on too long wears both.
help-skip-name = Skipping
help-skip = A new chain finds no hold on worn, hooked teeth and jumps under load, which can throw the rider. The cassette has to go with the chain then.
help-chance-name = 3 chances in 10
help-chance = Of ten chains of which as much is known, three are like that.
help-reference-name = Reference kilometre
help-reference = A kilometre on dry pavement with a clean chain. Rain, mud, dirt and load make a ridden kilometre count for more.
help-found-name = As found
help-found = A chain that was on when the bike was entered. Nobody knows how far it had run, so the first reading tells most.
help-dates-name = Measure by, swap by
help-dates = “Swap by” is the day on which the chance of being past the limit reaches the risk set under Settings. “Measure by” is the day from which a reading pays.
help-turn-name = Chains in turn
help-turn = Two chains or more that are changed over on one cassette, so that all wear out together.
# $time
old-page = No connection: this page is as it was at { $time }.
offline-title = No connection
offline-text = This page wasn’t looked at on this device before. Pages that were still open, and what you enter there is kept and sent once.

## Part history and audit

lives-title = Part history
lives-link = Part history
lives-all = All
lives-place = Kind
lives-none = No part yet
lives-none-text = Every bike that is entered brings its parts; every swap adds one. Their distances and the bikes they were on are listed here.
lives-distance = Ridden
lives-reference = Wears like
lives-bikes = On bikes
lives-reference-text = “Wears like” is the distance on a dry road with a cared-for chain that would wear a part as much.
# $label, $when
lives-stay = { $label }, { $when }
lives-done = retired
lives-on-none = not fitted yet
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

track-title = Track record of the forecasts
track-none = No forecast has met a reading yet
track-none-text = Each time a chain is measured, the reading is compared with what was forecast before. Once there are some, this page shows how often the forecast held, in good months and bad.
# $covered (Number), $readings (Number), $share
track-sentence = { $covered } of { $readings ->
        [one] 1 reading
       *[other] { $readings } readings
    } lay in the forecast's middle range: { $share }. Right would be 8 in 10.
# $readings (Number), $low, $high
track-chance = With { $readings ->
        [one] 1 reading
       *[other] { $readings } readings
    }, chance would give { $low } to { $high }.
# $percent
track-bias-none = On average chains read what was forecast, to within { $percent }.
track-held = That is within what chance would give.
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
track-kept = { $kept } of these { $all } forecasts were on record before the reading; the others were computed afterwards from the readings before it.
track-months = Month by month
track-plot-title = Share of readings in the forecast's middle range, by month
# $month, $share, $readings (Number), $low, $high
track-plot-point = { $month }: { $share } of { $readings ->
        [one] 1 reading
       *[other] { $readings } readings
    }; chance would give { $low } to { $high }.
track-plot-axes = Share that held, by month. Box: what chance would give. Mark: what it was.
track-right = right: 80 %
track-by-group = Readings by group
track-group = Group
track-readings = Readings
track-share = Held
track-verdict = In words
track-outside-chance = outside what chance would give
track-inside-chance = within what chance would give
track-shown = Kilometres, dates and swaps: as they were shown
track-shown-text = What people could see at the time, compared with what came.
track-made-later = Kilometres, dates and swaps: worked out afterwards
track-made-later-text = Worked out for the beginning of each month, from nothing but what was known then. Imported history is judged by these.
track-about = Forecast
track-came = What came
track-means = What it means
track-kilometres = Kilometres
track-dates = Dates
track-dates-from-december = Dates told from December to February
track-dates-from-march = Dates told from March to May
track-dates-from-june = Dates told from June to August
track-dates-from-september = Dates told from September to November
track-dates-by-group = Dates by group
track-swap-by = Days named for swaps
track-demand = Swaps per quarter
track-skips = Skipping on the old cassette
# $chains (Number), $covered, $early, $late
track-passages = Judging by { $chains ->
        [one] 1 chain
       *[other] { $chains } chains
    }, { $covered } of limits were reached in the range told (right: 80 %), { $early } before it and { $late } after it.
# $judged (Number), $over, $accepted
track-swap-by-judged = Of { $judged ->
        [one] 1 chain
       *[other] { $judged } chains
    } ridden to the day named, { $over } were over their limit (accepted: { $accepted } in 10).
# $ridden (Number)
track-swap-by-unread = { $ridden ->
        [one] 1 chain was
       *[other] { $ridden } chains were
    } ridden to the day named, and not measured since.
# $early (Number), $days
track-swap-by-early = { $early ->
        [one] 1 chain
       *[other] { $early } chains
    } came off before the day named: { $days } days before it on average.
# $covered, $quarters (Number), $came, $expected
track-demand-quarters = In { $covered } of { $quarters ->
        [one] 1 quarter
       *[other] { $quarters } quarters
    } the number of swaps was in the range told. Swaps in all: { $came }; expected: { $expected }.
# $skipped, $tried (Number), $told
track-skips-tried = { $skipped } of { $tried ->
        [one] 1 new chain
       *[other] { $tried } new chains
    } skipped on the old cassette; expected: { $told }.
nav-track-record = Track record

## What the fleet has taught

nav-calibration = Calibration
calibration-title = What the fleet has taught
# $chains (Number)
calibration-learned = Learned from { $chains ->
        [one] 1 measured chain
       *[other] { $chains } measured chains
    }
# $at, $next
calibration-when = Last learned on { $at }. Next time by itself: { $next }.
# $next
calibration-next = It tries each night; next on { $next }.
calibration-ask = Learn now
calibration-asked = The fleet is learning. That takes seconds for 1,000 chains; the outlooks follow.
calibration-asked-done = Done: what stands below was learned just now. The outlooks follow within a minute.
calibration-look-again = See whether it is done
calibration-none = Nothing learned of wear yet
# $fewest (Number)
calibration-none-text = { $fewest ->
        [one] It takes 1 measured chain.
       *[other] It takes { $fewest } measured chains.
    } Until then the usual values hold; they stand at the end of this page.
calibration-here = On this page
calibration-to-do = What would teach it most
calibration-to-do-none = Nothing is missing: tools, people and cassettes are known well enough. Keep measuring as the fleet page says.
# $who, $what
calibration-do = { $who }: { $what }
# $fewest (Number)
calibration-do-measure = { $fewest ->
        [one] Measure 1 chain
       *[other] Measure { $fewest } chains
    }, each twice or more, some weeks apart
calibration-do-name-tools = Name your tools, and say at each reading which one it was
calibration-do-cassettes = Report skips, and say at each swap why the cassette came off
calibration-tools-text = How far each tool reads high or low. Every outlook allows for it, so a tool that reads wrong does no harm once that is known.
calibration-reads = Reads
calibration-better = To know more
# $instrument
calibration-unnamed = { $instrument }, without a name
# $name
calibration-retired = { $name } (retired)
calibration-known = known well enough
calibration-untold = nothing known yet
calibration-people = People
calibration-people-text = How far each person reads high or low with the same tool. The outlooks allow for that too.
calibration-person = Person
# $reads, $times
calibration-scatters = { $reads }; single readings scatter { $times } times the usual
calibration-rates = How fast chains wear
# $per
calibration-rates-text = Elongation per { $per } of dry road with a cared-for chain. In brackets: 8 cases in 10. A group of few chains leans on the others.
calibration-fleet = the whole fleet
calibration-middle = Middle chain of the group
calibration-chains = 8 chains in 10
calibration-measured = Chains measured
# $likely, $low, $high
calibration-range = { $likely } ({ $low } to { $high })
# $low, $high
calibration-span = { $low } to { $high }
calibration-models = Chain models
calibration-models-text = How fast each model wears against the fleet's average.
calibration-models-none = Models are compared once chains of at least two have been measured.
calibration-models-cost = What each costs per distance
calibration-against-fleet = Against the average
calibration-eight = 8 cases in 10
calibration-lubricants = Lubricants
calibration-lubricants-text = How fast chains wear under each, against the fleet's average.
calibration-lubricants-none = Lubricants are compared once care names at least two of them and chains under both have been measured.
calibration-lubricants-cost = What each costs per distance
calibration-conditions = Rain, gravel, mud, trainers, care
calibration-course = Bikes, worn chains, years
# $share
calibration-bikes = { $share } of how chains of a group differ comes from the bikes: what the earlier chains of a bike told counts for its next one.
calibration-bikes-unknown = Whether a bike wears all of its chains alike isn't known yet; that takes more bikes with two measured chains.
# $onset, $then, $times
calibration-fast = Beyond { $onset } chains wear faster: at { $then }, { $times } times as fast.
calibration-fast-unknown = Whether chains wear faster near their end isn't known: too few were measured that far. One pace to the end is assumed.
# $said, $span
calibration-drift = { $said } (8 cases in 10: { $span }).
calibration-drift-unknown = Whether wear changes from year to year isn't known yet.
calibration-seasons = The year
calibration-seasons-text = How much is ridden in each month, against the mean of the year. Dates and orders follow it.
calibration-seasons-none = The season is learned from three bikes and more with a year on record. Until then dates allow for one.
calibration-season = Season
calibration-bikes-counted = Bikes
calibration-cassettes = Cassettes
# $held (Number), $skipped (Number), $used (Number)
calibration-cassettes-so-far = So far: { $held ->
        [one] 1 new chain
       *[other] { $held } new chains
    } held, { $skipped ->
        [0] no skip was
        [one] 1 skip was
       *[other] { $skipped } skips were
    } reported, { $used ->
        [0] no cassette
        [one] 1 cassette
       *[other] { $used } cassettes
    } came off worn or skipping.
calibration-assumed = Still assumed
# $likely, $per, $low, $high
calibration-assumed-rate = The middle chain wears { $likely } per { $per } of dry road with a cared-for chain; 8 chains in 10 wear { $low } to { $high }.
# $early, $caliper
calibration-assumed-tools = A drop-in gauge drops in { $early } early, a caliper reads { $caliper } high; rule, dial gauge and roller-free gauge read true. People read alike.
calibration-assumed-season = No season: dates are less certain for it.
season-plot-title = Use by month, against the mean of the year
# $month, $times, $low, $high
season-plot-point = { $month }: { $times } times the mean, { $low } to { $high } in 8 cases of 10.
season-plot-axes = Times the mean of the year. Box: 8 cases in 10. Mark: most likely.
season-mean = mean

## Tools

tools-title = Tools
tools-link = Name, rename and retire tools
tools-text = Give each rule, caliper and gauge a name and write it on the tool. Readings that say which tool it was tell how far it reads high or low, and outlooks allow for it.
tools-none = No tool has a name yet
tools-none-text = Until then all tools of a kind count as one. Name the first one below, for example “bench rule”.
tools-tool = Tool
tools-is = What it is
tools-state = State
tools-in-use = in use
# $date
tools-retired-on = retired on { $date }
tools-new = Name a tool
tools-name = Name, as it stands on the tool
tools-make = Add the tool
tools-named = The tool is saved. It can be chosen when measuring.
tools-changed = The tool has its new name.
tools-retired = The tool is retired. What was read with it stays.
tools-back = The tool is in use again.
# $name
tools-change-title = Tool: { $name }
tools-rename-text = A new name changes nothing of what was learned of it.
tools-take-back = Take it into use again
tools-retire = Retire this tool…
tools-retire-text = It can no longer be chosen when measuring. What was read with it stays, with what was learned of it.
tools-retire-button = Retire the tool
tools-choose = Tool
tools-unnamed = none named

## Costs

nav-policy = Costs
policy-title = Cheapest limit
policy-none = No bike yet, so there is nothing to compare
policy-none-text = Once bikes are entered, this compares what it costs to take chains off early, late, or never.
policy-group = Bikes of the group
policy-look = Compare
# $best, $current
policy-limit = Take chains off at { $best } instead of { $current }
# $current
policy-keep = Keep taking chains off at { $current }
policy-end = Cheapest: run chain, cassette and rings to their end together
# $best, $cost, $per, $low, $high
policy-cost = Cheapest is { $best }: on average { $cost } per { $per }; { $low } to { $high } in 8 cases of 10.
# $cost, $per, $low, $high
policy-cost-end = On average { $cost } per { $per }; { $low } to { $high } in 8 cases of 10.
# $low, $high, $every
policy-interval = Allowing for uncertainty, the best limit lies between { $low } and { $high } in 8 cases of 10. Measuring about every { $every } suits it.
# $best, $every
policy-exact = Allowing for uncertainty, { $best } stays the best limit in 8 cases of 10. Measuring about every { $every } suits it.
# $current, $percent, $chance
policy-worth = Changing from { $current }, the limit in use, saves about { $percent }; that it saves at all: { $chance }. Worth it.
# $current, $percent, $chance
policy-not-worth = Changing from { $current }, the limit in use, saves about { $percent }; that it saves at all: { $chance }. Not worth a change.
# $current
policy-same = { $current } is already the limit in use.
# $earlier, $later
policy-between = Earlier, { $earlier } cost more than is saved; later, { $later } do.
# $later
policy-lowest = Nothing earlier was compared; later, { $later } cost more than is saved.
# $earlier
policy-highest = Nothing later was compared; earlier, { $earlier } cost more than is saved.
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
policy-plot-point = { $limit }: most likely { $cost }, { $low } to { $high } in 8 cases of 10
# $currency, $per
policy-plot-axes = { $currency } per { $per }, by elongation at which chains come off. Band: 8 cases in 10.
policy-plot-best = least
policy-plot-current = in use
policy-others = Other options
policy-models = Which chain
policy-model = Model
# $name
policy-model-in-use = { $name }, in use
policy-model-more = Compared with the one in use
policy-model-tell = More chains to be sure
policy-model-told = none
policy-model-close = too close to tell
policy-lubricants = Which lubricant
policy-lubricant = Lubricant
policy-lubricant-more = Compared with the one in use
policy-way = Option
# $per
policy-per = Per { $per }
policy-more = Compared with the best limit
policy-verdict = Verdict
# $limit
policy-way-best = Chains off at { $limit }, the best limit
# $limit
policy-way-current = Chains off at { $limit }, the limit in use
policy-way-end = Chain, cassette and rings to their end together
# $chains, $limit
policy-way-turn = { $chains } chains in turn on one cassette, all off at { $limit }
# $limit
policy-way-best-in-use = Chains off at { $limit }, the best limit and the one in use
# $limit
policy-way-usual = Chains off at { $limit }, a usual limit
# $every, $work, $per, $rest
policy-turn-why = Chains in turn change over every { $every }. With two chains that work alone costs { $work } per { $per }, chains and sprockets { $rest }: turns pay where changing over costs next to nothing.
policy-alike = the same
policy-adopt-column = Take over
policy-adopt = Take over
# $count (Number), $group
policy-adopt-text = { $count ->
        [one] Taking a limit over makes it the limit of the 1 bike of { $group }.
       *[other] Taking a limit over makes it the limit of all { $count } bikes of { $group }.
    } Limits beyond the trade’s usual one have no button.
# $count (Number), $group, $limit
policy-adopted = { $count ->
        [one] The 1 bike of { $group } now has the limit { $limit }.
       *[other] All { $count } bikes of { $group } now have the limit { $limit }.
    } Their dates follow within a few minutes.
policy-way-whole = The best limit, with whole cassettes instead of single cogs
# $amount
policy-dearer = { $amount } more
# $amount
policy-cheaper = { $amount } less
policy-surely-dearer = dearer
policy-likely-dearer = likely dearer
policy-open = can't be told
policy-likely-cheaper = likely cheaper
policy-surely-cheaper = cheaper
# $limit
policy-where = Where the money goes with chains off at { $limit }
policy-where-text = On average; the causes add up to the total.
policy-cause = Cause
policy-chains = chains
policy-cassettes = cassettes
policy-rings = rings
policy-looks = measuring
policy-failures = failures on the road
policy-total = total
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
coming-of-all = The coming year: all bikes
# $group
coming-of-group = The coming year: { $group }
coming-text = What the swaps of each month use up: half the time it will be more, half the time less. In brackets, what it will be 8 times in 10.
coming-month = Month
coming-chains = Chains
coming-cassettes = Cassettes
coming-rings = Rings
coming-hours = Bench hours
coming-cost = Parts and labour
# $month
coming-rest = Rest of { $month }, with what is overdue
coming-twelve = The twelve full months
# $likely, $low, $high
coming-cell = { $likely } ({ $low } to { $high })
coming-together = A busy or a wet year moves all months alike, so the ranges of the months don't add up to the range of the year.
# $count (Number)
coming-waiting = { $count ->
    [one] One bike isn't counted yet: its outlook is being computed anew.
   *[other] { $count } bikes aren't counted yet: their outlooks are being computed anew.
}
# $typed
policy-bad-price = “{ $typed }” isn't an amount. Type e.g. 12.50; the field was ignored.
policy-basis = Based on
# $list
policy-assumed = Assumed, as there is no data: { $list }.
policy-rate-default = Wear rate: the default, as nothing has been learned yet.
# $count (Number)
policy-rate-fleet = Wear rate: learned from { $count ->
        [one] 1 measured chain
       *[other] { $count } measured chains
    } of the fleet.
# $count (Number), $group
policy-rate-group = Wear rate: learned from { $count ->
        [one] 1 measured chain
       *[other] { $count } measured chains
    } of { $group }.
# $count (Number)
policy-bikes = Group of { $count ->
        [one] 1 bike
       *[other] { $count } bikes
    }.

## Chain length

length-title = Chain length
length-link = Chain length
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
length-pair = One more pair gives the derailleur room to swing, as is common practice.
# $stay
length-straight = The chain is straight at a chainstay of { $stay } mm: set the wheel so that it has a little play all the way round.
# $teeth
length-capacity = The derailleur's cage has to take up { $teeth } teeth; see that its maker allows as many.
# $links
length-on-record = On record for this bike: { $links } links.
length-basis = It rests on the formula of chain-drive handbooks, short by less than a tenth of a link on a bicycle. A rear suspension that lengthens the chainstay when it is pressed needs the longest distance.
length-caution = Before you cut, lay the new chain round the largest ring and the largest cog and see that it reaches. Before riding, try that pair by hand: a chain that is too short tears off the derailleur or locks the wheel. The maker's instructions go before this.
# $typed
length-bad-stay = “{ $typed }” isn't a length. Type millimetres, e.g. 455.

## Notifications

nav-hooks = Notifications
# $workshop, $date
digest-title = { $workshop }, { $date }
# $count (Number), $workshop
digest-subject = { $workshop }: { $count ->
    [one] 1 bike due
   *[other] { $count } bikes due
}
# $workshop
digest-subject-nothing = { $workshop }: no bike due
# $count (Number), $until
digest-intro = { $count ->
    [one] 1 bike needs someone by { $until }.
   *[other] { $count } bikes need someone by { $until }.
}
# $until
digest-nothing = No bike needs anyone by { $until }.
# $count (Number)
digest-more = And { $count } more
digest-caution = Follow the steps on each bike's page before you work on it: pedals first, hands clear of a turning drivetrain, cog edges cut. A worn chain or cassette can skip and throw the rider: test under load, off traffic, before the bike goes out.
# $workshop
digest-because = You get this because { $workshop } entered this address for a list of bikes that are due.
digest-unsubscribe = Stop these e-mails
unsubscribe-title = Stop these e-mails
# $address
unsubscribe-asks = No more lists of bikes that are due will be sent to { $address }.
unsubscribe-do = Stop these e-mails
unsubscribe-done = Stopped. No more of these e-mails will be sent to this address.
# $after, $by
mend-unrecorded-swap = enter a swap of the chain between { $after } and { $by }
# $distance, $after, $by
mend-missing-distance = enter rides of about { $distance } between { $after } and { $by }
# $after, $by
mend-missing-riding = enter the rides between { $after } and { $by }
# $by
mend-wrong-reading = void the reading of { $by }, or measure again
mend-as-recorded = measure again
# $given
wrong-is = is { $given }
wrong-is-empty = is empty
# $count (Number)
wrong-has-characters = has { $count } characters
# $count (Number)
wrong-has-entries = has { $count } entries
wrong-is-unreadable = is malformed
wrong-is-missing = is missing
# $least, $most
wrong-from-to = { $least } to { $most }
# $range
wrong-allowed-characters = { $range } characters
# $range
wrong-allowed-entries = { $range } entries
problem-changes-forgotten = Changes after this place are kept no longer. Read the lists anew and follow from now on.
problem-stale = It was changed by someone else in the meantime.
# $thing
problem-no-such = This workshop has no such thing: { $thing }.
problem-body = the body
problem-file = the file
# $wrong, $line
problem-on-line = { $wrong } (line { $line })
# $line
problem-line = line { $line }
# $line, $column
problem-cell = line { $line }, { $column }
# $count (Number), $first
problem-mistakes = { $count } mistakes, the first: { $first }
# $place, $wrong, $allowed
problem-field = { $place } { $wrong }; allowed: { $allowed }
# $first, $count (Number)
problem-fields = { $first } (and { $count } more)
# $shown, $more (Number)
plan-and-more = { $shown } and { $more } more
# $used (Number), $has (Number)
plan-minutes-used = { $used } of { $has } minutes are used
# $count (Number), $busy (Number), $days (Number), $from, $to
plan-planned = { $count ->
    [one] 1 bike
   *[other] { $count } bikes
} on { $busy } of { $days } bench days from { $from } to { $to }
# $bikes
plan-left-out = Left out: { $bikes }
# $bikes
plan-rings-stay = A worn ring stays on for now, as its part or a day that is long enough is missing: { $bikes }
# $needed (Number), $has (Number), $over (Number)
plan-minutes-over = All bikes that are due need { $needed } minutes and the bench has { $has }: { $over } too few
# $bikes
plan-to-measure = To be measured before they are given a day: { $bikes }
# $count (Number)
plan-promises-kept = All { $count } promised days are kept
# $broken (Number), $count (Number), $bikes
plan-promises-broken = { $broken } of { $count } promised days aren't kept: { $bikes }
plan-cheapest = No plan that keeps the same promises costs less
# $percent
plan-gap = At most { $percent } of its cost could be saved by any other plan
plan-assumes-failures = failures per kilometre over the limit
plan-assumes-uncounted-parts = parts that nobody keeps count of are there
plan-assumes-cassette-price = price of cassettes whose model has none
plan-assumes-chain-price = price of chains whose model has none
plan-ring-waits-for-part = a worn ring waits for its part
plan-ring-waits-for-day = a worn ring waits for a day that is long enough for both
# $probability
plan-would-skip = A new chain would skip on it with a probability of { $probability }
# $date
plan-promised-later = it is promised { $date }, after the last day of this plan
plan-no-chain = no chain is on record for it
plan-being-computed = its outlook is being computed anew; plan again in a moment
plan-promised-day-passed = the promised day has passed and its chain is still on
plan-bench-closed = the bench no longer works on that day
plan-bike-away = the bike is away on that day
# $takes (Number), $has (Number)
plan-day-too-short = it takes { $takes } minutes and the day has { $has }
# $has (Number)
plan-day-overfull = the day's { $has } minutes or parts no longer suffice for all that were promised it
# $until
plan-chain-can-stay-until = what is known since lets its chain stay until { $until }
plan-chain-can-stay = what is known since lets its chain stay for now
swap-shelf-empty = The shelf had no part of this model by the book; the count stays at nil. Count the shelf
swap-shelf-last = This was the last part of its model on the shelf
hooks-title = Notifications
hooks-none = No webhook yet
hooks-none-text = A webhook is the address of another program. It gets a signed message, once, when something happens that you choose below.
# $label
hooks-secret = Signing key of { $label }. Copy it now; it isn't shown again.
hooks-label = Name
hooks-url = Address, https://
hooks-events = Sends when
hooks-event-measure-by = a reading is due
hooks-event-swap-by = a swap is due by a date
hooks-event-swap-now = a swap is due now
hooks-event-measure-soon = a reading is due soon
hooks-event-swap-soon = a swap is due soon
hooks-event-check = a bike needs checking
hooks-event-no-longer-due = something announced is done or no longer due
hooks-event-cassette-worn = a cassette should go with the chain
hooks-event-ring-worn = a chainring should go with the chain
hooks-event-order-needed = a part should be ordered
hooks-event-record-drifted = forecasts are off more than chance explains
hooks-event-bike-retired = a bike left the fleet
hooks-event-bike-returned = a bike came back into the fleet
hooks-event-ride-rejected = rides were refused
hooks-event-hook-disabled = another webhook was switched off
hooks-event-test = a test
hooks-new = Notify another program
hooks-make = Add webhook
hooks-well = working
# $since
hooks-failing = failing since { $since }; still trying
# $since
hooks-off-by-hand = switched off { $since }
# $since
hooks-off-gone = switched off { $since }: the receiver no longer wants messages
# $since
hooks-off-failing = switched off { $since }: nothing got through for a day
hooks-test = Send a test
hooks-switch-off = Switch off
hooks-switch-on = Switch on
hooks-rotate = New signing key
hooks-rotate-text = Messages are signed with the old one as well for a day.
hooks-log = Latest messages
hooks-log-none = No message yet.
hooks-delivered = delivered
# $tries (Number)
hooks-waiting = waiting, { $tries ->
        [one] 1 try
       *[other] { $tries } tries
    }
# $tries (Number)
hooks-given-up = given up after { $tries ->
        [one] 1 try
       *[other] { $tries } tries
    }
hooks-again = Send again
hooks-no-event = Choose at least one event.

## Import and export

template-get = Template for bikes (CSV)
template-text = Fill it in with a spreadsheet, one line a bike, and save it as CSV. Headings may be your own words: “Bike no.”, “Gears”, “Chain fitted on”. Days as 2026-03-01 or 1.3.2026.
template-titles = Bike, Group, Use, Gears, Chain fitted on
template-group = town hire
tables-title = Import and export
tables-text = Tables as CSV, for a spreadsheet, another program or another workshop.
tables-export = Export
tables-comma = with commas
tables-semicolon = with semicolons and decimal commas
tables-import = Import
tables-order = To move a workshop, import in the order above: what a table refers to has to be there first.
tables-kind = What is in the file
tables-file = The file
# $mib
tables-largest = CSV in UTF-8, up to { $mib } MiB. The columns are those of the export, or have usual headings.
tables-check = Check the file
tables-check-text = Nothing is changed yet.
tables-no-file = Choose a file first.
# $mib
tables-too-large = The file is larger than { $mib } MiB. Import it with the command or the API, or in pieces.
# $found, $shown
tables-mistakes = Nothing was changed. Mistakes found: { $found }; shown: { $shown }.
tables-line = Line
tables-column = Column
tables-wrong = What is wrong
tables-whole-line = whole line
# $kind, $lines (Number), $new (Number), $changed (Number), $known (Number)
tables-would = { $kind }, { $lines ->
        [one] 1 line
       *[other] { $lines } lines
    }, no mistakes: { $new } would be new, { $changed } changed, { $known } are known.
tables-confirm = Import it
# $kind, $lines (Number), $new (Number), $changed (Number), $known (Number)
tables-did = { $kind }, { $lines ->
        [one] 1 line
       *[other] { $lines } lines
    } imported: { $new } new, { $changed } changed, { $known } known. Outlooks follow within minutes.
# $lines (Number)
tables-odd = { $lines ->
        [one] 1 ride counts
       *[other] { $lines } rides count
    } for nothing as things stand: no chain on record then, or the bike had left the fleet.
tables-part-models = Part models
tables-bikes = Bikes
tables-parts = Parts and where they were
tables-rides = Rides
tables-readings = Readings
tables-care = Care
tables-swaps = Swaps
tables-odometer = Odometer readings
# $bike, $notice
tables-notice = Bike { $bike }: { $notice }

## Settings

settings-title = Settings
settings-saved = Saved. All outlooks are computed again within a minute.
settings-workshop = Workshop
settings-name = Name
settings-zone = Time zone, e.g. Europe/Dublin
settings-language = Language of its pages
settings-units = Distances in
settings-km = kilometres
settings-miles = miles
settings-currency = Currency, three letters
settings-risk = Accepted risk of being over the limit, percent
settings-risk-text = A chain is due for a swap on the day this risk is reached. Lower means earlier swaps.
settings-soon = Due soon, days before
settings-soon-text = Webhooks and e-mails announce a reading or a swap as due soon this many days before its day.
settings-limits = Limits of elongation, percent
settings-limits-text = Leave empty and the usual limits apply: 0.5 for 11 or more sprockets, 0.75 up to 10, 1.0 for one.
settings-limit-many = 11 sprockets and more
settings-limit-some = 2 to 10 sprockets
settings-limit-one = one sprocket
# $currency
settings-costs = Costs, { $currency }
settings-cost-swap = labour of one swap
settings-cost-reading = one reading
settings-cost-failure = one failure on the road
settings-bench = Bench
settings-bench-week = Minutes by weekday
# $place
settings-bench-minutes = Minutes to swap: { $place }
settings-bench-closes = Closing time, hours:minutes
settings-bench-setup = of which for setting up, once a bike
settings-tokens = Access tokens
settings-tokens-text = A token signs a person in or lets a program in. It is shown once.
settings-token-new = Add access
settings-token-label = For whom or what
settings-token-role = Role
# $label
settings-token-made = Token for { $label }. Copy it now; it isn't shown again.
settings-token-revoke = Revoke
# $date
settings-token-revoked = revoked { $date }
# $date
settings-token-made-on = added { $date }
# $app
settings-token-of-app = for the app { $app }
# $rider
settings-token-of-rider = for { $rider }’s bikes
# $app, $rider
settings-token-of-both = app { $app }, for { $rider }’s bikes
settings-token-gone = (deleted)
links-title = Link an app
links-text = A code lets an app in without a token being copied. It works once, within 15 minutes. The app then sees the bikes chosen here and no others.
links-rider = Whose bikes
links-no-rider = Only those the app enters itself
links-app = Which app
links-no-app = Any app, for one rider’s bikes
links-label = What to call it
links-make = Show a code
links-code = Code for the app
links-made = Type this code into the app, or scan it there:
# $time
links-until = valid until { $time }
links-waiting = Codes not used yet
links-take-back = Take back
links-parties = Riders and apps
links-parties-text = A rider’s name is kept here and nowhere else.
links-rider-name = Rider’s name
links-rider-new = Add rider
links-app-name = Name of the app
links-app-new = Add app
links-rider-needed = Choose whose bikes the app may see. Only a manager can let an app in without a rider.
# $app
authorize-title = { $app } asks for access
authorize-text = It may then see the bikes chosen here, enter what happens to them and set up notifications for itself. Access can be revoked in the settings.
authorize-choose = Please choose
# $origin
authorize-where = The answer goes to { $origin }.
authorize-allow = Allow
authorize-deny = Not now
settings-calendar = Calendar
settings-calendar-text = Calendar programs can show the swaps of the next six months and the days with other bench hours. They read them at a private address; whoever has the address can read them.
settings-calendar-none = The calendar has no address now.
# $at
settings-calendar-since = It has had an address since { $at }. It can't be shown again.
settings-calendar-make = Create an address
settings-calendar-renew = Replace the address
settings-calendar-renew-text = The old link stops working.
settings-calendar-close = Remove the address
settings-calendar-made = The calendar's address. Copy it now; it isn't shown again.
role-manager = manager: settings, access, and everything below
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
swap-reason =
    .worn = worn out
    .skips = it skipped under load
    .damaged = damaged
    .upgrade = for another one
    .other = other reasons
instrument =
    .rule = rule
    .caliper = caliper
    .dial = dial gauge
    .drop_in = drop-in gauge
    .drop_in_isolating = drop-in gauge, roller-free
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
    .e_bike = e-bike
    .e_cargo = e-cargo
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
    .cable = Sticky cable
    .end_stops = End stops
    .front_cage = Front cage out of place
    .worn_ring = Worn ring
    .chain_length = Chain too long, too short or too slack
    .loose_parts = Something loose
    .dirty_or_dry = Dirty or dry chain
    .freehub = Freehub that doesn't catch
    .jockey_wheels = Jockey wheels
    .dont_fit = Parts that don't fit together
    .battery = Battery or motor of the derailleur
    .hub_gear = Hub gear out of adjustment or worn
act =
    .create = { $thing }: entered
    .change = { $thing }: changed
    .remove = { $thing }: removed
    .delete = { $thing }: removed
    .retire = { $thing }: removed
    .revoke = { $thing }: removed
    .void = { $thing }: marked as wrong
    .begin = { $thing }: begun
    .end = { $thing }: ended
    .renew = { $thing }: a new address
    .close = { $thing }: address removed
    .accept = { $thing }: accepted
    .compute = { $thing }: computed
    .move = { $thing }: given another day
    .release = { $thing }: no longer held on its day
    .restore = { $thing }: counts again
    .ask = { $thing }: asked for
    .import = { $thing }: imported
    .redeliver = { $thing }: sent again
    .rotate_secret = { $thing }: a new secret
    .test = { $thing }: a test sent
    .redeem = { $thing }: redeemed
    .offer = { $thing }: made
    .adopt = { $thing }: taken over
    .end_all = { $thing }: ended everywhere
thing =
    .limit = Limit of a group
    .digest = E-mail digest
    .bench_day = Bench day
    .bench_job = Bench job
    .bench_plan = Bench plan
    .bench_settings = Bench settings
    .bike = Bike
    .booking = Booking
    .calendar = Calendar
    .table = Table
    .calibration = Fleet learning
    .care = Care
    .declared_use = Declared use
    .delivery = Delivery
    .fitting = Fitting
    .hook = Webhook
    .odometer = Odometer
    .part = Part
    .part_model = Part model
    .reading = Reading
    .ride = Ride
    .session = Sign-in
    .sign_in = Sign-in code
    .stock = Stock
    .swap = Swap
    .symptom = Symptom
    .token = Access token
    .app = App
    .rider = Rider
    .link = Link
    .workshop = Workshop settings
field =
    .length_mm = length in mm
    .drops_in_without_gauge = this instrument and dropping in
    .gearing_and_sprockets = the gearing and the number of sprockets
    .after = place in the list
    .amount_minor = amount
    .arrival = day of arrival
    .from_and_to = the first and the last day
    .from_and_until = the first and the last day
    .km_and_weeks = an interval in km and one in weeks
    .odometer_and_voided = the odometer and the voiding
    .from_in_the_past = first day, in the past
    .half_of_price = the price
    .half_of_ride_identity = the ride's identity
    .half_of_voiding = the voiding
    .note = remark or reason
    .model_and_place = the model and the place
    .model_and_part_place = the model and the part's place
    .reason_and_place = the reason and the place
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
    .reason_with_sprockets = a reason with a cassette, cog or ring only
    .reading_with_chain = a reading with a chain only
    .cog_with_skip = a cog and a new chain with skipping only
    .other_models_once = other models, each named once
    .part_with_voided = readings of a part that don't count
    .place_or_model = a place, a model, or both
    .setup_up_to_shortest = setting up takes no longer than the shortest swap
    .stays_apart = times that don't overlap
    .same_stay = the same time; swaps and removals change it
    .currency = three letters, e.g. EUR
    .mark_with_gauge = a mark, and whether it drops in, with a drop-in gauge only
    .percent_with_scale = percent with rule, caliper and dial
    .length_with_rule = pitches and millimetres with a rule
    .single_speed = single speed with one ring and one cog only
meaning =
    .dates_too_late = Chains reach their limit about { $days ->
        [one] 1 day
       *[other] { $days } days
    } earlier than told: look that much earlier.
    .dates_too_early = Chains last about { $days ->
        [one] 1 day
       *[other] { $days } days
    } longer than told: measure before you swap.
bias =
    .reads_high = reads { $percent } % high, give or take { $give_or_take }
    .reads_low = reads { $percent } % low, give or take { $give_or_take }
    .reads_true = reads true, give or take { $give_or_take } %
    .drops_in_early = drops in { $percent } % early, give or take { $give_or_take }
    .drops_in_late = drops in { $percent } % late, give or take { $give_or_take }
bias-to-do =
    .new_chain_with_tool = read one new chain with it
    .new_chain_by_person = read one new chain
    .gauge_and_rule = measure a few chains with it and with a rule
effect =
    .wears_faster = { $percent } % faster
    .wears_slower = { $percent } % slower
    .wears_alike = the same
    .under_wears_faster = { $percent } % faster
    .under_wears_slower = { $percent } % slower
    .under_wears_alike = the same
    .rises = Chains wear { $percent } % faster from year to year
    .falls = Chains wear { $percent } % slower from year to year
    .stays = Chains wear as they did a year ago
season =
    .not_yet = not known: less than a year on record ({ $days ->
        [one] 1 day
       *[other] { $days } days
    })
    .flat = about the same all year
    .peak = most in { $most }, { $times } times the mean, give or take { $give_or_take } %; least in { $least }, { $least_times } times
cassettes =
    .learned = Your cassettes bear { $median } times the usual wear before a new chain skips, give or take { $give_or_take }. That comes from { $held ->
        [one] 1 new chain that held
       *[other] { $held } new chains that held
    }, { $skipped ->
        [one] 1 reported skip
       *[other] { $skipped } reported skips
    } and { $used_up ->
        [one] 1 cassette
       *[other] { $used_up } cassettes
    } that came off worn or skipping.
    .not_yet = Not learned yet. The usual values hold until { $fewest } cassettes have shown what they bear, and some of them their end.
conflict =
    .voided_before = It was voided before.
    .counts_already = It counts already, or the same was entered again since.
    .taken_off_by_swap = A swap took the part off on { $at }. Undo that swap and enter it with its own time.
    .last_manager = This is the last manager's token in force. Make another one first.
    .bike_labelled = A bike of the fleet has the label { $label } already. Use another, or retire that bike first.
    .external_id_taken = Another bike has this external_id. Use another.
    .bike_labelled_now = Another bike of the fleet has this label now. Use another.
    .label_taken = Another bike of the fleet has this label. Use another.
    .bike_retired = The bike left the fleet at { $at }; bring it back first.
    .tool_named = There is a tool in use with this name already.
    .kind_named = There is a kind of bike with this name already.
    .kind_in_use = { $bikes ->
        [one] 1 bike is of this kind. Give it another kind first.
       *[other] { $bikes } bikes are of this kind. Give them another kind first.
    }
    .place_taken = There is a part in this place at that time. Record a swap instead.
    .part_on_bike_then = The part is on a bike at that time.
    .part_on_bike = The part is on a bike. Take it off first.
    .part_off = The part is off already.
    .fitted_by_swap = A swap put the part on at that time. Undo that swap and record it with the right time.
    .part_elsewhere = The part that went on has been elsewhere since. Put that right first.
    .part_back_on_bike = The part that came off has been on a bike since. Take that back first.
    .same_reading = Both parts have the same reading. Mark one of them as wrong first.
    .readings_count = The part that went on has readings that count. Mark them as wrong first.
    .stay_changed = The time of the part that came off has been changed since. Put that right first.
    .bench_day_taken = This day is in the list already. Remove it there first.
    .stock_kept = This model is already counted. Change its count in the table.
    .other_proposal = There is a newer proposal. Look at it before you accept it.
    .too_many_hooks = The workshop has the most webhooks it may have. Remove one first.
    .hook_disabled = The webhook is switched off. Switch it on first.
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
hazard =
    .turning_drivetrain = Keep hands, hair and sleeves clear of a turning drivetrain: it can sever fingers
deference =
    .makers_and_rules = The makers' instructions and local rules go before these steps. If unsure, ask a qualified mechanic
assumption =
    .end_of_set = elongation at which a set is worn out
