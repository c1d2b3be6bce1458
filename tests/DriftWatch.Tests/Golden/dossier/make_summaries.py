#!/usr/bin/env python3
"""Least, mean and greatest of channels of two replayed recordings over their runs, straight from the recordings' CSV.

The runs are those of the findings: from the first lock to the last instant with tape running, to the second, as
`driftwatch judge` tells the states. A cell with a fault (!slug) or without anything is no reading.
"""
import csv
import gzip
import json
import os

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "..", "..", "replay-data")
RUNS = {
    "sound-transfer": ("2026-01-15T08:01:14.000Z", "2026-01-15T09:27:01.000Z"),
    "failing-compressor": ("2026-01-15T08:01:13.000Z", "2026-01-15T08:42:01.000Z"),
}
CHANNELS = ["supply-air", "regulated-air", "guide-vacuum", "rf-head-1", "rf-head-4", "control-track", "sync-level", "corrector-use"]


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
                    cells[channel].append(float(cell))
    return {
        "from": begin,
        "to": end,
        "channels": {
            channel: {
                "count": len(values), "faults": faults[channel], "least": min(values), "mean": sum(values) / len(values), "greatest": max(values),
            }
            for channel, values in cells.items()
        },
    }


print(json.dumps({"tolerance": 1e-9, "runs": {name: summary(name, *run) for name, run in RUNS.items()}}, indent=1))
