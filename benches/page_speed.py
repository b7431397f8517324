#!/usr/bin/env python3
"""Pages of a small and a large workshop: weight over the wire, and the server's time.

    cargo build --release -p wear-api
    benches/page_speed.py [--bikes 60 20000] [--store sqlite] [--folder DIR]

Seeds bikes with rides and readings through the API, signs in, and asks for each page fifty times as a browser does
(gzip, one connection). Prints for each page: its bytes, those with style sheet, script and mark, the median until the last
byte, what the service's own metric says on average, and processor time a request. With --folder the workshop is kept there
and used again.
"""

import argparse
import datetime
import http.client
import pathlib
import re
import statistics
import time
import urllib.parse

from fleet_scale import Backlog, seed
from running import Client, Service, free_port, stores

ASKED = 50
EXTRAS = ["/static/pages.css", "/static/pages.js", "/static/mark.svg"]


class Browser:
    """Signed in, with a connection that stays open."""

    def __init__(self, service):
        self.service = service
        self.connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=600)
        form = urllib.parse.urlencode({"token": service.token, "back": "/fleet"})
        self.connection.request("POST", "/sign-in", form, {"content-type": "application/x-www-form-urlencoded"})
        answer = self.connection.getresponse()
        answer.read()
        assert answer.status == 303, answer.status
        self.cookie = answer.getheader("set-cookie").split(";")[0]

    def get(self, path):
        """Bytes of the body as sent, and seconds."""
        headers = {"cookie": self.cookie, "accept-encoding": "gzip", "accept": "text/html"}
        began = time.perf_counter()
        self.connection.request("GET", path, headers=headers)
        answer = self.connection.getresponse()
        content = answer.read()
        took = time.perf_counter() - began
        assert answer.status == 200, (path, answer.status, content[:300])
        assert "gzip" in (answer.getheader("content-encoding") or ""), path
        return len(content), took


def processor_seconds(service):
    fields = pathlib.Path(f"/proc/{service.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / 100


def metric(port):
    """Seconds and number of requests by the service's own metric, pages only."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request("GET", "/metrics")
    text = connection.getresponse().read().decode()
    total = {"sum": 0.0, "count": 0.0}
    for kind, labels, value in re.findall(r"^\w*request\w*seconds_(sum|count)\{([^}]*)\} (\S+)$", text, re.M):
        if 'route="other"' in labels and 'GET' in labels:
            total[kind] += float(value)
    return total["sum"], total["count"]


def furnish(client):
    """A shelf, a delivery and a bench plan, as a workshop has them."""
    price = {"price_minor": 1250, "currency": "EUR"}
    chain = client.post("/v1/part-models", {"name": "Chain, eight", "place": "chain", "sprockets": 8, **price})["id"]
    client.post("/v1/stock", {"part_model_id": chain, "count": 12, "pack_size": 5, "lead_time_days": 10})
    today = datetime.date.today()
    day = lambda ahead: str(today + datetime.timedelta(days=ahead))
    client.post("/v1/deliveries", {"part_model_id": chain, "count": 20, "expected_on": day(8)})
    client.post("/v1/bench-plan", {"from": day(0), "to": day(13)})


def measure(store, count, folder):
    metrics = free_port()
    with stores(store) as (url, postgres):
        if folder:
            url = f"sqlite:{folder}/pages-{count}.db"
        service = Service(url, "--metrics-listen", f"127.0.0.1:{metrics}")
        client, backlog = Client(service), Backlog(url, postgres)
        began = time.perf_counter()
        bikes = [item["id"] for item in client.get("/v1/bikes?limit=100")["items"]]
        if not bikes:
            bikes = seed(service, count)
            backlog.wait()
            furnish(client)
        backlog.wait()
        print(f"<!-- {count:,} bikes after {time.perf_counter() - began:.0f} s -->", flush=True)
        browser = Browser(service)
        extra = sum(browser.get(path)[0] for path in EXTRAS)
        paths = ["/fleet", "/fleet?advice=ride_on", "/fleet?search=00012", "/fleet?group=group-03", "/fleet?within=28",
                 f"/bikes/{bikes[0]}", f"/bikes/{bikes[0]}/measure", "/measure", "/bench", "/parts", "/parts/lives",
                 "/track-record", "/policy", "/labels", "/settings", "/audit"]
        print("| page | bytes | with style, script, mark | median ms | metric, mean ms | processor ms |")
        print("|---|---|---|---|---|---|")
        for path in paths:
            browser.get(path)
            seconds, number = metric(metrics)
            used = processor_seconds(service)
            seen = [browser.get(path) for _ in range(ASKED)]
            used = processor_seconds(service) - used
            after, now = metric(metrics)
            mean = 1e3 * (after - seconds) / (now - number)
            median = 1e3 * statistics.median(took for _, took in seen)
            size = seen[-1][0]
            print(f"| {re.sub('[0-9a-f-]{36}', '…', path)} | {size:,} | {size + extra:,} | {median:.1f} | {mean:.1f} | {1e3 * used / ASKED:.1f} |", flush=True)
        service.stop()


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--bikes", type=int, nargs="+", default=[60, 20_000])
    options.add_argument("--store", default="sqlite", choices=["sqlite", "postgres"])
    options.add_argument("--folder")
    chosen = options.parse_args()
    for count in chosen.bikes:
        measure(chosen.store, count, chosen.folder)


main()
