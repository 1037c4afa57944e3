//! Terms that the equation of motion lacks, offered where the samples speak for them.

use std::fmt;

use super::refine::{Refined, product, sum_of_squares};
use super::solve::times;
use super::{Estimate, Solution};

/// Bayes's information criterion must fall by so much (very strong evidence by the usual
/// reading, Kass and Raftery 1995, from memory).
const STRONG: f64 = 10.0;

/// A term of the equation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Term {
    /// Gas lost between flow meter and lung, mL/s for each cmH2O.
    Leak,
    /// A pressure at the end of expiration above that of the room, cmH2O.
    EndExpiratoryPressure,
    /// Inertance of the gas, cmH2O·s²/L.
    Inertance,
}

/// A term with what it comes to, to first order, beside the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Offer {
    /// Which.
    pub term: Term,
    /// What it comes to, in the unit of the term.
    pub estimate: Estimate,
    /// By how much Bayes's information criterion falls with it.
    pub evidence: f64,
}

impl fmt::Display for Offer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Estimate { value, standard_error } = self.estimate;
        let evidence = self.evidence;
        match self.term {
            Term::Leak => write!(
                f,
                "the samples speak for a leak of {value:.3} mL/s per cmH2O, give or take \
                 {standard_error:.3} (evidence {evidence:.0}): intervals leave it out; look for it"
            ),
            Term::EndExpiratoryPressure => write!(
                f,
                "the samples speak for a pressure of {value:.2} cmH2O at the end of expiration \
                 (evidence {evidence:.0}): gas is trapped, or it was set so"
            ),
            Term::Inertance => write!(
                f,
                "the samples speak for an inertance of {value:.4} cmH2O·s²/L, give or take \
                 {standard_error:.4} (evidence {evidence:.0}): intervals leave it out"
            ),
        }
    }
}

/// What the samples speak for. `solution` has all that enlarges its errors.
pub(super) fn offers(found: &Refined<'_>, solution: &Solution) -> Vec<Offer> {
    let record = found.whitener.design.record;
    let n = record.time_s.len();
    let [r, e, p0, _] = solution.values;
    let mut offers = Vec::new();
    let sd_p0 = super::root(solution.covariance[2][2]);
    let mut keep = |term, scale: f64, found: Option<(f64, f64, f64)>| {
        let Some((value, standard_error, evidence)) = found else { return };
        if evidence > STRONG {
            let estimate =
                Estimate { value: scale * value, standard_error: (scale * standard_error).abs() };
            offers.push(Offer { term, estimate, evidence });
        }
    };
    // How far the pressure at the emptiest is above the room's.
    let emptiest = found.whitener.design.volume_ml.iter().copied().fold(f64::INFINITY, f64::min);
    let end = p0 + e * emptiest;
    let apart = end / sd_p0.max(1e-9);
    let evidence = apart * apart - ln(n);
    keep(Term::EndExpiratoryPressure, 1.0, (end > 0.05).then_some((end, sd_p0, evidence)));

    let mut pace = vec![0.0; n];
    for k in 1..n.saturating_sub(1) {
        let (q, t) = (&record.flow_ml_s, &record.time_s);
        pace[k] = (q[k + 1] - q[k - 1]) / (t[k + 1] - t[k - 1]);
    }
    keep(Term::Inertance, 1e3, added(found, pace));

    if found.whitener.steps.is_some() {
        // Gas lost is P times the leak: R·P less in the airway, and E·∫P less in the lung.
        let lost = super::Record {
            time_s: record.time_s.clone(),
            flow_ml_s: record.pressure_cmh2o.clone(),
            ..super::Record::default()
        };
        let volume = lost.integrated();
        let column = record.pressure_cmh2o.iter().zip(volume).map(|(p, v)| r * p + e * v);
        keep(Term::Leak, -1.0, added(found, column.collect()));
    }
    offers
}

fn ln(n: usize) -> f64 {
    tidewright::math::ln(n as f64)
}

/// What a further column comes to beside the four, its standard error, and how far the
/// criterion n·ln(Σu²) + k·ln n falls with it; residuals that are alike count as fewer.
fn added(found: &Refined<'_>, column: Vec<f64>) -> Option<(f64, f64, f64)> {
    let (mut white, _) = found.whitener.filtered(column, &found.solution.values);
    let before = sum_of_squares(&white);
    let right = std::array::from_fn(|i| product(&found.columns[i], &white));
    let parts = times(&found.inverse_square, &right);
    for (i, part) in parts.into_iter().enumerate() {
        white.iter_mut().zip(&found.columns[i]).for_each(|(w, c)| *w -= part * c);
    }
    let square = sum_of_squares(&white);
    // What is left after the four are taken away must be more than rounding.
    if square <= 1e-9 * before {
        return None;
    }
    let value = product(&white, &found.white) / square;
    let whole = sum_of_squares(&found.white);
    let left = (whole - value * value * square).max(f64::MIN_POSITIVE);
    let n = found.white.len();
    let alike = found.solution.likeness.clamp(0.0, 0.99);
    let count = n as f64 * (1.0 - alike) / (1.0 + alike);
    let standard_error = (left / (count - 5.0).max(1.0) / square).sqrt();
    let evidence = count * tidewright::math::ln(whole / left) - ln(n);
    Some((value, standard_error, evidence))
}
