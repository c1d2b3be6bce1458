"""Excursions by labelling runs beyond the end level and keeping those that reach the start level; areas by NumPy's trapezoids."""
import json

import numpy as np
from scipy import ndimage

with open("../data/datasets.json", encoding="utf-8") as file:
    sets = json.load(file)


def crossing(t, y, i, level):
    return t[i] + (level - y[i]) / (y[i + 1] - y[i]) * (t[i + 1] - t[i])


def excursions(t, y, start, end):
    labels, _ = ndimage.label(y > end)
    found = []
    for run in ndimage.find_objects(labels):
        low, high = run[0].start, run[0].stop
        reached = np.flatnonzero(y[low:high] >= start)
        if len(reached) == 0:
            continue
        first = low + reached[0]
        begin = t[0] if first == 0 else crossing(t, y, first - 1, start)
        finish = t[-1] if high == len(y) else crossing(t, y, high - 1, end)
        corners = [] if first == 0 else [(begin, start - end)]
        corners += [(t[i], y[i] - end) for i in range(first, high)]
        corners += [] if high == len(y) else [(finish, 0.0)]
        ct, cy = zip(*corners)
        peak = first + int(np.argmax(y[first:high]))
        found.append([begin, finish, float(y[peak]), float(t[peak]), float(np.trapz(cy, ct)), int(high == len(y))])
    return found


out = {"source": "scipy.ndimage.label and find_objects for the runs, numpy.trapz for the areas", "tolerance": 1e-9}
for name, start, end in [("Nile", 1100, 1000), ("LakeHuron", 580, 579.2), ("lh", 2.8, 2.2), ("nhtemp", 52, 51)]:
    y = np.array(sets[name])
    t = np.arange(1.0, len(y) + 1)
    out[name] = {"start": start, "end": end, "above": excursions(t, y, start, end),
                 "below": [[b, f, -e, w, a, o] for b, f, e, w, a, o in excursions(t, -y, -end, -start)]}
print(json.dumps(out, indent=1))
