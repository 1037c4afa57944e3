//! What breaths come to over minutes.

use tidewright_scenario::read::{list, number, text};
use tidewright_scenario::{block, choice};

use super::variant::Variant;

block! {
    /// What breaths come to over minutes, in panels below each other: one run with up
    /// to three measures in a panel, or up to four runs with one measure in each.
    pub struct Trend {
        /// Start of the time axis.
        from_min: f64 = number(0.0, 1_440.0).or(0.0),
        /// End of the time axis.
        to_min: f64 = number(0.01, 1_440.0),
        /// The panels, each a list of measures in one unit.
        panels: Vec<TrendPanel> = list(1, 6),
        /// The runs, where there are several.
        runs: Vec<Variant> = list(0, 4).or_empty(),
        /// What is said of single points.
        remarks: Vec<Remark> = list(0, 4).or_empty(),
    }
}

block! {
    /// One panel. The list of measures may stand alone: `[EndTidalCarbonDioxide]`.
    #[leading(measures)]
    pub struct TrendPanel {
        /// Measures in one unit.
        measures: Vec<TrendMeasure> = list(1, 3),
    }
}

block! {
    /// A few words at a point of a curve, for the teacher's version.
    pub struct Remark {
        /// Which panel, from 1.
        panel: u32 = number(1.0, 6.0),
        /// Which of its curves, from 1.
        curve: u32 = number(1.0, 4.0).or(1.0),
        /// When.
        at_min: f64 = number(0.0, 1_440.0),
        /// The words.
        says: String = text(60),
    }
}

choice! {
    /// What is followed over minutes, in a scenario with `gas`.
    #[derive(Copy, Eq)]
    pub enum TrendMeasure {
        /// Highest carbon dioxide breathed out, breath by breath.
        EndTidalCarbonDioxide,
        /// Lowest carbon dioxide breathed in, breath by breath: what a monitor calls
        /// inspired.
        InspiredCarbonDioxide,
        /// Carbon dioxide of all gas breathed in together, breath by breath.
        MeanInspiredCarbonDioxide,
        /// Carbon dioxide in arterial blood.
        ArterialCarbonDioxide,
        /// Oxygen saturation of arterial blood.
        OxygenSaturation,
        /// Volume breathed out in a breath, over the time of the breath.
        MinuteVolume,
    }
}
