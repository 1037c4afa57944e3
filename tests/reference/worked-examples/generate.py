"""Published and hand-worked numbers of breathing mechanics, with their inputs.

Writes data.csv. Published values are typed in below as printed; computed ones
are evaluated here. Run: python3 generate.py (standard library only).
"""

import csv
from math import exp, log, pi, sqrt
from pathlib import Path

ROWS = []


def example(name, source, **inputs):
    """Starts an example; the returned functions add what is expected of it."""
    for quantity, value in inputs.items():
        ROWS.append([name, "input", quantity, value, "", "", source])

    def published(quantity, value, rounding):
        """As printed in the source; true within half its last digit."""
        ROWS.append([name, "output", quantity, value, rounding, "read", source])

    def computed(quantity, value):
        """By the closed form given in source.md."""
        ROWS.append([name, "output", quantity, value, "", "computed", "closed form, see source.md"])

    return published, computed


CRIT_CARE = "Critical Care comment, doi 10.1186/cc12561, Table 1"
ARITHMETIC = "own arithmetic"


def trapped_breath(name, resistance, compliance):
    """Constant flow into one compartment, passive expiration, steady state."""
    vt, flow, te = 650.0, 500.0, 2.4
    published, computed = example(
        name, CRIT_CARE, resistance_cmh2o_s_l=resistance, compliance_ml_cmh2o=compliance,
        tidal_volume_ml=vt, inspiratory_time_s=vt / flow, pause_s=0.3, expiratory_time_s=te)
    tau = resistance * compliance / 1000
    auto_peep = vt / compliance / (exp(te / tau) - 1)
    plateau = auto_peep + vt / compliance
    computed("time_constant_s", tau)
    computed("auto_peep_cmh2o", auto_peep)
    computed("trapped_volume_ml", auto_peep * compliance)
    computed("plateau_pressure_cmh2o", plateau)
    computed("peak_pressure_cmh2o", plateau + resistance * flow / 1000)
    return published, computed, tau, plateau + resistance * flow / 1000


published, *_ = trapped_breath("plateau-without-trapping", 5.0, 50.0)
published("plateau_pressure_cmh2o", 13.00, 0.005)

published, _, tau, peak = trapped_breath("plateau-with-trapping", 21.0, 95.0)
published("time_constant_s", 1.995, 0.0005)
published("plateau_pressure_cmh2o", 9.78, 0.005)

# An estimator that knows the time constant and the peak but not the trapped gas:
# peak = VT/C + R·Q with R·C = tau.
published, computed = example("estimator-blind-to-trapping", CRIT_CARE, peak_pressure_cmh2o=peak, time_constant_s=tau,
                              tidal_volume_ml=650.0, flow_ml_s=500.0)
compliance = (650.0 + tau * 500.0) / peak
computed("estimated_compliance_ml_cmh2o", compliance)
computed("estimated_resistance_cmh2o_s_l", tau / compliance * 1000)
computed("estimated_plateau_pressure_cmh2o", 650.0 / compliance)
published("estimated_compliance_ml_cmh2o", 81.2, 0.05)
published("estimated_resistance_cmh2o_s_l", 24.6, 0.05)
published("estimated_plateau_pressure_cmh2o", 8.00, 0.005)

# Mechanical power of constant-flow breaths: energy in a breath times rate.
vt, rate, peep, c, r, ie = 0.5, 12.0, 5.0, 0.050, 10.0, 0.5
_, computed = example(
    "mechanical-power", "forms: Gattinoni 2016 (Intensive Care Med 42:1567); Giosa 2019 (Intensive Care Med Exp 7:61)",
    tidal_volume_ml=500.0, rate_per_min=rate, end_expiratory_pressure_cmh2o=peep,
    compliance_ml_cmh2o=50.0, resistance_cmh2o_s_l=r, inspiratory_to_expiratory_time=ie)
ti = 60 / rate * ie / (1 + ie)
flow = vt / ti
peak = peep + r * flow + vt / c
computed("inspiratory_time_s", ti)
computed("peak_pressure_cmh2o", peak)
computed("power_published_form_j_min", 0.098 * rate * (vt**2 * (0.5 / c + rate * (1 + ie) / (60 * ie) * r) + vt * peep))
computed("power_integral_j_min", 0.0980665 * rate * vt * (peep + r * flow + vt / c / 2))
computed("power_surrogate_form_j_min", rate * vt * (peak + peep + flow * 60 / 6) / 20)

# Flow source, ended by pressure: rigid, compressible, leaking.
q, c, r, p = 50.0, 5.0, 20.0, 15.0
machine = dict(flow_ml_s=q, compliance_ml_cmh2o=c, resistance_cmh2o_s_l=r, cycling_pressure_cmh2o=p)
_, computed = example("pressure-ended-rigid", ARITHMETIC, **machine)
computed("inspiratory_time_s", c * (p - r * q / 1000) / q)
computed("inspired_tidal_volume_ml", c * (p - r * q / 1000))

