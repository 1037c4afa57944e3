//! Circuits that are put together wrongly, each beside the one that was meant.

use super::part::{Adapter, Part, Scavenging, TPiece, TailBag, Tubing};
use super::{Assembly, JoinError};
use crate::base::quantity::{Compliance, Pressure, Resistance, Volume};

macro_rules! mistakes {
    ($($(#[$doc:meta])* $Mistake:ident $name:literal $says:literal,)*) => {
        /// A way of putting a circuit together wrongly.
        ///
        /// It holds two assemblies and what a teacher says; what the wrong one does is
        /// computed from it like from any other.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Mistake {
            $($(#[$doc])* $Mistake,)*
        }

        impl Mistake {
            /// Every one of them.
            pub const ALL: &[Self] = &[$(Self::$Mistake,)*];

            /// Its name: small letters and hyphens.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self {
                    $(Self::$Mistake => $name,)*
                }
            }

            /// What a teacher says of it. Every direction in it is tested against runs.
            #[must_use]
            pub fn says(self) -> &'static str {
                match self {
                    $(Self::$Mistake => $says,)*
                }
            }
        }
    };
}

mistakes! {
    /// The sensing line is not on the ventilator.
    SensingLineOff "sensing-line-off"
        "The ventilator feels nothing, so only the time limit ends a breath: flow times time goes in, \
         whatever the pressure. The loose end also leaks.",
    /// The sensing line is at the far end of the limb.
    SensingAtFarEnd "sensing-at-far-end"
        "At the end of the limb the ventilator reads less than the patient feels while gas flows there: \
         the resting pressure looks lower than it is, and a blocked limb hides the patient from it.",
    /// The fresh gas hose is at the far end of the limb.
    HoseAtFarEnd "hose-at-far-end"
        "Fresh gas that comes in beside the valve leaves by it before the patient gets any: in standby \
         the patient breathes the limb to and fro, and what it breathes out comes back.",
    /// The T-piece is turned: its long leg is on the patient.
    TPieceTurned "t-piece-turned"
        "The long leg now lies between patient and fresh gas: all of it is dead space, breathed to and \
         fro.",
    /// The limb is between patient and T-piece.
    LimbAtPatient "limb-at-patient"
        "Patient and limb have changed sides: the whole limb is dead space now. Pressures look right; \
         only carbon dioxide tells.",
    /// There is no limb: the ventilator is on the T-piece itself.
    NoLimb "no-limb"
        "Without a limb there is no store of gas to draw on: a deep breath in standby outruns the \
         fresh gas and takes room air in, which dilutes oxygen and anaesthetic alike.",
    /// The tail of the bag is closed.
    BagTailClosed "bag-tail-closed"
        "A bag with a closed tail fills, and then there is no way out: pressure climbs in bag, circuit \
         and lung together, in standby too. Take the patient off before anything else, then open the \
         tail.",
    /// The tail of the bag is twisted to a tenth of its area.
    BagTailTwisted "bag-tail-twisted"
        "All the fresh gas must squeeze through the twist: the bag stands full and the resting pressure \
         is flow times the resistance of the twist.",
    /// The way into the scavenging is blocked and has no relief.
    ScavengingBlocked "scavenging-blocked"
        "Blocked scavenging without relief is a shut outlet: pressure climbs by flow over compliance \
         and the valve cannot help. The patient comes off first.",
    /// The scavenging pulls, without relief.
    ScavengingPulls "scavenging-pulls"
        "Suction without relief reaches the lung whenever the valve is open: the patient rests below \
         the room's pressure, and each inflation first has to make that good.",
    /// A second adapter stands behind the first.
    TwoAdapters "two-adapters"
        "Two adapters in a row are twice the dead space. In a small patient that is a large part of \
         each breath.",
    /// The limb is wide and long, as for a large patient.
    LimbTooWide "limb-too-wide"
        "A wide long limb takes gas for itself at each inflation: inspiration lasts longer and the same \
         flow ventilates less. The breath itself stays as the pressure sets it.",
    /// A joint is only pushed on.
    PushedOn "pushed-on"
        "A joint that is only pushed on leaks with the pressure: a small patient notices first, by \
         longer inspirations. Push and turn.",
    /// The limb is cracked.
    CrackedLimb "cracked-limb"
        "A crack loses gas as long as there is pressure: inspirations get longer, and when the flow is \
         lost as fast as it comes they end on time.",
    /// The filter at the patient is wet.
    WetFilter "wet-filter"
        "Between T-piece and patient a wet filter takes its share of the pressure: breaths end early \
         and small while the peak looks right.",
    /// A plug is left in the outlet.
    PlugForgotten "plug-forgotten"
        "A plug left in the outlet is a shut outlet: nothing comes out and pressure climbs by flow over \
         compliance. The patient comes off first. Look that the plug is back on its hook before a patient is joined.",
}

