//! What can be read off a running machine.

/// What can be read off a running machine, at any instant, as an integral over
/// time, or as its extremes. Pressures in cmH2O, flows in mL/s, volumes in mL.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Signal {
    /// Pressure at the patient connection.
    AirwayPressure,
    /// What the ventilator's sensor tells.
    SensedPressure,
    /// Flow into the patient at the patient connection; negative while the
    /// patient breathes out.
    AirwayFlow,
    /// Gas in the lung: above its relaxed volume for straight pressure-volume
    /// lines, by the law's own zero for others.
    LungVolume,
    /// Alveolar pressure, each compartment weighted by its compliance.
    AlveolarPressure,
    /// Pressure around the lung: in the pleural space, or minus the muscle
    /// pressure where the chest wall is not described apart.
    PleuralPressure,
    /// Muscle pressure of the patient's effort.
    MusclePressure,
    /// Flow lost through the circuit's leak, past the cuff and out of the lung.
    LeakFlow,
    /// Flow through the relief valve.
    ReliefFlow,
    /// Flow out through the outlet valve; zero while it is shut.
    OutletFlow,
    /// Flow to the room through an open port, limb or wound, or out of a patient
    /// who is off.
    RoomFlow,
    /// Gas held by the compressible circuit above atmospheric pressure.
    CircuitVolume,
}

impl Signal {
    /// Every signal, in the order of their declaration.
    pub const ALL: [Self; 12] = [
        Self::AirwayPressure,
        Self::SensedPressure,
        Self::AirwayFlow,
        Self::LungVolume,
        Self::AlveolarPressure,
        Self::PleuralPressure,
        Self::MusclePressure,
        Self::LeakFlow,
        Self::ReliefFlow,
        Self::OutletFlow,
        Self::RoomFlow,
        Self::CircuitVolume,
    ];
}

/// How a signal is made of a network's pressures, flows and stored volumes.
#[derive(Clone, Debug, Default)]
pub(crate) struct Probe {
    pub offset: f64,
    /// Weight of the muscle pressure.
    pub muscle: f64,
    /// (node, weight).
    pub pressures: Vec<(usize, f64)>,
    /// (path, weight).
    pub flows: Vec<(usize, f64)>,
    /// (node of the store, weight).
    pub volumes: Vec<(usize, f64)>,
}
