//! The quick test: the port held shut at a little flow makes rapid short cycles.

use crate::base::math::{exp, ln};
use crate::base::quantity::{Compliance, Flow, Pressure, Resistance, Seconds};

/// A ventilator that cycles against a shut port, in proportion throughout.
///
/// With k the compliance, g the leak and Q the flow: while the valve is shut
/// k·dP/dt = Q − g·P, up to the cycling pressure and on for the valve's delay; while it is
/// open k·dP/dt = Q − (g + 1/R)·P for the expiratory time. The cycle is the one that
/// repeats. Pressure behind the valve is that of the room.
///
/// ```
/// use tidewright::bench::ShortCycles;
/// use tidewright::prelude::*;
/// let at = |l_per_min: f64, leak: f64| ShortCycles {
///     flow: Flow::l_per_min(l_per_min),
///     compliance: Compliance::ml_per_cmh2o(0.2),
///     valve_resistance: Resistance::cmh2o_s_per_l(5.0),
///     cycling: Pressure::cmh2o(9.0),
///     expiratory_time: Seconds::s(0.3),
///     valve_delay: Seconds::ZERO,
///     leak_ml_s_cmh2o: leak,
/// };
/// let pace = |l, g| at(l, g).cycle().map(|cycle| cycle.per_min());
/// assert!(pace(0.9, 0.0) > pace(0.6, 0.0)); // more flow, faster
/// assert!(pace(0.6, 0.5) < pace(0.6, 0.0)); // a leak, slower
/// assert_eq!(pace(0.6, 1.2), None); // and from flow over pressure on, none
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShortCycles {
    /// Fresh gas flow; above 0.
    pub flow: Flow,
    /// Compliance of what is filled; above 0.
    pub compliance: Compliance,
    /// Resistance of the open outlet; above 0.
    pub valve_resistance: Resistance,
    /// Pressure at which the valve is told to open; above 0. Where a split line brings
    /// the sensor only a share of the pressure: the set pressure over that share.
    pub cycling: Pressure,
    /// Time that the valve stays open.
    pub expiratory_time: Seconds,
    /// How late the valve opens: one that hangs.
    pub valve_delay: Seconds,
    /// Leak, mL/s for each cmH2O; 0 for none.
    pub leak_ml_s_cmh2o: f64,
}

/// A cycle that repeats.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cycle {
    /// Time for which the valve is shut.
    pub inspiratory_time: Seconds,
    /// From cycle to cycle.
    pub period: Seconds,
    /// Highest pressure.
    pub peak: Pressure,
    /// Pressure at which the next filling begins.
    pub lowest: Pressure,
}

impl Cycle {
    /// Cycles in a minute.
    #[must_use]
    pub fn per_min(&self) -> f64 {
        60.0 / self.period.as_s()
    }
}

impl ShortCycles {
    /// The cycle that repeats; `None` where the leak takes all the flow before the
    /// cycling pressure is reached.
    #[must_use]
    pub fn cycle(&self) -> Option<Cycle> {
        let (q, g) = (self.flow.as_ml_s(), self.leak_ml_s_cmh2o);
        let k = self.compliance.as_ml_per_cmh2o();
        let cycling = self.cycling.as_cmh2o();
        if q <= g * cycling {
            return None;
        }
        let toward = |from: f64, conductance: f64, s: f64| {
            if conductance == 0.0 {
                return from + q * s / k;
            }
            let end = q / conductance;
            end + (from - end) * exp(-conductance * s / k)
        };
        let peak = toward(cycling, g, self.valve_delay.as_s());
        let open = g + 1000.0 / self.valve_resistance.as_cmh2o_s_per_l();
        let lowest = toward(peak, open, self.expiratory_time.as_s());
        let filling = if lowest >= cycling {
            0.0
        } else if g == 0.0 {
            (cycling - lowest) * k / q
        } else {
            k / g * ln((q - g * lowest) / (q - g * cycling))
        };
        let inspiratory = filling + self.valve_delay.as_s();
        Some(Cycle {
            inspiratory_time: Seconds::s(inspiratory),
            period: Seconds::s(inspiratory) + self.expiratory_time,
            peak: Pressure::cmh2o(peak),
            lowest: Pressure::cmh2o(lowest),
        })
    }
}
