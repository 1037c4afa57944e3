"""Breaths of machines that have no closed form, by two methods of scipy.

Reads machines.csv; writes data.csv (breaths, Radau), waveforms.csv (samples,
Radau) and agreement.csv (how far DOP853 lies from it).
Run: python3 generate.py. Needs numpy and scipy; versions are in source.md.
"""

import csv
from math import copysign, exp, inf, log, pi, sin, sqrt
from pathlib import Path

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

HERE = Path(__file__).parent
SAMPLES, STANDBY_S = 40, 8.0
BREATH_COLUMNS = [
    "start_s", "inspiratory_time_s", "expiratory_time_s", "ended_by",
    "inspired_tidal_volume_ml", "expired_tidal_volume_ml", "peak_pressure_cmh2o",
    "mean_pressure_cmh2o", "baseline_pressure_cmh2o",
    "end_expiratory_alveolar_pressure_cmh2o", "leaked_ml", "cuff_leaked_ml", "rate_per_min",
]
WAVE_COLUMNS = [
    "time_s", "airway_pressure_cmh2o", "sensed_pressure_cmh2o", "airway_flow_ml_s",
    "lung_volume_ml", "carina_pressure_cmh2o",
]


class Lung:
    """One compartment: a pressure-volume law behind a linear resistance."""

    def __init__(self, text):
        law, *numbers = text.split(":")
        *self.law, resistance = map(float, numbers)
        self.linear = law == "linear"
        self.resistance = resistance / 1000

    def volume(self, p):
        if self.linear:
            return self.law[0] * p
        a, b, c, d = self.law
        return a + b / (1 + exp(-(p - c) / d))

    def recoil(self, v):
        if self.linear:
            return v / self.law[0]
        a, b, c, d = self.law
        return c - d * log(b / (v - a) - 1)


