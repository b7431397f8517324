#!/usr/bin/env python3
"""How long a wrong token takes to be refused, by how much of it is right.

    cargo build --release -p wear-api
    benches/token_timing.py [--looks 4000]

Four kinds of token in turn on one connection: right but for the last character, right but for the first, drawn anew, and
of the wrong shape. Prints the median and the mean of the middle nine tenths with its standard error; kinds of the right
shape that differ by more than four standard errors would tell something about a token.
"""

import argparse
import http.client
import secrets
import statistics
import sys
import time

from running import Service, stores


def other(character):
    return "0" if character != "0" else "1"


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--looks", type=int, default=4000)
    looks = options.parse_args().looks
    with stores("sqlite") as (url, _):
        service = Service(url)
        head, body = service.token.split("_", 1)
        kinds = {
            "right but for the last character": lambda: f"{head}_{body[:-1]}{other(body[-1])}",
            "right but for the first character": lambda: f"{head}_{other(body[0])}{body[1:]}",
            "drawn anew": lambda: f"{head}_{secrets.token_hex(len(body) // 2)}",
            "of the wrong shape": lambda: "nonsense",
        }
        connection = http.client.HTTPConnection("127.0.0.1", service.port)
        times = {kind: [] for kind in kinds}
        for _ in range(looks):
            for kind, make in kinds.items():
                token = make()
                began = time.perf_counter()
                connection.request("GET", "/v1/bikes?limit=1", headers={"authorization": f"Bearer {token}"})
                answer = connection.getresponse()
                answer.read()
                times[kind].append(time.perf_counter() - began)
                assert answer.status == 401, answer.status
        service.stop()
    print("| token | median µs | mean µs of the middle nine tenths | standard error µs |")
    print("|---|---|---|---|")
    told = {}
    for kind, taken in times.items():
        middle = sorted(taken)[looks // 20 : looks - looks // 20]
        told[kind] = (statistics.mean(middle), statistics.stdev(middle) / len(middle) ** 0.5)
        print(f"| {kind} | {1e6 * statistics.median(taken):.1f} | {1e6 * told[kind][0]:.1f} | {1e6 * told[kind][1]:.2f} |")
    shaped = [told[kind] for kind in list(kinds)[:3]]
    apart = max(abs(a[0] - b[0]) / (a[1] ** 2 + b[1] ** 2) ** 0.5 for a in shaped for b in shaped if a is not b)
    print(f"\nlargest difference between tokens of the right shape: {apart:.1f} standard errors")
    return 1 if apart > 4 else 0


if __name__ == "__main__":
    sys.exit(main())
