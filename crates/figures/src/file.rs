//! Figure files: which runs a figure shows, and how.
//!
//! A figure file names a scenario and says what to show of it. It is read with
//! the same reader as scenarios, so each fault has its place and its remedy.

mod checks;
mod circuit;
pub(crate) mod language;
mod need;
mod range;
mod read;
pub(crate) mod reference;
mod signal;
mod squeeze;
mod trend;
mod variant;

pub use circuit::{CircuitDrawing, DrawnPhase};
pub use need::{
    BreathPattern, FreshGasNeed, Inflation, NeedCurve, NeedMeasure, NeedPanel, Published,
    PublishedPoint, Sinusoid,
};
pub use range::{
    ComplianceRange, FlowRange, LeakRange, PressureRange, Range, ResistanceRange, TimeRange,
};
pub use signal::Trace;
pub use squeeze::{SqueezeCurve, SqueezeTest};
pub use trend::{Trend, TrendMeasure, TrendPanel};
pub use variant::Variant;

use tidewright_scenario::format::{Change, Id};
use tidewright_scenario::measure::BreathMeasure;
use tidewright_scenario::read::{any, list, number, text};
use tidewright_scenario::{block, choice};

use crate::paper::figure::Look;

block! {
    /// A figure: one scenario and what to show of it.
    pub struct Figure {
        /// Version of the format.
        format: u32 = number(1.0, 1.0).hint("write `format: 1`, or use a newer version of the program"),
        /// Short name, as a file name: small letters, digits and hyphens.
        id: Id = text(64),
        /// Heading of the teacher's version.
        title: String = text(120),
        /// Heading of the student's version, which must not give the answer away.
        question: Option<String> = text(160).or_nothing("a question that fits every figure"),
        /// The one thing to learn from it, in a sentence.
        teaches: String = text(300),
        /// What is to be said of it beyond that, on the page of the gallery.
        discussion: Option<String> = text(1500).or_nothing("no more than the sentence"),
        /// The scenario, as a path from the folder of the figure file.
        scenario: String = text(200),
        /// Changes to the scenario that hold from the start of the run.
        set: Vec<Change> = list(0, 20).or_empty(),
        /// Size.
        look: Size = any().or_word("Page"),
        /// Teacher's or student's.
        version: Version = any().or_word("Teacher"),
        /// What is drawn.
        show: Show = any(),
    }
}

choice! {
    /// Size of a figure; where that has no room, the figure is larger in the same
    /// proportions.
    #[derive(Copy, Eq)]
    pub enum Size {
        /// For a printed page, 600 by 680 px.
        Page,
        /// For a slide of 16 to 9, 960 by 540 px.
        Slide,
        /// For a slide of 4 to 3, 880 by 660 px.
        SlideFourToThree,
        /// For a column of a page of two, 400 by 520 px.
        Column,
    }
}

impl Size {
    /// The look of this size.
    pub(crate) fn look(self) -> Look {
        match self {
            Self::Page => Look::PAGE,
            Self::Slide => Look::SLIDE,
            Self::SlideFourToThree => Look { width_px: 880, height_px: 660, ..Look::PAGE },
            Self::Column => Look { width_px: 400, height_px: 520, ..Look::PAGE },
        }
    }
}

choice! {
    /// Who a figure is for.
    #[derive(Copy, Eq)]
    pub enum Version {
        /// With names, marks and measures.
        Teacher,
        /// Axes and curves only, for a quiz.
        Student,
    }
}

choice! {
    /// What a figure draws.
    pub enum Show {
        /// Signals over time.
        Time(Time),
        /// One breath as a loop.
        Loop(Loop),
        /// What breaths come to over minutes.
        Trend(Trend),
        /// Measures of the settled breath over a setting.
        Sweep(Sweep),
        /// Measures of the settled breath as bars.
        Bars(Bars),
        /// One measure of the settled breath over two settings.
        Map(Map),
        /// Rebreathing over the fresh gas flow, breaths given.
        FreshGasNeed(FreshGasNeed),
        /// The circuit itself, from the patient to the room.
        Circuit(CircuitDrawing),
        /// The smallest leak that a squeeze of the thumb shows.
        Squeeze(SqueezeTest),
    }
}

