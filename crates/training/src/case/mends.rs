//! Which act puts what right.

use tidewright::fault::Fault;
use tidewright_scenario::format::Act;

/// Cuff pressure that seals, cmH2O (common practice: 20 to 30).
const SEALING_CUFF_CMH2O: f64 = 20.0;

/// What puts a fault right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Mends {
    /// Not this act.
    No,
    /// This act, when it is done.
    Yes,
    /// The surgeon, who needs a while.
    Surgeon,
}

/// Whether an act puts a fault right.
pub(crate) fn mends(fault: Fault, act: &Act) -> Mends {
    use Fault as F;
    let yes = match fault {
        F::CircuitLeak | F::PatientDisconnected | F::FreshGasHoseOff | F::ScavengingBlocked => {
            matches!(act, Act::ReseatJoint)
        }
        F::CircuitHole | F::LimbDisconnected => matches!(act, Act::ReseatJoint | Act::ChangeLimb),
        F::SenseLineOff | F::SenseLineBlocked => {
            matches!(act, Act::ReseatJoint | Act::ChangeVentilator)
        }
        F::CuffLeak => match act {
            Act::InflateCuff(to) => to.cmh2o >= SEALING_CUFF_CMH2O,
            Act::ChangeTube => true,
            _ => false,
        },
        F::KinkedTube | F::Mucus | F::FlapAgainstExpiration | F::FlapAgainstInspiration => {
            matches!(act, Act::Suction | Act::ChangeTube)
        }
        F::OneLungIntubation => matches!(act, Act::WithdrawTube | Act::ChangeTube),
        F::LimbBlocked | F::WaterInLimb => matches!(act, Act::ChangeLimb),
        F::ValveStuckOpen
        | F::ValveStuckShut
        | F::GaugeReadsHigh
        | F::GaugeReadsLow
        | F::OxygenFlush => matches!(act, Act::ChangeVentilator),
        F::FreshGasFailing | F::CylinderEmptying => matches!(act, Act::SwapCylinder),
        F::CompressedChest
        | F::CompressedAbdomen
        | F::ClosedPneumothorax
        | F::TensionPneumothorax
        | F::OpenPneumothorax
        | F::Bronchospasm
        | F::OwnBreaths
        | F::Coughing
        | F::Bracing => {
            return if matches!(act, Act::CallSurgeon) { Mends::Surgeon } else { Mends::No };
        }
    };
    if yes { Mends::Yes } else { Mends::No }
}
