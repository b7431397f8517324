"""What one workshop does, and what another one feels of it: a workshop imports, sends files and junk, holds locks or never
ends its bodies, while another lists its bikes, posts rides and somebody asks for health. Said is the longest that any of
them waited, what wasn't answered well, and the most memory that the service took.

    cargo build --release -p wear-api
    python3 benches/neighbours.py                    # every case
    python3 benches/neighbours.py --rows 60000 import dry-run

Needs the Postgres server programs. The exit code is 1 when somebody waited longer than a case allows, or when the service took
more memory than it allows. Waits are of a machine that does nothing else.
"""

import argparse
import contextlib
import gzip
import http.client
import http.server
import json
import os
import resource
import signal
import socket
import subprocess
import sys
import threading
import time

from running import PROGRAM, Client, Service, bike, ride, stores

MIB = 1 << 20


class Other:
    """Another workshop, and health: each is asked again and again, on connections of its own."""

    def __init__(self, service, workshop="Other"):
        self.service = service
        self.token = token(service, workshop)
        self.bike = call(service, self.token, "POST", "/v1/bikes", bike("other 1"))[2]["id"]
        self.over = threading.Event()
        self.worst, self.statuses, self.count = {}, {}, 0
        self.lock = threading.Lock()

    def __enter__(self):
        self.over.clear()
        self.threads = [threading.Thread(target=self.ask, args=(name,), daemon=True) for name in ("list", "ride", "ready", "live")]
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_):
        self.over.set()
        for thread in self.threads:
            thread.join(90)

    def ask(self, name):
        while not self.over.is_set():
            with self.lock:
                self.count += 1
                number = self.count
            if name == "list":
                request = ("GET", "/v1/bikes?limit=100", None)
            elif name == "ride":
                facts = ride(self.bike, f"o{os.getpid()}-{number}", day=number % 250)
                request = ("POST", f"/v1/bikes/{facts.pop('bike_id')}/rides", facts)
            else:
                request = ("GET", f"/health/{name}", None)
            status, took, _ = call(self.service, self.token, *request)
            with self.lock:
                self.worst[name] = max(self.worst.get(name, 0.0), took)
                if status not in (200, 201):
                    self.statuses[f"{name} {status}"] = self.statuses.get(f"{name} {status}", 0) + 1
            time.sleep(0.05)

    def said(self):
        waits = ", ".join(f"{name} {took:.2f} s" for name, took in sorted(self.worst.items()))
        refused = ", ".join(f"{count} × {status}" for status, count in sorted(self.statuses.items()))
        return waits + (f"; {refused}" if refused else "")

    def held_up(self, most):
        return max(self.worst.values(), default=99) > most or bool(self.statuses)


def token(service, workshop, role="manager"):
    made = subprocess.run([PROGRAM, "token", "--database-url", service.database, "--workshop", workshop, "--role", role],
                          check=True, capture_output=True, text=True)
    return made.stdout.strip()


def call(service, bearer, method, path, body=None, timeout=120, **headers):
    """Status, how long it took, and the answer; of what gets no answer, why."""
    began = time.perf_counter()
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=timeout)
    try:
        headers = {"content-type": "application/json", **headers}
        if bearer:
            headers["authorization"] = f"Bearer {bearer}"
        connection.request(method, path, body if isinstance(body, (bytes, type(None))) else json.dumps(body), headers)
        answer = connection.getresponse()
        content = answer.read()
        status = answer.status
    except (OSError, http.client.HTTPException) as error:
        status, content = type(error).__name__, b""
    finally:
        connection.close()
    took = time.perf_counter() - began
    with contextlib.suppress(ValueError):
        return status, took, json.loads(content)
    return status, took, None


def filled(service, bikes):
    """A workshop's bikes, entered as a table."""
    lines = ["label,group,use,fitted_on,rings,cogs,links,limit_percent"]
    lines += [f"n{number},town-8s,town,2026-01-01,42,11 13 15 17 20 23 26 30,114,0.75" for number in range(bikes)]
    status, _, answer = call(service, service.token, "POST", "/v1/imports/bikes", "\n".join(lines).encode(), 1200, **{"content-type": "text/csv"})
    if status != 200:
        sys.exit(f"bikes: {status} {answer}")


