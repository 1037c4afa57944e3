"""Noisy samples of the equation of motion, fitted by numpy and by scipy.odr."""

import csv
import warnings

import numpy as np
import scipy
from numpy.linalg import inv, lstsq

warnings.filterwarnings("ignore", category=DeprecationWarning)
from scipy import odr  # noqa: E402

RNG = np.random.default_rng(20240607)
N, RATE = 400, 50.0
t = np.arange(N) / RATE
flow = 45.0 * np.sin(2.3 * t) + 12.0 * np.sin(7.1 * t)
volume = 45.0 / 2.3 * (1 - np.cos(2.3 * t)) + 12.0 / 7.1 * (1 - np.cos(7.1 * t))
pressure = volume / 4.0 + 0.035 * flow + 3.0
# Rounded as they are written, so that every program fits the same numbers.
flow = np.round(flow + RNG.normal(0, 2.0, N), 6)
volume = np.round(volume + RNG.normal(0, 0.4, N), 6)
pressure = np.round(pressure + RNG.normal(0, 0.15, N), 6)
t = np.round(t, 6)

with open("data.csv", "w", newline="") as out:
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["t_s", "airway_pressure_cmh2o", "airway_flow_ml_s", "lung_volume_ml"])
    rows.writerows(zip(t.tolist(), pressure.tolist(), flow.tolist(), volume.tolist()))


def noise(x):
    """From third differences: their variance is 20 times that of the noise."""
    d = np.sort(np.abs(x[3:] - 3 * x[2:-1] + 3 * x[1:-2] - x[:-3]))
    kept = d[d <= 4.0 * d[len(d) // 2] / 0.6744897501960817]
    return np.sqrt(np.mean(kept**2) / 20.0)


def named(r, e, p0, sr, se, sp0):
    return [
        ("resistance_cmh2o_s_l", 1e3 * r, 1e3 * sr),
        ("compliance_ml_cmh2o", 1 / e, se / e**2),
        ("baseline_cmh2o", p0, sp0),
    ]


x = np.column_stack([flow, volume, np.ones(N)])
beta, square, rank, _ = lstsq(x, pressure, rcond=None)
assert rank == 3
errors = np.sqrt(np.diag(inv(x.T @ x)) * square[0] / (N - 3))
rows = [("lstsq", *row) for row in named(*beta, *errors)]

data = odr.RealData(np.vstack([flow, volume]), pressure,
                    sx=np.array([[noise(flow)], [noise(volume)]]) * np.ones((2, N)),
                    sy=noise(pressure) * np.ones(N))
# A drift of the pressure beside the equation, from the first sample on; times are exact.
model = odr.Model(lambda b, x: b[0] * x[0] + b[1] * x[1] + b[2] + b[3] * (t - t[0]))
out = odr.ODR(data, model, beta0=[*beta, 0.0], sstol=1e-15, partol=1e-15, maxit=500).run()
rows += [("odr", *row) for row in named(*out.beta[:3], *out.sd_beta[:3])]

with open("estimates.csv", "w", newline="") as file:
    written = csv.writer(file, lineterminator="\n")
    written.writerow(["by", "what", "value", "standard_error"])
    written.writerows([by, what, repr(float(v)), repr(float(s))] for by, what, v, s in rows)

print("numpy", np.__version__, "scipy", scipy.__version__)
print([noise(c) for c in (pressure, flow, volume)])
for row in rows:
    print(*row)
