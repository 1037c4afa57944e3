//! Figures of carbon dioxide and oxygen: what they show is what the run holds.

#![allow(clippy::unwrap_used)]

mod texts;

use std::fs;
use std::path::PathBuf;

use proptest::prelude::*;
use roxmltree::Document;
use texts::assert_texts_are_clear;
use tidewright::exchange::{GasBreath, fresh_gas_need};
use tidewright::run::Simulation;
use tidewright_figures::{DrawFileError, Figure, FigureFile, Look, Version, Waveforms};
use tidewright_scenario::{Scenario, parse};

fn scenario(name: &str) -> Scenario {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    let text = fs::read_to_string(folder.join(name)).unwrap();
    parse(name, &text).unwrap()
}

fn file(show: &str) -> FigureFile {
    let text = format!(
        "Figure(format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x\", show: {show})"
    );
    FigureFile::parse("a.ron", &text).unwrap()
}

fn draw(show: &str, scenario: &Scenario) -> Figure {
    file(show).draw(scenario, Version::Teacher).unwrap()
}

/// The rows of one curve in one column of the data.
fn curve(figure: &Figure, label: &str, column: &str) -> Vec<(f64, f64)> {
    let mut lines = figure.to_csv().lines();
    let head = lines.next().unwrap();
    let place = head.split(',').position(|name| name == column);
    let place = place.unwrap_or_else(|| panic!("no `{column}` in `{head}`"));
    let columns = head.split(',').count();
    let rows = lines.map(|line| {
        // A label may hold commas of its own.
        let mut cells: Vec<&str> = line.rsplitn(columns, ',').collect();
        cells.reverse();
        cells
    });
    rows.filter(|cells| cells[0].trim_matches('"') == label && !cells[place].is_empty())
        .map(|cells| (cells[1].parse().unwrap(), cells[place].parse().unwrap()))
        .collect()
}

fn breaths(scenario: &Scenario) -> Vec<GasBreath> {
    let simulation = Simulation::new(&scenario.protocol()).unwrap();
    let coupled = scenario.coupled(&simulation).unwrap();
    coupled.flat_map(|together| together.unwrap().gas.unwrap().breaths).collect()
}

/// Area inside a loop, by the trapezoids of its edge.
fn area(points: &[(f64, f64)]) -> f64 {
    let closed = points.iter().zip(points.iter().cycle().skip(1));
    closed.map(|(a, b)| (b.0 - a.0) * (a.1 + b.1) / 2.0).sum()
}

/// The loop of carbon dioxide over volume encloses what the breath took out: what
/// the meter finds from the same run in coarser steps.
#[test]
fn twin_the_loop_encloses_what_the_breath_took_out() {
    let dog = scenario("heart-fails-breath-does-not.ron");
    let drawn = draw("Loop(of: CarbonDioxideVolume, breath: 25, curves: [(label: \"one\")])", &dog);
    let found = area(&curve(&drawn, "one", "airway_co2_mmhg"));
    let breath = breaths(&dog)[24];
    let out = breath.mixed_expired_carbon_dioxide.as_mmhg() * breath.expired.as_ml();
    let back = breath.mean_inspired_carbon_dioxide.as_mmhg() * breath.inspired.as_ml();
    assert!((found / (out - back) - 1.0).abs() < 0.01, "{found} {}", out - back);
}

/// What a patient of its own drive breathes in again is left out of the loop.
#[test]
fn twin_a_loop_of_rebreathing_encloses_the_difference() {
    let mut dog = scenario("rebreathing-on-a-t-piece.ron");
    dog.ventilator.fresh_gas_flow_l_min = 1.0;
    let show = "Loop(of: CarbonDioxideVolume, breath: 60, curves: [(label: \"one\")])";
    let found = area(&curve(&draw(show, &dog), "one", "airway_co2_mmhg"));
    let breath = breaths(&dog)[59];
    let out = breath.mixed_expired_carbon_dioxide.as_mmhg() * breath.expired.as_ml();
    let back = breath.mean_inspired_carbon_dioxide.as_mmhg() * breath.inspired.as_ml();
    assert!(back > 0.3 * out, "{back} {out}");
    assert!((found / (out - back) - 1.0).abs() < 0.02, "{found} {}", out - back);
}

