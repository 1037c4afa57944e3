//! Whatever the format accepts, the engine runs: random scenarios over the whole
//! of its ranges, corners included.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::machines::cases;
use proptest::prelude::*;
use tidewright::fault::Fault;
use tidewright::run::Simulation;
use tidewright_scenario::{parse, report};

/// A number over a range of many orders of magnitude, or one of its corners.
fn number(min: f64, max: f64) -> impl Strategy<Value = f64> {
    let floor = min.max(max * 1e-6);
    prop_oneof![
        1 => Just(min),
        1 => Just(max),
        6 => (0.0..1.0f64).prop_map(move |x| floor * tidewright::math::pow(max / floor, x)),
    ]
}

fn leak() -> BoxedStrategy<String> {
    (number(0.0, 1e6), number(0.1, 200.0), prop_oneof![Just("Linear"), Just("Orifice")])
        .prop_map(|(flow, at, law)| format!("(ml_min: {flow}, at_cmh2o: {at}, law: {law})"))
        .boxed()
}

/// A field that is written or not.
fn maybe(
    field: &'static str,
    value: impl Strategy<Value = String>,
) -> impl Strategy<Value = String> {
    prop::option::weighted(0.3, value)
        .prop_map(move |value| value.map_or(String::new(), |value| format!("{field}: {value}, ")))
}

/// Where the rest of a law lies is chosen so that it rises.
fn law() -> impl Strategy<Value = String> {
    prop_oneof![
        3 => Just("Linear".to_owned()),
        1 => (number(0.01, 1e5), -50.0..100.0f64, number(0.1, 100.0)).prop_map(|(span, middle, width)| {
            format!("Sigmoid(lower_ml: 0, span_ml: {span}, middle_cmh2o: {middle}, width_cmh2o: {width})")
        }),
        1 => (number(0.01, 1e3), number(0.01, 1e3)).prop_map(|(first, second)| {
            let (half, full) = (first, first + second);
            format!("Table([(cmh2o: 0, ml: 0), (cmh2o: 8, ml: {half}), (cmh2o: 25, ml: {full})])")
        }),
    ]
}

/// `rich` is a patient with a chest wall and slow tissue, and a limb that holds gas,
/// all from the start; without them more stays linear, and rigid is possible.
// Boxed: strategies within strategies by value would fill the stack of a thread.
fn compartment(rich: bool) -> BoxedStrategy<String> {
    let to = if rich { vec!["Room", "Pleura", "PleuraOneWay"] } else { vec!["Room"] };
    let hole = (number(0.01, 1e5), prop::sample::select(to))
        .prop_map(|(r, to)| format!("(resistance_cmh2o_s_l: {r}, to: {to})"));
    (
        (number(0.001, 1e4), number(0.01, 1e5)),
        maybe("expiratory_resistance_cmh2o_s_l", number(0.01, 1e5).prop_map(|r| r.to_string())),
        maybe("law", law()),
        maybe("air_leak", hole),
        maybe("shut", Just("true".to_owned())),
    )
        .prop_map(|((c, r), out, law, hole, shut)| {
            format!("(compliance_ml_cmh2o: {c}, resistance_cmh2o_s_l: {r}, {out}{law}{hole}{shut})")
        })
        .boxed()
}

fn lung(parts: usize, rich: bool) -> BoxedStrategy<String> {
    prop::collection::vec(compartment(rich), parts)
        .prop_map(|parts| format!("Compartments([{}])", parts.join(", ")))
        .boxed()
}

fn tube() -> BoxedStrategy<String> {
    prop_oneof![
        number(0.0, 1e5).prop_map(|r| format!("Linear(cmh2o_s_l: {r})")),
        (number(0.01, 1e5), number(0.0, 1e6))
            .prop_map(|(k1, k2)| format!("Quadratic(k1_cmh2o_s_l: {k1}, k2_cmh2o_s2_l2: {k2})")),
        (number(0.5, 60.0), number(0.5, 300.0))
            .prop_map(|(d, l)| format!("Sized(internal_diameter_mm: {d}, length_cm: {l})")),
        number(0.01, 1e5).prop_map(|r| format!("OneWay(inward_cmh2o_s_l: {r})")),
        Just("Shut".to_owned()),
    ]
    .boxed()
}

