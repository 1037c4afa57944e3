"""Breaths of the linear machine, by scipy and in closed form.

Reads machines.csv, writes data.csv (scipy Radau), closed-form.csv (mpmath) and
agreement.csv (how far Radau and DOP853 lie from the closed form). Run: python3 generate.py
Needs numpy, scipy, mpmath; the versions used are in source.md.
"""

import csv
from pathlib import Path

import mpmath as mp
import numpy as np
import scipy
from scipy.integrate import solve_ivp

HERE = Path(__file__).parent
BREATHS = 8
COLUMNS = [
    "start_s", "inspiratory_time_s", "expiratory_time_s", "ended_by",
    "inspired_tidal_volume_ml", "expired_tidal_volume_ml", "peak_pressure_cmh2o",
    "mean_pressure_cmh2o", "baseline_pressure_cmh2o",
    "end_expiratory_alveolar_pressure_cmh2o", "leaked_ml", "rate_per_min",
    "inspiratory_time_rounding_s",
]


class Machine:
    """A row of machines.csv in mL, s and cmH2O, in the arithmetic `number`."""

    def __init__(self, row, number):
        n = lambda key: number(float(row[key]))
        self.name = row["machine"]
        self.connected = row["patient_port"] == "connected"
        self.lung = n("compliance_ml_cmh2o")
        self.circuit = n("circuit_compliance_ml_cmh2o")
        self.airway = 1000 / n("resistance_cmh2o_s_l") if self.connected else number(0)
        self.valve = 1000 / n("valve_resistance_cmh2o_s_l")
        self.leak = n("leak_ml_min") / 60 / n("leak_at_cmh2o")
        self.flow = n("fresh_gas_flow_l_min") * 1000 / 60
        self.cycling = n("cycling_pressure_cmh2o")
        self.limit = n("inspiratory_time_limit_s")
        self.expiration = n("expiratory_time_s")
        self.peep = n("end_expiratory_pressure_cmh2o")
        self.delay = n("valve_delay_s")

    def circuit_pressure(self, valve, p_circuit, p_lung):
        """Pressure at the T-piece: a state, or in a rigid circuit the balance of flows."""
        if self.circuit > 0:
            return p_circuit
        inflow = self.flow + self.airway * p_lung + valve * self.peep
        return inflow / (self.airway + valve + self.leak)


def breaths(machine, phase, zero):
    """Eight breaths from rest. `phase` solves one phase: it returns its length,
    the state at its end, the integral of pressure, the highest pressure and how
    fast pressure rises where it met the cycling pressure (None if it did not)."""
    state, start = (machine.peep, machine.peep), zero
    for _ in range(BREATHS):
        before = state[1]
        entry = machine.circuit_pressure(zero, *state)
        if entry >= machine.cycling:
            reached, inspired, peak, met, rise = zero, zero, entry, True, None
        else:
            reached, state, inspired, peak, rise = phase(machine, zero, state, machine.limit, True)
            met = rise is not None
        if met and machine.delay > 0:
            assert reached + machine.delay < machine.limit, "the limit inside the delay is not covered"
            _, state, more, top, _ = phase(machine, zero, state, machine.delay, False)
            reached, inspired, peak = reached + machine.delay, inspired + more, max(peak, top)
        full = state[1]
        _, state, expired, top, _ = phase(machine, machine.valve, state, machine.expiration, False)
        duration = reached + machine.expiration
        pressure_time = inspired + expired
        yield {
            "start_s": start,
            "inspiratory_time_s": reached,
            "expiratory_time_s": machine.expiration,
            "ended_by": "pressure" if met else "time",
            "inspired_tidal_volume_ml": machine.lung * (full - before),
            "expired_tidal_volume_ml": machine.lung * (full - state[1]),
            "peak_pressure_cmh2o": max(peak, top),
            "mean_pressure_cmh2o": pressure_time / duration,
            "baseline_pressure_cmh2o": machine.circuit_pressure(machine.valve, *state),
            "end_expiratory_alveolar_pressure_cmh2o": state[1],
            "leaked_ml": machine.leak * pressure_time,
            "rate_per_min": 60 / duration,
            "inspiratory_time_rounding_s": machine.cycling * 2**-52 / rise if rise else zero,
        }
        start = start + duration


