"""The worked example of Astropy's documentation on periodograms (timeseries/lombscargle, 'Peak Significance and False Alarm
Probabilities'): sixty observations, the highest power, its false-alarm probability by Baluev's formula, and the levels for three
probabilities. The data come from NumPy's RandomState(42) after the draws that the page makes before."""
import json

import astropy
import numpy as np
from astropy.timeseries import LombScargle

rand = np.random.RandomState(42)
for draw in ["rand", "randn", "rand", "randn", "randn"]:
    getattr(rand, draw)(100)
t = 100 * rand.rand(60)
y = np.sin(2 * np.pi * t) + 1.0 * rand.randn(60)
ls = LombScargle(t, y, 1.0)
frequency, power = ls.autopower()
order = np.argsort(t)
print(json.dumps({
    "source": "astropy.timeseries.LombScargle",
    "tolerance": 1e-7,
    "t": list(t[order]),
    "y": list(y[order]),
    "first": frequency[0],
    "step": frequency[1] - frequency[0],
    "count": len(frequency),
    "highest": float(power.max()),
    "falseAlarm": float(ls.false_alarm_probability(power.max())),
    "levels": list(ls.false_alarm_level([0.1, 0.05, 0.01])),
    "powers": list(ls.power(frequency, method="slow")[::50]),
    "highestExact": float(ls.power(frequency, method="slow").max()),
    "oneFrequency": list(ls.false_alarm_probability(np.array([0.05, 0.2, 0.4]), method="single")),
}, indent=1))
