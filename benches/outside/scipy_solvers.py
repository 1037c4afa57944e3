"""The cat by scipy's solvers with events: METHOD TOLERANCE ROUNDS KIND DENSITY VISCOSITY,
the last two of the gas in the tube.

Prints a JSON object: version, best time of a round in seconds, inspiratory times.
"""

import json
import math
import sys
import time

import scipy
from scipy.integrate import solve_ivp

LUNG, AIRWAY, CIRCUIT, VALVE = 6.0, 0.02, 0.15, 0.005
FLOW, CYCLING, PEEP, EXPIRATION_S, DURATION_S = 22.0, 10.0, 2.0, 1.45, 600.0


METHOD, TOLERANCE, ROUNDS, KIND = sys.argv[1], float(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
DENSITY, VISCOSITY = map(float, sys.argv[5:7])
THREE = [(3.0, 0.03), (2.0, 0.06), (1.0, 0.2)]

# The tube of 4 mm by 19 cm: Poiseuille up to a Reynolds number of 2000, Blasius from 4000
# on, between them a cubic in the logarithms.
D, L, PA = 0.004, 0.19, 98.0665
LAMINAR = 128 * VISCOSITY * L / (math.pi * D**4) * 1e-6 / PA
TURBULENT = (
    0.3164 * 8 * DENSITY * L / (math.pi**2 * D**5)
    * (4 * DENSITY / (math.pi * VISCOSITY * D)) ** -0.25 * 1e-6**1.75 / PA
)
LN_FLOW = [math.log(re * math.pi * VISCOSITY * D / (4 * DENSITY) * 1e6) for re in (2000, 4000)]
LN_PRESSURE = [math.log(LAMINAR) + LN_FLOW[0], math.log(TURBULENT) + 1.75 * LN_FLOW[1]]


def lost(q):
    """Pressure lost along the tube at a flow above 0, and the slope of that."""
    x = math.log(q)
    if x <= LN_FLOW[0]:
        return LAMINAR * q, LAMINAR
    if x >= LN_FLOW[1]:
        p = TURBULENT * q**1.75
        return p, 1.75 * p / q
    width, rise = LN_FLOW[1] - LN_FLOW[0], LN_PRESSURE[1] - LN_PRESSURE[0]
    start, end, u = width, 1.75 * width, (x - LN_FLOW[0]) / width
    c2, c3 = 3 * rise - 2 * start - end, start + end - 2 * rise
    p = math.exp(LN_PRESSURE[0] + u * (start + u * (c2 + u * c3)))
    return p, (start + u * (2 * c2 + u * 3 * c3)) / width * p / q


def through(across, behind):
    """Flow through the tube with a resistance behind it."""
    p = abs(across)
    if p == 0:
        return 0.0
    low, high = 0.0, p / (LAMINAR + behind)
    q = high
    for _ in range(80):
        tube, slope = lost(q)
        miss = tube + behind * q - p
        low, high = (low, q) if miss > 0 else (q, high)
        after = q - miss / (slope + behind)
        if abs(after - q) <= 1e-15 * q:
            break
        q = after if low < after < high else 0.5 * (low + high)
    return math.copysign(q, across)


def rates(valve):
    def f(_t, y):
        into, across = FLOW - valve * (y[0] - PEEP), y[0] - y[1]
        if KIND == "three":
            airways = [(y[0] - p) / r for p, (_, r) in zip(y[1:], THREE)]
            return [(into - sum(airways)) / CIRCUIT] + [q / c for q, (c, _) in zip(airways, THREE)]
        if KIND == "curved":
            airway = 2 * across / (AIRWAY + math.sqrt(AIRWAY**2 + 6e-4 * abs(across)))
        elif KIND == "sized":
            airway = through(across, 0.005)
        else:
            airway = across / AIRWAY
        if KIND in ("curved", "sized"):
            into -= math.copysign(5 * math.sqrt(abs(y[0]) / 30), y[0])
        compliance = LUNG
        if KIND == "sigmoid":
            # V = 150/(1 + e^-(P - 8)/5): its slope at a pressure.
            e = math.exp(-(y[1] - 8) / 5)
            compliance = 150 * e / (5 * (1 + e) ** 2)
        return [(into - airway) / CIRCUIT, airway / compliance]

    return f


def jacobian(valve):
    return [[(-1 / AIRWAY - valve) / CIRCUIT, 1 / AIRWAY / CIRCUIT], [1 / AIRWAY / LUNG, -1 / AIRWAY / LUNG]]


def reached(_t, y):
    return y[0] - CYCLING


reached.terminal = True
reached.direction = 1


def run(method, tolerance):
    options = {"method": method, "rtol": tolerance, "atol": tolerance}
    shut, opened = dict(options), dict(options)
    if method == "Radau":
        shut["jac"], opened["jac"] = jacobian(0.0), jacobian(1 / VALVE)
    y, now, times = [PEEP] * (4 if KIND == "three" else 2), 0.0, []
    while True:
        inspiration = solve_ivp(rates(0.0), (0.0, 5.0), y, events=reached, **shut)
        spent = inspiration.t_events[0][0]
        y = inspiration.y_events[0][0]
        expiration = solve_ivp(rates(1 / VALVE), (0.0, EXPIRATION_S), y, **opened)
        y = expiration.y[:, -1]
        now += spent + EXPIRATION_S
        if now > DURATION_S:
            return times
        times.append(float(spent))


best = float("inf")
for _ in range(ROUNDS):
    start = time.perf_counter()
    times = run(METHOD, TOLERANCE)
    best = min(best, time.perf_counter() - start)
json.dump({"version": scipy.__version__, "seconds": best, "times": times}, sys.stdout)
