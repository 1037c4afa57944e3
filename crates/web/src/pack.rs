//! From the sources of the page to one file.

mod dense;
mod module;
mod notices;
mod scorm;
mod served;

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use flate2::Compression;
use flate2::write::GzEncoder;

use dense::dense;
use module::without_notes;

const TARGET: &str = "wasm32-unknown-unknown";
/// Room that the file may take, bytes: it must pass through mail and learning platforms.
const MOST: [usize; 2] = [3_000_000, 1_200_000];

/// The scripts, in the order in which they build on each other.
const SCRIPTS: [&str; 26] = [
    "make.js",
    "engine.js",
    "later.js",
    "keep.js",
    "draw.js",
    "sound.js",
    "learn.js",
    "practise.js",
    "curves.js",
    "acts.js",
    "waits.js",
    "platform.js",
    "exam.js",
    "debrief.js",
    "explore.js",
    "compare.js",
    "bench.js",
    "joints.js",
    "checks.js",
    "figures.js",
    "write.js",
    "insert.js",
    "sheets.js",
    "class.js",
    "look_up.js",
    "start.js",
];

/// Those of rooms that the light page lacks.
const OF_THE_WHOLE: [&str; 8] = [
    "bench.js",
    "joints.js",
    "checks.js",
    "figures.js",
    "write.js",
    "insert.js",
    "sheets.js",
    "class.js",
];

/// What is wanted.
#[derive(Debug)]
pub struct Options {
    pub light: bool,
    /// For who works on the page: built without the slow optimisations, and large.
    pub quick: bool,
    pub out: Option<PathBuf>,
    /// Folder for a web server, if one is wanted.
    pub folder: Option<PathBuf>,
    /// Folder for the packages of learning platforms, if they are wanted.
    pub scorm: Option<PathBuf>,
}

/// Why there is no page.
#[derive(Debug)]
pub enum PackError {
    Word(String),
    NoTarget,
    Build(String),
    Read(PathBuf, io::Error),
    Write(PathBuf, io::Error),
    Placeholder(&'static str),
    TooBig { bytes: usize, most: usize },
}

impl std::fmt::Display for PackError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Word(word) => write!(f, "`{word}` is no option, or lacks its value"),
            Self::NoTarget => write!(f, "Rust cannot build WebAssembly here yet"),
            Self::Build(why) => write!(f, "the module cannot be built: {why}"),
            Self::Read(path, error) => write!(f, "cannot read {}: {error}", path.display()),
            Self::Write(path, error) => write!(f, "cannot write {}: {error}", path.display()),
            Self::Placeholder(name) => write!(f, "page/index.html has no place for {name}"),
            Self::TooBig { bytes, most } => {
                write!(f, "the page has {bytes} bytes, and may have {most}")
            }
        }
    }
}

impl PackError {
    /// One way to mend it.
    pub fn mend(&self) -> String {
        match self {
            Self::Word(_) => "`--help` lists the options".to_owned(),
            Self::NoTarget => format!("run `rustup target add {TARGET}`, then this again"),
            Self::Build(_) => "what cargo says above tells where".to_owned(),
            Self::Read(..) => "run it from the folder of the sources".to_owned(),
            Self::Write(..) => "choose another place with `--out FILE`".to_owned(),
            Self::Placeholder(_) => "put it back".to_owned(),
            Self::TooBig { .. } => "leave something out of the module".to_owned(),
        }
    }

    pub fn code(&self) -> ExitCode {
        ExitCode::from(match self {
            Self::Word(_) => 2,
            Self::Read(..) | Self::Write(..) => 4,
            _ => 1,
        })
    }
}

