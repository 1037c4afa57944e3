//! Values of a figure file that are each in range but do not go together.

use tidewright_scenario::fault::{Faults, Problem};
use tidewright_scenario::text::{Entry, Kind, Node};
use tidewright_scenario::{Fault, Scenario};

use crate::file::language::ENGLISH;
use crate::file::{Figure as FigureFile, LoopKind, Range, Show};

/// Notes what does not go together.
pub(crate) fn check(file: &FigureFile, root: &Node, faults: &mut Faults) {
    let place = root.get("show").unwrap_or(root).mark();
    let mut unfit = |message: String, expected: &str, mend: &str| {
        let (expected, mend) = (expected.to_owned(), mend.to_owned());
        faults.push(Fault::new(place, Problem::Unfit { message, expected, mend }));
    };
    match &file.show {
        Show::Time(time) => {
            if time.from_s >= time.to_s {
                let message = format!("the time axis runs from {} to {} s", time.from_s, time.to_s);
                unfit(message, "`from_s` below `to_s`", "exchange the two, or move one");
            }
            let window_s = time.to_s - time.from_s;
            if window_s > LONGEST_WINDOW_S {
                let message = format!("no breath can be seen in a figure of {window_s} s");
                let expected = format!("at most {LONGEST_WINDOW_S} s");
                unfit(message, &expected, "show a shorter part, or ask for a `Trend`");
            }
            for panel in &time.panels {
                let units = panel.signals.iter().map(|&signal| ENGLISH.signal(signal).unit);
                if units.clone().any(|unit| Some(unit) != units.clone().next()) {
                    let message = "a panel holds signals of different units".to_owned();
                    unfit(message, "signals of one unit", "give each unit a panel of its own");
                }
            }
        }
        Show::Sweep(sweep) => range(&sweep.over, &mut unfit),
        Show::Map(map) => {
            range(&map.over, &mut unfit);
            range(&map.and, &mut unfit);
        }
        Show::Trend(trend) => {
            if trend.from_min >= trend.to_min {
                let (from, to) = (trend.from_min, trend.to_min);
                let message = format!("the time axis runs from {from} to {to} min");
                unfit(message, "`from_min` below `to_min`", "exchange the two, or move one");
            }
            for panel in &trend.panels {
                let units = panel.measures.iter().map(|&measure| ENGLISH.trend(measure).unit);
                if units.clone().any(|unit| Some(unit) != units.clone().next()) {
                    let message = "a panel holds measures of different units".to_owned();
                    unfit(message, "measures of one unit", "give each unit a panel of its own");
                }
                if trend.runs.len() > 1 && panel.measures.len() > 1 {
                    let message = "a panel holds several measures of several runs".to_owned();
                    unfit(message, "one measure where there are several runs", EACH_ITS_PANEL);
                }
            }
        }
        Show::Loop(figure) => {
            if figure.of != LoopKind::CarbonDioxideVolume && !figure.measures.is_empty() {
                let message = "airway dead space is not read off this loop".to_owned();
                let mend = "write `of: CarbonDioxideVolume`, or leave `measures` out";
                unfit(message, "`CarbonDioxideVolume`", mend);
            }
        }
        Show::FreshGasNeed(need) => {
            if need.from_ratio >= need.to_ratio {
                let (from, to) = (need.from_ratio, need.to_ratio);
                let message = format!("the range runs from {from} to {to}");
                unfit(message, "the lower end first", "exchange the two");
            }
        }
        Show::Squeeze(test) => {
            if test.from_s >= test.to_s {
                let message = format!("the thumb takes from {} to {} s", test.from_s, test.to_s);
                unfit(message, "`from_s` below `to_s`", "exchange the two, or move one");
            }
        }
        Show::Bars(_) | Show::Circuit(_) => (),
    }
}

/// Longest time whose curves are drawn, s. A day of them would take gigabytes.
const LONGEST_WINDOW_S: f64 = 1800.0;

const EACH_ITS_PANEL: &str = "give each measure a panel of its own";

/// Words of a figure file that ask for the gas of its scenario.
const OF_GAS: [&str; 10] = [
    "AirwayCarbonDioxide",
    "Capnogram",
    "AlveolarCarbonDioxide",
    "ArterialCarbonDioxide",
    "AirwayOxygen",
    "OxygenSaturation",
    "CapnogramPhases",
    "CarbonDioxideVolume",
    "Trend",
    "FreshGasNeed",
];

