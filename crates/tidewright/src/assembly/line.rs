//! The wide way of an assembly: from patient to ventilator, and on to the room.

use super::error::AssemblyError;
use super::part::{Part, Port};
use super::{Assembly, At};

/// A part on the way, with the port toward the patient and the one toward the room.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Leg {
    /// Which part.
    pub part: usize,
    /// Its port toward the patient.
    pub inner: Port,
    /// Its port toward the room.
    pub outer: Port,
}

/// The wide way of an assembly.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What ends it on the patient's side: a port that is open, or one of patient, test
    /// lung, plug or thumb.
    pub patient_end: At,
    /// Parts from there to the first T-piece.
    pub to_patient: Vec<Leg>,
    /// The T-piece at the patient.
    pub t_piece: Leg,
    /// Parts from there on, to the second T-piece if there is one.
    pub limb: Vec<Leg>,
    /// A second T-piece, and the parts beyond it.
    pub second: Option<(Leg, Vec<Leg>)>,
    /// What ends it on the machine's side: the ventilator's patient side, an open port,
    /// or something else.
    pub machine_end: At,
    /// Whether the ventilator stands in it.
    pub through_ventilator: bool,
    /// Parts behind the ventilator's outlet, or behind the limb where it passes by the
    /// ventilator.
    pub waste: Vec<Leg>,
    /// What ends those: an open port, or bag, waste tube, scavenging, plug, thumb.
    pub waste_end: At,
}

/// From a port outward through parts with one way through, up to one that has none.
struct Walk {
    legs: Vec<Leg>,
    end: At,
}

impl Assembly {
    /// The wide way through this assembly.
    ///
    /// # Errors
    /// [`AssemblyError`], with the port where the way cannot be told.
    ///
    /// ```
    /// use tidewright::assembly::Assembly;
    /// let circuit = Assembly::ready_made();
    /// let line = circuit.line()?;
    /// assert_eq!(circuit.name_of(line.patient_end), "patient.tube");
    /// assert_eq!(circuit.name_of(line.machine_end), "ventilator.patient-side");
    /// # Ok::<(), tidewright::assembly::AssemblyError>(())
    /// ```
    pub fn line(&self) -> Result<Line, AssemblyError> {
        let ventilator = self.the_ventilator()?;
        let patient_side = At { part: ventilator, port: Port::PatientSide };
        let tees: Vec<usize> = self.t_pieces().collect();
        let mut lines = Vec::new();
        for &tee in &tees {
            lines.push(self.line_of(tee)?);
        }
        let chosen = lines
            .iter()
            .position(|line: &Vec<Leg>| self.ends(line).contains(&Some(patient_side)))
            .or_else(|| lines.iter().position(|line| self.has_a_patient(line)))
            .or((!lines.is_empty()).then_some(0));
        let Some(chosen) = chosen else {
            return Err(AssemblyError::NoTPiece { port: self.name_of(patient_side) });
        };
        let legs = self.oriented(lines.swap_remove(chosen))?;
        self.divided(&legs, patient_side)
    }

    /// The T-pieces that are joined to something.
    pub(super) fn t_pieces(&self) -> impl Iterator<Item = usize> {
        let is_tee = |&(_, piece): &(usize, &super::Piece)| matches!(piece.part, Part::TPiece(_));
        let in_use = |&index: &usize| self.is_in_use(index);
        self.pieces.iter().enumerate().filter(is_tee).map(|(index, _)| index).filter(in_use)
    }

    fn the_ventilator(&self) -> Result<usize, AssemblyError> {
        let is_one = |piece: &&super::Piece| matches!(piece.part, Part::Ventilator(_));
        let count = self.pieces.iter().filter(is_one).count();
        let index = self.pieces.iter().position(|piece| is_one(&piece));
        match (count, index) {
            (1, Some(index)) => Ok(index),
            _ => Err(AssemblyError::Count { part: "ventilator", count }),
        }
    }

    /// Every part on the wide way of which this T-piece is one, from end to end.
    fn line_of(&self, tee: usize) -> Result<Vec<Leg>, AssemblyError> {
        let back = self.walk(At { part: tee, port: Port::Patient })?;
        let on = self.walk(At { part: tee, port: Port::Limb })?;
        let turned = |leg: &Leg| Leg { inner: leg.outer, outer: leg.inner, ..*leg };
        let mut legs: Vec<Leg> = back.legs.iter().rev().map(turned).collect();
        legs.push(Leg { part: tee, inner: Port::Patient, outer: Port::Limb });
        legs.extend(on.legs);
        Ok(legs)
    }

    fn walk(&self, from: At) -> Result<Walk, AssemblyError> {
        let (mut legs, mut end) = (Vec::new(), from);
        loop {
            let Some(entered) = self.joined_to(end) else { return Ok(Walk { legs, end }) };
            let Some(out) = self.pieces[entered.part].part.through(entered.port) else {
                return Ok(Walk { legs, end: entered });
            };
            if entered.part == from.part || legs.len() > self.pieces.len() {
                return Err(AssemblyError::Ring { port: self.name_of(entered) });
            }
            legs.push(Leg { part: entered.part, inner: entered.port, outer: out });
            end = At { part: entered.part, port: out };
        }
    }

