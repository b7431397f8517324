#!/usr/bin/env python3
"""Half of what the service can take, for a long time: latency and memory minute by minute.

    cargo build --release -p wear-api
    benches/soak.py [--minutes 20] [--store postgres] [--rate 150]

Rides, readings and lists in the proportion 20 : 2 : 1, over 500 bikes.
"""

import argparse
import random
import threading
import time
import uuid

from running import Client, Service, bike, ride, stores


def load(service, bikes, rate, stop, times, lock):
    client, choose = Client(service), random.Random(threading.get_ident())
    next_at = time.perf_counter()
    while not stop.is_set():
        next_at += 1 / rate
        pause = next_at - time.perf_counter()
        if pause > 0:
            time.sleep(pause)
        bike_id, kind = choose.choice(bikes), choose.random() * 23
        began = time.perf_counter()
        if kind < 20:
            body = ride(bike_id, uuid.uuid4().hex, day=choose.randrange(300))
            client.post(f"/v1/bikes/{body.pop('bike_id')}/rides", body)
            name = "ride"
        elif kind < 22:
            client.post(f"/v1/bikes/{bike_id}/readings",
                        {"taken_at": f"2026-{choose.randrange(2, 11):02}-{choose.randrange(1, 28):02}T12:00:00Z",
                         "instrument": "rule", "percent": round(choose.uniform(0.05, 0.4), 2)})
            name = "reading"
        else:
            client.get("/v1/outlooks?limit=100")
            name = "list"
        with lock:
            times.append((name, time.perf_counter() - began))


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=int, default=20)
    parser.add_argument("--store", choices=["postgres", "sqlite"], default="postgres")
    parser.add_argument("--rate", type=float, default=150, help="requests a second")
    given = parser.parse_args()
    with stores(given.store) as (url, _):
        service = Service(url)
        client = Client(service)
        bikes = [client.post("/v1/bikes", bike(f"{number:04}"))["id"] for number in range(500)]
        times, lock, stop = [], threading.Lock(), threading.Event()
        threads = [threading.Thread(target=load, args=(service, bikes, given.rate / 4, stop, times, lock), daemon=True)
                   for _ in range(4)]
        for thread in threads:
            thread.start()
        print("| minute | requests | ride median, 99th | reading median, 99th | list median, 99th | resident |\n|---|---|---|---|---|---|")
        for minute in range(1, given.minutes + 1):
            time.sleep(60)
            with lock:
                measured, times[:] = list(times), []
            cells = []
            for name in ("ride", "reading", "list"):
                sorted_times = sorted(took for kind, took in measured if kind == name) or [0.0]
                cells.append(f"{1e3 * sorted_times[len(sorted_times) // 2]:.1f} ms, {1e3 * sorted_times[int(len(sorted_times) * 0.99)]:.1f} ms")
            print(f"| {minute} | {len(measured):,} | {' | '.join(cells)} | {service.resident_mib():.1f} MiB |", flush=True)
        stop.set()
        for thread in threads:
            thread.join()
        service.stop()


if __name__ == "__main__":
    main()
