//! Thin lines: where the ventilator senses pressure, and what a monitor draws.

use crate::assembly::error::AssemblyError;
use crate::assembly::hole;
use crate::assembly::line::{Leg, Line};
use crate::assembly::part::{Part, Port};
use crate::assembly::{Assembly, At};
use crate::base::quantity::{Pressure, Resistance};
use crate::setup::{Sensor, SensorPlace};

impl Assembly {
    /// What the ventilator senses.
    pub(super) fn sensor(&self, line: &Line) -> Result<Sensor, AssemblyError> {
        let nowhere = Sensor { place: SensorPlace::Cut(Pressure::ZERO), ..Sensor::default() };
        for (index, piece) in self.pieces.iter().enumerate() {
            let ends = [Port::LineNear, Port::LineFar].map(|port| At { part: index, port });
            let on = ends.map(|at| self.joined_to(at));
            let is_sensing = |at: &At| at.port == Port::Sensing;
            let (Part::SensingLine(thin), [Some(one), Some(other)]) = (&piece.part, on) else {
                continue;
            };
            let tap = match (is_sensing(&one), is_sensing(&other)) {
                (true, _) => other,
                (_, true) => one,
                (false, false) if one.port.is_tap() && other.port.is_tap() => {
                    let mend = "join one end to the ventilator";
                    return Err(self.misplaced(ends[0], "a line between two taps", mend));
                }
                _ => continue,
            };
            let place = self.sensed_at(line, tap)?;
            return Ok(place.map_or(nowhere, |place| Sensor {
                place,
                share: hole::share(thin),
                ..Sensor::default()
            }));
        }
        Ok(nowhere)
    }

    /// Which of the places that the model senses at a tap stands for; `None` for one on
    /// the table.
    fn sensed_at(&self, line: &Line, tap: At) -> Result<Option<SensorPlace>, AssemblyError> {
        let free = |legs: &[Leg]| self.sum(legs).resistance == Resistance::ZERO;
        let find = |legs: &[Leg]| legs.iter().position(|leg| leg.part == tap.part);
        let (near, far) = (SensorPlace::PatientConnection, SensorPlace::ValveEnd);
        let beyond = line.second.as_ref().map_or(&[][..], |(_, beyond)| beyond);
        let mend = "sense at the T-piece or at the end of the limb";
        let refused = || self.misplaced(tap, "the sensing line", mend);
        if tap.part == line.t_piece.part {
            return Ok(Some(near));
        }
        if line.second.as_ref().is_some_and(|(tee, _)| tee.part == tap.part) {
            return Ok(Some(far));
        }
        if let Some(index) = find(&line.to_patient) {
            return if free(&line.to_patient[index..]) { Ok(Some(near)) } else { Err(refused()) };
        }
        if let Some(index) = find(&line.limb) {
            let (before, after) = line.limb.split_at(index);
            return match () {
                () if free(before) && free(&after[..1]) => Ok(Some(near)),
                () if free(after) => Ok(Some(far)),
                () => Err(refused()),
            };
        }
        if let Some(index) = find(beyond) {
            return if free(&beyond[..=index]) { Ok(Some(far)) } else { Err(refused()) };
        }
        if find(&line.waste).is_some() {
            return Err(refused());
        }
        Ok(None)
    }

    pub(super) fn sampling(&self, line: &Line) -> Result<f64, AssemblyError> {
        let mut draws_ml_min = 0.0;
        for (index, piece) in self.pieces.iter().enumerate() {
            let Part::SamplingLine { draws } = piece.part else { continue };
            let Some(tap) = self.joined_to(At { part: index, port: Port::LineNear }) else {
                continue;
            };
            let at_patient = line.to_patient.iter().chain(std::iter::once(&line.t_piece));
            if at_patient.into_iter().any(|leg| leg.part == tap.part) {
                draws_ml_min += draws.as_ml_s() * 60.0;
            } else if self.is_in_use(tap.part) {
                let mend = "sample between T-piece and patient";
                return Err(self.misplaced(tap, "a sampling line", mend));
            }
        }
        Ok(draws_ml_min)
    }
}

impl Port {
    fn is_tap(self) -> bool {
        matches!(self, Self::Sense | Self::Side | Self::Sensing)
    }
}