/// The measured dead space is that of the patient's tube, airway and adapter, which
/// the scenario gives.
#[test]
fn closed_form_dead_space_of_the_loop_is_the_airways_and_the_adapter() {
    let dog = scenario("heart-fails-breath-does-not.ron");
    let given = dog.gas_plan().unwrap().unwrap().exchange;
    let expected = given.airway_ml + given.apparatus.adapter_ml;
    let figure = draw(
        "Loop(of: CarbonDioxideVolume, breath: 25, curves: [(label: \"one\")], \
         measures: [AirwayDeadSpace])",
        &dog,
    );
    let words = figure.description().replace('\u{a0}', " ");
    let number = words.split("dead space ").nth(1).unwrap().split(' ').next().unwrap();
    let found: f64 = number.parse().unwrap();
    assert!((found / expected - 1.0).abs() < 0.02, "{found} {expected}");
    // The line that shows it stands at that volume.
    let line = curve(&figure, "plateau", "airway_co2_mmhg");
    assert!((line[0].0 - found).abs() < 0.06 && line[0].1 == 0.0, "{line:?}");
}

/// What a limb that mixes may bring back to a patient with plenty of fresh gas, mmHg.
const NEXT_TO_NOTHING: f64 = 2.0;

/// The phases follow each other; the first carries no carbon dioxide, the last lies
/// on the plateau.
#[test]
fn phases_of_a_capnogram_are_where_its_curve_says() {
    let dog = scenario("heart-fails-breath-does-not.ron");
    let figure = file(
        "Time(from_s: 100, to_s: 109, panels: [[AirwayCarbonDioxide]], \
         measures: [CapnogramPhases(breath: 25)])",
    )
    .draw(&dog, Version::Teacher)
    .unwrap();
    let points = curve(&figure, "at the patient", "airway_co2_mmhg");
    let breath = breaths(&dog)[24];
    let start = breath.start.as_s();
    let inside = |from: f64, to: f64| {
        points.iter().filter(move |p| from <= p.0 && p.0 <= to).map(|p| p.1).collect::<Vec<_>>()
    };
    // From inspiration's start to the front: next to nothing.
    let front = points.iter().position(|p| p.0 > start + 0.1 && p.1 > NEXT_TO_NOTHING).unwrap();
    let to = points[front - 1];
    let inspiration_s = breath.duration.as_s() - 3.0;
    let dead_space_s = to.0 - start - inspiration_s;
    assert!((0.0..0.12).contains(&dead_space_s), "{dead_space_s}");
    let plateau = inside(start + 1.55, start + 1.9);
    let end_tidal = breath.end_tidal_carbon_dioxide.as_mmhg();
    assert!(plateau.iter().all(|level| (level / end_tidal - 1.0).abs() < 0.02), "{plateau:?}");
    let said = figure.description();
    assert!(said.contains("Phases of the capnogram: 0 for 1.27 s, I for 0.0"), "{said}");
}

#[test]
fn a_trend_holds_the_numbers_of_the_breaths() {
    let dog = scenario("square-and-rising.ron");
    let figure = draw(
        "Trend(to_min: 20, panels: [[EndTidalCarbonDioxide, ArterialCarbonDioxide], \
         [MinuteVolume], [OxygenSaturation]])",
        &dog,
    );
    let head = figure.to_csv().lines().next().unwrap();
    assert!(
        head.starts_with("curve,time_min,end_tidal_co2_mmhg,minute_volume_ml_min,spo2_percent,"),
        "{head}"
    );
    let drawn = curve(&figure, "end-tidal", "end_tidal_co2_mmhg");
    let measured = breaths(&dog);
    assert_eq!(drawn.len(), measured.len());
    for ((at_min, value), breath) in drawn.into_iter().zip(&measured) {
        let end_s = (breath.start + breath.duration).as_s();
        assert!((60.0 * at_min - end_s).abs() < 1e-3);
        assert!((value - breath.end_tidal_carbon_dioxide.as_mmhg()).abs() < 1e-6);
    }
    let volume = curve(&figure, "minute volume", "minute_volume_ml_min");
    let last = measured.last().unwrap();
    let expected = last.expired.as_ml() / last.duration.as_s() * 60.0;
    assert!((volume.last().unwrap().1 - expected).abs() < 1e-6);
    let arterial = curve(&figure, "arterial", "end_tidal_co2_mmhg");
    assert!(arterial.last().unwrap().1 > arterial[0].1 + 10.0, "it hypoventilates");
    assert!(figure.description().contains("At 3 min: cycling pressure 5.5 cmH2O."));
}

