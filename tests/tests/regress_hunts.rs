//! Machines that a hunt among random ones once found a fault with, each with its
//! fault: all on the numeric road.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]
#![allow(clippy::excessive_precision, clippy::unreadable_literal, reason = "as they were drawn")]

mod common;

use tidewright::prelude::*;

fn sigmoid(span_ml: f64, middle: f64, width: f64) -> PressureVolume {
    PressureVolume::Sigmoid {
        lower: Volume::ZERO,
        span: Volume::ml(span_ml),
        middle: Pressure::cmh2o(middle),
        width: Pressure::cmh2o(width),
    }
}

fn part(compliance: f64, [inward, outward]: [f64; 2], law: PressureVolume) -> Compartment {
    let (compliance, resistance) =
        (Compliance::ml_per_cmh2o(compliance), Resistance::cmh2o_s_per_l(inward));
    Compartment {
        expiratory_resistance: (outward > 0.0).then(|| Resistance::cmh2o_s_per_l(outward)),
        law,
        ..Compartment::new(compliance, resistance)
    }
}

fn half_sine(lasts_s: f64, peak: f64) -> Segment {
    Segment { duration: Seconds::s(lasts_s), course: Course::HalfSine(Pressure::cmh2o(peak)) }
}

fn hold(lasts_s: f64, pressure: f64) -> Segment {
    Segment { duration: Seconds::s(lasts_s), course: Course::Hold(Pressure::cmh2o(pressure)) }
}

fn ramp(lasts_s: f64, from: f64, to: f64) -> Segment {
    let course = Course::Ramp(Pressure::cmh2o(from), Pressure::cmh2o(to));
    Segment { duration: Seconds::s(lasts_s), course }
}

fn ventilator(flow_ml_s: f64, expiratory_s: f64, peep: f64, delay_s: f64) -> Ventilator {
    Ventilator {
        mode: Mode::Ventilating,
        fresh_gas_flow: Flow::ml_s(flow_ml_s),
        cycling_pressure: Pressure::cmh2o(20.0),
        inspiratory_time_limit: Seconds::s(1.0),
        expiratory_time: Seconds::s(expiratory_s),
        end_expiratory_pressure: Pressure::cmh2o(peep),
        valve_delay: Seconds::s(delay_s),
    }
}

fn circuit(compliance: f64, valve: f64, backflow_check: bool, place: SensorPlace) -> Circuit {
    Circuit {
        compliance: Compliance::ml_per_cmh2o(compliance),
        valve_resistance: Resistance::cmh2o_s_per_l(valve),
        backflow_check,
        sensor: Sensor { place, ..Sensor::default() },
        ..Circuit::default()
    }
}

/// A step that began just short of the pressure that opens the check valve got
/// nowhere.
fn at_the_check_valve() -> Setup {
    let law = |span| sigmoid(span, 9.530318769708707, 1.3144911895675249);
    let tissue = Viscoelastic {
        compliance: Compliance::ml_per_cmh2o(2.241043640127518),
        resistance: Resistance::cmh2o_s_per_l(18.91899166598774),
    };
    let wall = ChestWall {
        compliance: Compliance::ml_per_cmh2o(0.11868691079053631),
        pressed_by: Pressure::cmh2o(-1.2391097271865255),
        open_wound: None,
    };
    let lung = Lung {
        compartments: vec![
            part(378.6666858213907, [175.2453142261585, 0.0], law(1991.0160891798082)),
            part(0.19357108992846536, [17.988222066466594, 0.0], law(1.017789969063803)),
        ],
        tube: Tube::Quadratic { k1: 11.636642742992658, k2: 58.18321371496329 },
        chest_wall: Some(wall),
        viscoelastic: Some(tissue),
        ..Lung::default()
    };
    let effort = Effort {
        segments: vec![
            hold(0.6836085709533195, 7.660161551608422),
            ramp(1.2960247923769321, 12.733990417527586, -7.511570241837078),
        ],
    };
    let leak = Leak::orifice(Flow::ZERO, Pressure::cmh2o(11.505984858269862));
    let circuit = Circuit {
        leak: Some(leak),
        ..circuit(0.0, 264.4890200666925, true, SensorPlace::ValveEnd)
    };
    Setup { lung, effort, circuit, ventilator: ventilator(0.0, 0.2279355326244574, 0.0, 0.0) }
}

