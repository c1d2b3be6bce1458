"""Orthogonal distance regression by SciPy (ODRPACK): the same least squares as York's line, by quite another way."""
import json
import numpy as np
import scipy
from scipy import odr

x = np.array([0, .9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
wx = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
wy = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def line(beta, x):
    return beta[0] + beta[1] * x


def run(x, ux, y, uy, start):
    out = odr.ODR(odr.RealData(x, y, sx=ux, sy=uy), odr.Model(line), beta0=start, sstol=1e-15, partol=1e-15, maxit=1000).run()
    return dict(x=list(x), ux=list(ux), y=list(y), uy=list(uy), beta=list(out.beta), misfit2=float(out.res_var))


i = np.arange(12)
print(json.dumps({
    "source": f"scipy {scipy.__version__} odr", "tolerance": 1e-6,
    "pearson_york": run(x, 1 / np.sqrt(wx), y, 1 / np.sqrt(wy), [5., -.5]),
    "made": run(10 + i + .2 * np.sin(5 * i), np.full(12, .2), 3 + .5 * i + .1 * np.cos(11 * i), np.full(12, .1) + .01 * i, [0., 1.]),
}))
