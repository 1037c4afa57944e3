//! Values of a figure file that are each in range but do not go together.

use tidewright_scenario::Fault;
use tidewright_scenario::fault::{Faults, Problem};
use tidewright_scenario::text::Node;

use crate::file::{Figure as FigureFile, Range, Show};
use crate::language::ENGLISH;

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
        Show::Loop(_) | Show::Bars(_) => (),
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
