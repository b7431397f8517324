"""Backs up a store while rides are posted, restores the copy elsewhere, and reads the same outlooks from it. Both stores.

    cargo build --release -p wear-api
    python3 tests/restore.py

Needs the Postgres server programs and its client programs `pg_dump` and `pg_restore`. The commands are those of
docs/OPERATING.md. The exit code is 1 when the copy answers otherwise than the original did.
"""

import json
import pathlib
import sqlite3
import subprocess
import sys
import tempfile
import threading

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "benches"))
from running import Client, Service, bike, ride, stores  # noqa: E402

BIKES = 20


def answers(client):
    """What the service says that must be the same of a copy, without the times at which it was computed."""
    bikes = {one["id"]: one for one in client.get("/v1/bikes?limit=100")["items"]}
    said = {"workshop": client.get("/v1/workshop"), "bikes": bikes, "calendar": client.get("/v1/calendar"), "hooks": client.get("/v1/hooks")}
    for bike_id in bikes:
        outlook = client.get(f"/v1/bikes/{bike_id}/outlook")
        said[bike_id] = {key: value for key, value in outlook.items() if key != "computed_at"}
        said[f"readings of {bike_id}"] = client.get(f"/v1/bikes/{bike_id}/readings?limit=100")
    # A change of moments between two answers is no difference.
    return json.loads(json.dumps(said, sort_keys=True))


def fill(client):
    client.post("/v1/calendar", None)
    client.post("/v1/hooks", {"label": "app", "url": "https://example.com/", "events": ["outlook.swap_now"]})
    ids = [client.post("/v1/bikes", bike(f"{number:03}"))["id"] for number in range(BIKES)]
    rides = [ride(bike_id, f"{place} {day}", day=day, km=8 + place) for place, bike_id in enumerate(ids) for day in range(150)]
    for begin in range(0, len(rides), 1000):
        client.post("/v1/rides", {"rides": rides[begin:begin + 1000]})
    for bike_id in ids:
        client.post(f"/v1/bikes/{bike_id}/readings", {"taken_at": "2026-11-20T10:00:00Z", "instrument": "rule", "percent": 0.3})
    return ids


def posting(service, bike_id, over):
    """Posts to a bike that isn't compared until it is told to stop: a backup needs no quiet service."""
    client, number = Client(service), 0
    while not over.is_set():
        facts = ride(bike_id, f"during {number}", day=number % 150)
        facts.pop("bike_id")
        client.post(f"/v1/bikes/{bike_id}/rides", facts)
        number += 1
    return number


def backed_up(database, postgres, folder):
    """A copy of the store, made while the service runs; the address of what was restored from it."""
    if postgres is None:
        source, copy = database.removeprefix("sqlite:"), folder / "copy.db"
        with sqlite3.connect(source) as connection:
            connection.execute("vacuum into ?", (str(copy),))
        sound = sqlite3.connect(copy).execute("pragma integrity_check").fetchone()[0]
        if sound != "ok":
            sys.exit(f"the copy is not sound: {sound}")
        return f"sqlite:{copy}"
    dump = pathlib.Path(postgres.folder) / "wear.dump"
    postgres.run("pg_dump", *postgres.where(), "--format=custom", f"--file={dump}", "bench")
    postgres.run("createdb", *postgres.where(), "restored")
    postgres.run("pg_restore", *postgres.where(), "--exit-on-error", "--no-owner", "--dbname=restored", str(dump))
    return postgres.url.removesuffix("bench") + "restored"


def compare(store):
    with stores(store) as (database, postgres), tempfile.TemporaryDirectory() as folder:
        service = Service(database)
        client = Client(service)
        fill(client)
        busy = client.post("/v1/bikes", bike("busy"))["id"]
        before = answers(client)
        over = threading.Event()
        poster = threading.Thread(target=posting, args=(service, busy, over))
        poster.start()
        try:
            restored = backed_up(database, postgres, pathlib.Path(folder))
        finally:
            over.set()
            poster.join()
        service.stop()
        # The same token opens the copy: that of the original is in it.
        copy = Service(restored)
        copy.token = service.token
        after = answers(Client(copy))
        copy.stop()
    named = [key for key in before if key != busy and key != f"readings of {busy}"]
    different = [key for key in named if before[key] != after.get(key) and key != "bikes"]
    different += [f"bike {key}" for key, value in before["bikes"].items() if key != busy and value != after["bikes"].get(key)]
    print(f"{store}: {len(before['bikes']) - 1} outlooks, their readings, workshop, calendar and hooks compared; {len(different)} differ {different[:3]}")
    return len(before["bikes"]) == BIKES + 1 and not different


if __name__ == "__main__":
    sys.exit(0 if all([compare("sqlite"), compare("postgres")]) else 1)
