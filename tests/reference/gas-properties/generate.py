"""Densities and viscosities of breathed gases, and pressure lost in smooth tubes.

Writes data.csv (properties) and tubes.csv (tube laws).
Run: python3 generate.py. Needs CoolProp; version in source.md.
"""

import csv
from math import pi
from pathlib import Path

import CoolProp
from CoolProp.CoolProp import PropsSI

HERE = Path(__file__).parent
PRESSURE_PA, CMH2O_PA = 101325.0, 98.0665
# Friction factor 0.3164·Re^-0.25 with Re = 4·rho·Q/(pi·mu·D).
BLASIUS = 0.3164 / 2 * (4 / pi) ** 1.75
GASES = {
    "air": "Air", "oxygen": "Oxygen", "nitrogen": "Nitrogen",
    "carbon-dioxide": "CarbonDioxide", "nitrous-oxide": "NitrousOxide",
}
TEMPERATURES_C = (20.0, 37.0)
# Inner diameter [mm], length [cm], flows [L/s].
TUBES = [
    (2.0, 12.0, (0.005, 0.02)), (2.5, 16.0, (0.01, 0.05)), (3.0, 18.0, (0.02, 0.1)),
    (4.0, 20.0, (0.05, 0.2)), (5.0, 25.0, (0.1, 0.25)), (8.0, 32.0, (0.5, 1.0)),
    (10.0, 35.0, (0.5, 1.5)), (26.0, 100.0, (2.0, 5.0)),
]


def viscosity(fluid, kelvin):
    """CoolProp has no viscosity for some fluids; that stays empty here."""
    try:
        return PropsSI("V", "T", kelvin, "P", PRESSURE_PA, fluid)
    except ValueError as fault:
        assert "not available" in str(fault), fault
        return None


def write(name, header, rows):
    with open(HERE / name, "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        for row in rows:
            writer.writerow("" if x is None else x if isinstance(x, str) else format(x, ".17g") for x in row)


properties, tubes = [], []
for gas, fluid in GASES.items():
    for celsius in TEMPERATURES_C:
        kelvin = celsius + 273.15
        density, mu = PropsSI("D", "T", kelvin, "P", PRESSURE_PA, fluid), viscosity(fluid, kelvin)
        properties.append([gas, celsius, PRESSURE_PA, density, mu, None])
        if gas not in ("air", "oxygen") or celsius != 37.0:
            continue
        for diameter, length, flows in TUBES:
            for flow in flows:
                d, l, q = diameter / 1000, length / 100, flow / 1000
                reynolds = 4 * density * q / (pi * mu * d)
                poiseuille = 128 * mu * l / (pi * d**4)
                blasius = BLASIUS * density**0.75 * mu**0.25 * l * q**1.75 / d**4.75
                tubes.append([gas, celsius, diameter, length, flow, reynolds,
                              poiseuille / CMH2O_PA / 1000, poiseuille * q / CMH2O_PA, blasius / CMH2O_PA])
for celsius in TEMPERATURES_C:
    properties.append(["water-vapour", celsius, None, None, None, PropsSI("P", "T", celsius + 273.15, "Q", 0, "Water")])

write("data.csv", ["gas", "temperature_c", "pressure_pa", "density_kg_m3", "viscosity_pa_s", "saturation_pressure_pa"], properties)
write("tubes.csv", ["gas", "temperature_c", "inner_diameter_mm", "length_cm", "flow_l_s", "reynolds_number",
                    "poiseuille_resistance_cmh2o_s_l", "poiseuille_pressure_cmh2o", "blasius_pressure_cmh2o"], tubes)
print("CoolProp", CoolProp.__version__)
