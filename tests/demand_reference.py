"""Compares the number of swaps of a fleet with `scipy.stats.poisson_binom`.

Each fleet is a family, a size and a seed. The example `demand` of the core prints our distribution; scipy gives its
own. Printed: the largest difference of a probability, of a distribution function, and of the 50 %, 90 % and 99 %
quantiles. The exit code is 1 when a probability differs by more than 1e-12 or a quantile at all.

Set up and run, from the repository's root (scipy 1.15 or later):

    python3 -m venv .venv-demand && .venv-demand/bin/pip install scipy
    cargo build -p wear-core --example demand
    .venv-demand/bin/python tests/demand_reference.py
"""

import os
import subprocess
import sys

import numpy as np
import scipy
from scipy.stats import poisson_binom

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
PROGRAM = os.environ.get("WEAR_DEMAND_PROGRAM", os.path.join(ROOT, "target", "debug", "examples", "demand"))
LEVELS = [0.5, 0.9, 0.99]

FAMILIES = {
    "even": lambda rng, n: rng.uniform(0, 1, n),
    "rare": lambda rng, n: rng.beta(0.3, 30, n),
    "nearly sure": lambda rng, n: 1 - rng.beta(0.3, 30, n),
    "both ends": lambda rng, n: rng.beta(0.05, 0.05, n),
    "equal": lambda rng, n: np.full(n, rng.uniform(0, 1)),
}


def main():
    fleets = []
    for name, draw in FAMILIES.items():
        for size in (1, 3, 10, 60, 300, 1000, 3000):
            for seed in range(3):
                fleets.append((name, size, np.clip(draw(np.random.default_rng(1000 * size + seed), size), 0, 1)))
    lines = "\n".join(" ".join(repr(float(p)) for p in probabilities) for _, _, probabilities in fleets)
    answer = subprocess.run([PROGRAM], input=lines + "\n", capture_output=True, text=True, check=True).stdout
    ours = [np.array([float(word) for word in line.split()]) for line in answer.splitlines()]
    assert len(ours) == len(fleets)

    print(f"scipy {scipy.__version__}, {len(fleets)} fleets")
    print("family          bikes   largest difference of a probability   of a distribution function   quantiles")
    worst, wrong = 0.0, 0
    for (name, size, probabilities), mass in zip(fleets, ours):
        reference = poisson_binom(probabilities)
        counts = np.arange(size + 1)
        by_mass = np.abs(mass - reference.pmf(counts)).max()
        below = np.cumsum(mass)
        by_distribution = np.abs(below - reference.cdf(counts)).max()
        # A level that the distribution function meets to the last digits may round to either side.
        quantiles = [int(np.searchsorted(below, level - 1e-12)) for level in LEVELS]
        # scipy's own `ppf` refuses more than 63 probabilities, so its quantiles come from its distribution function.
        theirs = [int(np.searchsorted(reference.cdf(counts), level - 1e-12)) for level in LEVELS]
        same = quantiles == theirs
        worst = max(worst, by_mass, by_distribution)
        wrong += by_mass > 1e-12 or not same
        print(f"{name:14} {size:6}   {by_mass:12.3e} {by_distribution:42.3e}   {'same' if same else (quantiles, theirs)}")
    print(f"largest difference of all {worst:.3e}")
    sys.exit(1 if wrong else 0)


main()