    /// What the ends of a line are joined to.
    fn ends(&self, legs: &[Leg]) -> [Option<At>; 2] {
        let first = legs.first().map(|leg| At { part: leg.part, port: leg.inner });
        let last = legs.last().map(|leg| At { part: leg.part, port: leg.outer });
        [first, last].map(|at| at.and_then(|at| self.joined_to(at)))
    }

    fn has_a_patient(&self, legs: &[Leg]) -> bool {
        self.ends(legs).iter().flatten().any(|at| self.is_lung(*at))
    }

    pub(super) fn is_lung(&self, at: At) -> bool {
        matches!(self.pieces[at.part].part, Part::Patient | Part::TestLung(_))
    }

    /// Whether gas goes on from a port to ventilator, bag or room.
    fn leads_away(&self, at: At) -> bool {
        let part = &self.pieces[at.part].part;
        matches!(
            part,
            Part::Ventilator(_) | Part::Bag(_) | Part::WasteTube(_) | Part::Scavenging(_)
        )
    }

    /// The line from the patient's end to the machine's.
    fn oriented(&self, legs: Vec<Leg>) -> Result<Vec<Leg>, AssemblyError> {
        let [first, last] = self.ends(&legs);
        let is = |at: Option<At>, what: fn(&Self, At) -> bool| at.is_some_and(|at| what(self, at));
        let first_lung = is(first, Self::is_lung);
        let last_lung = is(last, Self::is_lung);
        if let (true, true, Some(last)) = (first_lung, last_lung, last) {
            return Err(self.misplaced(last, "a second lung", "join the limb there"));
        }
        let turn = last_lung || (!first_lung && is(first, Self::leads_away));
        let turned = |leg: &Leg| Leg { inner: leg.outer, outer: leg.inner, ..*leg };
        let legs = if turn { legs.iter().rev().map(turned).collect() } else { legs };
        match self.ends(&legs) {
            [Some(at), _] if self.leads_away(at) => {
                let what = self.pieces[at.part].part.in_words();
                Err(self.misplaced(at, what, "join the patient, a test lung or a plug there"))
            }
            [_, Some(at)] if at.port == Port::Outlet => {
                Err(self.misplaced(at, "the limb", "join it to the ventilator's patient side"))
            }
            [_, Some(at)] if at.port == Port::Tail => {
                Err(self.misplaced(at, "the limb", "join the bag by its neck"))
            }
            _ => Ok(legs),
        }
    }

    /// What belongs to which side of which T-piece.
    fn divided(&self, legs: &[Leg], patient_side: At) -> Result<Line, AssemblyError> {
        let is_tee = |leg: &Leg| matches!(self.pieces[leg.part].part, Part::TPiece(_));
        let tees: Vec<usize> = (0..legs.len()).filter(|&i| is_tee(&legs[i])).collect();
        if let Some(&third) = tees.get(2) {
            let at = At { part: legs[third].part, port: legs[third].inner };
            return Err(self.misplaced(at, "a third T-piece", "take it out"));
        }
        let (Some(first), Some(last)) = (legs.first(), legs.last()) else {
            return Err(AssemblyError::NoTPiece { port: self.name_of(patient_side) });
        };
        let [inner, outer] = self.ends(legs);
        let patient_end = inner.unwrap_or(At { part: first.part, port: first.inner });
        let machine_end = outer.unwrap_or(At { part: last.part, port: last.outer });
        let through_ventilator = machine_end == patient_side;
        let (waste, waste_end) = if through_ventilator {
            let out = self.walk(At { part: patient_side.part, port: Port::Outlet })?;
            if let Some(leg) = out.legs.iter().find(|leg| is_tee(leg)) {
                let at = At { part: leg.part, port: leg.inner };
                return Err(self.misplaced(at, "a T-piece", "join bag or waste tube there"));
            }
            (out.legs, out.end)
        } else {
            (vec![], machine_end)
        };
        let near = tees[0];
        let (limb_ends, second) = match tees.get(1) {
            Some(&far) => (far, Some((legs[far], legs[far + 1..].to_vec()))),
            None => (legs.len(), None),
        };
        Ok(Line {
            patient_end,
            to_patient: legs[..near].to_vec(),
            t_piece: legs[near],
            limb: legs[near + 1..limb_ends].to_vec(),
            second,
            machine_end,
            through_ventilator,
            waste,
            waste_end,
        })
    }

    pub(super) fn misplaced(
        &self,
        at: At,
        what: &'static str,
        mend: &'static str,
    ) -> AssemblyError {
        AssemblyError::Misplaced { port: self.name_of(at), what, mend }
    }
}