/// Gas at rest went to and fro, within rounding, across the flow at which the
/// airway's resistance changes.
fn at_rest() -> Setup {
    let law = sigmoid(0.7114019105070402, 12.943417247256058, 1.8930935321787294);
    let lung = Lung {
        compartments: vec![part(0.09394701033185346, [2.25875250785762, 11.871901602680348], law)],
        ..Lung::default()
    };
    let effort = Effort {
        segments: vec![
            hold(1.849935311784195, -12.372234577507307),
            half_sine(0.5220611385367707, -3.3190717041440925),
            hold(0.5340396949151888, -7.3952275059966075),
            half_sine(0.08600131592201261, -12.432911318258704),
        ],
    };
    let place = SensorPlace::PatientConnection;
    let circuit = circuit(0.14622981428725346, 4.412222882094532, true, place);
    Setup { lung, effort, circuit, ventilator: ventilator(0.0, 0.8116885752559707, 0.0, 0.0) }
}

/// The pressure turned close to a look of a step, and the highest was not found.
fn turns_near_a_look() -> Setup {
    let law = |span| sigmoid(span, 3.3589974609500715, 4.1172505351102675);
    let tissue = Viscoelastic {
        compliance: Compliance::ml_per_cmh2o(2.076088484739479),
        resistance: Resistance::cmh2o_s_per_l(1290.5791646283974),
    };
    let ways = [
        [3.417906898991172, 7.845949054548295],
        [5.575143218500679, 12.797975766126834],
        [5.252962837994028, 12.058397150753704],
        [1.8104784256079456, 4.156029380399877],
    ];
    let lung = Lung {
        compartments: vec![
            part(1.8620624692538599, ways[0], law(30.6663107917768)),
            part(0.10621792566396078, ways[1], law(1.7493032451129806)),
            part(0.32052780020485044, ways[2], law(5.27877302764455)),
            part(15.634368622927703, ways[3], law(257.48245031544104)),
        ],
        viscoelastic: Some(tissue),
        ..Lung::default()
    };
    let effort = Effort { segments: vec![half_sine(0.14321249093056118, -10.428758264357874)] };
    let leak = Leak::linear(Flow::ml_s(88.48953226047053), Pressure::cmh2o(37.614182991359215));
    let circuit = Circuit {
        leak: Some(leak),
        ..circuit(0.06472137254534503, 10.832754909799336, false, SensorPlace::ValveEnd)
    };
    let delay_s = 0.01996232939118909;
    let ventilator = ventilator(2.0450146763684316, 0.9088200754111725, 15.73691003955125, delay_s);
    Setup { lung, effort, circuit, ventilator }
}

/// The lung grew stiffer within a step, and the pressure turned where a lung as at
/// its start would not have let it.
fn stiffens_within_a_step() -> Setup {
    let law = sigmoid(3.823170562054695, 8.383163309667477, 7.796372205276934);
    let ways = [203.27217830000697, 307.7619692068789];
    let lung = Lung { compartments: vec![part(0.12259453696512213, ways, law)], ..Lung::default() };
    let effort = Effort {
        segments: vec![
            half_sine(2.4153278935685467, 8.176820747232469),
            half_sine(2.4588959353529027, -6.406773553623866),
        ],
    };
    let leak = Leak::linear(Flow::ml_s(2.9771762484425635), Pressure::cmh2o(21.09922975661598));
    let circuit = Circuit {
        leak: Some(leak),
        ..circuit(0.0, 135.17973802210545, true, SensorPlace::ValveEnd)
    };
    let ventilator = ventilator(0.0, 4.538129701449342, 0.0, 0.018474808804085707);
    Setup { lung, effort, circuit, ventilator }
}

#[test]
fn regress_hunted_machines_get_on() {
    for setup in [at_the_check_valve(), at_rest()] {
        let machine = Machine::with_solver(setup, Solver::Numeric).unwrap();
        let mut moment = Moment::at_rest(&machine);
        let mut steps = 0;
        while moment.at_s < 20.0 {
            moment = step(&machine, &moment, 3.0).unwrap().next;
            steps += 1;
            assert!(steps < 5_000, "at {} s", moment.at_s);
        }
    }
}

#[test]
fn regress_hunted_machines_tell_their_highest_pressure() {
    for mut setup in [turns_near_a_look(), stiffens_within_a_step()] {
        setup.ventilator.cycling_pressure = Pressure::cmh2o(1e9);
        setup.ventilator.inspiratory_time_limit = Seconds::s(4.0);
        let machine = Machine::with_solver(setup, Solver::Numeric).unwrap();
        let mut moment = Moment::at_rest(&machine);
        loop {
            let done = step(&machine, &moment, 4.0).unwrap();
            let piece = &done.piece;
            let share = |i: u32| piece.duration_s * f64::from(i) / 200.0;
            let at = |i: u32| piece.at(Signal::SensedPressure, share(i)).unwrap();
            let seen = (0..=200).map(at).fold(f64::NEG_INFINITY, f64::max);
            let told = piece.range(Signal::SensedPressure).1;
            assert!(told > seen - 1e-6, "{told} told, {seen} seen at {} s", moment.at_s);
            if piece.ended_by.is_some() {
                break;
            }
            moment = done.next;
        }
    }
}
