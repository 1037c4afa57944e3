//! A fit in words, and as one JSON object.

use std::fmt::Write;

use serde_json::{Value, json as object};

use super::{Estimate, Estimates, Fit, Offer, Term, VolumeFrom};
use crate::CAUTION;
use crate::table::digits;

/// Half the width of an interval that holds 19 of 20, in standard errors.
const NINETEEN_OF_TWENTY: f64 = 1.96;

/// A fit as a page of plain text: estimates with their standard errors, what is left
/// over, what to keep in mind, and the caution.
#[must_use]
pub fn text(fit: &Fit) -> String {
    let mut page = String::new();
    // Writing to a String cannot fail.
    let _ = write_page(&mut page, fit);
    page
}

fn write_page(page: &mut String, fit: &Fit) -> std::fmt::Result {
    let volume = match fit.volume_from {
        VolumeFrom::Column => "the volume has a column of its own",
        VolumeFrom::Flow => "the volume is integrated from the flow",
    };
    writeln!(
        page,
        "Pressure = volume / C + R × flow + baseline, {} samples; {volume}",
        fit.samples
    )?;
    writeln!(
        page,
        "\n{:<26} {:>10} {:>10} {:>21}",
        "", "estimate", "std error", "19 of 20 times within"
    )?;
    for (name, estimate) in named(&fit.refined) {
        let Estimate { value, standard_error } = estimate;
        let reach = NINETEEN_OF_TWENTY * standard_error;
        let within = match reach.is_finite() {
            true => format!("{} to {}", digits(value - reach), digits(value + reach)),
            false => "withheld".to_owned(),
        };
        writeln!(
            page,
            "{name:<26} {:>10} {:>10} {within:>21}",
            digits(value),
            tiny(standard_error)
        )?;
    }
    writeln!(page, "\nBy plain least squares, as if pressure alone were noisy")?;
    for (name, Estimate { value, standard_error }) in named(&fit.linear) {
        writeln!(page, "{name:<26} {:>10} {:>10}", digits(value), tiny(standard_error))?;
    }
    writeln!(page, "\nLeft over, cmH2O            {:>10}", tiny(fit.residual_sd_cmh2o))?;
    writeln!(page, "Noise of pressure, cmH2O    {:>10}", tiny(fit.noise.pressure_cmh2o))?;
    writeln!(page, "Noise of flow, mL/s         {:>10}", tiny(fit.noise.flow_ml_s))?;
    if fit.volume_from == VolumeFrom::Flow {
        writeln!(page, "(what is left over holds the error of the integrated volume too)")?;
    } else {
        writeln!(page, "Noise of volume, mL         {:>10}", tiny(fit.noise.volume_ml))?;
    }
    if !fit.offers.is_empty() {
        writeln!(page)?;
        for offer in &fit.offers {
            writeln!(page, "Evidence: {offer}")?;
        }
    }
    if !fit.warnings.is_empty() {
        writeln!(page)?;
        for warning in &fit.warnings {
            writeln!(page, "! {warning}")?;
        }
    }
    writeln!(page, "\n{CAUTION}")
}

fn named(estimates: &Estimates) -> [(&'static str, Estimate); 4] {
    [
        ("resistance R, cmH2O·s/L", estimates.resistance_cmh2o_s_l),
        ("compliance C, mL/cmH2O", estimates.compliance_ml_cmh2o),
        ("baseline, cmH2O", estimates.baseline_cmh2o),
        ("time constant R × C, s", estimates.time_constant_s),
    ]
}

/// An error: three digits that count, in powers of ten where it is tiny.
fn tiny(value: f64) -> String {
    match value.abs() {
        size if !size.is_finite() => "withheld".to_owned(),
        0.0 => "0".to_owned(),
        size if size < 1e-4 => format!("{value:.1e}"),
        size if size < 0.1 => format!("{value:.5}"),
        size if size < 10.0 => format!("{value:.3}"),
        _ => format!("{value:.1}"),
    }
}

/// A fit as a JSON object in full precision, without its samples.
#[must_use]
pub fn json(fit: &Fit) -> Value {
    let warnings: Vec<_> = fit.warnings.iter().map(ToString::to_string).collect();
    let offer = |offer: &Offer| {
        let term = match offer.term {
            Term::Leak => "leak_ml_s_cmh2o",
            Term::EndExpiratoryPressure => "end_expiratory_pressure_cmh2o",
            Term::Inertance => "inertance_cmh2o_s2_l",
        };
        object!({ "term": term, "estimate": estimate(offer.estimate), "evidence": offer.evidence })
    };
    let offers: Vec<_> = fit.offers.iter().map(offer).collect();
    object!({
        "samples": fit.samples,
        "volume_from": match fit.volume_from {
            VolumeFrom::Column => "column",
            VolumeFrom::Flow => "flow",
        },
        "refined": estimates(&fit.refined),
        "least_squares": estimates(&fit.linear),
        "noise": {
            "pressure_cmh2o": fit.noise.pressure_cmh2o,
            "flow_ml_s": fit.noise.flow_ml_s,
            "volume_ml": fit.noise.volume_ml,
        },
        "drift_cmh2o_s": estimate(fit.drift_cmh2o_s),
        "flow_zero_ml_s": estimate(fit.flow_zero_ml_s),
        "jitter_s": fit.jitter_s,
        "offers": offers,
        "residual_sd_cmh2o": fit.residual_sd_cmh2o,
        "condition": fit.condition,
        "likeness_of_neighbours": fit.likeness,
        "warnings": warnings,
        "caution": CAUTION,
    })
}

fn estimate(estimate: Estimate) -> Value {
    object!({ "value": estimate.value, "standard_error": estimate.standard_error })
}

fn estimates(estimates: &Estimates) -> Value {
    object!({
        "resistance_cmh2o_s_l": estimate(estimates.resistance_cmh2o_s_l),
        "compliance_ml_cmh2o": estimate(estimates.compliance_ml_cmh2o),
        "baseline_cmh2o": estimate(estimates.baseline_cmh2o),
        "time_constant_s": estimate(estimates.time_constant_s),
    })
}
