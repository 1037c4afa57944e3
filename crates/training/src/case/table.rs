//! The parts on the table, as hands have joined them.

use std::sync::Arc;

use thiserror::Error;
use tidewright::assembly::{Assembly, AssemblyError, At, JoinError, Part};
use tidewright::exchange::Apparatus;
use tidewright::quantity::Flow;
use tidewright::setup::{PatientPort, Setup};
use tidewright_scenario::format::{Act, Training};

use crate::case::draw::Drawn;

/// Parts, what of them is joined, and what that makes. Cloning it copies no part.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    parts: Arc<Assembly>,
    /// As they were joined when the patient was first put on.
    used: Option<Arc<Assembly>>,
    /// What gas meets; nothing while there is no way for it.
    apparatus: Option<Apparatus>,
}

/// Why parts cannot be joined or parted so.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NotJoined {
    /// The parts have no such port, or it is taken, or two do not fit.
    #[error(transparent)]
    Join(#[from] JoinError),
    /// What the parts then make cannot be.
    #[error(transparent)]
    Circuit(AssemblyError),
    /// The patient is no part to be joined or parted.
    #[error("the patient's tube is put on with `reconnect` and taken off with `disconnect`")]
    PatientByHand,
    /// There is no open port for the patient.
    #[error(
        "the circuit has no open port for the patient: `trace` tells what is there, and \
         `parts` what is on each port"
    )]
    NoPlaceForThePatient,
}

impl Table {
    /// The table of a lesson in a case, if it has one.
    pub(crate) fn of(training: &Training, drawn: Option<&Drawn>, base: &Setup) -> Option<Self> {
        let table = training.table.as_ref()?;
        // The reader has put them together before.
        let parts = match drawn.and_then(|drawn| drawn.case.table.as_ref()) {
            Some(other) => table.put_together_with(other).ok()?,
            None => table.put_together().ok()?,
        };
        let apparatus = parts.assemble_to_change(base).ok().map(|made| made.apparatus);
        let parts = Arc::new(parts);
        let mut table = Self { parts, used: None, apparatus };
        table.used = table.patient_is_on().then(|| Arc::clone(&table.parts));
        Some(table)
    }

    /// The parts as they are joined now.
    #[must_use]
    pub fn parts(&self) -> &Assembly {
        &self.parts
    }

    /// The circuit to be judged: as it was when the patient was first put on it, or as it
    /// is where none was.
    #[must_use]
    pub fn judged(&self) -> &Assembly {
        self.used.as_ref().unwrap_or(&self.parts)
    }

    /// What gas meets in the circuit; nothing while there is no way for it.
    pub(crate) fn apparatus(&self) -> Option<Apparatus> {
        self.apparatus
    }

    /// Whether a patient lies there who is not on the circuit.
    pub(crate) fn patient_is_off(&self) -> bool {
        self.patient().is_some() && !self.patient_is_on()
    }

    fn patient_is_on(&self) -> bool {
        self.patient().is_some_and(|tube| self.parts.joined_to(tube).is_some())
    }

    fn patient(&self) -> Option<At> {
        let part = self.parts.pieces().iter().position(|one| one.part == Part::Patient)?;
        Some(At { part, port: Part::Patient.ports()[0] })
    }

    /// What an act does to the parts; nothing has changed where it is refused.
    pub(crate) fn act(&mut self, act: &Act, base: &Setup) -> Result<(), NotJoined> {
        let mut parts = (*self.parts).clone();
        match act {
            Act::Join(two) => {
                self.not_the_patient(&parts, &[&two.a, &two.b])?;
                parts.join(&two.a, &two.b)?;
            }
            Act::Part(one) => {
                let at = parts.at(&one.port)?;
                let on = parts.joined_to(at).map(|on| parts.name_of(on));
                self.not_the_patient(&parts, &[&one.port])?;
                if let Some(on) = on {
                    self.not_the_patient(&parts, &[&on])?;
                }
                parts.separate(&one.port)?;
            }
            Act::ReseatJoint => {
                let loose: Vec<_> =
                    parts.joints().iter().filter(|joint| joint.loose).copied().collect();
                for joint in loose {
                    parts.separate(&parts.name_of(joint.a))?;
                    parts.join_ports(joint.a, joint.b, false)?;
                }
            }
            Act::Reconnect if self.patient_is_off() => {
                let open = parts.line().ok().map(|line| line.patient_end);
                let open = open.filter(|&at| parts.joined_to(at).is_none());
                let (Some(open), Some(tube)) = (open, self.patient()) else {
                    return Err(NotJoined::NoPlaceForThePatient);
                };
                parts.join_ports(tube, open, false)?;
            }
            Act::Disconnect | Act::HandVentilate | Act::Extubate if self.patient_is_on() => {
                if let Some(tube) = self.patient() {
                    parts.separate(&parts.name_of(tube))?;
                }
            }
            _ => return Ok(()),
        }
        self.apparatus = match parts.assemble_to_change(base) {
            Ok(made) => Some(made.apparatus),
            // There is no way yet, and none is refused for that.
            Err(AssemblyError::NoTPiece { .. } | AssemblyError::Count { .. }) => None,
            Err(refused) => return Err(NotJoined::Circuit(refused)),
        };
        self.parts = Arc::new(parts);
        if matches!(act, Act::Reconnect) && self.used.is_none() {
            self.used = Some(Arc::clone(&self.parts));
        }
        Ok(())
    }

    fn not_the_patient(&self, parts: &Assembly, ports: &[&str]) -> Result<(), NotJoined> {
        for port in ports {
            if Some(parts.at(port)?) == self.patient() {
                return Err(NotJoined::PatientByHand);
            }
        }
        Ok(())
    }

    /// The machine that the parts make of what is set. Where they make no way for gas, the
    /// patient is open to the room and no fresh gas comes.
    pub(crate) fn setup(&self, base: &Setup) -> Setup {
        if let Ok(made) = self.parts.assemble_to_change(base) {
            return made.setup;
        }
        let mut setup = self.whole(base);
        setup.circuit.patient_port = PatientPort::Open;
        setup.ventilator.fresh_gas_flow = Flow::ZERO;
        setup
    }

    /// A whole circuit with the places that these parts may need: where a separate bag
    /// goes past what is on the table.
    pub(crate) fn whole(&self, base: &Setup) -> Setup {
        let mut whole = Assembly::ready_made();
        let bag = self.parts.pieces().iter().find(|one| matches!(one.part, Part::Bag(_)));
        if let Some(bag) = bag {
            whole.put(&bag.name, bag.part.clone(), 0.0);
        }
        whole.assemble_to_change(base).map_or_else(|_| base.clone(), |made| made.setup)
    }
}
