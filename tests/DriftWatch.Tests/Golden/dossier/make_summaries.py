#!/usr/bin/env python3
"""Least, mean and greatest of channels of two replayed recordings over their runs, straight from the recordings' CSV.

The runs are those of the findings: from the first lock to the last instant with tape running, to the second, as
`driftwatch judge` tells the states. A cell with a fault (!slug) or without anything is no reading. The slope an hour
is Sen's (1968): the median of the slopes between every two means of ten seconds of UTC, which a start-up within the
run does not move; of the sound run only, since a run that fails is no straight line. No interval is told of it, since the error of one mean tells of the next.
"""
import csv
import gzip
import itertools
import json
import os
import statistics

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "..", "..", "replay-data")
RUNS = {
    "sound-transfer": ("2026-01-15T08:01:14.000Z", "2026-01-15T09:27:01.000Z"),
    "failing-compressor": ("2026-01-15T08:01:13.000Z", "2026-01-15T08:42:01.000Z"),
}
CHANNELS = ["supply-air", "regulated-air", "guide-vacuum", "rf-head-1", "rf-head-4", "control-track", "sync-level", "corrector-use"]


def seconds(text):
    hours, minutes, rest = text[11:-1].split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(rest)


def slope(readings):
    """The median of the slopes between every two means of ten seconds, in the unit an hour."""
    means = {}
    for at, value in readings:
        means.setdefault(int(at // 10), []).append(value)
    points = [(at / 360, sum(values) / len(values)) for at, values in sorted(means.items())]
    return statistics.median((q[1] - p[1]) / (q[0] - p[0]) for p, q in itertools.combinations(points, 2))


def summary(name, begin, end):
    cells = {channel: [] for channel in CHANNELS}
    faults = {channel: 0 for channel in CHANNELS}
    with gzip.open(os.path.join(ROOT, name, "recording.csv.gz"), "rt", newline="") as file:
        for row in csv.DictReader(file):
            if not begin <= row["time"] < end:  # RFC 3339 in UTC with milliseconds: the order of letters is that of time
                continue
            for channel in CHANNELS:
                cell = row[channel]
                if cell.startswith("!"):
                    faults[channel] += 1
                elif cell:
                    cells[channel].append((seconds(row["time"]), float(cell)))
    return {
        "from": begin,
        "to": end,
        "channels": {
            channel: {
                "count": len(values), "faults": faults[channel], "least": min(values), "mean": sum(values) / len(values), "greatest": max(values),
                **({"slopePerHour": slope(cells[channel])} if name == "sound-transfer" else {}),
            }
            for channel, values in ((c, [v for _, v in readings]) for c, readings in cells.items())
        },
    }


print(json.dumps({"tolerance": 1e-9, "runs": {name: summary(name, *run) for name, run in RUNS.items()}}, indent=1))
