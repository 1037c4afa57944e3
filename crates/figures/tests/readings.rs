//! What is read off a figure: areas, the curve of a monitor, a gauge, a remark.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::fs;
use std::path::PathBuf;

use roxmltree::Document;
use tidewright_figures::{DrawFileError, Figure, FigureFile, Version};
use tidewright_scenario::{Scenario, parse};

fn scenario(name: &str) -> Scenario {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    parse(name, &fs::read_to_string(folder.join(name)).unwrap()).unwrap()
}

fn try_draw(show: &str, scenario: &Scenario, version: Version) -> Result<Figure, DrawFileError> {
    let head = "format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x\"";
    let file = FigureFile::parse("a.ron", &format!("Figure({head}, show: {show})")).unwrap();
    file.draw(scenario, version)
}

fn draw(show: &str, scenario: &Scenario) -> Figure {
    try_draw(show, scenario, Version::Teacher).unwrap()
}

/// The values of a curve in the data.
fn values(figure: &Figure, label: &str) -> Vec<f64> {
    let start = format!("{label},");
    let rows = figure.to_csv().lines().filter_map(|line| line.strip_prefix(&start));
    rows.map(|row| row.split(',').skip(1).find(|cell| !cell.is_empty()).unwrap().parse().unwrap())
        .collect()
}

/// Areas of the filled polygons of one colour, px², by the trapezoids of their edges.
fn polygons(svg: &str, fill: &str) -> Vec<f64> {
    let document = Document::parse(svg).unwrap();
    let filled = document.descendants().filter(|node| node.attribute("fill") == Some(fill));
    let points = filled.filter_map(|node| node.attribute("points").or(node.attribute("d")));
    let area = |points: &str| {
        let numbers = points.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'));
        let numbers: Vec<f64> = numbers.filter_map(|number| number.parse().ok()).collect();
        let corners: Vec<(f64, f64)> = numbers.chunks(2).map(|pair| (pair[0], pair[1])).collect();
        let closed = corners.iter().zip(corners.iter().cycle().skip(1));
        closed.map(|(a, b)| (b.0 - a.0) * (a.1 + b.1) / 2.0).sum::<f64>().abs()
    };
    points.map(area).filter(|area| *area > 0.0).collect()
}

/// Fowler's two areas, as they are drawn.
#[test]
fn closed_form_the_areas_beside_the_front_are_equal() {
    let mut dog = scenario("heart-fails-breath-does-not.ron");
    dog.ventilator.cycling_pressure_cmh2o = 15.0;
    let show = "Loop(of: CarbonDioxideVolume, breath: 25, curves: [(label: \"one\")], \
                measures: [AirwayDeadSpace])";
    let areas = polygons(&draw(show, &dog).to_svg(), "#b8b8b8");
    assert_eq!(areas.len(), 2, "{areas:?}");
    assert!(areas[0] > 100.0 && (areas[0] / areas[1] - 1.0).abs() < 0.06, "{areas:?}");
    // They would answer the quiz.
    let quiz = try_draw(show, &dog, Version::Student).unwrap();
    assert_eq!(polygons(&quiz.to_svg(), "#b8b8b8"), [0.0; 0]);
}

#[test]
fn a_curve_that_has_its_panel_to_itself_is_not_broken_into_dashes() {
    let cat = scenario("small-leak-hides-large-leak-holds.ron");
    let dashes = |panels: &str| {
        let svg = draw(&format!("Time(to_s: 9, panels: [{panels}])"), &cat).to_svg();
        svg.matches("stroke-dasharray").count()
    };
    assert_eq!(dashes("[AirwayFlow]"), 0);
    assert!(dashes("[AirwayFlow, LeakFlow]") > 0);
}

/// The monitor's curve stands later than the one at the patient by the transport time, and
/// its front is longer.
#[test]
fn phases_stand_on_the_curve_of_the_monitor() {
    let dog = scenario("heart-fails-breath-does-not.ron");
    let said = |panel: &str| {
        let show = format!(
            "Time(from_s: 100, to_s: 110, panels: [[{panel}]], \
             measures: [CapnogramPhases(breath: 25)])"
        );
        let figure = draw(&show, &dog);
        let words = figure.description().replace('\u{a0}', " ");
        let upstroke = words.split("II for ").nth(1).unwrap().split(' ').next().unwrap();
        let svg = figure.to_svg();
        (upstroke.parse::<f64>().unwrap(), svg)
    };
    let (at_patient, _) = said("AirwayCarbonDioxide");
    let (shown, _) = said("Capnogram");
    let rise_s = dog.gas.as_ref().unwrap().capnograph.rise_time_s;
    assert!(shown > at_patient + 0.5 * rise_s, "{shown} {at_patient} {rise_s}");
}

