//! `tidewright bench`: put a circuit together on the bench, line by line.

use std::io::{self, BufRead, IsTerminal};
use std::path::PathBuf;

use clap::Args;
use tidewright::assembly::Assembly;
use tidewright::bench::{Squeeze, squeeze_needed};
use tidewright::prelude::*;
use tidewright::steady::periodic;
use tidewright_scenario::visible;

use crate::exit::Exit;
use crate::files::input;
use crate::files::output;
use crate::files::problem::Problem;

/// Put a circuit together from parts, and see what it does
///
/// Without a scenario the parts of the ready-made circuit lie on the table, none joined;
/// with one, its circuit stands there as it is put together. Each line is one act; each
/// answer is a sentence a line: `join A B` and `part A` put together and take apart, `parts`
/// and `trace` tell what is there, `try` gives a settled breath and the pressure in standby,
/// `squeeze ML S` shuts everything, presses so much gas out in so many seconds and tells
/// whether the ventilator cycles.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  tidewright bench\n  \
    tidewright bench scenarios/sensing-line-forgotten.ron\n  \
    printf 'trace\\nsqueeze 1.5 3\\n' | tidewright bench scenarios/sensing-line-forgotten.ron")]
pub struct Bench {
    /// A scenario with an `assembly`
    #[arg(value_name = "SCENARIO")]
    scenario: Option<PathBuf>,
}

const HELP: &str = "  parts            the parts, and what each port is on
  join A B         join two ports: join limb.far ventilator.patient-side
  part A           part a port from what is on it
  trace            the path of the gas, from the supply to the waste
  try              a settled breath, and the pressure in standby
  squeeze ML S     shut everything and press so much out in so many seconds
  help             these lines
  quit             end
";

/// Longest line that is read.
const LONGEST: u64 = 4096;

impl Bench {
    /// Reads and answers until the end.
    pub fn perform(self) -> Result<Exit, Problem> {
        let (mut circuit, base) = match &self.scenario {
            None => (on_the_table(), Setup::default()),
            Some(path) => {
                let scenario = input::scenario(path)?;
                let Some(assembly) = &scenario.assembly else {
                    return Err(Problem::usage(
                        "this scenario's circuit is given by numbers and not by parts",
                        "name a scenario with an `assembly`, or none for the ready-made parts",
                    ));
                };
                let made = assembly
                    .put_together()
                    .map_err(|error| Problem::usage(error.to_string(), "mend the `assembly`"))?;
                (made, scenario.protocol().start)
            }
        };
        output::print(&opening(&circuit))?;
        let mut lines = io::stdin().lock();
        loop {
            if io::stdin().is_terminal() {
                output::print("> ")?;
            }
            let mut line = String::new();
            let read = io::Read::take(&mut lines, LONGEST).read_line(&mut line);
            match read {
                Ok(0) => return Ok(Exit::Done),
                Ok(_) => {}
                Err(_) => {
                    output::print("That line is no text: type the words of `help`.\n")?;
                    continue;
                }
            }
            let words: Vec<&str> = line.split_whitespace().collect();
            let said = match words.as_slice() {
                [] => continue,
                ["quit" | "end" | "exit"] => return Ok(Exit::Done),
                words => answer(&mut circuit, &base, words),
            };
            output::print(&said)?;
        }
    }
}

/// What lies there, and what to type first.
fn opening(circuit: &Assembly) -> String {
    let joined = match circuit.joints().len() {
        0 => "none joined: begin with `join ventilator.patient-side limb.far`".to_owned(),
        1 => "1 joint: `trace` tells the path of the gas".to_owned(),
        joints => format!("{joints} joints: `trace` tells the path of the gas"),
    };
    let parts = circuit.pieces().len();
    format!("The bench. {parts} parts, {joined}. `help` lists what you can do.\n")
}

/// The ready-made circuit's parts, taken apart.
fn on_the_table() -> Assembly {
    let mut parts = Assembly::default();
    for piece in Assembly::ready_made().pieces() {
        parts.put(&piece.name, piece.part.clone(), 0.0);
    }
    parts
}

