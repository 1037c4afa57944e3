//! Ctrl-C, a closed terminal, a request to end: what is under way stops cleanly.

use std::fs;
use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, Once, PoisonError};
use std::time::Duration;

use tidewright_scenario::format::Cut;

use crate::exit::Exit;
use crate::files::output;

/// How often it is looked whether the terminal is still there.
const WATCH_EVERY: Duration = Duration::from_millis(500);

static KEEPING: AtomicUsize = AtomicUsize::new(0);
static ASKED: Mutex<Option<Cut>> = Mutex::new(None);
static SCRAPS: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());
static LAST_WORDS: Mutex<Option<Box<Say>>> = Mutex::new(None);

/// Saves what is under way, and says how to go on.
type Say = dyn Fn(Cut) -> String + Send;

/// Heeds requests to stop from here on. Without a [`Keeping`] the program ends with
/// [`Exit::Stopped`], and no unfinished file stays behind.
pub fn heed() {
    static ONCE: Once = Once::new();
    ONCE.call_once(listen);
}

/// What asks the program to stop, if anything does.
pub fn asked() -> Option<Cut> {
    *ASKED.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(unix)]
fn listen() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    use signal_hook::iterator::Signals;
    // What whoever started the program told it not to heed, as `nohup` does, a handler
    // would take back.
    let heeded = [SIGINT, SIGTERM, SIGHUP].into_iter().filter(|&signal| !is_ignored(signal));
    // Where the system refuses, it ends the program itself.
    let Ok(mut signals) = Signals::new(heeded) else { return };
    std::thread::spawn(move || {
        for signal in signals.forever() {
            stop(match signal {
                SIGHUP => Cut::ClosedTerminal,
                SIGTERM => Cut::System,
                _ => Cut::CtrlC,
            });
        }
    });
}

#[cfg(not(unix))]
fn listen() {
    // Where the system knows no such requests, it ends the program itself.
    let _ = ctrlc::set_handler(|| stop(Cut::CtrlC));
}

fn stop(by: Cut) {
    let again = ASKED.lock().unwrap_or_else(PoisonError::into_inner).replace(by).is_some();
    // Nothing can be shown any more, and who waits for a key there waits for ever.
    let nobody_there = by == Cut::ClosedTerminal
        && LAST_WORDS.lock().unwrap_or_else(PoisonError::into_inner).is_some();
    if KEEPING.load(Ordering::Relaxed) == 0 || again || nobody_there {
        end(by);
    }
}

/// From now on a terminal that is gone is a request to stop, whatever the system says.
pub fn watch_terminal() {
    std::thread::spawn(|| {
        while io::stdin().is_terminal() {
            std::thread::sleep(WATCH_EVERY);
        }
        stop(Cut::ClosedTerminal);
    });
}

/// Ends the program as a request to stop does.
fn end(by: Cut) -> ! {
    for scrap in SCRAPS.lock().unwrap_or_else(PoisonError::into_inner).iter() {
        let _ = fs::remove_file(scrap);
    }
    let say = LAST_WORDS.lock().unwrap_or_else(PoisonError::into_inner).take();
    let nothing = || "Stopped; nothing unfinished was left behind.\n".to_owned();
    let said = say.map_or_else(nothing, |say| say(by));
    output::complain_in_words(&format!("\n{said}"));
    std::process::exit(Exit::Stopped as i32);
}

/// Work that looks at [`asked`] itself and keeps what it has. Asked twice, the program
/// ends all the same.
#[derive(Debug)]
pub struct Keeping;

impl Keeping {
    /// Begins it.
    pub fn begin() -> Self {
        heed();
        KEEPING.fetch_add(1, Ordering::Relaxed);
        Self
    }
}

impl Drop for Keeping {
    fn drop(&mut self) {
        KEEPING.fetch_sub(1, Ordering::Relaxed);
    }
}

/// What is done and said when the program is stopped; dropped, no more.
#[derive(Debug)]
pub struct LastWords;

impl LastWords {
    /// From now on this is done and said.
    pub fn begin(say: impl Fn(Cut) -> String + Send + 'static) -> Self {
        heed();
        *LAST_WORDS.lock().unwrap_or_else(PoisonError::into_inner) = Some(Box::new(say));
        Self
    }
}

impl Drop for LastWords {
    fn drop(&mut self) {
        LAST_WORDS.lock().unwrap_or_else(PoisonError::into_inner).take();
    }
}

/// A file that means nothing before it is finished.
#[derive(Debug)]
pub struct Scrap(PathBuf);

impl Scrap {
    /// From now on it is removed when the program is stopped.
    pub fn new(path: &Path) -> Self {
        heed();
        SCRAPS.lock().unwrap_or_else(PoisonError::into_inner).push(path.to_path_buf());
        Self(path.to_path_buf())
    }
}

impl Drop for Scrap {
    fn drop(&mut self) {
        let mut scraps = SCRAPS.lock().unwrap_or_else(PoisonError::into_inner);
        scraps.retain(|scrap| *scrap != self.0);
    }
}

/// Whether the program was started with a signal that it is not to heed.
#[cfg(unix)]
fn is_ignored(signal: i32) -> bool {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let ignored = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let ignored = ignored.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok());
    ignored.is_some_and(|mask| mask & (1 << (signal - 1)) != 0)
}
