#!/usr/bin/env python3
"""Judge `wear-api estimate` on simulated fleets, against a filter written anew in numpy and scipy.

    python3 -m venv .venv && .venv/bin/pip install numpy scipy
    cargo build --release -p wear-api
    .venv/bin/python tests/estimate_reference.py [--chains 300] [--program target/release/wear-api]

Two parts, both from the model's text and sharing no code with the program:

1. Without `--learn`, single cases: quantiles of remaining life and the probability of being over the
   limit, against a direct grid over (elongation, wear rate) whose gamma increments are differences of
   scipy's distribution function.
2. With `--learn`, fleets simulated by the model with parameters off the defaults: coverage of the 80 %
   interval of the true remaining life, and pinball loss (mean over P10, P50, P90) against two naive
   answers and against the same grid filter told the true parameters.
"""

import argparse
import json
import subprocess
import sys
import time

import numpy as np
from scipy import stats

A, S_R, EPS0, SD0 = 0.03, 150.0, 0.04, 0.03
MU, TAU, PHI = np.log(0.125 / 1000), 0.35, 0.01
QUANTILES = np.array([0.1, 0.5, 0.9])
SDS = {"rule": (0.0, 0.06), "caliper": (0.02, 0.03), "dial": (0.0, 0.025)}
GAUGES = {"drop_in": 0.12, "drop_in_isolating": 0.0}


def running_in(s):
    return A * (1 - np.exp(-np.asarray(s) / S_R))


class Grid:
    """Elongation less running-in on a uniform grid, one row a wear rate."""

    def __init__(self, mu, tau, phi, top, step=0.002, rates=81):
        self.phi, self.step = phi, step
        z = np.linspace(-4.5, 4.5, rates)
        self.rate = np.exp(mu + tau * z)
        self.weight = stats.norm.pdf(z)
        self.weight /= self.weight.sum()
        self.x = np.arange(-0.16, top, step)

    def increments(self, ds):
        """Probability of each whole number of steps: hat-function weights, so that the mean is exact."""
        n = len(self.x)
        edge = np.arange(0, n + 1) * self.step
        shape = (self.rate * ds / self.phi)[:, None]
        # E (G - k)+ = mean * sf(shape + 1) - k * sf(shape)
        excess = shape * self.phi * stats.gamma.sf(edge, shape + 1, scale=self.phi) - edge * stats.gamma.sf(
            edge, shape, scale=self.phi
        )
        excess = np.concatenate([shape * self.phi + self.step, excess], axis=1)
        return np.maximum((excess[:, 2:] - 2 * excess[:, 1:-1] + excess[:, :-2]) / self.step, 0)

    def posterior(self, readings):
        density = np.tile(stats.norm.pdf(self.x, EPS0, SD0) * self.step, (len(self.rate), 1))
        density *= self.weight[:, None]
        at = 0.0
        n = len(self.x)
        for reading in sorted(readings, key=lambda r: r["at_reference_km"]):
            if reading["at_reference_km"] > at:
                ds, at = reading["at_reference_km"] - at, reading["at_reference_km"]
                kernel = self.increments(ds)
                size = 2 * n
                density = np.fft.irfft(
                    np.fft.rfft(density, size, axis=1) * np.fft.rfft(kernel, size, axis=1), size, axis=1
                )[:, :n]
                density = np.maximum(density, 0)
            density = density * likelihood(reading, self.x + running_in(at))
            density /= density.sum()
        return density, at

    def remaining(self, density, last, now, limit):
        """Quantiles of the reference distance to the limit, and the probability of being over it."""

        def over(s):
            shape = (self.rate * (now - last + s) / self.phi)[:, None]
            gap = limit - self.x - running_in(now + s)
            tail = np.where(gap <= 0, 1.0, stats.gamma.sf(np.maximum(gap, 1e-300), np.maximum(shape, 1e-300), scale=self.phi))
            return float((density * tail).sum())

        p_now = over(0.0)
        answers = []
        for q in QUANTILES:
            if p_now >= q:
                answers.append(0.0)
                continue
            low, high = 0.0, 2000.0
            while over(high) < q:
                low, high = high, high * 2
            for _ in range(30):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if over(middle) < q else (low, middle)
                if high - low < 1e-4 * high:
                    break
            answers.append(0.5 * (low + high))
        return answers, p_now


