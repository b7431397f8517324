#!/usr/bin/env python3
"""One, two and four `serve` processes behind one address on one Postgres: throughput, fairness, hash partitions.

    cargo build --release -p wear-api
    benches/several.py [--seconds 10] [--workshops 32]

HAProxy stands in front (round robin by request). Rides go to many workshops, as sharding is by workshop. What each process
took is counted by its own metrics; what each partition holds and which of them a statement touches is asked of Postgres.
Needs haproxy, postgresql and wrk from the system's packages.
"""

import argparse
import http.client
import json
import pathlib
import re
import subprocess
import tempfile
import time
import uuid

from running import PROGRAM, Client, Service, bike, free_port, need, ride, stores


class Metered(Service):
    """A service whose metrics can be read."""

    def __init__(self, database, *arguments):
        self.metrics_port = free_port()
        super().__init__(database, "--metrics-listen", f"127.0.0.1:{self.metrics_port}", *arguments)

    def requests(self):
        connection = http.client.HTTPConnection("127.0.0.1", self.metrics_port, timeout=10)
        connection.request("GET", "/metrics")
        text = connection.getresponse().read().decode()
        return sum(float(value) for value in re.findall(r"^\w*requests_total\{.*\} ([\d.e+]+)$", text, re.M))


class Balancer:
    """One address for several processes."""

    def __init__(self, services, folder):
        self.port, path = free_port(), pathlib.Path(folder) / f"haproxy-{len(services)}.cfg"
        servers = "\n".join(f"    server s{place} 127.0.0.1:{service.port}" for place, service in enumerate(services))
        path.write_text(f"""global
    maxconn 1000
    nbthread 1
defaults
    mode http
    timeout connect 5s
    timeout client 60s
    timeout server 60s
    option http-keep-alive
frontend all
    bind 127.0.0.1:{self.port}
    default_backend services
backend services
    balance roundrobin
    http-reuse always
{servers}
""")
        self.process = subprocess.Popen([need("haproxy"), "-db", "-f", str(path)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(0.5)

    def stop(self):
        self.process.terminate()
        self.process.wait(10)


def workshops(service, count):
    """(token, bike) of so many workshops."""
    made = []
    for number in range(count):
        token = subprocess.run([PROGRAM, "token", "--database-url", service.database, "--workshop", f"Yard {number:02}",
                                "--role", "manager"], check=True, capture_output=True, text=True).stdout.strip()
        client = Client(service)
        client.headers["authorization"] = f"Bearer {token}"
        made.append((token, [client.post("/v1/bikes", bike(f"{place:03}"))["id"] for place in range(8)]))
    return made


def wrk(port, yards, connections, seconds, folder):
    example = json.dumps({key: value for key, value in ride("", "SOURCE").items() if key != "bike_id"})
    pairs = ",".join(f'{{"{token}","{bike_id}"}}' for token, bikes in yards for bike_id in bikes)
    script = pathlib.Path(folder) / "several.lua"
    script.write_text(f"""
local pairs = {{{pairs}}}
local example = [[{example}]]
local number, run = 0, "{uuid.uuid4().hex[:8]}"
function request()
  number = number + 1
  local chosen = pairs[math.random(#pairs)]
  local body = example:gsub("SOURCE", run .. "-" .. number)
  return wrk.format("POST", "/v1/bikes/" .. chosen[2] .. "/rides",
    {{["authorization"] = "Bearer " .. chosen[1], ["content-type"] = "application/json"}}, body)
end
function done(summary) io.write("ERRORS " .. summary.errors.status .. "\\n") end
""")
    said = subprocess.run([need("wrk"), "-t1", f"-c{connections}", f"-d{seconds}s", "--latency", "-s", str(script),
                           f"http://127.0.0.1:{port}/"], check=True, capture_output=True, text=True).stdout
    if "ERRORS 0" not in said:
        raise SystemExit(f"rides were refused: {said}")
    rate = float(re.search(r"Requests/sec:\s+([\d.]+)", said).group(1))
    return rate, re.search(r"^ +99% +(\S+)", said, re.M).group(1)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=int, default=10)
    parser.add_argument("--workshops", type=int, default=32)
    parser.add_argument("--connections", type=int, default=16)
    given = parser.parse_args()
    with stores("postgres") as (url, postgres), tempfile.TemporaryDirectory() as folder:
        first = Metered(url)
        yards = workshops(first, given.workshops)
        services = [first]
        print("| processes | rides/s through the one address | beside one process | 99th percentile | requests by process, share |\n"
              "|---|---|---|---|---|")
        alone = None
        for count in (1, 2, 4):
            while len(services) < count:
                services.append(Metered(url))
            balancer = Balancer(services, folder)
            before = [service.requests() for service in services]
            rate, tail = wrk(balancer.port, yards, given.connections, given.seconds, folder)
            taken = [service.requests() - was for service, was in zip(services, before, strict=True)]
            balancer.stop()
            alone = alone or rate
            shares = ", ".join(f"{share / sum(taken):.3f}" for share in taken)
            print(f"| {count} | {rate:,.0f} | {rate / alone:.2f} | {tail} | {shares} |", flush=True)
        for service in services:
            service.stop()
        postgres.sql("vacuum analyze")
        held = [int(postgres.sql(f"select count(*) from rides_{place}")) for place in range(16)]
        print(f"\nRides in each of the 16 hash partitions, {given.workshops} workshops: {held}")
        workshop, bike_id = postgres.sql("select workshop_id, bike_id from bikes limit 1").split("|")
        plan = postgres.sql(f"explain (costs off) select * from rides where workshop_id = '{workshop}' and bike_id = '{bike_id}' "
                            "order by started_at desc, ride_id desc limit 100")
        touched = sorted(set(re.findall(r"rides_\d+(?= )", plan)))
        print(f"Partitions in the plan of a bike's rides: {touched}\n{plan}")
        if len(touched) != 1:
            raise SystemExit("more than one partition is read for one workshop")


if __name__ == "__main__":
    main()
