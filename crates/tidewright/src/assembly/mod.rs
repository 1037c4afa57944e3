//! A breathing circuit put together from parts: what is joined to what, and what that
//! makes of the machine.
//!
//! Parts have ports, ports are joined two and two. [`Assembly::assemble`] makes a
//! [`Setup`](crate::setup::Setup) and an [`Apparatus`](crate::exchange::Apparatus) of
//! what was joined, or says which port stands in the way. A circuit that is put together
//! wrongly is computed like any other: what then happens is written down nowhere.
//!
//! ```
//! use tidewright::assembly::Assembly;
//! use tidewright::prelude::*;
//! let mut circuit = Assembly::ready_made();
//! assert_eq!(circuit.assemble(&Setup::default())?.setup, Setup::default());
//! // Somebody forgets the sensing line on the ventilator's side.
//! circuit.separate("ventilator.sensing")?;
//! let setup = circuit.assemble(&Setup::default())?.setup;
//! assert_eq!(setup.circuit.sensor.place, SensorPlace::Cut(Pressure::ZERO));
//! assert!(setup.circuit.leak.is_some()); // and the line lets gas out
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! The model holds one T-piece at the patient and, at most, a second one at the far end
//! of the limb. Holes and open ports count as if they were at the T-piece. What it
//! cannot hold it refuses, by the name of the port.

mod compile;
mod error;
mod hole;
mod line;
mod mistake;
mod part;
mod ready;
mod trace;

pub use compile::Assembled;
pub use error::{AssemblyError, JoinError};
pub use line::{Leg, Line};
pub use mistake::Mistake;
pub use part::{
    Adapter, Fitting, Part, Port, Scavenging, TPiece, TailBag, TestLung, ThinLine, Tubing,
    VentilatorBody, WasteTube,
};

/// A part under its name.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Piece {
    /// What it is called: small letters, digits and hyphens.
    pub name: String,
    /// What it is.
    pub part: Part,
    /// Bore of a hole through its wall, mm; 0 for none.
    pub crack_mm: f64,
}

/// A port of a part, by the part's place in the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct At {
    /// Which part.
    pub part: usize,
    /// Which of its ports.
    pub port: Port,
}

/// Two ports joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Joint {
    /// One of them.
    pub a: At,
    /// The other.
    pub b: At,
    /// Whether it is only pushed on, and leaks.
    pub loose: bool,
}

/// Parts, and what of them is joined. Parts that are joined to nothing lie on the table.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Assembly {
    pieces: Vec<Piece>,
    joints: Vec<Joint>,
}

impl Assembly {
    /// The parts, in the order in which they were laid out.
    #[must_use]
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// The joints, in the order in which they were made.
    #[must_use]
    pub fn joints(&self) -> &[Joint] {
        &self.joints
    }

    /// Lays out one more part.
    ///
    /// # Errors
    /// [`JoinError::NameTaken`].
    pub fn lay_out(&mut self, name: &str, part: Part) -> Result<(), JoinError> {
        if self.pieces.iter().any(|piece| piece.name == name) {
            return Err(JoinError::NameTaken { name: name.to_owned() });
        }
        self.pieces.push(Piece { name: name.to_owned(), part, crack_mm: 0.0 });
        Ok(())
    }

    /// Lays a part out, or takes it in the place of the one of that name: what was joined
    /// to a port that the new one lacks is parted. `crack_mm` is 0 for a whole one.
    pub fn put(&mut self, name: &str, part: Part, crack_mm: f64) {
        let piece = Piece { name: name.to_owned(), part, crack_mm };
        let Ok(index) = self.index(name) else {
            self.pieces.push(piece);
            return;
        };
        let has = |at: At| at.part != index || piece.part.ports().contains(&at.port);
        self.joints.retain(|joint| has(joint.a) && has(joint.b));
        self.pieces[index] = piece;
    }

    /// Takes a part in the hand to change it: its size, or a crack in it.
    ///
    /// # Errors
    /// [`JoinError::NoSuchPart`].
    pub fn piece_mut(&mut self, name: &str) -> Result<&mut Piece, JoinError> {
        let index = self.index(name)?;
        Ok(&mut self.pieces[index])
    }

    /// Joins two ports, each written `part.port`.
    ///
    /// # Errors
    /// [`JoinError`]: a part or port that is not there or is taken, or two that do not
    /// fit.
    ///
    /// ```
    /// use tidewright::assembly::Assembly;
    /// let mut circuit = Assembly::ready_made();
    /// let error = circuit.join("limb.far", "plug.end").unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     "`limb.far` is on `ventilator.patient-side` already: part them first"
    /// );
    /// ```
    pub fn join(&mut self, a: &str, b: &str) -> Result<(), JoinError> {
        let (a, b) = (self.at(a)?, self.at(b)?);
        self.join_ports(a, b, false)
    }

