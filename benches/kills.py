#!/usr/bin/env python3
"""Kills at random for minutes, under load, with books of the clients' own.

    cargo build --release -p wear-api
    benches/kills.py [--minutes 10] [--store postgres]

On Postgres two `serve` processes share the store, each with its worker; at moments of chance one of them or the whole of
Postgres gets SIGKILL and is started again up to a second later. On SQLite it is the one process. Clients don't repeat what
failed. At the end the books are compared with the store, and outlooks with those of an untouched store given the same rides.
The exit code is 1 when anything was lost, doubled, or told otherwise.
"""

import argparse
import collections
import random
import signal
import sys
import time

from books import Books, back_after, compare, prepared
from running import Service, stores


class BooksOfSeveral(Books):
    """Posts to each of several services in turn."""

    def __init__(self, services, bikes):
        super().__init__(services[0], bikes)
        self.services = services

    def port(self, number):
        # Not by the bike's number, so that each bike's rides come through all of them.
        return self.services[number // len(self.bikes) % len(self.services)].port


def kill_postgres(postgres, chance):
    postgres.kill()
    time.sleep(chance.uniform(0.1, 1.0))
    postgres.start()


def kill_service(service, chance):
    service.process.send_signal(signal.SIGKILL)
    service.process.wait()
    time.sleep(chance.uniform(0.0, 1.0))
    service.start()
    return service.started_in


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=10)
    parser.add_argument("--store", choices=["postgres", "sqlite"], default="postgres")
    given = parser.parse_args()
    chance, kills, waits = random.Random(7), collections.Counter(), []
    with stores(given.store) as (database, postgres):
        services = [Service(database)]
        if postgres:
            second = Service(database)
            # One workshop, one token: the second's own is of the same workshop.
            services.append(second)
        books = BooksOfSeveral(services, prepared(services[0]))
        books.begin()
        began = time.perf_counter()
        while time.perf_counter() - began < 60 * given.minutes:
            time.sleep(chance.uniform(0.3, 3.0))
            victim = chance.randrange(len(services) + (1 if postgres else 0))
            if victim < len(services):
                waits.append(kill_service(services[victim], chance))
                kills["service"] += 1
            else:
                kill_postgres(postgres, chance)
                kills["postgres"] += 1
                # Nobody starts the services again: they have to come back by themselves.
                waits.append(max(back_after(service) for service in services))
        books.end()
        back = max(back_after(service) for service in services)
        said = ", ".join(f"{count} of {what}" for what, count in sorted(kills.items()))
        print("| fault | store | rides acknowledged | not acknowledged, by what was got | lost | doubled | outlooks that differ "
              "| back | |\n|---|---|---|---|---|---|---|---|---|")
        agree = compare(services[0], books, f"{sum(kills.values())} kills in {given.minutes:g} minutes: {said}", given.store,
                        f"ready again in {max([back, *waits]):.2f} s at most")
        for service in services:
            service.stop()
    sys.exit(0 if agree else 1)


if __name__ == "__main__":
    main()
