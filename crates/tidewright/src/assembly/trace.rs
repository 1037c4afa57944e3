//! The path of the gas in sentences, from the supply to the waste.

use super::error::AssemblyError;
use super::line::{Leg, Line};
use super::part::{Fitting, Part, Port};
use super::{Assembly, At, Joint, Piece};
use crate::base::quantity::Volume;

impl Assembly {
    /// The path of the gas, a sentence a step: where fresh gas comes from, what is between
    /// T-piece and patient, how gas leaves, where pressure is sensed, what is open or only
    /// pushed on, what lies on the table.
    ///
    /// It says what is joined, not whether that is right. Where no T-piece is on the way yet,
    /// it tells the joints that there are.
    ///
    /// # Errors
    /// [`AssemblyError`]: the port from which the path cannot be told.
    ///
    /// ```
    /// use tidewright::assembly::Assembly;
    /// let told = Assembly::ready_made().trace()?;
    /// assert_eq!(
    ///     told[0],
    ///     "Fresh gas comes from gas-supply through flowmeter and hose to t-piece, near the patient."
    /// );
    /// # Ok::<(), tidewright::assembly::AssemblyError>(())
    /// ```
    pub fn trace(&self) -> Result<Vec<String>, AssemblyError> {
        let line = match self.line() {
            Err(AssemblyError::NoTPiece { .. }) => return Ok(self.joints_told()),
            line => line?,
        };
        let mut told = vec![self.fresh_gas_told(&line), self.patient_told(&line)];
        told.push(self.way_out_told(&line));
        told.push(self.sensing_told());
        told.extend(self.open_told(&line));
        told.extend(self.table_told());
        Ok(told)
    }

    /// The same parts as an eye sees them: a crack, a joint that is only pushed on and a way
    /// that is blocked inside show in tests and not here.
    ///
    /// ```
    /// use tidewright::assembly::Mistake;
    /// let cracked = Mistake::CrackedLimb.made();
    /// assert!(cracked.trace()?.iter().any(|line| line.contains("crack")));
    /// assert!(!cracked.as_seen().trace()?.iter().any(|line| line.contains("crack")));
    /// # Ok::<(), tidewright::assembly::AssemblyError>(())
    /// ```
    #[must_use]
    pub fn as_seen(&self) -> Self {
        let mut seen = self.clone();
        for piece in &mut seen.pieces {
            piece.crack_mm = 0.0;
            match &mut piece.part {
                Part::WasteTube(tube) => tube.blocked = false,
                Part::Scavenging(way) => way.blocked = false,
                _ => {}
            }
        }
        for joint in &mut seen.joints {
            joint.loose = false;
        }
        seen
    }

    /// Every part with its ports and what each is on, a sentence a part.
    #[must_use]
    pub fn parts_told(&self) -> Vec<String> {
        let told = |(part, piece): (usize, &Piece)| {
            let ports = piece.part.ports().iter().map(|&port| {
                let at = At { part, port };
                let on = self.joined_to(at).map_or("nothing".to_owned(), |on| self.name_of(on));
                format!("{} is on {on}", self.name_of(at))
            });
            let cracked = if piece.crack_mm > 0.0 { ", cracked" } else { "" };
            let ports = ports.collect::<Vec<_>>().join(", ");
            format!("{}, {}{cracked}: {ports}.", piece.name, with_size(&piece.part))
        };
        self.pieces.iter().enumerate().map(told).collect()
    }

    /// What is joined where there is no path yet.
    fn joints_told(&self) -> Vec<String> {
        let joint =
            |joint: &Joint| format!("{} is on {}.", self.name_of(joint.a), self.name_of(joint.b));
        let mut told: Vec<String> = self.joints.iter().map(joint).collect();
        told.push(if told.is_empty() {
            "Nothing is joined yet.".to_owned()
        } else {
            "There is no path yet: a T-piece belongs where fresh gas, patient and limb meet."
                .to_owned()
        });
        told.extend(self.table_told());
        told
    }

    fn fresh_gas_told(&self, line: &Line) -> String {
        let near = line.t_piece.part;
        let far = line.second.as_ref().map(|(tee, _)| tee.part);
        for (tee, place) in [(Some(near), "near the patient"), (far, "at the far end of the limb")]
        {
            let Some(tee) = tee.filter(|&tee| self.brings_gas(tee)) else { continue };
            let mut way = Vec::new();
            let mut at = At { part: tee, port: Port::FreshGas };
            while let Some(on) = self.joined_to(at) {
                way.push(self.name(on.part));
                let other = match on.port {
                    Port::MachineEnd => Port::PatientEnd,
                    Port::PatientEnd => Port::MachineEnd,
                    Port::Nipple => Port::GasIn,
                    _ => break,
                };
                at = At { port: other, ..on };
            }
            let from = way.pop().unwrap_or("nowhere");
            way.reverse();
            return format!(
                "Fresh gas comes from {from} through {} to {}, {place}.",
                and(&way),
                self.name(tee)
            );
        }
        "No fresh gas comes: supply, flowmeter and hose are not joined up to a T-piece on the \
         way."
            .to_owned()
    }

    fn patient_told(&self, line: &Line) -> String {
        let tee = self.name(line.t_piece.part);
        let way = self.names(line.to_patient.iter().rev());
        let through =
            if way.is_empty() { String::new() } else { format!(" through {}", and(&way)) };
        let end = line.patient_end;
        match &self.pieces[end.part].part {
            Part::Patient => format!("From {tee} it goes{through} to the patient and back."),
            Part::TestLung(_) => format!("From {tee} it goes{through} to the test lung and back."),
            Part::Plug | Part::Thumb => {
                format!(
                    "Toward the patient {tee}{through} ends at {}: nothing passes.",
                    self.name(end.part)
                )
            }
            _ => format!(
                "Toward the patient the way is open to the room at {}: nobody is on it.",
                self.name_of(end)
            ),
        }
    }