fn cuff() -> BoxedStrategy<String> {
    (number(0.0, 100.0), number(0.0, 1e6))
        .prop_map(|(seals, leak)| format!("(seals_to_cmh2o: {seals}, leak_ml_min: {leak})"))
        .boxed()
}

fn chest_wall() -> BoxedStrategy<String> {
    (
        number(0.001, 1e4),
        number(0.0, 50.0),
        maybe("wound_cmh2o_s_l", number(0.01, 1e5).prop_map(|r| r.to_string())),
    )
        .prop_map(|(c, pressed, wound)| {
            format!("(compliance_ml_cmh2o: {c}, pressed_by_cmh2o: {pressed}, {wound})")
        })
        .boxed()
}

fn viscoelastic() -> BoxedStrategy<String> {
    (number(0.001, 1e4), number(0.01, 1e5))
        .prop_map(|(c, r)| format!("(compliance_ml_cmh2o: {c}, resistance_cmh2o_s_l: {r})"))
        .boxed()
}

fn effort() -> BoxedStrategy<String> {
    prop_oneof![
        (number(0.0, 100.0), 0.1..0.8f64, number(0.1, 300.0)).prop_map(|(p, share, rate)| {
            let duration = (share * 60.0 / rate).clamp(0.05, 10.0);
            format!("Breaths(amplitude_cmh2o: {p}, duration_s: {duration}, rate_per_min: {rate})")
        }),
        (number(0.0, 200.0), number(0.1, 120.0))
            .prop_map(|(p, rate)| format!("Coughs(strength_cmh2o: {p}, rate_per_min: {rate})")),
        number(0.0, 100.0).prop_map(|p| format!("Bracing(strength_cmh2o: {p})")),
    ]
    .boxed()
}

/// A limb that holds gas, so that it may change during the run.
fn limb() -> BoxedStrategy<String> {
    (number(0.001, 100.0), number(0.01, 1e5), any::<bool>())
        .prop_map(|(c, r, off)| {
            format!("(compliance_ml_cmh2o: {c}, resistance_cmh2o_s_l: {r}, disconnected: {off})")
        })
        .boxed()
}

fn relief() -> BoxedStrategy<String> {
    (number(0.0, 200.0), number(0.01, 1e5))
        .prop_map(|(opens, r)| format!("(opens_at_cmh2o: {opens}, resistance_cmh2o_s_l: {r})"))
        .boxed()
}

fn valve() -> impl Strategy<Value = String> {
    prop_oneof![Just("Working"), Just("StuckOpen"), Just("StuckShut")].prop_map(str::to_owned)
}

fn sensor() -> BoxedStrategy<String> {
    let place = prop_oneof![Just("PatientConnection"), Just("ValveEnd"), Just("Cut")];
    (place, -50.0..50.0f64)
        .prop_map(|(place, offset)| format!("(place: {place}, offset_cmh2o: {offset})"))
        .boxed()
}

fn port() -> impl Strategy<Value = &'static str> {
    prop_oneof![4 => Just("Connected"), 1 => Just("Blocked"), 1 => Just("Open")]
}

