//! Every name that stands on a figure made from a file, in one table for each
//! language.

use tidewright_scenario::measure::{BreathMeasure, Unit};

use crate::file::{NeedMeasure, Range, Trace, TrendMeasure};
use crate::paper::pattern::Pattern;

/// A quantity on an axis.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Quantity {
    /// What ids and columns of data call it.
    pub key: &'static str,
    /// Name of the axis.
    pub axis: &'static str,
    /// The same where there is little room.
    pub short: &'static str,
    /// Name of the curve.
    pub curve: &'static str,
    /// Unit as the axis writes it.
    pub unit: &'static str,
    /// Unit as the end of a column's name.
    pub suffix: &'static str,
}

impl Quantity {
    /// A measure of a breath.
    pub const fn of(measure: BreathMeasure) -> Self {
        let (words, Unit { axis, suffix, .. }) = (measure.words(), measure.unit());
        Self {
            key: measure.key(),
            axis: words,
            short: measure.short(),
            curve: words,
            unit: axis,
            suffix,
        }
    }
}

/// The words of one language.
pub(crate) struct Language {
    pub time: &'static str,
    /// The axis of a trend.
    pub minutes: &'static str,
    /// The axis of a loop.
    pub along_pressure: &'static str,
    pub along_volume: &'static str,
    pub along_expired: &'static str,
    /// The axis of rebreathing over the fresh gas flow.
    pub along_need: &'static str,
    /// The axis of the time that a thumb takes.
    pub along_squeeze: &'static str,
    /// Before the pressure at which the ventilator clicks.
    pub clicks_at: &'static str,
    /// The smallest leak that a squeeze shows.
    pub least_leak: Quantity,
    /// The value axis of the pause that a fresh gas flow allows.
    pub pause: Quantity,
    pub free: &'static str,
    pub dead_space: &'static str,
    pub carbon_dioxide_at_patient: &'static str,
    pub plateau_line: &'static str,
    /// What lies between that line, the front and the curve on both sides of it.
    pub equal_areas: &'static str,
    /// The phases of a capnogram, from inspiration on.
    pub capnogram_phases: [&'static str; 4],
    /// Before what the cells of a map hold.
    pub the_numbers_are: &'static str,
    pub question: &'static str,
    pub inspiratory_time: &'static str,
    pub expiratory_time: &'static str,
    pub inspired_tidal_volume: &'static str,
    pub resistive_pressure: &'static str,
    pub alveolar_end: &'static str,
    pub cycling_pressure: &'static str,
    pub inspiration: &'static str,
    pub expiration: &'static str,
    pub standby: &'static str,
    pub expiration_or_standby: &'static str,
    pub band: &'static str,
    /// Before what ended a breath, in the key.
    pub breath_ended: &'static str,
    pub by_pressure: &'static str,
    pub by_time: &'static str,
    pub by_standby: &'static str,
    /// After the number of marks that are drawn.
    pub marked: &'static str,
    pub ended_by_pressure: &'static str,
    pub ended_by_time: &'static str,
    pub ended_by_standby: &'static str,
    pub healthy: &'static str,
    patterns: [&'static str; 6],
    signals: [Quantity; 15],
    trends: [Quantity; 6],
    needs: [Quantity; 3],
    settings: [&'static str; 7],
}

const fn quantity(
    key: &'static str,
    (axis, short): (&'static str, &'static str),
    curve: &'static str,
    unit: &'static str,
    suffix: &'static str,
) -> Quantity {
    Quantity { key, axis, short, curve, unit, suffix }
}

/// English.
pub(crate) const ENGLISH: Language = Language {
    time: "Time (s)",
    minutes: "Time (min)",
    along_pressure: "Airway pressure (cmH₂O)",
    along_volume: "Lung volume (mL)",
    along_expired: "Volume breathed out (mL)",
    along_need: "Fresh gas flow (times the minute volume)",
    along_squeeze: "Time that the thumb takes (s)",
    clicks_at: "Port and outlet shut · clicks at",
    least_leak: quantity(
        "smallest-leak",
        ("Smallest leak that shows", "Leak"),
        "smallest leak that shows",
        "mL/min",
        "ml_min",
    ),
    pause: quantity(
        "expiratory-pause",
        ("Expiratory pause", "Pause"),
        "expiratory pause",
        "% of cycle",
        "percent_of_cycle",
    ),
    free: "free of rebreathing to the right",
    dead_space: "dead space",
    carbon_dioxide_at_patient: "carbon dioxide at the patient connection",
    plateau_line: "plateau",
    equal_areas: "equal areas",
    capnogram_phases: ["0", "I", "II", "III"],
    the_numbers_are: "the numbers are",
    question: "What do these curves show? Describe first, then explain, then act.",
    inspiratory_time: "TI",
    expiratory_time: "TE",
    inspired_tidal_volume: "VTi",
    resistive_pressure: "R × flow",
    alveolar_end: "alveolar",
    cycling_pressure: "cycling pressure",
    inspiration: "inspiration",
    expiration: "expiration",
    standby: "standby",
    expiration_or_standby: "expiration or standby",
    band: "lowest to highest",
    breath_ended: "breath ended",
    by_pressure: "by pressure",
    by_time: "by time limit",
    by_standby: "by standby",
    marked: "marked",
    ended_by_pressure: "ended by pressure",
    ended_by_time: "ended by the time limit",
    ended_by_standby: "ended by standby",
    healthy: "Healthy",
    patterns: [
        "Longer inspiration, still ended by pressure",
        "Ended by the time limit, less volume comes back",
        "Ended by the time limit, hardly any pressure or volume",
        "Ended by the time limit, too much volume",
        "Shorter inspiration, less volume, baseline as before",
        "Raised baseline",
    ],
    signals: [
        quantity("airway-pressure", ("Pressure", "P"), "airway pressure", "cmH₂O", "cmh2o"),
        quantity("alveolar-pressure", ("Pressure", "P"), "alveolar pressure", "cmH₂O", "cmh2o"),
        quantity("pleural-pressure", ("Pressure", "P"), "pleural pressure", "cmH₂O", "cmh2o"),
        quantity("muscle-pressure", ("Pressure", "P"), "muscle pressure", "cmH₂O", "cmh2o"),
        quantity("airway-flow", ("Flow", "Flow"), "airway flow", "L/min", "l_min"),
        quantity("leak-flow", ("Flow", "Flow"), "leak flow", "L/min", "l_min"),
        quantity("outlet-flow", ("Flow", "Flow"), "outlet flow", "L/min", "l_min"),
        quantity("lung-volume", ("Volume", "Volume"), "lung volume", "mL", "ml"),
        quantity("airway-co2", ("CO₂", "CO₂"), "at the patient", "mmHg", "mmhg"),
        quantity("capnogram", ("CO₂", "CO₂"), "capnogram", "mmHg", "mmhg"),
        quantity("alveolar-co2", ("CO₂", "CO₂"), "alveolar", "mmHg", "mmhg"),
        quantity("arterial-co2", ("CO₂", "CO₂"), "arterial", "mmHg", "mmhg"),
        quantity("airway-oxygen", ("Oxygen", "O₂"), "at the patient", "%", "percent"),
        quantity("spo2", ("Saturation", "SpO₂"), "SpO₂", "%", "percent"),
        quantity("gauge-pressure", ("Pressure", "P"), "gauge", "cmH₂O", "cmh2o"),
    ],
    trends: [
        quantity("end-tidal-co2", ("CO₂", "CO₂"), "end-tidal", "mmHg", "mmhg"),
        quantity("inspired-co2", ("CO₂", "CO₂"), "lowest inspired", "mmHg", "mmhg"),
        quantity("mean-inspired-co2", ("CO₂", "CO₂"), "mean inspired", "mmHg", "mmhg"),
        quantity("arterial-co2", ("CO₂", "CO₂"), "arterial", "mmHg", "mmhg"),
        quantity("spo2", ("Saturation", "SpO₂"), "SpO₂", "%", "percent"),
        quantity(
            "minute-volume",
            ("Minute volume", "Min. volume"),
            "minute volume",
            "mL/min",
            "ml_min",
        ),
    ],
    needs: [
        quantity("mean-inspired-co2", ("Inspired CO₂", "Insp. CO₂"), "", "%", "percent"),
        quantity("highest-inspired-co2", ("Inspired CO₂", "Insp. CO₂"), "", "%", "percent"),
        quantity("end-tidal-co2", ("End-tidal CO₂", "EtCO₂"), "", "mmHg", "mmhg"),
    ],
    settings: [
        "Fresh gas flow (L/min)",
        "Cycling pressure (cmH₂O)",
        "Inspiratory time limit (s)",
        "Expiratory time (s)",
        "Leak at 30 cmH₂O (L/min)",
        "Compliance (mL/cmH₂O)",
        "Resistance (cmH₂O·s/L)",
    ],
};

impl Language {
    pub const fn signal(&self, signal: Trace) -> Quantity {
        self.signals[match signal {
            Trace::AirwayPressure => 0,
            Trace::AlveolarPressure => 1,
            Trace::PleuralPressure => 2,
            Trace::MusclePressure => 3,
            Trace::AirwayFlow => 4,
            Trace::LeakFlow => 5,
            Trace::OutletFlow => 6,
            Trace::LungVolume => 7,
            Trace::AirwayCarbonDioxide => 8,
            Trace::Capnogram => 9,
            Trace::AlveolarCarbonDioxide => 10,
            Trace::ArterialCarbonDioxide => 11,
            Trace::AirwayOxygen => 12,
            Trace::OxygenSaturation => 13,
            Trace::GaugePressure => 14,
        }]
    }

    pub const fn trend(&self, measure: TrendMeasure) -> Quantity {
        self.trends[match measure {
            TrendMeasure::EndTidalCarbonDioxide => 0,
            TrendMeasure::InspiredCarbonDioxide => 1,
            TrendMeasure::MeanInspiredCarbonDioxide => 2,
            TrendMeasure::ArterialCarbonDioxide => 3,
            TrendMeasure::OxygenSaturation => 4,
            TrendMeasure::MinuteVolume => 5,
        }]
    }

    pub const fn need(&self, measure: NeedMeasure) -> Quantity {
        self.needs[match measure {
            NeedMeasure::MeanInspiredCarbonDioxide => 0,
            NeedMeasure::HighestInspiredCarbonDioxide => 1,
            NeedMeasure::EndTidalCarbonDioxide => 2,
        }]
    }

    /// What is seen, as the heading of a group of faults.
    pub const fn pattern(&self, pattern: Pattern) -> &'static str {
        self.patterns[match pattern {
            Pattern::Longer => 0,
            Pattern::LimitLess => 1,
            Pattern::LimitNothing => 2,
            Pattern::LimitMore => 3,
            Pattern::Shorter => 4,
            Pattern::Raised => 5,
        }]
    }

    pub const fn setting(&self, range: &Range) -> &'static str {
        self.settings[match range {
            Range::FreshGasFlow(_) => 0,
            Range::CyclingPressure(_) => 1,
            Range::InspiratoryTimeLimit(_) => 2,
            Range::ExpiratoryTime(_) => 3,
            Range::Leak(_) => 4,
            Range::Compliance(_) => 5,
            Range::Resistance(_) => 6,
        }]
    }
}
