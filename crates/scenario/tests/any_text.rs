//! No text whatever makes the reader panic, hang or stay silent, and what it
//! accepts the general parsers accept too.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::time::{Duration, Instant};

use proptest::prelude::*;
use ron::extensions::Extensions;
use tidewright_scenario::{Rejected, Scenario, parse, parse_bytes};

const GOOD: &str = r#"Scenario(
    format: 1, // first
    id: "grey-cat",
    patient: (species: Cat, weight_kg: 4.0, lung: (compliance_ml_cmh2o: 6, resistance_cmh2o_s_l: 20)),
    circuit: (compliance_ml_cmh2o: 0.15, leak: (ml_min: 300, at_cmh2o: 30, law: Linear)),
    ventilator: (
        fresh_gas_flow_l_min: 2.2, cycling_pressure_cmh2o: 10,
        inspiratory_time_limit_s: 3.0, expiratory_time_s: 1.2,
    ),
    duration_s: 60,
    instruments: (gauge: (lag_s: 0.1), spirometer: (at: Machine)),
    timeline: [(at_s: 20, set: FreshGasFlow(l_min: 2.4)), (at_s: 40, set: Mode(Standby))],
    faults: [(at_s: 5, onset: Ramp(s: 4), until_s: 9, fault: CuffLeak(severity: 0.5)), (at_s: 7, fault: Mucus)],
)"#;

/// Pieces that are likely to upset a reader.
const PIECES: [&str; 42] = [
    "(",
    ")",
    "[",
    "]",
    "{",
    "}",
    ",",
    ":",
    ";",
    "=",
    "\"",
    "'",
    "\\",
    "/",
    "//",
    "/*",
    "*/",
    "#",
    "r#\"",
    "-",
    "+",
    ".",
    "_",
    "1e999",
    "1e-999",
    "0x1F",
    "NaN",
    "inf",
    "None",
    "null",
    "Some(",
    "true",
    "\n",
    "\r",
    "\t",
    "\u{a0}",
    "\u{feff}",
    "\u{202e}",
    "é",
    "🐈",
    "\u{0}",
    "12345678901234567890",
];

/// Uses everything of a refusal that a program would show.
fn reported(rejected: &Rejected) {
    use miette::{Diagnostic, NarratableReportHandler};
    assert!(!rejected.faults().is_empty(), "refused without a reason");
    assert!(rejected.faults().len() <= 20);
    for fault in rejected.faults() {
        let place = rejected.place(fault);
        assert!(place.line >= 1 && place.column >= 1);
        assert!(!fault.to_string().is_empty() && !fault.mend().is_empty());
        assert!(!fault.expected().is_empty() && fault.code().is_ascii());
    }
    assert_eq!(rejected.related().unwrap().count(), rejected.faults().len());
    let mut page = String::new();
    NarratableReportHandler::new().render_report(&mut page, rejected).unwrap();
    assert!(!page.contains('\u{1b}'));
}

fn tried(name: &str, text: &str) -> Option<Scenario> {
    match parse(name, text) {
        Ok(scenario) => Some(scenario),
        Err(rejected) => {
            reported(&rejected);
            None
        }
    }
}

fn mutated(good: &str, changes: &[(usize, usize, usize)]) -> String {
    let mut text: Vec<char> = good.chars().collect();
    for &(at, cut, piece) in changes {
        let at = at % (text.len() + 1);
        let end = (at + cut).min(text.len());
        text.splice(at..end, PIECES.get(piece).unwrap_or(&"").chars());
    }
    text.into_iter().collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_mutated_ron_is_refused_with_reasons_or_valid_for_the_ron_crate(
        changes in prop::collection::vec((0usize..2000, 0usize..12, 0usize..60), 1..6)
    ) {
        let text = mutated(GOOD, &changes);
        if let Some(scenario) = tried("mutated.ron", &text) {
            let options = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME);
            let twin = options.from_str::<ron::Value>(text.trim_start_matches('\u{feff}'));
            prop_assert!(twin.is_ok(), "{:?}\n{}", twin, text);
            prop_assert_eq!(parse("again.ron", &scenario.to_ron()).unwrap(), scenario);
        }
    }

    #[test]
    fn any_mutated_json_is_refused_with_reasons_or_valid_for_serde_json(
        changes in prop::collection::vec((0usize..2000, 0usize..12, 0usize..60), 1..6)
    ) {
        let good = parse("good.ron", GOOD).unwrap().to_json();
        let text = mutated(&good, &changes);
        if let Some(scenario) = tried("mutated.json", &text) {
            let twin = serde_json::from_str::<serde_json::Value>(text.trim_start_matches('\u{feff}'));
            prop_assert!(twin.is_ok(), "{:?}\n{}", twin, text);
            prop_assert_eq!(parse("again.json", &scenario.to_json()).unwrap(), scenario);
        }
    }

    #[test]
    fn any_soup_of_pieces_is_refused_with_reasons(
        soup in prop::collection::vec(0usize..PIECES.len(), 0..200), json: bool
    ) {
        let text: String = soup.iter().map(|&piece| PIECES[piece]).collect();
        tried(if json { "soup.json" } else { "soup.ron" }, &text);
    }

    #[test]
    fn any_bytes_are_refused_with_reasons(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        if let Err(rejected) = parse_bytes("bytes.ron", &bytes) {
            reported(&rejected);
        }
    }
}

#[test]
fn texts_made_to_exhaust_are_refused_in_good_time() {
    let mega = 1 << 20;
    let fill = |piece: &str| piece.repeat(mega / piece.len());
    let texts = [
        fill("("),
        fill("["),
        fill("{\"a\":"),
        fill("a:"),
        fill("a(1)"),
        fill(","),
        fill("x "),
        fill("\"\\q\","),
        fill("/*"),
        fill("9"),
        format!("(format: {}, id: \"{}\")", fill("9"), "x"),
        format!("({}: 1)", fill("long")),
        format!("(id: \"{}\")", fill("long")),
        format!("(timeline: [{}])", fill("(at_s: 1, set: X),")),
        format!("(timeline: [{}])", fill("1,")),
        format!("({})", fill("format: 1,")),
        fill("\n"),
        fill("r#"),
        fill("'"),
        fill("\u{a0}"),
        "x".repeat(mega + 1),
    ];
    for text in texts {
        let begun = Instant::now();
        let text = &text[..text.floor_char_boundary(mega)];
        assert!(tried("huge.ron", text).is_none());
        assert!(tried("huge.json", text).is_none());
        let taken = begun.elapsed();
        assert!(
            taken < Duration::from_secs(5),
            "{taken:?} for {}",
            &text[..text.floor_char_boundary(40)]
        );
    }
}