/// Changes of a patient who has `parts` compartments and a tube from the start.
fn change(parts: usize, rich: bool) -> BoxedStrategy<String> {
    prop_oneof![
        number(0.0, 100.0).prop_map(|x| format!("FreshGasFlow(l_min: {x})")),
        number(31.0, 100.0).prop_map(|x| format!("CyclingPressure(cmh2o: {x})")),
        number(0.02, 60.0).prop_map(|x| format!("InspiratoryTimeLimit(s: {x})")),
        number(0.02, 600.0).prop_map(|x| format!("ExpiratoryTime(s: {x})")),
        number(0.0, 30.0).prop_map(|x| format!("EndExpiratoryPressure(cmh2o: {x})")),
        number(0.0, 5.0).prop_map(|x| format!("ValveDelay(s: {x})")),
        prop_oneof![
            Just("Mode(Standby)"),
            Just("Mode(Ventilating)"),
            Just("NoLeak"),
            Just("NoEffort"),
            Just("CuffSeals"),
            Just("BackflowCheck(true)"),
            Just("BackflowCheck(false)")
        ]
        .prop_map(str::to_owned),
        leak().prop_map(|leak| format!("Leak{leak}")),
        lung(parts, rich).prop_map(|lung| format!("Lung({lung})")),
        tube().prop_map(|tube| format!("Tube({tube})")),
        cuff().prop_map(|cuff| format!("Cuff{cuff}")),
        chest_wall().prop_map(|wall| format!("ChestWall{wall}")),
        viscoelastic().prop_map(move |branch| {
            if rich { format!("Viscoelastic{branch}") } else { "NoEffort".to_owned() }
        }),
        effort().prop_map(|effort| format!("Effort({effort})")),
        valve().prop_map(|valve| format!("Valve({valve})")),
        limb().prop_map(|limb| format!("Limb{limb}")),
        number(0.0, 50.0).prop_map(|x| format!("WaterInLimb(cmh2o: {x})")),
        relief().prop_map(|relief| format!("Relief{relief}")),
        sensor().prop_map(|sensor| format!("Sensor{sensor}")),
        number(0.01, 1e5).prop_map(|x| format!("ValveResistance(cmh2o_s_l: {x})")),
        port().prop_map(|port| format!("PatientPort({port})")),
    ]
    .boxed()
}

fn gas_change() -> BoxedStrategy<String> {
    prop_oneof![
        number(0.0, 100.0).prop_map(|x| format!("FreshGasOxygen(percent: {x})")),
        number(0.0, 400.0).prop_map(|x| format!("CardiacOutput(percent: {x})")),
        number(20.0, 45.0).prop_map(|x| format!("Temperature(c: {x})")),
        number(0.0, 1.0).prop_map(|x| format!("Effort(Drive(depth: {x}))")),
    ]
    .boxed()
}

fn gas() -> BoxedStrategy<String> {
    let system = (
        (number(0.0, 100.0), prop_oneof![Just("NearPatient"), Just("MachineEnd")]),
        (number(0.0, 1000.0), number(0.1, 20_000.0), 1..=200u32),
        prop_oneof![
            Just("OpenTube".to_owned()),
            number(1.0, 50_000.0).prop_map(|ml| format!("OpenBag(ml: {ml})"))
        ],
    );
    let patient = (
        (number(5.0, 150.0), number(0.0, 400.0), number(20.0, 45.0)),
        (number(0.0, 95.0), number(0.0, 95.0), number(0.0, 20_000.0)),
    );
    let instruments = (
        (number(0.0, 1000.0), number(0.0, 30.0), number(0.0, 10.0)),
        (number(0.0, 20.0), number(50.0, 500.0), number(0.1, 100.0), number(0.0, 350.0)),
    );
    (system, patient, instruments)
        .prop_map(
            |(
                ((oxygen, inlet), (adapter, limb, parcels), reservoir),
                (body, lung),
                (line, supply),
            )| {
                let ((co2, output, celsius), (shunt, unmet, dead)) = (body, lung);
                let ((draw, delay, rise), (dial, vapour, litres, bar)) = (line, supply);
                format!(
                "gas: (oxygen_percent: {oxygen}, fresh_gas_inlet: {inlet}, adapter_ml: {adapter},
                    limb_ml: {limb}, limb_parcels: {parcels}, reservoir: {reservoir},
                    arterial_co2_mmhg: {co2}, cardiac_output_percent: {output},
                    temperature_c: {celsius}, shunt_percent: {shunt},
                    alveolar_dead_space_percent: {unmet}, airway_dead_space_ml: {dead},
                    capnograph: (sample_ml_min: {draw}, delay_s: {delay}, rise_time_s: {rise}),
                    vaporiser: (dial_percent: {dial}, vapour_ml_per_ml: {vapour}),
                    cylinder: (inner_volume_l: {litres}, gauge_bar: {bar})),"
            )
            },
        )
        .boxed()
}

