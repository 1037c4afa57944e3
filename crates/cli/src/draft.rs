//! Files that appear under their name only when they are complete.

use std::fs::{self, File, Permissions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::{Builder, NamedTempFile};

use crate::input::{STANDARD, shown};
use crate::output::{self, Leavable, unwritable};
use crate::problem::Problem;

/// Whether what is read and what is written are files apart.
pub fn all_apart<'a>(
    sources: &[(&'a PathBuf, &str)],
    targets: impl IntoIterator<Item = &'a PathBuf>,
) -> Result<(), Problem> {
    let mut taken: Vec<(&PathBuf, String)> =
        sources.iter().map(|(path, role)| (*path, format!("is {role}"))).collect();
    for target in targets.into_iter().filter(|target| **target != *STANDARD) {
        if let Some((_, role)) = taken.iter().find(|(other, _)| same_file(other, target)) {
            return Err(Problem::usage(
                format!("{} {role} already", shown(target)),
                "give every file a name of its own",
            ));
        }
        taken.push((target, "is written".to_owned()));
    }
    Ok(())
}

fn same_file(a: &Path, b: &Path) -> bool {
    let place = |path: &Path| path.canonicalize().or_else(|_| std::path::absolute(path)).ok();
    a == b || place(a).is_some_and(|a| Some(a) == place(b))
}

/// A file under way. It is written beside its target and takes its place when
/// it is published; dropped before that, it leaves no trace, and an older file
/// of that name stays as it was.
#[derive(Debug)]
pub struct Draft {
    target: PathBuf,
    out: BufWriter<Out>,
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
            return Ok(Self { target: target.to_path_buf(), out });
        }
        // A link keeps pointing to its file, so the file itself is replaced.
        let target = fs::canonicalize(target).unwrap_or_else(|_| target.to_path_buf());
        match open(&target) {
            Ok(out) => Ok(Self { target, out: BufWriter::new(out) }),
            Err(error) => {
                let what = unwritable(&shown(&target), &error).to_string();
                let mend = (error.kind() == io::ErrorKind::NotFound)
                    .then(|| "make the folder first, or choose another".to_owned());
                Err(Problem::Write { what, mend })
            }
        }
    }

    /// Puts the finished file in its place.
    pub fn publish(mut self) -> Result<(), Problem> {
        self.flush()?;
        if let Ok(Out::Beside(file)) = self.out.into_inner() {
            let put = file.into_inner().persist(&self.target);
            put.map_err(|failed| unwritable(&shown(&self.target), &failed.error))?;
        }
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
