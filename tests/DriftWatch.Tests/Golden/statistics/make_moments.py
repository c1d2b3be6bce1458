"""Moments by SciPy of data sets that are in ../data."""
import json
import numpy as np
import scipy
from scipy import stats

sets = json.load(open("../data/datasets.json"))
print(json.dumps({
    "source": f"scipy {scipy.__version__}",
    "sets": {n: dict(mean=float(np.mean(sets[n])), variance=float(np.var(sets[n], ddof=1)), skewness=float(stats.skew(sets[n])),
                     kurtosis=float(stats.kurtosis(sets[n]))) for n in ("Nile", "LakeHuron", "airmiles", "morley", "AirPassengers")},
}))
