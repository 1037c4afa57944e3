//! Ctrl-C, a closed terminal, a request to end: what is under way stops cleanly.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, Once, PoisonError};

use crate::exit::Exit;
use crate::output;

static ASKED: AtomicBool = AtomicBool::new(false);
static KEEPING: AtomicUsize = AtomicUsize::new(0);
static SCRAPS: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// Heeds requests to stop from here on. Without a [`Keeping`] the program ends with
/// [`Exit::Stopped`], and no unfinished file stays behind.
pub fn heed() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        if !outlives_its_terminal() {
            // Where the system knows no such requests, it ends the program itself.
            let _ = ctrlc::set_handler(stop);
        }
    });
}

/// Whether the program was asked to stop.
pub fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}

fn stop() {
    let again = ASKED.swap(true, Ordering::Relaxed);
    if KEEPING.load(Ordering::Relaxed) == 0 || again {
        for scrap in SCRAPS.lock().unwrap_or_else(PoisonError::into_inner).iter() {
            let _ = fs::remove_file(scrap);
        }
        output::complain_in_words("\nStopped; nothing unfinished was left behind.\n");
        std::process::exit(Exit::Stopped as i32);
    }
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

/// Whether whoever started the program told it to go on without a terminal, as `nohup`
/// does: a handler would take that back.
fn outlives_its_terminal() -> bool {
    const HANGUP: u32 = 1;
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let ignored = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let ignored = ignored.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok());
    ignored.is_some_and(|mask| mask & (1 << (HANGUP - 1)) != 0)
}
