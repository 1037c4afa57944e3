//! Where the curve of a signal comes from.

use tidewright::machine::Signal;

use super::gas::Reading;
use crate::file::Trace;

/// L/min in a mL/s.
pub(super) const L_MIN: f64 = 0.06;

/// What a signal is read from.
#[derive(Clone, Copy)]
pub(super) enum Source {
    /// The machine, times a factor.
    Machine(Signal, f64),
    /// The gas.
    Gas(Reading),
    /// The gauge of the scenario's instruments.
    Gauge,
}

impl Source {
    pub fn of(trace: Trace) -> Self {
        let machine = |signal| Self::Machine(signal, 1.0);
        let flow = |signal| Self::Machine(signal, L_MIN);
        let mean = |value| Self::Gas(Reading { value, mean: true });
        let state = |value| Self::Gas(Reading { value, mean: false });
        match trace {
            Trace::AirwayPressure => machine(Signal::AirwayPressure),
            Trace::AlveolarPressure => machine(Signal::AlveolarPressure),
            Trace::PleuralPressure => machine(Signal::PleuralPressure),
            Trace::MusclePressure => machine(Signal::MusclePressure),
            Trace::AirwayFlow => flow(Signal::AirwayFlow),
            Trace::LeakFlow => flow(Signal::LeakFlow),
            Trace::OutletFlow => flow(Signal::OutletFlow),
            Trace::LungVolume => machine(Signal::LungVolume),
            Trace::AirwayCarbonDioxide => mean(|p| p.carbon_dioxide_mmhg),
            Trace::AirwayOxygen => mean(|p| 100.0 * p.oxygen),
            Trace::Capnogram => state(|p| p.shown_carbon_dioxide_mmhg),
            Trace::AlveolarCarbonDioxide => state(|p| p.alveolar_carbon_dioxide_mmhg),
            Trace::ArterialCarbonDioxide => state(|p| p.arterial_carbon_dioxide_mmhg),
            Trace::OxygenSaturation => state(|p| 100.0 * p.saturation),
            Trace::GaugePressure => Self::Gauge,
        }
    }
}
