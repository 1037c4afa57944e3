//! The blocks of a file as the engine's own types.

use tidewright::gases::{Mixture, STANDARD_PRESSURE_PA};
use tidewright::quantity::{Compliance, Flow, Pressure, Resistance, Seconds, Volume};
use tidewright::setup;
use tidewright::species;
use tidewright::tube::SmoothTube;

use crate::format::{
    Circuit, Compartment, Cuff, Effort, Leak, LeakLaw, LeaksTo, Limb, Lung, Mode, Patient,
    PatientPort, PressureVolume, Relief, Sensor, SensorPlace, SizedTube, Species, Tube, Valve,
    Ventilator,
};

/// Temperature of the gas in a tube that is described by its size.
const TUBE_TEMPERATURE_C: f64 = 37.0;

impl Patient {
    /// The lung of the file, or a typical one for species and weight, with tube,
    /// cuff and chest wall.
    #[must_use]
    pub fn lung(&self) -> setup::Lung {
        let lung = match &self.lung {
            Some(lung) => lung.to_setup(),
            None => self.animal().lung(),
        };
        let wall = self.chest_wall.as_ref();
        let branch = self.viscoelastic.as_ref();
        setup::Lung {
            tube: self.tube.as_ref().map_or(lung.tube, Tube::to_setup),
            cuff: self.cuff.as_ref().filter(|cuff| cuff.leak_ml_min > 0.0).map(Cuff::to_setup),
            chest_wall: wall.map(|wall| setup::ChestWall {
                compliance: Compliance::ml_per_cmh2o(wall.compliance_ml_cmh2o),
                pressed_by: Pressure::cmh2o(wall.pressed_by_cmh2o),
                open_wound: wall.wound_cmh2o_s_l.map(Resistance::cmh2o_s_per_l),
            }),
            viscoelastic: branch.map(|branch| setup::Viscoelastic {
                compliance: Compliance::ml_per_cmh2o(branch.compliance_ml_cmh2o),
                resistance: Resistance::cmh2o_s_per_l(branch.resistance_cmh2o_s_l),
            }),
            ..lung
        }
    }

    /// What its muscles do.
    #[must_use]
    pub fn effort(&self) -> setup::Effort {
        self.effort.as_ref().map_or_else(setup::Effort::none, Effort::to_setup)
    }
}

impl Species {
    /// The same species for the engine's tables.
    #[must_use]
    pub fn to_core(self) -> species::Species {
        macro_rules! kinds {
            ($($Kind:ident)*) => {{
                // A kind that only the engine knows must not compile either.
                const _: fn(species::Species) = |known| match known {
                    $(species::Species::$Kind => (),)*
                };
                match self {
                    $(Self::$Kind => species::Species::$Kind,)*
                }
            }};
        }
        kinds!(Cat Dog Rabbit Ferret GuineaPig Rat Horse Other)
    }
}

impl Lung {
    fn to_setup(&self) -> setup::Lung {
        let lung = setup::Lung::default();
        match self {
            Self::Single(only) => setup::Lung { compartments: vec![only.to_setup()], ..lung },
            Self::Compartments(parts) => setup::Lung {
                compartments: parts.compartments.iter().map(Compartment::to_setup).collect(),
                tube: linear_tube(parts.tube_resistance_cmh2o_s_l),
                ..lung
            },
        }
    }
}

impl Compartment {
    fn to_setup(&self) -> setup::Compartment {
        let plain = setup::Compartment::new(
            Compliance::ml_per_cmh2o(self.compliance_ml_cmh2o),
            Resistance::cmh2o_s_per_l(self.resistance_cmh2o_s_l),
        );
        let out = self.expiratory_resistance_cmh2o_s_l;
        setup::Compartment {
            expiratory_resistance: out.map(Resistance::cmh2o_s_per_l),
            shut: self.shut,
            law: self.law.to_setup(),
            air_leak: self.air_leak.as_ref().map(|hole| setup::AirLeak {
                resistance: Resistance::cmh2o_s_per_l(hole.resistance_cmh2o_s_l),
                to: match hole.to {
                    LeaksTo::Room => setup::LeaksTo::Room,
                    LeaksTo::Pleura => setup::LeaksTo::Pleura,
                    LeaksTo::PleuraOneWay => setup::LeaksTo::PleuraOneWay,
                },
            }),
            ..plain
        }
    }
}

impl PressureVolume {
    fn to_setup(&self) -> setup::PressureVolume {
        match self {
            Self::Linear => setup::PressureVolume::Linear,
            Self::Sigmoid(curve) => setup::PressureVolume::Sigmoid {
                lower: Volume::ml(curve.lower_ml),
                span: Volume::ml(curve.span_ml),
                middle: Pressure::cmh2o(curve.middle_cmh2o),
                width: Pressure::cmh2o(curve.width_cmh2o),
            },
            Self::Table(table) => {
                let points = table.points.as_slice().iter();
                setup::PressureVolume::Table(
                    points.map(|at| (Pressure::cmh2o(at.cmh2o), Volume::ml(at.ml))).collect(),
                )
            }
        }
    }
}

impl Tube {
    fn to_setup(&self) -> setup::Tube {
        match self {
            Self::Linear(tube) => linear_tube(tube.cmh2o_s_l),
            Self::Quadratic(tube) => {
                setup::Tube::Quadratic { k1: tube.k1_cmh2o_s_l, k2: tube.k2_cmh2o_s2_l2 }
            }
            Self::Sized(SizedTube { internal_diameter_mm, length_cm }) => {
                let gas = Mixture::OXYGEN.properties(TUBE_TEMPERATURE_C, STANDARD_PRESSURE_PA);
                setup::Tube::Sized(SmoothTube::new(*internal_diameter_mm, *length_cm, gas))
            }
            Self::OneWay(tube) => setup::Tube::OneWay {
                inward: tube.inward_cmh2o_s_l.map(Resistance::cmh2o_s_per_l),
                outward: tube.outward_cmh2o_s_l.map(Resistance::cmh2o_s_per_l),
            },
            Self::Shut => setup::Tube::Shut,
        }
    }
}

