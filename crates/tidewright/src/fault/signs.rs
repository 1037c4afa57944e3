//! What each fault shows, in the engine's own numbers.

use std::fmt::Write as _;

use super::{Fault, TimedFault, with_faults};
use crate::base::quantity::{Compliance, Flow, Pressure, Resistance, Seconds};
use crate::reading::breath::{Breath, EndedBy};
use crate::running::run::{Protocol, Simulation};
use crate::setup::{Limb, Lung, Relief, Setup, Ventilator};

/// A fault at one severity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Case {
    /// The fault.
    pub fault: Fault,
    /// How bad.
    pub severity: f64,
}

/// The cases of the table of signs, each fault at least once but for the patient's
/// own efforts: under those no two breaths are alike, and none stands for all.
pub const CASES: &[Case] = &[
    case(Fault::CircuitLeak, 0.2),
    case(Fault::CircuitLeak, 1.0),
    case(Fault::CircuitHole, 0.2),
    case(Fault::CuffLeak, 0.8),
    case(Fault::PatientDisconnected, 1.0),
    case(Fault::FreshGasHoseOff, 1.0),
    case(Fault::FreshGasFailing, 0.3),
    case(Fault::FreshGasFailing, 1.0),
    case(Fault::CylinderEmptying, 0.5),
    case(Fault::KinkedTube, 0.55),
    case(Fault::KinkedTube, 1.0),
    case(Fault::FlapAgainstInspiration, 0.55),
    case(Fault::FlapAgainstExpiration, 1.0),
    case(Fault::Mucus, 0.8),
    case(Fault::LimbBlocked, 0.85),
    case(Fault::LimbBlocked, 1.0),
    case(Fault::ScavengingBlocked, 0.85),
    case(Fault::WaterInLimb, 0.4),
    case(Fault::LimbDisconnected, 1.0),
    case(Fault::ValveStuckOpen, 1.0),
    case(Fault::ValveStuckShut, 1.0),
    case(Fault::SenseLineOff, 1.0),
    case(Fault::SenseLineBlocked, 1.0),
    case(Fault::GaugeReadsHigh, 0.8),
    case(Fault::GaugeReadsLow, 0.8),
    case(Fault::Bronchospasm, 1.0),
    case(Fault::OneLungIntubation, 1.0),
    case(Fault::ClosedPneumothorax, 1.0),
    case(Fault::TensionPneumothorax, 1.0),
    case(Fault::OpenPneumothorax, 0.3),
    case(Fault::CompressedChest, 1.0),
    case(Fault::CompressedAbdomen, 1.0),
    case(Fault::OxygenFlush, 1.0),
];

const fn case(fault: Fault, severity: f64) -> Case {
    Case { fault, severity }
}

/// The cat of 4 kg of the table of signs: 4.8 mL/cmH2O and 30 cmH2O·s/L, tube
/// included; 2 L/min of fresh gas; cycling pressure 10 cmH2O, time limit and
/// expiratory time 2.5 s; a limb of 0.3 mL/cmH2O; a relief valve at 40 cmH2O.
#[must_use]
pub fn cat() -> Setup {
    let mut setup = Setup {
        lung: Lung::single(Compliance::ml_per_cmh2o(4.8), Resistance::cmh2o_s_per_l(30.0)),
        ventilator: Ventilator {
            fresh_gas_flow: Flow::l_per_min(2.0),
            cycling_pressure: Pressure::cmh2o(10.0),
            inspiratory_time_limit: Seconds::s(2.5),
            expiratory_time: Seconds::s(2.5),
            ..Ventilator::default()
        },
        ..Setup::default()
    };
    setup.circuit.compliance = Compliance::ml_per_cmh2o(0.15);
    setup.circuit.valve_resistance = Resistance::cmh2o_s_per_l(2.0);
    setup.circuit.limb = Some(Limb {
        compliance: Compliance::ml_per_cmh2o(0.3),
        resistance: Resistance::cmh2o_s_per_l(3.0),
        disconnected: false,
    });
    setup.circuit.relief = Some(Relief {
        opens_at: Pressure::cmh2o(40.0),
        resistance: Resistance::cmh2o_s_per_l(5.0),
    });
    setup
}

