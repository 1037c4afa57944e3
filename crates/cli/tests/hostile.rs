//! What a hostile or unlucky file, name or command must come to. The cases are the
//! texts in `hostile/`; `hostile/README.md` says how to read and write them.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use common::{attempt, lesson, program, repository, words};

const LONGEST: Duration = Duration::from_secs(60);

#[derive(Default)]
struct Case {
    name: String,
    prepare: Vec<(String, String)>,
    over: Option<String>,
    command: String,
    expect: Vec<(String, String)>,
}

fn cases(file: &Path) -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    for line in std::fs::read_to_string(file).unwrap().lines() {
        if let Some(name) = line.strip_prefix("== ") {
            cases.push(Case { name: name.to_owned(), ..Case::default() });
            continue;
        }
        let Some(case) = cases.last_mut().filter(|_| !line.trim().is_empty()) else { continue };
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        let entry = (word.to_owned(), rest.to_owned());
        match word {
            "$" => case.command = rest.to_owned(),
            "over" => case.over = Some(rest.to_owned()),
            "code" | "says" | "never" | "makes" | "changes" | "holds" => case.expect.push(entry),
            "file" | "repeat" | "roster" | "sparse" | "zips" | "copy" | "link" | "hard"
            | "fifo" | "folder" | "env" | "memory" | "input" | "from" => case.prepare.push(entry),
            _ => panic!("{}: `{line}` has no meaning", case.name),
        }
    }
    cases
}

fn unescaped(text: &str) -> String {
    let mut plain = String::new();
    let mut rest = text;
    while let Some(at) = rest.find('\\') {
        plain.push_str(&rest[..at]);
        rest = &rest[at + 1..];
        let (c, length) = match rest.as_bytes()[0] {
            b'n' => ('\n', 1),
            b't' => ('\t', 1),
            b'r' => ('\r', 1),
            b's' => (' ', 1),
            b'u' => {
                let end = rest.find('}').unwrap();
                (char::from_u32(u32::from_str_radix(&rest[2..end], 16).unwrap()).unwrap(), end + 1)
            }
            other => (char::from(other), 1),
        };
        plain.push(c);
        rest = &rest[length..];
    }
    plain + rest
}

/// A folder with one of each kind of file that the program reads.
fn desk() -> tempfile::TempDir {
    let desk = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| std::fs::write(desk.path().join(name), text).unwrap();
    put("first.ron", tidewright_scenario::DEMO);
    put("lesson.ron", &std::fs::read_to_string(lesson("juno-the-loose-joint")).unwrap());
    put("roster.csv", "pseudonym\nheron-1\nteal-2\n");
    put(
        "cats.ron",
        "Cohort(format: 1, id: \"cats\", base: \"first.ron\", patients: 40,\n    vary: \
         (compliance_ml_cmh2o: LogNormal(median: 5, log_sd: 0.25)))\n",
    );
    put(
        "picture.ron",
        "Figure(format: 1, id: \"a\", title: \"A breath\", teaches: \"It rises.\",\n    scenario: \
         \"first.ron\", show: Time(to_s: 5, panels: [[AirwayPressure]]))\n",
    );
    put("wave.csv", &wave());
    std::fs::create_dir(desk.path().join("attempts")).unwrap();
    for (name, log) in [("passes", "expert"), ("does-nothing", "nothing")] {
        let log = std::fs::read(attempt("juno-the-loose-joint", log)).unwrap();
        std::fs::write(desk.path().join(format!("attempts/{name}.ron")), log).unwrap();
    }
    desk
}

/// Breaths of a lung of 5 mL/cmH2O behind 20 cmH2O·s/L.
fn wave() -> String {
    let mut text = "t_s,paw_cmh2o,flow_ml_s\n".to_owned();
    let mut volume = 0.0;
    for k in 0..400_i32 {
        let flow = if k % 100 < 40 { 25.0 } else { -volume / 0.1 * 0.3 };
        text += &format!("{},{},{flow}\n", f64::from(k) * 0.01, volume / 5.0 + 0.02 * flow + 2.0);
        volume += 0.01 * flow;
    }
    text
}

fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let kind = std::fs::symlink_metadata(&path).unwrap();
        if kind.is_dir() {
            files.extend(self::files(&path));
        } else if kind.is_symlink() {
            let leads_to = std::fs::read_link(&path).unwrap().into_os_string();
            files.insert(path, leads_to.into_encoded_bytes());
        } else if kind.is_file() {
            let bytes = std::fs::read(&path).unwrap();
            files.insert(path, bytes);
        }
    }
    files
}

