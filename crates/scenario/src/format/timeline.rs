//! What can change during a run.

use super::{
    CYCLING, CardiacOutput, ChestWall, Cuff, END_EXPIRATORY, EXPIRATORY_TIME, Effort, FLOW,
    FreshGasOxygen, LONGEST_RUN_S, Leak, Limb, Lung, Mode, PatientPort, RESISTANCE, Relief, Sensor,
    TIME_LIMIT, Temperature, Tube, VALVE_DELAY, Valve, Viscoelastic, WATER,
};
use crate::read::{any, block, choice, number};

block! {
    /// A change at a time. Changes at the same time all take effect then, the
    /// later in the list over the earlier.
    pub struct TimelineEntry {
        /// When, from the start of the run.
        at_s: f64 = number(0.0, LONGEST_RUN_S),
        /// What is set from then on.
        set: Change = any(),
    }
}

choice! {
    /// What a timeline entry sets.
    pub enum Change {
        /// The fresh gas flow.
        FreshGasFlow(FreshGasFlow),
        /// The cycling pressure.
        CyclingPressure(CyclingPressure),
        /// The inspiratory time limit.
        InspiratoryTimeLimit(InspiratoryTimeLimit),
        /// The expiratory time.
        ExpiratoryTime(ExpiratoryTime),
        /// The end-expiratory pressure.
        EndExpiratoryPressure(EndExpiratoryPressure),
        /// The valve delay.
        ValveDelay(ValveDelay),
        /// Ventilating or standby: `Mode(Standby)`.
        Mode(Mode),
        /// The leak.
        Leak(Leak),
        /// The end of a leak.
        NoLeak,
        /// The lung, as the patient has it from then on; the `tube` stays.
        Lung(Lung),
        /// The breathing tube: `Tube(Shut)`.
        Tube(Tube),
        /// The leak past the cuff.
        Cuff(Cuff),
        /// The end of a leak past the cuff.
        CuffSeals,
        /// The chest wall, and what presses on it.
        ChestWall(ChestWall),
        /// The tissue that gives way slowly, for a patient who has it from the start.
        Viscoelastic(Viscoelastic),
        /// The patient's own effort, begun anew.
        Effort(Effort),
        /// The end of the patient's own effort.
        NoEffort,
        /// The resistance of the open outlet path.
        ValveResistance(ValveResistance),
        /// Whether the outlet valve obeys: `Valve(StuckShut)`.
        Valve(Valve),
        /// Whether a check keeps gas from flowing back: `BackflowCheck(true)`.
        BackflowCheck(bool),
        /// The expiratory limb.
        Limb(Limb),
        /// Water in the limb.
        WaterInLimb(WaterInLimb),
        /// The relief valve.
        Relief(Relief),
        /// What the ventilator's pressure sensor tells it.
        Sensor(Sensor),
        /// What the patient port is connected to: `PatientPort(Blocked)`.
        PatientPort(PatientPort),
        /// The oxygen in the fresh gas.
        FreshGasOxygen(FreshGasOxygen),
        /// The cardiac output.
        CardiacOutput(CardiacOutput),
        /// The patient's temperature.
        Temperature(Temperature),
    }
}

block! {
    /// A new fresh gas flow.
    pub struct FreshGasFlow {
        /// Flow.
        l_min: f64 = FLOW,
    }
}

block! {
    /// A new cycling pressure.
    pub struct CyclingPressure {
        /// Pressure.
        cmh2o: f64 = CYCLING,
    }
}

block! {
    /// A new inspiratory time limit.
    pub struct InspiratoryTimeLimit {
        /// Time.
        s: f64 = TIME_LIMIT,
    }
}

block! {
    /// A new expiratory time.
    pub struct ExpiratoryTime {
        /// Time.
        s: f64 = EXPIRATORY_TIME,
    }
}

block! {
    /// A new end-expiratory pressure.
    pub struct EndExpiratoryPressure {
        /// Pressure.
        cmh2o: f64 = END_EXPIRATORY,
    }
}

block! {
    /// A new valve delay.
    pub struct ValveDelay {
        /// Time.
        s: f64 = VALVE_DELAY,
    }
}

block! {
    /// A new resistance of the open outlet path.
    pub struct ValveResistance {
        /// Resistance.
        cmh2o_s_l: f64 = RESISTANCE,
    }
}

block! {
    /// Water in the limb.
    pub struct WaterInLimb {
        /// Height of its column; 0 for none.
        cmh2o: f64 = WATER,
    }
}
