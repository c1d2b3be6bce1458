"""Equivalent degrees of freedom of stability variances from exact covariances, without any approximation of a paper:
readings or phase are a filter on white noise, so is the difference whose squares are averaged, and for Gaussian noise
edf = 2 E(s2)^2 / Var(s2) = M^2 R0^2 / sum over |k|<M of (M-|k|) Rk^2. Flicker is the filter (1-B)^(-1/2), cut at 2^19."""
import json
import numpy as np

LONG = 1 << 19


def half():
    h = np.ones(LONG)
    k = np.arange(1, LONG)
    h[1:] = np.cumprod((k - 0.5) / k)
    return h


def phase_filter(alpha):
    # White noise to phase x, made stationary by the differences that follow; -> (filter, differences of x owed)
    if alpha == 2:
        return np.ones(1), 0
    if alpha == 1:
        return half(), 0
    if alpha == 0:
        return np.ones(1), 1
    if alpha == -1:
        return half(), 1
    return np.ones(1), 2  # -2


def difference(d, m, modified, owed):
    stride = np.zeros(m + 1)
    stride[0], stride[m] = 1, -1
    run = np.ones(m)
    h = np.ones(1)
    for i in range(d):
        # (1-B^m) = (1-B) * run of m ones: the factors (1-B) that the phase owes are left out
        h = np.convolve(h, run if i < owed else stride)
    return np.convolve(h, run) / m if modified else h


def freedom(alpha, d, m, n, overlapping, modified):
    base, owed = phase_filter(alpha)
    h = difference(d, m, modified, owed)
    length = 1 << int(np.ceil(np.log2(2 * max(n, len(base) + len(h)))))
    spectrum = np.fft.rfft(base, length) * np.fft.rfft(h, length)
    r = np.fft.irfft(np.abs(spectrum) ** 2, length)[: length // 2]
    step = 1 if overlapping else m
    span = d * m + (m if modified else 1)
    count = 1 + (n - span) // step
    lags = np.arange(1, count)
    rho = r[lags * step] / r[0]
    return count / (1 + 2 * np.sum((1 - lags / count) * rho ** 2))


rows = []
for alpha in (2, 1, 0, -1, -2):
    for d in (2, 3):
        for m, n in ((1, 101), (2, 101), (8, 101), (16, 129), (4, 1001), (32, 1001), (100, 1001), (256, 4097)):
            for overlapping in (True, False):
                rows.append(dict(alpha=alpha, d=d, m=m, n=n, overlapping=overlapping, modified=False,
                                 edf=freedom(alpha, d, m, n, overlapping, False)))
            rows.append(dict(alpha=alpha, d=d, m=m, n=n, overlapping=True, modified=True,
                             edf=freedom(alpha, d, m, n, True, True)))
for alpha in (0, -1, -2):
    rows.append(dict(alpha=alpha, d=2, m=2000, n=20001, overlapping=True, modified=False,
                     edf=freedom(alpha, 2, 2000, 20001, True, False)))
print(json.dumps({"source": f"numpy {np.__version__}, exact covariances", "tolerance": 1e-7, "rows": rows}))