impl Show {
    /// Whether it can only be drawn of a scenario with gas exchange.
    pub(crate) fn needs_gas(&self) -> bool {
        match self {
            Self::Time(time) => {
                let mut signals = time.panels.iter().flat_map(|panel| &panel.signals);
                signals.any(|signal| signal.is_of_gas())
            }
            Self::Loop(figure) => figure.of == LoopKind::CarbonDioxideVolume,
            Self::Trend(_) | Self::FreshGasNeed(_) => true,
            Self::Sweep(_) | Self::Bars(_) | Self::Map(_) | Self::Circuit(_) | Self::Squeeze(_) => {
                false
            }
        }
    }
}

block! {
    /// Signals over time, in panels below each other.
    pub struct Time {
        /// Start of the time axis.
        from_s: f64 = number(0.0, 86_400.0).or(0.0),
        /// End of the time axis.
        to_s: f64 = number(0.001, 86_400.0),
        /// The panels, each a list of signals in one unit.
        panels: Vec<Panel> = list(1, 6),
        /// The same run without the scenario's timeline and faults and with changes of
        /// its own, in grey behind the curves.
        compare: Option<Variant> = any().or_nothing("no curves to compare with"),
        /// What is measured in the panels.
        measures: Vec<Measure> = list(0, 8).or_empty(),
    }
}

block! {
    /// One panel. The list of signals may stand alone: `[AirwayPressure]`.
    #[leading(signals)]
    pub struct Panel {
        /// Signals in one unit.
        signals: Vec<Trace> = list(1, 3),
    }
}

choice! {
    /// A measure drawn where it is taken.
    #[derive(Copy)]
    pub enum Measure {
        /// From the start of inspiration to the opening of the valve.
        InspiratoryTime(OfBreath),
        /// From the opening of the valve to the next inspiration.
        ExpiratoryTime(OfBreath),
        /// What enters the lung during inspiration. Formerly `TidalVolume`, which is still
        /// read.
        InspiredTidalVolume(OfBreath) formerly TidalVolume,
        /// Airway less alveolar pressure at the end of inspiration.
        ResistivePressure(OfBreath),
        /// Alveolar pressure at the end of expiration.
        EndExpiratoryAlveolarPressure(OfBreath),
        /// The phases of the capnogram at the patient connection: 0 while gas goes in,
        /// I gas of the dead space, II the upstroke, III the plateau.
        CapnogramPhases(OfBreath),
    }
}

block! {
    /// Which breath of the run.
    pub struct OfBreath {
        /// Its number, from 1.
        breath: u32 = number(1.0, 100_000.0),
    }
}

impl Copy for OfBreath {}

block! {
    /// One breath of each run as a loop.
    pub struct Loop {
        /// What is drawn against what.
        of: LoopKind = any(),
        /// Which breath of the run.
        breath: u32 = number(1.0, 100_000.0),
        /// The runs.
        curves: Vec<Variant> = list(1, 4),
        /// What is measured in the loop of the first run.
        measures: Vec<LoopMeasure> = list(0, 1).or_empty(),
    }
}

choice! {
    /// A measure drawn into a loop.
    #[derive(Copy, Eq)]
    pub enum LoopMeasure {
        /// Airway dead space by equal areas, from carbon dioxide over expired volume.
        AirwayDeadSpace,
    }
}

choice! {
    /// What a loop draws against what.
    #[derive(Copy, Eq)]
    pub enum LoopKind {
        /// Lung volume over airway pressure.
        PressureVolume,
        /// Airway flow over lung volume.
        FlowVolume,
        /// Carbon dioxide at the patient connection over the volume breathed out.
        CarbonDioxideVolume,
    }
}

block! {
    /// Measures of the settled breath over a setting.
    pub struct Sweep {
        /// The setting and its range.
        over: Range = any(),
        /// A panel for each of these.
        metrics: Vec<BreathMeasure> = list(1, 4),
        /// A curve for each of these.
        curves: Vec<Variant> = list(1, 4),
    }
}

block! {
    /// Measures of the settled breath as bars.
    pub struct Bars {
        /// A panel for each of these.
        metrics: Vec<BreathMeasure> = list(1, 5),
        /// A bar for each of these.
        bars: Vec<Variant> = list(2, 8),
    }
}

block! {
    /// One measure of the settled breath over two settings.
    pub struct Map {
        /// The measure.
        metric: BreathMeasure = any(),
        /// The setting from left to right.
        over: Range = any(),
        /// The setting from below to above.
        and: Range = any(),
    }
}
