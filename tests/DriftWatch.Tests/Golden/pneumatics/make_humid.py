"""Vapour pressures by the equations of IAPWS, solved for dew and frost points by bisection: over water Wagner and Pruss (IAPWS SR1-86,
J. Phys. Chem. Ref. Data 31, 2002, eq. 2.5), over ice Wagner, Riethmann, Feistel and Harvey (IAPWS R14-08, 2011). Before anything is printed both
are held against IAPWS's own verification values: 611.657 Pa at 273.16 K, 101 325 Pa at 373.1243 K, 8.947 35 Pa at 230 K."""
import json
import math


def water(celsius):
    t = celsius + 273.15
    tau = 1 - t / 647.096
    a = (-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502)
    powers = (1, 1.5, 3, 3.5, 4, 7.5)
    return 22.064e4 * math.exp(647.096 / t * sum(c * tau ** p for c, p in zip(a, powers)))


def ice(celsius):
    theta = (celsius + 273.15) / 273.16
    a = (-0.212144006e2, 0.273203819e2, -0.610598130e1)
    powers = (0.333333333e-2, 0.120666667e1, 0.170333333e1)
    return 6.11657 * math.exp(sum(c * theta ** p for c, p in zip(a, powers)) / theta)


assert abs(water(0.01) - 6.11657) < 1e-5
assert abs(water(99.9743) - 1013.25) < 1e-2  # 373.1243 K is itself rounded
assert abs(ice(230 - 273.15) * 100 - 8.94735) < 1e-5


def inverse(f, e, low, high):
    for _ in range(200):
        mid = (low + high) / 2
        if f(mid) < e:
            low = mid
        else:
            high = mid
    return (low + high) / 2


def dew(e):
    return inverse(water, e, -60, 90)


def frost(e):
    return inverse(ice, e, -90, 0.01) if e < 6.11657 else dew(e)


def vapour(point):
    return water(point) if point >= 0 else ice(point)


PSI_ATM = 14.69595
print(json.dumps({
    "water": [{"celsius": c, "hpa": water(c)} for c in (0.01, 5, 10, 20, 25, 30, 40, 60)],
    "ice": [{"celsius": c, "hpa": ice(c)} for c in (-60, -50, -40, -30, -20, -10, -5, 0)],
    "dew": [{"celsius": c, "percent": p, "dew": dew(water(c) * p / 100)} for c, p in ((20, 50), (25, 60), (30, 80), (20, 90), (35, 40))],
    "pressure": [{"point": d, "from": a, "to": b, "then": frost(vapour(d) * b / a)} for d, a, b in (
        (3, 100 + PSI_ATM, PSI_ATM), (-20, 100 + PSI_ATM, PSI_ATM), (-40, 100 + PSI_ATM, PSI_ATM), (10, PSI_ATM, 50 + PSI_ATM), (-25, PSI_ATM, 100 + PSI_ATM))],
    "throat": [{"point": d, "frost": frost(vapour(d) * 0.52828 * (50 + PSI_ATM) / (100 + PSI_ATM))} for d in (3, -20, -40)],
}, indent=1))
