//! A plan in words.

use std::fmt::Write;

use super::{Effect, Goals, Infeasible, Pace, Plan};
use crate::CAUTION;
use crate::table::digits;

/// A plan as a page of plain text: settings, the breath they give, the rule of thumb
/// beside them with every part of the difference, what each control changes, the
/// time limit, and the cautions.
#[must_use]
pub fn text(plan: &Plan) -> String {
    let mut page = String::new();
    // Writing to a String cannot fail.
    let _ = write_page(&mut page, plan);
    page
}

/// Goals that cannot be met as a page of plain text: what stands in the way, what
/// can be had instead, and the cautions.
#[must_use]
pub fn infeasible_text(goals: &Goals, infeasible: &Infeasible) -> String {
    let mut page = String::new();
    // Writing to a String cannot fail.
    let _ = write_infeasible(&mut page, goals, infeasible);
    page
}

fn write_infeasible(page: &mut String, goals: &Goals, infeasible: &Infeasible) -> std::fmt::Result {
    heading(page, goals)?;
    writeln!(page, "\nThese goals cannot be met with this patient and equipment:")?;
    for obstacle in &infeasible.obstacles {
        writeln!(page, "- {obstacle}")?;
    }
    if let Some(breath) = &infeasible.within_reach {
        writeln!(page, "\nWithin the limits, at this time and rate")?;
        let reached = [
            ("tidal volume, mL", breath.inspired_tidal_volume.as_ml()),
            ("peak pressure, cmH2O", breath.peak_pressure.as_cmh2o()),
        ];
        for (name, value) in reached {
            writeln!(page, "{name:<26} {:>10}", digits(value))?;
        }
    }
    cautions(page)
}

fn heading(page: &mut String, goals: &Goals) -> std::fmt::Result {
    writeln!(page, "Practice values for a simulated animal of {} kg", short(goals.weight.as_kg()))?;
    writeln!(
        page,
        "Goals: {} mL ({} mL/kg) in {} s, {} breaths a minute, at most {} cmH2O",
        short(goals.tidal_volume().as_ml()),
        short(goals.tidal_volume_ml_kg),
        short(goals.inspiratory_time.as_s()),
        short(goals.rate_per_min()),
        short(goals.pressure_ceiling.as_cmh2o())
    )?;
    if let Pace::EndTidal(goal) = &goals.pace {
        writeln!(
            page,
            "The rate is for {} mmHg of end-tidal carbon dioxide: 0.863 × {} mL/min, over that \
             pressure and {} mL of tidal volume beyond airway, tube and adapter, and {} times \
             that, since gas leaves a lung when it is most diluted, some alveoli meet no blood, \
             and some gas is breathed again",
            short(goal.carbon_dioxide.as_mmhg()),
            short(goal.production_ml_min),
            short((goals.tidal_volume() - goal.dead_space).as_ml()),
            short(goal.of_mass_balance)
        )?;
    }
    Ok(())
}

fn cautions(page: &mut String) -> std::fmt::Result {
    writeln!(
        page,
        "\nThese are practice values: on an animal the veterinary surgeon in charge decides."
    )?;
    writeln!(page, "{CAUTION}")
}

fn write_page(page: &mut String, plan: &Plan) -> std::fmt::Result {
    let (goals, ventilator, rule) = (&plan.goals, plan.ventilator(), &plan.rule_of_thumb);
    heading(page, goals)?;

    writeln!(page, "\n{:<26} {:>10} {:>14}", "Setting", "model", "rule of thumb")?;
    let settings = [
        (
            "fresh gas flow, L/min",
            ventilator.fresh_gas_flow.as_l_per_min(),
            Some(rule.fresh_gas_flow.as_l_per_min()),
        ),
        (
            "cycling pressure, cmH2O",
            ventilator.cycling_pressure.as_cmh2o(),
            Some(rule.cycling_pressure.as_cmh2o()),
        ),
        (
            "expiratory time, s",
            ventilator.expiratory_time.as_s(),
            Some(rule.expiratory_time.as_s()),
        ),
        ("inspiratory time limit, s", ventilator.inspiratory_time_limit.as_s(), None),
    ];
    rows(page, &settings)?;

    writeln!(page, "\n{:<26} {:>10} {:>14}", "Settled breath", "model", "by the rule")?;
    let by_rule = |of: fn(&tidewright::breath::Breath) -> f64| rule.breath.as_ref().map(of);
    let breath = &plan.breath;
    let results = [
        (
            "tidal volume, mL",
            breath.inspired_tidal_volume.as_ml(),
            by_rule(|breath| breath.inspired_tidal_volume.as_ml()),
        ),
        (
            "inspiratory time, s",
            breath.inspiratory_time.as_s(),
            by_rule(|breath| breath.inspiratory_time.as_s()),
        ),
        ("rate, 1/min", breath.rate_per_min(), by_rule(tidewright::breath::Breath::rate_per_min)),
        (
            "peak pressure, cmH2O",
            breath.peak_pressure.as_cmh2o(),
            by_rule(|breath| breath.peak_pressure.as_cmh2o()),
        ),
    ];
    rows(page, &results)?;
    if let Some(gas) = &plan.end_tidal {
        let gases = [
            ("end-tidal CO2, mmHg", gas.carbon_dioxide),
            ("arterial CO2, mmHg", gas.arterial_carbon_dioxide),
            ("mean inspired CO2, mmHg", gas.mean_inspired_carbon_dioxide),
        ];
        rows(page, &gases.map(|(name, pressure)| (name, pressure.as_mmhg(), None)))?;
    }

    why(page, plan)?;
    controls(page, plan)?;
    limit(page, plan)?;
    cautions(page)
}