/// Nobody breathes for minutes: a monitor shows no number, and neither does a trend.
#[test]
fn a_trend_has_a_gap_where_nobody_breathes() {
    let cat = scenario("apnoea-and-the-oxygen-store.ron");
    let figure = draw("Trend(to_min: 9, panels: [[EndTidalCarbonDioxide]])", &cat);
    let points = curve(&figure, "end-tidal", "end_tidal_co2_mmhg");
    assert!(points.iter().any(|p| p.0 < 2.2) && points.iter().any(|p| p.0 > 8.0));
    assert!(!points.iter().any(|p| (2.3..8.0).contains(&p.0)));
}

/// On air the saturation falls first: the oxygen in the lung is a fifth.
#[test]
fn practice_oxygen_delays_the_fall_of_saturation() {
    let cat = scenario("apnoea-and-the-oxygen-store.ron");
    let figure = draw(
        "Trend(to_min: 8, panels: [[OxygenSaturation]], runs: [(label: \"oxygen\"), \
         (label: \"air\", set: [FreshGasOxygen(percent: 21)])])",
        &cat,
    );
    let below = |label: &str, level: f64| {
        let points = curve(&figure, label, "spo2_percent");
        points.into_iter().find(|p| p.1 < level).unwrap().0
    };
    let (oxygen, air) = (below("oxygen", 85.0), below("air", 85.0));
    assert!(air > 2.0 && oxygen > air + 3.0, "{oxygen} {air}");
}

/// Fresh gas over the minute volume at which the plug-flow curve comes to zero.
#[test]
fn closed_form_the_need_is_where_inspired_carbon_dioxide_ends() {
    let bench = scenario("ten-kilograms-on-a-t-piece.ron");
    for (pause, from, to) in [(0.0, 2.2, 2.35), (20.0, 1.68, 1.83)] {
        let show = format!(
            "FreshGasNeed(from_ratio: {from}, to_ratio: {to}, panels: [(\
             of: HighestInspiredCarbonDioxide, tidal_volume_ml: 90, rate_per_min: 20, \
             curves: [(label: \"one\", breaths: Sinusoid(pause_percent: {pause}), \
             limb_mixing: PlugFlow)])])"
        );
        let figure = draw(&show, &bench);
        let points = curve(&figure, "one", "highest_inspired_co2_percent");
        let need = fresh_gas_need(pause / 100.0).unwrap();
        let free = points.iter().find(|p| p.1 < 0.02).unwrap().0;
        // A hundred steps a breath and the parcels of the limb blur the front a little.
        assert!((free / need - 1.0).abs() < 0.03, "pause {pause}: {free}, {need}");
        assert!(figure.description().contains(&format!("one: {need:.2}")));
    }
}

/// Published: Hatch, Yates and Lindahl 1987 (abstract): 5.89 ± 0.53 kPa. Plug flow
/// lies below, a limb that mixes within; the sinusoid's line has the closed form.
#[test]
fn published_rebreathing_is_drawn_beside_the_engines() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../figures/fresh-gas-need.ron");
    let text = &fs::read_to_string(path).unwrap();
    let bench = scenario("ten-kilograms-on-a-t-piece.ron");
    let file = FigureFile::parse_for("need.ron", text, &bench).unwrap();
    let figure = file.draw(&bench, Version::Teacher).unwrap();
    let at_one = |label: &str| {
        let points = curve(&figure, label, "end_tidal_co2_mmhg");
        let after = points.iter().position(|p| p.0 >= 1.0).unwrap();
        let (a, b) = (points[after - 1], points[after]);
        a.1 + (b.1 - a.1) * (1.0 - a.0) / (b.0 - a.0)
    };
    let (low, high) = ((5.89 - 0.53) * 7.50062, (5.89 + 0.53) * 7.50062);
    let (plug, mixed) = (at_one("ventilated, plug"), at_one("ventilated, mixed"));
    assert!(plug < low && (low..high).contains(&mixed), "{plug} {mixed}");
    let pauses =
        curve(&figure, "free of rebreathing to the right", "expiratory_pause_percent_of_cycle");
    let none = pauses.iter().find(|p| p.1 == 0.0).unwrap().0;
    assert!((none - 2.2764).abs() < 5e-5, "{none}");
}