def ride_table(rows, bikes, mark):
    lines = ["bike,started_at,distance_km,source,source_id"]
    lines += [f"n{row % bikes},2026-{1 + row // bikes % 9:02}-{1 + row // bikes // 9 % 28:02}T08:00:00Z,12.4,{mark},{row}" for row in range(rows)]
    return "\n".join(lines).encode()


def at_once(count, work):
    """Runs `work(number)` in so many threads and gives what came of each."""
    given = [None] * count
    def one(number):
        given[number] = work(number)
    threads = [threading.Thread(target=one, args=(number,), daemon=True) for number in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(300)
    return given


def counted(statuses):
    return ", ".join(f"{statuses.count(status)} × {status}" for status in sorted(set(statuses), key=str))


def tell(case, store, other, most, own, service, memory=None):
    peak = service.resident_mib(peak=True)
    missed = other.held_up(most) or (memory is not None and peak > memory)
    print(f"| {case} | {store} | {other.said()} | {own} | {peak:.0f} MiB | {'missed' if missed else 'met'} |", flush=True)
    return not missed


@contextlib.contextmanager
def served(store, *arguments, **limits):
    with stores(store) as (database, postgres):
        service = Service(database, *arguments)
        try:
            yield service, postgres
        finally:
            service.process.send_signal(signal.SIGCONT)
            service.stop()


def table_import(given, store, dry_run=False):
    """A table of rides, while the workshop's own apps keep posting."""
    with served(store) as (service, _):
        filled(service, 2000)
        other = Other(service)
        ids = [it["id"] for it in call(service, service.token, "GET", "/v1/bikes?limit=100")[2]["items"]]
        table, own = ride_table(given.rows, 2000, "table"), []
        over = threading.Event()

        def post(number):
            count = 0
            while not over.is_set():
                count += 1
                facts = ride(ids[number], f"own-{number}-{count}")
                path = f"/v1/bikes/{facts.pop('bike_id')}/rides"
                own.append(call(service, service.token, "POST", path, facts)[:2])
                time.sleep(0.02)

        with other:
            time.sleep(0.5)
            posters = [threading.Thread(target=post, args=(number,), daemon=True) for number in range(20)]
            for poster in posters:
                poster.start()
            time.sleep(0.2)
            path = f"/v1/imports/rides{'?dry_run=true' if dry_run else ''}"
            status, took, answer = call(service, service.token, "POST", path, table, 1200, **{"content-type": "text/csv"})
            over.set()
            for poster in posters:
                poster.join(60)
        done = f"{answer.get('accepted')} lines in {took:.1f} s" if answer else f"{status}"
        said = f"{done}; 20 of its own posters: {counted([one for one, _ in own])}, longest {max(took for _, took in own):.2f} s"
        name = "dry run of" if dry_run else "import of"
        return tell(f"{name} {given.rows} rides", store, other, given.longest, said, service)


def lock_held(given, store):
    """Somebody locks a workshop's bikes by hand for 15 s, and 40 of its apps post rides."""
    if store == "sqlite":
        return True
    with served(store) as (service, postgres):
        filled(service, 100)
        other = Other(service)
        ids = [it["id"] for it in call(service, service.token, "GET", "/v1/bikes?limit=100")[2]["items"]]
        arguments = ["psql", *postgres.where(), "-d", "bench", "-qAtX", "-c",
                     "begin; select count(*) from (select 1 from bikes where label like 'n%' order by bike_id for update) held; "
                     "select pg_sleep(15); rollback"]
        for one in ids:
            facts = ride(one, "first")
            call(service, service.token, "POST", f"/v1/bikes/{facts.pop('bike_id')}/rides", facts)
        locker = subprocess.Popen(arguments, stdout=subprocess.DEVNULL)
        time.sleep(1)

        def post(number):
            facts = ride(ids[number], "held")
            return call(service, service.token, "POST", f"/v1/bikes/{facts.pop('bike_id')}/rides", facts)[:2]

        with other:
            answers = at_once(40, post)
        locker.wait()
        said = f"40 posts: {counted([one for one, _ in answers])}, longest {max(took for _, took in answers):.1f} s"
        return tell("its bikes locked by hand for 15 s", store, other, given.longest, said, service)


def frozen(given, store):
    """Postgres stands still for 45 s: whoever asks is told before that."""
    if store == "sqlite":
        return True
    with served(store) as (service, postgres):
        filled(service, 100)
        other = Other(service)
        call(service, service.token, "GET", "/v1/bikes?limit=100")
        postmaster = int((postgres.data / "postmaster.pid").read_text().split()[0])
        family = [postmaster, *map(int, os.popen(f"pgrep -P {postmaster}").read().split())]
        for pid in family:
            os.kill(pid, signal.SIGSTOP)
        began = time.perf_counter()
        thaw = threading.Timer(45, lambda: [os.kill(pid, signal.SIGCONT) for pid in family])
        thaw.start()
        answers = at_once(40, lambda _: call(service, service.token, "GET", "/v1/bikes?limit=100")[:2])
        ready = call(service, None, "GET", "/health/ready")[:2]
        late = call(service, service.token, "GET", "/v1/bikes?limit=100")[:2]
        thaw.join()
        back = time.perf_counter()
        while call(service, service.token, "GET", "/v1/bikes?limit=1")[0] != 200 and time.perf_counter() - back < 60:
            time.sleep(0.1)
        longest = max(took for _, took in answers)
        said = (f"40 lists: {counted([one for one, _ in answers])}, longest {longest:.1f} s; ready {ready[0]} in {ready[1]:.1f} s; "
                f"one more list {late[0]} in {late[1]:.1f} s; back {time.perf_counter() - back:.1f} s after it")
        met = longest < 20 and ready[1] < 6
        print(f"| Postgres frozen for 45 s | {store} | – | {said} | {service.resident_mib(peak=True):.0f} MiB | {'met' if met else 'missed'} |", flush=True)
        return met


def gpx():
    """A ride file of 64 kB that unpacks to more than 50 MiB."""
    head = b'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    point = b'<trkpt lat="47.0000" lon="8.0000"></trkpt>'
    filler = b"<!--" + b" " * 1000 + b"-->"
    text = head + point * 290_000 + filler * 42_000
    return gzip.compress(text + b"</trkseg></trk></gpx>", 9)


def ride_files(given, store):
    """Forty gzipped ride files at once, of an app."""
    with served(store) as (service, _):
        filled(service, 40)
        other, app = Other(service), token(service, "Bench", "app")
        ids = [it["id"] for it in call(service, service.token, "GET", "/v1/bikes?limit=100")[2]["items"]]
        body = gpx()
        with other:
            send = lambda number: call(service, app, "POST", f"/v1/ride-files?bike_id={ids[number]}&ridden_on=2026-03-01", body, 300, **{"content-type": "application/gzip"})[:2]
            answers = at_once(40, send)
        said = f"40 files of {len(body) // 1024} kB: {counted([one for one, _ in answers])}, longest {max(took for _, took in answers):.1f} s"
        return tell("gzipped ride files at once", store, other, 3.0, said, service, 700)


def junk(given, store):
    """Forty batches at once whose rides are none."""
    with served(store) as (service, _):
        other, app = Other(service), token(service, "Bench", "app")
        body = gzip.compress(b'{"rides":[' + b",".join([b"[[[[[]]]]]"] * 690_000) + b"]}", 6)
        with other:
            send = lambda number: call(service, app, "POST", "/v1/rides", body, 300, **{"content-encoding": "gzip"})[:2]
            answers = at_once(40, send)
        said = f"40 batches of 7.6 MB, {len(body) // 1024} kB packed: {counted([one for one, _ in answers])}, longest {max(took for _, took in answers):.1f} s"
        return tell("junk batches at once", store, other, 3.0, said, service, 700)


def orders(given, store):
    """Twenty counts of orders at once."""
    with served(store) as (service, _):
        filled(service, given.bikes)
        other = Other(service)
        with other:
            answers = at_once(20, lambda _: call(service, service.token, "GET", "/v1/orders-needed", timeout=300)[:2])
        said = f"20 counts over {given.bikes} bikes: {counted([one for one, _ in answers])}, longest {max(took for _, took in answers):.1f} s"
        return tell("orders needed at once", store, other, 3.0, said, service, 700)


def endless(given, store):
    """A body in pieces that never ends, after the answer was given."""
    with served(store) as (service, _):
        other, said, met = Other(service), [], True
        piece = b"%x\r\n" % (1 << 16) + b"x" * (1 << 16) + b"\r\n"
        for what, path, bearer in (("without a token", "/v1/rides", None), ("too large", "/v1/bikes", service.token), ("page", "/nowhere", None), ("sign-in", "/sign-in", None)):
            sent, began = 0, time.perf_counter()
            with socket.create_connection(("127.0.0.1", service.port), timeout=5) as sender:
                authorization = f"Authorization: Bearer {bearer}\r\n" if bearer else ""
                kind = "application/x-www-form-urlencoded" if what == "sign-in" else "application/json"
                sender.sendall(f"POST {path} HTTP/1.1\r\nHost: x\r\n{authorization}Content-Type: {kind}\r\nTransfer-Encoding: chunked\r\n\r\n".encode())
                with contextlib.suppress(OSError):
                    while time.perf_counter() - began < 4:
                        sender.sendall(piece)
                        sent += len(piece)
            said.append(f"{what} {sent / MIB:.0f} MiB in {time.perf_counter() - began:.1f} s")
            met &= sent < 64 * MIB
        print(f"| endless bodies | {store} | – | taken: {', '.join(said)} | {service.resident_mib(peak=True):.0f} MiB | {'met' if met else 'missed'} |", flush=True)
        return met


def slow_clients(given, store):
    """1,100 clients that drip a form, or its head, at a service that has 1,024 descriptors."""
    resource.setrlimit(resource.RLIMIT_NOFILE, (4096, resource.getrlimit(resource.RLIMIT_NOFILE)[1]))
    met = True
    for what, head in (("forms", b"POST /sign-in HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 60000\r\n\r\nt"),
                       ("heads", b"GET /sign-in HTTP/1.1\r\nHost: x\r\nX-")):
        with stores(store) as (database, _):
            plain = Service(database)
            plain.stop()
            plain.command = [sys.executable, "-c", LIMITED, *plain.command]
            plain.start()
            slow, closed = [], 0
            try:
                for _ in range(1100):
                    one = socket.create_connection(("127.0.0.1", plain.port), timeout=5)
                    one.setblocking(False)
                    slow.append(one)
                    with contextlib.suppress(OSError):
                        one.send(head)
                over = threading.Event()

                def drip():
                    while not over.is_set():
                        for one in slow:
                            with contextlib.suppress(OSError):
                                one.send(b"x")
                        time.sleep(1)
                threading.Thread(target=drip, daemon=True).start()
                waits = []
                began = time.perf_counter()
                while time.perf_counter() - began < 12:
                    status, took, _ = call(plain, None, "GET", "/health/live", timeout=30)
                    waits.append((status, took))
                    time.sleep(0.1)
                over.set()
                longest = max(took for _, took in waits)
                fine = longest < 5 and all(status == 200 for status, _ in waits)
                met &= fine
                print(f"| 1,100 slow {what}, 1,024 descriptors | {store} | live {longest:.2f} s | {counted([one for one, _ in waits])} | {plain.resident_mib(peak=True):.0f} MiB | {'met' if fine else 'missed'} |", flush=True)
            finally:
                for one in slow:
                    one.close()
                plain.stop()
    return met


LIMITED = "import os, resource, sys; resource.setrlimit(resource.RLIMIT_NOFILE, (1024, 1024)); os.execv(sys.argv[1], sys.argv[1:])"


def unequal(given, store):
    """A workshop of many waiting bikes beside one that rides: how long the one's bikes wait for their outlooks."""
    if store == "sqlite":
        return True
    with served(store) as (service, postgres):
        filled(service, given.bikes)
        small, waited = token(service, "Other"), []
        bikes = [call(service, small, "POST", "/v1/bikes", bike(f"other {number}"))[2]["id"] for number in range(5)]
        waiting = lambda one: int(postgres.sql(f"select count(*) from outlook_marks where bike_id = '{one}'"))
        while any(waiting(one) for one in bikes):
            time.sleep(0.2)
        # A setting is changed: all of the large workshop's bikes wait from now on.
        changed = call(service, service.token, "PATCH", "/v1/workshop", {"soon_days": 9}, **{"if-match": "*"})
        behind = int(postgres.sql("select count(*) from outlook_marks"))
        for one in bikes:
            facts = ride(one, "fresh")
            call(service, small, "POST", f"/v1/bikes/{facts.pop('bike_id')}/rides", facts)
            began = time.perf_counter()
            while waiting(one) and time.perf_counter() - began < 600:
                time.sleep(0.05)
            waited.append(time.perf_counter() - began)
        left = int(postgres.sql("select count(*) from outlook_marks"))
        met = max(waited) < 2 and left > 0
        said = f"{behind} waiting at first, {left} at last; setting {changed[0]}"
        print(f"| {given.bikes} bikes of one workshop wait | {store} | outlook after a ride {max(waited):.2f} s | {said} | {service.resident_mib(peak=True):.0f} MiB | {'met' if met else 'missed'} |", flush=True)
        return met


class Receiver(http.server.BaseHTTPRequestHandler):
    """Takes what hooks tell: at once, or after a while."""
    protocol_version, came = "HTTP/1.1", {}

    def do_POST(self):
        self.rfile.read(int(self.headers.get("content-length", 0)))
        Receiver.came.setdefault(self.path, time.perf_counter())
        if self.path.startswith("/slow"):
            time.sleep(9)
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_):
        pass


