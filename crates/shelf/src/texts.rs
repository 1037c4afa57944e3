//! The scenarios and the files of the gallery.

use crate::Item;

macro_rules! shelf {
    ($folder:literal: $($id:literal,)*) => {
        [$(Item {
            id: $id,
            text: include_str!(concat!(env!("SHELF_TOP"), "/", $folder, "/", $id, ".ron")),
        }),*]
    };
}

/// The scenarios, each of which teaches one idea.
pub const SCENARIOS: [Item; 26] = shelf! { "scenarios":
    "apnoea-and-the-oxygen-store",
    "baseline-tells-kink-from-blocked-limb",
    "bronchospasm-less-flow-helps",
    "cuff-leak-or-circuit-leak",
    "cycling-pressure-sets-volume",
    "effort-against-the-ventilator",
    "first-breaths-and-a-leak",
    "flow-sets-inspiratory-time",
    "heart-fails-breath-does-not",
    "kink-reads-low",
    "never-flush-into-a-patient",
    "off-the-tube",
    "one-lung-then-drawn-back",
    "port-held-shut",
    "rebreathing-on-a-t-piece",
    "sensing-line-forgotten",
    "short-expiration-stacks-breaths",
    "slow-gauge-hides-the-peak",
    "small-leak-hides-large-leak-holds",
    "square-and-rising",
    "stiff-lung-normal-peak",
    "ten-kilograms-on-a-t-piece",
    "time-limit-is-a-safety-setting",
    "too-big-for-the-flow",
    "too-much-of-a-good-breath",
    "water-gathers-in-the-limb",
};

/// The cohort files: one rule for many patients.
pub const COHORTS: [Item; 2] = shelf! { "scenarios/cohorts":
    "a-kink-in-many-cats",
    "one-rule-many-cats",
};

/// The files of the gallery.
pub const FIGURES: [Item; 50] = shelf! { "figures":
    "baseline-over-flow",
    "blocked-limb",
    "blocked-port",
    "bronchospasm",
    "capnogram-phases",
    "circuit-from-parts",
    "compliance-meter",
    "coughs",
    "cuff-leak",
    "disconnected",
    "expiratory-time-sweep",
    "fault-signs",
    "flow-halved",
    "flow-sweep",
    "flow-volume-loops",
    "fresh-gas-need",
    "gauge-reads-low",
    "hypoventilation-capnogram",
    "hypoventilation-trend",
    "kink-reads-low",
    "kinked-tube",
    "large-leak",
    "late-saturation",
    "less-flow-more-breath",
    "low-output",
    "narrow-airway",
    "off-the-tube",
    "off-the-tube-trend",
    "one-breath",
    "one-lung",
    "own-breaths",
    "oxygen-flush",
    "pressure-raised",
    "pressure-sweep",
    "pressure-volume-loops",
    "rebreathing-capnogram",
    "rebreathing-loops",
    "rebreathing-trend",
    "sense-line-off",
    "short-cycles-over-flow",
    "slow-gauge",
    "small-leak",
    "squeeze-shows-a-leak",
    "stacked-breaths",
    "stiff-lung",
    "time-limit",
    "time-over-flow-and-leak",
    "valve-stuck-shut",
    "volume-over-flow-and-leak",
    "volumetric-capnogram",
};

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::path::Path;

    use tidewright_figures::FigureFile;

    use super::*;
    use crate::{LESSONS, scenario_of};

    /// The names of the files in a folder of the repository.
    fn files(folder: &str) -> BTreeSet<String> {
        let folder = Path::new(env!("SHELF_TOP")).join(folder);
        let paths =
            std::fs::read_dir(folder).expect("a folder").map(|one| one.expect("a file").path());
        let files = paths.filter(|path| path.extension().is_some_and(|ending| ending == "ron"));
        files.map(|path| path.file_stem().expect("a name").display().to_string()).collect()
    }

    #[test]
    fn every_file_of_the_repository_is_on_the_shelf() {
        let shelf = |ids: &[&str]| ids.iter().map(|id| (*id).to_owned()).collect::<BTreeSet<_>>();
        assert_eq!(files("scenarios"), shelf(&SCENARIOS.map(|item| item.id)));
        assert_eq!(files("scenarios/cohorts"), shelf(&COHORTS.map(|item| item.id)));
        assert_eq!(files("figures"), shelf(&FIGURES.map(|item| item.id)));
        assert_eq!(files("scenarios/training"), shelf(&LESSONS.map(|lesson| lesson.id)));
    }

    #[test]
    fn the_scenario_that_the_reader_carries_is_the_one_on_the_shelf() {
        let first = crate::scenario("first-breaths-and-a-leak").expect("a scenario");
        assert_eq!(first.text, tidewright_scenario::DEMO);
    }

    #[test]
    fn every_scenario_and_every_figure_with_its_scenario_is_valid() {
        for item in SCENARIOS {
            let scenario = tidewright_scenario::parse(item.id, item.text).expect(item.id);
            assert_eq!(scenario.id.as_str(), item.id);
        }
        for item in FIGURES {
            let file = FigureFile::parse(item.id, item.text).expect(item.id);
            let named = scenario_of(&file.scenario).expect(&file.scenario);
            let scenario = tidewright_scenario::parse(named.id, named.text).expect(named.id);
            assert!(FigureFile::parse_for(item.id, item.text, &scenario).is_ok(), "{}", item.id);
        }
    }
}
