//! Problems with a published or hand-worked answer, run through the library.
//! Source: `reference/worked-examples/source.md`.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::math::exp;
use tidewright::prelude::*;
use tidewright_tests::reference::{Row, rows};

/// So low a resistance of the open valve that expiration meets the lung's alone.
const NO_RESISTANCE: f64 = 1e-6;

#[test]
fn published_plateau_with_and_without_trapped_gas() {
    for name in ["plateau-without-trapping", "plateau-with-trapping"] {
        let example = Example::named(name);
        let (vt, ti) = (example.input("tidal_volume_ml"), example.input("inspiratory_time_s"));
        let mut setup = example.setup();
        setup.ventilator = ending_on_time(vt / ti, ti, example.input("expiratory_time_s"));
        let breath = breath(&setup, 60);
        let compliance = example.input("compliance_ml_cmh2o");
        let trapped = breath.end_expiratory_alveolar_pressure.as_cmh2o();
        let plateau = trapped + breath.inspired_tidal_volume.as_ml() / compliance;
        example.check("auto_peep_cmh2o", trapped, 1e-6);
        example.check("trapped_volume_ml", trapped * compliance, 1e-4);
        example.check("plateau_pressure_cmh2o", plateau, 1e-6);
        example.check("peak_pressure_cmh2o", breath.peak_pressure.as_cmh2o(), 1e-6);
    }
}

#[test]
fn published_estimator_errs_as_printed_when_it_ignores_trapped_gas() {
    let patient = Example::named("plateau-with-trapping");
    let (vt, ti) = (patient.input("tidal_volume_ml"), patient.input("inspiratory_time_s"));
    let mut setup = patient.setup();
    setup.ventilator = ending_on_time(vt / ti, ti, patient.input("expiratory_time_s"));
    let peak = breath(&setup, 60).peak_pressure.as_cmh2o();
    let tau = patient.input("resistance_cmh2o_s_l") * patient.input("compliance_ml_cmh2o") / 1000.0;

    let compliance = (vt + tau * vt / ti) / peak;
    let example = Example::named("estimator-blind-to-trapping");
    example.check("estimated_compliance_ml_cmh2o", compliance, 1e-5);
    example.check("estimated_resistance_cmh2o_s_l", tau / compliance * 1000.0, 1e-5);
    example.check("estimated_plateau_pressure_cmh2o", vt / compliance, 1e-6);
}

#[test]
fn published_mechanical_power_is_the_integral_of_pressure_over_volume() {
    let example = Example::named("mechanical-power");
    let (rate, ratio) =
        (example.input("rate_per_min"), example.input("inspiratory_to_expiratory_time"));
    let (vt, ti) = (example.input("tidal_volume_ml"), 60.0 / rate * ratio / (1.0 + ratio));
    let mut setup = example.setup();
    setup.ventilator = ending_on_time(vt / ti, ti, 60.0 / rate - ti);
    setup.ventilator.end_expiratory_pressure =
        Pressure::cmh2o(example.input("end_expiratory_pressure_cmh2o"));
    let machine = Machine::new(setup).unwrap();
    // The published form knows no trapped gas: the first breath starts from rest.
    let inflation = step(&machine, &Moment::at_rest(&machine), 60.0).unwrap().piece;
    let peak = inflation.last(Signal::AirwayPressure);
    let pressure_volume = vt / ti * inflation.integral(Signal::AirwayPressure);

    example.check("inspiratory_time_s", inflation.duration_s, 1e-12);
    example.check("peak_pressure_cmh2o", peak, 1e-12);
    // 1 cmH2O·mL is 98.0665e-6 J.
    example.check("power_integral_j_min", pressure_volume * 98.0665e-6 * rate, 1e-12);
    // The printed form rounds 0.0980665 to 0.098.
    example.check("power_published_form_j_min", pressure_volume * 98e-6 * rate, 1e-12);
}

#[test]
fn closed_form_of_breaths_ended_by_pressure() {
    for example in Example::all().filter(|example| example.name.starts_with("pressure-ended")) {
        let mut setup = example.setup();
        setup.ventilator = Ventilator {
            fresh_gas_flow: Flow::ml_s(example.input("flow_ml_s")),
            cycling_pressure: Pressure::cmh2o(example.input("cycling_pressure_cmh2o")),
            inspiratory_time_limit: Seconds::s(100.0),
            expiratory_time: Seconds::s(1.0),
            ..Ventilator::default()
        };
        let breath = breath(&setup, 1);
        if example.output("ends_on_pressure") == Some(0.0) {
            assert_eq!(breath.ended_by, EndedBy::Time, "{}", example.name);
            example.check("highest_pressure_cmh2o", breath.peak_pressure.as_cmh2o(), 1e-12);
            continue;
        }
        assert_eq!(breath.ended_by, EndedBy::Pressure, "{}", example.name);
        example.check("inspiratory_time_s", breath.inspiratory_time.as_s(), 1e-10);
        example.check("inspired_tidal_volume_ml", breath.inspired_tidal_volume.as_ml(), 1e-10);
    }
}

