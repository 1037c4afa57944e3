//! Where gas is, from the machine to the tissues.

pub(super) mod airway;
pub(super) mod alveoli;
pub(super) mod apparatus;
pub(super) mod body;
pub(super) mod cells;
pub(super) mod limb;
pub(super) mod parcel;
pub(super) mod plug;
