//! The log of a session while it is under way: what happened so far is in its file,
//! whole lines only, so that it can be marked and taken up again whatever ends the
//! program.

use std::fs::{File, TryLockError};
use std::io::{self, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::time::Duration;

use tidewright_scenario::format::{
    Attempt, Begun, Cut, CutOff, Entry, Linked, Moment, Sitting, TimedAct, Waits,
};
use tidewright_scenario::{is_journal, parse_attempt};
use tidewright_training::exam::Chain;
use tidewright_training::{BANNER, Session};

use crate::files::draft::{self, Draft};
use crate::files::input::{self, shown};
use crate::files::output;
use crate::files::output::unwritable;
use crate::files::problem::{Problem, reason};

/// How far the session goes on before the journal says so, s.
const TOLD_EVERY_S: f64 = 1.0;
/// Rest between two requests to the disk to keep what was written.
const KEPT_EVERY: Duration = Duration::from_millis(250);

/// A journal under way.
#[derive(Clone, Debug)]
pub struct Journal {
    place: PathBuf,
    kept: Arc<Mutex<Kept>>,
}

#[derive(Debug)]
struct Kept {
    /// Open until the session is over: Windows puts no log in the place of an open file.
    file: Option<Arc<File>>,
    /// Length of the whole lines in it.
    length: u64,
    /// Lines that it could not take.
    waiting: String,
    acts: usize,
    asked: usize,
    waits: Vec<TimedAct>,
    at_s: f64,
    /// The chain of an exam, and its links so far.
    chain: Option<Chain>,
    links: Vec<String>,
    /// What keeps it from being written, while something does.
    fails: Option<String>,
    /// Whether its session is over.
    over: bool,
    dirty: SyncSender<()>,
}

impl Journal {
    /// Begins one; that it can be written is known when it is there.
    pub fn begin(target: &Path, begun: Begun, chain: Option<Chain>) -> Result<Self, Problem> {
        let place = draft::claim(target)?;
        let failed = |error: &io::Error| Problem::Write {
            what: unwritable(&shown(&place), error).to_string(),
            mend: Some(match error.kind() {
                io::ErrorKind::NotFound => "make the folder first, or choose another".to_owned(),
                _ => "choose another place with --log; the clock has not begun".to_owned(),
            }),
        };
        let replaces = place.exists();
        let mut options = File::options();
        options.read(true).write(true).create(true).create_new(!replaces);
        let file = options.open(&place).map_err(|error| failed(&error))?;
        locked(&file, &place)?;
        file.set_len(0).map_err(|error| failed(&error))?;
        let mut kept = Kept::of(file, 0, None, chain);
        kept.waiting = format!("// {BANNER}\n{}", Entry::Journal(begun).to_line());
        let written = kept.write_to_disk();
        if let Err(error) = written {
            let problem = failed(&error);
            if !replaces {
                // Nothing is in it.
                let _ = std::fs::remove_file(&place);
            }
            return Err(problem);
        }
        keep_name(&place);
        Ok(Self { place, kept: Arc::new(Mutex::new(kept)) })
    }

    /// Takes one up again; hands back what it holds.
    pub fn take_up(
        place: &Path,
        chain: impl FnOnce(&Attempt) -> Option<Chain>,
    ) -> Result<(Self, Attempt), Problem> {
        let failed = |error: &io::Error| Problem::from(unwritable(&shown(place), error));
        let opened = File::options().read(true).write(true).open(place);
        let file = opened.map_err(|error| match error.kind() {
            io::ErrorKind::NotFound => input::unreadable(place, &error),
            _ => failed(&error),
        })?;
        locked(&file, place)?;
        let text = input::opened_log_text(place, &file)?;
        let attempt = parse_attempt(&shown(place), &text)?;
        let Some(by) = attempt.cut_off.filter(|_| is_journal(&text)) else {
            return Err(Problem::usage(
                format!("{} is of a session that is over", shown(place)),
                "begin a new one",
            ));
        };
        let whole = text.rfind('\n').map_or(0, |end| end + 1);
        let at_s = attempt.ended_at_s;
        let chain = chain(&attempt);
        let mut kept = Kept::of(file, whole as u64, Some(&attempt), chain);
        kept.waiting = Entry::TakenUp(CutOff { at_s, by }).to_line();
        kept.write_to_disk().map_err(|error| failed(&error))?;
        let journal = Self { place: place.to_path_buf(), kept: Arc::new(Mutex::new(kept)) };
        Ok((journal, attempt))
    }

    /// Where it is.
    pub fn place(&self) -> &Path {
        &self.place
    }

    /// Writes down what happened since; what must be told of it, if anything.
    pub fn keep(&self, session: &Session) -> Option<String> {
        let mut kept = self.kept();
        let (acts, now_s) = (session.acts(), session.now_s());
        let new = &acts[kept.acts.min(acts.len())..];
        let asked = session.asked();
        let came = &asked[kept.asked.min(asked.len())..];
        let waits = session.waiting();
        let nothing_new = new.is_empty() && came.is_empty() && kept.waits == waits;
        if nothing_new && now_s - kept.at_s < TOLD_EVERY_S && kept.fails.is_none() {
            return None;
        }
        for timed in new {
            let timed = session.logged(timed);
            let link = kept.chain.as_mut().map(|chain| chain.act(&timed));
            kept.waiting += &Entry::Did(timed).to_line();
            if let Some(to) = link {
                kept.links.push(to.clone());
                kept.waiting += &Entry::Linked(Linked { to }).to_line();
            }
        }
        for one in came {
            kept.waiting += &Entry::Asked(one.clone()).to_line();
        }
        if kept.waits != waits {
            kept.waits = waits.to_vec();
            kept.waiting += &Entry::Waits(Waits { acts: waits.to_vec() }).to_line();
        }
        kept.asked = asked.len();
        if now_s > kept.at_s {
            kept.waiting += &Entry::Clock(Moment { at_s: now_s }).to_line();
        }
        (kept.acts, kept.at_s) = (acts.len(), now_s);
        let failed_before = kept.fails.clone();
        kept.fails = kept.write().err().map(|error| reason(&error));
        let _ = kept.dirty.try_send(());
        match (failed_before, &kept.fails) {
            (None, Some(why)) => Some(format!(
                "The log cannot be written: {why}. The session goes on; make room, and it is \
                 written as soon as it can be."
            )),
            (Some(_), None) => Some("The log can be written again; nothing is lost.".to_owned()),
            _ => None,
        }
    }

    /// Writes down what cut the session off, and says how to go on.
    pub fn cut(&self, by: Cut) -> String {
        let mut kept = self.kept();
        if kept.over {
            return format!("The session is over. Log: {}\n", shown(&self.place));
        }
        let at_s = kept.at_s;
        kept.waiting += &Entry::CutOff(CutOff { at_s, by }).to_line();
        let written = kept.write_to_disk();
        let place = typed(&self.place);
        match written {
            Ok(()) => format!(
                "The session was cut off at {at_s:.0} s: {}.\nLog: {}\nGo on where it was: tidewright \
                 practise --resume {place}\n",
                by.in_words(),
                shown(&self.place)
            ),
            Err(error) => format!(
                "The session was cut off at {at_s:.0} s, and its last lines cannot be written: \
                 {}\n{}",
                reason(&error),
                kept.waiting
            ),
        }
    }

    /// The sitting of an exam that ends so, if it is one.
    pub fn sitting(&self, number: u32, attempt: &Attempt) -> Option<Sitting> {
        let kept = self.kept();
        let end = Some(kept.chain.as_ref()?.end(attempt));
        Some(Sitting { number, links: kept.links.clone(), end })
    }

    /// Makes the log whole.
    pub fn finish(self, attempt: &Attempt) -> Result<(), Problem> {
        let text = whole_log(attempt);
        let ended = {
            let mut kept = self.kept();
            kept.over = true;
            kept.waiting += &Entry::Ended(Moment { at_s: attempt.ended_at_s }).to_line();
            let ended = kept.write_to_disk();
            kept.file = None;
            ended
        };
        let replaced = Draft::over(&self.place).and_then(|mut draft| {
            draft.write_all(text.as_bytes())?;
            draft.publish()
        });
        match (replaced, ended) {
            (Ok(()), _) => {
                keep_name(&self.place);
                Ok(())
            }
            // The journal itself is whole, and every reader takes it.
            (Err(_), Ok(())) => Ok(()),
            (Err(problem), Err(_)) => {
                output::print(&format!("\nThe log, to be copied:\n{text}"))?;
                Err(problem)
            }
        }
    }

    fn kept(&self) -> MutexGuard<'_, Kept> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The log of a session that is over.
pub fn whole_log(attempt: &Attempt) -> String {
    format!("// {BANNER}\n{}", attempt.to_ron())
}

impl Kept {
    fn of(file: File, length: u64, so_far: Option<&Attempt>, chain: Option<Chain>) -> Self {
        let (dirty, asked) = sync_channel(1);
        let file = Arc::new(file);
        let disk = Arc::downgrade(&file);
        std::thread::spawn(move || keep_on_disk(&disk, &asked));
        Self {
            file: Some(file),
            length,
            waiting: String::new(),
            acts: so_far.map_or(0, |log| log.acts.len()),
            asked: so_far.map_or(0, |log| log.asked.len()),
            waits: so_far.map_or_else(Vec::new, |log| log.waits.clone()),
            at_s: so_far.map_or(0.0, |log| log.ended_at_s),
            chain,
            links: so_far.and_then(|log| log.exam.clone()).map_or_else(Vec::new, |exam| exam.links),
            fails: None,
            over: false,
            dirty,
        }
    }

    /// Writes what is waiting: all of it, or nothing that counts.
    fn write(&mut self) -> io::Result<()> {
        let mut file = self.open()?;
        // A full disk may have taken a part of a line.
        file.set_len(self.length)?;
        file.seek(SeekFrom::Start(self.length))?;
        file.write_all(self.waiting.as_bytes())?;
        self.length += self.waiting.len() as u64;
        self.waiting.clear();
        Ok(())
    }

    /// The same, and waits until the disk has it.
    fn write_to_disk(&mut self) -> io::Result<()> {
        self.write()?;
        self.open()?.sync_all()
    }

    fn open(&self) -> io::Result<&File> {
        self.file.as_deref().ok_or_else(|| io::Error::other("the session is over"))
    }
}

/// Has the disk keep what was written, so that a loss of power takes less than a second
/// of it; the session does not wait for that.
fn keep_on_disk(file: &Weak<File>, asked: &Receiver<()>) {
    while asked.recv().is_ok() {
        // What the disk refuses is told by the next write.
        let _ = file.upgrade().map(|file| file.sync_data());
        std::thread::sleep(KEPT_EVERY);
    }
}

/// Has the disk keep the name of a new file.
fn keep_name(place: &Path) {
    if cfg!(unix) {
        let folder = place.parent().filter(|folder| !folder.as_os_str().is_empty());
        // Where folders cannot be kept so, the file itself has been.
        let _ = File::open(folder.unwrap_or(Path::new("."))).and_then(|folder| folder.sync_all());
    }
}

fn locked(file: &File, place: &Path) -> Result<(), Problem> {
    match file.try_lock() {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(Problem::Write {
            what: format!("another session is writing {}", shown(place)),
            mend: Some("end that one first, or choose another log with --log".to_owned()),
        }),
        // Some places know no locks; two sessions at once are then up to the user.
        Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => Ok(()),
        Err(TryLockError::Error(error)) => Err(unwritable(&shown(place), &error).into()),
    }
}

/// A path as it is typed in a shell.
pub fn typed(path: &Path) -> String {
    let path = shown(path);
    let plain = |c: char| c.is_alphanumeric() || "/\\.:_-".contains(c);
    if path.chars().all(plain) { path } else { format!("'{path}'") }
}
