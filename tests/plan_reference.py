"""Compares `wear-api plan` with HiGHS on random bench plans.

Each instance is a family, a size and a seed. The script builds the instance, lets the release
program and `scipy.optimize.milp` (HiGHS) solve it, checks our answer without using any of our code,
and prints one line an instance: both costs, their ratio, our bound, both wall times.

Set up and run, from the repository's root:

    python3 -m venv .venv-plan && .venv-plan/bin/pip install scipy
    cargo build --release --bin wear-api
    .venv-plan/bin/python tests/plan_reference.py                      # default families and sizes
    .venv-plan/bin/python tests/plan_reference.py --sizes 60x14 250x21 --families tight scarce --seeds 3
    .venv-plan/bin/python tests/plan_reference.py --markdown           # the table only

Our seconds are those of the whole process: start, reading, solving, writing. HiGHS's seconds are
those of the call to `milp` alone, with its default relative gap of 1e-4 unless `--exact` is given;
building the matrix is not counted. Beside the wall times stand the processor's seconds of both (user and system), which
say more on a machine that does other work; HiGHS's time limit is wall time all the same. The exit code is 1 when an answer is infeasible, adds up wrongly,
has a bound above the optimum, or costs more than 0.5 % above HiGHS's best.
"""

import argparse
import datetime
import json
import os
import random
import resource
import subprocess
import sys
import time

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
START = datetime.date(2026, 12, 1)


def date(offset):
    return (START + datetime.timedelta(days=offset)).isoformat()


def number(text):
    return datetime.date.fromisoformat(text).toordinal()


# ---- instances ------------------------------------------------------------------------------

