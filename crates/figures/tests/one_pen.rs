//! A quantity wears one pen in every kind of figure.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use roxmltree::{Document, Node};
use tidewright::prelude::*;
use tidewright_figures::{FigureFile, Look, Version, Waveforms};
use tidewright_scenario::{DEMO, Scenario, parse};

/// Colour and dashes of the longest curve in the first panel whose name ends so.
fn pen(svg: &str, panel: &str) -> (String, String) {
    let document = Document::parse(svg).unwrap();
    let ends = |node: &Node| node.attribute("id").is_some_and(|id| id.ends_with(panel));
    let group = document.descendants().find(ends).unwrap_or_else(|| panic!("no {panel}: {svg}"));
    let curves = group.children().filter(|node| node.attribute("stroke-linejoin").is_some());
    // A curve with dashes is drawn twice: the thin line under them first.
    let longest = curves.max_by_key(|node| node.attribute("d").map(str::len)).unwrap();
    let told = |name| longest.attribute(name).unwrap_or_default().to_owned();
    (told("stroke"), told("stroke-dasharray"))
}

fn scenario(gas: &str) -> Scenario {
    parse("demo.ron", &DEMO.replace("duration_s", &format!("{gas}duration_s"))).unwrap()
}

fn of_a_file(show: &str, scenario: &Scenario, panel: &str) -> (String, String) {
    let text = format!(
        "Figure(format: 1, id: \"one\", title: \"One\", scenario: \"demo.ron\", show: {show})"
    );
    let file = FigureFile::parse_for("one.ron", &text, scenario)
        .unwrap_or_else(|rejected| panic!("{rejected} {}", rejected.faults()[0]));
    pen(&file.draw(scenario, Version::Teacher).unwrap().to_svg(), panel)
}

fn over_time(trace: &str, scenario: &Scenario, panel: &str) -> (String, String) {
    of_a_file(&format!("Time(from_s: 0, to_s: 12, panels: [[{trace}]])"), scenario, panel)
}

/// A run drawn as such, and figure files with one panel each.
#[test]
fn twin_runs_and_figure_files_draw_a_quantity_alike() {
    let scenario = scenario("");
    let simulation = Simulation::new(&scenario.protocol()).unwrap();
    let trace = simulation.trace().unwrap();
    let run = Waveforms::from_run(&trace, 0.0..12.0).figure(&Look::default()).unwrap().to_svg();
    let mut pens = Vec::new();
    for (name, of_run, of_file) in [
        ("AirwayPressure", "-pressure", "-airway-pressure"),
        ("AirwayFlow", "-flow", "-airway-flow"),
        ("LungVolume", "-volume", "-lung-volume"),
    ] {
        let own = pen(&run, of_run);
        assert_eq!(over_time(name, &scenario, of_file), own, "{name}");
        assert!(!pens.contains(&own), "{name}: two quantities with one pen");
        pens.push(own);
    }
}

/// Figures over seconds, and over minutes.
#[test]
fn twin_curves_and_trends_draw_gas_alike() {
    let scenario = scenario("gas: (), ");
    for (trace, over_s, measure, over_min) in [
        ("Capnogram", "-capnogram", "EndTidalCarbonDioxide", "-end-tidal-co2"),
        ("ArterialCarbonDioxide", "-arterial-co2", "ArterialCarbonDioxide", "-arterial-co2"),
        ("OxygenSaturation", "-spo2", "OxygenSaturation", "-spo2"),
        ("LungVolume", "-lung-volume", "MinuteVolume", "-minute-volume"),
    ] {
        let trend = of_a_file(&format!("Trend(panels: [[{measure}]])"), &scenario, over_min);
        assert_eq!(over_time(trace, &scenario, over_s), trend, "{trace} and {measure}");
    }
}
