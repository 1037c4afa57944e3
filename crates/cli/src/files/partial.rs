//! Files that are written over a long time: what is there already is kept and taken
//! up again, and the file gets its name when it is whole.

use std::fs::{self, File, TryLockError};
use std::io::{self, BufReader, BufWriter, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::files::draft;
use crate::files::input::{STANDARD, shown};
use crate::files::output::unwritable;
use crate::files::problem::Problem;
use crate::files::{room, stop};

/// How long rows may be missing from the file.
const KEPT_WITHIN: Duration = Duration::from_millis(500);

/// A file under way beside its target: `rows.csv.partial` for `rows.csv`.
#[derive(Debug)]
pub struct Partial {
    target: PathBuf,
    path: PathBuf,
    file: File,
    /// Whether a file stood there that is to be replaced.
    replaces: bool,
}

/// Whether a target is a file that can be written in parts: no standard output, no
/// device, no pipe.
pub fn can_be(target: &Path) -> bool {
    let other = |kind: fs::Metadata| !kind.is_file() && !kind.is_dir();
    target != Path::new(STANDARD) && !fs::metadata(target).is_ok_and(other)
}

/// Where the rows so far of a target are.
pub fn beside(target: &Path) -> PathBuf {
    let mut name = target.as_os_str().to_owned();
    name.push(".partial");
    name.into()
}

impl Partial {
    /// Begins one, or opens the one that an earlier run left.
    pub fn open(target: &Path) -> Result<Self, Problem> {
        let target = &draft::claim(target)?;
        let replaces = target.exists();
        let path = beside(target);
        let failed = |error: &io::Error| {
            let mend = (error.kind() == io::ErrorKind::NotFound)
                .then(|| "make the folder first, or choose another".to_owned());
            Problem::Write { what: unwritable(&shown(&path), error).to_string(), mend }
        };
        if target.is_dir() {
            return Err(failed(&io::ErrorKind::IsADirectory.into()));
        }
        let mut options = File::options();
        options.read(true).write(true).create(true).truncate(false);
        let file = options.open(&path).map_err(|error| failed(&error))?;
        match file.try_lock() {
            Ok(()) => Ok(Self { target: target.clone(), path, file, replaces }),
            Err(TryLockError::WouldBlock) => Err(Problem::Write {
                what: format!("another run is writing {}", shown(&path)),
                mend: Some("wait for it to end, or give this one another file".to_owned()),
            }),
            // Some places know no locks; two runs at once are then up to the user.
            Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => {
                Ok(Self { target: target.clone(), path, file, replaces })
            }
            Err(TryLockError::Error(error)) => Err(failed(&error)),
        }
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Refuses rows that the disk has no room for.
    pub fn check_room(&self, more_bytes: u64) -> Result<(), Problem> {
        room::on_disk(&self.target, more_bytes, "take fewer patients").inspect_err(|_| {
            if self.file.metadata().is_ok_and(|file| file.len() == 0) {
                let _ = fs::remove_file(&self.path);
            }
        })
    }

    /// Its length.
    pub fn len(&self) -> Result<u64, Problem> {
        Ok(self.file.metadata().map_err(|error| unwritable(&shown(&self.path), &error))?.len())
    }

    /// What is there, from its start.
    pub fn reader(&mut self) -> Result<BufReader<&File>, Problem> {
        self.file
            .seek(SeekFrom::Start(0))
            .map_err(|error| unwritable(&shown(&self.path), &error))?;
        Ok(BufReader::with_capacity(1 << 20, &self.file))
    }

    /// Cuts it to a length and goes on behind that.
    pub fn writer(&mut self, length: u64) -> Result<impl Write, Problem> {
        let at = self.file.set_len(length).and_then(|()| self.file.seek(SeekFrom::Start(length)));
        at.map_err(|error| unwritable(&shown(&self.path), &error))?;
        let out = BufWriter::with_capacity(1 << 20, Named { file: &self.file, path: &self.path });
        Ok(Kept { out, since: Instant::now() })
    }

    /// Gives the whole file its name.
    pub fn publish(self) -> Result<(), Problem> {
        self.file.sync_all().map_err(|error| unwritable(&shown(&self.path), &error))?;
        if !self.replaces && self.target.exists() {
            return Err(Problem::Write {
                what: format!("{} has come there meanwhile", shown(&self.target)),
                mend: Some(format!("the rows are whole in {}", shown(&self.path))),
            });
        }
        let put = fs::rename(&self.path, &self.target);
        Ok(put.map_err(|error| unwritable(&shown(&self.target), &error))?)
    }
}

/// What is written reaches the file within half a second, and on a request to stop; then
/// writing ends.
struct Kept<W: Write> {
    out: W,
    since: Instant,
}

impl<W: Write> Write for Kept<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if stop::asked().is_some() {
            self.out.flush()?;
            return Err(io::Error::other("stopped"));
        }
        let written = self.out.write(bytes)?;
        if self.since.elapsed() > KEPT_WITHIN {
            self.flush()?;
        }
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.since = Instant::now();
        self.out.flush()
    }
}

/// A file whose errors say its name.
struct Named<'a> {
    file: &'a File,
    path: &'a Path,
}

impl Write for Named<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes).map_err(|error| unwritable(&shown(self.path), &error))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush().map_err(|error| unwritable(&shown(self.path), &error))
    }
}
