//! Every figure file of the gallery, and what is refused.

#![allow(clippy::unwrap_used)]

mod texts;

use std::fs;
use std::path::PathBuf;

use rayon::prelude::*;
use roxmltree::Document;
use texts::assert_texts_are_clear;
use tidewright_figures::file::Size;
use tidewright_figures::{CAUTION, DrawFileError, Figure, FigureFile, Version};
use tidewright_scenario::Scenario;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../figures")
}

fn scenario(path: &str) -> Scenario {
    let text = fs::read_to_string(folder().join(path)).unwrap();
    tidewright_scenario::parse(path, &text).unwrap()
}

fn gallery() -> Vec<(FigureFile, [Figure; 2])> {
    let paths = fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path());
    let files = paths.filter(|path| path.extension().is_some_and(|ending| ending == "ron"));
    files
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let file = FigureFile::parse(&name, &fs::read_to_string(&path).unwrap()).unwrap();
            assert_eq!(name, format!("{}.ron", file.id));
            let scenario = scenario(&file.scenario);
            let draw = |version| file.draw(&scenario, version).unwrap();
            let drawn = [Version::Teacher, Version::Student].map(draw);
            (file, drawn)
        })
        .collect()
}

/// Every figure draws at every size, and keeps its proportions where it had to grow.
#[test]
fn law_every_figure_has_room_at_every_size() {
    let paths = fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path());
    let files: Vec<PathBuf> =
        paths.filter(|path| path.extension().is_some_and(|ending| ending == "ron")).collect();
    let looks = [
        (Size::Slide, 960.0, 540.0),
        (Size::SlideFourToThree, 880.0, 660.0),
        (Size::Column, 400.0, 520.0),
    ];
    files.into_par_iter().for_each(|path| {
        let mut file = FigureFile::parse("a.ron", &fs::read_to_string(&path).unwrap()).unwrap();
        let scenario = scenario(&file.scenario);
        for (look, width, height) in looks {
            file.look = look;
            let figure = file.draw(&scenario, Version::Teacher).unwrap_or_else(|error| {
                panic!("{} at {look:?}: {error}", file.id);
            });
            let svg = figure.to_light_svg();
            let document = Document::parse(&svg).unwrap();
            let length = |name: &str| -> f64 {
                document.root_element().attribute(name).unwrap().parse().unwrap()
            };
            let (wide, high) = (length("width"), length("height"));
            assert!(
                (wide / high / (width / height) - 1.0).abs() < 0.01,
                "{}: {wide} {high}",
                file.id
            );
            assert!(wide >= width && wide < 2.2 * width, "{} at {look:?}: {wide}", file.id);
        }
    });
}

#[test]
fn every_figure_is_sound_and_no_text_is_clipped_or_covered() {
    let gallery = gallery();
    assert!(gallery.len() >= 16);
    for (file, drawn) in &gallery {
        for figure in drawn {
            for svg in [figure.to_svg(), figure.to_light_svg()] {
                let document = Document::parse(&svg).unwrap();
                let elements = document.root_element().children().filter(|n| n.is_element());
                let named: Vec<_> = elements.take(2).collect();
                assert!(named[0].has_tag_name("title") && named[1].has_tag_name("desc"));
                assert_eq!(named[1].text(), Some(figure.description()));
            }
            let svg = figure.to_svg();
            let document = Document::parse(&svg).unwrap();
            let texts = document.descendants().filter(|node| node.has_tag_name("text"));
            let texts: Vec<&str> = texts.filter_map(|node| node.text()).collect();
            // Read aloud, a figure begins with its heading and ends with the caution.
            assert!(figure.title().starts_with(texts[0]), "{}: {}", file.id, texts[0]);
            assert!(CAUTION.ends_with(texts[texts.len() - 1]), "{}", file.id);
            assert!(figure.to_light_svg().len() < 60_000, "{}", file.id);
            assert_texts_are_clear(file.id.as_str(), &figure.to_svg());
        }
    }
}

#[test]
fn a_quiz_gives_no_answer_away() {
    for (file, [_, quiz]) in gallery() {
        let svg = quiz.to_svg();
        for hidden in [file.title.as_str(), file.teaches.as_str(), "ended by", "ends-of-breaths"] {
            assert!(!svg.contains(hidden), "{}: {hidden}", file.id);
        }
        let texts: Vec<String> = Document::parse(&svg)
            .unwrap()
            .descendants()
            .filter(|node| node.has_tag_name("text"))
            .filter_map(|node| node.text().map(str::to_owned))
            .collect();
        assert!(CAUTION.ends_with(texts.last().unwrap()));
    }
}