/// The answers that the scenario tells: 6 cmH2O at most, then 7.8, and 10 in truth.
#[test]
fn twin_a_slow_gauge_shows_what_the_scenario_says() {
    let ferret = scenario("slow-gauge-hides-the-peak.ron");
    let highest = |from: u32, to: u32, label: &str| {
        let show =
            format!("Time(from_s: {from}, to_s: {to}, panels: [[AirwayPressure, GaugePressure]])");
        values(&draw(&show, &ferret), label).into_iter().fold(0.0, f64::max)
    };
    assert!((highest(20, 29, "gauge") - 6.0).abs() < 0.3);
    assert!((highest(45, 58, "gauge") - 7.8).abs() < 0.3);
    assert!((highest(20, 29, "airway pressure") - 10.0).abs() < 1e-6);

    let show = "Time(to_s: 5, panels: [[GaugePressure]])";
    let bare = scenario("first-breaths-and-a-leak.ron");
    let error = try_draw(show, &bare, Version::Teacher).unwrap_err();
    assert!(matches!(error, DrawFileError::NoInstruments));
    assert!(error.to_string().contains("write `instruments:"), "{error}");
}

#[test]
fn a_remark_stands_in_the_teachers_version_alone_and_asks_for_a_curve_that_is_there() {
    let cat = scenario("apnoea-and-the-oxygen-store.ron");
    let show = |curve: u32| {
        format!(
            "Trend(to_min: 4, panels: [[OxygenSaturation]], \
             remarks: [(panel: 1, curve: {curve}, at_min: 3, says: \"it has not moved\")])"
        )
    };
    let teacher = draw(&show(1), &cat);
    assert!(teacher.to_svg().contains(">it has not moved<"));
    assert!(teacher.description().contains("At 3 min: it has not moved."));
    let student = try_draw(&show(1), &cat, Version::Student).unwrap();
    assert!(!student.to_svg().contains("it has not moved"));
    let error = try_draw(&show(2), &cat, Version::Teacher).unwrap_err();
    assert!(matches!(error, DrawFileError::NoCurve { panel: 1, curve: 2, count: 1 }), "{error}");
}

const LEAK: &str = "Time(to_s: 9, panels: [[AirwayPressure, AlveolarPressure], [LungVolume]], \
                    measures: [TidalVolume(breath: 1)])";

/// The axes, and so the places of all curves, are those of the whole.
#[test]
fn a_figure_is_built_up_curve_by_curve_at_one_scale() {
    let cat = scenario("small-leak-hides-large-leak-holds.ron");
    let head = "format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x\"";
    let file = FigureFile::parse("a.ron", &format!("Figure({head}, show: {LEAK})")).unwrap();
    let builds = file.builds(&cat, Version::Teacher).unwrap();
    assert_eq!(builds.len(), 2);
    assert_eq!(builds[1], draw(LEAK, &cat));
    let first = builds[0].to_light_svg();
    assert!(first.contains(">airway") && !first.contains(">alveolar"));
    assert!(!first.contains(">VT"), "measures come with the whole");
    let whole = builds[1].to_light_svg();
    let paths: Vec<&str> = first.lines().filter(|line| line.contains("<path")).collect();
    let here = |path: &&&str| whole.contains(path.trim());
    assert_eq!(paths.iter().filter(here).count(), paths.len(), "each stands where it will stand");
}

#[test]
fn a_running_figure_is_the_whole_at_rest_behind_a_curtain() {
    let cat = scenario("small-leak-hides-large-leak-holds.ron");
    let head = "format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x\"";
    let file = FigureFile::parse("a.ron", &format!("Figure({head}, show: {LEAK})")).unwrap();
    let running = file.draw_running(&cat, Version::Teacher).unwrap();
    let document = Document::parse(&running).unwrap();
    let curtain = document.descendants().find(|node| node.has_tag_name("clipPath")).unwrap();
    let through = format!("url(#{})", curtain.attribute("id").unwrap());
    let seen = document.descendants().filter(|n| n.attribute("clip-path") == Some(&*through));
    assert_eq!(seen.count(), 2, "the curves of both panels");
    // Nine seconds of breath, then three of rest.
    assert!(running.contains("animation:a-curtain 12.00s") && running.contains("75.00%,to"));
    assert!(running.contains("@media screen and (prefers-reduced-motion: no-preference)"));
    // Without the curtain it is the figure.
    let still = draw(LEAK, &cat).to_svg();
    let lines = |svg: &str| -> Vec<String> {
        let lines = svg.lines().map(str::trim).filter(|line| line.starts_with("<path"));
        lines.map(str::to_owned).collect()
    };
    assert_eq!(lines(&running), lines(&still));
}