    fn way_out_told(&self, line: &Line) -> String {
        let mut way = self.names(line.limb.iter());
        if let Some((tee, beyond)) = &line.second {
            way.push(self.name(tee.part));
            way.extend(self.names(beyond.iter()));
        }
        let from = self.name(line.t_piece.part);
        let through =
            if way.is_empty() { "straight".to_owned() } else { format!("through {}", and(&way)) };
        if !line.through_ventilator {
            let end = self.end_told(line.machine_end);
            return format!(
                "From {from} it leaves {through}, past the ventilator, {end}: the valve holds \
                 nothing back."
            );
        }
        let behind = self.names(line.waste.iter());
        let behind =
            if behind.is_empty() { String::new() } else { format!(" through {}", and(&behind)) };
        format!(
            "From {from} it leaves {through} into the ventilator, and behind its valve{behind} {}.",
            self.end_told(line.waste_end)
        )
    }

    fn end_told(&self, at: At) -> String {
        let name = self.name(at.part);
        match &self.pieces[at.part].part {
            Part::Bag(bag) => {
                let tail = At { part: at.part, port: Port::Tail };
                let beyond = self.joined_to(tail).map(|on| self.name(on.part));
                match (bag.open, beyond) {
                    (0.0, _) => format!("into {name}, whose tail is closed"),
                    (open, _) if open < 1.0 => format!("into {name}, whose tail is twisted"),
                    (_, Some(next)) => format!("into {name} and by its tail to {next}"),
                    (_, None) => format!("into {name} and by its open tail to the room"),
                }
            }
            Part::WasteTube(tube) if tube.blocked => format!("into {name}, which is blocked"),
            Part::Scavenging(way) if way.blocked => format!("into {name}, which is blocked"),
            Part::WasteTube(_) | Part::Scavenging(_) => format!("by {name} away"),
            Part::Plug | Part::Thumb => format!("against {name}: nothing passes"),
            _ => format!("to the room at {}", self.name_of(at)),
        }
    }

    fn sensing_told(&self) -> String {
        for (index, piece) in self.pieces.iter().enumerate() {
            if !matches!(piece.part, Part::SensingLine(_)) {
                continue;
            }
            let ends = [Port::LineNear, Port::LineFar].map(|port| At { part: index, port });
            if let [Some(one), Some(other)] = ends.map(|at| self.joined_to(at)) {
                let tap = match (one.port, other.port) {
                    (Port::Sensing, _) => other,
                    (_, Port::Sensing) => one,
                    _ => continue,
                };
                return format!(
                    "The ventilator senses pressure at {} by {}.",
                    self.name_of(tap),
                    piece.name
                );
            }
        }
        "The ventilator senses no pressure: no line leads from a tap to it.".to_owned()
    }

    /// What is open, cracked or only pushed on.
    fn open_told(&self, line: &Line) -> Vec<String> {
        let second = line.second.iter().flat_map(|(tee, legs)| std::iter::once(tee).chain(legs));
        let legs = line.to_patient.iter().chain([&line.t_piece]).chain(&line.limb).chain(second);
        let mut told = Vec::new();
        for leg in legs {
            for &port in self.pieces[leg.part].part.ports() {
                let at = At { part: leg.part, port };
                let thin = matches!(port.fitting(), Fitting::Tap | Fitting::Nipple);
                if thin && self.joined_to(at).is_none() {
                    told.push(format!("{} is open: gas leaves there.", self.name_of(at)));
                }
            }
        }
        for (index, piece) in self.pieces.iter().enumerate() {
            if piece.crack_mm > 0.0 && self.is_in_use(index) {
                told.push(format!("There is a crack in {}.", piece.name));
            }
        }
        for joint in self.joints.iter().filter(|joint| joint.loose) {
            let [a, b] = [joint.a, joint.b].map(|at| self.name_of(at));
            told.push(format!("{a} is only pushed on to {b}."));
        }
        told
    }

    fn table_told(&self) -> Option<String> {
        let idle = (0..self.pieces.len()).filter(|&index| !self.is_in_use(index));
        let idle: Vec<&str> = idle.map(|index| self.name(index)).collect();
        (!idle.is_empty()).then(|| format!("On the table: {}.", and(&idle)))
    }

    fn names<'a>(&'a self, legs: impl Iterator<Item = &'a Leg>) -> Vec<&'a str> {
        legs.map(|leg| self.name(leg.part)).collect()
    }

    fn name(&self, part: usize) -> &str {
        &self.pieces[part].name
    }
}

/// What a part is, with what an eye can judge of its size.
fn with_size(part: &Part) -> String {
    let words = part.in_words();
    let ml = |volume: Volume| format!("{:.0} mL", volume.as_ml());
    match part {
        Part::Tubing(tubing) => format!("{words} of {}", ml(tubing.volume)),
        Part::Adapter(short) | Part::Filter(short) => format!("{words} of {}", ml(short.volume)),
        Part::TPiece(tee) => format!(
            "{words}, its patient leg {} and its limb leg {}",
            ml(tee.patient_leg),
            ml(tee.limb_leg)
        ),
        Part::Bag(bag) => {
            let tail = match bag.open {
                0.0 => "closed",
                open if open < 1.0 => "twisted",
                _ => "open",
            };
            format!("{words} of {}, its tail {tail}", ml(bag.bag.holds))
        }
        _ => words.to_owned(),
    }
}

/// `a, b and c`.
fn and(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}
