//! What the table knows about an animal.

/// A number that describes an animal, each with one unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Parameter {
    /// Compliance of lung and chest wall together, mL/cmH2O.
    Compliance,
    /// Resistance of airways and tissue, without a tube, cmH2O·s/L.
    AirwayResistance,
    /// Internal diameter of the endotracheal tube, mm.
    TubeDiameter,
    /// Length of the endotracheal tube, cm.
    TubeLength,
    /// Gas in the lung at the end of a quiet expiration, mL.
    FunctionalResidualCapacity,
    /// Volume of the conducting airways, mL: all of them when awake, those
    /// below the larynx when intubated (the tube's own volume comes on top).
    DeadSpace,
    /// Volume of an unassisted resting breath, mL.
    TidalVolume,
    /// Unassisted resting breaths, 1/min.
    Rate,
    /// Oxygen used, mL/min STPD.
    OxygenConsumption,
    /// Carbon dioxide made for each unit of oxygen used.
    RespiratoryQuotient,
    /// Blood pumped, mL/min.
    CardiacOutput,
    /// Blood in the body, mL.
    BloodVolume,
    /// Haemoglobin in the blood, g/dL.
    Haemoglobin,
    /// Oxygen pressure that half saturates haemoglobin at pH 7.4, 37 °C, mmHg.
    HalfSaturation,
    /// Bohr slope ∂log₁₀P50/∂pH.
    BohrSlope,
    /// Temperature slope ∂log₁₀P50/∂T, 1/K.
    TemperatureSlope,
    /// Usual arterial carbon dioxide pressure, awake, mmHg.
    ArterialCarbonDioxide,
    /// Usual bicarbonate of arterial plasma, mmol/L.
    Bicarbonate,
    /// Usual core temperature, °C.
    Temperature,
    /// Carbon dioxide that well perfused tissue stores, mL STPD/mmHg.
    FastCarbonDioxideStore,
    /// Carbon dioxide that the other tissue stores, mL STPD/mmHg.
    SlowCarbonDioxideStore,
    /// Blood flow through the other tissue, mL/min.
    SlowTissueFlow,
    /// Gas that would hold the carbon dioxide of lung tissue, mL.
    LungTissueSpace,
    /// Share of the cardiac output that passes no alveoli.
    Shunt,
    /// Share of alveolar ventilation that meets no blood.
    AlveolarDeadSpace,
    /// Heart beats, 1/min.
    HeartRate,
    /// Mean arterial pressure, mmHg.
    ArterialPressure,
}

impl Parameter {
    /// All of them, in the order in which a person reads them.
    pub const ALL: [Self; 27] = [
        Self::Compliance,
        Self::AirwayResistance,
        Self::TubeDiameter,
        Self::TubeLength,
        Self::FunctionalResidualCapacity,
        Self::DeadSpace,
        Self::TidalVolume,
        Self::Rate,
        Self::OxygenConsumption,
        Self::RespiratoryQuotient,
        Self::CardiacOutput,
        Self::BloodVolume,
        Self::Haemoglobin,
        Self::HalfSaturation,
        Self::BohrSlope,
        Self::TemperatureSlope,
        Self::ArterialCarbonDioxide,
        Self::Bicarbonate,
        Self::Temperature,
        Self::FastCarbonDioxideStore,
        Self::SlowCarbonDioxideStore,
        Self::SlowTissueFlow,
        Self::LungTissueSpace,
        Self::Shunt,
        Self::AlveolarDeadSpace,
        Self::HeartRate,
        Self::ArterialPressure,
    ];

    /// Name in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.words().0
    }

    /// Unit of its values; empty for a ratio.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        self.words().1
    }

    const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::Compliance => ("respiratory system compliance", "mL/cmH2O"),
            Self::AirwayResistance => ("airway and tissue resistance", "cmH2O·s/L"),
            Self::TubeDiameter => ("endotracheal tube, internal diameter", "mm"),
            Self::TubeLength => ("endotracheal tube, length", "cm"),
            Self::FunctionalResidualCapacity => ("functional residual capacity", "mL"),
            Self::DeadSpace => ("airway dead space", "mL"),
            Self::TidalVolume => ("tidal volume, unassisted", "mL"),
            Self::Rate => ("respiratory rate, unassisted", "1/min"),
            Self::OxygenConsumption => ("oxygen consumption", "mL/min STPD"),
            Self::RespiratoryQuotient => ("respiratory quotient", ""),
            Self::CardiacOutput => ("cardiac output", "mL/min"),
            Self::BloodVolume => ("blood volume", "mL"),
            Self::Haemoglobin => ("haemoglobin", "g/dL"),
            Self::HalfSaturation => ("P50 of haemoglobin (pH 7.4, 37 °C)", "mmHg"),
            Self::BohrSlope => ("Bohr slope of log P50", "1/pH"),
            Self::TemperatureSlope => ("temperature slope of log P50", "1/K"),
            Self::ArterialCarbonDioxide => ("arterial CO2 pressure, awake", "mmHg"),
            Self::Bicarbonate => ("plasma bicarbonate", "mmol/L"),
            Self::Temperature => ("core temperature", "°C"),
            Self::FastCarbonDioxideStore => ("CO2 store of well perfused tissue", "mL/mmHg"),
            Self::SlowCarbonDioxideStore => ("CO2 store of other tissue", "mL/mmHg"),
            Self::SlowTissueFlow => ("blood flow through other tissue", "mL/min"),
            Self::LungTissueSpace => ("CO2 space of lung tissue", "mL"),
            Self::Shunt => ("shunt, share of cardiac output", ""),
            Self::AlveolarDeadSpace => ("alveolar dead space, share of alveolar ventilation", ""),
            Self::HeartRate => ("heart rate", "1/min"),
            Self::ArterialPressure => ("mean arterial pressure", "mmHg"),
        }
    }
}
