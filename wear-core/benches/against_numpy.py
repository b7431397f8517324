#!/usr/bin/env python3
"""The same estimates by this library and by a grid filter in numpy and scipy, timed in one run on one thread.

    python3 -m venv .venv && .venv/bin/pip install numpy scipy
    cargo build --release -p wear-core --example time_estimates
    .venv/bin/python wear-core/benches/against_numpy.py

The grid filter is the one that `tests/estimate_reference.py` judges answers with. Times are processor time in user
mode, so that a busy machine doesn't count. The answers are compared as well: a fast wrong answer is worth nothing.
"""

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import argparse
import importlib.util
import pathlib
import resource
import subprocess

import numpy as np

ROOT = pathlib.Path(__file__).resolve().parents[2]


def reference():
    spec = importlib.util.spec_from_file_location("estimate_reference", ROOT / "tests" / "estimate_reference.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def line(case):
    words = [case["limit_percent"], case["at_reference_km"]]
    for reading in case["readings"]:
        value = reading.get("percent")
        if value is None:
            value = f'{reading["mark_percent"]}{"+" if reading["drops_in"] else "-"}'
        words += [reading["at_reference_km"], reading["instrument"], value]
    return " ".join(str(word) for word in words)


def user_time(who):
    return resource.getrusage(who).ru_utime


def ours(program, cases, times):
    """Answers, and processor seconds of the process."""
    before = user_time(resource.RUSAGE_CHILDREN)
    text = "".join(line(case) + "\n" for case in cases)
    done = subprocess.run([program, str(times)], input=text, capture_output=True, text=True, check=True)
    answers = np.array([[float(word) for word in row.split()] for row in done.stdout.splitlines()])
    return answers, user_time(resource.RUSAGE_CHILDREN) - before


METHODS = {
    "none": [],
    "rule": ["rule"],
    "dial": ["dial"],
    "drop_in": ["drop_in"],
    "any of the three": ["rule", "dial", "drop_in"],
}


def compare(model, rng, instruments, count, options):
    """Milliseconds of numpy, microseconds of ours, and how far their answers are apart."""
    simulated = model.simulate(
        rng, options.cases, model.MU, model.TAU, model.PHI, instruments, [count], (0.3, 0.8)
    )
    cases = [case for case, _ in simulated]
    began = user_time(resource.RUSAGE_SELF)
    expected = []
    for case in cases:
        grid = model.Grid(model.MU, model.TAU, model.PHI, 3.2)
        density, last = grid.posterior(case["readings"])
        life, over = grid.remaining(density, last, case["at_reference_km"], case["limit_percent"])
        expected.append([*life, over])
    numpy_ms = (user_time(resource.RUSAGE_SELF) - began) / len(cases) * 1e3
    expected = np.array(expected)
    _, once = ours(options.program, cases, 0)
    answers, often = ours(options.program, cases, options.times)
    ours_us = (often - once) / (options.times * len(cases)) * 1e6
    usual = expected[:, :3] > 50
    apart = np.max(np.abs(answers[:, :3] / np.where(usual, expected[:, :3], 1) - 1)[usual], initial=0)
    return numpy_ms, ours_us, apart


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--program", default=ROOT / "target/release/examples/time_estimates")
    arguments.add_argument("--cases", type=int, default=6)
    arguments.add_argument("--times", type=int, default=200)
    options = arguments.parse_args()
    model = reference()
    rng = np.random.default_rng(20261125)
    print("instruments        readings   numpy ms   ours µs   times faster   largest difference of P10, P50, P90")
    ratios = []
    for name, instruments in METHODS.items():
        for count in (1, 5, 20) if instruments else (0,):
            numpy_ms, ours_us, apart = compare(model, rng, instruments or ["rule"], count, options)
            ratios.append(numpy_ms * 1e3 / ours_us)
            print(f"{name:18} {count:8}   {numpy_ms:8.1f}   {ours_us:7.1f}   {ratios[-1]:12.0f}   {apart:.2%}")
    print(f"slowest ratio {min(ratios):.0f}, geometric mean {np.exp(np.mean(np.log(ratios))):.0f}")
    before = user_time(resource.RUSAGE_CHILDREN)
    subprocess.run([options.program, "fleet", "3"], capture_output=True, check=True)
    spent = (user_time(resource.RUSAGE_CHILDREN) - before) / 3
    print(f"a fit of 1,000 chains: {spent:.2f} s of processor time, over all threads")


if __name__ == "__main__":
    main()
