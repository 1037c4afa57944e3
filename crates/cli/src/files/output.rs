//! Results on standard output, problems on standard error.

use std::io::{self, IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use anstream::{AutoStream, ColorChoice, adapter::strip_str};
use miette::{Diagnostic, MietteHandlerOpts, ReportHandler};

use crate::exit::Exit;
use crate::files::problem::{Problem, reason};

/// A stream whose reader may go away, as with `| head`: then the rest goes
/// nowhere and nobody complains.
#[derive(Debug)]
pub struct Leavable<W> {
    inner: W,
    name: String,
    left: bool,
}

/// Standard output.
pub type Stdout = Leavable<io::Stdout>;

/// Standard output, for results.
pub fn stdout() -> Stdout {
    Leavable::new(io::stdout(), "standard output")
}

impl<W: Write> Leavable<W> {
    /// The name serves the messages.
    pub fn new(inner: W, name: &str) -> Self {
        Self { inner, name: name.to_owned(), left: false }
    }

    /// What is behind it.
    pub fn into_inner(self) -> W {
        self.inner
    }

    /// What is behind it, to look at.
    pub fn get(&self) -> &W {
        &self.inner
    }

    fn heed<T>(&mut self, result: io::Result<T>, otherwise: T) -> io::Result<T> {
        match result {
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {
                self.left = true;
                Ok(otherwise)
            }
            other => other.map_err(|error| unwritable(&self.name, &error)),
        }
    }
}

impl<W: Write> Write for Leavable<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.left {
            return Ok(bytes.len());
        }
        let written = self.inner.write(bytes);
        self.heed(written, bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.left {
            return Ok(());
        }
        let flushed = self.inner.flush();
        self.heed(flushed, ())
    }
}

/// The error of writing to a file or stream, with its name.
pub fn unwritable(name: &str, error: &io::Error) -> io::Error {
    io::Error::new(error.kind(), format!("cannot write to {name}: {}", reason(error)))
}

/// Prints a text; its styles are left out where they do not belong.
pub fn print(text: &str) -> Result<(), Problem> {
    let text = &*guarded(text);
    let plain = AutoStream::choice(&io::stdout()) == ColorChoice::Never;
    let text = if plain { strip_str(text).to_string() } else { text.to_owned() };
    let mut stdout = stdout();
    stdout.write_all(text.as_bytes())?;
    Ok(stdout.flush()?)
}

/// Prints a text a screen at a time where a person reads it on a terminal, else at once.
pub fn print_by_screens(text: &str) -> Result<(), Problem> {
    let height = terminal_size::terminal_size_of(io::stdout()).map(|(_, height)| height.0);
    let Some(rows) = height.filter(|&rows| rows > 4 && is_typed()) else { return print(text) };
    let rows = usize::from(rows) - 1;
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let mut screens = lines.chunks(rows).peekable();
    while let Some(screen) = screens.next() {
        print(&screen.concat())?;
        if screens.peek().is_some() {
            print("-- more: press Enter; q and Enter ends --")?;
            let mut answer = String::new();
            let read = io::stdin().read_line(&mut answer).unwrap_or(0);
            if read == 0 || answer.trim().eq_ignore_ascii_case("q") {
                return Ok(());
            }
        }
    }
    Ok(())
}

/// The same text with every character as an escape that would act on the terminal or
/// turn the direction of writing; line ends and tabs stay.
pub use tidewright_scenario::visible;

/// The last guard before the terminal: whatever a text holds, it can colour, return to
/// the start of its line, and nothing else.
fn guarded(text: &str) -> std::borrow::Cow<'_, str> {
    if visible(text) == text {
        return text.into();
    }
    let mut safe = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(['\u{1b}', '\r']) {
        safe.push_str(&visible(&rest[..at]));
        let own = &rest[at..];
        let styled = own.strip_prefix("\u{1b}[").and_then(|style| {
            let end = style.find(|c: char| !c.is_ascii_digit() && c != ';')?;
            style[end..].starts_with('m').then_some(end + 3)
        });
        let length = styled.unwrap_or(1);
        match own.starts_with('\r') || styled.is_some() {
            true => safe.push_str(&own[..length]),
            false => safe.push_str(&visible(&own[..length])),
        }
        rest = &own[length..];
    }
    safe.push_str(&visible(rest));
    safe.into()
}