impl Mistake {
    /// The circuit that was meant.
    #[must_use]
    pub fn meant(self) -> Assembly {
        let mut meant = Assembly::ready_made();
        // Every name and port here is one of the ready-made circuit's, so nothing fails.
        let made = match self {
            Self::TPieceTurned => long_limb_leg(&mut meant),
            Self::BagTailClosed | Self::BagTailTwisted => behind_outlet(&mut meant, open_bag()),
            Self::ScavengingBlocked | Self::ScavengingPulls => {
                behind_outlet(&mut meant, Part::Scavenging(Scavenging::default()))
            }
            Self::WetFilter => filter(&mut meant),
            _ => Ok(()),
        };
        debug_assert_eq!(made, Ok(()));
        meant
    }

    /// The circuit as it was put together.
    #[must_use]
    pub fn made(self) -> Assembly {
        let mut made = self.meant();
        let done = self.make(&mut made);
        debug_assert_eq!(done, Ok(()));
        made
    }

    fn make(self, circuit: &mut Assembly) -> Result<(), JoinError> {
        match self {
            Self::SensingLineOff => circuit.separate("ventilator.sensing").map(|_| ()),
            Self::SensingAtFarEnd => {
                let tapped = Adapter { tap: true, volume: Volume::ZERO, ..Adapter::default() };
                circuit.lay_out("tapped-connector", Part::Adapter(tapped))?;
                circuit.separate("ventilator.patient-side")?;
                circuit.join("limb.far", "tapped-connector.near")?;
                circuit.join("tapped-connector.far", "ventilator.patient-side")?;
                circuit.separate("t-piece.sense")?;
                circuit.join("tapped-connector.side", "sensing-line.line-far")?;
                circuit.join("plug.end", "t-piece.sense")
            }
            Self::HoseAtFarEnd => {
                circuit.lay_out("second-t-piece", Part::TPiece(TPiece::default()))?;
                circuit.lay_out("cap", Part::Plug)?;
                circuit.separate("ventilator.patient-side")?;
                circuit.join("limb.far", "second-t-piece.patient")?;
                circuit.join("second-t-piece.limb", "ventilator.patient-side")?;
                circuit.separate("t-piece.fresh-gas")?;
                circuit.join("hose.patient-end", "second-t-piece.fresh-gas")?;
                circuit.join("cap.end", "second-t-piece.sense")?;
                circuit.join("plug.end", "t-piece.fresh-gas")
            }
            Self::TPieceTurned => {
                circuit.separate("t-piece.patient")?;
                circuit.separate("t-piece.limb")?;
                circuit.join("t-piece.limb", "connector.far")?;
                circuit.join("t-piece.patient", "limb.near")
            }
            Self::LimbAtPatient => {
                circuit.separate("t-piece.patient")?;
                circuit.separate("t-piece.limb")?;
                circuit.separate("ventilator.patient-side")?;
                circuit.join("connector.far", "limb.near")?;
                circuit.join("limb.far", "t-piece.patient")?;
                circuit.join("t-piece.limb", "ventilator.patient-side")
            }
            Self::NoLimb => {
                circuit.separate("t-piece.limb")?;
                circuit.separate("ventilator.patient-side")?;
                circuit.join("t-piece.limb", "ventilator.patient-side")
            }
            Self::BagTailClosed => twist(circuit, 0.0),
            Self::BagTailTwisted => twist(circuit, 0.1),
            Self::ScavengingBlocked => scavenging(
                circuit,
                Scavenging { blocked: true, relief: false, ..Scavenging::default() },
            ),
            Self::ScavengingPulls => {
                let pulls = Pressure::cmh2o(6.0);
                scavenging(circuit, Scavenging { pulls, relief: false, ..Scavenging::default() })
            }
            Self::TwoAdapters => {
                let second = Adapter { volume: Volume::ml(8.0), ..Adapter::default() };
                circuit.lay_out("second-adapter", Part::Adapter(second))?;
                circuit.separate("t-piece.patient")?;
                circuit.join("connector.far", "second-adapter.near")?;
                circuit.join("second-adapter.far", "t-piece.patient")
            }
            Self::LimbTooWide => {
                let walls = Compliance::ml_per_cmh2o(1.5);
                circuit.piece_mut("limb")?.part = Part::Tubing(Tubing::of_size(22.0, 160.0, walls));
                Ok(())
            }
            Self::PushedOn => {
                circuit.separate("t-piece.limb")?;
                circuit.push_on("t-piece.limb", "limb.near")
            }
            Self::CrackedLimb => {
                circuit.piece_mut("limb")?.crack_mm = 1.0;
                Ok(())
            }
            Self::WetFilter => {
                let wet = Adapter { resistance: Resistance::cmh2o_s_per_l(60.0), ..dry() };
                circuit.piece_mut("filter")?.part = Part::Filter(wet);
                Ok(())
            }
            Self::PlugForgotten => {
                circuit.separate("ventilator.outlet")?;
                circuit.join("plug.end", "ventilator.outlet")
            }
        }
    }
}

