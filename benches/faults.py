"""Faults under load: clients post rides with books of their own, something is killed, and afterwards the books
are compared with the store: nothing acknowledged may be lost, nothing may be there twice, and each outlook must be the one
that an untouched store gives for the same events.

    cargo build --release -p wear-api
    python3 benches/faults.py                        # every fault, both stores
    python3 benches/faults.py --rounds 20 kill-service kill-postgres

Needs the Postgres server programs. `disk-full` needs the right to mount a small file system and says so when it hasn't.
The exit code is 1 when anything was lost, doubled, or told otherwise.
"""

import argparse
import http.client
import json
import os
import pathlib
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time

from running import Client, Postgres, Service, bike, ride, stores

POSTERS = 4
BIKES = 8


class Books:
    """What clients were told, and what they only tried."""

    def __init__(self, service, bikes, first=0):
        self.service, self.bikes, self.next = service, bikes, first
        self.acknowledged, self.unsure, self.statuses = set(), set(), {}
        self.lock, self.over, self.threads = threading.Lock(), threading.Event(), []

    def begin(self):
        self.over.clear()
        self.threads = [threading.Thread(target=self.post, daemon=True) for _ in range(POSTERS)]
        for thread in self.threads:
            thread.start()

    def end(self):
        self.over.set()
        for thread in self.threads:
            thread.join(60)

    def post(self):
        headers = {"authorization": f"Bearer {self.service.token}", "content-type": "application/json"}
        while not self.over.is_set():
            with self.lock:
                number, self.next = self.next, self.next + 1
            status = self.attempt(number, headers)
            with self.lock:
                self.statuses[status] = self.statuses.get(status, 0) + 1
                (self.acknowledged if status in (200, 201) else self.unsure).add(number)
            if status not in (200, 201):
                time.sleep(0.01)

    def body(self, number):
        facts = ride(self.bikes[number % BIKES], str(number), day=number % 250, km=10)
        path = f"/v1/bikes/{facts.pop('bike_id')}/rides"
        return path, json.dumps(facts)

    def attempt(self, number, headers):
        connection = None
        try:
            connection = http.client.HTTPConnection("127.0.0.1", self.service.port, timeout=30)
            path, body = self.body(number)
            connection.request("POST", path, body, headers)
            answer = connection.getresponse()
            answer.read()
            return answer.status
        except (OSError, http.client.HTTPException):
            return "no answer"
        finally:
            if connection:
                connection.close()


def prepared(service):
    client = Client(service)
    return [client.post("/v1/bikes", bike(f"{number:03}"))["id"] for number in range(BIKES)]


def stored(client, bike_id):
    path, found = f"/v1/bikes/{bike_id}/rides?limit=100", []
    while path:
        page, answer = client.call("GET", path)
        found += [int(one["source_id"]) for one in page["items"]]
        link = answer.headers.get("link")
        path = link.split("<")[1].split(">")[0] if link else None
    return found


def numbers(outlook):
    """The numbers of an outlook, without ids and times."""
    keys = ("advice", "limit_percent", "elongation_percent", "remaining_km", "remaining_reference_km", "probability_over_limit", "swap_by")
    return {key: outlook[key] for key in keys} | {"distance_km": outlook["basis"]["distance_km"]}


def compare(service, books, fault, store, more=""):
    """Compares books and store; true when they agree."""
    client = Client(service)
    found = [number for bike_id in books.bikes for number in stored(client, bike_id)]
    lost = books.acknowledged - set(found)
    doubled = len(found) - len(set(found))
    strange = set(found) - books.acknowledged - books.unsure
    outlooks = [numbers(client.get(f"/v1/bikes/{bike_id}/outlook")) for bike_id in books.bikes]
    with stores("sqlite") as (database, _):
        fresh = Service(database)
        try:
            anew, again = Client(fresh), Books(fresh, [])
            again.bikes = prepared(fresh)
            rides = []
            for number in sorted(found):
                path, body = again.body(number)
                rides.append({**json.loads(body), "bike_id": path.split("/")[3]})
            for begin in range(0, len(rides), 5000):
                anew.post("/v1/rides", {"rides": rides[begin:begin + 5000]})
            expected = [numbers(anew.get(f"/v1/bikes/{bike_id}/outlook")) for bike_id in again.bikes]
        finally:
            fresh.stop()
    differ = sum(not same(*both) for both in zip(outlooks, expected, strict=True))
    unanswered = sum(count for status, count in books.statuses.items() if status not in (200, 201))
    agree = not lost and not doubled and not strange and not differ
    verdict = "BROKEN" if not agree else "kept" if len(books.acknowledged) > 50 else "TOO FEW"
    print(f"| {fault} | {store} | {len(books.acknowledged)} | {unanswered} {dict(sorted((str(k), v) for k, v in books.statuses.items() if k not in (200, 201)))} "
          f"| {len(lost)} | {doubled} | {differ} of {len(outlooks)} | {more} | {verdict} |", flush=True)
    return verdict == "kept"


def same(one, other):
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, float) and isinstance(other, (int, float)):
        return abs(one - other) <= 1e-6 * max(1.0, abs(one))
    return one == other


def back_after(service, seconds=60):
    """Seconds until the service is ready; it isn't started again."""
    began = time.perf_counter()
    while time.perf_counter() - began < seconds:
        try:
            connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=5)
            connection.request("GET", "/health/ready")
            if connection.getresponse().status == 200:
                return time.perf_counter() - began
        except (OSError, http.client.HTTPException):
            pass
        time.sleep(0.02)
    sys.exit(f"not ready {seconds} s after the fault")


