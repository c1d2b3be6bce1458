"""Autocorrelations by statsmodels, both by the sum and by transform, of data sets of R's that are in ../data."""
import json
import statsmodels
from statsmodels.tsa.stattools import acf

sets = json.load(open("../data/datasets.json"))
print(json.dumps({
    "source": f"statsmodels {statsmodels.__version__}",
    "direct": {n: list(acf(sets[n], nlags=20, fft=False)) for n in ("LakeHuron", "Nile", "nhtemp", "AirPassengers")},
    "transform": {n: list(acf(sets[n], nlags=20, fft=True)) for n in ("LakeHuron", "Nile", "nhtemp", "AirPassengers")},
}))
