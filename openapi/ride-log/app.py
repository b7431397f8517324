"""An app of ride logs in Python, on a client that openapi-python-client made of the document. `run` starts it."""

import base64
import datetime
import hashlib
import hmac
import http.server
import os
import queue
import threading

from wear_client import AuthenticatedClient, Client, models
from wear_client.api.apps import redeem_link
from wear_client.api.bikes import put_bike_by_external_id
from wear_client.api.hooks import create_hook
from wear_client.api.outlook import get_outlook
from wear_client.api.readings import create_reading
from wear_client.api.rides import change_ride, create_rides, delete_ride, get_ride, list_workshop_rides
from wear_client.api.workshop import list_changes

URL, CODE = os.environ["URL"], os.environ["CODE"]
RECEIVED = queue.Queue()


class Receiver(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        RECEIVED.put((dict(self.headers), self.rfile.read(int(self.headers["content-length"]))))
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_):
        pass


def ask(operation, *arguments, client, **more):
    answer = operation.sync_detailed(*arguments, client=client, **more)
    if not 200 <= answer.status_code < 300:
        raise SystemExit(f"{operation.__name__}: {answer.status_code} {answer.content!r}")
    return answer


def is_ours(secret, headers, body):
    key = base64.b64decode(secret.removeprefix("whsec_"))
    signed = f"{headers['webhook-id']}.{headers['webhook-timestamp']}.".encode() + body
    ours = base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
    return any(hmac.compare_digest(ours, told.partition(",")[2]) for told in headers["webhook-signature"].split())


# Link: the owner typed the code in.
linked = ask(redeem_link, client=Client(base_url=URL), body=models.Redemption(code=CODE)).parsed
client = AuthenticatedClient(base_url=URL, token=linked.token)
print(f"linked to {linked.workshop} as {linked.label}")

# The rider's bike, under our own id.
bike = ask(put_bike_by_external_id, "bike-1", client=client, body=models.NewBike(
    label="Anna 1", use=models.Use.ROAD, fitted_on=datetime.date(2026, 1, 1))).parsed
place = ask(list_changes, client=client, since="now").parsed.next_

receiver = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Receiver)
threading.Thread(target=receiver.serve_forever, daemon=True).start()
hook = ask(create_hook, client=client, body=models.NewHook(
    label="ride log", url=f"http://127.0.0.1:{receiver.server_port}/", events=[models.HookEvent.OUTLOOK_SWAP_NOW])).parsed

# 500 rides: the last fifty first, then the others, forty of them twice, and twenty that a watch logged as well.
began = datetime.datetime(2026, 1, 2, 8, tzinfo=datetime.timezone.utc)


def ride(number, source="log", km=12.0, **more):
    hours = 12 * number
    return models.BatchRide(
        bike_external_id="bike-1", started_at=began + datetime.timedelta(hours=hours, minutes=2 if source == "watch" else 0),
        distance_km=km, source=source, source_id=f"{source}-{number}", **more)


rides = [ride(number) for number in range(500)]
sent = rides[450:] + rides[:450] + rides[100:140]
for first in range(0, len(sent), 200):
    report = ask(create_rides, client=client, body=models.RideBatch(rides=sent[first:first + 200])).parsed
    print(f"sent {len(report.rides)}: {report.accepted} new, {report.unchanged} known, {len(report.failed)} refused")
watch = ask(create_rides, client=client, body=models.RideBatch(rides=[ride(n, "watch", 12.1) for n in range(20)])).parsed
told_twice = [warning for warning in watch.warnings if warning.code in ("counted_with", "counts_for")]
print(f"watch: {watch.accepted} new, {len(told_twice)} of them rides that are there")
outlook = ask(get_outlook, bike.id, client=client).parsed
assert abs(outlook.basis.distance_km - 6000) < 1e-6, outlook.basis.distance_km
print(f"due in {outlook.remaining_km.p50:.0f} km ({outlook.advice.value}): {outlook.reason}")

# A mistake: a ride was 21 km, and another one never was.
found = ask(list_workshop_rides, client=client, source="log", source_id="log-100").parsed.items[0]
tag = ask(get_ride, bike.id, found.id, client=client).headers["etag"]
ask(change_ride, bike.id, found.id, client=client, if_match=tag, body=models.RideChange(distance_km=21.0))
never = ask(list_workshop_rides, client=client, source="log", source_id="log-8").parsed.items[0]
tag = ask(get_ride, bike.id, never.id, client=client).headers["etag"]
ask(delete_ride, bike.id, never.id, client=client, if_match=tag)
late = ask(create_rides, client=client, body=models.RideBatch(rides=[ride(8)])).parsed
assert late.accepted == 0 and late.rides[0].outcome.value == "deleted", late
outlook = ask(get_outlook, bike.id, client=client).parsed
# The watch's telling of ride 8 counts now that the log's is gone.
assert abs(outlook.basis.distance_km - (6000 + 9 - 12 + 12.1)) < 1e-6, outlook.basis.distance_km

# A reading that says swap, and the reminder.
ask(create_reading, bike.id, client=client, body=models.NewReading(
    taken_at=datetime.datetime(2026, 11, 20, 17, tzinfo=datetime.timezone.utc), instrument=models.Instrument.DIAL, spots=[0.95, 0.97, 0.96]))
headers, body = RECEIVED.get(timeout=30)
headers = {name.lower(): value for name, value in headers.items()}
assert is_ours(hook.secret, headers, body), "a signature that isn't ours"
print(f"reminded, verified: {body[:60].decode()}…")

# Follow what changed since the beginning.
counts = {}
while True:
    changes = ask(list_changes, client=client, since=place, limit=1000).parsed
    for change in changes.items:
        key = change.kind.value + (" gone" if change.gone else "")
        counts[key] = counts.get(key, 0) + 1
    place = changes.next_
    if not changes.more:
        break
print("changes:", ", ".join(f"{count} {kind}" for kind, count in sorted(counts.items())))
assert counts["ride gone"] == 1 and counts["reading"] == 1, counts
