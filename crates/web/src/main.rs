//! Packs the page: builds the module, and puts it with page, style and scripts into one
//! file that opens by a double click.
#![cfg_attr(target_family = "wasm", no_main)]
#![cfg(not(target_family = "wasm"))]

mod pack;

use std::process::ExitCode;

use pack::{Options, PackError};

const HELP: &str = "\
Builds the page of Tidewright: one file that opens by a double click, without a network.

Usage: cargo run --release -p tidewright-web [-- OPTIONS]

Options:
  --quick       for who works on the page: built without the slow optimisations, and large
  --light       to practise and explore alone: less than half the size
  --out FILE    where to write it [default: target/tidewright.html]
  --folder DIR  write it as a folder for a web server, too: there a browser can install
                it and keep it for times without a network
  --scorm DIR   write it as packages for learning platforms, too: SCORM 1.2 and 2004,
                with score and completion of each lesson
  --help        this text";

fn main() -> ExitCode {
    let outcome = match options(std::env::args().skip(1)) {
        Ok(Some(options)) => pack::packed(&options).map(|told| told + "\n"),
        Ok(None) => Ok(format!("{HELP}\n")),
        Err(error) => Err(error),
    };
    match outcome {
        Ok(told) => {
            tell(&told);
            ExitCode::SUCCESS
        }
        Err(error) => {
            complain(&error);
            error.code()
        }
    }
}

/// What is asked for; nothing where it is help.
fn options(mut words: impl Iterator<Item = String>) -> Result<Option<Options>, PackError> {
    let mut options = Options { light: false, quick: false, out: None, folder: None, scorm: None };
    while let Some(word) = words.next() {
        match &*word {
            "--quick" => options.quick = true,
            "--light" => options.light = true,
            "--out" => options.out = Some(words.next().ok_or(PackError::Word(word))?.into()),
            "--folder" => options.folder = Some(words.next().ok_or(PackError::Word(word))?.into()),
            "--scorm" => options.scorm = Some(words.next().ok_or(PackError::Word(word))?.into()),
            "--help" | "-h" => return Ok(None),
            _ => return Err(PackError::Word(word)),
        }
    }
    Ok(Some(options))
}

#[expect(clippy::print_stdout, reason = "this is a door")]
fn tell(text: &str) {
    print!("{text}");
}

#[expect(clippy::print_stderr, reason = "this is a door")]
fn complain(error: &PackError) {
    eprintln!("{error}\n  {}", error.mend());
}
