//! `tidewright completions`: the words of the command line, for a shell.

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use crate::exit::Exit;
use crate::files::output;
use crate::files::problem::Problem;

/// Print a script that teaches your shell the words of this program
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Completions {
    /// The shell
    shell: Shell,
}

const EXAMPLES: &str = "\
Examples:
  tidewright completions bash > ~/.local/share/bash-completion/completions/tidewright
  tidewright completions zsh > ~/.zfunc/_tidewright
  tidewright completions fish > ~/.config/fish/completions/tidewright.fish
  tidewright completions powershell >> $PROFILE";

impl Completions {
    /// Prints it.
    pub fn perform(self) -> Result<Exit, Problem> {
        // Into memory first: the generator itself does not survive a full disk.
        let mut script = Vec::new();
        clap_complete::generate(
            self.shell,
            &mut crate::Command::command(),
            "tidewright",
            &mut script,
        );
        output::print(&String::from_utf8_lossy(&script))?;
        Ok(Exit::Done)
    }
}
