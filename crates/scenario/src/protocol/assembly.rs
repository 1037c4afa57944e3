//! A circuit that a file puts together from parts.

use tidewright::assembly::{self, Adapter, Assembled, JoinError, Part};
use tidewright::exchange::Apparatus;
use tidewright::quantity::{Compliance, Flow, Pressure, Resistance, Volume};
use tidewright::setup::{Relief, ReservoirBag, Setup};

use crate::format::{
    self, Assembly, AssemblyStart, JoinedPorts, NamedPart, OtherParts, PartedPort, Scenario,
    ShortPart,
};

impl Assembly {
    /// The parts and their joints.
    ///
    /// # Errors
    /// [`JoinError`]: parts or ports that are not there or do not go together;
    /// [`crate::parse`] accepts none.
    ///
    /// ```
    /// let text = r#"Scenario(format: 1, id: "forgotten",
    ///     patient: (species: Rabbit, weight_kg: 2.6),
    ///     assembly: (parted: [(port: "ventilator.sensing")]),
    ///     ventilator: (fresh_gas_flow_l_min: 1.3, cycling_pressure_cmh2o: 9,
    ///         inspiratory_time_limit_s: 1.7, expiratory_time_s: 2.2),
    ///     duration_s: 60)"#;
    /// let scenario = tidewright_scenario::parse("forgotten.ron", text)?;
    /// let told = scenario.assembly.unwrap().put_together()?.trace()?;
    /// assert!(told.iter().any(|line| line.starts_with("The ventilator senses no pressure")));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn put_together(&self) -> Result<assembly::Assembly, JoinError> {
        let mut made = match self.start {
            AssemblyStart::ReadyMade => assembly::Assembly::ready_made(),
            AssemblyStart::Nothing => assembly::Assembly::default(),
        };
        change(&mut made, &self.parts, &self.parted, &self.joined)?;
        Ok(made)
    }

    /// The same with what is otherwise.
    ///
    /// # Errors
    /// As [`Assembly::put_together`].
    pub fn put_together_with(&self, other: &OtherParts) -> Result<assembly::Assembly, JoinError> {
        let mut made = self.put_together()?;
        change(&mut made, &other.parts, &other.parted, &other.joined)?;
        Ok(made)
    }

    /// What it makes of a patient and controls, or why it makes nothing.
    pub(crate) fn assembled(&self, base: &Setup) -> Result<Assembled, String> {
        let made = self.put_together().map_err(|error| error.to_string())?;
        made.assemble(base).map_err(|error| error.to_string())
    }
}

fn change(
    made: &mut assembly::Assembly,
    parts: &[NamedPart],
    parted: &[PartedPort],
    joined: &[JoinedPorts],
) -> Result<(), JoinError> {
    for named in parts {
        made.put(&named.name, named.part.to_core(), named.crack_mm);
    }
    for parted in parted {
        made.separate(&parted.port)?;
    }
    for joined in joined {
        let join =
            if joined.pushed_on { assembly::Assembly::push_on } else { assembly::Assembly::join };
        join(made, &joined.a, &joined.b)?;
    }
    Ok(())
}

impl Scenario {
    /// Adapter, limb, bag and inlet of a circuit that is put together from parts, for its
    /// gas; as they were without.
    pub(super) fn assembled_apparatus(&self, usual: Apparatus, base: &Setup) -> Apparatus {
        let made = self.assembly.as_ref().and_then(|made| made.assembled(base).ok());
        made.map_or(usual, |made| Apparatus {
            airway_parcels: usual.airway_parcels,
            limb_mixing: usual.limb_mixing,
            limb_parcels: usual.limb_parcels,
            sampling_ml_min: made.apparatus.sampling_ml_min + usual.sampling_ml_min,
            ..made.apparatus
        })
    }
}

impl format::Part {
    fn to_core(&self) -> Part {
        let volume = Volume::ml;
        let compliance = Compliance::ml_per_cmh2o;
        let resistance = Resistance::cmh2o_s_per_l;
        match self {
            Self::Patient => Part::Patient,
            Self::TestLung(lung) => Part::TestLung(assembly::TestLung {
                compliance: compliance(lung.compliance_ml_cmh2o),
                resistance: resistance(lung.resistance_cmh2o_s_l),
            }),
            Self::Ventilator(body) => Part::Ventilator(assembly::VentilatorBody {
                valve_resistance: resistance(body.valve_resistance_cmh2o_s_l),
                volume: volume(body.volume_ml),
                compliance: compliance(body.compliance_ml_cmh2o),
                relief: body.relief_cmh2o.map(|opens_at| Relief {
                    opens_at: Pressure::cmh2o(opens_at),
                    resistance: resistance(5.0),
                }),
            }),
            Self::GasSupply => Part::GasSupply,
            Self::Flowmeter => Part::Flowmeter,
            Self::Hose => Part::Hose,
            Self::TPiece(tee) => Part::TPiece(assembly::TPiece {
                patient_leg: volume(tee.patient_leg_ml),
                limb_leg: volume(tee.limb_leg_ml),
                compliance: compliance(tee.compliance_ml_cmh2o),
            }),
            Self::Tubing(tubing) => Part::Tubing(assembly::Tubing {
                volume: volume(tubing.volume_ml),
                compliance: compliance(tubing.compliance_ml_cmh2o),
                resistance: resistance(tubing.resistance_cmh2o_s_l),
            }),
            Self::Adapter(short) => Part::Adapter(short.to_core()),
            Self::Filter(short) => Part::Filter(short.to_core()),
            Self::SensingLine(line) => Part::SensingLine(assembly::ThinLine {
                bore_mm: line.bore_mm,
                length_cm: line.length_cm,
                split_mm: line.split_mm,
            }),
            Self::SamplingLine(line) => {
                Part::SamplingLine { draws: Flow::ml_s(line.ml_min / 60.0) }
            }
            Self::Bag(bag) => Part::Bag(assembly::TailBag {
                bag: ReservoirBag::holding(volume(bag.ml)),
                tail: resistance(bag.tail_cmh2o_s_l),
                open: bag.open_percent / 100.0,
            }),
            Self::WasteTube(tube) => Part::WasteTube(assembly::WasteTube {
                resistance: resistance(tube.resistance_cmh2o_s_l),
                blocked: tube.blocked,
            }),
            Self::Scavenging(way) => Part::Scavenging(assembly::Scavenging {
                resistance: resistance(way.resistance_cmh2o_s_l),
                pulls: Pressure::cmh2o(way.pulls_cmh2o),
                relief: way.relief,
                blocked: way.blocked,
            }),
            Self::Plug => Part::Plug,
            Self::Thumb => Part::Thumb,
        }
    }
}

impl ShortPart {
    fn to_core(&self) -> Adapter {
        Adapter {
            volume: Volume::ml(self.volume_ml),
            resistance: Resistance::cmh2o_s_per_l(self.resistance_cmh2o_s_l),
            tap: self.tap,
        }
    }
}