/// What a command is given besides its files.
#[derive(Default)]
struct Given {
    environment: Vec<(String, String)>,
    input: Vec<u8>,
    /// The memory that it may ask for, MiB.
    memory: Option<u64>,
}

/// So many copies of a file in a zip.
fn zips(at: &Path, count: usize, file: &Path) {
    let bytes = std::fs::read(file).unwrap();
    let mut zip = zip::ZipWriter::new(std::fs::File::create(at).unwrap());
    for k in 0..count {
        let how = zip::write::SimpleFileOptions::default().compression_level(Some(1));
        zip.start_file(format!("{k}/log.ron"), how).unwrap();
        zip.write_all(&bytes).unwrap();
    }
    zip.finish().unwrap();
}

fn prepare(desk: &Path, case: &Case) -> Given {
    let mut given = Given::default();
    for (word, rest) in &case.prepare {
        let mut parts = rest.splitn(2, ' ').map(unescaped);
        let (first, second) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
        let (at, from) = (desk.join(&second), desk.join(&first));
        match word.as_str() {
            "file" => std::fs::write(&from, &second).unwrap(),
            "repeat" => {
                let (count, text) = second.split_once(' ').unwrap();
                std::fs::write(&from, text.repeat(count.parse().unwrap())).unwrap();
            }
            "roster" => {
                let rows: String =
                    (1..=second.parse().unwrap()).map(|k: u32| format!("heron-{k}\n")).collect();
                std::fs::write(&from, format!("pseudonym\n{rows}")).unwrap();
            }
            "sparse" => {
                let file = std::fs::File::create(&from).unwrap();
                file.set_len(second.parse().unwrap()).unwrap();
            }
            "zips" => {
                let (count, file) = second.split_once(' ').unwrap();
                zips(&from, count.parse().unwrap(), &desk.join(file));
            }
            "memory" => given.memory = first.parse().ok(),
            "from" => given.input = std::fs::read(&from).unwrap(),
            "copy" => drop(std::fs::copy(&from, &at).unwrap()),
            "link" => std::os::unix::fs::symlink(&first, &at).unwrap(),
            "hard" => std::fs::hard_link(&from, &at).unwrap(),
            "fifo" => assert!(Command::new("mkfifo").arg(&from).status().unwrap().success()),
            "folder" => std::fs::create_dir_all(&from).unwrap(),
            "env" => given.environment.push((first, second)),
            _ => given.input = unescaped(rest).into_bytes(),
        }
    }
    given
}

/// The program, with no more memory than it may ask for.
fn within(memory: Option<u64>) -> Command {
    let Some(mib) = memory else { return program() };
    let mut shell = Command::new("sh");
    let limited = format!("ulimit -v {} && exec \"$0\" \"$@\"", 1024 * mib);
    shell.args(["-c", &limited, env!("CARGO_BIN_EXE_tidewright")]);
    // Else what is set apart for each thread would count.
    shell.env("MALLOC_ARENA_MAX", "1").env("RAYON_NUM_THREADS", "1").env("COLUMNS", "80");
    shell
}

/// The ways to spell the name of one file.
fn spellings(desk: &Path, name: &str) -> Vec<String> {
    let ending = name.rsplit_once('.').map_or("", |(_, ending)| ending);
    let whole = desk.join(name);
    let folder = desk.file_name().unwrap().to_str().unwrap();
    let (soft, hard) = (format!("soft.{ending}"), format!("hard.{ending}"));
    std::os::unix::fs::symlink(name, desk.join(&soft)).unwrap();
    std::os::unix::fs::symlink(&soft, desk.join(format!("twice.{ending}"))).unwrap();
    std::fs::hard_link(&whole, desk.join(&hard)).unwrap();
    let whole = whole.to_str().unwrap().to_owned();
    let around = format!("../{folder}/{name}");
    vec![name.into(), format!("./{name}"), whole, around, soft, format!("twice.{ending}"), hard]
}