class Machine:
    """A row of machines.csv in mL, s and cmH2O."""

    def __init__(self, row):
        n = lambda key: float(row[key])
        self.name, self.standby, self.breaths = row["machine"], row["mode"] == "standby", int(row["breaths"])
        self.lungs = [Lung(text) for text in row["lungs"].split()]
        self.circuit, self.limb = n("circuit_compliance_ml_cmh2o"), n("limb_compliance_ml_cmh2o")
        self.valve = 1000 / n("valve_resistance_cmh2o_s_l")
        self.limb_path = 1000 / n("limb_resistance_cmh2o_s_l") if self.limb else 0.0
        self.leak_law = row["leak_law"]
        flow, at = n("leak_ml_min") / 60, n("leak_at_cmh2o")
        self.leak_k = flow / sqrt(at) if self.leak_law == "orifice" else flow / at
        self.tube = n("tube_linear_cmh2o_s_l") / 1e3, n("tube_quadratic_cmh2o_s2_l2") / 1e6
        self.seal, self.cuff_g = n("cuff_seal_cmh2o"), n("cuff_leak_ml_s_cmh2o")
        self.amplitude, self.effort_s = n("effort_amplitude_cmh2o"), n("effort_duration_s")
        self.effort_start = n("effort_start_s")
        self.effort_every = 60 / n("effort_rate_per_min") if self.amplitude else inf
        self.flow = n("fresh_gas_flow_l_min") * 1000 / 60
        self.cycling, self.limit = n("cycling_pressure_cmh2o"), n("inspiratory_time_limit_s")
        self.expiration, self.delay = n("expiratory_time_s"), n("valve_delay_s")
        self.peep = n("end_expiratory_pressure_cmh2o")

    # Laws of the elements.

    def leak(self, p):
        return copysign(self.leak_k * sqrt(abs(p)), p) if self.leak_law == "orifice" else self.leak_k * p

    def cuff(self, p):
        return self.cuff_g * max(p - self.seal, 0.0)

    def through_tube(self, dp, extra=0.0):
        """Flow that loses `dp` in (k1 + extra)·q + k2·q·|q|."""
        k1, k2 = self.tube[0] + extra, self.tube[1]
        return 2 * dp / (k1 + sqrt(k1 * k1 + 4 * k2 * abs(dp)))

    def effort(self, t):
        """Pressure of the muscles, positive when they draw gas in."""
        if not self.amplitude or t < self.effort_start:
            return 0.0
        s = (t - self.effort_start) % self.effort_every
        return self.amplitude * sin(pi * s / self.effort_s) if s < self.effort_s else 0.0

    def kinks(self, until):
        onset = self.effort_start
        while self.amplitude and onset < until:
            yield from (onset, onset + self.effort_s)
            onset += self.effort_every

    # Nodes without compliance: balances of flow.

    def carina(self, airway, alveolar):
        """Pressure at the patient's end of the tube."""
        if self.tube == (0.0, 0.0):
            return airway
        if len(alveolar) == 1 and not self.cuff_g:
            r = self.lungs[0].resistance
            return alveolar[0] + r * self.through_tube(airway - alveolar[0], r)
        ends = [airway, *alveolar]
        if self.tube[1] == 0.0:
            g = [1 / self.tube[0]] + [1 / lung.resistance for lung in self.lungs]
            into, total = sum(a * b for a, b in zip(g, ends)), sum(g)
            p = into / total
            return p if p <= self.seal or not self.cuff_g else (into + self.cuff_g * self.seal) / (total + self.cuff_g)
        return root(lambda p: self.through_tube(airway - p) - self.cuff(p) - sum(
            (p - q) / lung.resistance for q, lung in zip(alveolar, self.lungs)), min(ends), max(ends))

    def patient(self, airway, alveolar):
        """Flow into each lung, flow out at the cuff, pressure at the carina."""
        p = self.carina(airway, alveolar)
        return [(p - q) / lung.resistance for q, lung in zip(alveolar, self.lungs)], self.cuff(p), p

    def tee(self, limb, alveolar, valve):
        """Pressure at a T-piece that stores no gas."""
        def balance(p):
            lungs, cuff, _ = self.patient(p, alveolar)
            out = self.limb_path * (p - limb) if self.limb else valve * (p - self.peep)
            return self.flow - sum(lungs) - cuff - self.leak(p) - out
        # Alone, the fresh gas would raise the pressure by no more than this.
        top = max(*alveolar, limb, self.peep, 0.0) + 2 * self.flow * (self.tube[0] + self.lungs[0].resistance) \
            + self.tube[1] * self.flow**2 + 1.0
        return root(balance, min(*alveolar, limb, self.peep, 0.0) - 1.0, top)

    # The whole.

    def look(self, t, y, valve):
        """Pressures and flows at state y = [tee, limb, volumes…, ∫pressure, leaked, cuff-leaked]."""
        alveolar = [lung.recoil(v) - self.effort(t) for lung, v in zip(self.lungs, y[2:-3])]
        airway = y[0] if self.circuit else self.tee(y[1], alveolar, valve)
        lungs, cuff, carina = self.patient(airway, alveolar)
        return airway, (y[1] if self.limb else airway), lungs, cuff, carina, alveolar

    def slope(self, t, y, valve):
        airway, valve_end, lungs, cuff, _, _ = self.look(t, y, valve)
        outlet, leak = valve * (valve_end - self.peep), self.leak(airway)
        limb = self.limb_path * (airway - y[1]) if self.limb else outlet
        stored = self.flow - sum(lungs) - cuff - leak - limb
        return [
            stored / self.circuit if self.circuit else 0.0,
            (limb - outlet) / self.limb if self.limb else 0.0,
            *lungs, airway, leak, cuff,
        ]

    def at_rest(self):
        return np.array([self.peep, self.peep, *(lung.volume(self.peep) for lung in self.lungs), 0.0, 0.0, 0.0])


def root(f, low, high):
    if f(low) == 0.0:
        return low
    return brentq(f, low, high, xtol=1e-15, rtol=4 * np.finfo(float).eps)


