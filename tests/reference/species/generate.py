"""Measured values of animals, as published, in the units used here.

Writes data.csv. Values are typed in below as printed, with a factor where the
unit was another. Run: python3 generate.py (standard library only).
"""

import csv
from pathlib import Path

KPA = 1000 / 98.0665  # cmH2O
KPA_MMHG = 1000 / 133.322387415
ROWS = []


def study(source, species, low_kg, high_kg, state, *values):
    """Values are (quantity, value, spread) and, for another unit, a factor."""
    for quantity, value, spread, *factor in values:
        factor = factor[0] if factor else 1
        ROWS.append([species, low_kg, high_kg, state, quantity, value * factor,
                     None if spread is None else spread * factor, "read", source])


# Mechanics.
study("Asorey I et al. 2020, J Small Anim Pract 61:617 (abstract)", "dog", None, None,
      "anaesthetised, volume-controlled, n 100", ("compliance_ml_cmh2o_kg", 1.3, 0.3))
study("Clark WT, Jones BR, Clark J 1977, Vet Rec 101:497 (abstract)", "dog", 11.8, 26.4,
      "n 27", ("dynamic_lung_compliance_ml_cmh2o", 117, 46))
study("Corcoran BM, Abercromby RH 1989, Vet Rec 125:450 (abstract)", "dog", None, None,
      "anaesthetised, spontaneous, 25 min after the first measurement",
      ("compliance_left_fraction", 0.74, None), ("lung_compliance_left_fraction", 0.66, None),
      ("chest_wall_compliance_left_fraction", 0.60, None))
study("PMC6538511 2019 (abstract)", "dog", None, None, "healthy, ventilated (medians)",
      ("tidal_volume_ml_kg", 16, None), ("driving_pressure_cmh2o", 9, None))
study("J Vet Med Sci 1994;56:607 (abstract)", "cat", None, None, "anaesthetised, paralysed, n 8",
      ("linear_up_to_cmh2o", 15, None))
study("Tidal volume, oxygen uptake, cardiac output, and body surface in the cat, Am J Physiol (abstract)",
      "cat", 2.6, 2.6, "chloralose, spontaneous, n 19; weight computed from body surface",
      ("tidal_volume_ml", 26, None), ("rate_per_min", 15, None), ("minute_volume_ml_min", 380, None),
      ("oxygen_uptake_ml_min", 18.5, None))
study("Pulmonary mechanics of the normal ferret, J Appl Physiol (abstract)", "ferret", 0.20, 0.36,
      "anaesthetised males, n 8",
      ("lung_compliance_ml_cmh2o", 2.93, None), ("chest_wall_compliance_ml_cmh2o", 22.42, None),
      ("compliance_ml_cmh2o", 2.55, None), ("dynamic_lung_compliance_ml_cmh2o", 1.6, None),
      ("lung_resistance_cmh2o_s_l", 24, None), ("rate_per_min", 43.5, None),
      ("minute_volume_ml_min", 195, None), ("total_lung_capacity_ml", 49.8, None),
      ("functional_residual_capacity_ml", 49.8, None, 0.338), ("tidal_volume_ml", 49.8, None, 0.080))
study("Pulmonary mechanics of the normal ferret, J Appl Physiol (abstract)", "ferret", 0.20, 0.36,
      "anaesthetised, breathing through the nose, n 10", ("airway_resistance_cmh2o_s_l", 116, None))
study("Respiratory mechanics of a small carnivore: the ferret, J Appl Physiol (abstract)", "ferret", 0.576, 0.576,
      "anaesthetised, tracheotomised, supine, n 6",
      ("tidal_volume_ml", 6.06, 0.30), ("rate_per_min", 26.7, 3.9),
      ("dynamic_lung_compliance_ml_cmh2o", 2.48, 0.21), ("lung_resistance_cmh2o_s_l", 22.56, 1.61),
      ("total_lung_capacity_ml", 89, None), ("functional_residual_capacity_ml", 17.8, None))
study("Lai YL, Hildebrandt J 1978, J Appl Physiol 45:255 (abstract)", "rat", 0.307, 0.307, "anaesthetised, n 15",
      ("lung_compliance_ml_cmh2o", 0.90, 0.06), ("chest_wall_compliance_ml_cmh2o", 1.50, 0.11),
      ("compliance_ml_cmh2o", 0.57, 0.03), ("residual_volume_ml", 1.26, None),
      ("functional_residual_capacity_ml", 2.51, None), ("total_lung_capacity_ml", 12.23, None))
for hertz, resistance, elastance in ((0.5, 37.3, 453), (2, 17.6, 594), (10, 10.3, 713)):
    study("forced-oscillation study, European respiratory journal era (abstract)", "rat", 0.351, 0.351,
          f"anaesthetised, paralysed, n 7, at {hertz} Hz",
          ("resistance_cmh2o_s_l", resistance, None, KPA), ("elastance_cmh2o_l", elastance, None, KPA))
