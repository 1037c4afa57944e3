//! What can go wrong, as changes of physics: each [`Fault`] turns a [`Setup`]
//! into another one, and the breaths follow by themselves.
//!
//! Faults compose: apply one after the other. [`with_faults`] lays them over a
//! protocol in time, with an [`Onset`] each. Signs are quoted for a ventilator
//! that is driven by fresh gas, ended by pressure and limited by time;
//! [`signs::fault_table`] prints them for one cat.
//!
//! ```
//! use tidewright::fault::Fault;
//! use tidewright::prelude::*;
//! let setup = Setup::default();
//! // A bore narrowed by half resists four times as much.
//! let kinked = Fault::TubeNarrowed { area_lost: 0.5 }.apply(&setup, 1.0)?;
//! let resistance = setup.lung.compartments[0].resistance;
//! assert_eq!(kinked.lung.tube, Tube::Linear(resistance * 3.0)); // in series with the old one
//! assert!(Fault::TubeNarrowed { area_lost: 1.5 }.apply(&setup, 1.0).is_err());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod airway;
mod chest;
mod circuit;
pub mod signs;
mod timing;

use thiserror::Error;

use crate::quantity::{Flow, Pressure, Resistance, Volume};
use crate::run::ProtocolError;
use crate::setup::{Cuff, Leak, Setup};

pub use timing::{Cylinder, Onset, RAMP_STEPS, Shape, TimedFault, with_faults};