#[test]
fn published_permitted_leaks_are_these_resistances() {
    for example in Example::all().filter(|example| example.name.starts_with("leak-")) {
        let leak = Leak::linear(
            Flow::ml_s(example.input("leak_ml_min") / 60.0),
            Pressure::cmh2o(example.input("leak_at_cmh2o")),
        );
        let resistance = 1000.0 / leak.conductance_ml_s_per_cmh2o();
        example.check("leak_resistance_cmh2o_s_l", resistance, 1e-9);
    }
}

#[test]
fn closed_form_of_a_sealed_volume_behind_a_linear_leak() {
    for example in Example::all().filter(|example| example.name.starts_with("linear-decay")) {
        let leak_ml_s = 30.0 / example.input("leak_resistance_cmh2o_s_l") * 1000.0;
        let leak = Leak::linear(Flow::ml_s(leak_ml_s), Pressure::cmh2o(30.0));
        let half_time_s = example.output("half_time_s").unwrap();
        let simulation = sealed(example.input("compliance_ml_cmh2o"), leak, 4.0 * half_time_s);
        let trace = simulation.trace().unwrap();
        for halvings in 0..4_u32 {
            let time = Seconds::s(half_time_s * f64::from(halvings));
            let pressure = trace.at(time, Signal::AirwayPressure).unwrap();
            let expected = 30.0 / f64::from(1 << halvings);
            assert!((pressure - expected).abs() < 1e-12, "{}: {pressure}", example.name);
        }
    }
}

#[test]
fn closed_form_of_a_sealed_volume_behind_an_orifice() {
    let example = Example::named("orifice-decay");
    let start = example.input("start_pressure_cmh2o");
    let flow = example.input("orifice_ml_s_sqrt_cmh2o") * start.sqrt();
    let leak = Leak::orifice(Flow::ml_s(flow), Pressure::cmh2o(start));
    let empty_s = example.output("empty_time_s").unwrap();
    let simulation = sealed(example.input("compliance_ml_cmh2o"), leak, empty_s);
    let trace = simulation.trace().unwrap();
    let pressure = |time_s| trace.at(Seconds::s(time_s), Signal::AirwayPressure).unwrap();
    assert!((pressure(example.output("half_time_s").unwrap()) - start / 2.0).abs() < 1e-5);
    for tenth in 0..10_u32 {
        // The root of pressure falls in proportion to time.
        let left = 1.0 - f64::from(tenth) / 10.0;
        let root = pressure(empty_s * (1.0 - left)).sqrt();
        assert!((root - start.sqrt() * left).abs() < 1e-6, "{root} with {left} of the time left");
    }
}

#[test]
fn closed_form_of_a_sigmoid_lung_at_its_middle_pressure() {
    let example = Example::named("sigmoid");
    let middle = Pressure::cmh2o(example.input("c_cmh2o"));
    let mut setup = lung(1.0, 20.0);
    setup.lung.compartments[0].law = PressureVolume::Sigmoid {
        lower: Volume::ml(example.input("a_ml")),
        span: Volume::ml(example.input("b_ml")),
        middle,
        width: Pressure::cmh2o(example.input("d_cmh2o")),
    };
    setup.ventilator = ending_on_time(1e-3, 1.0, 1.0);
    setup.ventilator.end_expiratory_pressure = middle;
    let machine = Machine::new(setup).unwrap();
    let piece = step(&machine, &Moment::at_rest(&machine), 1.0).unwrap().piece;
    let moved = |signal| piece.last(signal) - piece.first(signal);
    let slope = moved(Signal::LungVolume) / moved(Signal::AlveolarPressure);
    example.check("volume_at_c_ml", piece.first(Signal::LungVolume), 1e-12);
    example.check("largest_slope_ml_cmh2o", slope, 1e-6);
}

#[test]
fn closed_form_of_emptying_after_whole_time_constants() {
    for example in Example::all().filter(|example| example.name.starts_with("step-response")) {
        let (compliance, resistance) = (6.0, 20.0);
        let mut setup = lung(compliance, resistance);
        setup.ventilator = ending_on_time(
            20.0,
            2.0,
            example.input("time_constants") * compliance * (resistance + NO_RESISTANCE) / 1000.0,
        );
        let breath = breath(&setup, 1);
        let left_by_flow_ml = 20.0 * compliance * NO_RESISTANCE / 1000.0;
        let room_to_empty = breath.inspired_tidal_volume.as_ml() - left_by_flow_ml;
        example.check("fraction", breath.expired_tidal_volume.as_ml() / room_to_empty, 1e-12);
    }
    assert!((1.0 - exp(-1.0) - 0.6321).abs() < 5e-5); // as every textbook prints it
}

/// All rows of one example.
struct Example {
    name: String,
    rows: Vec<Row>,
}

