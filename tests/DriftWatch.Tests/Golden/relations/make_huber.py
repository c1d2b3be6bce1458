"""Huber's line by statsmodels RLM, exponentially weighted least squares by WLS and RecursiveLS."""
import json

import numpy as np
import statsmodels.api as sm

with open("relations.json", encoding="utf-8") as file:
    kept = json.load(file)
out = {"source": "statsmodels RLM(HuberT, MAD about 0), WLS with weights of forgetting, RecursiveLS", "tolerance": 1e-7}
for name in ["stars", "telef", "kootenay"]:
    x, y = np.array(kept[name]["x"]), np.array(kept[name]["y"])
    fit = sm.RLM(y, sm.add_constant(x), M=sm.robust.norms.HuberT(1.345)).fit(maxiter=5000, tol=1e-14, conv="coefs")
    out[name] = [fit.params[1], fit.params[0], fit.scale]
x, y = np.array(kept["lead"]), np.array(kept["sales"])
for forgetting in [1.0, 0.98, 0.9]:
    weights = forgetting ** np.arange(len(x) - 1, -1, -1)
    fit = sm.WLS(y, sm.add_constant(x), weights=weights).fit()
    out[f"forgetting{forgetting}"] = [fit.params[1], fit.params[0], fit.rsquared]
recursive = sm.RecursiveLS(y, sm.add_constant(x)).fit()
out["recursive"] = [list(recursive.recursive_coefficients.filtered[1][[9, 49, 149]]), list(recursive.recursive_coefficients.filtered[0][[9, 49, 149]])]
print(json.dumps(out, indent=1))