/// A physical change for the worse.
///
/// The numbers of a variant describe the whole fault. A severity from 0 (none)
/// to 1 (whole) says how much of it there is: it scales the number that the
/// variant's text names; a fault of which there is no half is there at any
/// severity above 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// A tube that is kinked, bitten or blocked, or too narrow. Resistance goes
    /// with the inverse square of the cross-section that is left, R/(1 − a)²,
    /// for gas in both directions: exact for laminar flow in a narrowed bore
    /// (Poiseuille), and the way of a short constriction too. *Seen:* the
    /// breath starts with a higher step Q·R, ends early on pressure and carries
    /// less; shut, it is a click and the chest stands still, at a normal peak
    /// pressure. Severity scales the area lost. *Source:* physics; signs common
    /// practice, no source.
    TubeNarrowed {
        /// Share of the cross-section that is lost, 0 to 1; from
        /// [`SHUT_FROM`] on the tube is shut.
        area_lost: f64,
    },
    /// A flap or a plug in the tube that lets gas pass one way: the other
    /// direction is narrowed as by [`Fault::TubeNarrowed`]. *Seen:* inward only,
    /// each breath adds to the lung until it stands near the cycling pressure
    /// and nothing comes out, while the gauge falls to its baseline as if all
    /// were well; outward only, it is a shut tube. Severity scales the area
    /// lost by the direction that shuts. *Source:* common practice, no source.
    TubeFlap {
        /// The direction that stays open.
        passes: Direction,
    },
    /// Mucus that lines tube and airways: all of them narrowed alike, as by
    /// [`Fault::TubeNarrowed`]. The saw-tooth of moving fluid is not modelled; a
    /// plug in the tube is a [`Fault::TubeNarrowed`] or a [`Fault::TubeFlap`].
    /// *Seen:* as a narrow tube; it grows over minutes to hours. Severity scales
    /// the area lost. *Source:* physics; signs common practice, no source.
    Mucus {
        /// Share of the cross-section that is lost, 0 to 1.
        area_lost: f64,
    },
    /// A tube pushed on into one main bronchus: the last half of the lung's
    /// compartments is narrowed as by [`Fault::TubeNarrowed`], at severity 1
    /// shut. A lung of one compartment is first split into two equal halves
    /// that together are the same lung. Gas that was in the shut half stays
    /// there; in an animal it is absorbed. *Seen:* half the compliance, so about
    /// half the inspiratory time and volume, at a normal peak pressure.
    /// *Source:* common practice, no source.
    OneLungIntubation,
    /// A cuff that holds to a pressure and leaks above it, in proportion to the
    /// excess. A cuff described already keeps the lower of the two pressures,
    /// and the leaks add. *Seen:* with a large leak the pressure flattens at
    /// the seal and time ends the breath; more goes in at the mouth than comes
    /// back. Severity scales the leak. *Source:* S12 for the volume that seals
    /// a cat (Hardie 1999, JAVMA 214:508, second hand); signs common practice.
    CuffLeak(Cuff),
    /// A hole in the circuit, in proportion to pressure or to its root; holes
    /// add. With a conductance G the pressure tends to Q/G. *Seen:* small, only
    /// a longer inspiration, with a volume that may even rise, as less flow is
    /// left to lose pressure in the tube at the end; large, every breath ends
    /// on time below the cycling pressure. Severity scales the leak. *Source:*
    /// physics; 300 mL/min at 30 cmH2O is commonly passed (S10: Coleman 2016,
    /// Clinician's Brief, second hand).
    CircuitLeak(Leak),
    /// A joint that has come apart. *Seen:* patient, limb or inlet: pressure
    /// near zero, every breath ends on time. Sense line: see [`Joint`]. There is
    /// no half of it. *Source:* common practice, no source.
    Disconnection(Joint),
    /// An outlet valve that never shuts. *Seen:* as a disconnection, but a thumb
    /// on the patient port raises no pressure either. There is no half of it.
    /// *Source:* common practice, no source.
    OutletValveStuckOpen,
    /// An outlet valve that never opens. *Seen:* pressure climbs by Q/(C + Cc)
    /// each second, through cycling pressure and expiration, to the relief valve
    /// or beyond, and the clocks run on regardless. There is no half of it.
    /// *Source:* physics.
    OutletValveStuckShut,
    /// A blocked sense line: the ventilator reads what was in the line when it
    /// was blocked, for ever. *Seen:* below the cycling pressure, time ends
    /// every breath and the volume is Q times the limit; at or above it, every
    /// inspiration ends as it begins. There is no half of it. *Source:* physics.
    SenseLineBlocked {
        /// The pressure that is read.
        stays_at: Pressure,
    },
    /// A sensor that reads high (or low, below 0). *Seen:* the breath ends at
    /// the cycling pressure less the offset; the displayed peak is right and
    /// the volume is not. Severity scales it. *Source:* physics.
    GaugeOffset {
        /// What it adds to the true pressure.
        adds: Pressure,
    },
    /// Fresh gas that fails, by a hose, a flowmeter or a supply. *Seen:* longer
    /// inspirations, then breaths that end on time with less and less volume,
    /// and no flow with the port occluded. With [`Shape::Emptying`] it fails as
    /// a cylinder does. Severity scales the share. *Source:* physics.
    FreshGasFailing {
        /// Share of the set flow that is lost, 0 to 1.
        share_lost: f64,
    },
    /// A limb, or a filter in it, that resists more. *Seen:* fresh gas flows
    /// through the limb all the time, so the baseline is Q·R; the lung stays
    /// full, and the breath between baseline and cycling pressure shrinks.
    /// Lowering the flow lowers the baseline. Severity scales it. *Source:* S1
    /// (Drevhammar 2021, Front Pediatr 10.3389/fped.2021.663249, second hand).
    LimbObstructed {
        /// Resistance in addition; 1e6 cmH2O·s/L lets nothing pass that matters.
        adds: Resistance,
    },
    /// Scavenging that resists what leaves the outlet valve. *Seen:* as an
    /// obstructed limb; a sensor at the valve end reads it too. Severity scales
    /// it. *Source:* physics.
    ScavengingObstructed {
        /// Resistance in addition.
        adds: Resistance,
    },
    /// Water in a dip of the limb: gas must bubble through the column. *Seen:*
    /// the baseline is at least the column, at any flow. Severity scales it.
    /// *Source:* physics.
    WaterInLimb {
        /// Height of the column.
        column: Pressure,
    },
    /// Airways that narrow, for breathing out more than for breathing in. The
    /// factors act on the airway of every compartment, not on the tube. *Seen:*
    /// shorter inspirations, less volume, slow emptying, gas trapped when the
    /// expiratory time is short; less flow or a longer expiration helps.
    /// Severity scales the factors from 1. *Source:* common practice, no source.
    Bronchospasm {
        /// Factor on airway resistance for gas flowing in, 1 or more.
        inspiratory: f64,
        /// Factor on airway resistance for gas flowing out, 1 or more.
        expiratory: f64,
    },
    /// Gas in the pleural space, as much and no more. It presses on the lung by
    /// its volume over the chest wall's compliance; where the lung is pressed to
    /// nothing it collapses and must be opened anew in each breath. *Seen:*
    /// shorter inspirations and less volume at a normal peak. Severity scales
    /// the volume. *Source:* physics; chest split as in [`Fault::prepare`].
    PneumothoraxClosed {
        /// Gas in the pleural space.
        gas: Volume,
    },
    /// A hole in the lung that lets gas into the pleural space and not back: it
    /// grows with every breath until the pleural space is at the pressure of
    /// the breath's peak. *Seen:* inspiration shortens and volume falls breath
    /// by breath, at a normal peak. Ending the fault closes the hole and leaves
    /// the gas. Severity scales the conductance of the hole. *Source:* physics;
    /// signs common practice, no source.
    PneumothoraxTension {
        /// Resistance of the hole.
        hole: Resistance,
    },
    /// A wound that opens the pleural space to the room, and a hole in the lung
    /// if there is one. The lung recoils from the chest wall and, at the end of
    /// expiration, collapses; under pressure it opens without the chest wall's
    /// weight. *Seen:* with a hole, more goes in at the mouth than comes back.
    /// Severity scales the conductances. *Source:* physics; signs common
    /// practice, no source.
    PneumothoraxOpen {
        /// Resistance of the wound.
        wound: Resistance,
        /// Resistance of the hole in the lung.
        hole: Option<Resistance>,
    },
    /// A chest or an abdomen that is pressed on: by a surgeon, a bandage, gas
    /// for laparoscopy. It is stiffer, so that lung and chest wall together
    /// have the given share of their compliance, and a pressure acts on it.
    /// *Seen:* shorter inspirations and less volume at once, undone at once.
    /// Severity scales the share lost and the pressure. *Source:* common
    /// practice, no source.
    ChestCompressed {
        /// Factor on the compliance of lung and chest wall together, above 0 to 1.
        compliance_factor: f64,
        /// Pressure on the chest from outside.
        pressure: Pressure,
    },
    /// Oxygen flush pressed: a flow of many litres a minute in addition. *Seen:*
    /// with a small patient the pressure slams to the cycling pressure in a
    /// click and the baseline rises by Q·R of the outlet. Severity scales the
    /// flow. *Source:* 35 to 75 L/min is usual (from memory).
    OxygenFlush {
        /// The flow in addition.
        flow: Flow,
    },
}

