"""Tracking peaks, smoothing splines, wear, tilt and bow, matching: by SciPy and statsmodels in other ways than the product's."""
import json
import math
from fractions import Fraction
import numpy as np
import scipy
import statsmodels.api as sm
from scipy import interpolate, linalg, optimize, stats


def tracking(x, db):
    """Lines in volts, weighted by 1/volts^2: the linear part by lstsq, peak and flat top by a fine brute search and Nelder-Mead."""
    v = 10 ** ((db - db.max()) / 20)

    def squares(c, f):
        u = np.maximum(0, np.abs(x - c) - f)
        design = np.column_stack([np.ones_like(x), -u]) / v[:, None]
        beta, *_ = np.linalg.lstsq(design, np.ones_like(x), rcond=None)
        return float(np.sum((1 - design @ beta) ** 2)), beta

    def widest(c):
        s = np.sort(x)
        return min(c - s[1], s[-2] - c)

    def profile(c):
        grid = np.linspace(0, widest(c), 100)
        k = int(np.argmin([squares(c, f)[0] for f in grid]))
        r = optimize.minimize_scalar(lambda f: squares(c, f)[0], bounds=(grid[max(k - 1, 0)], grid[min(k + 1, 99)]), method="bounded", options=dict(xatol=1e-12))
        return min((r.fun, r.x), (squares(c, 0.0)[0], 0.0))

    grid = np.linspace(np.sort(x)[1], np.sort(x)[-2], 121)[1:-1]
    k = int(np.argmin([profile(c)[0] for c in grid]))
    best = optimize.minimize_scalar(lambda c: profile(c)[0], bounds=(grid[k - 1], grid[k + 1]), method="bounded", options=dict(xatol=1e-10))
    n = len(x)
    limit = best.fun * (1 + stats.f.ppf(.95, 1, n - 4) / (n - 4))
    f = profile(best.x)[1]
    pointed = squares(best.x, 0.0)[0]
    if stats.f.sf((pointed - best.fun) / best.fun * (n - 4), 1, n - 4) > .05:
        f = 0.0
    top, slope = squares(best.x, f)[1]
    lower = optimize.brentq(lambda c: profile(c)[0] - limit, best.x - 2, best.x, xtol=1e-9)
    upper = optimize.brentq(lambda c: profile(c)[0] - limit, best.x, best.x + 2, xtol=1e-9)
    return dict(x=list(x), db=list(db), position=best.x, lower=lower, upper=upper, flat=f, top_db=db.max() + 20 * np.log10(top), width=top / slope)


def solved(left, right):
    """Gauss's elimination in fractions."""
    rows = [list(a) + list(b) for a, b in zip(left, right)]
    for i in range(len(rows)):
        rows[i] = [v / rows[i][i] for v in rows[i]]
        for k in range(len(rows)):
            if k != i and rows[k][i] != 0:
                rows[k] = [v - rows[k][i] * w for v, w in zip(rows[k], rows[i])]
    return [row[len(left):] for row in rows]


def spline(x, y, at):
    """The natural spline of degree 7 that minimises squares + lambda * integral of the 4th derivative squared, in B-splines, smoothed by REML."""
    lo, hi = x.min(), x.max()
    z = (x - lo) / (hi - lo)
    knots = np.concatenate([np.repeat(0., 7), np.sort(z), np.repeat(1., 7)])
    size = len(knots) - 8
    eye = np.eye(size)
    base = [interpolate.BSpline(knots, eye[j], 7) for j in range(size)]

    def design(points, nu=0):
        return np.column_stack([b(points, nu) if nu == 0 else b.derivative(nu)(points) for b in base])

    nodes, weights = np.polynomial.legendre.leggauss(8)
    edges = np.unique(knots)
    penalty = np.zeros((size, size))
    for a, b in zip(edges[:-1], edges[1:]):
        d = design((a + b) / 2 + nodes * (b - a) / 2, 4)
        penalty += d.T @ (weights[:, None] * d) * (b - a) / 2
    B = design(z)
    n = len(z)
    values, vectors = linalg.eigh(penalty)
    null, rest = vectors[:, :4], vectors[:, 4:] / np.sqrt(values[4:])
    X, Z = B @ null, B @ rest

    def reml(log_ratio):
        V = np.eye(n) + 10 ** log_ratio * Z @ Z.T
        Vi = np.linalg.inv(V)
        M = X.T @ Vi @ X
        P = Vi - Vi @ X @ np.linalg.solve(M, X.T @ Vi)
        s2 = y @ P @ y / (n - 4)
        return (n - 4) * np.log(s2) + np.linalg.slogdet(V)[1] + np.linalg.slogdet(M)[1], s2, P

    grid = np.linspace(-2, 10, 241)
    k = int(np.argmin([reml(g)[0] for g in grid]))
    best = optimize.minimize_scalar(lambda g: reml(g)[0], bounds=(grid[k - 1], grid[k + 1]), method="bounded", options=dict(xatol=1e-10))
    _, s2, P = reml(best.x)
    A = B.T @ B + penalty * 10 ** -best.x
    coefficients = np.linalg.solve(A, B.T @ y)
    za = (np.asarray(at) - lo) / (hi - lo)
    D = design(za, 1) / (hi - lo)
    rise = design(za[-1:]) - design(za[:1])

    # Errors: the integrated random walk by its definition, conditioned on the readings, the cubic's prior all but flat. What is left of
    # a large variance is small: in fractions, because a processor's own last digit would show in the second of the answer.
    def walk(s, t, ds=0, dt=0):
        m, powers, parts = min(s, t), (3 - ds, 3 - dt), {0: 6, 1: 2}
        return sum(math.comb(powers[0], i) * math.comb(powers[1], j) * (-1) ** (i + j) * s ** (powers[0] - i) * t ** (powers[1] - j) * m ** (i + j + 1) / (i + j + 1)
                   for i in range(powers[0] + 1) for j in range(powers[1] + 1)) / (parts[ds] * parts[dt])

    exact = [Fraction(str(v)) / Fraction(str(hi - lo)) for v in x - lo]
    wanted = [Fraction(str(v)) / Fraction(str(hi - lo)) for v in np.asarray(at) - lo]
    ratio = Fraction(10 ** best.x)
    T = [[v ** j for j in range(4)] for v in exact]
    V = [[int(a == b) + ratio * walk(s, t) for b, t in enumerate(exact)] for a, s in enumerate(exact)]
    ViT = solved(V, T)
    M = [[sum(T[r][i] * ViT[r][j] for r in range(n)) for j in range(4)] for i in range(4)]

    def error(k, own, t):
        k = [ratio * v for v in k]
        Vik = [row[0] for row in solved(V, [[v] for v in k])]
        left = [t[j] - sum(T[r][j] * Vik[r] for r in range(n)) for j in range(4)]
        beside = [row[0] for row in solved(M, [[v] for v in left])]
        variance = ratio * own - sum(a * b for a, b in zip(k, Vik)) + sum(a * b for a, b in zip(left, beside))
        return float(np.sqrt(s2 * float(variance)))

    slope_errors = [error([walk(s, b, 1) for b in exact], walk(s, s, 1, 1), [0, 1, 2 * s, 3 * s * s]) / (hi - lo) for s in wanted]
    a, b = wanted[0], wanted[-1]
    rise_error = error([walk(b, c) - walk(a, c) for c in exact], walk(a, a) + walk(b, b) - 2 * walk(a, b), [b ** j - a ** j for j in range(4)])
    return dict(x=list(x), y=list(y), at=list(at), value=list(design(za) @ coefficients), slope=list(D @ coefficients),
                slope_error=slope_errors, rise=float((rise @ coefficients)[0]),
                rise_error=rise_error, parameters=float(n - np.trace(P)), scatter=float(np.sqrt(s2)))


