#!/usr/bin/env python3
"""A primary is killed under load, its replica promoted: what `serve` does, and what of the acknowledged is there.

    cargo build --release -p wear-api
    benches/failover.py [--seconds 8]

The replica streams and commits are synchronous; `serve` knows both hosts by one address. The client keeps books.
"""

import argparse
import http.client
import json
import os
import pathlib
import tempfile
import threading
import time
import uuid

from running import Client, Postgres, Service, bike, free_port, ride


def replica_of(primary, folder):
    """A second server that streams from the first, with commits that wait for it."""
    replica = object.__new__(Postgres)
    replica.folder, replica.user = pathlib.Path(folder), primary.user
    if replica.user:
        os.chown(replica.folder, replica.user.pw_uid, replica.user.pw_gid)
        os.chmod(replica.folder, 0o755)
    replica.data = replica.folder / "data"
    primary.run("pg_basebackup", "-h", "127.0.0.1", "-p", str(primary.port), "-U", "wear", "-D", str(replica.data), "-R", "-X",
                "stream", "-c", "fast")
    replica.port = free_port()
    with open(replica.data / "postgresql.conf", "a") as file:
        file.write(f"port = {replica.port}\nunix_socket_directories = ''\n")
    replica.start()
    with open(primary.data / "postgresql.conf", "a") as file:
        file.write("synchronous_standby_names = '*'\n")
    primary.sql("select pg_reload_conf()")
    while primary.sql("select coalesce(max(sync_state), '') from pg_stat_replication") != "sync":
        time.sleep(0.1)
    return replica


def post_until(stop, service, bike_id, acknowledged, refused, lock):
    client = None
    while not stop.is_set():
        source_id = uuid.uuid4().hex
        body = {k: v for k, v in ride(bike_id, source_id).items() if k != "bike_id"}
        while not stop.is_set():
            try:
                client = client or Client(service)
                client.connection.timeout = 15
                client.connection.request("POST", f"/v1/bikes/{bike_id}/rides", json.dumps(body), client.headers)
                answer = client.connection.getresponse()
                text = answer.read()
            except (OSError, http.client.HTTPException):
                client = None
                continue
            with lock:
                if answer.status in (200, 201):
                    acknowledged.append((time.perf_counter(), source_id))
                else:
                    refused.append((time.perf_counter(), answer.status, text[:120]))
            if answer.status in (200, 201):
                break
            time.sleep(0.05)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=8)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as first, tempfile.TemporaryDirectory() as second:
        primary = Postgres(first)
        replica = replica_of(primary, second)
        try:
            service = Service(f"postgres://service@127.0.0.1:{primary.port},127.0.0.1:{replica.port}/bench")
            bike_id = Client(service).post("/v1/bikes", bike("041"))["id"]
            acknowledged, refused, lock, stop = [], [], threading.Lock(), threading.Event()
            threads = [threading.Thread(target=post_until, args=(stop, service, bike_id, acknowledged, refused, lock))
                       for _ in range(8)]
            for thread in threads:
                thread.start()
            time.sleep(given.seconds)
            killed = time.perf_counter()
            primary.kill()
            time.sleep(1.0)
            replica.run("pg_ctl", "-D", str(replica.data), "-w", "promote")
            promoted = time.perf_counter()
            while not any(at > promoted for at, _ in acknowledged):
                if time.perf_counter() > promoted + 60:
                    raise SystemExit(f"no ride was taken within a minute: {refused[-1:]}")
                time.sleep(0.01)
            back = min(at for at, _ in acknowledged if at > promoted)
            time.sleep(given.seconds)
            stop.set()
            for thread in threads:
                thread.join()
            there = replica.sql("select source_id from rides").split()
            missing = {source_id for _, source_id in acknowledged} - set(there)
            twice = len(there) - len(set(there))
            statuses = sorted({status for _, status, _ in refused})
            print("| rides acknowledged | before the kill | missing afterwards | twice | refused meanwhile | statuses | from kill to "
                  "promotion | from promotion to the first ride |\n|---|---|---|---|---|---|---|---|")
            before = sum(at < killed for at, _ in acknowledged)
            print(f"| {len(acknowledged):,} | {before:,} | {len(missing)} | {twice} | {len(refused)} | {statuses} | "
                  f"{promoted - killed:.1f} s | {back - promoted:.2f} s |")
            service.stop()
            if missing or twice:
                raise SystemExit("acknowledged rides are missing, or there twice")
        finally:
            replica.stop()


if __name__ == "__main__":
    main()
