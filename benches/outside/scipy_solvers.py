"""The linear cat by scipy's solvers with events: METHOD TOLERANCE ROUNDS.

Prints a JSON object: version, best time of a round in seconds, inspiratory times.
"""

import json
import sys
import time

import scipy
from scipy.integrate import solve_ivp

LUNG, AIRWAY, CIRCUIT, VALVE = 6.0, 0.02, 0.15, 0.005
FLOW, CYCLING, PEEP, EXPIRATION_S, DURATION_S = 22.0, 10.0, 2.0, 1.45, 600.0


def rates(valve):
    def f(_t, y):
        airway = (y[0] - y[1]) / AIRWAY
        return [(FLOW - airway - valve * (y[0] - PEEP)) / CIRCUIT, airway / LUNG]

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
    y, now, times = [PEEP, PEEP], 0.0, []
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


method, tolerance, rounds = sys.argv[1], float(sys.argv[2]), int(sys.argv[3])
best = float("inf")
for _ in range(rounds):
    start = time.perf_counter()
    times = run(method, tolerance)
    best = min(best, time.perf_counter() - start)
json.dump({"version": scipy.__version__, "seconds": best, "times": times}, sys.stdout)