def wear(days, levels):
    """Each head less the median of the others, by linregress."""
    out = []
    for head in range(4):
        d = levels[:, head] - np.median(np.delete(levels, head, axis=1), axis=1)
        r = stats.linregress(days, d)
        t = stats.t.ppf(1 - .05 / 8, len(days) - 2)
        out.append(dict(slope=7 * r.slope, lower=7 * (r.slope - t * r.stderr), upper=7 * (r.slope + t * r.stderr), p=min(1, 4 * r.pvalue)))
    return dict(days=list(days), levels=[list(row) for row in levels], heads=out)


def flatness(angles, db):
    fit = sm.OLS(db, np.column_stack([np.ones_like(angles), angles, angles ** 2])).fit()
    tilt, bow = fit.t_test([0, 90, 0]), fit.t_test([0, 0, -45 ** 2])
    return dict(angles=list(angles), db=list(db), tilt=float(tilt.effect[0]), tilt_error=float(tilt.sd[0, 0]), bow=float(bow.effect[0]), bow_error=float(bow.sd[0, 0]))


def matching(readings):
    """Propagation with derivatives by central differences."""
    means = np.array([np.mean(r) for r in readings])
    errors = np.array([stats.sem(r) for r in readings])

    def outcome(m):
        gain = (m[3] - m[2]) / (m[1] - m[0])
        return np.array([100 * (gain - 1), 20 * np.log10(gain), m[2] / gain - m[0]])

    jacobian = np.column_stack([(outcome(means + h) - outcome(means - h)) / 2e-4 for h in np.eye(4) * 1e-4])
    u = np.sqrt((jacobian ** 2) @ errors ** 2)
    return dict(readings=readings, values=list(outcome(means)), errors=list(u))


i = np.arange(15)
x15 = -5 + i * 10 / 14
x21 = np.linspace(0, 10, 21)
noise = np.modf(43758.5453 * np.abs(np.sin(12.9898 * (1 + np.arange(21)))))[0] - .5
days = np.array([0, 7, 15, 20, 28, 35, 44, 49.])
tape = np.array([0, 2, -1, 1.5, .3, -2, .8, 1.1])
rows = np.column_stack([tape + .1 * np.sin(3 * np.arange(8)), tape + .4 + .1 * np.cos(5 * np.arange(8)),
                        tape - .3 - .02 * days + .1 * np.sin(7 * np.arange(8)), tape + .1 * np.cos(11 * np.arange(8))])
angles = np.linspace(-40, 42, 16)
print(json.dumps({
    "source": f"numpy {np.__version__}, scipy {scipy.__version__}, statsmodels {sm.__version__}", "tolerance": 1e-5,
    "triangle": tracking(x15, 20 * np.log10(1 - np.abs(x15 - .37) / 10) - 3 + .1 * np.sin(5 * i)),
    "flat": tracking(x15, 20 * np.log10(1 - np.maximum(0, np.abs(x15 + .52) - 1.2) / 10) + 2 + .1 * np.cos(7 * i)),
    "spline": spline(x21, .8 * x21 - 5 * np.exp(-((x21 - 5.5) / 2) ** 2) + .3 * noise, [1.3, 3.3, 5., 6.1, 9.4]),
    "wear": wear(days, rows),
    "flatness": flatness(angles, -2 + .01 * angles - .0006 * angles ** 2 + .05 * np.sin(3 * angles)),
    "matching": matching([[100.2, 99.1, 101.4], [500.3, 498.8, 502.2, 499.9], [104.1, 105.6, 104.9], [511.9, 514.2, 513.1, 512.5]]),
}))
