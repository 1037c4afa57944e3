//! Faults of patient, tube, circuit and supply, each a change of physics: a pure
//! function from a setup to the setup with the fault in it. What is then seen
//! follows from the mechanics and is written down nowhere.
//!
//! ```
//! use tidewright::fault::{Fault, TimedFault, with_faults};
//! use tidewright::prelude::*;
//! let healthy =
//!     Protocol { start: Setup::default(), changes: vec![], duration: Seconds::s(60.0) };
//! // A kink that narrows the airway in 10 s to a third of its area.
//! let fault: Fault = "kinked-tube".parse()?;
//! let kink = TimedFault { over: Seconds::s(10.0), ..TimedFault::step(fault, 0.67, Seconds::s(20.0)) };
//! let (breaths, _) = Simulation::new(&with_faults(&healthy, &[kink]))?.breaths()?;
//! let last = breaths.last().unwrap();
//! assert!(last.inspiratory_time < breaths[0].inspiratory_time);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! The sources of the numbers: 'assumed' is a choice of this model for teaching,
//! without a source.

mod airway;
mod circuit;
mod effort;
mod lung;
mod signs;
mod timed;

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use crate::setup::Setup;

pub use signs::{CASES, Case, cat, signs_table};
pub use timed::{TimedFault, with_faults};

