"""A Postgres and a `wear-api serve` of a benchmark's own, and what speaks to them. Nothing outside of Python's own library."""

import atexit
import contextlib
import glob
import http.client
import json
import os
import pathlib
import pwd
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = os.environ.get("WEAR_API_PROGRAM", str(ROOT / "target/release/wear-api"))


def need(program):
    path = shutil.which(program)
    if path is None:
        found = sorted(glob.glob(f"/usr/lib/postgresql/*/bin/{program}"))
        path = found[-1] if found else None
    if path is None:
        sys.exit(f"{program} is not there: apt-get install postgresql wrk")
    return path


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Postgres:
    """A cluster in a folder of its own, with durable commits; as root it runs as the user postgres."""

    def __init__(self, folder, settings=()):
        self.folder, self.port = pathlib.Path(folder), free_port()
        self.data = self.folder / "data"
        self.user = pwd.getpwnam("postgres") if os.getuid() == 0 else None
        if self.user:
            os.chown(self.folder, self.user.pw_uid, self.user.pw_gid)
            os.chmod(self.folder, 0o755)
        self.run("initdb", "-D", str(self.data), "-A", "trust", "-U", "wear", "--no-sync")
        lines = [
            f"port = {self.port}", "listen_addresses = '127.0.0.1'", f"unix_socket_directories = ''",
            "max_connections = 100", "shared_buffers = '1GB'", "max_wal_size = '4GB'", *settings,
        ]
        with open(self.data / "postgresql.conf", "a") as file:
            file.write("\n".join(lines) + "\n")
        self.start()
        self.run("createdb", *self.where(), "bench")
        # A role that row-level security binds, as in use.
        self.sql("create role service login; alter database bench owner to service; grant all on schema public to service")
        self.url = f"postgres://service@127.0.0.1:{self.port}/bench"

    def where(self, role="wear"):
        return ["-h", "127.0.0.1", "-p", str(self.port), "-U", role]

    def run(self, program, *arguments, **keywords):
        demote = {"user": self.user.pw_uid, "group": self.user.pw_gid} if self.user else {}
        ended = subprocess.run([need(program), *arguments], capture_output=True, text=True, cwd="/", **demote, **keywords)
        if ended.returncode:
            raise RuntimeError(f"{program} {' '.join(arguments)}: {ended.stdout} {ended.stderr}")
        return ended

    def start(self):
        try:
            self.run("pg_ctl", "-D", str(self.data), "-w", "-l", str(self.folder / "log"), "start")
        except RuntimeError as error:
            error.add_note("".join((self.folder / "log").read_text().splitlines(keepends=True)[-20:]))
            raise

    def stop(self):
        self.run("pg_ctl", "-D", str(self.data), "-m", "immediate", "stop")

    def kill(self):
        """SIGKILL for the postmaster and its children, as on a machine that lost its power."""
        postmaster = int((self.data / "postmaster.pid").read_text().split()[0])
        family = [postmaster, *map(int, os.popen(f"pgrep -P {postmaster}").read().split())]
        for pid in family:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        # A backend that was just being born isn't among them; it ends by itself when it finds itself alone, and until
        # then the shared memory is taken.
        while any(self.is_ours(int(pid)) for pid in os.popen("pgrep -x postgres").read().split()):
            time.sleep(0.05)
        # Where nobody collects the dead, their number looks alive to the next postmaster.
        (self.data / "postmaster.pid").unlink()

    def is_ours(self, pid):
        with contextlib.suppress(OSError):
            return os.readlink(f"/proc/{pid}/cwd") == str(self.data)
        return False

    def sql(self, text):
        answer = self.run("psql", *self.where(), "-d", "bench", "-qAtX", "-v", "ON_ERROR_STOP=1", "-c", text)
        return answer.stdout.strip()


class Service:
    """`wear-api serve` over a store."""

    def __init__(self, database, *arguments):
        self.database, self.port = database, free_port()
        self.command = [PROGRAM, "serve", "--database-url", database, "--listen", f"127.0.0.1:{self.port}",
                        "--requests-per-minute", "10000000", *arguments]
        self.start()
        made = subprocess.run([PROGRAM, "token", "--database-url", database, "--workshop", "Bench", "--role", "manager"],
                              check=True, capture_output=True, text=True)
        self.token = made.stdout.strip()

    def start(self):
        began = time.perf_counter()
        said = tempfile.TemporaryFile()
        # What breaks off leaves no service behind.
        atexit.register(lambda: self.process.poll() is None and self.process.kill())
        self.process = subprocess.Popen(self.command, stdout=subprocess.DEVNULL, stderr=said)
        while True:
            try:
                connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
                connection.request("GET", "/health/ready")
                if connection.getresponse().status == 200:
                    break
            except OSError:
                pass
            if self.process.poll() is not None:
                said.seek(0)
                sys.exit(f"serve stopped with {self.process.returncode}: {said.read().decode()}")
            time.sleep(0.005)
        self.started_in = time.perf_counter() - began

    def stop(self):
        self.process.terminate()
        self.process.wait(30)

    def resident_mib(self, peak=False):
        status = pathlib.Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.search(rf"{'VmHWM' if peak else 'VmRSS'}:\s+(\d+)", status).group(1)) / 1024


class Client:
    """One connection that stays open."""

    def __init__(self, service):
        self.service = service
        self.connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=600)
        self.used = 0.0
        self.headers = {"authorization": f"Bearer {service.token}", "content-type": "application/json"}

    def call(self, method, path, body=None, **headers):
        text = body if isinstance(body, (bytes, type(None))) else json.dumps(body).encode()
        # The service closes what is idle for five seconds.
        if time.perf_counter() - self.used > 2:
            self.connection.close()
        self.connection.request(method, path, text, {**self.headers, **headers})
        self.used = time.perf_counter()
        answer = self.connection.getresponse()
        content = answer.read()
        if answer.status >= 300:
            sys.exit(f"{method} {path}: {answer.status} {content[:500]}")
        return (json.loads(content) if content else None), answer

    def get(self, path):
        return self.call("GET", path)[0]

    def post(self, path, body):
        return self.call("POST", path, body)[0]


def bike(label):
    return {"label": label, "group": "town-8s", "use": "town", "fitted_on": "2026-01-01",
            "drivetrain": {"rings": [42], "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "links": 114, "limit_percent": 0.75}}


def ride(bike_id, source_id, day=1, km=12.4):
    return {"bike_id": bike_id, "started_at": f"2026-{1 + day // 28 % 10:02}-{1 + day % 28:02}T08:00:00Z", "distance_km": km,
            "surface": "paved", "wet": False, "climb_m": 120, "energy_kj": 250, "source": "log", "source_id": source_id}


@contextlib.contextmanager
def stores(which, folder=None):
    """Yields (database address, Postgres or nothing), and cleans up."""
    with tempfile.TemporaryDirectory(prefix="wear-bench-", dir=folder) as here:
        if which == "sqlite":
            yield f"sqlite:{here}/bench.db", None
            return
        postgres = Postgres(here)
        try:
            yield postgres.url, postgres
        finally:
            postgres.stop()


def row(heading, goal, reference, ours, ratio, met):
    print(f"| {heading} | {goal} | {reference} | {ours} | {ratio} | {'met' if met else 'missed'} |", flush=True)
