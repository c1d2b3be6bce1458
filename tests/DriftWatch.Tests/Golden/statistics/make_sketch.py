"""Quantiles by NumPy ('inverted_cdf', the smallest value that has the share at or below it) of long made streams, for the quantile sketch
to be held against: its rank error must stay below the bound that it states."""
import json

import numpy as np


def lehmer(count, n=20260101):
    out = np.empty(count)
    for i in range(count):
        n = 16807 * n % 2147483647
        out[i] = n / 2147483647
    return out


u = lehmer(50000)
shares = [0.001, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99, 0.999]
streams = {"even": u, "skewed": -np.log(u), "tied": np.floor(20 * u * u), "rising": np.sort(u)}
print(json.dumps({
    "source": "numpy.quantile(method='inverted_cdf') of 50,000 values",
    "shares": shares,
    **{name: list(np.quantile(values, shares, method="inverted_cdf")) for name, values in streams.items()},
}, indent=1))
