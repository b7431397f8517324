#!/usr/bin/env python3
"""Rides over HTTP against the database's own tools running the same statements, in one run.

    cargo build --release -p wear-api
    benches/ride_speed.py [--rides 10000,1000000] [--seconds 10] [--connections 16]

Postgres, one ride a request: `wrk` against `pgbench` with the statements that the service was seen to send for one ride
(taken from the server's log, so they can't drift). Postgres, 10,000 rides a request: one request against COPY into the
same tables with the same rollup. SQLite: one request of 10,000 rides, and single rides against the sqlite3 library
running the same statements. Needs postgresql (server, pgbench) and wrk from the system's packages.
"""

import argparse
import io
import json
import pathlib
import re
import sqlite3
import subprocess
import tempfile
import time
import uuid

from running import Client, Service, bike, need, ride, row, stores

BIKES = 200
BATCH = 10_000


def bikes_of(client):
    return [client.post("/v1/bikes", bike(f"{number:05}"))["id"] for number in range(BIKES)]


def wrk(service, bikes, connections, seconds, folder):
    script = pathlib.Path(folder) / "rides.lua"
    ids = ",".join(f'"{bike_id}"' for bike_id in bikes)
    example = json.dumps(ride("BIKE", "SOURCE"))
    script.write_text(f"""
local bikes = {{{ids}}}
local example = [[{example}]]
local thread, number = 0, 0
function setup(t) thread = thread + 1; t:set("thread", thread) end
function init() number = 0; math.randomseed(thread) end
local run = "{uuid.uuid4().hex[:8]}"
function request()
  number = number + 1
  local body = example:gsub("BIKE", bikes[math.random(#bikes)]):gsub("SOURCE", run .. "-" .. thread .. "-" .. number)
  local bike = body:match('"bike_id": "([^"]*)", ')
  body = body:gsub('"bike_id": "[^"]*", ', "")
  return wrk.format("POST", "/v1/bikes/" .. bike .. "/rides", {{["authorization"] = "Bearer {service.token}",
    ["content-type"] = "application/json"}}, body)
end
function done(summary) io.write("ERRORS " .. summary.errors.status .. "\\n") end
""")
    said = subprocess.run([need("wrk"), "-t1", f"-c{connections}", f"-d{seconds}s", "-s", str(script),
                           f"http://127.0.0.1:{service.port}/"], check=True, capture_output=True, text=True).stdout
    if "ERRORS 0" not in said:
        raise SystemExit(f"rides were refused: {said}")
    return float(re.search(r"Requests/sec:\s+([\d.]+)", said).group(1))


def statements_of_one_ride(postgres, client, bike_id):
    """What the service sends for one ride, in order, with its parameters in place."""
    postgres.sql("alter system set log_statement = 'all'")
    postgres.sql("select pg_reload_conf()")
    time.sleep(1.0)
    log = postgres.folder / "log"
    start = log.stat().st_size
    marker = uuid.uuid4().hex
    client.post(f"/v1/bikes/{bike_id}/rides", {k: v for k, v in ride(bike_id, marker).items() if k != "bike_id"})
    time.sleep(0.3)
    postgres.sql("alter system reset log_statement")
    postgres.sql("select pg_reload_conf()")
    text = log.read_bytes()[start:].decode()
    entries = re.split(r"\n(?=\d{4}-\d\d-\d\d )", text)
    found = {}
    for entry in entries:
        process = re.match(r"\S+ \S+ \S+ \[(\d+)\]", entry)
        if not process:
            continue
        said = re.search(r"LOG:  (?:execute [^:]+|statement): (.*)", entry, re.S)
        values = re.search(r"DETAIL:  parameters: (.*)", entry, re.S)
        lines = found.setdefault(process.group(1), [])
        if said:
            lines.append([" ".join(said.group(1).split()), ""])
        elif values and lines:
            lines[-1][1] = values.group(1)
    for lines in found.values():
        for place, (_, values) in enumerate(lines):
            if marker in values:
                words = [sql.lower().split()[0].rstrip(";") for sql, _ in lines]
                first = max(i for i in range(place) if words[i] == "begin")
                last = min(i for i in range(place, len(lines)) if words[i] == "commit")
                # The look-up of the token comes before, in a transaction of its own, on whatever connection.
                return [with_values(sql, values, marker) for sql, values in lines[first:last + 1]]
    raise SystemExit("the ride's statements are not in the log")


def with_values(sql, values, marker):
    given = dict(re.findall(r"\$(\d+) = ('(?:[^']|'')*'|NULL)", values))
    if sql.lower().startswith("insert into rides"):
        # A ride's own id and source id differ from ride to ride.
        given = {n: ("gen_random_uuid()" if n == "3" else "'p:client_id-:n'" if marker in v else v) for n, v in given.items()}
    return re.sub(r"\$(\d+)", lambda match: given[match.group(1)], sql)