/// A direction of flow in the breathing tube.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Into the patient.
    Inward,
    /// Out of the patient.
    Outward,
}

/// A joint that can come apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Joint {
    /// The patient's tube and the T-piece: both are open to the room.
    PatientConnection,
    /// The fresh gas hose and the T-piece: no gas comes, the inlet is a hole.
    FreshGasHose,
    /// The limb and the outlet valve: the limb is open to the room.
    Limb,
    /// The sense line and the ventilator: it reads zero, and the circuit leaks
    /// through the line. *Seen:* time ends every breath; with a narrow line the
    /// chest is over-expanded, with a wide one it gets too little.
    SenseLine {
        /// Resistance of the line.
        line: Resistance,
    },
}

/// From this share of lost cross-section on (a thousand times the resistance or
/// more, a million or more in fact) a narrowed tube counts as shut.
pub const SHUT_FROM: f64 = 0.999;

/// A fault that cannot be applied, and why.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum FaultError {
    /// A number of a fault, or its severity, is out of range.
    #[error("{fault}: {what} is {value}, and must be {expected}")]
    OutOfRange {
        /// The fault.
        fault: &'static str,
        /// The number's name.
        what: &'static str,
        /// The number given.
        value: f64,
        /// What would be in range.
        expected: &'static str,
    },
    /// A chest wall is needed and cannot be told apart from the lung.
    #[error(
        "{fault}: the lung has a curved pressure-volume law and no chest wall, so what presses \
         on the lung is not known: describe the chest wall apart"
    )]
    NeedsChestWall {
        /// The fault.
        fault: &'static str,
    },
    /// A cylinder can only empty where fresh gas fails.
    #[error("{fault}: only fresh gas can fail as a cylinder empties; choose a step or a ramp")]
    NoSupply {
        /// The fault.
        fault: &'static str,
    },
    /// The protocol under the faults cannot be run.
    #[error(transparent)]
    Protocol(#[from] ProtocolError),
}