    /// Joins two ports without pressing them home: the joint leaks.
    ///
    /// # Errors
    /// As [`Assembly::join`].
    pub fn push_on(&mut self, a: &str, b: &str) -> Result<(), JoinError> {
        let (a, b) = (self.at(a)?, self.at(b)?);
        self.join_ports(a, b, true)
    }

    /// Parts a port from what it is joined to, and tells what that was.
    ///
    /// # Errors
    /// [`JoinError`]: a port that is not there, or on nothing.
    pub fn separate(&mut self, port: &str) -> Result<At, JoinError> {
        let at = self.at(port)?;
        let Some(index) = self.joints.iter().position(|joint| joint.a == at || joint.b == at)
        else {
            return Err(JoinError::NotJoined { port: self.name_of(at) });
        };
        let joint = self.joints.remove(index);
        Ok(if joint.a == at { joint.b } else { joint.a })
    }

    /// Joins two ports by their places in the list of parts.
    ///
    /// # Errors
    /// As [`Assembly::join`].
    pub fn join_ports(&mut self, a: At, b: At, loose: bool) -> Result<(), JoinError> {
        for at in [a, b] {
            self.check_port(at)?;
            if let Some(on) = self.joined_to(at) {
                return Err(JoinError::Taken { port: self.name_of(at), on: self.name_of(on) });
            }
        }
        let [one, other] = [a, b].map(|at| at.port.fitting());
        if a.part == b.part || !one.fits(other) {
            return Err(JoinError::DoesNotFit {
                a: self.name_of(a),
                a_is: one.in_words(),
                b: self.name_of(b),
                b_is: other.in_words(),
            });
        }
        self.joints.push(Joint { a, b, loose });
        Ok(())
    }

    /// The port written `part.port`.
    ///
    /// # Errors
    /// [`JoinError::NoSuchPart`] and [`JoinError::NoSuchPort`].
    pub fn at(&self, written: &str) -> Result<At, JoinError> {
        let (name, port) = written.split_once('.').unwrap_or((written, ""));
        let part = self.index(name)?;
        let ports = self.pieces[part].part.ports();
        match ports.iter().find(|has| has.word() == port) {
            Some(&port) => Ok(At { part, port }),
            None => Err(self.no_such_port(part, port)),
        }
    }

    /// A port as it is written: `t-piece.limb`.
    #[must_use]
    pub fn name_of(&self, at: At) -> String {
        let name = self.pieces.get(at.part).map_or("?", |piece| piece.name.as_str());
        format!("{name}.{}", at.port.word())
    }

    /// What a port is joined to.
    #[must_use]
    pub fn joined_to(&self, at: At) -> Option<At> {
        self.joints.iter().find_map(|joint| match at {
            _ if joint.a == at => Some(joint.b),
            _ if joint.b == at => Some(joint.a),
            _ => None,
        })
    }

    /// Whether anything is joined to a part.
    #[must_use]
    pub fn is_in_use(&self, part: usize) -> bool {
        self.joints.iter().any(|joint| joint.a.part == part || joint.b.part == part)
    }

    fn index(&self, name: &str) -> Result<usize, JoinError> {
        self.pieces.iter().position(|piece| piece.name == name).ok_or_else(|| {
            let names: Vec<&str> = self.pieces.iter().map(|piece| piece.name.as_str()).collect();
            JoinError::NoSuchPart { name: name.to_owned(), parts: names.join(", ") }
        })
    }

    fn check_port(&self, at: At) -> Result<(), JoinError> {
        let Some(piece) = self.pieces.get(at.part) else {
            return Err(JoinError::NoSuchPart { name: at.part.to_string(), parts: String::new() });
        };
        if piece.part.ports().contains(&at.port) {
            return Ok(());
        }
        Err(self.no_such_port(at.part, at.port.word()))
    }

    fn no_such_port(&self, part: usize, port: &str) -> JoinError {
        let piece = &self.pieces[part];
        let ports = piece.part.ports().iter().map(|has| format!("{}.{}", piece.name, has.word()));
        JoinError::NoSuchPort {
            part: piece.name.clone(),
            port: port.to_owned(),
            ports: ports.collect::<Vec<_>>().join(", "),
        }
    }
}
