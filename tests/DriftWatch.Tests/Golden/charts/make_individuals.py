"""Average run length of the combined chart of individuals and moving range as a Markov chain over the last value: a way to
the same numbers that has nothing in common with Gauss-Legendre nodes. Midpoint cells whose width divides both limits,
extrapolated over the square of the width."""
import json

import numpy as np
from scipy.stats import norm


def chain(width, rng, shift, cells_per_unit):
    d = 1 / cells_per_unit
    count = round(2 * width / d)
    v = -width + (np.arange(count) + 0.5) * d
    p = norm.cdf(v + d / 2 - shift) - norm.cdf(v - d / 2 - shift)
    step = np.abs(v[:, None] - v[None, :])
    inside = (step < rng - 1e-9).astype(float)
    inside[np.abs(step - rng) < 1e-9] = 0.5  # the limit runs through the middle of that cell
    q = inside * p[None, :]
    arl = np.linalg.solve(np.eye(count) - q, np.ones(count))
    return 1 + p @ arl


def extrapolated(width, rng, shift):
    a, b, c = (chain(width, rng, shift, n) for n in (50, 100, 200))
    ab, bc = b + (b - a) / 3, c + (c - b) / 3
    return bc + (bc - ab) / 15


rows = [(3.0, 3.7, 0.0), (3.0, 3.7, 1.0), (3.0, 3.7, 2.0), (3.0, 4.5, 0.0), (3.5, 4.2, 0.0), (3.0, 2.5, 0.5)]
print(json.dumps({
    "tolerance": 1e-7,
    "rows": [{"width": w, "range": r, "shift": s, "arl": extrapolated(w, r, s)} for w, r, s in rows],
}, indent=1))
