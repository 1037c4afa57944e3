//! The smallest leak that a squeeze of the thumb shows.

use tidewright::bench::Squeeze;
use tidewright::quantity::{Compliance, Pressure, Seconds, Volume};
use tidewright_scenario::Scenario;

use super::error::DrawFileError;
use super::run::kept_together;
use crate::file::language::ENGLISH;
use crate::file::{SqueezeCurve, SqueezeTest};
use crate::paper::curve::Piece;
use crate::paper::theme;
use crate::plot::panel::{Curve, Panel};
use crate::plot::stack::Stack;
use crate::plot::ticks::number;

/// Points along a curve, which is a formula.
const STEPS: u32 = 120;

pub(super) fn stack<'a>(
    test: &SqueezeTest,
    scenario: &Scenario,
) -> Result<Stack<'a>, DrawFileError> {
    let cycling = scenario.protocol().start.ventilator.cycling_pressure;
    let mut panel = Panel { key: true, ..Panel::of(ENGLISH.least_leak, 0.1) };
    for (curve, pen) in test.curves.iter().zip(theme::FAMILY) {
        let label = kept_together(&curve.label);
        panel.curves.push(Curve { label, pen, pieces: vec![along(test, curve, cycling)?] });
    }
    Ok(Stack::over(ENGLISH.along_squeeze, test.from_s, test.to_s, vec![panel]))
}

/// The pressure at which the ventilator clicks, in place of a patient: there is none.
pub(super) fn pressed_at(scenario: &Scenario) -> String {
    let cycling = scenario.protocol().start.ventilator.cycling_pressure;
    format!("{} {} cmH₂O", ENGLISH.clicks_at, number(cycling.as_cmh2o()))
}

fn along(
    test: &SqueezeTest,
    curve: &SqueezeCurve,
    cycling: Pressure,
) -> Result<Piece, DrawFileError> {
    let shown = |i: u32| {
        let over_s = test.from_s + (test.to_s - test.from_s) * f64::from(i) / f64::from(STEPS);
        let squeeze = Squeeze {
            sealed: Volume::ml(curve.sealed_ml),
            walls: Compliance::ml_per_cmh2o(curve.walls_ml_cmh2o),
            squeezed: Volume::ml(curve.squeezed_ml),
            over: Seconds::s(over_s),
        };
        let too_little = || DrawFileError::NoClick {
            label: curve.label.clone(),
            cycling_cmh2o: cycling.as_cmh2o(),
            needed_ml: (squeeze.compliance() * cycling).as_ml(),
        };
        let leak = squeeze.smallest_leak(cycling).ok_or_else(too_little)?;
        Ok((over_s, 60.0 * leak.flow.as_ml_s()))
    };
    (0..=STEPS).map(shown).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCENARIO: &str = r#"Scenario(format: 1, id: "thumb", duration_s: 10,
        patient: (species: Cat, weight_kg: 4),
        ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 10,
            inspiratory_time_limit_s: 2, expiratory_time_s: 2))"#;

    fn drawn(squeezed_ml: f64) -> Result<Piece, DrawFileError> {
        let scenario = tidewright_scenario::parse("thumb.ron", SCENARIO).expect("a scenario");
        let (label, walls_ml_cmh2o) = ("thumb".to_owned(), 0.0);
        let curve = SqueezeCurve { label, sealed_ml: 15.0, squeezed_ml, walls_ml_cmh2o };
        let test = SqueezeTest { from_s: 0.25, to_s: 4.0, curves: vec![curve] };
        let stack = stack(&test, &scenario)?;
        Ok(stack.panels[0].curves[0].pieces[0].clone())
    }

    /// What escapes depends on leak times time over compliance alone, so that the smallest
    /// leak goes with one over the time of the thumb.
    #[test]
    fn closed_form_twice_the_time_shows_half_the_leak() {
        let piece = drawn(0.18).expect("a curve");
        let (first_s, first) = piece[0];
        assert_eq!(piece.len(), 1 + STEPS as usize);
        for (over_s, leak) in piece {
            assert!((leak * over_s / (first * first_s) - 1.0).abs() < 1e-9, "{over_s} s: {leak}");
        }
    }

    /// Boyle's law: 0.145 mL of 15 mL for 10 cmH2O.
    #[test]
    fn closed_form_a_squeeze_that_is_too_small_is_refused() {
        let refused = drawn(0.14).expect_err("no click").to_string();
        assert!(refused.contains("0.145 mL"), "{refused}");
    }
}