def kill_service(rounds, store):
    """The service gets SIGKILL at a moment of chance and is started again."""
    with stores(store) as (database, _):
        service = Service(database)
        books, chance, starts = Books(service, prepared(service)), random.Random(rounds), []
        for _ in range(rounds):
            books.begin()
            time.sleep(chance.uniform(0.2, 1.0))
            service.process.send_signal(signal.SIGKILL)
            service.process.wait()
            books.end()
            service.start()
            starts.append(service.started_in)
        agree = compare(service, books, f"`kill -9` of the service, {rounds} times", store, f"ready again in {max(starts):.2f} s at most")
        service.stop()
        return agree


def kill_postgres(rounds, store):
    """Postgres stops as in a power cut while clients post, and is started again; the service goes on by itself."""
    if store == "sqlite":
        return True
    with stores(store) as (database, postgres):
        service = Service(database)
        books, chance, back = Books(service, prepared(service)), random.Random(rounds), []
        for _ in range(rounds):
            books.begin()
            time.sleep(chance.uniform(0.3, 1.0))
            postgres.stop()
            time.sleep(chance.uniform(0.2, 1.0))
            postgres.start()
            back.append(back_after(service))
            books.end()
        alive = service.process.poll() is None
        agree = compare(service, books, f"Postgres killed and started, {rounds} times", store,
                        f"ready {max(back):.2f} s after it at most; service {'never ended' if alive else 'ENDED'}")
        service.stop()
        return agree and alive


def connections_exhausted(_, store):
    """Others take every connection that Postgres gives, and let go again."""
    if store == "sqlite":
        return True
    with stores(store) as (database, postgres):
        service = Service(database)
        books = Books(service, prepared(service))
        service.process.send_signal(signal.SIGKILL)
        service.process.wait()
        service.start()
        # The service has opened few connections so far; the rest go to one that holds on to them.
        hog = subprocess.Popen([sys.executable, "-c", HOG, str(postgres.port)], stdin=subprocess.PIPE)
        time.sleep(3)
        books.begin()
        time.sleep(6)
        hog.stdin.close()
        hog.wait(30)
        back = back_after(service)
        time.sleep(2)
        books.end()
        agree = compare(service, books, "every connection of Postgres taken for 9 s", store, f"ready {back:.2f} s after they were let go")
        service.stop()
        return agree


HOG = """
import socket, struct, sys
kept = []
while True:
    one = socket.create_connection(("127.0.0.1", int(sys.argv[1])))
    text = b"user\\0wear\\0database\\0bench\\0\\0"
    one.sendall(struct.pack("!ii", 8 + len(text), 196608) + text)
    if one.recv(1) != b"R" or len(kept) > 200:
        break
    kept.append(one)
sys.stdin.read()
"""


def disk_full(_, store):
    """The file system of the store has no room any more, and then it has again."""
    with tempfile.TemporaryDirectory(prefix="wear-bench-") as folder:
        size = "24m" if store == "sqlite" else "400m"
        if subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size},mode=0755", "none", folder], capture_output=True).returncode:
            print(f"| disk full | {store} | – | not run: no right to mount a file system of {size} | | | | | not run |")
            return True
        postgres = None
        try:
            if store == "sqlite":
                database = f"sqlite:{folder}/bench.db"
            else:
                postgres = Postgres(folder, ["max_wal_size = '64MB'", "shared_buffers = '64MB'", "min_wal_size = '32MB'"])
                database = postgres.url
            service = Service(database)
            books = Books(service, prepared(service))
            books.begin()
            time.sleep(1)
            filler = pathlib.Path(folder) / "filler"
            with open(filler, "wb", buffering=0) as file:
                try:
                    while True:
                        file.write(b"x" * 4096)
                except OSError:
                    pass
            time.sleep(4)
            filler.unlink()
            if postgres and subprocess.run(["pgrep", "-f", str(postgres.data)], capture_output=True).returncode:
                postgres.start()
            back = back_after(service)
            time.sleep(2)
            books.end()
            agree = compare(service, books, "disk full for 4 s", store, f"ready {back:.2f} s after there was room")
            service.stop()
            return agree
        finally:
            if postgres:
                postgres.stop()
            subprocess.run(["umount", "-l", folder], check=False)


FAULTS = {"kill-service": kill_service, "kill-postgres": kill_postgres, "connections": connections_exhausted, "disk-full": disk_full}


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("faults", nargs="*", help=f"of {', '.join(FAULTS)}")
    arguments.add_argument("--rounds", type=int, default=20)
    arguments.add_argument("--store", choices=["postgres", "sqlite"], help="one of them only")
    given = arguments.parse_args()
    print(f"{os.cpu_count()} processors, {POSTERS} clients, {BIKES} bikes")
    print("| fault | store | rides acknowledged | not acknowledged, by what was got | lost | doubled | outlooks that differ | back | |")
    print("|---|---|---|---|---|---|---|---|---|")
    agree = [FAULTS[fault](given.rounds, store) for fault in given.faults or FAULTS for store in ([given.store] if given.store else ["postgres", "sqlite"])]
    sys.exit(0 if all(agree) else 1)


if __name__ == "__main__":
    main()
