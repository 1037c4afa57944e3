//! One row for each kind of machine that a user can write: ten minutes alone and with
//! gas, and the same machine by programs from outside at no larger an error.

use std::fmt::Write as _;
use std::time::Duration;

use tidewright::coupled::{Coupled, GasPlan, GasSettings};
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
use tidewright::gases::{Mixture, STANDARD_PRESSURE_PA};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright::tube::SmoothTube;

use crate::cat;
use crate::outside::{Outside, Row, pretty};
use crate::study::best;

/// A kind of machine.
#[derive(Debug)]
pub struct Kind {
    /// What it is called in the table.
    pub name: &'static str,
    /// What programs from outside know it by, if they do.
    pub outside: Option<&'static str>,
    /// Ten minutes of it.
    pub protocol: Protocol,
}

/// All kinds, each the linear cat with a few things changed.
#[must_use]
pub fn all() -> Vec<Kind> {
    let kind = |name, outside, change: fn(&mut Setup)| {
        let mut protocol = cat::linear();
        change(&mut protocol.start);
        Kind { name, outside, protocol }
    };
    vec![
        kind("two nodes", Some("linear"), |_| ()),
        kind("three compartments", Some("three"), three_compartments),
        kind("effort", None, effort),
        kind("orifice leak, quadratic tube", Some("curved"), |setup| {
            *setup = cat::curved().start;
        }),
        kind("orifice leak, sized tube", Some("sized"), |setup| {
            *setup = cat::curved().start;
            let gas = Mixture::OXYGEN.properties(37.0, STANDARD_PRESSURE_PA);
            setup.lung.tube = Tube::Sized(SmoothTube::new(4.0, 19.0, gas));
        }),
        kind("sigmoid lung", Some("sigmoid"), |setup| {
            setup.lung.compartments[0].law = PressureVolume::Sigmoid {
                lower: Volume::ml(0.0),
                span: Volume::ml(150.0),
                middle: Pressure::cmh2o(8.0),
                width: Pressure::cmh2o(5.0),
            };
        }),
        kind("leaky cuff, effort", None, |setup| {
            effort(setup);
            setup.lung.cuff =
                Some(Cuff { seals_to: Pressure::cmh2o(6.0), conductance_ml_s_cmh2o: 1.0 });
        }),
    ]
}

fn three_compartments(setup: &mut Setup) {
    let part = |compliance, resistance| {
        Compartment::new(
            Compliance::ml_per_cmh2o(compliance),
            Resistance::cmh2o_s_per_l(resistance),
        )
    };
    setup.lung.compartments = vec![part(3.0, 30.0), part(2.0, 60.0), part(1.0, 200.0)];
}

fn effort(setup: &mut Setup) {
    setup.effort = Effort::breaths(Pressure::cmh2o(5.0), Seconds::s(0.8), Seconds::s(3.0));
}

/// Inspiratory times, every breath worked out, and the time that it takes.
fn alone(simulation: &Simulation, rounds: u32) -> (Duration, Vec<f64>) {
    best(rounds, || {
        let (breaths, _) = simulation.breaths_one_by_one().expect("a run that goes on");
        breaths.iter().map(|breath| breath.inspiratory_time.as_s()).collect()
    })
}

fn with_gas(simulation: &Simulation, setup: &Setup) -> Duration {
    let animal = Animal::typical(Species::Cat, Mass::kg(4.0));
    let plan = GasPlan {
        exchange: Exchange::new(&animal, &setup.lung, Apparatus::default()).expect("a lung"),
        arterial_carbon_dioxide: PartialPressure::mmhg(38.0),
        capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
        start: GasSettings {
            conditions: Conditions::of(&animal, 38.5, Fractions::OXYGEN),
            drive: None,
        },
        changes: vec![],
        animal,
    };
    let run = || {
        for together in Coupled::new(simulation, Some(&plan)).expect("a plan for it") {
            together.expect("a run that goes on");
        }
    };
    best(20, run).0
}

/// The table.
///
/// # Panics
/// If a machine does not run, which would make the measurement void.
#[must_use]
pub fn table(outside: &Outside) -> String {
    let mut text = String::from(
        "\n## Kinds of machine\n\n\
         The same ten minutes, every breath worked out and measured. The truth is the reference\n\
         road, for linear machines the exact one. Programs from outside find the ends of\n\
         inspirations alone; the tolerance is the widest power of ten with no larger an error\n\
         than our own, or 1e-10 where our own is exact.\n\n\
         | machine | alone | with gas | worst error | CVODE BDF | scipy LSODA |\n\
         |---|---|---|---|---|---|\n",
    );
    for kind in all() {
        let simulation = Simulation::new(&kind.protocol).expect("a machine that runs");
        let is_exact = simulation.machines().all(|(machine, _)| machine.is_exact());
        let (own, times) = alone(&simulation, if is_exact { 1000 } else { 40 });
        let gas = with_gas(&simulation, &kind.protocol.start);
        let truth = if is_exact {
            times.clone()
        } else {
            let slow = Simulation::with_solver(&kind.protocol, Solver::Reference);
            alone(&slow.expect("a machine that runs"), 1).1
        };
        let error = cat::worst_error(&times, &truth);
        let told = |solve: &dyn Fn(&str, &str) -> Row| {
            let Some(word) = kind.outside else { return String::new() };
            let ladder: &[&str] = match is_exact {
                true => &["1e-10"],
                false => &["1e-6", "1e-7", "1e-8", "1e-9", "1e-10", "1e-11", "1e-12"],
            };
            let mut last = String::new();
            for tolerance in ladder {
                let (time, theirs) = match solve(word, tolerance).told {
                    Ok((_, time, theirs)) => (time, theirs),
                    Err(why) => return why,
                };
                if theirs.len() != truth.len() {
                    continue;
                }
                let off = cat::worst_error(&theirs, &truth);
                let ratio = time.as_secs_f64() / own.as_secs_f64();
                last = format!("{} ({off:.0e} s): {ratio:.1} ×", pretty(time));
                if off <= error {
                    break;
                }
            }
            last
        };
        let cvode = told(&|word, tolerance| outside.cvode(word, tolerance, "3"));
        let scipy = told(&|word, tolerance| outside.scipy(word, "LSODA", tolerance, "1"));
        let _ = writeln!(
            text,
            "| {} | {} | {} | {error:.0e} s | {cvode} | {scipy} |",
            kind.name,
            pretty(own),
            pretty(gas)
        );
    }
    text
}