#[test]
fn gas_asked_of_a_scenario_without_it_is_refused_at_its_place() {
    let plain = scenario("flow-sets-inspiratory-time.ron");
    let faults = [
        ("Time(to_s: 3, panels: [[AirwayFlow], [Capnogram]])", "`Capnogram`", 45),
        (
            "Loop(of: CarbonDioxideVolume, breath: 1, curves: [(label: \"a\")])",
            "`CarbonDioxideVolume`",
            16,
        ),
        ("Trend(to_min: 3, panels: [[MinuteVolume]])", "`Trend`", 7),
    ];
    for (show, word, column) in faults {
        let text = format!(
            "Figure(format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x.ron\",\nshow: {show})"
        );
        let rejected = FigureFile::parse_for("a.ron", &text, &plain).unwrap_err();
        let fault = &rejected.faults()[0];
        let place = rejected.place(fault);
        assert_eq!((place.line, place.column), (2, column), "{show}");
        assert!(fault.to_string().contains(word), "{fault}");
        assert!(fault.mend().contains("`gas: ()` in x.ron"), "{}", fault.mend());
        let refused = file(show).draw(&plain, Version::Teacher).unwrap_err();
        assert!(matches!(refused, DrawFileError::NoGas), "{refused}");
    }
    // A label is the author's own, whatever it says.
    let text = "Figure(format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x\", show: \
        Bars(metrics: [Rate], bars: [(label: \"Capnogram\"), (label: \"Trend\")]))";
    assert!(FigureFile::parse_for("a.ron", text, &plain).is_ok());
    // In JSON words are texts.
    let text = r#"{"format": 1, "id": "a", "title": "t", "teaches": "t", "scenario": "x.ron",
        "show": {"Time": {"to_s": 3, "panels": [["Capnogram"]]}}}"#;
    let rejected = FigureFile::parse_for("a.json", text, &plain).unwrap_err();
    assert_eq!(rejected.place(&rejected.faults()[0]).line, 2);
}

#[test]
fn what_does_not_go_together_is_refused_with_its_reason() {
    let rejected = |show: &str| {
        let text = format!(
            "Figure(format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x\", show: {show})"
        );
        let rejected = FigureFile::parse("a.ron", &text).unwrap_err();
        format!("{}; {}", rejected.faults()[0], rejected.faults()[0].mend())
    };
    let mixed = rejected("Trend(to_min: 3, panels: [[EndTidalCarbonDioxide, OxygenSaturation]])");
    assert!(mixed.contains("different units"), "{mixed}");
    let several = rejected(
        "Trend(to_min: 3, panels: [[EndTidalCarbonDioxide, ArterialCarbonDioxide]], \
         runs: [(label: \"a\"), (label: \"b\")])",
    );
    assert!(several.contains("several measures of several runs"), "{several}");
    let backwards = rejected("Trend(from_min: 3, to_min: 2, panels: [[MinuteVolume]])");
    assert!(backwards.contains("from 3 to 2 min"), "{backwards}");
    let measure = rejected(
        "Loop(of: FlowVolume, breath: 1, curves: [(label: \"a\")], measures: [AirwayDeadSpace])",
    );
    assert!(measure.contains("CarbonDioxideVolume"), "{measure}");

    let off = scenario("off-the-tube.ron");
    let refused = |show: &str| file(show).draw(&off, Version::Teacher).unwrap_err().to_string();
    let plateau = refused(
        "Loop(of: CarbonDioxideVolume, breath: 30, curves: [(label: \"a\")], \
         measures: [AirwayDeadSpace])",
    );
    assert!(plateau.contains("breath 30 breathes out no plateau"), "{plateau}");
    let panel =
        refused("Time(to_s: 9, panels: [[AirwayFlow]], measures: [CapnogramPhases(breath: 1)])");
    assert!(panel.contains("a panel with carbon dioxide at the patient connection"), "{panel}");
    let limb = refused(
        "FreshGasNeed(to_ratio: 3, panels: [(of: EndTidalCarbonDioxide, tidal_volume_ml: 900, \
         rate_per_min: 20, curves: [(label: \"a\", breaths: Sinusoid())])])",
    );
    assert!(limb.contains("less than the breath of 900 mL"), "{limb}");
    let balance = refused(
        "FreshGasNeed(from_ratio: 0.1, to_ratio: 0.3, panels: [(of: EndTidalCarbonDioxide, \
         tidal_volume_ml: 40, rate_per_min: 20, curves: [(label: \"a\", breaths: Sinusoid(), \
         limb_mixing: PlugFlow)])])",
    );
    assert!(balance.contains("no steady state at 0.12 times"), "{balance}");
}