impl Fault {
    /// Its name, in words.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::TubeNarrowed { .. } => "narrowed tube",
            Self::TubeFlap { .. } => "flap in the tube",
            Self::Mucus { .. } => "mucus",
            Self::OneLungIntubation => "one-lung intubation",
            Self::CuffLeak(_) => "cuff leak",
            Self::CircuitLeak(_) => "circuit leak",
            Self::Disconnection(_) => "disconnection",
            Self::OutletValveStuckOpen => "outlet valve stuck open",
            Self::OutletValveStuckShut => "outlet valve stuck shut",
            Self::SenseLineBlocked { .. } => "blocked sense line",
            Self::GaugeOffset { .. } => "gauge offset",
            Self::FreshGasFailing { .. } => "failing fresh gas",
            Self::LimbObstructed { .. } => "obstructed limb",
            Self::ScavengingObstructed { .. } => "obstructed scavenging",
            Self::WaterInLimb { .. } => "water in the limb",
            Self::Bronchospasm { .. } => "bronchospasm",
            Self::PneumothoraxClosed { .. } => "closed pneumothorax",
            Self::PneumothoraxTension { .. } => "tension pneumothorax",
            Self::PneumothoraxOpen { .. } => "open pneumothorax",
            Self::ChestCompressed { .. } => "compressed chest",
            Self::OxygenFlush { .. } => "oxygen flush",
        }
    }

    /// The same healthy mechanics with the parts that this fault acts on. Parts
    /// that hold gas cannot come or go in mid-run, so a run that will meet the
    /// fault starts from this; [`with_faults`] sees to it. Preparing twice
    /// changes nothing more.
    ///
    /// One-lung intubation splits a lung of one compartment into equal halves.
    /// Faults of the chest set lung and chest wall apart where the lung's law is
    /// straight: the wall, if it is not described, takes a quarter of the
    /// elastance (a model choice between 0.11, ferret, and 0.38, rat: Lai and
    /// Hildebrandt 1978, J Appl Physiol 45:255, second hand); at rest the pleural
    /// space is at −5 cmH2O (textbook value, no source); a lung pressed to zero
    /// recoil is collapsed and from there 20 times as stiff (a model choice).
    ///
    /// # Errors
    /// A number out of range, or a chest wall that cannot be told apart.
    pub fn prepare(&self, setup: &Setup) -> Result<Setup, FaultError> {
        self.check()?;
        let mut setup = setup.clone();
        match self {
            Self::OneLungIntubation => airway::split_in_halves(&mut setup.lung),
            Self::PneumothoraxClosed { .. }
            | Self::PneumothoraxTension { .. }
            | Self::PneumothoraxOpen { .. }
            | Self::ChestCompressed { .. } => {
                chest::set_wall_apart(&mut setup.lung)
                    .ok_or(FaultError::NeedsChestWall { fault: self.name() })?;
            }
            _ => {}
        }
        Ok(setup)
    }

    /// The setup with this fault, at a severity from 0 to 1.
    ///
    /// # Errors
    /// As [`Fault::prepare`], or a severity out of range.
    pub fn apply(&self, setup: &Setup, severity: f64) -> Result<Setup, FaultError> {
        self.within(0.0..=1.0, "severity", severity, "a number from 0 to 1")?;
        let mut setup = self.prepare(setup)?;
        if severity > 0.0 {
            self.change(&mut setup, severity);
        }
        Ok(setup)
    }

    fn change(&self, setup: &mut Setup, severity: f64) {
        let Setup { lung, circuit, ventilator, .. } = setup;
        match *self {
            Self::TubeNarrowed { area_lost } => airway::narrow_tube(lung, severity * area_lost),
            Self::TubeFlap { passes } => airway::put_flap(lung, passes, severity),
            Self::Mucus { area_lost } => airway::line_with_mucus(lung, severity * area_lost),
            Self::OneLungIntubation => airway::cut_off_half(lung, severity),
            Self::CuffLeak(cuff) => airway::leak_past_cuff(lung, cuff, severity),
            Self::Bronchospasm { inspiratory, expiratory } => {
                let grown = |factor: f64| 1.0 + severity * (factor - 1.0);
                airway::narrow_airways(lung, grown(inspiratory), grown(expiratory));
            }
            Self::PneumothoraxClosed { gas } => chest::fill_pleural_space(lung, gas * severity),
            Self::PneumothoraxTension { hole } => chest::pierce_one_way(lung, hole, severity),
            Self::PneumothoraxOpen { wound, hole } => {
                chest::open_wound(lung, wound, hole, severity);
            }
            Self::ChestCompressed { compliance_factor, pressure } => {
                let factor = 1.0 - severity * (1.0 - compliance_factor);
                chest::compress(lung, factor, pressure * severity);
            }
            Self::CircuitLeak(leak) => circuit::add_leak(circuit, leak, severity),
            Self::Disconnection(joint) => circuit::disconnect(circuit, joint),
            Self::OutletValveStuckOpen => circuit.valve = crate::setup::Valve::StuckOpen,
            Self::OutletValveStuckShut => circuit.valve = crate::setup::Valve::StuckShut,
            Self::SenseLineBlocked { stays_at } => circuit::cut_sense_line(circuit, stays_at),
            Self::GaugeOffset { adds } => {
                circuit.sensor.offset = circuit.sensor.offset + adds * severity;
            }
            Self::LimbObstructed { adds } => circuit::obstruct_limb(circuit, adds * severity),
            Self::ScavengingObstructed { adds } => {
                circuit.valve_resistance = circuit.valve_resistance + adds * severity;
            }
            Self::WaterInLimb { column } => {
                circuit.water_in_limb = circuit.water_in_limb + column * severity;
            }
            Self::FreshGasFailing { share_lost } => {
                let left = 1.0 - severity * share_lost;
                ventilator.fresh_gas_flow = ventilator.fresh_gas_flow * left;
            }
            Self::OxygenFlush { flow } => {
                ventilator.fresh_gas_flow = ventilator.fresh_gas_flow + flow * severity;
            }
        }
    }

    fn check(&self) -> Result<(), FaultError> {
        let share = |what, value| self.within(0.0..=1.0, what, value, "a number from 0 to 1");
        let at_least_one = |what, value| self.within(1.0..=1e6, what, value, "1 to 1e6");
        let amount = |what, value| self.within(0.0..=1e9, what, value, "0 to 1e9");
        let resistance = |what, value: Resistance| {
            self.within(1e-9..=1e9, what, value.as_cmh2o_s_per_l(), "above 0, to 1e9 cmH2O·s/L")
        };
        match *self {
            Self::TubeNarrowed { area_lost } | Self::Mucus { area_lost } => {
                share("share of the area lost", area_lost)
            }
            Self::FreshGasFailing { share_lost } => share("share of the flow lost", share_lost),
            Self::Bronchospasm { inspiratory, expiratory } => {
                at_least_one("inspiratory factor", inspiratory)?;
                at_least_one("expiratory factor", expiratory)
            }
            Self::CuffLeak(cuff) => {
                amount("seal pressure, cmH2O", cuff.seals_to.as_cmh2o())?;
                amount("leak, mL/s per cmH2O", cuff.conductance_ml_s_cmh2o)
            }
            Self::CircuitLeak(leak) => {
                amount("leak, mL/s", leak.flow.as_ml_s())?;
                let at = leak.at.as_cmh2o();
                self.within(1e-9..=1e9, "pressure of the leak, cmH2O", at, "above 0, to 1e9")
            }
            Self::Disconnection(Joint::SenseLine { line }) => resistance("line", line),
            Self::LimbObstructed { adds } | Self::ScavengingObstructed { adds } => {
                amount("added resistance, cmH2O·s/L", adds.as_cmh2o_s_per_l())
            }
            Self::WaterInLimb { column } => amount("column, cmH2O", column.as_cmh2o()),
            Self::PneumothoraxClosed { gas } => amount("gas, mL", gas.as_ml()),
            Self::PneumothoraxTension { hole } => resistance("hole", hole),
            Self::PneumothoraxOpen { wound, hole } => {
                resistance("wound", wound)?;
                hole.map_or(Ok(()), |hole| resistance("hole", hole))
            }
            Self::ChestCompressed { compliance_factor, pressure } => {
                let expected = "a number from 1e-6 to 1";
                self.within(1e-6..=1.0, "compliance factor", compliance_factor, expected)?;
                self.within(-1e9..=1e9, "pressure, cmH2O", pressure.as_cmh2o(), "-1e9 to 1e9")
            }
            Self::GaugeOffset { adds: pressure } | Self::SenseLineBlocked { stays_at: pressure } => {
                self.within(-1e9..=1e9, "pressure, cmH2O", pressure.as_cmh2o(), "-1e9 to 1e9")
            }
            Self::OxygenFlush { flow } => amount("flow, mL/s", flow.as_ml_s()),
            Self::TubeFlap { .. }
            | Self::OneLungIntubation
            | Self::Disconnection(_)
            | Self::OutletValveStuckOpen
            | Self::OutletValveStuckShut => Ok(()),
        }
    }

    fn within(
        &self,
        range: std::ops::RangeInclusive<f64>,
        what: &'static str,
        value: f64,
        expected: &'static str,
    ) -> Result<(), FaultError> {
        if range.contains(&value) {
            return Ok(());
        }
        Err(FaultError::OutOfRange { fault: self.name(), what, value, expected })
    }
}
