//! Files that appear under their name only when they are complete, and the one place
//! that decides what may be written where.

use std::fs::{self, File, Permissions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use same_file::Handle;
use tempfile::{Builder, NamedTempFile};
use tidewright_scenario::{LARGEST_FILE, is_attempt, parse_attempt};

use crate::files::input::{self, STANDARD, shown};
use crate::files::output::{self, Leavable, unwritable};
use crate::files::problem::{Problem, reason};
use crate::files::stop::Scrap;

/// Links that are followed one after the other; more go in a circle.
const MOST_LINKS: usize = 40;
const OWN_NAME: &str = "give every file a name of its own";

static MAY_REPLACE: AtomicBool = AtomicBool::new(false);
/// What this command writes. A program run is one command, so this is its only one.
static WRITTEN: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// Says whether files that are there may be replaced.
pub fn may_replace(may: bool) {
    MAY_REPLACE.store(may, Ordering::Relaxed);
}

/// Refuses targets that may not be written, before anything is done: what the command
/// reads, what it writes twice, and what a person made earlier.
pub fn check<'a, P: AsRef<Path> + ?Sized + 'a>(
    targets: impl IntoIterator<Item = &'a P>,
) -> Result<(), Problem> {
    let mut taken = written();
    let mut standard = false;
    for target in targets.into_iter().map(AsRef::as_ref) {
        if target == Path::new(STANDARD) {
            if std::mem::replace(&mut standard, true) {
                return Err(Problem::usage(
                    "two outputs cannot both go to standard output",
                    OWN_NAME,
                ));
            }
            continue;
        }
        let place = followed(target)?;
        allowed(target, &place, &taken)?;
        taken.push(located(&place));
    }
    Ok(())
}

/// Where a target leads to, now that the command writes there.
pub fn claim(target: &Path) -> Result<PathBuf, Problem> {
    let place = followed(target)?;
    let mut taken = WRITTEN.lock().unwrap_or_else(PoisonError::into_inner);
    allowed(target, &place, &taken)?;
    taken.push(located(&place));
    Ok(place)
}

/// Writes a whole file, unless these very bytes stand there already.
pub fn write(target: &Path, bytes: &[u8]) -> Result<(), Problem> {
    if holds(target, bytes) {
        return Ok(());
    }
    let mut draft = Draft::begin(target)?;
    draft.write_all(bytes)?;
    draft.publish()
}

/// Writes files of which all or none may be written: what is not allowed is told before
/// the first, and what stands there already, byte for byte, is left as it is. So a
/// command that was stopped on its way is simply given again.
pub fn write_all(files: &[(PathBuf, Vec<u8>)]) -> Result<(), Problem> {
    let changed = || files.iter().filter(|(path, bytes)| !holds(path, bytes));
    check(changed().map(|(path, _)| path))?;
    changed().try_for_each(|(path, bytes)| write(path, bytes))
}

/// Makes a folder, and names a file beside it, so that the folder can be handed out as
/// it is: `sheets-key.csv` for `sheets`, however the folder is spelled.
pub fn folder_and_beside(folder: &Path, ending: &str) -> Result<(PathBuf, PathBuf), Problem> {
    let failed = |error: &io::Error| Problem::Write {
        what: format!("cannot make {}: {}", shown(folder), reason(error)),
        mend: Some("name a folder, or a new one in a folder that is there".to_owned()),
    };
    fs::create_dir_all(folder).map_err(|error| failed(&error))?;
    let whole = folder.canonicalize().map_err(|error| failed(&error))?;
    // `.` and `..` have no name of their own.
    let named = if folder.file_name().is_some() { folder } else { &whole };
    let (Some(above), Some(name)) = (named.parent(), named.file_name()) else {
        return Err(failed(&io::ErrorKind::InvalidInput.into()));
    };
    let mut beside = name.to_owned();
    beside.push(ending);
    Ok((folder.to_path_buf(), above.join(beside)))
}

/// Whether a file holds these very bytes, so that nothing would change.
pub fn holds(target: &Path, bytes: &[u8]) -> bool {
    fs::metadata(target).is_ok_and(|old| old.is_file() && old.len() == bytes.len() as u64)
        && fs::read(target).is_ok_and(|old| old == bytes)
}

fn written() -> Vec<PathBuf> {
    WRITTEN.lock().unwrap_or_else(PoisonError::into_inner).clone()
}

fn allowed(target: &Path, place: &Path, taken: &[PathBuf]) -> Result<(), Problem> {
    let refused = |is: &str, mend: &str| {
        let what = format!("{} {is}", shown(target));
        Err(Problem::usage(what, mend))
    };
    let located = located(place);
    if taken.iter().any(|other| *other == located || is_same(other, place)) {
        return refused("is written by this command already", OWN_NAME);
    }
    let Ok(old) = fs::metadata(place) else { return Ok(()) };
    if !old.is_file() {
        return Ok(());
    }
    if input::read_so_far().iter().any(|source| is_same(source, place)) {
        return refused("is what this command reads", OWN_NAME);
    }
    if old.len() == 0 {
        return Ok(());
    }
    if is_log(place, old.len()) {
        return refused(
            "is the log of an attempt, which nothing replaces",
            "choose another name, or remove the log yourself",
        );
    }
    if !MAY_REPLACE.load(Ordering::Relaxed) {
        return refused(
            "is there already",
            "choose another name, or add `--replace` to write over it",
        );
    }
    Ok(())
}

/// Whether two names lead to one file: by its identity, so that links, other spellings
/// and other cases of its name do not deceive.
fn is_same(a: &Path, b: &Path) -> bool {
    match (Handle::from_path(a), Handle::from_path(b)) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}

/// Whether a file is an attempt in which something was done, sound or not.
fn is_log(path: &Path, length: u64) -> bool {
    if length > LARGEST_FILE as u64 {
        return false;
    }
    let Ok(bytes) = fs::read(path) else { return false };
    let text = String::from_utf8_lossy(&bytes);
    let name = shown(path);
    is_attempt(&name, &text)
        && !parse_attempt(&name, &text)
            .is_ok_and(|attempt| attempt.acts.is_empty() && attempt.ended_at_s == 0.0)
}

/// A target with its links followed, also to a file that is not there yet: then every
/// command writes through a link, and none in its place.
fn followed(target: &Path) -> Result<PathBuf, Problem> {
    let mut place = target.to_path_buf();
    // A pipe or a device has no name of its own behind its links.
    if fs::metadata(target).is_ok_and(|old| !old.is_file()) {
        return Ok(place);
    }
    for _ in 0..MOST_LINKS {
        match fs::read_link(&place) {
            Ok(next) => place = place.parent().unwrap_or(Path::new("")).join(next),
            Err(_) => return Ok(place),
        }
    }
    let what = format!("cannot write to {}: its links go in a circle", shown(target));
    Err(Problem::Write { what, mend: Some("choose another name".to_owned()) })
}

/// The same place whichever way it is spelled, also of a file that is not there yet.
fn located(place: &Path) -> PathBuf {
    let folder = place.parent().filter(|folder| !folder.as_os_str().is_empty());
    match (folder.unwrap_or(Path::new(".")).canonicalize(), place.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => place.to_path_buf(),
    }
}

/// A file under way. It is written beside its target and takes its place when
/// it is published; dropped before that, it leaves no trace, and an older file
/// of that name stays as it was.
#[derive(Debug)]
pub struct Draft {
    target: PathBuf,
    out: BufWriter<Out>,
    /// Whether a file stood there that is to be replaced.
    replaces: bool,
    scrap: Option<Scrap>,
}

#[derive(Debug)]
enum Out {
    Beside(Leavable<NamedTempFile>),
    /// A device or a pipe: nothing can be put in its place.
    Pipe(Leavable<File>),
    Stdout(output::Stdout),
}

impl Draft {
    /// Begins a file; `-` is standard output.
    pub fn begin(target: &Path) -> Result<Self, Problem> {
        if target == Path::new(STANDARD) {
            let out = BufWriter::new(Out::Stdout(output::stdout()));
            return Ok(Self { target: target.to_path_buf(), out, replaces: false, scrap: None });
        }
        let target = claim(target)?;
        let replaces = target.exists();
        match open(&target) {
            Ok(out) => {
                let scrap = match &out {
                    Out::Beside(file) => Some(Scrap::new(file.get().path())),
                    _ => None,
                };
                Ok(Self { target, out: BufWriter::new(out), replaces, scrap })
            }
            Err(error) => {
                let what = unwritable(&shown(&target), &error).to_string();
                let mend = (error.kind() == io::ErrorKind::NotFound)
                    .then(|| "make the folder first, or choose another".to_owned());
                Err(Problem::Write { what, mend })
            }
        }
    }

    /// Begins the file that is to take the place of one that this command keeps itself.
    pub fn over(own: &Path) -> Result<Self, Problem> {
        let permissions = fs::metadata(own).map(|old| old.permissions()).ok();
        let failed = |error| Problem::from(unwritable(&shown(own), &error));
        let out = beside(own, permissions).map_err(failed)?;
        let scrap = match &out {
            Out::Beside(file) => Some(Scrap::new(file.get().path())),
            _ => None,
        };
        Ok(Self { target: own.to_path_buf(), out: BufWriter::new(out), replaces: true, scrap })
    }

    /// Puts the finished file in its place, unless another has come there meanwhile.
    pub fn publish(mut self) -> Result<(), Problem> {
        self.flush()?;
        let failed = |error: &io::Error| unwritable(&shown(&self.target), error);
        if let Ok(Out::Beside(file)) = self.out.into_inner() {
            let file = file.into_inner();
            // Else a name could outlive a loss of power without its bytes.
            file.as_file().sync_all().map_err(|error| failed(&error))?;
            let put = match self.replaces {
                true => file.persist(&self.target),
                false => file.persist_noclobber(&self.target),
            };
            put.map_err(|put| failed(&put.error))?;
        }
        drop(self.scrap);
        Ok(())
    }
}

fn open(target: &Path) -> io::Result<Out> {
    match fs::metadata(target) {
        Ok(old) if old.is_dir() => Err(io::ErrorKind::IsADirectory.into()),
        Ok(old) if !old.is_file() => {
            let file = File::options().write(true).open(target)?;
            Ok(Out::Pipe(Leavable::new(file, &shown(target))))
        }
        Ok(old) if old.permissions().readonly() => Err(io::ErrorKind::PermissionDenied.into()),
        Ok(old) => beside(target, Some(old.permissions())),
        Err(_) => beside(target, None),
    }
}

fn beside(target: &Path, permissions: Option<Permissions>) -> io::Result<Out> {
    let folder = target.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut builder = Builder::new();
    builder.prefix(".tidewright-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // What any new file gets; the system takes the user's mask off it.
        builder.permissions(Permissions::from_mode(0o666));
    }
    let file = builder.tempfile_in(folder.unwrap_or(Path::new(".")))?;
    if let Some(permissions) = permissions {
        file.as_file().set_permissions(permissions)?;
    }
    Ok(Out::Beside(Leavable::new(file, &shown(target))))
}

impl Write for Draft {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.out.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

impl Write for Out {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Self::Beside(file) => file.write(bytes),
            Self::Pipe(file) => file.write(bytes),
            Self::Stdout(out) => out.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Self::Beside(file) => file.flush(),
            Self::Pipe(file) => file.flush(),
            Self::Stdout(out) => out.flush(),
        }
    }
}
