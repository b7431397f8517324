"""Reads the calendar of a running service with an independent parser, PyPI's `icalendar`, and checks what stands in it.

Set up and run, from the repository's root:

    python3 -m venv .venv-calendar && .venv-calendar/bin/pip install icalendar
    cargo build --release -p wear-api
    .venv-calendar/bin/python tests/calendar_reference.py

`WEAR_API_PROGRAM` names another program. The script starts `serve` on a new SQLite file with bikes of every urgency
and labels that need escaping, and days of the bench, and compares each entry with what the API says. Then it gives the
calendar a new address and asks for the one before. The exit code is 1 at the first difference.
"""

import datetime
import pathlib
import sys
import urllib.error
import urllib.request

import icalendar

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "benches"))
from running import Client, Service, bike, stores  # noqa: E402

LABELS = ["041", "Kühlhaus; gate 3, \\ left", "a label as long as one may be, with 🚲 in it, up to 64 signs", "comma, and \"quotes\""]


def fetch(service, address):
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{service.port}{address}", timeout=10) as answer:
            return answer.status, answer.headers["content-type"], answer.read()
    except urllib.error.HTTPError as error:
        return error.code, error.headers["content-type"], error.read()


def expect(what, got, wanted):
    if got != wanted:
        sys.exit(f"{what}: {got!r}, expected {wanted!r}")


def fill(client):
    now = datetime.datetime.now(datetime.timezone.utc)
    for index, label in enumerate(LABELS):
        made = client.post("/v1/bikes", {**bike(label), "fitted_on": str((now - datetime.timedelta(days=120)).date())})
        rides = [{"bike_id": made["id"], "started_at": (now - datetime.timedelta(days=day)).isoformat(), "distance_km": 50.0,
                  "source": "log", "source_id": f"{index} {day}"} for day in range(1, 100)]
        client.post("/v1/rides", {"rides": rides})
        reading = {"taken_at": now.isoformat(), "instrument": "dial", "percent": [0.95, 0.8, 0.6, 0.5][index]}
        client.post(f"/v1/bikes/{made['id']}/readings", reading)
    for ahead, minutes in ((3, 240), (10, 0)):
        client.post("/v1/bench-days", {"date": str((now + datetime.timedelta(days=ahead)).date()), "minutes": minutes,
                                       "note": "first line\nsecond; with, signs"})


def check(client, content):
    parsed = icalendar.Calendar.from_ical(content)
    expect("errors that the parser noted", parsed.errors + [error for event in parsed.events for error in event.errors], [])
    expect("version", parsed["VERSION"], "2.0")
    expect("written again and read again", icalendar.Calendar.from_ical(parsed.to_ical()), parsed)
    expect("octets of the longest line over 75", [line for line in content.split(b"\r\n") if len(line) > 75], [])
    expect("line ends that are not both", content.replace(b"\r\n", b"").count(b"\n"), 0)
    uids = [str(event["UID"]) for event in parsed.events]
    expect("ids that are there twice", len(uids) - len(set(uids)), 0)
    for event in parsed.events:
        expect("length of an entry", event.end - event.start, datetime.timedelta(days=1))
        if event["DTSTAMP"].dt.tzinfo is None:
            sys.exit("a stamp without a zone")
    today = datetime.date.today()
    swaps = {}
    for outlook in client.get("/v1/outlooks?limit=100")["items"]:
        due = outlook["swap_by"] and datetime.date.fromisoformat(outlook["swap_by"])
        if due and due < today + datetime.timedelta(days=180):
            swaps[f"Swap the chain of {outlook['label']}"] = max(due, today)
    found = {str(event["SUMMARY"]): event.start for event in parsed.events if "SWAP" in event.categories}
    expect("swaps", found, swaps)
    if len(swaps) < len(LABELS):
        sys.exit("too few swaps to have checked anything")
    bench = {(event.start, str(event.get("DESCRIPTION"))) for event in parsed.events if "BENCH" in event.categories}
    days = {(datetime.date.fromisoformat(day["date"]), day["note"]) for day in client.get("/v1/bench-days")["items"]}
    expect("bench days", bench, days)
    for event in parsed.events:
        print(f"  {event.start}  {event['SUMMARY']}")
    return len(swaps), len(days)


def main():
    with stores("sqlite") as (database, _):
        service = Service(database)
        try:
            client = Client(service)
            first = client.post("/v1/calendar", None)["address"]
            expect("an empty calendar", fetch(service, first)[:2], (200, "text/calendar; charset=utf-8"))
            fill(client)
            status, _, content = fetch(service, first)
            expect("the calendar", status, 200)
            swaps, days = check(client, content)
            print(f"icalendar {icalendar.__version__}: {swaps} swaps and {days} bench days, as the API has them; no error noted")
            second = client.post("/v1/calendar", None)["address"]
            answers = fetch(service, second)[0], fetch(service, first)[0]
            expect("the new address and the one before", answers, (200, 404))
            client.call("DELETE", "/v1/calendar")
            expect("an address that was taken away", fetch(service, second)[0], 404)
            print("a new address answers 200, the one before 404; taken away, 404")
        finally:
            service.stop()


if __name__ == "__main__":
    main()
