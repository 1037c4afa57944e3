//! What a run uses up: oxygen from a cylinder, liquid from a vaporiser.

use crate::base::quantity::Flow;

/// Gas in a cylinder, L at atmospheric pressure, by Boyle's law: inner volume (L)
/// times gauge pressure over the atmosphere. It does not hold for a gas that is
/// partly liquid in its cylinder, such as nitrous oxide.
///
/// ```
/// use tidewright::supply::cylinder_contents_l;
/// // 2 L of inner volume at 137 bar.
/// assert!((cylinder_contents_l(2.0, 137.0) - 270.4).abs() < 0.1);
/// ```
#[must_use]
pub fn cylinder_contents_l(inner_volume_l: f64, gauge_bar: f64) -> f64 {
    const ATMOSPHERE_BAR: f64 = 1.01325;
    inner_volume_l * gauge_bar / ATMOSPHERE_BAR
}

/// Minutes that contents (L) last at a flow: contents over flow; without flow for
/// ever.
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright::supply::minutes_left;
/// assert!((minutes_left(40.0, Flow::l_per_min(4.0)) - 10.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn minutes_left(contents_l: f64, flow: Flow) -> f64 {
    contents_l / flow.as_l_per_min()
}

/// Liquid that a vaporiser turns into vapour at a fresh gas flow and a dial
/// setting (percent of the gas that leaves it), mL/h.
///
/// `vapour_ml_per_ml` is the vapour that 1 mL of liquid gives, about 200 mL for
/// the usual agents (textbook value, from memory).
///
/// Carrier flow is taken to be F: vapour is F·d/(100 − d).
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright::supply::vapour_liquid_ml_per_h;
/// let used = vapour_liquid_ml_per_h(Flow::l_per_min(2.0), 2.0, 200.0);
/// assert!((used - 12.24).abs() < 0.01);
/// ```
#[must_use]
pub fn vapour_liquid_ml_per_h(fresh_gas: Flow, dial_percent: f64, vapour_ml_per_ml: f64) -> f64 {
    let vapour_ml_min = fresh_gas.as_l_per_min() * 1000.0 * dial_percent / (100.0 - dial_percent);
    vapour_ml_min * 60.0 / vapour_ml_per_ml
}