/// A random scenario with gas exchange, and a patient that may breathe by itself.
fn scenario_with_gas() -> BoxedStrategy<String> {
    let condition = (
        prop_oneof![Just("Ideal"), Just("Overweight"), Just("Obese")],
        prop_oneof![Just("Sternal"), Just("Lateral"), Just("Dorsal")],
        prop_oneof![Just("Awake"), Just("Anaesthetised")],
    );
    (scenario(), gas(), gas_change(), condition, prop::option::of(number(0.0, 1.0)))
        .prop_map(|(plain, gas, change, (body, posture, state), depth)| {
            let depth = depth.filter(|_| !plain.contains("effort:"));
            let effort = depth.map_or(String::new(), |x| format!("effort: Drive(depth: {x}),"));
            let patient = format!(
                "weight_kg: 4, {effort} body_condition: {body}, posture: {posture}, state: {state},"
            );
            plain
                .replace("weight_kg: 4,", &patient)
                .replace("timeline: [", &format!("{gas} timeline: [(at_s: 0, set: {change}),"))
        })
        .boxed()
}

/// A fault by the engine's list, at a share of the run.
fn fault() -> impl Strategy<Value = (usize, f64, f64, f64, f64)> {
    (0..Fault::ALL.len(), 0.0..0.9f64, number(0.001, 1.0), 0.0..0.5f64, 0.01..1.0f64)
}

fn written((which, at, severity, ramp, lasts): (usize, f64, f64, f64, f64), run_s: f64) -> String {
    let fault = Fault::ALL[which];
    let word: String = fault
        .name()
        .split('-')
        .flat_map(|part| [part[..1].to_uppercase(), part[1..].to_owned()])
        .collect();
    let how = if fault.is_switch() { String::new() } else { format!("(severity: {severity})") };
    let at_s = run_s * at;
    let onset =
        if ramp < 0.2 { "Step".to_owned() } else { format!("Ramp(s: {})", run_s * ramp + 0.1) };
    let until_s = at_s + (run_s - at_s) * lasts;
    let until = if until_s < run_s { format!("until_s: {until_s}, ") } else { String::new() };
    format!("(at_s: {at_s}, onset: {onset}, {until}fault: {word}{how}),")
}

fn instruments() -> impl Strategy<Value = String> {
    (-50.0..50.0f64, number(0.0, 10.0), number(0.0, 10.0), number(1.0, 1000.0), any::<u32>())
        .prop_map(|(offset, lag, noise, rate, seed)| {
            format!(
                "(readings_per_s: {rate}, seed: {seed}, spirometer: (at: Machine, lag_s: {lag}),
                gauge: (offset_cmh2o: {offset}, lag_s: {lag}, noise_cmh2o: {noise}))"
            )
        })
}

fn patient(parts: usize, rich: bool) -> impl Strategy<Value = String> {
    (
        lung(parts, rich),
        tube(),
        maybe("cuff", cuff()),
        chest_wall(),
        viscoelastic(),
        maybe("effort", effort()),
    )
        .prop_map(move |(lung, tube, cuff, wall, branch, effort)| {
            let tissue = if rich {
                format!("chest_wall: {wall}, viscoelastic: {branch},")
            } else {
                String::new()
            };
            format!(
                "(species: Other, weight_kg: 4, lung: {lung}, tube: {tube}, {tissue}
                {cuff}{effort})"
            )
        })
}

fn circuit(rich: bool) -> impl Strategy<Value = String> {
    (
        (number(0.0, 100.0), number(0.01, 1e5), port(), limb(), number(0.0, 50.0)),
        maybe("leak", leak()),
        maybe("relief", relief()),
        maybe("valve", valve()),
        maybe("sensor", sensor()),
        maybe("backflow_check", Just("true".to_owned())),
    )
        .prop_map(
            move |(
                (compliance, resistance, port, limb, water),
                leak,
                relief,
                valve,
                sensor,
                check,
            )| {
                let limb = if rich { format!("limb: {limb},") } else { String::new() };
                format!(
                    "(compliance_ml_cmh2o: {compliance}, valve_resistance_cmh2o_s_l: {resistance},
                patient_port: {port}, {limb} water_in_limb_cmh2o: {water},
                {leak}{relief}{valve}{sensor}{check})"
                )
            },
        )
}

