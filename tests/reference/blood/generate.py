"""Haemoglobin curves as printed, evaluated, and the published P50s.

Writes data.csv (saturations), p50.csv, slopes.csv (published shifts of P50) and
shifts.csv (the human curve's shifts by pressure). Run: python3 generate.py. Needs mpmath; version in source.md.
"""

import csv
from pathlib import Path

import mpmath as mp

HERE = Path(__file__).parent
mp.mp.dps = 40

# Name, numerator, slope: S = 1/(numerator/(P³ + slope·P) + 1), P in mmHg.
CURVES = [("human-37-c", 23400, 150), ("dog-39-c", 37900, 205)]
PRESSURES = [1, 5, 10, 15, 20, 25, 26.6, 30, 31.5, 35, 40, 45, 50, 60, 70, 80, 90, 100, 150, 200, 300, 500]

P50 = [
    # species, mmHg, spread, °C, pH, PCO2 mmHg, source
    ("horse", 23.8, 0.8, 37, 7.4, 40, "Clerbaux T et al. 1993, Comp Biochem Physiol A 106:687 (abstract)"),
    ("cattle", 25.0, 1.4, 37, 7.4, 40, "Clerbaux T et al. 1993, Comp Biochem Physiol A 106:687 (abstract)"),
    ("human", 26.6, 1.2, 37, 7.4, 40, "Clerbaux T et al. 1993, Comp Biochem Physiol A 106:687 (abstract)"),
    ("dog", 28.8, 2.6, 37, 7.4, 40, "Clerbaux T et al. 1993, Comp Biochem Physiol A 106:687 (abstract)"),
    ("dog", 30.0, 1.3, 37, 7.4, 40, "Cambier C et al. 2004, Res Vet Sci 77:83 (abstract)"),
    ("cat", 34.1, 1.8, 37, 7.4, 40, "Cambier C et al. 2004, Res Vet Sci 77:83 (abstract)"),
    ("cat", 35.6, None, 37, None, None, "Herrmann K, Haskins S 2005, J Vet Emerg Crit Care 15:26 (abstract), by saturation"),
    ("cat", 36.2, None, 37, None, None, "Herrmann K, Haskins S 2005, J Vet Emerg Crit Care 15:26 (abstract), by content"),
    ("dog", 31.5, None, 39, 7.4, None, "Reeves RB et al. 1982, J Appl Physiol 53:87 (abstract)"),
    ("dog", 15.4, None, 25, 7.4, None, "Reeves RB et al. 1982, J Appl Physiol 53:87 (abstract)"),
]
SLOPES = [
    # species, dlogP50/dpH, dlogP50/dlogPCO2, dlogP50/dT per °C, °C, source
    ("dog", -0.370, 0.093, 0.020, 37, "Cambier C et al. 2004, Res Vet Sci 77:83 (abstract)"),
    ("cat", -0.405, 0.080, 0.016, 37, "Cambier C et al. 2004, Res Vet Sci 77:83 (abstract)"),
    ("dog", -0.488, None, 0.022, 39, "Reeves RB et al. 1982, J Appl Physiol 53:87 (abstract), fixed acid"),
    ("cattle", -0.40, None, 0.017, 37, "Gustin P et al. 1988, Comp Biochem Physiol A 89:553 (abstract)"),
]


def saturation(numerator, slope, p):
    return 1 / (numerator / (p**3 + slope * p) + 1)


def write(name, header, rows):
    with open(HERE / name, "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        for row in rows:
            writer.writerow("" if x is None else format(float(x), ".17g") if isinstance(x, mp.mpf) else x for x in row)


rows, p50 = [], []
for name, numerator, slope in CURVES:
    rows += [[name, p, saturation(numerator, slope, mp.mpf(str(p)))] for p in PRESSURES]
    # S = 1/2 where P³ + slope·P = numerator.
    half = mp.findroot(lambda p: p**3 + slope * p - numerator, 30)
    p50.append([name.split("-")[0], half, None, int(name.split("-")[1]), 7.4, None, "computed", f"{name} curve above"])
write("data.csv", ["curve", "po2_mmhg", "saturation"], rows)
write("p50.csv", ["species", "p50_mmhg", "spread_mmhg", "temperature_c", "ph", "pco2_mmhg", "confidence", "source"],
      p50 + [[*row[:6], "read", row[6]] for row in P50])
write("slopes.csv", ["species", "bohr_dlogp50_dph", "co2_dlogp50_dlogpco2", "temperature_dlogp50_per_c",
                     "temperature_c", "confidence", "source"], [[*row[:5], "read", row[5]] for row in SLOPES])

human = []
for p in map(mp.mpf, (10, 20, 40, 60, 100)):
    human.append([p, (p / mp.mpf("26.6")) ** mp.mpf("0.184") - mp.mpf("2.2"),
                  mp.mpf("0.058") / ((mp.mpf("0.243") * p / 100) ** mp.mpf("3.88") + 1) + mp.mpf("0.013")])
write("shifts.csv", ["po2_mmhg", "human_dlnpo2_dph", "human_dlnpo2_per_c"], human)
print("mpmath", mp.__version__)