macro_rules! faults {
    ($($(#[$doc:meta])* $Variant:ident $name:literal,)*) => {
        /// A fault, as a change of physics.
        ///
        /// Severity runs from 0 (absent) to 1 (whole). A *switch* is whole at any
        /// severity above 0.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Fault {
            $($(#[$doc])* $Variant,)*
        }

        impl Fault {
            /// Every fault, in the order of their declaration: patient, tube,
            /// circuit, valve and sensor, supply.
            pub const ALL: &[Self] = &[$(Self::$Variant,)*];

            /// Its name in files and on the command line.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self {
                    $(Self::$Variant => $name,)*
                }
            }
        }
    };
}

faults! {
    /// The muscles of the airways tighten: resistance rises up to 4 times for gas
    /// flowing in and 8 times for gas flowing out. Flow takes a larger share of the
    /// cycling pressure, so inspirations end early on pressure with less volume,
    /// and the lung empties slowly. Factors assumed.
    Bronchospasm "bronchospasm",
    /// Fluid and mucus narrow the airways to as little as 0.3 of their area;
    /// resistance goes with 1/area² (Poiseuille), both ways. Seen as a partly
    /// blocked tube. Area assumed.
    Mucus "mucus",
    /// Gas lies in the pleural space and gets neither more nor less: the part of
    /// the lung that it collapses, up to 0.65, takes no gas any more, and its
    /// airways carry none. Inspirations end early on pressure with less volume;
    /// peak pressure stays normal. Share assumed.
    ClosedPneumothorax "closed-pneumothorax",
    /// A hole lets gas from the lung into the pleural space and not back; below its
    /// relaxed volume the lung is a tenth as compliant. Gas grows there breath by
    /// breath: at first it is a leak into the chest, then the lung is pressed
    /// together, inspirations end earlier and earlier, and peak pressure stays
    /// normal. The resistance of the hole falls to 200 cmH2O·s/L at severity 1;
    /// this and the tenth are assumed.
    TensionPneumothorax "tension-pneumothorax",
    /// A wound opens the pleural space to the room, and a hole of the same size
    /// opens the lung to the pleural space: each inspiration also blows through the
    /// chest to the room. Inspirations last longer and less comes back than went in.
    /// Resistances fall to 100 cmH2O·s/L at severity 1, assumed.
    OpenPneumothorax "open-pneumothorax",
    /// Hands or instruments lean on the chest: the wall loses up to 0.46 of its
    /// compliance (0.3 of lung and wall together) and is pressed by up to
    /// 5 cmH2O. Gas is pressed out at once, then each inspiration ends early on
    /// pressure with less volume. Numbers assumed.
    CompressedChest "compressed-chest",
    /// The abdomen is filled or leant on: the diaphragm is pressed by up to 13.6
    /// cmH2O (10 mmHg of insufflated gas), half of which reaches the chest, and the
    /// wall loses up to 0.46 of its compliance. Seen as a compressed chest. The half
    /// and the compliance are assumed.
    CompressedAbdomen "compressed-abdomen",
    /// The tube has gone too far, into one main bronchus: the airway to the other
    /// lung narrows (area 1 − severity, resistance 1/area²) and at severity 1 is
    /// shut. Inspirations take about half the time and bring about half the volume;
    /// peak pressure stays normal. A lung of one compartment is first split in two
    /// equal ones behind a common tube that has 0.7 of its resistance, if it has no
    /// tube of its own: the same mechanics as a whole. The 0.7 is assumed.
    OneLungIntubation "one-lung-intubation",
    /// The patient breathes by itself, asking nothing of the ventilator: half-sines
    /// of muscle pressure of up to 10 cmH2O, 1 s long, every 3 s, in the place of
    /// what its muscles did before. What they take from the airway pressure the
    /// fresh gas must fill up, so an inspiration that meets an effort lasts longer
    /// and brings more; no two breaths are alike. Numbers assumed.
    OwnBreaths "own-breaths",
    /// The patient coughs every 3 s: the abdomen presses out with up to 30 cmH2O,
    /// rising in 0.06 s, held for 0.1 s, falling in 0.2 s, in the place of what its
    /// muscles did before. A cough in an inspiration drives the pressure past the
    /// cycling pressure and ends it. Numbers assumed; real coughs go far higher.
    Coughing "coughing",
    /// The patient tightens its chest against the ventilator in bouts of 1.5 s, every
    /// 5 s, with up to 8 cmH2O, in the place of what its muscles did before: gas is
    /// pressed out, and an inspiration that meets a bout ends early with less volume.
    /// Numbers assumed. (Bracing that never lets go only moves the volume at which
    /// a lung with a straight pressure-volume line breathes, and shows in no breath.)
    Bracing "bracing",
    /// The tube is kinked, bitten or blocked: its area falls to 1 − severity, its
    /// resistance goes with 1/area² (Poiseuille; a sized tube keeps its law with
    /// less bore), and at severity 1 it is shut. Without a tube of its own the
    /// airways, which then count the tube in, are narrowed. Inspirations end early
    /// on pressure, at once when shut, and the rate goes up.
    KinkedTube "kinked-tube",
    /// A flap of mucus or cuff lies so that it blocks gas on its way out only, as
    /// [`Fault::KinkedTube`] does both ways. The lung fills and does not empty:
    /// pressure builds up in it until nothing more goes in. A tube with a curved law
    /// counts with its resistance at low flow.
    FlapAgainstExpiration "flap-against-expiration",
    /// The same flap the other way: it blocks gas on its way in only.
    FlapAgainstInspiration "flap-against-inspiration",
    /// The cuff loses gas: it seals up to 25 cmH2O times (1 − severity) (within the
    /// 20 to 30 cmH2O to which cuffs are filled; Hardie 1999 and others on the
    /// dangers of more), or up to what it sealed to if that was less, and lets
    /// 20 mL/s pass for each cmH2O above that (assumed). Below the cycling pressure
    /// it gives the pressure a flat top: inspirations end on time.
    CuffLeak "cuff-leak",
    /// A long thin gap in the circuit: flow in proportion to pressure, up to 5 mL/s
    /// for each cmH2O, beside the leak that is there already. The accepted 300
    /// mL/min at 30 cmH2O (Coleman 2016) is severity 0.033. Small, it lengthens
    /// inspiration; large, it ends every breath on the time limit.
    CircuitLeak "circuit-leak",
    /// A sharp-edged hole in the circuit: flow with the square root of pressure, up
    /// to 50 mL/s at 10 cmH2O. Seen as a circuit leak; it loses more at low
    /// pressure.
    CircuitHole "circuit-hole",
    /// The tube comes off the T-piece: the port is open to the room, and so is the
    /// patient. Pressure stays near 0, inspirations last to the time limit, no
    /// volume. A switch.
    PatientDisconnected "patient-disconnected",
    /// The fresh gas hose comes off the T-piece: no gas comes, and what is there
    /// leaves through the open inlet, of 5 cmH2O·s/L (assumed). No pressure,
    /// inspirations last to the time limit. A switch.
    FreshGasHoseOff "fresh-gas-hose-off",
    /// The limb comes off at the valve: its end is open to the room whatever the
    /// valve does. Pressure stays near 0, inspirations last to the time limit. A
    /// circuit whose limb is not described gets one of 1 cmH2O·s/L that holds no
    /// gas (assumed). A switch.
    LimbDisconnected "limb-disconnected",
    /// The expiratory limb is squeezed or blocked: its area falls to 1 − severity
    /// and its resistance goes with 1/area², at most 1e6 cmH2O·s/L. As fresh gas
    /// flows all the time, the baseline rises to flow times resistance; volume and
    /// inspiratory time fall. Bench support for pressure by flow times resistance:
    /// Drevhammar 2021. Without a limb of its own the outlet path counts it.
    LimbBlocked "limb-blocked",
    /// The scavenging behind the outlet valve is blocked: as
    /// [`Fault::LimbBlocked`], in the outlet path.
    ScavengingBlocked "scavenging-blocked",
    /// Condensed water lies in the limb and gas must bubble through a column of up
    /// to 10 cmH2O (assumed). The baseline is that column, whatever the flow.
    WaterInLimb "water-in-limb",
    /// The outlet valve does not shut: gas leaves all the time, pressure stays at
    /// flow times resistance, inspirations last to the time limit. A switch.
    ValveStuckOpen "valve-stuck-open",
    /// The outlet valve does not open: pressure climbs by flow over compliance, past
    /// the cycling pressure, until a relief valve opens. A switch.
    ValveStuckShut "valve-stuck-shut",
    /// The sense line is off: the ventilator reads 0, so that inspirations end on
    /// time only and volume is flow times time limit. A switch.
    SenseLineOff "sense-line-off",
    /// The sense line is blocked while the circuit is at its resting pressure, the
    /// set end-expiratory pressure, and the ventilator goes on reading that. Seen
    /// as a sense line that is off. A switch.
    SenseLineBlocked "sense-line-blocked",
    /// The sensor reads up to 5 cmH2O too much (assumed): breaths end early and
    /// small, while the reading looks right.
    GaugeReadsHigh "gauge-reads-high",
    /// The sensor reads up to 5 cmH2O too little (assumed): breaths end late and
    /// large, while the reading looks right.
    GaugeReadsLow "gauge-reads-low",
    /// Fresh gas flow falls in proportion, to nothing at severity 1. Inspirations
    /// last longer as it sags, then to the time limit.
    FreshGasFailing "fresh-gas-failing",
    /// The cylinder has run down so far that its regulator holds the flow no more:
    /// what is left discharges through the fixed needle of the flowmeter, so that
    /// flow follows pressure and pressure follows contents, an exponential in time.
    /// With severity s as the time, flow is (e^(−4·s) − e^(−4))/(1 − e^(−4)) of
    /// itself: give it a ramp. When it begins is contents over flow, see
    /// [`crate::supply::minutes_left`]. Four time constants assumed.
    CylinderEmptying "cylinder-emptying",
    /// The oxygen flush is pressed: up to 35 L/min more (common practice, no
    /// source). A narrow outlet rises steeply with flow: one that states no
    /// [`outlet_k2`](crate::setup::Circuit::outlet_k2) gets 8 times its resistance in
    /// cmH2O·s²/L² (assumed; 40 for 5 cmH2O·s/L). Pressure slams to the cycling pressure,
    /// stays dangerously high while the valve is open, and the lung cannot empty: never
    /// flush into a connected small patient.
    OxygenFlush "oxygen-flush",
}

/// A word that names no fault.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("`{word}` is no fault: the faults are {}", names())]
pub struct UnknownFault {
    /// The word given.
    pub word: String,
}

impl Fault {
    /// Its name as a person writes it: `kinked tube`, `one-lung intubation`.
    ///
    /// ```
    /// use tidewright::fault::Fault;
    /// assert_eq!(Fault::KinkedTube.in_words(), "kinked tube");
    /// assert_eq!(Fault::OneLungIntubation.in_words(), "one-lung intubation");
    /// ```
    #[must_use]
    pub fn in_words(self) -> String {
        self.name().replace('-', " ").replace("one lung", "one-lung")
    }

    /// The setup with this fault in it. Severity below 0 or not a number counts as
    /// 0 and gives [`Fault::prepare`]'s setup, above 1 as 1. Faults are put in one
    /// after the other.
    ///
    /// ```
    /// use tidewright::fault::Fault;
    /// use tidewright::prelude::*;
    /// let leaky = Fault::CircuitLeak.apply(&Setup::default(), 0.2);
    /// let both = Fault::KinkedTube.apply(&leaky, 1.0);
    /// assert_eq!(both.circuit.leak.unwrap().conductance_ml_s_per_cmh2o(), 1.0);
    /// assert_eq!(both.lung.tube, Tube::Shut);
    /// ```
    #[must_use]
    pub fn apply(self, setup: &Setup, severity: f64) -> Setup {
        let mut setup = self.prepare(setup);
        if severity > 0.0 {
            self.put_into(&mut setup, severity.min(1.0));
        }
        setup
    }

    /// The setup with the structure that this fault needs, without the fault: a
    /// chest wall of its own, or two lungs instead of one. A run that will have the
    /// fault has to start with it, as no gas can be moved between parts of the
    /// model in mid-run.
    ///
    /// A chest wall takes half of the recoil of lung and wall together. A lung with
    /// a curved pressure-volume law keeps it as its own, and the wall is ten times as
    /// compliant as the lung's `compliance` says.
    #[must_use]
    pub fn prepare(self, setup: &Setup) -> Setup {
        let mut setup = setup.clone();
        match self {
            Self::TensionPneumothorax
            | Self::OpenPneumothorax
            | Self::CompressedChest
            | Self::CompressedAbdomen => lung::give_chest_wall(&mut setup.lung),
            Self::OneLungIntubation => lung::split_in_two(&mut setup.lung),
            _ => {}
        }
        setup
    }

    /// Whether it is whole at any severity above 0.
    ///
    /// ```
    /// use tidewright::fault::Fault;
    /// assert!(Fault::SenseLineOff.is_switch() && !Fault::KinkedTube.is_switch());
    /// ```
    #[must_use]
    pub fn is_switch(self) -> bool {
        matches!(
            self,
            Self::PatientDisconnected
                | Self::FreshGasHoseOff
                | Self::LimbDisconnected
                | Self::ValveStuckOpen
                | Self::ValveStuckShut
                | Self::SenseLineOff
                | Self::SenseLineBlocked
        )
    }

    /// Whether it lies beyond the T-piece, in tube, cuff, lung, chest or muscles. A
    /// separate bag in somebody's hands goes past every other fault.
    #[must_use]
    pub fn is_of_the_patient(self) -> bool {
        matches!(
            self,
            Self::Bronchospasm
                | Self::Mucus
                | Self::ClosedPneumothorax
                | Self::TensionPneumothorax
                | Self::OpenPneumothorax
                | Self::CompressedChest
                | Self::CompressedAbdomen
                | Self::OneLungIntubation
                | Self::OwnBreaths
                | Self::Coughing
                | Self::Bracing
                | Self::KinkedTube
                | Self::FlapAgainstExpiration
                | Self::FlapAgainstInspiration
                | Self::CuffLeak
        )
    }

    fn put_into(self, setup: &mut Setup, severity: f64) {
        let Setup { lung, circuit, ventilator, effort } = setup;
        match self {
            Self::Bronchospasm => airway::tighten(lung, severity),
            Self::Mucus => airway::narrow_airways(lung, 1.0 - 0.7 * severity),
            Self::ClosedPneumothorax => lung::collapse(lung, 0.65 * severity),
            Self::TensionPneumothorax => lung::tear_one_way(lung, severity),
            Self::OpenPneumothorax => lung::wound(lung, severity),
            Self::CompressedChest => lung::press(lung, 5.0, severity),
            Self::CompressedAbdomen => lung::press(lung, 6.8, severity),
            Self::OneLungIntubation => lung::shut_off_one_lung(lung, severity),
            Self::OwnBreaths | Self::Coughing | Self::Bracing => {
                *effort = effort::at_work(self, severity);
            }
            Self::KinkedTube => airway::narrow_tube(lung, 1.0 - severity),
            Self::FlapAgainstExpiration => airway::flap(lung, [1.0, 1.0 - severity]),
            Self::FlapAgainstInspiration => airway::flap(lung, [1.0 - severity, 1.0]),
            Self::CuffLeak => airway::deflate_cuff(lung, severity),
            _ => circuit::put_into(self, circuit, ventilator, severity),
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for Fault {
    type Err = UnknownFault;

    fn from_str(word: &str) -> Result<Self, UnknownFault> {
        let named = Self::ALL.iter().copied().find(|fault| fault.name() == word);
        named.ok_or_else(|| UnknownFault { word: word.to_owned() })
    }
}

fn names() -> String {
    Fault::ALL.iter().map(|fault| fault.name()).collect::<Vec<_>>().join(", ")
}