fn rows(page: &mut String, rows: &[(&str, f64, Option<f64>)]) -> std::fmt::Result {
    for (name, model, rule) in rows {
        let rule = rule.map_or_else(|| "-".to_owned(), digits);
        writeln!(page, "{name:<26} {:>10} {rule:>14}", digits(*model))?;
    }
    Ok(())
}

fn why(page: &mut String, plan: &Plan) -> std::fmt::Result {
    let gas = &plan.gas;
    writeln!(page, "\nWhy the flow: fresh gas of one inspiration, mL")?;
    let parts = [
        ("into the lung", gas.into_lung.as_ml()),
        ("into the circuit", gas.into_circuit.as_ml()),
        ("lost through leaks", gas.leaked.as_ml()),
        ("by other ways", gas.elsewhere.as_ml()),
    ];
    for (name, ml) in parts {
        writeln!(page, "  {name:<24} {:>10}", digits(ml))?;
    }
    writeln!(page, "  {:<24} {:>10}", "together", digits(gas.fresh.as_ml()))?;

    let pressure = &plan.pressure;
    let rule = plan.rule_of_thumb.cycling_pressure - pressure.device;
    writeln!(page, "Why the cycling pressure, cmH2O")?;
    let parts = [
        ("end-expiratory device", pressure.device),
        ("back pressure of flow", pressure.back_pressure),
        ("gas trapped in the lung", pressure.trapped),
        ("filling the lung", pressure.elastic),
        ("tube and airway", pressure.resistive),
        ("sensor", pressure.sensor),
    ];
    for (name, part) in parts {
        writeln!(page, "  {name:<24} {:>10}", digits(part.as_cmh2o()))?;
    }
    writeln!(page, "  {:<24} {:>10}", "together", digits(pressure.sensed.as_cmh2o()))?;
    writeln!(
        page,
        "  (the rule has {} for filling the lung, and nothing for the rest but the device)",
        digits(rule.as_cmh2o())
    )
}

fn controls(page: &mut String, plan: &Plan) -> std::fmt::Result {
    writeln!(page, "\nA little more of one control changes the settled breath by")?;
    writeln!(
        page,
        "{:<26} {:>10} {:>10} {:>10} {:>10}",
        "", "VT, mL", "TI, s", "rate, 1/min", "peak, cmH2O"
    )?;
    let sensitivity = &plan.sensitivity;
    let rows = [
        ("+0.1 L/min of flow", &sensitivity.per_l_min, 0.1),
        ("+1 cmH2O of pressure", &sensitivity.per_cmh2o, 1.0),
        ("+0.1 s of expiration", &sensitivity.per_s, 0.1),
    ];
    for (name, effect, by) in rows {
        let Effect { tidal_volume_ml, inspiratory_time_s, rate_per_min, peak_pressure_cmh2o } =
            effect;
        writeln!(
            page,
            "{name:<26} {:>10} {:>10} {:>10} {:>10}",
            signed(by * tidal_volume_ml),
            signed(by * inspiratory_time_s),
            signed(by * rate_per_min),
            signed(by * peak_pressure_cmh2o)
        )?;
    }
    Ok(())
}

fn limit(page: &mut String, plan: &Plan) -> std::fmt::Result {
    let limit = &plan.time_limit;
    let breath = &limit.if_never_told;
    let volume = breath.inspired_tidal_volume.as_ml();
    writeln!(
        page,
        "\nTime limit {} s: the shorter of 1.5 × the inspiratory time ({} s) and the time in which \
         20 mL/kg flow ({} s).",
        digits(limit.limit.as_s()),
        digits(limit.by_time.as_s()),
        digits(limit.by_volume.as_s())
    )?;
    if limit.is_beyond_volume() {
        writeln!(page, "The breath wanted needs more room than 20 mL/kg leave: think again.")?;
    }
    writeln!(
        page,
        "If the pressure were never told, it would let in {} mL ({} mL/kg) at {} cmH2O.",
        digits(volume),
        digits(volume / plan.goals.weight.as_kg()),
        digits(breath.peak_pressure.as_cmh2o())
    )
}

/// The same without idle zeros, for running text.
fn short(value: f64) -> String {
    let text = digits(value);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

fn signed(value: f64) -> String {
    let text = format!("{value:+.3}");
    if text == "-0.000" || text == "+0.000" { "0".to_owned() } else { text }
}