def likelihood(reading, eps):
    name = reading["instrument"]
    if name in SDS:
        bias, sd = SDS[name]
        values = reading.get("spots", [reading.get("percent")])
        return stats.norm.pdf(np.mean(values), eps + bias, sd / np.sqrt(len(values)))
    p = stats.norm.cdf((eps + GAUGES[name] - reading["mark_percent"]) / 0.05)
    return p if reading["drops_in"] else 1 - p


def simulate(rng, chains, mu, tau, phi, instruments, counts, reach):
    """Chains by the model; each case has the true remaining life beside it."""
    cases = []
    while len(cases) < chains:
        limit = float(rng.choice([0.5, 0.75, 1.0]))
        rate = np.exp(rng.normal(mu, tau))
        typical = (limit - 0.07) / np.exp(mu)
        grid = np.arange(0.0, 12 * typical, typical / 400)
        g = np.concatenate([[0], np.cumsum(rng.gamma(np.maximum(rate * np.diff(grid) / phi, 1e-12), phi))])
        eps = rng.normal(EPS0, SD0) + running_in(grid) + g
        now = rng.uniform(*reach) * typical
        if eps[-1] < limit:
            continue
        index = np.argmax(eps >= limit)
        life = np.interp(limit, eps[index - 1 : index + 1], grid[index - 1 : index + 1])
        readings = []
        for s in np.sort(rng.uniform(0.05 * typical, now, int(rng.choice(counts)))):
            true, name = float(np.interp(s, grid, eps)), str(rng.choice(instruments))
            reading = {"instrument": name, "at_reference_km": round(float(s), 3)}
            if name in SDS:
                bias, sd = SDS[name]
                reading["percent"] = round(float(np.clip(rng.normal(true + bias, sd), -0.3, 3.0)), 3)
            else:
                mark = float(rng.choice([0.5, 0.75, 1.0]))
                reading["mark_percent"] = mark
                reading["drops_in"] = bool(rng.random() < stats.norm.cdf((true + GAUGES[name] - mark) / 0.05))
            readings.append(reading)
        case = {
            "id": str(len(cases)),
            "group": "fleet",
            "limit_percent": limit,
            "readings": readings,
            "at_reference_km": round(float(now), 3),
        }
        cases.append((case, max(float(life - now), 0.0)))
    return cases


def run(program, cases, *flags):
    text = "".join(json.dumps(case) + "\n" for case in cases)
    began = time.monotonic()
    done = subprocess.run([program, "estimate", *flags], input=text, capture_output=True, text=True)
    if done.returncode:
        sys.exit(f"estimate failed: {done.stderr}\n{done.stdout[:500]}")
    return [json.loads(line) for line in done.stdout.splitlines()], time.monotonic() - began


def pinball(predicted, truth):
    error = truth[:, None] - predicted
    return float(np.mean(np.maximum(QUANTILES * error, (QUANTILES - 1) * error)))


def fixed_distance(cases):
    """Everyone's chain lasts what a default chain lasts, less what it has run."""
    typical = [(c["limit_percent"] - EPS0 - A) / np.exp(MU) for c in cases]
    return np.maximum([t - c["at_reference_km"] for t, c in zip(typical, cases)], 0.0)


def straight_line(cases):
    """A line from a new chain's elongation through the readings; without any, the fixed distance."""
    answers = []
    for case, fallback in zip(cases, fixed_distance(cases)):
        points = [
            (r["at_reference_km"], r.get("percent", r.get("mark_percent", 0) - GAUGES.get(r["instrument"], 0)))
            for r in case["readings"]
            if "percent" in r or r.get("drops_in")
        ]
        slope = sum(s * (y - EPS0) for s, y in points) / sum(s * s for s, _ in points) if points else 0.0
        if slope <= 1e-5:
            answers.append(fallback)
        else:
            answers.append(max((case["limit_percent"] - EPS0) / slope - case["at_reference_km"], 0.0))
    return np.array(answers)


