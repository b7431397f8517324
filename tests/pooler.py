#!/usr/bin/env python3
"""Runs the service through PgBouncer in transaction mode, and looks for locks that it leaves behind.

Needs Postgres' server programs, and PgBouncer 1.21 or later:

    cargo build -p wear-api && tests/pooler.py --pgbouncer /usr/sbin/pgbouncer [--program target/debug/wear-api]

Several processes migrate an empty database at once, migrate again while two serve, and both are sent rides and asked for
outlooks. Nothing may be refused, nothing lost, and no advisory lock may be left. As root it runs Postgres and PgBouncer as
the user postgres.
"""

import argparse
import collections
import glob
import json
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import threading
import time
import urllib.error
import urllib.request


def free_port():
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        return listening.getsockname()[1]


def as_server(command, **more):
    if os.getuid() == 0:
        user = pwd.getpwnam("postgres")
        more.update(user=user.pw_uid, group=user.pw_gid, extra_groups=[])
    return subprocess.Popen(command, cwd="/", **more)


def call(base, token, method, path, body=None):
    request = urllib.request.Request(
        base + path,
        method=method,
        data=None if body is None else json.dumps(body).encode(),
        headers={"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as refused:
        return refused.code, refused.read().decode()[:300]


def wait_for(what, ready, seconds=60):
    for _ in range(seconds * 10):
        if ready():
            return
        time.sleep(0.1)
    raise SystemExit(f"{what} doesn't come up")


def answers(port):
    with socket.socket() as trying:
        return trying.connect_ex(("127.0.0.1", port)) == 0


def main():
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--pgbouncer", default=shutil.which("pgbouncer"))
    asked.add_argument("--program", default="target/debug/wear-api")
    asked.add_argument("--rides", type=int, default=40, help="rides of each of eight senders")
    asked = asked.parse_args()
    program = os.path.abspath(asked.program)
    version = subprocess.run([asked.pgbouncer, "--version"], capture_output=True, text=True).stdout.split()[1]
    if tuple(map(int, version.split(".")[:2])) < (1, 21):
        raise SystemExit(f"PgBouncer {version} doesn't keep track of prepared statements; 1.21 and later do")
    binaries = max(glob.glob("/usr/lib/postgresql/*/bin"), key=lambda path: int(path.split("/")[4]))
    folder = tempfile.mkdtemp(prefix="wear-pooler-")
    os.chmod(folder, 0o777)
    database, pooler, ports = free_port(), free_port(), [free_port(), free_port()]
    running = []
    try:
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        made = as_server([f"{binaries}/initdb", "--auth=trust", "--no-sync", "-U", "postgres", "-D", f"{folder}/data"], **quiet)
        assert made.wait() == 0, "initdb"
        running.append(as_server([f"{binaries}/postgres", "-D", f"{folder}/data", "-k", folder, "-p", str(database), "-c", "listen_addresses=", "-c", "fsync=off"], **quiet))
        direct = [f"{binaries}/psql", "-qAt", "-h", folder, "-p", str(database), "-U", "postgres", "postgres", "-c"]
        ask = lambda sql: subprocess.run(direct + [sql], capture_output=True, text=True).stdout.strip()
        wait_for("Postgres", lambda: ask("select 1") == "1")
        ask("create role wear login")
        ask("create database wear owner wear")
        with open(f"{folder}/pgbouncer.ini", "w") as settings:
            settings.write(f"""[databases]
wear = host={folder} port={database} dbname=wear
[pgbouncer]
listen_addr = 127.0.0.1
listen_port = {pooler}
unix_socket_dir =
auth_type = trust
auth_file = {folder}/users
pool_mode = transaction
default_pool_size = 6
server_round_robin = 1
max_prepared_statements = 600
ignore_startup_parameters = extra_float_digits
""")
        with open(f"{folder}/users", "w") as users:
            users.write('"wear" ""\n')
        running.append(as_server([asked.pgbouncer, f"{folder}/pgbouncer.ini"], **quiet))
        wait_for("PgBouncer", lambda: answers(pooler))
        url = f"postgres://wear@127.0.0.1:{pooler}/wear"
        locks = lambda: int(ask("select count(*) from pg_locks where locktype = 'advisory'"))

        migrate = [program, "migrate", "--database-url", url]
        at_once = [subprocess.Popen(migrate) for _ in range(3)]
        assert [process.wait(timeout=120) for process in at_once] == [0, 0, 0], "migrating at once"
        for port in ports:
            log = open(f"{folder}/{port}.log", "w")
            running.append(subprocess.Popen([program, "serve", "--database-url", url, "--listen", f"127.0.0.1:{port}"], stderr=log))
        for port in ports:
            wait_for("the service", lambda: answers(port))
        made = subprocess.run([program, "token", "--database-url", url, "--workshop", "Harbour", "--role", "manager"], capture_output=True, text=True)
        token = made.stdout.strip()
        bases = [f"http://127.0.0.1:{port}" for port in ports]
        drivetrain = {"rings": [42], "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "links": 114, "limit_percent": 0.75}
        bikes = []
        for label in range(8):
            status, bike = call(bases[0], token, "POST", "/v1/bikes", {"label": str(label), "group": "town-8s", "use": "town", "fitted_on": "2026-01-01", "drivetrain": drivetrain})
            assert status == 201, bike
            bikes.append(bike["id"])
        told = collections.Counter()
        refused = []

        def send(sender):
            bike = bikes[sender]
            for place in range(asked.rides):
                ride = {"started_at": f"2026-03-{1 + place % 28:02}T0{place // 28 % 10}:00:00Z", "distance_km": 5 + place % 30, "source": "log", "source_id": str(place)}
                for method, path, body in [("POST", f"/v1/bikes/{bike}/rides", ride), ("GET", f"/v1/bikes/{bike}/outlook", None), ("GET", "/health/ready", None)]:
                    status, answer = call(bases[place % 2], token, method, path, body)
                    told[status] += 1
                    if status >= 400:
                        refused.append((status, path, answer))

        senders = [threading.Thread(target=send, args=(sender,)) for sender in range(8)]
        for sender in senders:
            sender.start()
        again = 0
        while any(sender.is_alive() for sender in senders):
            assert subprocess.run(migrate, timeout=60).returncode == 0
            assert locks() == 0, "a lock is left"
            again += 1
            time.sleep(0.5)
        there = int(subprocess.run(direct[:-2] + ["wear", "-c", "select count(*) from rides"], capture_output=True, text=True).stdout)
        print(f"PgBouncer {version}: {sum(told.values())} requests {dict(told)}, {len(refused)} refused; {there} of {8 * asked.rides} rides; migrated {again} times beside them; {locks()} locks left")
        assert not refused, refused[:3]
        assert there == 8 * asked.rides
        assert locks() == 0
    finally:
        for process in reversed(running):
            process.terminate()
        for process in reversed(running):
            try:
                process.wait(timeout=30)
            except subprocess.TimeoutExpired:
                process.kill()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
