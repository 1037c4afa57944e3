//! How much fresh gas a T-piece needs, breaths given.

use tidewright_scenario::format::LimbMixing;
use tidewright_scenario::read::{any, list, number, text};
use tidewright_scenario::{block, choice};

block! {
    /// Rebreathing of the scenario's patient at a T-piece, over the fresh gas flow as
    /// a multiple of the minute volume. Breaths are given, the same at every flow; each
    /// point is the state in which as much carbon dioxide leaves as the body makes.
    pub struct FreshGasNeed {
        /// Least fresh gas flow over the minute volume.
        from_ratio: f64 = number(0.1, 10.0).or(0.5),
        /// Greatest.
        to_ratio: f64 = number(0.2, 20.0),
        /// The panels.
        panels: Vec<NeedPanel> = list(1, 3),
        /// Longest pause, as a part of the cycle, up to which a panel below the others
        /// draws how much a sinusoid needs for no rebreathing at all.
        need_to_pause_percent: Option<f64> = number(1.0, 90.0).or_nothing("no such panel"),
    }
}

block! {
    /// One measure, over one minute volume.
    pub struct NeedPanel {
        /// What is measured.
        of: NeedMeasure = any(),
        /// Volume of a breath.
        tidal_volume_ml: f64 = number(0.1, 20_000.0),
        /// Breaths a minute.
        rate_per_min: f64 = number(1.0, 300.0),
        /// End-tidal carbon dioxide without any rebreathing; the body then makes as much
        /// carbon dioxide as gives it.
        end_tidal_without_mmhg: Option<f64> =
            number(5.0, 100.0).or_nothing("what the patient makes at its temperature"),
        /// A curve for each of these.
        curves: Vec<NeedCurve> = list(1, 3),
        /// What others have measured.
        published: Vec<Published> = list(0, 2).or_empty(),
    }
}

choice! {
    /// What is measured of rebreathing.
    #[derive(Copy, Eq)]
    pub enum NeedMeasure {
        /// Carbon dioxide of all inspired gas together.
        MeanInspiredCarbonDioxide,
        /// Highest carbon dioxide of any inspired gas.
        HighestInspiredCarbonDioxide,
        /// Highest carbon dioxide breathed out.
        EndTidalCarbonDioxide,
    }
}

block! {
    /// Given breaths in a given limb.
    pub struct NeedCurve {
        /// What it is, in a few words.
        label: String = text(40),
        /// How the patient breathes.
        breaths: BreathPattern = any(),
        /// Into how many well mixed parts the limb is divided.
        limb_parcels: u32 = number(1.0, 200.0).or(4.0),
        /// How gas mixes in the limb.
        limb_mixing: LimbMixing = any().or_word("Cells"),
    }
}

choice! {
    /// How the volume of the lung goes.
    #[derive(Copy)]
    pub enum BreathPattern {
        /// In and out as a sinusoid, inspiration as long as expiration, then a pause.
        Sinusoid(Sinusoid),
        /// Inflated evenly, then emptied by itself.
        Inflated(Inflation),
    }
}

block! {
    /// A breath by itself.
    pub struct Sinusoid {
        /// The pause after expiration, as a part of the cycle.
        pause_percent: f64 = number(0.0, 90.0).or(0.0),
    }
}

impl Copy for Sinusoid {}

block! {
    /// A breath by a ventilator.
    pub struct Inflation {
        /// The inflation, as a part of the cycle.
        inflation_percent: f64 = number(1.0, 99.0),
        /// Time constant of the expiration.
        time_constant_s: f64 = number(0.001, 60.0),
    }
}

impl Copy for Inflation {}

block! {
    /// A published result: a value at a ratio, or a line between two.
    pub struct Published {
        /// What it is, in a few words.
        label: String = text(40),
        /// Where it was published, and what was read of it.
        source: String = text(300),
        /// Points (fresh gas flow over minute volume, value in the panel's unit), joined.
        points: Vec<PublishedPoint> = list(1, 20),
    }
}

block! {
    /// One point.
    pub struct PublishedPoint {
        /// Fresh gas flow over minute volume.
        ratio: f64 = number(0.0, 20.0),
        /// The value.
        value: f64 = number(-1_000.0, 1_000.0),
        /// How far it lies around that.
        spread: f64 = number(0.0, 1_000.0).or(0.0),
    }
}

impl FreshGasNeed {
    /// Where the published results come from, each with its label.
    pub fn sources(&self) -> impl Iterator<Item = (&str, &str)> {
        let published = self.panels.iter().flat_map(|panel| &panel.published);
        published.map(|published| (published.label.as_str(), published.source.as_str()))
    }
}
