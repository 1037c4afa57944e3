//! `tidewright signs`: what each fault shows, as a table.

use clap::Args;
use tidewright::fault::signs_table;

use crate::exit::Exit;
use crate::output;
use crate::problem::Problem;

/// Print what each fault shows at a cat of 4 kg, as a Markdown table
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Signs {}

const EXAMPLES: &str = "\
Examples:
  tidewright signs
  tidewright signs > signs.md";

const ABOVE: &str = "\
# What each fault shows

A simulated cat of 4 kg: 4.8 mL/cmH2O, 30 cmH2O·s/L with its tube, 2 L/min of fresh gas, cycling
pressure 10 cmH2O, inspiratory time limit and expiratory time 2.5 s. Each row is a breath 80 s after
the fault came at once; arrows are against the healthy breath in the first row. VTi and VTe are what
a spirometer at the patient connection counts. A patient that breathes, coughs or braces against the
ventilator makes no two breaths alike, and has no row.

";

const BELOW: &str = "
For teaching only. Not a medical device. Simulated animals and equipment: real ones differ. Do not
use for decisions about a patient. Follow the veterinary surgeon in charge, local law, your workplace
rules and the instructions of the equipment in front of you.
";

impl Signs {
    /// Prints it.
    pub fn perform(self) -> Result<Exit, Problem> {
        output::print(&format!("{ABOVE}{}{BELOW}", signs_table()))?;
        Ok(Exit::Done)
    }
}
