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
import contextlib
import glob
import os
import pathlib
import random
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

from books import BIKES, POSTERS, Books, back_after, compare, prepared
from running import PROGRAM, Postgres, Service, stores


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


class SlowPath(threading.Thread):
    """A way to Postgres on which each piece takes longer."""

    def __init__(self, port):
        super().__init__(daemon=True)
        self.delay, self.target = 0.0, port
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        self.start()

    def run(self):
        while True:
            came, _ = self.listener.accept()
            went = socket.create_connection(("127.0.0.1", self.target))
            for source, sink in ((came, went), (went, came)):
                source.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                threading.Thread(target=self.pass_on, args=(source, sink), daemon=True).start()

    def pass_on(self, source, sink):
        try:
            while piece := source.recv(65536):
                time.sleep(self.delay)
                sink.sendall(piece)
        except OSError:
            pass
        finally:
            for end in (source, sink):
                with contextlib.suppress(OSError):
                    end.shutdown(socket.SHUT_RDWR)


def slow_database(_, store):
    """Every piece of the talk with Postgres takes 100 ms longer each way for a while."""
    if store == "sqlite":
        return True
    with stores(store) as (database, postgres):
        path = SlowPath(postgres.port)
        service = Service(database.replace(f":{postgres.port}/", f":{path.port}/"))
        books = Books(service, prepared(service))
        books.begin()
        time.sleep(3)
        quick, path.delay = len(books.acknowledged), 0.1
        time.sleep(10)
        slow, path.delay = len(books.acknowledged) - quick, 0.0
        back = back_after(service)
        time.sleep(3)
        books.end()
        agree = compare(service, books, "100 ms more to Postgres and back for 10 s", store,
                        f"{quick / 3:.0f} rides/s before, {slow / 10:.0f} during; ready {back:.2f} s after it")
        service.stop()
        return agree


def clock_back(_, store):
    """The machine's clock steps back by an hour while clients post, and forward again."""
    library = next(iter(glob.glob("/usr/lib/*/faketime/libfaketimeMT.so.1")), None)
    if library is None:
        print(f"| clock steps back by an hour | {store} | – | not run: apt-get install libfaketime | | | | | not run |")
        return True
    with tempfile.NamedTemporaryFile("w", suffix=".clock") as clock, stores(store) as (database, _):
        def set_clock(text):
            clock.seek(0)
            clock.truncate()
            clock.write(text)
            clock.flush()
        set_clock("+0")
        shifted = {"LD_PRELOAD": library, "FAKETIME_TIMESTAMP_FILE": clock.name, "FAKETIME_NO_CACHE": "1",
                   "FAKETIME_DONT_FAKE_MONOTONIC": "1"}
        os.environ.update(shifted)
        try:
            service = Service(database)
        finally:
            for name in shifted:
                del os.environ[name]
        books = Books(service, prepared(service))
        books.begin()
        time.sleep(3)
        before = len(books.acknowledged)
        set_clock("-3600s")
        time.sleep(5)
        during = len(books.acknowledged) - before
        set_clock("+0")
        time.sleep(3)
        books.end()
        agree = compare(service, books, "clock an hour back for 5 s", store, f"{during} rides taken meanwhile")
        service.stop()
        return agree and during > 0


def migration_interrupted(rounds, store):
    """`migrate` of an empty store gets SIGKILL at a moment of chance, again and again, until it is done; then it serves."""
    with stores(store) as (database, postgres):
        chance, killed = random.Random(rounds), 0
        for attempt in range(200):
            migrate = subprocess.Popen([PROGRAM, "migrate", "--database-url", database], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            try:
                migrate.wait(chance.uniform(0.01, 0.02 + 0.03 * attempt))
                break
            except subprocess.TimeoutExpired:
                migrate.kill()
                migrate.wait()
                killed += 1
        service = Service(database)
        books = Books(service, prepared(service))
        books.begin()
        time.sleep(2)
        books.end()
        agree = compare(service, books, f"migration killed {killed} times", store, f"ended with {migrate.returncode} at last")
        service.stop()
        return agree and migrate.returncode == 0 and killed > 0


FAULTS = {"slow-database": slow_database, "clock-back": clock_back, "migration": migration_interrupted, "kill-service": kill_service, "kill-postgres": kill_postgres, "connections": connections_exhausted, "disk-full": disk_full}


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