fn long_limb_leg(circuit: &mut Assembly) -> Result<(), JoinError> {
    let tee = TPiece { limb_leg: Volume::ml(9.0), ..TPiece::default() };
    circuit.piece_mut("t-piece")?.part = Part::TPiece(tee);
    Ok(())
}

fn behind_outlet(circuit: &mut Assembly, part: Part) -> Result<(), JoinError> {
    let name = if matches!(part, Part::Bag(_)) { "bag" } else { "scavenging" };
    circuit.lay_out(name, part)?;
    circuit.separate("ventilator.outlet")?;
    circuit.join("ventilator.outlet", &format!("{name}.neck"))
}

fn open_bag() -> Part {
    Part::Bag(TailBag::default())
}

fn twist(circuit: &mut Assembly, open: f64) -> Result<(), JoinError> {
    circuit.piece_mut("bag")?.part = Part::Bag(TailBag { open, ..TailBag::default() });
    Ok(())
}

fn scavenging(circuit: &mut Assembly, scavenging: Scavenging) -> Result<(), JoinError> {
    circuit.piece_mut("scavenging")?.part = Part::Scavenging(scavenging);
    Ok(())
}

/// A filter for small patients (assumed: 10 mL, 5 cmH2O·s/L).
fn dry() -> Adapter {
    Adapter { volume: Volume::ml(10.0), resistance: Resistance::cmh2o_s_per_l(5.0), tap: false }
}

fn filter(circuit: &mut Assembly) -> Result<(), JoinError> {
    circuit.lay_out("filter", Part::Filter(dry()))?;
    circuit.separate("t-piece.patient")?;
    circuit.join("connector.far", "filter.near")?;
    circuit.join("filter.far", "t-piece.patient")
}
