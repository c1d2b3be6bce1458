"""A made book of alarms of five days and its measures, counted by brute force: every definition is written out again from its
words and none of the product's shortcuts is used. Times are whole milliseconds; the wall clock is the engine's clock plus BASE.

Each row of the book: ms, alarm, tag, step, state after it, exists, priority, ms at which this coming was raised.
"""
import json
import random

BASE = 1_772_000_123_000          # some UTC in ms that is no whole ten minutes
TEN = 600_000
DAY = 86_400_000
END = 5 * DAY
FROM, TO = 26 * 3_600_000 + 77_000, END - 3_600_000 + 500
WATCHED = [(FROM - 5000, 2 * DAY), (2 * DAY + 400, 3 * DAY + 7_200_000), (3 * DAY + 9_000_000, END)]

rng = random.Random(20260301)


def book():
    """Plays alarms one by one and puts their lines into order of time."""
    lines = []
    number = 0
    arrivals = []
    t = 0
    while t < END:                                    # quiet background
        t += int(rng.expovariate(1 / 600_000)) + 1
        arrivals.append((t, rng.randrange(24), "plain"))
    for start in (0.6 * DAY, 1.7 * DAY, 2.33 * DAY, 3.1 * DAY, 4.4 * DAY):   # storms
        t = int(start)
        for _ in range(rng.randrange(60, 160)):
            t += int(rng.expovariate(1 / rng.choice((15_000, 45_000, 90_000))))
            arrivals.append((t, rng.randrange(60), "plain"))
    for start in (1.3 * DAY, 3.7 * DAY):              # a switch that bounces
        t = int(start)
        for _ in range(9):
            t += rng.randrange(4_000, 40_000)
            arrivals.append((t, 63, "short"))
    for start, tag in ((0.2 * DAY, 60), (2.9 * DAY, 61), (3.97 * DAY, 62)):  # what stands and stands
        arrivals.append((int(start), tag, "long"))
    busy = {}
    for t, tag, how in sorted(arrivals):
        if t <= busy.get(tag, -1):
            continue                                  # a tag is one alarm: while it plays, it does not come
        number += 1
        raised = t
        priority = rng.choices((0, 1, 2), (70, 20, 10))[0]
        state, exists = "unacknowledged", True

        def row(step):
            busy[tag] = END if exists else t
            lines.append((t, number, tag, step, state, exists, priority, raised))

        row("raised")
        if how == "long":
            t += int(rng.uniform(0.9, 2.2) * DAY)
            state, exists = "returned-unacknowledged", False
            row("returned")
            continue
        for _ in range(0 if how == "short" else rng.randrange(1, 7)):
            t += int(rng.expovariate(1 / 240_000)) + 1
            move = rng.random()
            if move < 0.35:
                if exists:
                    exists = False
                    state = "returned-unacknowledged" if state == "unacknowledged" else "shelved" if state == "shelved" else "normal"
                    row("returned")
                elif state == "returned-unacknowledged":
                    exists, state, raised, number = True, "unacknowledged", t, number + 1
                    row("raised")
            elif move < 0.7:
                if state == "unacknowledged":
                    state = "acknowledged"
                    row("acknowledged")
                elif state == "returned-unacknowledged":
                    state = "normal"
                    row("acknowledged")
            elif move < 0.78:
                if exists and state == "acknowledged" and priority < 2:
                    priority += 1
                    state = "unacknowledged"
                    row("worsened")
            elif move < 0.86:
                if exists and state in ("unacknowledged", "acknowledged"):
                    state = "shelved"
                    row("shelved")
            elif state == "shelved":
                state = "unacknowledged" if exists else "normal"
                row("unshelved")
            if state == "normal":
                break
        if exists and rng.random() < 0.97:            # nearly all of them are over one day
            t += 2_000 if how == "short" else int(rng.expovariate(1 / 1_800_000)) + 1
            exists = False
            state = "returned-unacknowledged" if state == "unacknowledged" else "shelved" if state == "shelved" else "normal"
            row("returned")
    lines.sort(key=lambda l: l[0])                    # stable: lines of one alarm at one instant keep their order
    return [l for l in lines if l[0] < END]


LINES = book()


