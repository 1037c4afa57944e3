"""Published and hand-worked numbers of gas exchange and rebreathing.

Writes data.csv in the form of worked-examples/data.csv.
Run: python3 generate.py (standard library only).
"""

import csv
from math import exp, log
from pathlib import Path

ROWS = []
CLOSED = "closed form, see source.md"


def example(name, source, confidence="read", **inputs):
    for quantity, value in inputs.items():
        ROWS.append([name, "input", quantity, value, "", "", source])
    published = lambda quantity, value, rounding: ROWS.append(
        [name, "output", quantity, value, rounding, confidence, source])
    computed = lambda quantity, value: ROWS.append([name, "output", quantity, value, "", "computed", CLOSED])
    return published, computed


SHEET = "teaching sheet of respiratory calculations (author not shown)"
HATCH = "Hatch DJ, Yates AP, Lindahl SGE 1987, Br J Anaesth 59:1533 (abstract)"
WATER = 47.0

# Alveolar gas.
published, computed = example(
    "alveolar-gas-at-altitude", SHEET, barometric_pressure_mmhg=667.0, inspired_oxygen_fraction=0.21,
    arterial_co2_mmhg=40.0, co2_factor=1.2, arterial_oxygen_mmhg=75.0)
inspired = 0.21 * (667 - WATER)
computed("inspired_oxygen_mmhg", inspired)
computed("alveolar_oxygen_mmhg", inspired - 48)
computed("arterial_to_alveolar_ratio", 75 / (inspired - 48))
published("inspired_oxygen_mmhg", 130.2, 0.05)
published("alveolar_oxygen_mmhg", 82.2, 0.05)
published("arterial_to_alveolar_ratio", 0.91, 0.005)
published("alveolar_arterial_difference_mmhg", 7.2, 0.05)

published, computed = example(
    "alveolar-gas-at-sea-level", "alveolar gas equation reference page", barometric_pressure_mmhg=760.0,
    inspired_oxygen_fraction=0.21, arterial_co2_mmhg=36.0, respiratory_quotient=0.8)
inspired = 0.21 * (760 - WATER)
computed("alveolar_oxygen_full_equation_mmhg", inspired - 36 * (0.21 + 0.79 / 0.8))
computed("alveolar_oxygen_short_form_mmhg", inspired - 36 / 0.8)
published("alveolar_oxygen_full_equation_mmhg", 107.0, 0.5)

# Dead space and ventilation.
published, computed = example("bohr-dead-space", SHEET, arterial_co2_mmhg=40.0, mixed_expired_co2_mmhg=27.0, tidal_volume_ml=500.0)
computed("dead_space_ratio", 13 / 40)
computed("dead_space_ml", 500 * 13 / 40)
published("dead_space_ml", 162.5, 0.05)
published("dead_space_ratio", 0.325, 0.0005)

published, computed = example("minute-volumes", SHEET, tidal_volume_ml=500.0, rate_per_min=14.0, dead_space_ml=150.0)
computed("minute_volume_l_min", 7.0)
computed("alveolar_ventilation_l_min", 4.9)
computed("dead_space_ventilation_l_min", 2.1)
published("minute_volume_l_min", 7.0, 0.05)
published("alveolar_ventilation_l_min", 4.9, 0.05)
published("dead_space_ventilation_l_min", 2.1, 0.05)

# 760 mmHg of dry gas at 0 °C, at 37 °C: mmHg·L/mL.
constant = 760 * 310.15 / 273.15 / 1000
_, computed = example("alveolar-ventilation-constant", "own arithmetic")
computed("constant_mmhg_l_ml", constant)
computed("btps_over_stpd", 310.15 / 273.15 * 760 / (760 - WATER))
for ventilation in (4.2, 4.9):
    _, computed = example(f"arterial-co2-at-{ventilation}", "own arithmetic", co2_production_ml_min=200.0, alveolar_ventilation_l_min=ventilation)
    computed("arterial_co2_mmhg", 0.863 * 200 / ventilation)
_, computed = example("fully-mixed-rebreathing-bound", "own arithmetic", co2_production_ml_min=200.0, fresh_gas_flow_l_min=4.9)
computed("arterial_co2_mmhg", 0.863 * 200 / 4.9)