impl Example {
    fn all() -> impl Iterator<Item = Self> {
        let mut examples: Vec<Self> = Vec::new();
        for row in rows("worked-examples/data.csv") {
            match examples.last_mut() {
                Some(last) if last.name == row.text("example") => last.rows.push(row),
                _ => examples.push(Self { name: row.text("example").into(), rows: vec![row] }),
            }
        }
        examples.into_iter()
    }

    fn named(name: &str) -> Self {
        Self::all().find(|example| example.name == name).unwrap()
    }

    fn input(&self, quantity: &str) -> f64 {
        self.find("input", quantity).next().unwrap().number("value")
    }

    fn output(&self, quantity: &str) -> Option<f64> {
        self.find("output", quantity).next().map(|row| row.number("value"))
    }

    fn find<'a>(&'a self, role: &'a str, quantity: &'a str) -> impl Iterator<Item = &'a Row> {
        let fits = move |row: &&Row| row.text("role") == role && row.text("quantity") == quantity;
        self.rows.iter().filter(fits)
    }

    /// `got` against the printed value, within its rounding, and against the
    /// computed one, within `tolerance`.
    fn check(&self, quantity: &str, got: f64, tolerance: f64) {
        let mut checked = 0;
        for row in self.find("output", quantity) {
            let allowed = match row.text("confidence") {
                "computed" => tolerance,
                "read" => row.number("rounding"),
                other => panic!("{}: a value {other} cannot fail a test", self.name),
            };
            let want = row.number("value");
            let name = &self.name;
            assert!((got - want).abs() <= allowed, "{name}: {quantity} {got} instead of {want}");
            checked += 1;
        }
        assert!(checked > 0, "{}: no {quantity}", self.name);
    }

    /// The patient and circuit of this example.
    fn setup(&self) -> Setup {
        let optional = |name| self.find("input", name).next().map(|row| row.number("value"));
        let mut setup = lung(self.input("compliance_ml_cmh2o"), self.input("resistance_cmh2o_s_l"));
        let circuit_compliance = optional("circuit_compliance_ml_cmh2o").unwrap_or(0.0);
        setup.circuit.compliance = Compliance::ml_per_cmh2o(circuit_compliance);
        setup.circuit.leak =
            optional("leak_ml_s_cmh2o").map(|g| Leak::linear(Flow::ml_s(g), Pressure::cmh2o(1.0)));
        setup
    }
}

/// One compartment behind a rigid circuit whose valve resists nothing.
fn lung(compliance_ml_cmh2o: f64, resistance_cmh2o_s_l: f64) -> Setup {
    Setup {
        lung: Lung::single(
            Compliance::ml_per_cmh2o(compliance_ml_cmh2o),
            Resistance::cmh2o_s_per_l(resistance_cmh2o_s_l),
        ),
        circuit: Circuit {
            compliance: Compliance::ZERO,
            valve_resistance: Resistance::cmh2o_s_per_l(NO_RESISTANCE),
            ..Circuit::default()
        },
        ..Setup::default()
    }
}

fn ending_on_time(flow_ml_s: f64, inspiratory_s: f64, expiratory_s: f64) -> Ventilator {
    Ventilator {
        fresh_gas_flow: Flow::ml_s(flow_ml_s),
        cycling_pressure: Pressure::cmh2o(1000.0),
        inspiratory_time_limit: Seconds::s(inspiratory_s),
        expiratory_time: Seconds::s(expiratory_s),
        ..Ventilator::default()
    }
}

/// A blocked port and no fresh gas: 30 cmH2O in the circuit, and a leak.
fn sealed(compliance_ml_cmh2o: f64, leak: Leak, duration_s: f64) -> Simulation {
    let start = Setup {
        circuit: Circuit {
            compliance: Compliance::ml_per_cmh2o(compliance_ml_cmh2o),
            leak: Some(leak),
            patient_port: PatientPort::Blocked,
            ..Circuit::default()
        },
        ventilator: Ventilator {
            fresh_gas_flow: Flow::ZERO,
            cycling_pressure: Pressure::cmh2o(40.0),
            inspiratory_time_limit: Seconds::s(1000.0),
            end_expiratory_pressure: Pressure::cmh2o(30.0),
            ..Ventilator::default()
        },
        ..Setup::default()
    };
    let duration = Seconds::s(duration_s);
    Simulation::new(&Protocol { start, changes: vec![], duration }).unwrap()
}

/// The breath of that number.
fn breath(setup: &Setup, number: usize) -> Breath {
    let ventilator = &setup.ventilator;
    let longest = ventilator.inspiratory_time_limit + ventilator.expiratory_time;
    let duration = Seconds::s(longest.as_s() * (number as f64 + 0.5));
    let protocol = Protocol { start: setup.clone(), changes: vec![], duration };
    let (breaths, _) = Simulation::new(&protocol).unwrap().breaths().unwrap();
    breaths[number - 1]
}