/// Carbon dioxide is read after pressure, flow and volume; the time axis after all.
#[test]
fn a_run_with_gas_has_its_capnogram_below_the_others() {
    let cat = scenario("off-the-tube.ron");
    let simulation = Simulation::new(&cat.protocol()).unwrap();
    let (trace, gas) = cat.coupled(&simulation).unwrap().trace().unwrap();
    for look in [Look::PAGE, Look::SLIDE] {
        let data = Waveforms {
            id: "gas".into(),
            title: "With gas".into(),
            ..Waveforms::from_run(&trace, 20.0..80.0).with_gas(&gas)
        };
        let figure = data.figure(&look).unwrap();
        let svg = figure.to_svg();
        assert_texts_are_clear("a run with gas", &svg);
        let document = Document::parse(&svg).unwrap();
        let texts = document.descendants().filter(|node| node.has_tag_name("text"));
        let texts: Vec<&str> = texts.filter_map(|node| node.text()).collect();
        let place = |word: &str| texts.iter().position(|text| text.starts_with(word)).unwrap();
        assert!(place("lung") < place("capnogram"));
        assert!(place("capnogram") < place("For teaching only"));
        assert!(figure.to_csv().lines().next().unwrap().contains(",capnogram_mmhg,"));
        assert!(figure.description().starts_with("Airway pressure, airway flow, lung volume and"));
        assert_eq!(data.figure(&look).unwrap(), figure);
    }
    let without = Waveforms::from_run(&trace, 20.0..80.0).with_gas(&[]);
    assert!(!without.figure(&Look::PAGE).unwrap().to_svg().contains("CO₂"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Any gas figure is sound or refused.
    #[test]
    fn gas_figures_are_sound_or_refused(
        from in 0.0..500.0_f64,
        length in 0.5..90.0_f64,
        breath in 1_u32..60,
        kind in 0..5_usize,
    ) {
        let cat = scenario("off-the-tube.ron");
        let (to, minutes) = (from + length, from / 60.0);
        let show = match kind {
            0 => format!("Time(from_s: {from}, to_s: {to}, panels: [[AirwayCarbonDioxide, Capnogram, \
                AlveolarCarbonDioxide], [ArterialCarbonDioxide], [AirwayOxygen, OxygenSaturation]])"),
            1 => format!("Time(from_s: {from}, to_s: {to}, panels: [[AirwayCarbonDioxide]], \
                measures: [CapnogramPhases(breath: {breath})])"),
            2 => format!("Loop(of: CarbonDioxideVolume, breath: {breath}, curves: [(label: \"a\")], \
                measures: [AirwayDeadSpace])"),
            3 => format!("Trend(from_min: {minutes}, to_min: {}, panels: [[EndTidalCarbonDioxide, \
                InspiredCarbonDioxide, MeanInspiredCarbonDioxide], [MinuteVolume]])", minutes + 0.2),
            _ => format!("Trend(from_min: {minutes}, to_min: {}, panels: [[OxygenSaturation], \
                [ArterialCarbonDioxide]], runs: [(label: \"as it is\"), (label: \"on air\", \
                set: [FreshGasOxygen(percent: 21)])])", minutes + length / 60.0),
        };
        match file(&show).draw(&cat, Version::Teacher) {
            Ok(figure) => {
                prop_assert!(Document::parse(&figure.to_svg()).is_ok());
                prop_assert!(!figure.to_csv().contains("NaN") && !figure.to_svg().contains("NaN"));
                assert_texts_are_clear(&show, &figure.to_svg());
            }
            Err(refusal) => prop_assert!(!refusal.to_string().is_empty()),
        }
    }
}