impl Case {
    /// The breaths of [`cat`] over 100 s, the fault coming at once after 20 s;
    /// `None` if the run cannot go on.
    #[must_use]
    pub fn breaths(self) -> Option<Vec<Breath>> {
        let onset = TimedFault::step(self.fault, self.severity, Seconds::s(20.0));
        breaths(&[onset])
    }
}

/// What each fault shows at [`cat`], as a table in Markdown: the last breath of
/// [`Case::breaths`], and at its head a healthy one. Arrows are against that one.
///
/// ```
/// let table = tidewright::fault::signs_table();
/// assert!(table.contains("| kinked-tube |"));
/// ```
#[must_use]
pub fn signs_table() -> String {
    let healthy = breaths(&[]).and_then(|all| all.last().copied());
    let mut table = HEAD.to_owned();
    let Some(healthy) = healthy else { return table };
    row(&mut table, "none", None, &healthy, &healthy);
    for case in CASES {
        let last = case.breaths().and_then(|all| all.last().copied());
        if let Some(breath) = last {
            row(&mut table, case.fault.name(), Some(case.severity), &breath, &healthy);
        }
    }
    table
}

const HEAD: &str = "\
| Fault | Severity | Ti s | Ended by | Rate /min | VTi mL | VTe mL | Lung VT mL | Peak cmH2O | \
Alveolar peak cmH2O | Baseline cmH2O | End flow mL/s |
| --- | ---: | ---: | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |
";

fn breaths(faults: &[TimedFault]) -> Option<Vec<Breath>> {
    let healthy = Protocol { start: cat(), changes: vec![], duration: Seconds::s(100.0) };
    let run = Simulation::new(&with_faults(&healthy, faults)).ok()?;
    run.breaths().ok().map(|(finished, _)| finished)
}

fn row(table: &mut String, name: &str, severity: Option<f64>, breath: &Breath, healthy: &Breath) {
    let severity = severity.map_or_else(String::new, |severity| format!("{severity:.2}"));
    let ended_by = match breath.ended_by {
        EndedBy::Pressure => "pressure",
        EndedBy::Time => "time",
        EndedBy::Standby => "standby",
    };
    let number = |places: usize, of: fn(&Breath) -> f64| marked(places, of(breath), of(healthy));
    // Writing to a string cannot fail.
    let _ = writeln!(
        table,
        "| {name} | {severity} | {} | {ended_by} | {} | {} | {} | {} | {} | {} | {} | {} |",
        number(2, |b| b.inspiratory_time.as_s()),
        number(1, Breath::rate_per_min),
        number(1, |b| b.inspired_at_airway.as_ml()),
        number(1, |b| b.expired_at_airway.as_ml()),
        number(1, |b| b.inspired_tidal_volume.as_ml()),
        number(1, |b| b.peak_pressure.as_cmh2o()),
        number(1, |b| b.peak_alveolar_pressure.as_cmh2o()),
        number(1, |b| b.baseline_pressure.as_cmh2o()),
        number(1, |b| b.end_expiratory_flow.as_ml_s()),
    );
}

/// A number as it is shown, with an arrow where it shows above or below the
/// healthy one.
fn marked(places: usize, value: f64, healthy: f64) -> String {
    // Adding 0 turns -0 into 0.
    let shown = |x: f64| {
        let text = format!("{x:.places$}");
        text.parse::<f64>().map_or(text, |rounded| format!("{:.places$}", rounded + 0.0))
    };
    let (text, usual) = (shown(value), shown(healthy));
    let arrow = match () {
        () if text == usual => "",
        () if value > healthy => " ↑",
        () => " ↓",
    };
    text + arrow
}
