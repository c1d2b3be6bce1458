"""Timing errors on the real lines of a picture, from the independent simulation: lines come evenly in time, 65.625 or 62.5 a
revolution, so they walk through the passes. Prints head, angle and error of every line, the edges where heads take over, and
what the closed form's least squares find in it."""
import json
import math
import sys
import numpy as np
from first_order_model import STD, decompose_at
from independent_simulation import Machine, record_play

LINE_RATE = {"525": 15750.0, "525c": 15750.0 / 1.001, "625": 15625.0}


def grid(standard, revolutions, start_s, **machine):
    f, rate = STD[standard]["f"], LINE_RATE[standard]
    per_turn = rate / f
    count = int(round(per_turn * revolutions))
    record, play = Machine(f), Machine(f, **machine)
    heads, angles, errors = [], [], []
    for i in range(count):
        # Turns since head 1 stood in mid-pass; a pass is a quarter turn about it.
        turns = f * (start_s + i / rate)
        passes = math.floor(turns * 4 + 0.5)
        head, theta = passes % 4, (turns - passes / 4) * 2 * math.pi
        heads.append(head)
        angles.append(theta)
        errors.append(record_play(record, play, [theta])[head][0])
    # Head 1 takes over an eighth of a turn before mid-pass: the edge, counted in lines from the first.
    first = (-0.125 / f - start_s) * rate
    marks = [first + per_turn * j / 4 for j in range(-1, 4 * revolutions + 8)]
    marks = [(m, (j - 1) % 4) for j, m in enumerate(marks)]
    found, _ = decompose_at(angles, heads, np.array(errors))
    return dict(
        std=standard, line_rate=rate, revs=revolutions,
        inputs=dict(p=machine["p"], h=machine["h"], lag_arcmin=list(machine["lag"])),
        head=heads, theta_rad=[float("%.12g" % a) for a in angles], e_ns=[float("%.9g" % e) for e in errors],
        marks=[dict(line=float("%.12g" % m), head=h) for m, h in marks],
        expect={k: [round(float(x), 4) for x in v] if isinstance(v, list) else round(float(v), 4) for k, v in found.items()
                if k not in ("resid_rms", "dslopes")})


json.dump(dict(tolerance=1e-6, grids=[
    grid("525", 8, 11e-6, p=0.35, h=-0.6, lag=(0.1, -0.2, 0.25, -0.15)),
    grid("525c", 4, 3e-6, p=-0.5, h=0.3, lag=(0.0, 0.3, -0.2, -0.1)),
    grid("625", 6, 29e-6, p=0.2, h=0.45, lag=(-0.15, 0.25, 0.05, -0.15))]), sys.stdout, indent=1)
