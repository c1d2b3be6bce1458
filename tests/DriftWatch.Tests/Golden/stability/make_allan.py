"""Stability deviations word for word by their definitions (NIST SP 1065, section 5.2), loop by loop, of data sets in ../data."""
import json
import numpy as np


def averages(y, m, start):
    return [np.mean(y[i:i + m]) for i in range(start, len(y) - m + 1, m)]


def adev(y, m):
    a = averages(y, m, 0)
    return np.sqrt(np.mean([(a[i + 1] - a[i]) ** 2 for i in range(len(a) - 1)]) / 2)


def oadev(y, m):
    return np.sqrt(np.mean([(np.mean(y[i + m:i + 2 * m]) - np.mean(y[i:i + m])) ** 2 for i in range(len(y) - 2 * m + 1)]) / 2)


def mdev(y, m):
    x = np.concatenate([[0], np.cumsum(y)])
    s = [np.mean([x[i + 2 * m] - 2 * x[i + m] + x[i] for i in range(j, j + m)]) ** 2 for j in range(len(x) - 3 * m + 1)]
    return np.sqrt(np.mean(s) / 2) / m


def hdev(y, m):
    a = averages(y, m, 0)
    return np.sqrt(np.mean([(a[i + 2] - 2 * a[i + 1] + a[i]) ** 2 for i in range(len(a) - 2)]) / 6)


def ohdev(y, m):
    b = [np.mean(y[i:i + m]) for i in range(len(y) - m + 1)]
    return np.sqrt(np.mean([(b[i + 2 * m] - 2 * b[i + m] + b[i]) ** 2 for i in range(len(b) - 2 * m)]) / 6)


sets = json.load(open("../data/datasets.json"))
rows = []
for name in ("Nile", "LakeHuron", "AirPassengers"):
    y = np.array(sets[name], float)
    for m in (1, 2, 5, 16, 30):
        rows.append(dict(set=name, m=m, **{f.__name__: float(f(y, m)) for f in (adev, oadev, mdev, hdev, ohdev)}))
print(json.dumps({"source": f"numpy {np.__version__}, by definition", "rows": rows}))
