//! The reference of figure files: its examples are figure files, and can be drawn.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright_figures::{FigureFile, Version, reference};

#[test]
fn law_every_example_of_the_reference_can_be_drawn() {
    let page = reference();
    let blocks = page.split("```").skip(1).step_by(2);
    let examples: Vec<&str> = blocks.filter_map(|block| block.strip_prefix("ron\n")).collect();
    assert!(examples.len() >= 7);
    let gas = tidewright_scenario::DEMO.replacen("duration_s:", "gas: (),\n    duration_s:", 1);
    for example in examples {
        let text = match example.starts_with("Figure(") {
            true => example.to_owned(),
            false => format!(
                "Figure(format: 1, id: \"a\", title: \"A\", teaches: \"A.\", scenario: \"a.ron\", \
                 show: {example})"
            ),
        };
        let scenario = match example.starts_with("Trend") {
            true => tidewright_scenario::parse("a.ron", &gas).unwrap(),
            false => tidewright_scenario::parse("a.ron", tidewright_scenario::DEMO).unwrap(),
        };
        let file = FigureFile::parse_for("a.ron", &text, &scenario)
            .unwrap_or_else(|rejected| panic!("{text}\n{}", rejected.faults()[0]));
        let drawn = file.draw(&scenario, Version::Teacher);
        // A circuit given by numbers has no drawing; the scenario is not the example's.
        if !example.starts_with("Circuit") {
            drawn.unwrap();
        }
    }
}

#[test]
fn law_every_part_of_a_figure_file_is_in_the_reference() {
    let page = reference();
    for part in [
        "Figure",
        "Size",
        "Show",
        "Time",
        "Loop",
        "Trend",
        "Sweep",
        "Bars",
        "Map",
        "FreshGasNeed",
        "CircuitDrawing",
        "Trace",
        "BreathMeasure",
        "Range",
        "Variant",
    ] {
        assert!(page.contains(&format!("\n## {part}\n")), "{part}");
    }
    for field in ["`look`", "`question`", "`need_to_pause_percent`", "`compare`", "`marks`"] {
        assert!(page.contains(&format!("| {field} |")), "{field}");
    }
    // What scenario files say stands there.
    assert!(!page.contains("\n## Change\n"));
}