fn answer(circuit: &mut Assembly, base: &Setup, words: &[&str]) -> String {
    match words {
        ["help"] => HELP.to_owned(),
        ["parts"] => circuit.parts_told().join("\n") + "\n",
        ["join", a, b] => match circuit.join(a, b) {
            Ok(()) => format!("{a} is on {b}.\n"),
            Err(error) => format!("{}\n", visible(&error.to_string())),
        },
        ["part", a] | ["part", a, _] => match circuit.separate(a) {
            Ok(on) => format!("{a} is off {}.\n", circuit.name_of(on)),
            Err(error) => format!("{}\n", visible(&error.to_string())),
        },
        ["trace"] => match circuit.trace() {
            Ok(told) => told.join("\n") + "\n",
            Err(error) => format!("The path cannot be told: {error}.\n"),
        },
        ["try"] => tried(circuit, base),
        ["squeeze", ml, s] => squeezed(circuit, base, ml, s),
        _ => format!("No act is written `{}`: `help` lists them.\n", visible(&words.join(" "))),
    }
}

/// A settled breath, and a minute of standby.
fn tried(circuit: &Assembly, base: &Setup) -> String {
    let run = |mode| {
        let mut base = base.clone();
        base.ventilator.mode = mode;
        circuit.assemble(&base)
    };
    let (breathing, standby) = match (run(Mode::Ventilating), run(Mode::Standby)) {
        (Ok(breathing), Ok(standby)) => (breathing, standby),
        (Err(error), _) | (_, Err(error)) => return format!("It cannot be tried: {error}.\n"),
    };
    let settled = Machine::new(breathing.setup)
        .map_err(|error| error.to_string())
        .and_then(|machine| periodic(&machine).map_err(|error| error.to_string()));
    let breath = match settled {
        Ok(settled) => {
            let breath = settled.breath;
            let by = if breath.ended_by == EndedBy::Pressure { "pressure" } else { "time" };
            format!(
                "Ventilating: ended by {by} after {:.2} s, {:.1} mL in, peak {:.1} cmH2O, {:.1} a \
                 minute.\n",
                breath.inspiratory_time.as_s(),
                breath.inspired_tidal_volume.as_ml(),
                breath.peak_pressure.as_cmh2o(),
                breath.rate_per_min()
            )
        }
        Err(error) => format!("Ventilating: no breath settles ({error}).\n"),
    };
    let minute = Protocol { start: standby.setup, changes: vec![], duration: Seconds::s(60.0) };
    let pressure = Simulation::new(&minute).ok().and_then(|run| {
        let last = run.steps().last()?.ok()?;
        Some(last.piece.last(Signal::AirwayPressure))
    });
    let standby = pressure.map_or("In standby the run stops.\n".to_owned(), |pressure| {
        format!("In standby: {pressure:.1} cmH2O at the T-piece after a minute.\n")
    });
    let gas = breathing.apparatus;
    format!(
        "{breath}{standby}Between T-piece and patient: {:.1} mL, breathed to and fro.\n",
        gas.adapter_ml
    )
}

/// The squeeze test on what is joined: outlet and port shut, the thumb at the T-piece.
fn squeezed(circuit: &Assembly, base: &Setup, ml: &str, s: &str) -> String {
    let number = |text: &str| text.parse::<f64>().ok().filter(|n| (0.001..=1000.0).contains(n));
    let (Some(ml), Some(s)) = (number(ml), number(s)) else {
        return "Write millilitres and seconds, such as: squeeze 0.15 0.5\n".to_owned();
    };
    let made = match circuit.assemble(base) {
        Ok(made) => made,
        Err(error) => return format!("It cannot be squeezed: {error}.\n"),
    };
    let senses = !matches!(made.setup.circuit.sensor.place, SensorPlace::Cut(_));
    let cycling = base.ventilator.cycling_pressure;
    let squeeze = Squeeze::of(&made.setup.circuit, Volume::ml(ml), Seconds::s(s));
    if squeeze.compliance() == Compliance::ZERO {
        return "Nothing in this circuit gives: a squeeze of any size is too much.\n".to_owned();
    }
    let leak = made.setup.circuit.leak.map_or(0.0, |leak| leak.conductance_ml_s_per_cmh2o());
    let pressure = squeeze.pressure(leak);
    let cycles = senses && squeeze.cycles(cycling, leak);
    let needed = squeeze.compliance() * cycling;
    format!(
        "The pressure rises to {:.1} cmH2O and the ventilator {}. Tight, all that is \
         joined here would click at {:.2} mL; shut off at the ventilator itself, with 10 to 20 mL of \
         gas, at {:.2} to {:.2} mL.\n",
        pressure.as_cmh2o(),
        if cycles { "cycles" } else { "does not cycle" },
        needed.as_ml(),
        squeeze_needed(Volume::ml(10.0), cycling).as_ml(),
        squeeze_needed(Volume::ml(20.0), cycling).as_ml(),
    )
}