fn wrong(case: &Case, over: Option<&str>, desk: &Path) -> Option<String> {
    let Given { environment, input, memory } = prepare(desk, case);
    let over = over.map(str::to_owned);
    let data = tempfile::tempdir().unwrap();
    let before = files(desk);
    let fill = |text: &str| {
        let filled = text.replace("{over}", over.as_deref().unwrap_or_default());
        unescaped(&filled.replace(
            "{attempts}",
            &repository("scenarios/training/attempts").display().to_string(),
        ))
    };
    let mut program = within(memory);
    program.current_dir(desk).env("TIDEWRIGHT_DATA", data.path()).envs(environment);
    program.args(case.command.split_whitespace().map(fill));
    let (out, err) = (data.path().join("out"), data.path().join("err"));
    program.stdout(std::fs::File::create(&out).unwrap());
    program.stderr(std::fs::File::create(&err).unwrap());
    let mut child = program.stdin(Stdio::piped()).spawn().unwrap();
    // What is refused is not read to its end.
    let _ = child.stdin.take().unwrap().write_all(&input);
    let begun = Instant::now();
    let status = loop {
        match child.try_wait().unwrap() {
            Some(status) => break status,
            None if begun.elapsed() > LONGEST => {
                child.kill().unwrap();
                child.wait().unwrap();
                return Some("it hangs".to_owned());
            }
            None => std::thread::sleep(Duration::from_millis(5)),
        }
    };
    let read = |path| String::from_utf8_lossy(&std::fs::read(path).unwrap()).into_owned();
    let said = read(out) + &read(err);
    let after = files(desk);
    let (mut may_make, mut may_change) = (BTreeSet::new(), BTreeSet::new());
    for (word, rest) in &case.expect {
        let rest = fill(rest);
        let names = || rest.split_whitespace().map(|name| desk.join(name));
        let held = |name: &str| {
            let bytes = after.get(&desk.join(name)).cloned().unwrap_or_default();
            String::from_utf8_lossy(&bytes).into_owned()
        };
        let failed = match word.as_str() {
            "code" => status.code() != rest.parse().ok(),
            "says" => !words(&said).contains(&words(&rest)),
            "never" => {
                let fresh = after.iter().filter(|(path, bytes)| before.get(*path) != Some(bytes));
                let mut texts = fresh.map(|(_, bytes)| String::from_utf8_lossy(bytes));
                said.contains(&rest) || texts.any(|text| text.contains(&rest))
            }
            "makes" => {
                may_make.extend(names());
                names().any(|path| !after.contains_key(&path) || before.contains_key(&path))
            }
            "changes" => {
                may_change.extend(names());
                names().any(|path| after.get(&path) == before.get(&path))
            }
            _ => {
                let (name, text) = rest.split_once(' ').unwrap();
                !held(name).contains(text)
            }
        };
        if failed {
            return Some(format!("not so: {word} {rest}\nended: {status}\n{said}"));
        }
    }
    let touched = before
        .iter()
        .find(|(path, bytes)| after.get(*path) != Some(bytes) && !may_change.contains(*path));
    let left = after.keys().find(|path| !before.contains_key(*path) && !may_make.contains(*path));
    match (touched, left) {
        (None, None) => None,
        (Some((path, _)), _) => Some(format!("{} is touched\n{said}", path.display())),
        (_, Some(path)) => Some(format!("{} is left behind\n{said}", path.display())),
    }
}

#[test]
fn nothing_hostile_misbehaves() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/hostile");
    let mut texts: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    texts.retain(|path| path.extension().is_some_and(|ending| ending == "txt"));
    texts.sort();
    let (mut count, mut tried, mut misbehaving) = (0, 0, Vec::new());
    for case in texts.iter().flat_map(|path| cases(path)) {
        assert!(case.expect.iter().any(|(word, _)| word == "code"), "{}: no code", case.name);
        count += 1;
        let ways = if case.over.is_some() { 7 } else { 1 };
        for way in 0..ways {
            let desk = desk();
            let folder = desk.path().canonicalize().unwrap();
            let over = case.over.as_ref().map(|over| {
                // What is written over may be made by the case itself.
                prepare(&folder, &Case { prepare: case.prepare.clone(), ..Case::default() });
                spellings(&folder, over)[way].clone()
            });
            let case = match over.is_some() {
                true => &Case {
                    name: case.name.clone(),
                    command: case.command.clone(),
                    expect: case.expect.clone(),
                    ..Case::default()
                },
                false => &case,
            };
            tried += 1;
            if let Some(reason) = wrong(case, over.as_deref(), &folder) {
                misbehaving.push(format!("{} ({way}): {reason}", case.name));
            }
        }
    }
    assert!(misbehaving.is_empty(), "{}", misbehaving.join("\n\n"));
    assert!(count >= 120, "{count} cases, {tried} commands");
}
