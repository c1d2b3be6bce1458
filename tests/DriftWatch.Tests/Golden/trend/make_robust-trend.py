"""Theil-Sen, Siegel and Kendall by SciPy, GLSAR and HAC by statsmodels, for R's data sets at t = 1..n and for series with ties."""
import json

import numpy as np
import statsmodels.api as sm
from scipy import stats

with open("../data/datasets.json", encoding="utf-8") as file:
    sets = json.load(file)
out = {"source": "SciPy theilslopes, siegelslopes, kendalltau; statsmodels GLSAR and HAC", "tolerance": 1e-8}
for name in ["Nile", "LakeHuron", "nhtemp", "airmiles", "lh"]:
    y = np.array(sets[name])
    t = np.arange(1.0, len(y) + 1)
    sen = stats.theilslopes(y, t)
    siegel = stats.siegelslopes(y, t)
    x = sm.add_constant(t)
    ols = sm.OLS(y, x).fit()
    rho = 0.0  # regressing residuals on the ones before, as textbooks have it; iterative_fit's own rule is Yule and Walker's
    for _ in range(2000):
        fit = sm.GLSAR(y, x, rho=rho).fit()
        left = y - x @ fit.params
        before, rho = rho, float(left[1:] @ left[:-1] / (left[:-1] @ left[:-1]))
        if abs(rho - before) < 1e-14:
            break
    out[name] = {
        "sen": [sen.slope, sen.low_slope, sen.high_slope],
        "senIntercept": float(np.median(y - sen.slope * t)),
        "siegel": [siegel.slope, siegel.intercept],
        "kendallS": int(round(sum(np.sign(y[j] - y[i]) for i in range(len(y)) for j in range(i + 1, len(y))))),
        "ols": [*ols.params, *ols.bse, np.sqrt(ols.mse_resid), sm.stats.durbin_watson(ols.resid)],
        "hac": {str(lag): list(ols.get_robustcov_results("HAC", maxlags=lag, use_correction=False).bse) for lag in (1, 3, 5, 10)},
        "hacCorrected3": list(ols.get_robustcov_results("HAC", maxlags=3, use_correction=True).bse),
        "glsar": [*fit.params, *fit.bse, rho],
    }

# Limits between two ranks, (N - C) / 2 and (N + C) / 2 + 1 (the rule as in Gilbert 1987, from memory), on all slopes of the Nile's flow.
y = np.array(sets["Nile"])
i, j = np.triu_indices(len(y), 1)
slopes = np.sort((y[j] - y[i]) / (j - i))
ties = np.unique(y, return_counts=True)[1]
spread = stats.norm.ppf(0.975) * np.sqrt((len(y) * (len(y) - 1) * (2 * len(y) + 5) - np.sum(ties * (ties - 1) * (2 * ties + 5))) / 18)
ranks = np.array([(len(slopes) - spread) / 2, (len(slopes) + spread) / 2 + 1])
out["betweenRanks"] = list(np.interp(ranks, np.arange(1, len(slopes) + 1), slopes))

# Times that tie and values that tie, from a small generator so that the test can make them again.
state = 1234567
t, y = [], []
for i in range(400):
    state = state * 16807 % 2147483647
    t.append(float(i // 3))
    y.append(float(state % 7) + (i // 3) * 0.01)
sen = stats.theilslopes(np.array(y), np.array(t))
out["tied"] = [sen.slope, sen.low_slope, sen.high_slope]
state, y = 7654321, []
for i in range(2000):
    state = state * 16807 % 2147483647
    y.append(float(state % 5 + (i * 7) // 2000))
t = np.arange(2000) * 0.5
sen = stats.theilslopes(np.array(y), t)
out["quantised"] = [sen.slope, sen.low_slope, sen.high_slope]
print(json.dumps(out, indent=1))
