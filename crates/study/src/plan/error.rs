//! Goals that cannot be met, with the numbers that say why.

use thiserror::Error;
use tidewright::breath::Breath;
use tidewright::exchange::GasError;
use tidewright::run::ProtocolError;
use tidewright::setup::SetupError;
use tidewright::steady::SteadyError;

/// Why there is no plan.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum PlanError {
    /// A goal is not a finite number in its range.
    #[error("{what} is {value} {unit}, and must be {expected}")]
    Goal {
        /// The goal's name.
        what: &'static str,
        /// The value given.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// What would be in range.
        expected: &'static str,
    },
    /// The patient or the equipment cannot be run.
    #[error(transparent)]
    Setup(#[from] SetupError),
    /// The breaths with some settings do not settle.
    #[error(transparent)]
    Steady(#[from] SteadyError),
    /// The gas of the patient cannot be run.
    #[error(transparent)]
    Gas(#[from] GasError),
    /// The breaths cannot be run one after the other.
    #[error(transparent)]
    Protocol(#[from] ProtocolError),
    /// The goals cannot be met with this patient and equipment.
    #[error("{0}")]
    Infeasible(Box<Infeasible>),
}

/// Everything that stands in the way, and what can be had instead.
#[derive(Clone, Debug, PartialEq)]
pub struct Infeasible {
    /// What stands in the way; one at least.
    pub obstacles: Vec<Obstacle>,
    /// The settled breath of the wanted time and rate with the most volume that flow
    /// limit and pressure ceiling allow, where that is known.
    pub within_reach: Option<Breath>,
}

impl std::fmt::Display for Infeasible {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (index, obstacle) in self.obstacles.iter().enumerate() {
            let gap = if index == 0 { "" } else { "; " };
            write!(f, "{gap}{obstacle}")?;
        }
        if let Some(breath) = &self.within_reach {
            let volume = breath.inspired_tidal_volume.as_ml();
            write!(f, "; within the limits, {volume:.1} mL can be had at this time and rate")?;
        }
        Ok(())
    }
}

/// One thing that stands in the way of the goals.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum Obstacle {
    /// The breath is over before the patient can breathe out.
    #[error(
        "at {rate_per_min:.1} breaths a minute and {inspiratory_time_s:.2} s of inspiration, \
         {left_s:.2} s are left to breathe out: go below {fastest_per_min:.1} a minute, or shorten \
         the inspiration"
    )]
    NoTimeToBreatheOut {
        /// The rate wanted, 1/min.
        rate_per_min: f64,
        /// The inspiratory time wanted, s.
        inspiratory_time_s: f64,
        /// What is left of the breath, s; negative where it is too short.
        left_s: f64,
        /// The rate at which nothing but the shortest expiratory time is left, 1/min.
        fastest_per_min: f64,
    },
    /// The valve opens so late that the pressure would have to be told before the
    /// inspiration begins.
    #[error(
        "the valve opens {delay_s:.2} s after the pressure is reached, and the whole inspiration \
         is to last {inspiratory_time_s:.2} s: lengthen the inspiration"
    )]
    ValveTooSlow {
        /// The valve's delay, s.
        delay_s: f64,
        /// The inspiratory time wanted, s.
        inspiratory_time_s: f64,
    },
    /// No flow gives the volume: it goes elsewhere.
    #[error(
        "no flow brings {wanted_ml:.1} mL into the lung in this time; {tried_l_min:.1} L/min bring \
         {reached_ml:.1} mL: look for a leak, a relief valve, an open or blocked port"
    )]
    VolumeOutOfReach {
        /// The tidal volume wanted, mL.
        wanted_ml: f64,
        /// The largest flow tried, L/min.
        tried_l_min: f64,
        /// What that brings, mL.
        reached_ml: f64,
    },
    /// The flow needed is more than the design gives.
    #[error(
        "it takes {needed_l_min:.2} L/min, and {largest_l_min:.2} L/min is the most there is: that \
         brings {reached_ml:.1} mL in this time, or the volume wanted in {longer_s}"
    )]
    FlowBeyondDesign {
        /// The flow needed, L/min.
        needed_l_min: f64,
        /// The most that the design gives, L/min.
        largest_l_min: f64,
        /// The tidal volume that this brings in the wanted time, mL.
        reached_ml: f64,
        /// The inspiratory time that it would take, where one would do.
        longer_s: LongerTime,
    },
    /// The airway pressure needed is above the ceiling.
    #[error(
        "it takes {needed_cmh2o:.1} cmH2O at the airway, above the ceiling of {ceiling_cmh2o:.1} \
         cmH2O: there, {reached_ml:.1} mL go in in this time"
    )]
    PressureAboveCeiling {
        /// The peak airway pressure needed, cmH2O.
        needed_cmh2o: f64,
        /// The ceiling, cmH2O.
        ceiling_cmh2o: f64,
        /// The tidal volume at the ceiling, mL.
        reached_ml: f64,
    },
    /// No rate brings end-tidal carbon dioxide to the goal.
    #[error(
        "no rate brings end-tidal carbon dioxide to {wanted_mmhg:.1} mmHg: it settles at \
         {reached_mmhg:.1} mmHg with {rate_per_min:.1} breaths a minute; take another tidal \
         volume or a smaller adapter"
    )]
    EndTidalOutOfReach {
        /// End-tidal carbon dioxide wanted, mmHg.
        wanted_mmhg: f64,
        /// The nearest that was reached, mmHg.
        reached_mmhg: f64,
        /// With so many breaths a minute.
        rate_per_min: f64,
    },
    /// With these breaths carbon dioxide never comes into balance.
    #[error(
        "with {rate_per_min:.1} breaths a minute carbon dioxide rises beyond 300 mmHg: too little \
         fresh gas reaches the alveoli; take a larger tidal volume or a smaller adapter, or let \
         the fresh gas enter near the patient"
    )]
    NoBalance {
        /// Breaths a minute.
        rate_per_min: f64,
    },
    /// The sensor does not tell the end of inspiration.
    #[error(
        "the sensor tells {sensed_cmh2o:.1} cmH2O {why}, so no cycling pressure ends the \
         inspiration after {inspiratory_time_s:.2} s: mend the sensor or its line"
    )]
    SensorDoesNotTell {
        /// What it tells at the wanted end, cmH2O.
        sensed_cmh2o: f64,
        /// When else it does.
        why: &'static str,
        /// The inspiratory time wanted, s.
        inspiratory_time_s: f64,
    },
}

/// An inspiratory time that would do, or none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LongerTime(pub Option<f64>);

impl std::fmt::Display for LongerTime {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0 {
            Some(s) => write!(f, "{s:.2} s"),
            None => write!(f, "no time that leaves room to breathe out at this rate"),
        }
    }
}
