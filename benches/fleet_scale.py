#!/usr/bin/env python3
"""A large fleet: list, reading to outlook, refresh, calibration, start, memory.

    cargo build --release -p wear-api
    benches/fleet_scale.py [--bikes 20000] [--store postgres]

Seeds bikes with rides and readings through the API, then measures. Prints one line for each goal.
"""

import argparse
import pathlib
import random
import sqlite3
import threading
import time

from running import PROGRAM, Client, Service, bike, ride, row, stores


def percentile(values, share):
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def seed(service, count):
    """Bikes in twenty groups, ten rides and two readings each, by eight clients."""
    made = [None] * count

    def enter(place):
        client, dice = Client(service), random.Random(place)
        for number in range(place, count, 8):
            body = bike(f"{number:05}")
            body["group"] = f"group-{number % 20:02}"
            made[number] = client.post("/v1/bikes", body)["id"]
            wear = dice.lognormvariate(0.0, 0.3)
            rides = [ride(made[number], f"{number}-{day}", day=10 * day, km=60.0) for day in range(10)]
            client.post("/v1/rides", {"rides": rides})
            for month, km in ((5, 300.0), (10, 600.0)):
                percent = max(-0.3, min(3.0, 0.07 + 0.2e-3 * wear * km + dice.gauss(0.0, 0.025)))
                client.post(f"/v1/bikes/{made[number]}/readings",
                            {"taken_at": f"2026-{month:02}-28T12:00:00Z", "instrument": "dial", "percent": round(percent, 3)})

    threads = [threading.Thread(target=enter, args=(place,)) for place in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return made


class Backlog:
    """How many bikes wait for an outlook."""

    def __init__(self, url, postgres):
        self.url, self.postgres = url, postgres

    def count(self, table="outlook_marks", where="true"):
        if self.postgres:
            return int(self.postgres.sql(f"select count(*) from {table} where {where}"))
        store = sqlite3.connect(f"file:{self.url.removeprefix('sqlite:')}?mode=ro", uri=True)
        return store.execute(f"select count(*) from {table} where {where}").fetchone()[0]

    def wait(self):
        began = time.perf_counter()
        while self.count() > 0:
            # Each look is a client of its own, and no less work for the store than a bike.
            time.sleep(0.5)
        return time.perf_counter() - began


def readings(service, bikes, connections, rate, seconds, day):
    """Readings of one day at a steady rate by so many clients; latencies in seconds."""
    latencies, lock, began = [], threading.Lock(), time.perf_counter()

    def post(place):
        client, own, number = Client(service), [], 0
        while True:
            due = began + (number * connections + place) / rate if rate else time.perf_counter()
            if due - began > seconds:
                break
            time.sleep(max(0.0, due - time.perf_counter()))
            bike_id = bikes[(number * connections + place) % len(bikes)]
            start = time.perf_counter()
            client.post(f"/v1/bikes/{bike_id}/readings", {"taken_at": f"2026-11-{day:02}T00:{number % 60:02}:{place % 60:02}.{number:06}Z",
                                                           "instrument": "rule", "percent": 0.25})
            own.append(time.perf_counter() - start)
            number += 1
            if not rate and time.perf_counter() - began > seconds:
                break
        with lock:
            latencies.extend(own)

    threads = [threading.Thread(target=post, args=(place,)) for place in range(connections)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return latencies, len(latencies) / (time.perf_counter() - began)


def measure(store, count):
    with stores(store) as (url, postgres):
        service = Service(url)
        backlog = Backlog(url, postgres)
        began = time.perf_counter()
        bikes = seed(service, count)
        waited = backlog.wait()
        print(f"<!-- {count:,} bikes seeded in {time.perf_counter() - began:.0f} s, the last outlook {waited:.1f} s after -->")
        client = Client(service)
        if postgres:
            postgres.sql("vacuum analyze")

        times = []
        for page in range(60):
            start = time.perf_counter()
            client.get(f"/v1/outlooks?limit=100{'' if page % 2 else '&group=group-03'}")
            times.append(time.perf_counter() - start)
        row(f"fleet list, {count:,} bikes, {store}", "under 20 ms", "", f"{1e3 * percentile(times, 0.5):.1f} ms median, "
            f"{1e3 * max(times):.1f} ms worst", "", percentile(times, 0.95) < 0.020)

        _, saturated = readings(service, bikes, 16, 0, 8, day=1)
        # What is left to be scored would be a load of its own.
        while backlog.count("jobs", "kind = 'score_forecasts'") > 0:
            time.sleep(0.2)
        # Of another day: the same reading again is no work.
        latencies, rate = readings(service, bikes, 16, saturated / 2, 15, day=2)
        p99 = percentile(latencies, 0.99)
        row(f"reading to outlook, 16 connections, {rate:,.0f}/s of {saturated:,.0f}/s, {store}", "99th percentile under 10 ms", "",
            f"{1e3 * percentile(latencies, 0.5):.1f} ms median, {1e3 * p99:.1f} ms", "", p99 < 0.010)
        backlog.wait()

        workshop, answer = client.call("GET", "/v1/workshop")
        start = time.perf_counter()
        client.call("PATCH", "/v1/workshop", {"risk": 0.15}, **{"if-match": answer.getheader("etag")})
        backlog.wait()
        took = time.perf_counter() - start
        row(f"refresh of {count:,} bikes, {store}", f"under {count / 1000:.0f} s", "", f"{took:.1f} s", f"{1e3 * took / count:.2f} ms a bike",
            took < count / 1000)

        resident = service.resident_mib()
        service.stop()
        service.start()
        row(f"start on an existing database, {store}", "under 300 ms", "", f"{1e3 * service.started_in:.0f} ms", "",
            service.started_in < 0.3)
        client = Client(service)
        client.get("/v1/outlooks?limit=100")
        row(f"resident after start and one list, {store}", "under 80 MiB", "", f"{service.resident_mib():.0f} MiB "
            f"({resident:.0f} MiB after all of the above)", "", service.resident_mib() < 80)

        start = time.perf_counter()
        client.post("/v1/calibration", {})
        while client.get("/v1/calibration")["learned_at"] is None or backlog.count("jobs", "job_key = 'asked'") > 0:
            time.sleep(0.2)
        took = time.perf_counter() - start
        peak = service.resident_mib(peak=True)
        row(f"calibration of {count:,} chains, {store}", "under 60 s and 1 GiB", "", f"{took:.1f} s, peak {peak:.0f} MiB", "",
            took < 60 and peak < 1024)
        size = pathlib.Path(PROGRAM).stat().st_size / 2**20
        row("the program", "under 40 MiB", "", f"{size:.1f} MiB", "", size < 40)
        service.stop()


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--bikes", type=int, default=20_000)
    parser.add_argument("--store", choices=["postgres", "sqlite"], default="postgres")
    given = parser.parse_args()
    print("| what | goal | reference | ours | ratio | |\n|---|---|---|---|---|---|")
    measure(given.store, given.bikes)


if __name__ == "__main__":
    main()
