//! Every file in `bad-files` is refused with the message beside it: where each
//! fault is, what was expected, one way to mend it.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::path::{Path, PathBuf};

use miette::{GraphicalReportHandler, GraphicalTheme};
use tidewright_scenario::{Rejected, parse_bytes};

fn bad_files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("bad-files");
    let entries = std::fs::read_dir(folder).unwrap();
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

/// As the program prints it, without colour.
fn printed(rejected: &Rejected) -> String {
    let mut page = String::new();
    let handler = GraphicalReportHandler::new_themed(GraphicalTheme::unicode_nocolor());
    handler.with_width(100).with_links(false).render_report(&mut page, rejected).unwrap();
    page
}

#[test]
fn every_bad_file_is_refused_with_its_message() {
    let files = bad_files();
    assert!(files.len() >= 40, "only {} bad files", files.len());
    for path in files {
        let name = path.file_name().unwrap().to_str().unwrap();
        let bytes = std::fs::read(&path).unwrap();
        let Err(rejected) = parse_bytes(name, &bytes) else {
            panic!("{name} was accepted");
        };
        assert!(!rejected.faults().is_empty(), "{name} was refused without a reason");
        insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
            insta::assert_snapshot!(name, printed(&rejected));
        });
    }
}
