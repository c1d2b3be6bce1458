"""The chance a step that a stationary first-order autoregressive series which has stayed below z goes above it: one less the leading
eigenvalue of its kernel cut off at z, by Gauss-Legendre quadrature (400 nodes) and numpy; apart from any asymptotic formula."""
import json

import numpy as np

out = {"source": "numpy: leading eigenvalue of the kernel cut off at z", "tolerance": 1e-6}
nodes, weights = np.polynomial.legendre.leggauss(400)
for phi in (0.0, 0.5, 0.9, 0.98):
    s = np.sqrt(1 - phi * phi)
    out[str(phi)] = {}
    for z in (-1.0, 0.0, 1.0, 2.0, 3.0, 4.0):
        x = -8 + (z + 8) * (nodes + 1) / 2
        w = weights * (z + 8) / 2
        kernel = np.exp(-0.5 * ((x[None, :] - phi * x[:, None]) / s) ** 2) / (s * np.sqrt(2 * np.pi)) * w[None, :]
        power = kernel
        for _ in range(13):
            power = power @ power
            power /= power.max()
        v = power @ np.ones(len(x))
        eigen = (kernel @ v).max() / v.max()
        out[str(phi)][str(z)] = float(-np.log(eigen))
print(json.dumps(out, indent=1))
