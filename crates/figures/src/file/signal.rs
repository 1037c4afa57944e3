//! What can be drawn over time.

use tidewright_scenario::choice;

choice! {
    /// A signal of the machine, or of the gas in a scenario with `gas`.
    #[derive(Copy, Eq)]
    pub enum Trace {
        /// Pressure at the patient connection.
        AirwayPressure,
        /// Alveolar pressure.
        AlveolarPressure,
        /// Pressure around the lung.
        PleuralPressure,
        /// Muscle pressure of the patient's effort.
        MusclePressure,
        /// Flow into the patient.
        AirwayFlow,
        /// Flow lost through leaks.
        LeakFlow,
        /// Flow out through the outlet valve.
        OutletFlow,
        /// Gas in the lung.
        LungVolume,
        /// Carbon dioxide at the patient connection.
        AirwayCarbonDioxide,
        /// Carbon dioxide as the sampling instrument shows it: later, and rounded.
        Capnogram,
        /// Carbon dioxide of the alveoli that meet blood.
        AlveolarCarbonDioxide,
        /// Carbon dioxide in arterial blood.
        ArterialCarbonDioxide,
        /// Oxygen at the patient connection.
        AirwayOxygen,
        /// Oxygen saturation of arterial blood.
        OxygenSaturation,
        /// Pressure as the gauge shows it, in a scenario with `instruments`.
        GaugePressure,
    }
}

impl Trace {
    /// Whether it is a signal of the gas.
    pub(crate) fn is_of_gas(self) -> bool {
        match self {
            Self::AirwayPressure
            | Self::AlveolarPressure
            | Self::PleuralPressure
            | Self::MusclePressure
            | Self::AirwayFlow
            | Self::LeakFlow
            | Self::OutletFlow
            | Self::LungVolume
            | Self::GaugePressure => false,
            Self::AirwayCarbonDioxide
            | Self::Capnogram
            | Self::AlveolarCarbonDioxide
            | Self::ArterialCarbonDioxide
            | Self::AirwayOxygen
            | Self::OxygenSaturation => true,
        }
    }
}