cc = 1.0
_, computed = example("pressure-ended-compressible", ARITHMETIC, circuit_compliance_ml_cmh2o=cc, **machine)
total, fast = c + cc, r / 1000 * c * cc / (c + cc)
pressure = lambda t: q * t / total + (c / total) ** 2 * q * r / 1000 * (1 - exp(-t / fast))
low, high = 0.0, 3.0
for _ in range(60):
    middle = (low + high) / 2
    low, high = (middle, high) if pressure(middle) < p else (low, middle)
computed("inspiratory_time_s", high)
computed("inspired_tidal_volume_ml", q * high - cc * p)
computed("circuit_volume_ml", cc * p)
computed("fast_time_constant_s", fast)

for g in (1.0, 2.0, 3.33, 3.3333, 3.4):
    _, computed = example(f"pressure-ended-leak-{g:g}", ARITHMETIC, leak_ml_s_cmh2o=g, **machine)
    computed("highest_pressure_cmh2o", q / g)
    computed("ends_on_pressure", int(q / g > p))
    if q / g > p:
        alveolar = p - r / 1000 * (q - g * p)
        computed("inspiratory_time_s", -c * (1 + g * r / 1000) / g * log(1 - alveolar / (q / g)))
        computed("inspired_tidal_volume_ml", c * alveolar)

# Permitted leaks, stated as a flow at a pressure, as linear resistances.
for name, source, flow, pressure, confidence in (
    ("leak-250-at-20", "University of Illinois Veterinary Teaching Hospital procedure page", 250.0, 20.0, "read"),
    ("leak-300-at-30", "Coleman D. Veterinary Team Brief, May 2016", 300.0, 30.0, "read"),
    ("leak-150-at-3-kpa", "ISO 8835-2 / ISO 80601-2-13, from memory", 150.0, 3000 / 98.0665, "memory"),
):
    ROWS.append([name, "input", "leak_ml_min", flow, "", confidence, source])
    ROWS.append([name, "input", "leak_at_cmh2o", pressure, "", confidence, source])
    ROWS.append([name, "output", "leak_resistance_cmh2o_s_l", pressure / (flow / 60) * 1000, "", "computed", "closed form, see source.md"])

# Decay of pressure in a sealed volume behind a leak.
for c in (1.0, 10.0):
    resistance = 3000 / 98.0665 / 2.5 * 1000
    _, computed = example(f"linear-decay-{c:g}", ARITHMETIC, leak_resistance_cmh2o_s_l=resistance, compliance_ml_cmh2o=c)
    computed("half_time_s", resistance / 1000 * c * log(2))
k, c, p0 = 2.5 / sqrt(30.0), 1.0, 30.0
_, computed = example("orifice-decay", ARITHMETIC, orifice_ml_s_sqrt_cmh2o=k, compliance_ml_cmh2o=c, start_pressure_cmh2o=p0)
computed("half_time_s", 2 * c / k * (sqrt(p0) - sqrt(p0 / 2)))
computed("empty_time_s", 2 * c / k * sqrt(p0))

atmosphere = 101325 / 98.0665
_, computed = example("compressible-gas", ARITHMETIC, volume_ml=1000.0, atmospheric_pressure_cmh2o=atmosphere)
computed("isothermal_compliance_ml_cmh2o", 1000 / atmosphere)
computed("adiabatic_compliance_ml_cmh2o", 1000 / atmosphere / 1.4)

for n in range(1, 6):
    _, computed = example(f"step-response-{n}", ARITHMETIC, time_constants=float(n))
    computed("fraction", 1 - exp(-n))

published, computed = example(
    "rat-in-series", "Lai & Hildebrandt 1978, J Appl Physiol 45:255 (abstract)", weight_kg=0.307,
    lung_compliance_ml_cmh2o=0.90, chest_wall_compliance_ml_cmh2o=1.50)
computed("compliance_ml_cmh2o", 1 / (1 / 0.90 + 1 / 1.50))
published("compliance_ml_cmh2o", 0.57, 0.03)

a, b, centre, width = 0.0, 100.0, 12.0, 4.0
_, computed = example("sigmoid", "form: Venegas 1998 (J Appl Physiol 84:389); Narusawa 2001 (91:201)",
                      a_ml=a, b_ml=b, c_cmh2o=centre, d_cmh2o=width)
computed("volume_at_c_ml", a + b / 2)
computed("largest_slope_ml_cmh2o", b / (4 * width))

# Breathing rate of least work for sinusoidal flow: derived from Otis, Fenn & Rahn 1950.
tau, va, vd = 0.5, 4.2, 0.15
_, computed = example("least-work-rate", "derived from Otis AB, Fenn WO, Rahn H 1950 (J Appl Physiol 2:592)",
                      time_constant_s=tau, alveolar_ventilation_l_min=va, dead_space_l=vd)
a = 2 * pi**2 / 60
computed("rate_per_min", (sqrt(1 + 2 * a * tau * va / vd) - 1) / (a * tau))

with open(Path(__file__).parent / "data.csv", "w", newline="") as file:
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(["example", "role", "quantity", "value", "rounding", "confidence", "source"])
    for row in ROWS:
        row[3] = repr(float(row[3]))  # the shortest text that reads back to the same number
        writer.writerow(row)