def measures():
    seen = [l for l in LINES if l[0] < TO]
    inside = lambda ms: FROM <= ms < TO
    calls = [l for l in seen if l[4] == "unacknowledged" and l[3] in ("raised", "worsened", "unshelved")]
    mine = [l for l in calls if inside(l[0])]

    stretches = [(max(a, FROM), min(b, TO)) for a, b in WATCHED]
    watched = sum(b - a for a, b in stretches)
    out = {"calls": len(mine), "watchedMinutes": watched / 60_000, "perTen": len(mine) / (watched / TEN)}

    # Periods of the wall clock, all of them, one after the other.
    periods = over = most = 0
    start = (BASE + FROM) // TEN * TEN
    while start < BASE + TO:
        if start >= BASE + FROM and start + TEN <= BASE + TO:
            overlap = sum(max(0, min(start + TEN, BASE + b) - max(start, BASE + a)) for a, b in stretches)
            if overlap >= TEN / 2:
                n = sum(1 for l in mine if start <= BASE + l[0] < start + TEN)
                periods, over, most = periods + 1, over + (n > 10), max(most, n)
        start += TEN
    out.update(periods=periods, over=over, most=most)

    # Floods by periods, walking every period from the first line on.
    floods, flood = [], None
    start = BASE // TEN * TEN
    while start < BASE + TO:
        n = sum(1 for l in calls if start <= BASE + l[0] < start + TEN)
        if flood is None and n > 10:
            flood = [start, None, n]
        elif flood is not None and n < 5 and start + TEN <= BASE + TO:
            floods.append([flood[0], start, flood[2]])
            flood = None
        elif flood is not None:
            flood[2] += n
        start += TEN
    if flood is not None:
        floods.append(flood)
    out["fixed"] = [f for f in floods if f[1] is None or f[1] > BASE + FROM]

    # Floods by the window (t - 10 min, t], looked at whenever its count can change.
    times = [l[0] for l in calls]
    count = lambda t: sum(1 for x in times if t - TEN < x <= t)
    floods, flood = [], None
    for t in sorted(set(times) | {x + TEN for x in times}):
        if t >= TO:
            break
        n = count(t)
        if flood is None and n > 10:
            flood = [t, None]
        elif flood is not None and n < 5:
            floods.append([flood[0], t])
            flood = None
    if flood is not None:
        floods.append(flood)
    out["sliding"] = [
        [BASE + a, None if b is None else BASE + b, sum(1 for x in times if a - TEN < x and (b is None or x < b))]
        for a, b in floods if b is None or b > FROM]

    # Chattering: for every raising, how many of its tag lie within the minute before it.
    worst = {}
    for l in seen:
        if l[3] == "raised" and inside(l[0]):
            n = sum(1 for k in seen if k[3] == "raised" and k[2] == l[2] and l[0] - 60_000 <= k[0] <= l[0])
            if n >= 3:
                worst[l[2]] = max(worst.get(l[2], 0), n)
    out["chattering"] = {f"kind.channel-{tag}": n for tag, n in sorted(worst.items())}

    # What stood more than a day of the time that was watched, before the span as well.
    stale = []
    for tag in sorted({l[2] for l in seen}):
        since = None
        for l in [l for l in seen if l[2] == tag] + [(TO, 0, tag, "end", "", False, 0, 0)]:
            if l[5] and since is None:
                since, alarm = l[7], l[1]
            elif not l[5] and since is not None:
                if sum(max(0, min(b, l[0]) - max(a, since)) for a, b in WATCHED) > DAY and l[0] > FROM:
                    stale.append([alarm, BASE + since, None if l[3] == "end" else BASE + l[0]])
                since = None
    out["stale"] = stale

    latest = {l[2]: l for l in seen}
    standing = {}
    for l in latest.values():
        if l[5]:
            standing[l[4]] = standing.get(l[4], 0) + 1
    out["standing"] = dict(sorted(standing.items()))
    out["waiting"] = sum(1 for l in latest.values() if l[4] in ("unacknowledged", "returned-unacknowledged"))

    tags = {}
    for l in mine:
        tags[l[2]] = tags.get(l[2], 0) + 1
    ten = sorted(tags.items(), key=lambda p: (-p[1], f"kind.channel-{p[0]}"))[:10]
    out["frequent"] = [[f"kind.channel-{t}", n] for t, n in ten]
    out["frequentShare"] = sum(n for _, n in ten) / len(mine)
    out["priorities"] = [sum(1 for l in mine if l[6] == p) for p in (0, 1, 2)]

    waits = []
    for tag in sorted({l[2] for l in seen}):
        asked = None
        for l in [l for l in seen if l[2] == tag]:
            if l in calls:
                asked = l[0] if asked is None else asked
            elif l[3] == "acknowledged":
                if asked is not None and inside(l[0]):
                    waits.append((l[0] - asked) / 1000)
                asked = None
            elif l[4] in ("shelved", "normal"):
                asked = None
    out["acknowledged"] = len(waits)
    out["meanWait"] = sum(waits) / len(waits)
    out["longestWait"] = max(waits)
    return out


print("{")
print(f'"base": {BASE}, "from": {FROM}, "to": {TO}, "watched": {json.dumps(WATCHED)},')
print('"measures": ' + json.dumps(measures()) + ",")
print('"lines": [')
print(",\n".join(json.dumps(list(l), separators=(",", ":")) for l in LINES))
print("]}")
