//! Puts the text of every shipped lesson and attempt into the library: a program on
//! wasm32 has no files to read.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/training");
    println!("cargo::rerun-if-changed={}", folder.display());
    let mut list = String::from("&[\n");
    for lesson in ron_files(&folder)? {
        let name = lesson.file_stem().unwrap_or_default();
        // Writing to a `String` cannot fail.
        let _ = writeln!(list, "(include_str!({lesson:?}), &[");
        for attempt in ron_files(&folder.join("attempts").join(name))? {
            let _ = writeln!(list, "include_str!({attempt:?}),");
        }
        list += "]),\n";
    }
    let target = env::var_os("OUT_DIR").ok_or(io::ErrorKind::NotFound)?;
    fs::write(Path::new(&target).join("lessons.rs"), list + "]")
}

fn ron_files(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let paths = fs::read_dir(folder)?.map(|entry| Ok(entry?.path()));
    let mut paths = paths.collect::<io::Result<Vec<PathBuf>>>()?;
    paths.retain(|path| path.extension().is_some_and(|end| end == "ron"));
    paths.sort();
    Ok(paths)
}
