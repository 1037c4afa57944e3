"""Frequency dependence of two unequal lungs in parallel, in closed form.

Writes data.csv. Run: python3 generate.py. Needs mpmath; version in source.md.
"""

import csv
from pathlib import Path

import mpmath as mp

mp.mp.dps = 40

# Name, compliance [mL/cmH2O] and resistance [cmH2O·s/L] of each lung, resistance of the shared tube.
LUNGS = [
    ("equal-lungs", (3, 40), (3, 40), 10),
    ("equal-time-constants", (4, 30), (2, 60), 10),
    ("one-lung-resists", (4, 30), (2, 240), 10),
    ("one-lung-stiff", (5, 40), (1, 40), 0),
    ("opposed", (4, 200), (2, 20), 5),
    ("dog", (20, 6), (10, 40), 2),
    ("horse", (500, 0.6), (400, 2.5), 0.2),
]
RATES = [1, 3, 6, 12, 20, 30, 60, 120, 300, 1200]


def closed_form(c1, t1, c2, t2, w):
    """Effective compliance and resistance of two lungs in parallel (Otis 1956)."""
    cross = w**2 * (t2 * c1 + t1 * c2) ** 2 + (c1 + c2) ** 2
    compliance = cross / (w**2 * (t1**2 * c2 + t2**2 * c1) + c1 + c2)
    resistance = (w**2 * t1 * t2 * (t2 * c1 + t1 * c2) + t1 * c1 + t2 * c2) / cross
    return compliance, resistance


def impedance(c1, t1, c2, t2, w):
    """The same by complex numbers: what the closed form is checked against."""
    lungs = [t / c + 1 / (mp.j * w * c) for c, t in ((c1, t1), (c2, t2))]
    z = 1 / sum(1 / lung for lung in lungs)
    return -1 / (w * z.imag), z.real


rows, worst = [], mp.mpf(0)
for name, (c1, r1), (c2, r2), tube in LUNGS:
    c1, r1, c2, r2, tube = (mp.mpf(str(x)) for x in (c1, r1, c2, r2, tube))
    t1, t2 = r1 * c1 / 1000, r2 * c2 / 1000
    for rate in RATES:
        w = 2 * mp.pi * rate / 60
        compliance, resistance = closed_form(c1, t1, c2, t2, w)
        for a, b in zip((compliance, resistance), impedance(c1, t1, c2, t2, w)):
            worst = max(worst, abs(a / b - 1))
        resistance = 1000 * resistance + tube
        reactance = 1000 / (w * compliance)
        rows.append([name, *(float(x) for x in (
            c1, r1, c2, r2, tube, rate, compliance, resistance,
            mp.hypot(resistance, reactance), mp.degrees(mp.atan2(reactance, resistance))))])

assert worst < mp.mpf("1e-37"), worst
with open(Path(__file__).parent / "data.csv", "w", newline="") as file:
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow([
        "lungs", "compliance_1_ml_cmh2o", "resistance_1_cmh2o_s_l", "compliance_2_ml_cmh2o",
        "resistance_2_cmh2o_s_l", "tube_resistance_cmh2o_s_l", "rate_per_min",
        "effective_compliance_ml_cmh2o", "effective_resistance_cmh2o_s_l",
        "impedance_cmh2o_s_l", "pressure_lag_behind_flow_deg"])
    for row in rows:
        writer.writerow([row[0], *(format(x, ".17g") for x in row[1:])])
print("mpmath", mp.__version__, "closed form and complex impedance agree within", mp.nstr(worst, 2))
