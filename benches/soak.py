#!/usr/bin/env python3
"""Half of what the service can take, for a long time: latency and memory minute by minute.

    cargo build --release -p wear-api
    benches/soak.py [--minutes 20] [--store postgres] [--rate 150]

Rides, readings and lists in the proportion 20 : 2 : 1, over 500 bikes, as bikes get them: a bike's days pass, a reading
every nine of them, its rides up to three days late, a new chain after every fourth reading and a cassette with every
second of these. So there is no more to reckon with at the end than after the first minutes, but for what is kept.
"""

import argparse
import datetime
import random
import threading
import time
import uuid

from running import Client, Service, bike, ride, stores

BEGIN = datetime.datetime(2025, 8, 1, 12)
READINGS_A_CHAIN = 4


class Bike:
    """A bike and how far its days have come."""

    def __init__(self, number):
        # Not all at the same point of their lives.
        self.id, self.day, self.readings, self.read_at = None, number % 9, number % (2 * READINGS_A_CHAIN), None

    def at(self, days=0):
        return BEGIN + datetime.timedelta(days=self.day + days)


def post_ride(client, one, choose):
    body = ride(one.id, uuid.uuid4().hex, km=choose.uniform(3, 25))
    body["started_at"] = f"{one.at(choose.uniform(-3, 0)).isoformat(timespec='milliseconds')}Z"
    client.post(f"/v1/bikes/{body.pop('bike_id')}/rides", body)


def post_reading(client, one, choose):
    one.day += 9
    one.readings += 1
    one.read_at = f"{one.at(choose.random() / 2).isoformat(timespec='milliseconds')}Z"
    percent = round(0.06 + 0.06 * (one.readings % READINGS_A_CHAIN) + choose.gauss(0.0, 0.02), 2)
    client.post(f"/v1/bikes/{one.id}/readings", {"taken_at": one.read_at, "instrument": "rule", "percent": percent})


def post_swaps(client, one, _):
    client.post(f"/v1/bikes/{one.id}/swaps", {"place": "chain", "swapped_at": one.read_at})
    if one.readings % (2 * READINGS_A_CHAIN) == 0:
        client.post(f"/v1/bikes/{one.id}/swaps", {"place": "cassette", "swapped_at": one.read_at})


def get_list(client, *_):
    client.get("/v1/outlooks?limit=100")


def load(service, bikes, rate, stop, times, lock):
    """The bikes of one client: what happens to a bike comes in order."""
    client, choose = Client(service), random.Random(bikes[0].id)
    next_at = time.perf_counter()
    while not stop.is_set():
        next_at += 1 / rate
        pause = next_at - time.perf_counter()
        if pause > 0:
            time.sleep(pause)
        one = choose.choice(bikes)
        (what,) = choose.choices([post_ride, post_reading, get_list], [20, 2, 1])
        todo = [what]
        while todo:
            what = todo.pop()
            began = time.perf_counter()
            what(client, one, choose)
            with lock:
                times.append((what, time.perf_counter() - began))
            if what is post_reading and one.readings % READINGS_A_CHAIN == 0:
                todo.append(post_swaps)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=int, default=20)
    parser.add_argument("--store", choices=["postgres", "sqlite"], default="postgres")
    parser.add_argument("--rate", type=float, default=150, help="requests a second")
    given = parser.parse_args()
    with stores(given.store) as (url, _):
        service = Service(url)
        client = Client(service)
        bikes = [Bike(number) for number in range(500)]
        for number, one in enumerate(bikes):
            one.id = client.post("/v1/bikes", {**bike(f"{number:04}"), "fitted_on": "2025-07-20"})["id"]
        times, lock, stop = [], threading.Lock(), threading.Event()
        threads = [threading.Thread(target=load, args=(service, bikes[place::4], given.rate / 4, stop, times, lock), daemon=True)
                   for place in range(4)]
        for thread in threads:
            thread.start()
        print("| minute | requests | ride median, 99th | reading median, 99th | swap median, 99th | list median, 99th | resident |\n|---|---|---|---|---|---|---|")
        for minute in range(1, given.minutes + 1):
            time.sleep(60)
            with lock:
                measured, times[:] = list(times), []
            cells = []
            for kind in (post_ride, post_reading, post_swaps, get_list):
                sorted_times = sorted(took for what, took in measured if what is kind) or [0.0]
                cells.append(f"{1e3 * sorted_times[len(sorted_times) // 2]:.1f} ms, {1e3 * sorted_times[int(len(sorted_times) * 0.99)]:.1f} ms")
            print(f"| {minute} | {len(measured):,} | {' | '.join(cells)} | {service.resident_mib():.1f} MiB |", flush=True)
        stop.set()
        for thread in threads:
            thread.join()
        service.stop()


if __name__ == "__main__":
    main()
