"""Rise of the least-squares line over the deviation about it, for random walks of 120 steps: what shares of them pass a ratio."""
import json

import numpy as np

N, WALKS, CHUNK = 120, 1_000_000, 50_000
rng = np.random.default_rng(20261128)
x = np.arange(N) - (N - 1) / 2
sxx = (x * x).sum()
ratios = []
for _ in range(WALKS // CHUNK):
    y = np.cumsum(rng.standard_normal((CHUNK, N)), axis=1)
    y -= y.mean(axis=1, keepdims=True)
    slope = (y @ x) / sxx
    deviation = np.sqrt(((y * y).sum(axis=1) - slope * slope * sxx) / (N - 2))
    ratios.append(np.abs(slope) * N / deviation)
ratios = np.concatenate(ratios)
print(json.dumps({
    "source": f"numpy, {WALKS} random walks",
    "tolerance": 0.02,
    "shares": [0.5, 0.1, 0.05, 0.01, 0.001, 0.0001],
    "ratios": [round(float(np.quantile(ratios, 1 - share)), 3) for share in [0.5, 0.1, 0.05, 0.01, 0.001, 0.0001]],
}, indent=1))