def pgbench(postgres, statements, bikes, connections, seconds, folder):
    """A script for each bike, of which pgbench takes one at random, as wrk does: one bike's row would be fought over."""
    pathlib.Path(folder).chmod(0o755)
    scripts = []
    for bike_id in bikes:
        script = pathlib.Path(folder) / f"{bike_id}.pgbench"
        body = "\n".join(f"{sql};" for sql in statements).replace(bikes[0], bike_id)
        # Variables inside quotes aren't replaced: the source id is put together by the server.
        body = body.replace("'p:client_id-:n'", "'p' || :client_id || '-' || :n || '-' || clock_timestamp()")
        script.write_text(f"\\set n random(1, 2000000000)\n{body}\n")
        script.chmod(0o644)
        scripts += ["-f", str(script)]
    said = postgres.run("pgbench", *postgres.where("service"), "-n", "-M", "prepared", "-c", str(connections), "-j", "1",
                        "-T", str(seconds), *scripts, "bench").stdout
    return float(re.search(r"tps = ([\d.]+)", said).group(1))


def batch(bikes, marker):
    return [ride(bikes[i % BIKES], f"{marker}-{i}", day=i // BIKES) for i in range(BATCH)]


def batch_over_http(client, bikes, times):
    best = []
    for _ in range(times):
        body = json.dumps({"rides": batch(bikes, uuid.uuid4().hex)}).encode()
        began = time.perf_counter()
        answer = client.post("/v1/rides", body)
        best.append(time.perf_counter() - began)
        assert answer["accepted"] == BATCH, answer
    return BATCH / sorted(best)[len(best) // 2]


def batch_by_copy(postgres, bikes, times):
    """COPY of the rides, one statement for their days, one for the marks: one transaction, by psql."""
    workshop = postgres.sql("select workshop_id from workshops")
    seconds = []
    for _ in range(times):
        marker = uuid.uuid4().hex
        rows = io.StringIO()
        for i in range(BATCH):
            day = 20_454 + i // BIKES
            rows.write(f"{workshop},{bikes[i % BIKES]},{uuid.uuid4()},log,c{marker}-{i},{day * 86_400_000_000},paved,false,"
                       f"12400000,120000,250000,14000000,250000,1\n")
        script = f"""begin;
select set_config('wear.workshop', '{workshop}', true);
insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts)
select workshop_id, bike_id, 1, 1, 1, 0 from bikes order by bike_id
on conflict (workshop_id, bike_id) do update set sequence = outlook_marks.sequence + 1;
create temp table came (like rides) on commit drop;
\\copy came from pstdin csv
insert into rides select * from came;
insert into bike_days select workshop_id, bike_id, started_at / 86400000000, surface, wet, count(*), sum(distance_mm),
    sum(climb_mm), sum(energy_j), sum(base_reference_mm), sum(base_reference_mm), 0 from came group by 1, 2, 3, 4, 5
on conflict (workshop_id, bike_id, day, surface, wet) do update set rides = bike_days.rides + excluded.rides,
    distance_mm = bike_days.distance_mm + excluded.distance_mm, climb_mm = bike_days.climb_mm + excluded.climb_mm,
    energy_j = bike_days.energy_j + excluded.energy_j,
    base_reference_mm = bike_days.base_reference_mm + excluded.base_reference_mm,
    measured_reference_mm = bike_days.measured_reference_mm + excluded.measured_reference_mm;
commit;
"""
        with tempfile.NamedTemporaryFile("w", suffix=".sql") as file:
            file.write(script)
            file.flush()
            pathlib.Path(file.name).chmod(0o644)
            began = time.perf_counter()
            postgres.run("psql", *postgres.where("service"), "-d", "bench", "-qX", "-v", "ON_ERROR_STOP=1", "-f", file.name,
                         input=rows.getvalue())
            seconds.append(time.perf_counter() - began)
    return BATCH / sorted(seconds)[len(seconds) // 2]


def fill(postgres, rides):
    """Rides made by the database itself until there are so many."""
    workshop = postgres.sql("select workshop_id from workshops")
    have = int(postgres.sql("select count(*) from rides"))
    if have < rides:
        postgres.sql(f"""insert into rides select '{workshop}', bike_id, gen_random_uuid(), 'fill', 'f' || n,
            1700000000000000 + n * 1000000::bigint, 'paved', false, 9000000, null, null, 9000000, 180000, 1
            from generate_series({have + 1}, {rides}) n
            join (select bike_id, row_number() over () as place from bikes) b on b.place = 1 + n % {BIKES}""")
        postgres.sql("vacuum analyze")


def on_postgres(sizes, connections, seconds):
    with stores("postgres") as (url, postgres), tempfile.TemporaryDirectory() as folder:
        service = Service(url, "--connections", str(connections))
        client = Client(service)
        bikes = bikes_of(client)
        statements = statements_of_one_ride(postgres, client, bikes[0])
        print("\n".join(f"<!-- {sql} -->" for sql in statements))
        first = {}
        for size in sizes:
            fill(postgres, size)
            theirs = pgbench(postgres, statements, bikes[:100], connections, seconds, folder)
            ours = wrk(service, bikes, connections, seconds, folder)
            row(f"one ride a request, {size:,} rides there", "0.6 of pgbench", f"{theirs:,.0f}/s", f"{ours:,.0f}/s",
                f"{ours / theirs:.2f}", ours >= 0.6 * theirs)
            theirs = batch_by_copy(postgres, bikes, 5)
            many = batch_over_http(Client(service), bikes, 5)
            row(f"10,000 rides a request, {size:,} rides there", "0.8 of COPY", f"{theirs:,.0f} rides/s",
                f"{many:,.0f} rides/s", f"{many / theirs:.2f}", many >= 0.8 * theirs)
            for what, rate in (("one ride a request", ours), ("10,000 rides a request", many)):
                began = first.setdefault(what, rate)
                if began != rate:
                    row(f"growth of {what} to {size:,}", "falls by less than 15 %", f"{began:,.0f}/s", f"{rate:,.0f}/s",
                        f"{rate / began:.2f}", rate > 0.85 * began)
        service.stop()


def library(path, bikes, seconds):
    """The same statements by Python's sqlite3, one durable transaction a ride."""
    store = sqlite3.connect(path, isolation_level=None)
    for pragma in ("journal_mode = wal", "synchronous = full", "foreign_keys = on", "busy_timeout = 10000"):
        store.execute(f"pragma {pragma}")
    (workshop,) = store.execute("select workshop_id from workshops").fetchone()
    ids = [uuid.UUID(bike_id).bytes for bike_id in bikes]
    count, began = 0, time.perf_counter()
    while time.perf_counter() - began < seconds:
        bike_id = ids[count % BIKES]
        store.execute("begin immediate")
        store.execute("select * from bikes where workshop_id = ? and bike_id = ?", (workshop, bike_id)).fetchall()
        store.execute("""insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts)
            values (?, ?, 1, 1, 1, 0)
            on conflict (workshop_id, bike_id) do update set sequence = outlook_marks.sequence + 1""", (workshop, bike_id))
        store.execute("""insert into rides values (?, ?, ?, 'lib', ?, ?, 'paved', 0, 12400000, 120000, 250000, 14000000,
            250000, 1) on conflict (workshop_id, source, source_id) do nothing""",
                      (workshop, bike_id, uuid.uuid4().bytes, uuid.uuid4().hex, 1_767_254_400_000_000))
        store.execute("""insert into bike_days values (?, ?, 20454, 'paved', 0, 1, 12400000, 120000, 250000, 14000000,
            14000000, 0) on conflict (workshop_id, bike_id, day, surface, wet) do update set rides = bike_days.rides + 1,
            distance_mm = bike_days.distance_mm + excluded.distance_mm, climb_mm = bike_days.climb_mm + excluded.climb_mm,
            energy_j = bike_days.energy_j + excluded.energy_j,
            base_reference_mm = bike_days.base_reference_mm + excluded.base_reference_mm,
            measured_reference_mm = bike_days.measured_reference_mm + excluded.measured_reference_mm""", (workshop, bike_id))
        store.execute("commit")
        count += 1
    return count / (time.perf_counter() - began)


def on_sqlite(seconds):
    with stores("sqlite") as (url, _), tempfile.TemporaryDirectory() as folder:
        service = Service(url)
        client = Client(service)
        bikes = bikes_of(client)
        many = batch_over_http(Client(service), bikes, 5)
        row("SQLite, 10,000 rides a request", "100,000 rides/s", "", f"{many:,.0f} rides/s", f"{many / 100_000:.2f}",
            many >= 100_000)
        ours = wrk(service, bikes, 8, seconds, folder)
        service.stop()
        theirs = library(url.removeprefix("sqlite:"), bikes, seconds)
        row("SQLite, one ride a request", "0.6 of the library", f"{theirs:,.0f}/s", f"{ours:,.0f}/s", f"{ours / theirs:.2f}",
            ours >= 0.6 * theirs)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rides", default="10000,1000000")
    parser.add_argument("--seconds", type=int, default=10)
    parser.add_argument("--connections", type=int, default=16)
    parser.add_argument("--store", choices=["postgres", "sqlite"])
    given = parser.parse_args()
    print("| what | goal | reference | ours | ratio | |\n|---|---|---|---|---|---|")
    if given.store != "sqlite":
        on_postgres([int(size) for size in given.rides.split(",")], given.connections, given.seconds)
    if given.store != "postgres":
        on_sqlite(given.seconds)


if __name__ == "__main__":
    main()