def hooks(given, store):
    """Twelve slow hooks of a workshop that has much to tell, beside one of another."""
    receiver = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Receiver)
    threading.Thread(target=receiver.serve_forever, daemon=True).start()
    address = f"http://127.0.0.1:{receiver.server_port}"
    with served(store, "--hook-network", "127.0.0.0/8", "--hook-plain-http", "true") as (service, _):
        small = token(service, "Other")
        make = lambda bearer, url: call(service, bearer, "POST", "/v1/hooks", {"label": url[-8:], "url": url, "events": ["ride.rejected"]})
        for number in range(12):
            make(service.token, f"{address}/slow{number}")
        make(small, f"{address}/fast")
        wrong = lambda bearer, one: call(service, bearer, "POST", f"/v1/bikes/{one}/rides", {"started_at": "2026-03-01T08:00:00Z", "distance_km": -1})
        mine = call(service, service.token, "POST", "/v1/bikes", bike("mine"))[2]["id"]
        others = call(service, small, "POST", "/v1/bikes", bike("other"))[2]["id"]
        for _ in range(20):
            wrong(service.token, mine)
        time.sleep(3)
        Receiver.came.clear()
        began = time.perf_counter()
        wrong(small, others)
        while "/fast" not in Receiver.came and time.perf_counter() - began < 120:
            time.sleep(0.02)
        took = Receiver.came.get("/fast", began + 999) - began
        met = took < 2
        print(f"| 240 messages to twelve slow hooks | {store} | another's hook {took:.2f} s | – | {service.resident_mib(peak=True):.0f} MiB | {'met' if met else 'missed'} |", flush=True)
    receiver.shutdown()
    return met


CASES = {"import": table_import, "dry-run": lambda given, store: table_import(given, store, True), "lock": lock_held, "frozen": frozen,
         "files": ride_files, "junk": junk, "orders": orders, "endless": endless, "slow": slow_clients, "unequal": unequal, "hooks": hooks}


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("cases", nargs="*", help=f"of {', '.join(CASES)}")
    arguments.add_argument("--rows", type=int, default=120_000, help="rides of a table")
    arguments.add_argument("--bikes", type=int, default=20_000, help="bikes of the large workshop")
    arguments.add_argument("--longest", type=float, default=1.5, help="seconds that others may wait")
    arguments.add_argument("--store", choices=["postgres", "sqlite"], default="postgres")
    given = arguments.parse_args()
    print("| what a workshop does | store | others' longest waits | its own answers | peak | |")
    print("|---|---|---|---|---|---|")
    sys.exit(0 if all([CASES[case](given, given.store) for case in given.cases or CASES]) else 1)


if __name__ == "__main__":
    main()