/// Notes the first word that asks for gas which the scenario does not have.
pub(crate) fn check_gas(file: &FigureFile, scenario: &Scenario, root: &Node, faults: &mut Faults) {
    if scenario.gas.is_some() {
        return;
    }
    if let Some((word, node)) = root.get("show").and_then(asks_for_gas) {
        let path = &file.scenario;
        let message = format!("`{word}` needs gas exchange, and {path} is without it");
        let expected = "a scenario with `gas`".to_owned();
        let mend = format!("write `gas: ()` in {path}, or ask for other curves");
        faults.push(Fault::new(node.mark(), Problem::Unfit { message, expected, mend }));
    }
}

/// Whether an entry is a text of the author's own.
fn names(entry: &Entry) -> bool {
    entry.key.as_ref().is_some_and(|key| key.text == "label" || key.text == "source")
}

fn asks_for_gas(node: &Node) -> Option<(&str, &Node)> {
    let known = |word: &str| OF_GAS.contains(&word);
    match &node.kind {
        Kind::Word(word) if known(word) => Some((word, node)),
        Kind::Named(name, _) if known(&name.text) => Some((&name.text, node)),
        Kind::Named(_, inside) => asks_for_gas(inside),
        Kind::Block(block) => {
            block.entries.iter().filter(|entry| !names(entry)).find_map(|entry| {
                // In JSON a choice is a block with its word as the only key.
                let key = entry.key.as_ref().filter(|name| known(&name.text));
                key.map(|name| (name.text.as_str(), &entry.value)).or(asks_for_gas(&entry.value))
            })
        }
        Kind::List(items) => items.iter().find_map(asks_for_gas),
        Kind::Text(word) if known(word) => Some((word, node)),
        Kind::Number(_) | Kind::Text(_) | Kind::Word(_) | Kind::Broken => None,
    }
}

fn range(range: &Range, unfit: &mut impl FnMut(String, &str, &str)) {
    let (low, high) = range.ends();
    if low >= high {
        unfit(
            format!("the range runs from {low} to {high}"),
            "the lower end first",
            "exchange the two",
        );
    }
}

#[cfg(test)]
mod tests {
    use tidewright_scenario::{DEMO, parse};

    use super::*;
    use crate::file::Trace;

    /// The words that are looked for in the text are those that the declared format
    /// draws from the gas.
    #[test]
    fn every_word_that_needs_gas_is_found_in_the_text() {
        let plain = parse("demo.ron", DEMO).unwrap();
        let signals = Trace::SHAPE.words.iter();
        let shows = signals.map(|word| format!("Time(to_s: 3, panels: [[{}]])", word.name));
        let others = [
            "Loop(of: PressureVolume, breath: 1, curves: [(label: \"a\")])",
            "Loop(of: FlowVolume, breath: 1, curves: [(label: \"a\")])",
            "Loop(of: CarbonDioxideVolume, breath: 1, curves: [(label: \"a\")])",
            "Trend(to_min: 3, panels: [[MinuteVolume]])",
            "Bars(metrics: [Rate], bars: [(label: \"a\"), (label: \"b\")])",
        ];
        let mut needy = 0;
        for show in shows.chain(others.map(str::to_owned)) {
            let text = format!(
                "Figure(format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x\", \
                 show: {show})"
            );
            let file = FigureFile::parse("a.ron", &text).unwrap();
            let found = FigureFile::parse_for("a.ron", &text, &plain).is_err();
            assert_eq!(found, file.show.needs_gas(), "{show}");
            needy += u32::from(found);
        }
        assert_eq!(needy, 8);
    }

    #[test]
    fn a_window_in_which_no_breath_can_be_seen_is_refused_with_its_length() {
        let read = |to_s: f64| {
            let text = format!(
                "Figure(format: 1, id: \"a\", title: \"t\", teaches: \"t\", scenario: \"x\", \
                 show: Time(from_s: 60, to_s: {to_s}, panels: [[LungVolume]]))"
            );
            FigureFile::parse("a.ron", &text)
        };
        assert!(read(1860.0).is_ok());
        let refused = read(86_400.0).unwrap_err();
        assert!(format!("{refused:?}").contains("86340 s"), "{refused:?}");
    }
}
