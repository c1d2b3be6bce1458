"""Holds the JSON a golden script printed against the kept file: same shape, same words, numbers within the tolerance."""
import json
import math
import sys


def differences(kept, made, tolerance, where=""):
    if isinstance(kept, bool) or isinstance(made, bool) or kept is None or made is None or isinstance(kept, str):
        if kept != made:
            yield f"{where}: kept {kept!r}, made {made!r}"
    elif isinstance(kept, dict):
        if not isinstance(made, dict) or kept.keys() != made.keys():
            yield f"{where}: other keys"
            return
        for key in kept:
            yield from differences(kept[key], made[key], tolerance, f"{where}/{key}")
    elif isinstance(kept, list):
        if not isinstance(made, list) or len(kept) != len(made):
            yield f"{where}: other length"
            return
        for i, (a, b) in enumerate(zip(kept, made)):
            yield from differences(a, b, tolerance, f"{where}[{i}]")
    elif not isinstance(made, (int, float)) or not math.isclose(kept, made, rel_tol=tolerance, abs_tol=1e-300):
        yield f"{where}: kept {kept!r}, made {made!r}"


def main():
    with open(sys.argv[1], encoding="utf-8") as kept_file, open(sys.argv[2], encoding="utf-8") as made_file:
        kept, made = json.load(kept_file), json.load(made_file)
    tolerance = kept.get("tolerance", 1e-9) if isinstance(kept, dict) else 1e-9
    found = list(differences(kept, made, tolerance))
    for line in found[:20]:
        print(f"{sys.argv[1]}{line}")
    sys.exit(1 if found else 0)


main()
