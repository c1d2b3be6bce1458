"""Air through a nozzle, out of a receiver and out of a line, worked out apart from the product's formulas: the throat is where the
mass flow per area is greatest (searched, not solved for), speed and density there come from energy and entropy, the thrust from the
momentum balance, and pressures over time from small steps of a mass balance. gamma 1.4, R 287.05287 J/(kg K)."""
import json
import math

GAMMA, R = 1.4, 287.05287
CP = R * GAMMA / (GAMMA - 1)
PSI = 6894.757293168361
ATM = 101325.0
RHO_STANDARD = ATM / (R * 293.15)


def state(p0, t0, ratio):
    """Static density, speed and temperature where the static pressure is ratio * p0."""
    t = t0 * ratio ** ((GAMMA - 1) / GAMMA)  # constant entropy
    v = math.sqrt(2 * CP * (t0 - t))  # constant total enthalpy
    return ratio * p0 / (R * t), v, t


def mass_flux(p0, t0, ratio):
    rho, v, _ = state(p0, t0, ratio)
    return rho * v


def throat(p0, t0):
    low, high = 0.3, 0.9
    for _ in range(200):
        a, b = low + (high - low) / 3, high - (high - low) / 3
        if mass_flux(p0, t0, a) < mass_flux(p0, t0, b):
            low = a
        else:
            high = b
    return (low + high) / 2


def thrust(psig):
    """Per throat area, in psi, less the atmosphere: momentum plus pressure of the jet."""
    p0 = psig * PSI + ATM
    r = throat(p0, 293.15)
    rho, v, _ = state(p0, 293.15, r)
    return (rho * v * v + r * p0 - ATM) / PSI


def slpm(area_mm2, up_psig, down_psig, celsius):
    p0, p1, t0 = up_psig * PSI + ATM, down_psig * PSI + ATM, celsius + 273.15
    r = max(p1 / p0, throat(p0, t0))
    return 60000 * area_mm2 * 1e-6 * mass_flux(p0, t0, r) / RHO_STANDARD


def fall_seconds(litres, start_psig, end_psig, flow_slpm):
    """Mass out of a closed volume at constant flow, step by step."""
    mass = (start_psig * PSI + ATM) * litres / 1000 / (R * 293.15)
    end = (end_psig * PSI + ATM) * litres / 1000 / (R * 293.15)
    step, seconds = 1e-3, 0.0
    out = flow_slpm / 60000 * RHO_STANDARD * step
    while mass > end:
        mass -= out
        seconds += step
    return seconds


def decay(litres, start_psig, flow_slpm, seconds):
    """Gauge pressure after a failure; what draws is an opening whose area passes the flow at the start. Classical Runge-Kutta."""
    area = flow_slpm / slpm(1, start_psig, 0, 20)
    volume = litres / 1000

    def rate(p):  # dp/dt = -R T / V * mass flow
        return -R * 293.15 / volume * slpm(area, (p - ATM) / PSI, 0, 20) / 60000 * RHO_STANDARD

    p, n = start_psig * PSI + ATM, 200
    h = seconds / n
    for _ in range(n):
        k1 = rate(p)
        k2 = rate(p + h / 2 * k1)
        k3 = rate(p + h / 2 * k2)
        k4 = rate(p + h * k3)
        p += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
    return (p - ATM) / PSI


def bisect_thrust_choked():
    """Gauge pressure at which the throat's pressure is just the atmosphere."""
    low, high = 1.0, 40.0
    for _ in range(100):
        mid = (low + high) / 2
        p0 = mid * PSI + ATM
        if throat(p0, 293.15) * p0 < ATM:
            low = mid
        else:
            high = mid
    return low


p50 = 50 * PSI + ATM
rho0 = p50 / (R * 293.15)
r50 = throat(p50, 293.15)
rho, v, t = state(p50, 293.15, r50)
print(json.dumps({
    "tolerance": 1e-6,
    "criticalRatio": r50,
    "densityRatio": rho / rho0,
    "temperatureRatio": t / 293.15,
    "chokedAbovePsig": bisect_thrust_choked(),
    "thrust": [{"psig": p, "psi": thrust(p)} for p in (20, 35, 50, 65, 90)],
    "slopeAt50": (thrust(50.01) - thrust(49.99)) / 0.02 / thrust(50),
    "slpmPerMm2": [{"psig": p, "celsius": c, "slpm": slpm(1, p, 0, c)} for p, c in ((50, 20), (50, 35), (90, 20), (30, 5))],
    "slpm": [{"up": u, "down": d, "celsius": c, "slpm": slpm(2.5, u, d, c)}
             for u, d, c in ((50, 30, 20), (50, 45, 20), (50, 49.5, 25), (10, 0, 20), (90, 50, 20))],
    "throatTemperatureC": [{"celsius": c, "throat": state(p50, c + 273.15, r50)[2] - 273.15} for c in (10, 20, 30)],
    "fallSeconds": [{"litres": 24, "from": 90, "to": 55, "slpm": q, "seconds": fall_seconds(24, 90, 55, q)} for q in (30, 60, 120)],
    "decay": [{"litres": 0.5, "psig": 50, "slpm": 60, "seconds": s, "after": decay(0.5, 50, 60, s)} for s in (0.1, 0.18, 0.37, 0.81)],
}, indent=1))