/// Builds and packs; what is told of it.
pub fn packed(options: &Options) -> Result<String, PackError> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let root = root.canonicalize().map_err(|error| PackError::Read(root, error))?;
    let target = target_folder(&root);
    let module = built(&root, &target, options)?;
    let sources = root.join("crates/web/page");
    let left_out: &[&str] = if options.light { &OF_THE_WHOLE } else { &[] };
    let all = root.join("crates/cli/THIRD-PARTY.txt");
    let all = fs::read_to_string(&all).map_err(|error| PackError::Read(all, error))?;
    let notices = notices::of(&all, &notices::packages(&root, options.light)?);
    let page = match options.quick {
        true => composed(&sources, &module, &notices, left_out, (str::to_owned, quickly)),
        false => composed(&sources, &module, &notices, left_out, (bare, small)),
    }?;
    let most = MOST[usize::from(options.light)];
    if page.len() > most && !options.quick {
        return Err(PackError::TooBig { bytes: page.len(), most });
    }
    let name = if options.light { "tidewright-light.html" } else { "tidewright.html" };
    let out = options.out.clone().unwrap_or_else(|| target.join(name));
    fs::write(&out, &page).map_err(|error| PackError::Write(out.clone(), error))?;
    if let Some(folder) = &options.folder {
        served::write(folder, &page, &sources)?;
    }
    let mut told = format!(
        "{}: {:.2} MB. Open it by a double click, or send it on: it needs nothing else.",
        out.display(),
        page.len() as f64 * 1e-6
    );
    if let Some(folder) = &options.scorm {
        for path in scorm::write(folder, &page)? {
            told += &format!("\n{}: for a learning platform.", path.display());
        }
    }
    Ok(told)
}

/// Where cargo builds: this program lies in a folder of it.
fn target_folder(root: &Path) -> PathBuf {
    let program = std::env::current_exe().ok();
    let above = program.as_deref().and_then(Path::parent).and_then(Path::parent);
    above
        .filter(|folder| folder.join("CACHEDIR.TAG").exists())
        .map_or_else(|| root.join("target"), Path::to_path_buf)
}

/// The module as bytes.
fn built(root: &Path, target: &Path, options: &Options) -> Result<Vec<u8>, PackError> {
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
    let libraries = Command::new(rustc)
        .args(["--print", "target-libdir", "--target", TARGET])
        .output()
        .map_err(|error| PackError::Build(error.to_string()))?;
    let libraries = String::from_utf8_lossy(&libraries.stdout).trim().to_owned();
    if libraries.is_empty() || !Path::new(&libraries).is_dir() {
        return Err(PackError::NoTarget);
    }
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let mut command = Command::new(cargo);
    command.current_dir(root).args(["build", "-p", "tidewright-web", "--lib"]);
    let profile = if options.quick { "quick" } else { "web" };
    command.args(["--profile", profile]);
    command.args(["--target", TARGET, "--target-dir"]).arg(target);
    if options.light {
        command.arg("--no-default-features");
    }
    let status = command.status().map_err(|error| PackError::Build(error.to_string()))?;
    if !status.success() {
        return Err(PackError::Build(status.to_string()));
    }
    let path = target.join(TARGET).join(profile).join("tidewright_web.wasm");
    without_notes(&fs::read(&path).map_err(|error| PackError::Read(path, error))?)
}

/// How texts are shaped and bytes made small.
type Ways = (fn(&str) -> String, fn(&[u8]) -> io::Result<Vec<u8>>);

/// The page with style, scripts and module inside.
fn composed(
    folder: &Path,
    module: &[u8],
    notices: &str,
    left_out: &[&str],
    (shape, press): Ways,
) -> Result<Vec<u8>, PackError> {
    let read = |name: &str| {
        let path = folder.join(name);
        fs::read_to_string(&path).map_err(|error| PackError::Read(path, error))
    };
    let mut script = String::from("\"use strict\";\n");
    for name in SCRIPTS.into_iter().filter(|name| !left_out.contains(name)) {
        script += &read(name)?;
    }
    let mut page = read("index.html")?;
    for (place, text) in [
        ("/*STYLE*/", shape(&read("style.css")?)),
        ("/*SCRIPT*/", shape(&script)),
        ("/*MODULE*/", pressed(module, press)?),
        ("/*NOTICES*/", pressed(notices.as_bytes(), press)?),
    ] {
        let (before, after) = page.split_once(place).ok_or(PackError::Placeholder(place))?;
        page = [before, &text, after].concat();
    }
    Ok(page.into_bytes())
}

