"""Remaining life of a gamma process that is known exactly, by an independent library.

Prints `published/gamma_process.toml`, which the test `published` sets beside the posterior's outlook:

    python -m venv reference && reference/bin/pip install surpyval==0.25
    reference/bin/python wear-core/tests/gamma_process_reference.py > wear-core/tests/published/gamma_process.toml

A process of shape rate a per km and scale b percent has mean rate a·b. The posterior can't be told a rate or an elongation
without any spread; it gets the least that is legal, 0.1 % of the rate and 0.002 percent of elongation, which is what the
tolerances leave room for.
"""

import importlib.metadata

from surpyval.degradation import GammaProcessModel

# Label, shape rate per km, scale in percent, elongation now, limit.
CASES = [
    ("a new chain, limit 0.5", 0.0125, 0.01, 0.0, 0.5),
    ("half worn, limit 0.5", 0.0125, 0.01, 0.25, 0.5),
    ("close to its limit of 0.5", 0.0125, 0.01, 0.45, 0.5),
    ("half worn, limit 0.75", 0.0125, 0.01, 0.4, 0.75),
    ("uneven wear, limit 0.75", 0.004, 0.03, 0.3, 0.75),
    ("a fast chain, limit 1.0", 0.05, 0.01, 0.2, 1.0),
]

print(
    "# A gamma process that is known exactly. Made by tests/gamma_process_reference.py, which says how: don't edit.\n"
)
source = f"surpyval {importlib.metadata.version('surpyval')} (PyPI), GammaProcessModel, of shape rate {{}}/km and scale {{}} percent at {{}} percent"


def row(name, check, source, inputs, value, tolerance):
    print(f"""[[row]]
name = "{name}"
check = "{check}"
source = "{source}"
mark = "C"
inputs = {[float(given) for given in inputs]}
value = {value:.10g}
tolerance = {tolerance:.3g}
""")


for label, shape, scale, now, limit in CASES:
    model = GammaProcessModel(alpha=shape, beta=1.0 / scale, threshold=limit)
    life = model.predict_rul(now, alpha_ci=0.2)
    of = source.format(shape, scale, now)
    for level, km in [(0.1, life.rul_interval[0]), (0.5, life.rul), (0.9, life.rul_interval[1])]:
        name = f"P{100 * level:.0f} of the remaining life, {label}, km"
        row(name, "gamma_quantile", of, [shape, scale, now, limit, level], km, 0.005 * km)
    # The same process seen the other way round: how likely the limit is passed by the mean life.
    km = round((limit - now) / (shape * scale))
    over = float(GammaProcessModel(alpha=shape, beta=1.0 / scale, threshold=limit, y0=now).ff(km))
    row(f"probability to be over within {km} km, {label}", "gamma_remaining", of, [shape, scale, now, limit, km], over, 1e-3)