# --- scipy -------------------------------------------------------------------

def scipy_phase(method):
    tolerances = dict(method=method, rtol=1e-12, atol=1e-14)

    def phase(m, valve, state, length, ends_on_pressure):
        rigid = m.circuit == 0

        def slope(_, y):
            p = m.circuit_pressure(valve, y[0], y[1])
            airway = m.airway * (p - y[1])
            stored = m.flow + valve * (m.peep - p) - m.leak * p - airway
            return [0.0 if rigid else stored / m.circuit, airway / m.lung, p]

        # The system is linear, so its Jacobian is constant and exact.
        at_zero = np.array(slope(0, [0.0, 0.0, 0.0]))
        jacobian = np.array([np.array(slope(0, unit)) - at_zero for unit in np.eye(3)]).T
        extra = {} if method == "DOP853" else dict(jac=jacobian)

        def excess(_, y):
            return m.circuit_pressure(valve, y[0], y[1]) - m.cycling

        def turning(_, y):
            d = slope(0, y)
            return d[1] if rigid else d[0]

        excess.terminal, excess.direction = True, 1
        events = [turning] + ([excess] if ends_on_pressure else [])
        y0 = [float(state[0]), float(state[1]), 0.0]
        run = solve_ivp(slope, (0.0, length), y0, events=events, **tolerances, **extra)
        assert run.success, run.message
        t, y, p_slope = run.t[-1], run.y[:, -1], None
        if ends_on_pressure and run.t_events[1].size > 0:
            # Dense output is less accurate than the steps: land on the event by
            # stepping to it again from the last step's start, with Newton.
            t0, y_start = run.t[-2], run.y[:, -2]
            for _ in range(6):
                y = y_start
                if t > t0:
                    y = solve_ivp(slope, (t0, t), y_start, **tolerances, **extra).y[:, -1]
                p_slope = slope(0, y)[0] if not rigid else (
                    m.airway / (m.airway + valve + m.leak) * slope(0, y)[1])
                step = excess(0, y) / p_slope
                t -= step
                if abs(step) < 1e-15:
                    break
        tops = [m.circuit_pressure(valve, v[0], v[1]) for v in run.y_events[0]]
        tops += [m.circuit_pressure(valve, v[0], v[1]) for v in (y0, y)]
        return t, (y[0], y[1]), y[2], max(tops), p_slope

    return phase


# --- closed form -------------------------------------------------------------

def phi(rate, t):
    """Integral of exp(-rate·s) over (0, t]."""
    return t if rate == 0 else -mp.expm1(-rate * t) / rate


def psi(rate, t):
    """Integral of phi."""
    return t * t / 2 if rate == 0 else (t - phi(rate, t)) / rate


def modes(m, valve, state):
    """Pressure at the T-piece and in the lung as modes: (rate, start, drive) for
    each, so that p(t) = Σ start·exp(-rate·t) + drive·phi(rate, t)."""
    g, a = m.airway, valve + m.leak
    drive = m.flow + valve * m.peep
    if not m.connected:
        return [(a / m.circuit, (state[0], 0), (drive / m.circuit, 0)), (mp.mpf(0), (0, state[1]), (0, 0))]
    if m.circuit == 0:
        # (g + a)·p = drive + g·q, and C·q' = g·(p - q)
        rate = g * a / (g + a) / m.lung
        push = g * drive / (g + a) / m.lung
        share, offset = g / (g + a), drive / (g + a)
        return [(rate, (share * state[1], state[1]), (share * push, push)), (mp.mpf(0), (offset, 0), (0, 0))]
    a11, a12, a21, a22 = -(g + a) / m.circuit, g / m.circuit, g / m.lung, -g / m.lung
    trace = -(a11 + a22)
    fast = (trace + mp.sqrt((a11 - a22) ** 2 + 4 * a12 * a21)) / 2
    slow = g * a / (m.circuit * m.lung) / fast
    result = []
    for own, other in ((fast, slow), (slow, fast)):
        project = lambda v: (
            ((a11 + other) * v[0] + a12 * v[1]) / (other - own),
            (a21 * v[0] + (a22 + other) * v[1]) / (other - own),
        )
        result.append((own, project(state), project((drive / m.circuit, mp.mpf(0)))))
    return result