/// Without indentation, and without comments that have lines of their own.
fn bare(text: &str) -> String {
    let mut bare = String::with_capacity(text.len());
    let mut in_comment = false;
    for line in text.lines().map(str::trim) {
        in_comment |= line.starts_with("/*");
        if in_comment {
            in_comment = !line.ends_with("*/");
        } else if !line.is_empty() && !line.starts_with("//") {
            bare += line;
            bare.push('\n');
        }
    }
    bare
}

/// Compressed, as letters; how many bytes that are stands before them.
fn pressed(bytes: &[u8], press: fn(&[u8]) -> io::Result<Vec<u8>>) -> Result<String, PackError> {
    let packed = press(bytes).map_err(|error| PackError::Build(error.to_string()))?;
    Ok(format!("{} {}", packed.len(), dense(&packed)))
}

fn quickly(bytes: &[u8]) -> io::Result<Vec<u8>> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::fast());
    encoder.write_all(bytes)?;
    encoder.finish()
}

/// A twentieth smaller than the usual encoder makes it, for a hundred times the time.
fn small(bytes: &[u8]) -> io::Result<Vec<u8>> {
    let mut packed = Vec::new();
    zopfli::compress(zopfli::Options::default(), zopfli::Format::Gzip, bytes, &mut packed)?;
    Ok(packed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_script_of_the_folder_is_packed_and_none_is_long() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("page");
        let mut found = Vec::new();
        for entry in fs::read_dir(&folder).expect("the folder of the page") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                continue;
            }
            let lines = fs::read_to_string(&path).expect("a text").lines().count();
            assert!(lines < 400, "{}: {lines} lines", path.display());
            if path.extension().is_some_and(|ending| ending == "js") {
                found.push(path.file_name().expect("a name").to_string_lossy().into_owned());
            }
        }
        found.sort();
        let mut packed = SCRIPTS.map(str::to_owned);
        packed.sort();
        assert_eq!(found, packed);
    }

    #[test]
    fn what_is_bare_lacks_blanks_and_comments_alone() {
        let text = "/* What\n * it is. */\nlet a = 1; // one\n\n  // two\n  b();\n/** c */\nc();\n";
        assert_eq!(bare(text), "let a = 1; // one\nb();\nc();\n");
        assert_eq!(bare(&bare(text)), bare(text));
        // A comment that does not end its line would take code with it.
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("page");
        for name in SCRIPTS.into_iter().chain(["style.css"]) {
            let text = fs::read_to_string(folder.join(name)).expect("a text");
            for line in text.lines().filter(|line| line.trim().starts_with("/*")) {
                let end = line.find("*/").map_or(line.len(), |end| end + 2);
                assert!(line[end..].trim().is_empty(), "{name}: {line}");
            }
        }
    }

    #[test]
    fn a_page_holds_what_is_packed_and_asks_nobody_for_anything() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("page");
        let page = composed(&folder, b"module", "notices", &[], (bare, small)).expect("a page");
        let page = String::from_utf8(page).expect("a text");
        assert!(page.contains("default-src 'none'") && page.contains("connect-src 'none'"));
        for outside in ["src=\"http", "href=\"http", "fetch(", "XMLHttpRequest", "import("] {
            assert!(!page.contains(outside), "{outside}");
        }
        assert!(!page.contains("/*STYLE*/") && !page.contains("/*SCRIPT*/"));
        assert_eq!(
            page,
            String::from_utf8(
                composed(&folder, b"module", "notices", &[], (bare, small)).expect("a page")
            )
            .expect("a text")
        );
    }
}
