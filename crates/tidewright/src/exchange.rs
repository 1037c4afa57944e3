//! Gas exchange: what the breath does to carbon dioxide and oxygen, from the
//! cylinder to the tissues and back.
//!
//! The breath comes from elsewhere: from the engine ([`follow`]), or from any
//! list of volumes ([`Exchange::step`]). Gas moves as parcels through limb,
//! adapter, tube and airway; in the alveoli it meets blood; blood goes round
//! through tissues that make carbon dioxide and use oxygen. Nothing here knows
//! of pressures in the airway, and the engine knows nothing of gases.
//!
//! Volumes of gas are mL at body conditions (BTPS), as the engine's are;
//! fractions are those of dry gas; pressures are of gas saturated at 37 °C. The
//! few cmH2O of the breath are neglected beside the barometric pressure, and
//! with them less than 2 % of each partial pressure.
//!
//! A step is symmetric: half of the exchange with blood, all of the movement,
//! half of the exchange. Halving it changes results by its square.

mod before;
mod breathing;
mod capnograph;
mod changed;
mod check;
mod follow;
mod given;
mod ledger;
mod meter;
mod owed;
mod reader;
mod start;
mod stores;
mod strides;
pub mod supply;
mod system;

pub use breathing::{Moved, Passed};
pub use capnograph::{Capnograph, Fowler, fowler_dead_space_ml};
pub use check::GasError;
pub(crate) use check::{not_negative, number, positive};
pub use follow::{Sample, Steps, USUAL_STEPS, follow};
pub(crate) use follow::{follow_checked, walk};
pub use given::{GivenBreaths, Pattern, SettledGas, fresh_gas_need};
pub use ledger::{Account, Ledger};
pub use meter::{GasBreath, GasMeter, NOTICED_SHARE, NOTICED_WITHIN_S};
pub use start::Held;
pub use stores::alveoli::{MAX_SPACES, Space, SpaceState};
pub use stores::apparatus::{Apparatus, ApparatusError, FreshGasInlet, LimbMixing};
pub use stores::body::{
    Body, BodyState, CRITICAL, Content, Demand, Metabolised, Passage, Tissue, oxygen_used,
};
pub use stores::parcel::{Fractions, Parcel};
pub use system::{Conditions, Exchange, GasState};