fn linear_tube(resistance_cmh2o_s_l: f64) -> setup::Tube {
    match resistance_cmh2o_s_l {
        0.0 => setup::Tube::None,
        resistance => setup::Tube::Linear(Resistance::cmh2o_s_per_l(resistance)),
    }
}

impl Cuff {
    fn to_setup(&self) -> setup::Cuff {
        let flow = Flow::ml_s(self.leak_ml_min / 60.0);
        setup::Cuff::leaking(Pressure::cmh2o(self.seals_to_cmh2o), flow)
    }
}

impl Effort {
    fn to_setup(&self) -> setup::Effort {
        let every = |rate_per_min: f64| Seconds::s(60.0 / rate_per_min);
        match self {
            Self::Breaths(breaths) => {
                let effort = setup::Effort::breaths(
                    Pressure::cmh2o(breaths.amplitude_cmh2o),
                    Seconds::s(breaths.duration_s),
                    every(breaths.rate_per_min),
                );
                match breaths.delay_s {
                    0.0 => effort,
                    delay_s => effort.delayed(Seconds::s(delay_s)),
                }
            }
            Self::Coughs(coughs) => setup::Effort::coughs(
                Pressure::cmh2o(coughs.strength_cmh2o),
                every(coughs.rate_per_min),
            ),
            Self::Bracing(bracing) => {
                setup::Effort::bracing(Pressure::cmh2o(bracing.strength_cmh2o))
            }
            // Decided on breath by breath: see the gas of a scenario.
            Self::Drive(_) => setup::Effort::none(),
        }
    }
}

impl Circuit {
    pub(super) fn to_setup(&self) -> setup::Circuit {
        setup::Circuit {
            compliance: Compliance::ml_per_cmh2o(self.compliance_ml_cmh2o),
            valve_resistance: Resistance::cmh2o_s_per_l(self.valve_resistance_cmh2o_s_l),
            outlet_k2: self.outlet_k2_cmh2o_s2_l2,
            valve: match self.valve {
                Valve::Working => setup::Valve::Working,
                Valve::StuckOpen => setup::Valve::StuckOpen,
                Valve::StuckShut => setup::Valve::StuckShut,
            },
            backflow_check: self.backflow_check,
            water_in_limb: Pressure::cmh2o(self.water_in_limb_cmh2o),
            limb: self.limb.as_ref().map(Limb::to_setup),
            leak: self.leak.as_ref().filter(|leak| leak.ml_min > 0.0).map(Leak::to_setup),
            relief: self.relief.as_ref().map(Relief::to_setup),
            patient_port: match self.patient_port {
                PatientPort::Connected => setup::PatientPort::Connected,
                PatientPort::Blocked => setup::PatientPort::Blocked,
                PatientPort::Open => setup::PatientPort::Open,
            },
            sensor: self.sensor.to_setup(),
            ..setup::Circuit::default()
        }
    }
}

impl Limb {
    fn to_setup(&self) -> setup::Limb {
        setup::Limb {
            compliance: Compliance::ml_per_cmh2o(self.compliance_ml_cmh2o),
            resistance: Resistance::cmh2o_s_per_l(self.resistance_cmh2o_s_l),
            disconnected: self.disconnected,
        }
    }
}

impl Relief {
    fn to_setup(&self) -> setup::Relief {
        setup::Relief {
            opens_at: Pressure::cmh2o(self.opens_at_cmh2o),
            resistance: Resistance::cmh2o_s_per_l(self.resistance_cmh2o_s_l),
        }
    }
}

impl Sensor {
    fn to_setup(&self) -> setup::Sensor {
        setup::Sensor {
            place: match &self.place {
                SensorPlace::PatientConnection => setup::SensorPlace::PatientConnection,
                SensorPlace::ValveEnd => setup::SensorPlace::ValveEnd,
                SensorPlace::Cut(cut) => {
                    setup::SensorPlace::Cut(Pressure::cmh2o(cut.stays_at_cmh2o))
                }
            },
            offset: Pressure::cmh2o(self.offset_cmh2o),
            share: 1.0,
        }
    }
}

impl Leak {
    fn to_setup(&self) -> setup::Leak {
        setup::Leak {
            flow: Flow::ml_s(self.ml_min / 60.0),
            at: Pressure::cmh2o(self.at_cmh2o),
            law: match self.law {
                LeakLaw::Linear => setup::LeakLaw::Linear,
                LeakLaw::Orifice => setup::LeakLaw::Orifice,
            },
        }
    }
}

impl Ventilator {
    pub(super) fn to_setup(&self) -> setup::Ventilator {
        setup::Ventilator {
            mode: match self.mode {
                Mode::Ventilating => setup::Mode::Ventilating,
                Mode::Standby => setup::Mode::Standby,
            },
            fresh_gas_flow: Flow::l_per_min(self.fresh_gas_flow_l_min),
            cycling_pressure: Pressure::cmh2o(self.cycling_pressure_cmh2o),
            inspiratory_time_limit: Seconds::s(self.inspiratory_time_limit_s),
            expiratory_time: Seconds::s(self.expiratory_time_s),
            end_expiratory_pressure: Pressure::cmh2o(self.end_expiratory_pressure_cmh2o),
            valve_delay: Seconds::s(self.valve_delay_s),
        }
    }
}