fn scenario() -> BoxedStrategy<String> {
    (1..=3usize, any::<bool>())
        .prop_flat_map(|(parts, rich)| {
            let controls = (
                (number(0.0, 100.0), number(31.0, 100.0), number(0.02, 60.0)),
                (number(0.02, 600.0), number(0.0, 30.0), number(0.0, 5.0)),
            );
            let timeline = prop::collection::vec(change(parts, rich), 0..5);
            let faults = prop::collection::vec(fault(), 0..3);
            let (patient, circuit) = (patient(parts, rich), circuit(rich));
            let instruments = maybe("instruments", instruments());
            (patient, circuit, controls, timeline, faults, instruments, number(0.1, 20.0)).prop_map(
                |(patient, circuit, (first, second), timeline, faults, instruments, duration)| {
                    let ((flow, cycling, limit), (expiration, peep, delay)) = (first, second);
                    let step = duration / (timeline.len() + 1) as f64;
                    let entries: String = timeline
                        .iter()
                        .enumerate()
                        .map(|(i, set)| format!("(at_s: {}, set: {set}),", step * i as f64))
                        .collect();
                    let faults: String =
                        faults.into_iter().map(|fault| written(fault, duration)).collect();
                    format!(
                        "(format: 1, id: \"random\",
                    patient: {patient},
                    circuit: {circuit},
                    ventilator: (fresh_gas_flow_l_min: {flow}, cycling_pressure_cmh2o: {cycling},
                        inspiratory_time_limit_s: {limit}, expiratory_time_s: {expiration},
                        end_expiratory_pressure_cmh2o: {peep}, valve_delay_s: {delay}),
                    {instruments}
                    duration_s: {duration}, timeline: [{entries}], faults: [{faults}])"
                    )
                },
            )
        })
        .boxed()
}

proptest! {
    #![proptest_config(cases(400))]

    #[test]
    fn every_accepted_scenario_runs_and_reports_finite_numbers(text in scenario()) {
        runs(&text)?;
    }

    #[test]
    fn every_accepted_scenario_with_gas_runs_and_reports_finite_numbers(text in scenario_with_gas()) {
        runs(&text)?;
    }
}

fn runs(text: &str) -> Result<(), TestCaseError> {
    // The one thing that a random scenario may be refused for.
    let scenario = match parse("random.ron", text) {
        Ok(scenario) => scenario,
        Err(rejected) => {
            let codes: Vec<_> = rejected.faults().iter().map(|fault| fault.code()).collect();
            prop_assert!(codes.iter().all(|&code| code == "no-pressure"), "{:?}\n{}", codes, text);
            return Ok(());
        }
    };
    let mut finite = true;
    let all_finite = |row: serde_json::Value, but: &[&str]| {
        let row = row.as_object().unwrap();
        !row.iter().any(|(key, value)| value.is_null() && !but.contains(&key.as_str()))
    };
    let mut rows = Vec::new();
    let mut waveform = report::CsvWaveform::begin(&mut rows, &scenario, 20.0).unwrap();
    let simulation = Simulation::new(&scenario.protocol()).unwrap();
    let ending = report::watch(&scenario, &simulation, |progress| {
        waveform.progress(progress)?;
        finite &= progress.stretch.piece.duration_s.is_finite();
        if let Some(breath) = progress.breath {
            let row = serde_json::to_value(report::BreathRow::of(breath)).unwrap();
            finite &= all_finite(row, &[]);
        }
        for breath in progress.gas.iter().flat_map(|gas| &gas.breaths) {
            let row = serde_json::to_value(report::OwnBreathRow::of(breath)).unwrap();
            finite &= all_finite(row, &["dead_space_fraction", "inspired_oxygen_percent"]);
        }
        for point in progress.gas.iter().flat_map(|gas| &gas.points) {
            finite &= point.carbon_dioxide_mmhg.is_finite()
                && point.shown_carbon_dioxide_mmhg.is_finite()
                && point.alveolar_carbon_dioxide_mmhg.is_finite()
                && (0.0..=1.0).contains(&point.saturation);
        }
        Ok(())
    });
    // What is too stiff to be followed is refused with the setting to change.
    if ending.as_ref().is_err_and(|error| error.to_string().contains("all but stands still")) {
        return Ok(());
    }
    prop_assert!(ending.is_ok(), "{}\n{}", ending.unwrap_err(), text);
    prop_assert!(finite, "{}", text);
    let rows = String::from_utf8(rows).unwrap();
    prop_assert!(!rows.contains("NaN") && !rows.contains("inf,"), "{}", text);
    prop_assert!(!ending.unwrap().story.contains("NaN"));
    Ok(())
}
