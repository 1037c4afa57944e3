//! Instruments between the truth and the person who reads them.

use tidewright::instrument;
use tidewright::quantity::{Flow, Pressure, Seconds};

use super::lesson::act::SEED;
use crate::read::{Rule, any, block, choice, number};

const LAG: Rule = number(0.0, 10.0);

block! {
    /// A pressure gauge and a spirometer, with what is wrong with them. What they
    /// show stands beside the truth in the waveform (`--csv`, columns `shown_…`), and
    /// is what a lesson's monitor shows. The ventilator acts on its own sensor,
    /// `circuit.sensor`, whatever they show.
    pub struct Instruments {
        /// How often they are read.
        readings_per_s: f64 = number(1.0, 1000.0).or(100.0),
        /// Seed of the noise: the same seed, the same noise.
        seed: u32 = SEED.or(1.0),
        /// The pressure gauge.
        gauge: Gauge = any().or_empty(),
        /// The flow and volume meter.
        spirometer: Spirometer = any().or_empty(),
    }
}

block! {
    /// A pressure gauge.
    pub struct Gauge {
        /// What it is connected to.
        at: GaugePlace = any().or_word("SenseLine"),
        /// What it adds to the truth.
        offset_cmh2o: f64 = number(-50.0, 50.0).or(0.0),
        /// Time constant with which it follows the truth; 0 for at once.
        lag_s: f64 = LAG.or(0.0),
        /// Standard deviation of its noise from reading to reading.
        noise_cmh2o: f64 = number(0.0, 10.0).or(0.0),
        /// Smallest step that it shows; 0 for any.
        resolution_cmh2o: f64 = number(0.0, 10.0).or(0.0),
    }
}

choice! {
    /// What a pressure gauge is connected to.
    #[derive(Copy, Eq)]
    pub enum GaugePlace {
        /// The ventilator's sense line, with all that may be wrong with it.
        SenseLine,
        /// The patient connection: a gauge of its own.
        PatientConnection,
    }
}

block! {
    /// A flow meter, and the volume that it adds up from its readings since the start
    /// of the inspiration.
    pub struct Spirometer {
        /// Where it is.
        at: SpirometerPlace = any().or_word("Patient"),
        /// What it adds to the truth.
        offset_ml_s: f64 = number(-1000.0, 1000.0).or(0.0),
        /// Time constant with which it follows the truth; 0 for at once.
        lag_s: f64 = LAG.or(0.0),
        /// Standard deviation of its noise from reading to reading.
        noise_ml_s: f64 = number(0.0, 1000.0).or(0.0),
    }
}

choice! {
    /// Where flow and volume are measured.
    #[derive(Copy, Eq)]
    pub enum SpirometerPlace {
        /// At the patient connection.
        Patient,
        /// At the machine: what tubing takes up and leaks lose counts as the patient's.
        Machine,
    }
}

impl Instruments {
    /// The same for the engine.
    #[must_use]
    pub fn to_core(&self) -> instrument::Instruments {
        let Self { gauge, spirometer, .. } = self;
        instrument::Instruments {
            rate_per_s: self.readings_per_s,
            seed: u64::from(self.seed),
            gauge: instrument::PressureGauge {
                at: match gauge.at {
                    GaugePlace::SenseLine => instrument::GaugePlace::SenseLine,
                    GaugePlace::PatientConnection => instrument::GaugePlace::PatientConnection,
                },
                offset: Pressure::cmh2o(gauge.offset_cmh2o),
                lag: Seconds::s(gauge.lag_s),
                noise: Pressure::cmh2o(gauge.noise_cmh2o),
                resolution: Pressure::cmh2o(gauge.resolution_cmh2o),
            },
            spirometer: instrument::Spirometer {
                at: match spirometer.at {
                    SpirometerPlace::Patient => instrument::SpirometerPlace::Patient,
                    SpirometerPlace::Machine => instrument::SpirometerPlace::Machine,
                },
                offset: Flow::ml_s(spirometer.offset_ml_s),
                lag: Seconds::s(spirometer.lag_s),
                noise: Flow::ml_s(spirometer.noise_ml_s),
            },
        }
    }
}