study("Koo KW et al. 1976, J Appl Physiol 40:936 (abstract)", "hamster", 0.122, 0.122, "pentobarbital",
      ("lung_compliance_ml_cmh2o", 0.63, None), ("chest_wall_compliance_ml_cmh2o", 3.39, None),
      ("functional_residual_capacity_ml", 2.4, None), ("total_lung_capacity_ml", 7.2, None))
study("Svantesson C et al. 1996, Respir Physiol 106:307 (abstract)", "rabbit", None, None, "n 11",
      ("linear_up_to_ml_kg", 6.7, None))
study("Passive expiratory flow-volume recordings in immature newborn rabbits (abstract)", "rabbit", None, None,
      "27 days' gestation, paralysed, untreated", ("time_constant_s", 0.023, 0.004))
study("Am J Vet Res 1978;39:773 (abstract)", "calf", 59, 59, "awake, n 6",
      ("lung_resistance_cmh2o_s_l", 3.1, None), ("dynamic_lung_compliance_ml_cmh2o", 150, None),
      ("rate_per_min", 27.3, None), ("arterial_co2_mmhg", 41.2, None))
study("Gustin P et al. (abstract)", "cattle", None, None, "adult, resting",
      ("airway_inertance_cmh2o_s2_l", 0.002, None, KPA))
study("Brandly JE et al. 2023, Front Vet Sci 10:1135452 (abstract)", "horse", None, None,
      "adult, dorsal, anaesthetised, conventional expiration, n 12", ("alveolar_closure_pressure_cmh2o", 11.0, 1.5))
study("Ventilatory and timing parameters in normal horses, Equine Vet J 1995 (abstract)", "horse", None, None,
      "awake, 24 h old", ("minute_volume_ml_min_kg", 848, 231))
study("Ventilatory and timing parameters in normal horses, Equine Vet J 1995 (abstract)", "horse", None, None,
      "awake, 1 year old", ("minute_volume_ml_min_kg", 155, 15))

# Gas exchange.
study("Moens Y 1989, Equine Vet J 21:282 (abstract)", "horse", None, None, "halothane, n 110",
      ("arterial_minus_end_tidal_co2_mmhg", 1.6, 0.8, KPA_MMHG), ("alveolar_dead_space_fraction", 0.23, 0.13))
study("textbook chapter 208, Blood gas and oximetry monitoring, Table 208-1", "dog", None, None, "awake, air",
      ("arterial_co2_mmhg", 37, 3), ("arterial_oxygen_mmhg", 102, 7))
study("textbook chapter 208, Blood gas and oximetry monitoring, Table 208-1", "cat", None, None, "awake, air",
      ("arterial_co2_mmhg", 31, 6), ("arterial_oxygen_mmhg", 107, 12))
study("Normal arterial blood pH, oxygen, and carbon dioxide tensions in unanesthetized dogs, J Appl Physiol 1972 (abstract)",
      "dog", None, None, "awake, not panting, at 39 C, n 30",
      ("arterial_co2_mmhg", 36.8, 2.4), ("arterial_oxygen_mmhg", 89.5, 4.4), ("ph", 7.42, None))
study("J Small Anim Pract 1977;18:535 (abstract)", "dog", None, None, "awake, air, n 30",
      ("arterial_co2_mmhg", 34.0, 3.9), ("arterial_oxygen_mmhg", 101.3, 5.6), ("arterial_saturation", 0.938, None))
study("Waddell LS 2016, Clinician's Brief, Table 1", "cat", None, None, "awake",
      ("arterial_co2_mmhg", 33.6, 7), ("bicarbonate_mmol_l", 17.5, 3))
for state, value, spread in (("awake, alert", 5.57, 0.48), ("drowsy", 3.97, 0.41), ("natural sleep", 2.46, 0.20),
                             ("2 percent halothane, controlled ventilation", 3.54, 0.27)):
    study("Mikat M et al. 1984, Anesthesiology (abstract), n 6", "dog", None, None, state,
          ("oxygen_uptake_ml_min_kg", value, spread))
for state, value in (("fed", 516), ("fasted", 410)):
    # 22.414 mL STPD in a millimole of ideal gas.
    study("Pouteau EB et al. 2002, Am J Vet Res 63:111 (abstract)", "dog", None, None, f"awake, {state}, n 6",
          ("co2_production_ml_min_kg_to_0.75", value, None, 0.022414))

with open(Path(__file__).parent / "data.csv", "w", newline="") as file:
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(["species", "weight_low_kg", "weight_high_kg", "state", "quantity", "value", "spread", "confidence", "source"])
    for row in ROWS:
        writer.writerow("" if x is None else repr(float(x)) if isinstance(x, (int, float)) else x for x in row)
