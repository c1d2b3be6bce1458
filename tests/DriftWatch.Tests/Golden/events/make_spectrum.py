"""Lomb-Scargle powers by SciPy and, about a floating mean and under correlated noise, by least squares with full matrices."""
import json

import numpy as np
from scipy.signal import lombscargle
from scipy.special import gammaln


def lehmer(count, n=1234567890):
    out = []
    for _ in range(count):
        out.append(n / 2147483647)
        n = 16807 * n % 2147483647
    return np.array(out)


u = lehmer(2000)
t = np.sort(u[0:500] * 3600)
y = 6 + 0.3 * np.sin(2 * np.pi * t / 137 + 0.7) + 0.5 * (u[500:1000] - 0.5)
f = np.linspace(1 / 400, 1 / 60, 41)


def explained(y, columns, base):
    """Share of the squares that are left after the base columns which all columns explain."""
    rest = y - base @ np.linalg.lstsq(base, y, rcond=None)[0]
    full = y - columns @ np.linalg.lstsq(columns, y, rcond=None)[0]
    return 1 - (full @ full) / (rest @ rest)


def floating(rho):
    step = np.sort(np.diff(t))[len(t) // 2 - 1 + len(t) % 2]
    inverse = np.linalg.inv(np.linalg.cholesky(rho ** (np.abs(t[:, None] - t[None, :]) / step) if rho else np.eye(len(t))))
    one = inverse @ np.ones((len(t), 1))
    powers = []
    for k in f:
        wave = inverse @ np.column_stack([np.ones(len(t)), np.cos(2 * np.pi * k * t), np.sin(2 * np.pi * k * t)])
        powers.append(explained(inverse @ (y - 6), wave, one))
    return powers


n = len(t)
width = (1 / 60 - 1 / 400) * np.sqrt(4 * np.pi * np.var(t))
alarms = []
for p in [0.01, 0.03, 0.05, 0.08, 0.2, 0.6]:
    single = (1 - p) ** ((n - 3) / 2)
    gamma = np.sqrt(2 / (n - 1)) * np.exp(gammaln((n - 1) / 2) - gammaln((n - 2) / 2))
    tau = gamma * width * (1 - p) ** ((n - 4) / 2) * np.sqrt((n - 1) * p / 2)
    alarms.append([p, single, -np.expm1(np.log1p(-single) - tau)])
fine = np.linspace(1 / 400, 1 / 60, 34001)
high = lombscargle(t, y - y.mean(), 2 * np.pi * fine, normalize=True)
at = fine[int(np.argmax(high))]
wave = np.column_stack([np.ones(n), np.cos(2 * np.pi * at * t), np.sin(2 * np.pi * at * t)])
print(json.dumps({
    "source": "scipy.signal.lombscargle; numpy least squares on Cholesky-whitened columns; Baluev's formula coded apart from the product",
    "tolerance": 1e-7,
    "sums": [float(t.sum()), float(y.sum())],
    "classic": list(lombscargle(t, y, 2 * np.pi * f)),
    "classicNormalised": list(lombscargle(t, y - y.mean(), 2 * np.pi * f, normalize=True)),
    "floating": floating(0),
    "correlated": floating(0.5),
    "peak": [float(at), float(high.max()), float(explained(y - 6, wave, wave[:, :1]))],
    "alarms": alarms}, indent=1))