/// Tells what is about to be done where that is much.
pub fn beforehand(count: u64, much: u64, told: impl FnOnce() -> String) {
    if count >= much {
        complain_in_words(&wrapped(&format!("{}\n", told())));
    }
}

/// Shows a person that the work goes on, if it takes longer than a second.
pub fn waiting(what: &'static str) -> Waiting {
    let done = Arc::new(AtomicBool::new(!io::stderr().is_terminal()));
    let seen = Arc::clone(&done);
    if !done.load(Ordering::Relaxed) {
        std::thread::spawn(move || {
            for tenths in 0_u32.. {
                std::thread::sleep(Duration::from_millis(100));
                if seen.load(Ordering::Relaxed) {
                    break;
                }
                if tenths >= 9 {
                    complain_in_words(&format!("\r{what} for {} s ", (tenths + 1) / 10));
                }
            }
        });
    }
    Waiting(done)
}

/// Work that a person may have to wait for; dropped, it is done.
#[derive(Debug)]
pub struct Waiting(Arc<AtomicBool>);

impl Drop for Waiting {
    fn drop(&mut self) {
        if !self.0.swap(true, Ordering::Relaxed) {
            complain_in_words(&format!("\r{:40}\r", ""));
        }
    }
}

/// Width of a page on standard output, in characters: the terminal's, else what
/// `COLUMNS` says, else 80.
pub fn width() -> usize {
    let of_terminal = || {
        let (terminal_size::Width(width), _) = terminal_size::terminal_size_of(io::stdout())?;
        Some(usize::from(width))
    };
    let of_environment = || std::env::var("COLUMNS").ok()?.parse().ok();
    of_terminal().or_else(of_environment).filter(|&width| width > 0).unwrap_or(80)
}

/// Tells of a problem on standard error, drawn as the terminal allows.
pub fn complain(problem: &dyn Diagnostic) {
    struct Drawn<'a>(&'a dyn Diagnostic);
    impl std::fmt::Display for Drawn<'_> {
        fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            MietteHandlerOpts::new().terminal_links(false).build().debug(self.0, f)
        }
    }
    complain_in_words(&Drawn(problem).to_string());
}

/// Tells of a problem on standard error. That this fails too cannot be told.
pub fn complain_in_words(text: &str) {
    let text = &*guarded(text);
    let plain = AutoStream::choice(&io::stderr()) == ColorChoice::Never;
    let text = if plain { strip_str(text).to_string() } else { text.to_owned() };
    let _ = io::stderr().write_all(text.as_bytes());
}

/// A text of one line for each paragraph, broken to the width of the terminal; what
/// is indented stays indented.
pub fn wrapped(text: &str) -> String {
    let width = width().clamp(20, 100);
    let line = |line: &str| {
        let body = line.trim_start_matches([' ', '-']);
        let indent = " ".repeat(line.len() - body.len());
        let options = textwrap::Options::new(width).subsequent_indent(&indent);
        let lead = &line[..line.len() - body.len()];
        textwrap::fill(body, options.initial_indent(lead))
    };
    text.split('\n').map(line).collect::<Vec<_>>().join("\n")
}

/// A fault of the program ends it with its own code, and asks for a report.
pub fn report_panics() {
    std::panic::set_hook(Box::new(|panic| {
        let version = env!("CARGO_PKG_VERSION");
        complain_in_words(&format!(
            "tidewright {version} has made a mistake of its own and stops: {panic}\n\
             Please report this, with the command and the file that led to it.\n"
        ));
        std::process::exit(Exit::Internal as i32);
    }));
}

/// Whether a person types at standard input.
pub fn is_typed() -> bool {
    io::stdin().is_terminal()
}