def closed_phase(m, valve, state, length, ends_on_pressure):
    parts = modes(m, valve, state)

    def pressure(node, t):
        return sum(z[node] * mp.exp(-r * t) + s[node] * phi(r, t) for r, z, s in parts)

    # Two exponentials in the slope have at most one turning point.
    (r1, z1, s1), (r2, z2, s2) = parts
    k1, k2 = s1[0] - r1 * z1[0], s2[0] - r2 * z2[0]
    turns = []
    if k1 * k2 < 0 and r1 != r2:
        turns = [t for t in [mp.log(-k1 / k2) / (r1 - r2)] if 0 < t < length]
    end, rise = length, None
    if ends_on_pressure:
        for low, high in zip([mp.mpf(0)] + turns, turns + [length]):
            if pressure(0, low) < m.cycling <= pressure(0, high):
                for _ in range(170):
                    middle = (low + high) / 2
                    low, high = (middle, high) if pressure(0, middle) < m.cycling else (low, middle)
                end = high
                rise = k1 * mp.exp(-r1 * end) + k2 * mp.exp(-r2 * end)
                break
    tops = [pressure(0, t) for t in [mp.mpf(0), end] + [t for t in turns if t < end]]
    integral = sum(z[0] * phi(r, end) + s[0] * psi(r, end) for r, z, s in parts)
    return end, (pressure(0, end), pressure(1, end)), integral, max(tops), rise


# --- files -------------------------------------------------------------------

def write(name, header, rows):
    with open(HERE / name, "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def text(value):
    return value if isinstance(value, str) else format(float(value), ".17g")


def apart(rows, exact, keys, floor):
    """Largest difference over breaths, relative to the exact value or `floor`."""
    return max(
        float(abs(mp.mpf(float(r[k])) - e[k]) / max(abs(e[k]), floor))
        for r, e in zip(rows, exact) for k in keys
    )


def methods(row):
    """Radau always; the explicit DOP853 where stability lets it finish."""
    m = Machine(row, float)
    fastest = (m.airway + m.valve + m.leak) / m.circuit if m.circuit else 0.0
    return ("Radau", "DOP853") if fastest * max(m.limit, m.expiration) < 2e5 else ("Radau",)


def main():
    print("numpy", np.__version__, "scipy", scipy.__version__, "mpmath", mp.__version__)
    mp.mp.dps = 50
    volumes, pressures = COLUMNS[4:6] + ["leaked_ml"], COLUMNS[6:10]
    data, closed, agreement = [], [], []
    for row in csv.DictReader(open(HERE / "machines.csv")):
        exact = list(breaths(Machine(row, mp.mpf), closed_phase, mp.mpf(0)))
        roads = {m: list(breaths(Machine(row, float), scipy_phase(m), 0.0)) for m in methods(row)}
        name = row["machine"]
        for number, (e, s) in enumerate(zip(exact, roads["Radau"]), 1):
            closed.append([name, number] + [text(e[c]) for c in COLUMNS])
            data.append([name, number] + [text(s[c]) for c in COLUMNS])
        line = [name]
        for method in ("Radau", "DOP853"):
            if method not in roads:
                line += ["", "", ""]
                continue
            rows = roads[method]
            assert [r["ended_by"] for r in rows] == [e["ended_by"] for e in exact], name
            line += [
                format(max(abs(float(r["inspiratory_time_s"] - e["inspiratory_time_s"])) for r, e in zip(rows, exact)), ".1e"),
                format(apart(rows, exact, volumes, 1e-3), ".1e"),
                format(apart(rows, exact, pressures, 1e-3), ".1e"),
            ]
        agreement.append(line)
        print(*line, flush=True)
    write("data.csv", ["machine", "number"] + COLUMNS, data)
    write("closed-form.csv", ["machine", "number"] + COLUMNS, closed)
    kinds = ["inspiratory_time_s", "volumes_relative", "pressures_relative"]
    write("agreement.csv", ["machine"] + [f"{m}_{k}" for m in ("radau", "dop853") for k in kinds], agreement)


if __name__ == "__main__":
    main()
