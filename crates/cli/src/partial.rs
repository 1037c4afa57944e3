//! Files that are written over a long time: what is there already is kept and taken
//! up again, and the file gets its name when it is whole.

use std::fs::{self, File, TryLockError};
use std::io::{self, BufReader, BufWriter, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use crate::input::{STANDARD, shown};
use crate::output::unwritable;
use crate::problem::Problem;

/// A file under way beside its target: `rows.csv.partial` for `rows.csv`.
#[derive(Debug)]
pub struct Partial {
    target: PathBuf,
    path: PathBuf,
    file: File,
}

/// Whether a target is a file that can be written in parts: no standard output, no
/// device, no pipe.
pub fn can_be(target: &Path) -> bool {
    let other = |kind: fs::Metadata| !kind.is_file() && !kind.is_dir();
    target != Path::new(STANDARD) && !fs::metadata(target).is_ok_and(other)
}

impl Partial {
    /// Begins one, or opens the one that an earlier run left.
    pub fn open(target: &Path) -> Result<Self, Problem> {
        let mut name = target.as_os_str().to_owned();
        name.push(".partial");
        let path = PathBuf::from(name);
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
            Ok(()) => Ok(Self { target: target.to_path_buf(), path, file }),
            Err(TryLockError::WouldBlock) => Err(Problem::Write {
                what: format!("another run is writing {}", shown(&path)),
                mend: Some("wait for it to end, or give this one another file".to_owned()),
            }),
            // Some places know no locks; two runs at once are then up to the user.
            Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => {
                Ok(Self { target: target.to_path_buf(), path, file })
            }
            Err(TryLockError::Error(error)) => Err(failed(&error)),
        }
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
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
        Ok(BufWriter::with_capacity(1 << 20, Named { file: &self.file, path: &self.path }))
    }

    /// Gives the whole file its name.
    pub fn publish(self) -> Result<(), Problem> {
        let put = fs::rename(&self.path, &self.target);
        Ok(put.map_err(|error| unwritable(&shown(&self.target), &error))?)
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
