"""Books that clients keep of what they were told, and their comparison with the store."""

import http.client
import json
import sys
import threading
import time

from running import Client, Service, bike, ride, stores

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

    def port(self, number):
        return self.service.port

    def attempt(self, number, headers):
        connection = None
        try:
            connection = http.client.HTTPConnection("127.0.0.1", self.port(number), timeout=30)
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
