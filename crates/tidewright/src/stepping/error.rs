//! Why a run cannot go on.

use std::fmt;

use thiserror::Error;

use crate::plant::network::MAX_NODES;
use crate::plant::plan::{BAG, FIRST_COMPARTMENT, PLEURA, Plan, T_PIECE, VALVE_END, VISCOELASTIC};
use crate::road::gas::Gas;

/// A run that cannot go on.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum StepError {
    /// Phases end as soon as they begin and time stands still, or all but.
    #[error(
        "at {at_s} s the phases end as fast as they begin: with an expiratory time of \
         {expiratory_time_s} s and inspiration ending at once (time limit \
         {inspiratory_time_limit_s} s, cycling pressure {cycling_pressure_cmh2o} cmH2O) hardly any \
         time passes; lengthen the expiratory time"
    )]
    Chatter {
        /// When, s.
        at_s: f64,
        /// The setting, s.
        expiratory_time_s: f64,
        /// The setting, s.
        inspiratory_time_limit_s: f64,
        /// The setting, cmH2O.
        cycling_pressure_cmh2o: f64,
    },
    /// The numeric road's steps have become so short that the run would never end.
    #[error(
        "at {at_s} s the run all but stands still, as a pressure changes too sharply to be \
         followed: {mend}"
    )]
    StandsStill {
        /// When, s.
        at_s: f64,
        /// What to change.
        mend: Mend,
    },
    /// A pressure-volume law, or a pressure beyond all measure, gave no finite number.
    #[error(
        "at {at_s} s a pressure or flow is no longer a finite number: check the lung's \
         pressure-volume law and that every slope of it is above 0"
    )]
    NotFinite {
        /// When, s.
        at_s: f64,
    },
}

/// The setting that makes a run stiff, and what to do with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mend {
    /// The circuit's compliance is too small for the paths that lead to it.
    Circuit,
    /// The limb's is.
    Limb,
    /// The bag's is.
    Bag,
    /// The chest wall's is.
    ChestWall,
    /// The viscoelastic branch's is.
    Viscoelastic,
    /// A compartment, by its index, is too stiff for the paths that lead to it.
    Compartment(usize),
    /// The segments of the patient's effort are too short.
    Effort,
}

impl fmt::Display for Mend {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Circuit => f.write_str("make the circuit's compliance larger, or 0"),
            Self::Limb => f.write_str("make the limb's compliance larger, or 0"),
            Self::Bag => f.write_str("make the bag's compliance larger"),
            Self::ChestWall => f.write_str("make the chest wall's compliance larger"),
            Self::Viscoelastic => f.write_str(
                "make the compliance or the resistance of the viscoelastic branch larger",
            ),
            Self::Compartment(index) => write!(
                f,
                "make lung compartment {} more compliant, or its pressure-volume law less steep, \
                 or its resistance larger",
                index + 1
            ),
            Self::Effort => f.write_str("make the segments of the effort longer"),
        }
    }
}

impl Mend {
    /// Of all stores the one that the paths at it fill the fastest.
    pub(crate) fn of(plan: &Plan, stored: &[f64; MAX_NODES], muscle: f64) -> Self {
        let gas = Gas::<MAX_NODES, { crate::plant::network::MAX_PATHS }>::new(
            plan,
            &plan.by_node(stored),
            muscle,
        );
        let rate = |node: usize| {
            let here = crate::plant::network::End::node(node);
            let at_it = plan.network.paths.iter().zip(gas.conductances);
            let all = at_it.filter(|(path, _)| path.from == here || path.to == here);
            gas.elastances[node] * all.map(|(path, g)| g.max(path.law.wide_open())).sum::<f64>()
        };
        let storing = (0..plan.network.nodes.len()).filter(|&node| plan.network.stores_gas(node));
        let fastest = storing.max_by(|&a, &b| rate(a).total_cmp(&rate(b)));
        match fastest.map_or(T_PIECE, |node| plan.places[node]) {
            T_PIECE => Self::Circuit,
            VALVE_END => Self::Limb,
            BAG => Self::Bag,
            PLEURA => Self::ChestWall,
            VISCOELASTIC => Self::Viscoelastic,
            place => Self::Compartment(place.saturating_sub(FIRST_COMPARTMENT)),
        }
    }
}
