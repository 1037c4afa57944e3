//! The notices of what is inside a module, out of those of the whole program.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

use super::{PackError, TARGET};

/// Before each entry of the notices, and between its packages and its text.
const BEFORE: &str = "========================================================================\n";
const BETWEEN: &str = "------------------------------------------------------------------------\n";
/// What is in every module and no package.
const FONT: &str = "Inter, the font";

/// The packages that a module is built from, as `name version`.
pub fn packages(root: &Path, light: bool) -> Result<BTreeSet<String>, PackError> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let mut command = Command::new(cargo);
    command.current_dir(root).args(["tree", "-p", "tidewright-web", "--target", TARGET]);
    command.args(["-e", "normal,no-proc-macro", "--prefix", "none", "--locked"]);
    if light {
        command.arg("--no-default-features");
    }
    let output = command.output().map_err(|error| PackError::Build(error.to_string()))?;
    if !output.status.success() {
        return Err(PackError::Build(String::from_utf8_lossy(&output.stderr).into_owned()));
    }
    Ok(String::from_utf8_lossy(&output.stdout).lines().filter_map(package).collect())
}

/// `name version` of a line such as `name v1.2.3 (where it lies)`.
fn package(line: &str) -> Option<String> {
    let mut words = line.split(' ');
    Some(format!("{} {}", words.next()?, words.next()?.strip_prefix('v')?))
}

/// The entries that hold for the font or any of the packages, each with these alone.
pub fn of(notices: &str, packages: &BTreeSet<String>) -> String {
    let holds = |label: &str| {
        let name = label.split(" (").next().unwrap_or(label);
        label.starts_with(FONT) || packages.contains(name)
    };
    let mut entries = notices.split(BEFORE);
    let mut kept = entries.next().unwrap_or_default().to_owned();
    for entry in entries {
        let Some((labels, text)) = entry.split_once(BETWEEN) else { continue };
        let labels: Vec<&str> = labels.lines().filter(|label| holds(label)).collect();
        if !labels.is_empty() {
            kept += &format!("{BEFORE}{}\n{BETWEEN}{text}", labels.join("\n"));
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_stays_with_the_packages_that_are_inside() {
        let entry = |labels: &str, text: &str| format!("{BEFORE}{labels}\n{BETWEEN}{text}\n\n");
        let both = entry("inside 1.0.0 (MIT)\nother 2.1.0 (MIT OR Apache-2.0)", "Terms A");
        let other = entry("other 2.1.0 (MIT)", "Terms B");
        let font = entry("Inter, the font in figures and pages (OFL-1.1)", "Terms C");
        let all = format!("What it is.\n\n{both}{other}{font}");
        let packages = package("inside v1.0.0 (/home/x)").into_iter().collect();
        let kept = of(&all, &packages);
        let inside = entry("inside 1.0.0 (MIT)", "Terms A");
        assert_eq!(kept, format!("What it is.\n\n{inside}{font}"));
    }

    /// No package of a module goes without its notice.
    #[test]
    fn every_package_of_either_module_has_a_notice() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let notices = std::fs::read_to_string(root.join("crates/cli/THIRD-PARTY.txt"));
        let notices = notices.expect("the notices of the program");
        for light in [false, true] {
            let packages = packages(&root, light).expect("a list");
            let kept = of(&notices, &packages);
            for package in packages.iter().filter(|name| !name.starts_with("tidewright")) {
                assert!(kept.contains(&format!("{package} (")), "{package}");
            }
            assert!(kept.len() < notices.len());
        }
    }
}