#[test]
fn a_sweep_holds_the_closed_form_of_a_rigid_circuit() {
    // VT = C (Pc − R Q) and TI = VT / Q for a lung that empties and a rigid circuit.
    let text = r#"Figure(
        format: 1, id: "closed", title: "t", teaches: "t", scenario: "x",
        show: Sweep(
            over: FreshGasFlow(from_l_min: 1, to_l_min: 3),
            metrics: [TidalVolume, InspiratoryTime],
            curves: [(label: "lung")],
        ),
    )"#;
    let mut scenario = scenario("../scenarios/flow-sets-inspiratory-time.ron");
    scenario.circuit.compliance_ml_cmh2o = 0.0;
    scenario.circuit.valve_resistance_cmh2o_s_l = 0.01;
    scenario.ventilator.expiratory_time_s = 20.0;
    let file = FigureFile::parse("closed.ron", text).unwrap();
    let figure = file.draw(&scenario, Version::Teacher).unwrap();
    let mut lines = figure.to_csv().lines();
    let head = lines.next().unwrap();
    assert!(
        head.starts_with("curve,fresh_gas_flow_l_min,expired_tidal_volume_ml,inspiratory_time_s,")
    );
    let mut checked = 0;
    for line in lines {
        let cells: Vec<&str> = line.split(',').collect();
        let flow_ml_s = cells[1].parse::<f64>().unwrap() / 0.06;
        let volume = 5.5 * (9.0 - 24.0 * flow_ml_s / 1000.0);
        let (value, expected) = match cells[2] {
            "" => (cells[3].parse::<f64>().unwrap(), volume / flow_ml_s),
            value => (value.parse::<f64>().unwrap(), volume),
        };
        assert!((value - expected).abs() < 2e-3 * expected, "{line}: {expected}");
        checked += 1;
    }
    assert_eq!(checked, 2 * 121);
}

#[test]
fn faults_of_a_figure_file_have_their_place_and_remedy() {
    let rejected = |show: &str| {
        let text = format!(
            "Figure(format: 1, id: \"a\", title: \"t\", teaches: \"t\",\n scenario: \"x\",\n \
             show: {show})"
        );
        let rejected = FigureFile::parse("a.ron", &text).unwrap_err();
        let fault = &rejected.faults()[0];
        assert_eq!(rejected.place(fault).line, 3);
        format!("{fault}; {}", fault.mend())
    };
    let backwards = rejected("Time(from_s: 9, to_s: 3, panels: [[AirwayFlow]])");
    assert!(backwards.contains("runs from 9 to 3 s"), "{backwards}");
    let mixed = rejected("Time(to_s: 3, panels: [[AirwayFlow, LungVolume]])");
    assert!(mixed.contains("different units"), "{mixed}");
    let unit = rejected(
        "Sweep(over: FreshGasFlow(from: 1, to_l_min: 2), metrics: [Rate], curves: [(label: \"a\")])",
    );
    assert!(unit.contains("no field `from`"), "{unit}");
    let range = rejected(
        "Map(metric: Rate, over: ExpiratoryTime(from_s: 2, to_s: 1), and: Leak(from_ml_min: 0, to_ml_min: 10))",
    );
    assert!(range.contains("runs from 2 to 1"), "{range}");
}

#[test]
fn what_a_run_cannot_show_is_refused_with_its_reason() {
    let base = scenario("../scenarios/flow-sets-inspiratory-time.ron");
    let refusal = |show: &str| {
        let text = format!(
            "Figure(format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x\", show: {show})"
        );
        let file = FigureFile::parse("a.ron", &text).unwrap();
        file.draw(&base, Version::Teacher).unwrap_err()
    };
    let breath =
        "Time(to_s: 9, panels: [[AirwayPressure]], measures: [InspiratoryTime(breath: 900)])";
    assert!(matches!(refusal(breath), DrawFileError::NoBreath { breath: 900, .. }));
    let panel = "Time(to_s: 9, panels: [[AirwayPressure]], measures: [TidalVolume(breath: 1)])";
    assert!(refusal(panel).to_string().contains("a panel with lung volume"));
    let standby =
        "Bars(metrics: [Rate], bars: [(label: \"on\"), (label: \"off\", set: [Mode(Standby)])])";
    assert!(refusal(standby).to_string().contains("`off` has no settled breath"));
}