FLEETS = {
    "defaults": dict(mu=MU, tau=TAU, phi=PHI, instruments=["rule", "caliper", "dial"], counts=[1, 2, 4, 6]),
    "mean +50 %": dict(mu=MU + np.log(1.5), tau=TAU, phi=PHI, instruments=["rule", "dial"], counts=[1, 2, 4]),
    "mean -50 %": dict(mu=MU + np.log(0.5), tau=TAU, phi=PHI, instruments=["rule", "dial"], counts=[1, 2, 4]),
    "tau 0.15, phi 0.03": dict(mu=MU + 0.2, tau=0.15, phi=0.03, instruments=["rule", "caliper"], counts=[1, 3, 5]),
    "tau 0.6, phi 0.004": dict(mu=MU - 0.2, tau=0.6, phi=0.004, instruments=["dial", "rule"], counts=[1, 3, 5]),
    "gauges only": dict(
        mu=MU + np.log(1.4), tau=0.25, phi=PHI, instruments=["drop_in", "drop_in_isolating"], counts=[1, 3, 6]
    ),
    "one reading": dict(mu=MU + np.log(0.7), tau=0.3, phi=PHI, instruments=["rule"], counts=[1]),
    "a third unmeasured": dict(mu=MU + np.log(1.3), tau=0.4, phi=0.015, instruments=["dial", "drop_in"], counts=[0, 2, 4]),
}


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--program", default="target/release/wear-api")
    arguments.add_argument("--chains", type=int, default=300)
    arguments.add_argument("--seed", type=int, default=20261125)
    options = arguments.parse_args()
    rng = np.random.default_rng(options.seed)

    print("single cases, default parameters: largest differences from the numpy grid")
    simulated = simulate(rng, 40, MU, TAU, PHI, [*SDS, *GAUGES], [0, 1, 3, 8], (0.1, 1.0))
    cases = [case for case, _ in simulated]
    answers, _ = run(options.program, cases)
    worst_life = worst_over = 0.0
    for case, answer in zip(cases, answers):
        grid = Grid(MU, TAU, PHI, 3.2)
        life, over = grid.remaining(*grid.posterior(case["readings"]), case["at_reference_km"], case["limit_percent"])
        ours = [answer["remaining_reference_km"][k] for k in ("p10", "p50", "p90")]
        worst_life = max(worst_life, *(abs(o - r) / max(r, 50.0) for o, r in zip(ours, life)))
        worst_over = max(worst_over, abs(answer["probability_over_limit"] - over))
    print(f"  remaining life {100 * worst_life:.3f} % (of at least 50 km), probability over {worst_over:.6f}")

    print("fleets, --learn: coverage of the 80 % interval; pinball loss; ratios to the better naive and to the oracle")
    failed = worst_life > 0.01 or worst_over > 0.002
    for name, parameters in FLEETS.items():
        simulated = simulate(rng, options.chains, reach=(0.2, 0.9), **parameters)
        cases, truth = [c for c, _ in simulated], np.array([t for _, t in simulated])
        answers, seconds = run(options.program, cases, "--learn")
        ours = np.array([[a["remaining_reference_km"][k] for k in ("p10", "p50", "p90")] for a in answers])
        grid = Grid(parameters["mu"], parameters["tau"], parameters["phi"], 2.2, step=0.004, rates=51)
        oracle = np.array(
            [grid.remaining(*grid.posterior(c["readings"]), c["at_reference_km"], c["limit_percent"])[0] for c in cases]
        )
        inside = np.mean((ours[:, 0] <= truth) & (truth <= ours[:, 2]))
        oracle_inside = np.mean((oracle[:, 0] <= truth) & (truth <= oracle[:, 2]))
        naive = min(pinball(np.tile(f(cases)[:, None], 3), truth) for f in (fixed_distance, straight_line))
        loss, best = pinball(ours, truth), pinball(oracle, truth)
        print(
            f"  {name:20} covers {100 * inside:5.1f} % (oracle {100 * oracle_inside:5.1f})  loss {loss:7.1f}"
            f"  /naive {loss / naive:.3f}  /oracle {loss / best:.4f}  {seconds:.2f} s",
            flush=True,
        )
        failed |= loss > 1.05 * best
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