# Stores and apnoea.
published, computed = example(
    "co2-store-slow-pool", "Tissue carbon dioxide stores: magnitude of acute change in the dog, J Appl Physiol (abstract)",
    rate_constant_per_min=0.062, time_min=60.0)
computed("fraction_reached", 1 - exp(-0.062 * 60))
published("fraction_reached", 0.98, 0.005)
published("store_slope_ml_kg_mmhg", 3.73, 0.005)
published, computed = example(
    "co2-store-whole-body", "Gas stores of the body and the unsteady state, J Appl Physiol 1955 (abstract), dog")
published("store_slope_ml_kg_mmhg", 1.5, 0.05)
published("tissue_store_slope_ml_kg_mmhg", 1.02, 0.005)
published("co2_half_time_min", 4.0, 0.5)
published("oxygen_half_time_min", 0.5, 0.05)
computed("co2_rate_constant_per_min", log(2) / 4)
published, _ = example("apnoea-human-awake", "Stock MC et al. 1988, J Clin Anesth 1:96 (abstract)")
published("rise_in_first_10_s_mmhg", 7.0, 0.5)
published("rise_in_next_10_s_mmhg", 2.0, 0.5)
published("later_rise_mmhg_min", 6.0, 0.5)
published, _ = example("apnoea-horse", "Blaze CA, Robinson NE 1987, quoted in a later paper")
published("rise_mmhg_min", 5.5, 0.05)
published, _ = example("apnoea-pony", "citing passage in a study of apnoeic oxygenation")
published("rise_in_first_minute_mmhg", 11.0, 0.5)
published, _ = example("apnoea-human-anaesthetised", "Eger & Severinghaus 1961, Anesthesiology 22:419", confidence="memory")
published("rise_in_first_minute_mmhg", 12.0, 0.5)
published("later_rise_mmhg_min", 3.25, 0.25)

# T-piece and Bain.
for kg in (5.0, 10.0, 20.0):
    _, computed = example(f"t-piece-controlled-{kg:g}-kg", HATCH, weight_kg=kg)
    computed("minute_volume_ml_min", 146 * kg + 482)
    computed("fresh_gas_flow_ml_min", 1.5 * (146 * kg + 482))
    computed("fresh_gas_flow_by_rule_ml_min", 200 * kg + 1000)
published, _ = example("t-piece-controlled-at-minute-volume", HATCH, fresh_gas_over_minute_volume=1.0)
published("end_tidal_co2_kpa", 5.89, 0.53)
published("end_tidal_co2_without_rebreathing_kpa", 4.5, 0.05)
published, _ = example("t-piece-controlled-no-rebreathing", HATCH)
published("fresh_gas_over_minute_volume", 1.8, 0.05)
published, computed = example("t-piece-spontaneous-children", "Lindahl SGE et al. 1984, Br J Anaesth (abstract)", weight_kg=4.0, rate_per_min=30.0)
computed("fresh_gas_flow_ml_min", 15 * 4.0 * 30)
published, computed = example("t-piece-inspired-co2", "Br J Anaesth 1985;57:1188 (abstract): children, halothane, spontaneous", fresh_gas_over_minute_volume=1.0)
computed("highest_inspired_co2_percent", -0.7 + 2.5)
published("highest_inspired_co2_percent", 1.8, 0.05)
published, _ = example("t-piece-cat", "Vet Anaesth Analg trial, 15 cats of 3.1 kg, halothane (abstract)", threshold_inspired_co2_percent=0.2)
published("fresh_gas_flow_ml_kg_min", 455.0, 0.5)
published, _ = example("bain-controlled", "textbook figure legend (web page)")
published("normocapnia_fresh_gas_flow_ml_kg_min", 75.0, 5.0)
published("mild_hypocapnia_fresh_gas_flow_ml_kg_min", 100.0, 0.5)

with open(Path(__file__).parent / "data.csv", "w", newline="") as file:
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(["example", "role", "quantity", "value", "rounding", "confidence", "source"])
    for row in ROWS:
        row[3] = repr(float(row[3]))  # the shortest text that reads back to the same number
        writer.writerow(row)