def instance(family, jobs, days, seed):
    """One random instance. The same arguments give the same instance."""
    r = random.Random(f"{family} {jobs} {days} {seed}")
    gaps = family in ("tight", "scarce", "multi", "bunched", "gaps")
    offsets = []
    offset = 0
    while len(offsets) < days:
        if not (gaps and (START + datetime.timedelta(days=offset)).weekday() >= 5):
            offsets.append(offset)
        offset += 1
    span = offsets[-1] + 1

    if family in ("knapsack", "correlated"):
        minutes = [r.randint(25, 190) for _ in range(jobs)]
    elif family == "equal":
        minutes = [45] * jobs
    elif family == "few":
        minutes = [r.randint(100, 230) for _ in range(jobs)]
    else:
        minutes = [r.choice([15, 20, 25, 30, 40, 45, 60, 75, 90]) for _ in range(jobs)]
    if family == "fractional":
        minutes = [round(m * r.uniform(0.9, 1.1), 2) for m in minutes]
    load = {"easy": 0.7, "tight": 1.0, "overload": 1.3, "knapsack": 1.05, "correlated": 1.1,
            "bunched": 0.85, "few": 1.2, "equal": 1.02, "lean": 0.95}.get(family, 0.9)
    share = sum(minutes) / load / days
    capacity = []
    for _ in range(days):
        c = share * r.choice([0.6, 0.8, 1.0, 1.0, 1.2, 1.4])
        capacity.append(int(c) if family != "fractional" else round(c, 2))

    kinds = 12 if family == "multi" else 4
    scarcity = {"scarce": 0.75, "multi": 0.85}.get(family, 1.4)
    weights = [1 / (1 + k) for k in range(kinds)]
    out = {"days": [{"date": date(o), "minutes": c} for o, c in zip(offsets, capacity)],
           "arrivals": [], "jobs": []}
    demand = [0] * kinds
    for i in range(jobs):
        parts = {}
        wanted = r.randint(2, 5) if family == "multi" else r.choice([0, 1, 1, 1, 2])
        for k in r.choices(range(kinds), weights, k=wanted):
            parts[f"part-{k}"] = parts.get(f"part-{k}", 0) + 1
        for k in range(kinds):
            demand[k] += parts.get(f"part-{k}", 0)
        due = r.randint(0, span - 1)
        if family == "bunched":
            due = min(span - 1, max(0, int(r.gauss(span * r.choice([0.3, 0.7]), span * 0.06))))
        early, late, left = r.uniform(0.1, 1.5), r.uniform(0.5, 6.0), r.uniform(20, 120)
        if family == "equal":
            early, late, left = 1, 1, 10
        elif family == "zero":
            early, late, left = 0, r.choice([0, 1]), r.choice([0, 5])
        elif family == "huge":
            early, late, left = early * 1e-3, late * 1e5, 1e9
        elif family == "tiny":
            early, late, left = early * 1e-7, late * 1e-7, left * 1e-7
        elif family == "cheap_out":
            left = r.uniform(0.1, 6)
        elif family == "correlated":
            early, late, left = 0.02 * minutes[i], 0.05 * minutes[i], minutes[i] + r.randint(-5, 5)
        elif family == "whole":
            early, late, left = r.randint(1, 3), r.randint(1, 9), r.randint(20, 90)
        job = {"id": f"job-{i}", "minutes": minutes[i], "parts": parts, "due": date(due),
               "cost_early_per_day": early, "cost_late_per_day": late, "cost_left_out": left}
        if r.random() < 0.5:
            job["earliest"] = date(due - r.randint(0, span // 2))
        if family == "long" and r.random() < 0.05:
            job["minutes"] = max(capacity) + r.randint(1, 100)
        if family == "long" and r.random() < 0.05:
            job["earliest"] = date(span + 3)
        out["jobs"].append(job)
    for k in range(kinds):
        left = int(demand[k] * scarcity)
        first = left // 4
        out["arrivals"].append({"part": f"part-{k}", "date": date(-2), "count": first})
        left -= first
        while left > 0:
            count = min(left, r.randint(1, max(1, int(demand[k] * 0.3))))
            out["arrivals"].append({"part": f"part-{k}", "date": date(r.randint(0, span)), "count": count})
            left -= count
    return out


FAMILIES = ["easy", "tight", "overload", "scarce", "multi", "knapsack", "correlated", "bunched", "few", "equal",
            "zero", "huge", "tiny", "cheap_out", "whole", "long", "gaps", "fractional", "lean"]


# ---- what a plan costs and whether it can be done ---------------------------------------------

def options(problem, job):
    """Indices of the days that a job may be on, with what each costs."""
    due = number(job["due"])
    first = number(job["earliest"]) if job.get("earliest") else None
    for j, day in enumerate(problem["days"]):
        d = number(day["date"])
        if first is None or d >= first:
            yield j, (job["cost_early_per_day"] * (due - d) if d < due else job["cost_late_per_day"] * (d - due))


def supply(problem):
    """By part, the arrivals as (day number, count)."""
    by_part = {}
    for a in problem["arrivals"]:
        by_part.setdefault(a["part"], []).append((number(a["date"]), a["count"]))
    return by_part


def check(problem, answer):
    """The cost of the answer; raises AssertionError when a constraint is broken."""
    jobs = {j["id"]: j for j in problem["jobs"]}
    days = {d["date"]: d["minutes"] for d in problem["days"]}
    on = {a["id"]: a["date"] for a in answer["assignments"]}
    assert len(on) == len(answer["assignments"]), "a job is twice in the plan"
    assert len(set(answer["left_out"])) == len(answer["left_out"]), "a job is left out twice"
    assert set(on) | set(answer["left_out"]) == set(jobs), "a job is missing or unknown"
    assert not set(on) & set(answer["left_out"]), "a job is both in and out"
    cost = sum(jobs[i]["cost_left_out"] for i in answer["left_out"])
    used, parts = {d: 0.0 for d in days}, {}
    for i, day in on.items():
        job, d, due = jobs[i], number(day), number(jobs[i]["due"])
        assert day in days, f"{day} is not a bench day"
        assert not job.get("earliest") or day >= job["earliest"], f"{i} before its earliest day"
        cost += job["cost_early_per_day"] * max(0, due - d) + job["cost_late_per_day"] * max(0, d - due)
        used[day] += job["minutes"]
        for part, count in job.get("parts", {}).items():
            parts.setdefault(part, []).append((d, count))
    for day, minutes in used.items():
        assert minutes <= days[day] + 1e-6, f"{day}: {minutes} of {days[day]} minutes"
    have = supply(problem)
    for part, uses in parts.items():
        for d, _ in uses:
            used_so_far = sum(c for e, c in uses if e <= d)
            arrived = sum(c for e, c in have.get(part, []) if e <= d)
            assert used_so_far <= arrived, f"{part} on day {d}: {used_so_far} of {arrived}"
    scale = max(1e-9, abs(cost))
    assert abs(cost - answer["cost"]) <= 1e-6 * scale, f"cost {answer['cost']}, adds up to {cost}"
    assert answer["bound"] <= answer["cost"] + 1e-9 * scale, "bound above cost"
    if answer["status"] == "optimal":
        assert answer["cost"] - answer["bound"] <= 1e-6 * scale, "optimal with a gap"
    else:
        assert answer["status"] == "within_gap", answer["status"]
    return cost


# ---- HiGHS -------------------------------------------------------------------------------------

def highs(problem, exact, limit):
    """Best cost, proven bound, seconds and processor seconds of HiGHS."""
    import numpy
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_matrix

    n, days = len(problem["jobs"]), problem["days"]
    if n == 0:
        return 0.0, 0.0, 0.0, 0.0
    cost, columns = [], []
    for i, job in enumerate(problem["jobs"]):
        cost.append(job["cost_left_out"])
        columns.append((i, None))
        for j, c in options(problem, job):
            cost.append(c)
            columns.append((i, j))
    have = supply(problem)
    rows, at, values, low, high = [], [], [], [], []
    for v, (i, _) in enumerate(columns):
        rows.append(i), at.append(v), values.append(1.0)
    low += [1.0] * n
    high += [1.0] * n
    for v, (i, j) in enumerate(columns):
        if j is not None:
            rows.append(n + j), at.append(v), values.append(problem["jobs"][i]["minutes"])
    low += [-numpy.inf] * len(days)
    high += [d["minutes"] for d in days]
    row = n + len(days)
    numbers = [number(d["date"]) for d in days]
    for part in sorted({p for job in problem["jobs"] for p in job.get("parts", {})}):
        arrived = [sum(c for e, c in have.get(part, []) if e <= d) for d in numbers]
        users = [(v, i, j) for v, (i, j) in enumerate(columns)
                 if j is not None and problem["jobs"][i].get("parts", {}).get(part, 0)]
        for t in range(len(days)):
            later = [a for d, a in zip(numbers, arrived) if d > numbers[t]]
            if later and min(later) == arrived[t]:
                continue  # a later day has the same stock and the wider use
            for v, i, j in users:
                if numbers[j] <= numbers[t]:
                    rows.append(row), at.append(v), values.append(problem["jobs"][i]["parts"][part])
            low.append(-numpy.inf)
            high.append(arrived[t])
            row += 1
    matrix = csr_matrix((values, (rows, at)), shape=(row, len(columns)))
    # HiGHS has absolute tolerances: costs of 1e-7 would all count as zero.
    scale = 1.0 / max(1e-12, float(numpy.median([c for c in cost if c > 0] or [1.0])))
    scale = scale if scale > 1e3 else 1.0
    settings = {"time_limit": limit}
    if exact:
        settings["mip_rel_gap"] = 0.0
    start, start_cpu = time.perf_counter(), time.process_time()
    result = milp(numpy.array(cost) * scale, constraints=LinearConstraint(matrix, low, high),
                  integrality=numpy.ones(len(columns)), bounds=Bounds(0, 1), options=settings)
    seconds, cpu = time.perf_counter() - start, time.process_time() - start_cpu
    if result.x is None:
        return float("inf"), (result.mip_dual_bound or 0.0) / scale, seconds, cpu
    return result.fun / scale, result.mip_dual_bound / scale, seconds, cpu


def cpu_of_children():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def ours(problem, program):
    text = json.dumps(problem).encode()
    start, start_cpu = time.perf_counter(), cpu_of_children()
    done = subprocess.run([program, "plan"], input=text, capture_output=True, check=False)
    seconds, cpu = time.perf_counter() - start, cpu_of_children() - start_cpu
    if done.returncode:
        raise AssertionError(done.stderr.decode())
    return json.loads(done.stdout), seconds, cpu


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--program", default=os.path.join(ROOT, "target", "release", "wear-api"))
    parser.add_argument("--families", nargs="+", default=FAMILIES, choices=FAMILIES)
    parser.add_argument("--sizes", nargs="+", default=["60x14", "250x21", "400x28"])
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--limit", type=float, default=60.0, help="seconds that HiGHS may take")
    parser.add_argument("--exact", action="store_true", help="HiGHS with relative gap 0")
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--no-highs", action="store_true", help="ours only: feasibility, gap, seconds")
    chosen = parser.parse_args()

    failures = 0
    columns = ["size", "family", "seed", "HiGHS cost", "our cost", "ratio", "our bound", "gap %", "s HiGHS", "s ours",
               "CPU s HiGHS", "CPU s ours", "CPU ratio", "status"]
    print("| " + " | ".join(columns) + " |" if chosen.markdown else "\t".join(columns))
    if chosen.markdown:
        print("|" + "---|" * len(columns))
    for size in chosen.sizes:
        jobs, days = (int(x) for x in size.split("x"))
        for family in chosen.families:
            for seed in range(chosen.first_seed, chosen.first_seed + chosen.seeds):
                problem = instance(family, jobs, days, seed)
                best, proven, theirs, their_cpu = (float("nan"),) * 4
                if not chosen.no_highs:
                    best, proven, theirs, their_cpu = highs(problem, chosen.exact, chosen.limit)
                verdict = ""
                try:
                    answer, seconds, cpu = ours(problem, chosen.program)
                    cost = check(problem, answer)
                except AssertionError as error:
                    failures += 1
                    print(size, family, seed, f"FAILED {error}", flush=True)
                    continue
                slack = 1e-6 * max(abs(cost), abs(best) if best == best else 0.0) + 1e-12
                if best == best:
                    if cost < proven - slack:
                        verdict = f" FAILED cost below HiGHS's bound {proven}"
                    elif answer["bound"] > best + slack:
                        verdict = f" FAILED bound above HiGHS's cost {best}"
                    elif cost > best * 1.005 + slack:
                        verdict = " FAILED more than 0.5 % above HiGHS"
                    failures += bool(verdict)
                ratio = cost / best if best else (1.0 if cost == 0 else float("inf"))
                gap = (cost - answer["bound"]) / cost * 100 if cost else 0.0
                cells = [size, family, str(seed), f"{best:.6g}", f"{cost:.6g}", f"{ratio:.5f}",
                         f"{answer['bound']:.6g}", f"{gap:.4f}", f"{theirs:.3f}", f"{seconds:.3f}",
                         f"{their_cpu:.3f}", f"{cpu:.3f}", f"{their_cpu / cpu:.1f}" if cpu else "-", answer["status"] + verdict]
                print("| " + " | ".join(cells) + " |" if chosen.markdown else "\t".join(cells), flush=True)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
