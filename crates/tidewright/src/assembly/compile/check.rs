//! The numbers of the parts.

use crate::assembly::error::AssemblyError;
use crate::assembly::part::Part;
use crate::assembly::{Assembly, At};

/// A number of a part: what it is, its value, and from where to where it may be.
type Number = (&'static str, f64, Bounds);

#[derive(Clone, Copy)]
enum Bounds {
    NotNegative,
    AboveZero,
    Share,
}

impl Assembly {
    pub(super) fn check_numbers(&self) -> Result<(), AssemblyError> {
        for (index, piece) in self.pieces.iter().enumerate() {
            let crack = ("the crack in mm", piece.crack_mm, Bounds::NotNegative);
            for (what, value, bounds) in numbers(&piece.part).into_iter().chain([crack]) {
                let (good, expected) = match bounds {
                    Bounds::NotNegative => {
                        (value == 0.0 || (1e-6..=1e6).contains(&value), "0, or from 1e-6 to 1e6")
                    }
                    Bounds::AboveZero => ((1e-6..=1e6).contains(&value), "from 1e-6 to 1e6"),
                    Bounds::Share => ((0.0..=1.0).contains(&value), "a share from 0 to 1"),
                };
                if !good {
                    let port = piece.part.ports()[0];
                    let port = self.name_of(At { part: index, port });
                    return Err(AssemblyError::Part { port, what, value, expected });
                }
            }
        }
        Ok(())
    }
}

fn numbers(part: &Part) -> Vec<Number> {
    use Bounds::{AboveZero, NotNegative, Share};
    match part {
        Part::TestLung(lung) => vec![
            ("its compliance in mL/cmH2O", lung.compliance.as_ml_per_cmh2o(), AboveZero),
            ("its resistance in cmH2O·s/L", lung.resistance.as_cmh2o_s_per_l(), AboveZero),
        ],
        Part::Ventilator(body) => {
            let mut numbers = vec![
                (
                    "the valve's resistance in cmH2O·s/L",
                    body.valve_resistance.as_cmh2o_s_per_l(),
                    AboveZero,
                ),
                ("the gas before the valve in mL", body.volume.as_ml(), NotNegative),
                ("its compliance in mL/cmH2O", body.compliance.as_ml_per_cmh2o(), NotNegative),
            ];
            if let Some(relief) = &body.relief {
                numbers.push(("its relief in cmH2O", relief.opens_at.as_cmh2o(), NotNegative));
                let resistance = relief.resistance.as_cmh2o_s_per_l();
                numbers.push(("its relief's resistance in cmH2O·s/L", resistance, AboveZero));
            }
            numbers
        }
        Part::TPiece(tee) => vec![
            ("the gas in its patient leg in mL", tee.patient_leg.as_ml(), NotNegative),
            ("the gas in its limb leg in mL", tee.limb_leg.as_ml(), NotNegative),
            ("its compliance in mL/cmH2O", tee.compliance.as_ml_per_cmh2o(), NotNegative),
        ],
        Part::Tubing(tubing) => vec![
            ("the gas in it in mL", tubing.volume.as_ml(), NotNegative),
            ("its compliance in mL/cmH2O", tubing.compliance.as_ml_per_cmh2o(), NotNegative),
            ("its resistance in cmH2O·s/L", tubing.resistance.as_cmh2o_s_per_l(), NotNegative),
        ],
        Part::Adapter(short) | Part::Filter(short) => vec![
            ("the gas in it in mL", short.volume.as_ml(), NotNegative),
            ("its resistance in cmH2O·s/L", short.resistance.as_cmh2o_s_per_l(), NotNegative),
        ],
        Part::SensingLine(line) => vec![
            ("its bore in mm", line.bore_mm, AboveZero),
            ("its length in cm", line.length_cm, AboveZero),
            ("the split in it in mm", line.split_mm, NotNegative),
        ],
        Part::SamplingLine { draws } => {
            vec![("what it draws in mL/s", draws.as_ml_s(), NotNegative)]
        }
        Part::Bag(bag) => vec![
            ("what it holds in mL", bag.bag.holds.as_ml(), AboveZero),
            ("its stretch in mL/cmH2O", bag.bag.stretch.as_ml_per_cmh2o(), AboveZero),
            ("its tail's resistance in cmH2O·s/L", bag.tail.as_cmh2o_s_per_l(), NotNegative),
            ("the free share of its tail", bag.open, Share),
        ],
        Part::WasteTube(tube) => {
            vec![("its resistance in cmH2O·s/L", tube.resistance.as_cmh2o_s_per_l(), NotNegative)]
        }
        Part::Scavenging(scavenging) => vec![
            ("its resistance in cmH2O·s/L", scavenging.resistance.as_cmh2o_s_per_l(), NotNegative),
            ("its suction in cmH2O", scavenging.pulls.as_cmh2o(), NotNegative),
        ],
        Part::Patient
        | Part::GasSupply
        | Part::Flowmeter
        | Part::Hose
        | Part::Plug
        | Part::Thumb => {
            vec![]
        }
    }
}