class Run:
    """Integrates in absolute time, stopping at kinks of effort and at samples."""

    def __init__(self, machine, method, sample_times):
        self.m, self.method = machine, method
        self.samples, self.wave = list(sample_times), []
        self.t, self.y = 0.0, machine.at_rest()

    def integrate(self, t0, t1, y, valve, events=None):
        run = solve_ivp(self.m.slope, (t0, t1), y, method=self.method, rtol=1e-12, atol=1e-13,
                        args=(valve,), events=events, max_step=0.05)
        assert run.success, run.message
        return run

    def sensed_excess(self, t, y, valve):
        return self.m.look(t, y, valve)[1] - self.m.cycling

    def phase(self, length, valve, ends_on_pressure=False):
        """Goes on for `length` or to the cycling pressure; the highest pressure, and whether it was met."""
        m, end = self.m, self.t + length
        rise = lambda t, y, v: m.slope(t, y, v)[0]
        meet = lambda t, y, v: self.sensed_excess(t, y, v)
        meet.terminal, meet.direction = True, 1
        peak = m.look(self.t, self.y, valve)[0]
        if ends_on_pressure and self.sensed_excess(self.t, self.y, valve) >= 0:
            return peak, True
        stops = sorted({t for t in [*m.kinks(end), *self.samples] if self.t < t < end}) + [end]
        for stop in stops:
            run = self.integrate(self.t, stop, self.y, valve, [rise] + [meet] * ends_on_pressure)
            met = ends_on_pressure and run.t_events[1].size > 0
            t, y = (self.land(run, valve) if met else (stop, run.y[:, -1]))
            tops = [(a, b) for a, b in zip(run.t_events[0], run.y_events[0]) if a <= t]
            # A rigid T-piece has no slope of its own: look closely at its path instead.
            if not m.circuit:
                tops += [(a, b) for a, b in zip(run.t, run.y.T) if a <= t]
            peak = max([peak, m.look(t, y, valve)[0]] + [m.look(a, b, valve)[0] for a, b in tops])
            self.t, self.y = t, y
            if met:
                return peak, True
            if stop in self.samples:
                airway, sensed, lungs, cuff, carina, _ = m.look(t, y, valve)
                self.wave.append([t, airway, sensed, sum(lungs) + cuff, sum(y[2:-3]), carina])
        return peak, False

    def land(self, run, valve):
        """The event by re-stepping to it (dense output is less accurate than steps)."""
        t0, y0 = run.t[-2], run.y[:, -2]
        step_to = lambda t: self.integrate(t0, t, y0, valve).y[:, -1] if t > t0 else y0
        t, before = run.t[-1], None
        for _ in range(8):
            y = step_to(t)
            excess = self.sensed_excess(t, y, valve)
            if before is None:
                delta = max(t - t0, 1e-9) / 64
                slope = (excess - self.sensed_excess(t - delta, step_to(t - delta), valve)) / delta
            elif t != before[0]:
                slope = (excess - before[1]) / (t - before[0])
            if abs(excess) <= 4e-15 * self.m.cycling:
                break
            before, t = (t, excess), t - excess / slope
        return t, y


def breaths(run):
    m = run.m
    for number in range(1, m.breaths + 1):
        start, y0 = run.t, run.y
        peak, met = run.phase(m.limit, 0.0, True)
        if met and m.delay:
            assert run.t - start + m.delay < m.limit, "the limit inside the delay is not covered"
            peak = max(peak, run.phase(m.delay, 0.0)[0])
        turn, y1 = run.t, run.y
        peak = max(peak, run.phase(m.expiration, m.valve)[0])
        y2, duration = run.y, run.t - start
        airway, _, _, _, _, alveolar = m.look(run.t, y2, m.valve)
        weights = [lung.law[0] if lung.linear else 1.0 for lung in m.lungs]
        volume = lambda y: sum(y[2:-3])
        yield [
            start, turn - start, run.t - turn, "pressure" if met else "time",
            volume(y1) - volume(y0), volume(y1) - volume(y2), peak,
            (y2[-3] - y0[-3]) / duration, airway,
            sum(w * p for w, p in zip(weights, alveolar)) / sum(weights),
            y2[-2] - y0[-2] + y2[-1] - y0[-1], y2[-1] - y0[-1], 60 / duration,
        ]


def solve(machine, method, sample_times):
    run = Run(machine, method, sample_times)
    if machine.standby:
        run.phase(STANDBY_S, machine.valve)
        return [], run.wave
    return list(breaths(run)), run.wave


def text(value):
    return value if isinstance(value, str) else format(float(value), ".17g")


def write(name, header, rows):
    with open(HERE / name, "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def apart(rows, others, columns, floor):
    gaps = [abs(r[c] - o[c]) / max(abs(r[c]), floor) for r, o in zip(rows, others) for c in columns]
    return format(max(gaps, default=0.0), ".1e")


def main():
    print("numpy", np.__version__, "scipy", scipy.__version__)
    data, waves, agreement = [], [], []
    for row in csv.DictReader(open(HERE / "machines.csv")):
        m = Machine(row)
        end = STANDBY_S if m.standby else m.breaths * 1.5
        times = [end * (i + 0.37) / SAMPLES for i in range(SAMPLES)]
        first, wave = solve(m, "Radau", times)
        second, other = solve(m, "DOP853", times)
        assert [b[3] for b in first] == [b[3] for b in second], m.name
        assert len(wave) == len(other) > 0, m.name
        data += [[m.name, number] + [text(v) for v in b] for number, b in enumerate(first, 1)]
        waves += [[m.name] + [text(v) for v in w] for w in wave]
        times_s = format(max((abs(a[i] - b[i]) for a, b in zip(first, second) for i in (0, 1)), default=0.0), ".1e")
        agreement.append([m.name, times_s, apart(first, second, range(4, 13), 1e-3), apart(wave, other, range(1, 6), 1.0)])
        print(*agreement[-1], flush=True)
    write("data.csv", ["machine", "number"] + BREATH_COLUMNS, data)
    write("waveforms.csv", ["machine"] + WAVE_COLUMNS, waves)
    write("agreement.csv", ["machine", "times_s", "breaths_relative", "waveforms_relative"], agreement)


if __name__ == "__main__":
    main()
