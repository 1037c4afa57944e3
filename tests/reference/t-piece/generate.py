"""Rebreathing at a T-piece in spontaneous sinusoidal breathing, plug flow.

Writes data.csv (fresh gas flow at which inspired gas is just free of CO2) and
rebreathing.csv (how much is rebreathed below it), in closed form and by moving
parcels of gas. Run: python3 generate.py. Needs mpmath, numpy.
"""

import csv
from pathlib import Path

import mpmath as mp
import numpy as np

HERE = Path(__file__).parent
mp.mp.dps = 40
PAUSES = ["0", "0.1", "0.2", "0.3", "0.4"]
RATIOS = ["0", "0.25", "0.5", "0.75", "1", "1.25", "1.5", "1.75", "2", "2.25", "2.5", "3"]

# Volumes are in units of A·(1 − p)·T/2π, A the peak flow of the patient: the
# tidal volume is 2. x is the fresh gas flow over A; p the pause's part of the
# cycle; angles run through the moving part of the cycle.


def shortfall(x, p):
    """What is drawn from the limb beyond the fresh gas that lies next to the patient."""
    if x >= 1:
        return mp.mpf(-1)
    first = mp.asin(x)  # where the patient's flow overtakes the fresh gas
    drawn = 2 * mp.cos(first) - x * (mp.pi - 2 * first)
    pushed_early = x * first - (1 - mp.cos(first))
    pushed_in_pause = x * 2 * mp.pi * p / (1 - p)
    return drawn - pushed_early - pushed_in_pause


def need(p):
    """Fresh gas over minute volume at which the shortfall is nil."""
    x = mp.findroot(lambda x: shortfall(x, p), (mp.mpf("0.1"), mp.mpf("0.99")), solver="anderson", tol=1e-60)
    return x, x * mp.pi / (1 - p)


def rebreathed(ratio, p):
    """Part of the tidal volume that was breathed out before."""
    x = ratio * (1 - p) / mp.pi
    missing = shortfall(x, p)
    if missing <= 0:
        return mp.mpf(0)
    if x == 0:
        return mp.mpf(1)
    # Back through the expiration: gas that left at angle a holds sin a/(sin a + x) of expired gas.
    left = lambda a: 1 + mp.cos(a) + x * (mp.pi - a) - missing
    low, high = mp.mpf(0), mp.pi
    for _ in range(130):
        middle = (low + high) / 2
        low, high = (middle, high) if left(middle) > 0 else (low, middle)
    return (1 + mp.cos(low)) / 2


def parcels(ratio, p, steps=200_000):
    """The same by brute force: a stack of parcels in the limb, the patient's end on top."""
    moving = 1 - p
    edge = np.linspace(0, 1, steps + 1)
    fresh = ratio / steps  # per step, in minute volumes of one cycle: the tidal volume is 1
    half, breath = moving / 2, lambda t: (1 - np.cos(2 * np.pi * t / moving)) / 2
    inhaled = np.where(edge < half, breath(edge), 1.0)
    exhaled = np.where(edge < half, 0.0, np.where(edge < moving, 1 - breath(edge), 1.0))
    take, give = np.diff(inhaled), np.diff(exhaled)
    stack, total = [], 0.0
    for cycle in range(2):
        total = 0.0
        for inn, out in zip(take, give):
            net = fresh + out - inn
            if net >= 0:
                stack.append((net, out / net if out else 0.0))
                continue
            wanted = -net
            while wanted > 0:
                if not stack:  # the limb of the first breath holds room air
                    break
                volume, part = stack.pop()
                if volume > wanted:
                    stack.append((volume - wanted, part))
                    volume = wanted
                total += volume * part
                wanted -= volume
    return total


def write(name, header, rows):
    with open(HERE / name, "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows([format(float(x), ".17g") for x in row] for row in rows)


needs, table, worst = [], [], 0.0
for p in map(mp.mpf, PAUSES):
    x, ratio = need(p)
    if p == 0:
        assert abs(mp.pi * x - 1 - mp.sqrt(1 - x * x) - x * mp.asin(x)) < mp.mpf("1e-38")
    needs.append([p, x, ratio, parcels(float(ratio) * 0.999, float(p)), parcels(float(ratio) * 1.001, float(p))])
    print(mp.nstr(p, 3), mp.nstr(ratio, 20), *needs[-1][3:], flush=True)
    for r in RATIOS:
        exact, moved = rebreathed(mp.mpf(r), p), parcels(float(r), float(p))
        worst = max(worst, abs(float(exact) - moved))
        table.append([p, mp.mpf(r), exact, moved])
write("data.csv", ["expiratory_pause_of_cycle", "fresh_gas_over_peak_flow", "fresh_gas_over_minute_volume",
                   "parcels_rebreathed_of_tidal_volume_at_0.999", "parcels_rebreathed_of_tidal_volume_at_1.001"], needs)
write("rebreathing.csv", ["expiratory_pause_of_cycle", "fresh_gas_over_minute_volume",
                          "rebreathed_of_tidal_volume", "parcels_rebreathed_of_tidal_volume"], table)
print("mpmath", mp.__version__, "numpy", np.__version__, "parcels within", worst)
