//! Criteria: what is measured in an attempt, and what passes.

use crate::format::{
    ActName, AlarmRange, Alarmed, Arrow, CircuitLimits, Id, LONGEST_RUN_S, Line, Quantity,
    StepsDone,
};
use crate::read::{Rule, any, block, choice, list, number, text};

const PRESSURE: Rule = number(-100.0, 1000.0);
const TIME: Rule = number(0.0, LONGEST_RUN_S);
const PER_KG: Rule = number(0.0, 1000.0);
const COUNT: Rule = number(0.0, 10_000.0);
const PERCENT: Rule = number(0.0, 100.0);
const ACTS: Rule = list(1, 40);
const MMHG: Rule = number(0.0, 200.0);
const MINUTES: Rule = number(0.0, LONGEST_RUN_S / 60.0);

block! {
    /// What is measured, what passes, and which objective it serves.
    pub struct Criterion {
        /// The objective it serves.
        objective: Id = text(64),
        /// What kind of criterion it is. Every one of `Safety` must be met,
        /// apart from points.
        strand: Strand = any(),
        /// What it counts.
        points: f64 = number(0.0, 100.0).or(1.0),
        /// The cases of the pool, by their `id`, in which it is judged; in all of
        /// them, if empty.
        cases: Vec<Line> = list(0, 24).or_empty(),
        /// What is measured and what passes.
        measure: Measure = any(),
    }
}

choice! {
    /// The strands of the rubric.
    #[derive(Copy, Eq)]
    pub enum Strand {
        /// Must be met.
        Safety,
        /// That and when something was noticed.
        Recognition,
        /// The right act, in order, without shotgun changes.
        Action,
        /// What it meant for the patient.
        Outcome,
        /// Communication and record.
        Record,
    }
}

choice! {
    /// What is measured in an attempt. Times count from the onset of the fault,
    /// or from the start of the session where nothing goes wrong.
    pub enum Measure {
        /// Highest alveolar pressure of the session.
        HighestAlveolarPressure(PressureCeiling),
        /// Highest airway pressure of the session.
        HighestAirwayPressure(PressureCeiling),
        /// Alveolar pressure above a limit, as an integral over time.
        AlveolarPressureAbove(PressureIntegral),
        /// Inspired tidal volume above a limit, summed over breaths.
        TidalVolumeAbove(VolumeSum),
        /// Shortfall of expired tidal volume below a limit, summed over breaths.
        TidalVolumeBelow(VolumeSum),
        /// Mean expired tidal volume of the last five breaths.
        FinalTidalVolume(VolumeRange),
        /// Airway pressure at the end of the last expiration.
        FinalBaseline(PressureCeiling),
        /// Alveolar pressure above the baseline at the end of the last expiration.
        FinalIntrinsicPeep(PressureCeiling),
        /// Fresh gas flow × inspiratory time limit, as last set.
        FinalLimitedVolume(VolumeCeiling),
        /// Share of the last five breaths that pressure ended.
        FinalEndedByPressure(ShareFloor),
        /// Highest pressure that was put into the cuff.
        HighestCuffPressure(PressureCeiling),
        /// Longest time without a breath of 2 mL/kg.
        LongestApnoea(TimeCeiling),
        /// One of these acts was done in time.
        Acted(InTime),
        /// An act was done often enough, at any time.
        Repeated(Often),
        /// What acts did to the patient: the session as it was, beside the same
        /// without them. Acts that changed nothing, or made it worse, do not count.
        Helped(Help),
        /// One of these acts was done within a time of the first visible sign.
        Recognised(InTime),
        /// The fault was put right in time, and with it all that was amiss.
        Mended(Within),
        /// The fault was put right, or the patient was off the ventilator or
        /// ventilated by hand, in time; who was so all along was safe at once.
        MadeSafe(Within),
        /// One act was done, and before another, where the other was done at all.
        Order(Sequence),
        /// Acts were done, at any time, and after the last of them another in time.
        Followed(Next),
        /// None of these acts was done after the onset.
        NotDone(Acts),
        /// The cycling pressure was never raised after the onset.
        CyclingPressureNotRaised,
        /// The expiratory time was never below this.
        ExpiratoryTimeNeverBelow(Floor),
        /// Largest change of a control at once, of what it was.
        LargestStep(Step),
        /// Changes of controls.
        ControlChanges(Count),
        /// Times when more than two controls were changed within one breath.
        ShotgunChanges(Count),
        /// The first answer to a question was right, and given when something could be
        /// known.
        Answered(Which),
        /// Share of the predictions that were right.
        Predicted(ShareFloor),
        /// An alarm had a limit within a range from some time on, to the end.
        AlarmSet(AlarmRange),
        /// What the circuit that was joined on the table does. Needs `table`.
        Circuit(CircuitLimits),
        /// The share of `steps` that were done in an order that holds.
        InOrder(StepsDone),
        /// Longest time between entries in the record.
        RecordGap(TimeCeiling),
        /// Time of breaths whose end-tidal carbon dioxide was outside a range. This
        /// measure and those below need `gas`.
        EndTidalOutside(EndTidalTime),
        /// Share of the breaths' time with end-tidal carbon dioxide within a range.
        EndTidalWithin(EndTidalShare),
        /// Highest end-tidal carbon dioxide of the session.
        HighestEndTidal(PartialPressureCeiling),
        /// Mean end-tidal carbon dioxide of the last five breaths.
        FinalEndTidal(EndTidalRange),
        /// Mean carbon dioxide of all gas breathed in, over the last five breaths.
        FinalInspiredCarbonDioxide(PartialPressureCeiling),
        /// Time with a saturation below a limit.
        SaturationBelow(SaturationTime),
        /// Mean expired volume of the last five breaths that the patient took by itself
        /// while the ventilator stood by, up to the end of the session.
        FinalOwnTidalVolume(VolumeRange),
    }
}

block! {
    /// Time outside a range of end-tidal carbon dioxide.
    pub struct EndTidalTime {
        /// Lowest that is not outside.
        lowest_mmhg: f64 = MMHG,
        /// Highest that is not outside.
        highest_mmhg: f64 = MMHG,
        /// Breaths count that began at this time or later.
        from_s: f64 = TIME.or(0.0),
        /// Longest that passes.
        at_most_min: f64 = MINUTES,
    }
}

block! {
    /// Share of time within a range of end-tidal carbon dioxide.
    pub struct EndTidalShare {
        /// Lowest that is within.
        lowest_mmhg: f64 = MMHG,
        /// Highest that is within.
        highest_mmhg: f64 = MMHG,
        /// Breaths count that began at this time or later.
        from_s: f64 = TIME.or(0.0),
        /// Smallest share that passes.
        at_least_percent: f64 = PERCENT,
    }
}

block! {
    /// A range of end-tidal carbon dioxide.
    pub struct EndTidalRange {
        /// Lowest that passes.
        at_least_mmhg: f64 = MMHG,
        /// Highest that passes.
        at_most_mmhg: f64 = MMHG,
    }
}

block! {
    /// A highest partial pressure.
    pub struct PartialPressureCeiling {
        /// Highest that passes.
        at_most_mmhg: f64 = MMHG,
    }
}

block! {
    /// Time below a saturation.
    pub struct SaturationTime {
        /// Limit.
        limit_percent: f64 = PERCENT,
        /// Longest that passes.
        at_most_min: f64 = MINUTES,
    }
}

block! {
    /// A highest pressure.
    pub struct PressureCeiling {
        /// Highest that passes.
        at_most_cmh2o: f64 = PRESSURE,
    }
}

block! {
    /// An integral of pressure above a limit.
    pub struct PressureIntegral {
        /// Limit.
        limit_cmh2o: f64 = PRESSURE,
        /// Largest integral that passes.
        at_most_cmh2o_s: f64 = number(0.0, 1e6),
    }
}

block! {
    /// A sum of volumes above a limit.
    pub struct VolumeSum {
        /// Limit.
        limit_ml_kg: f64 = PER_KG,
        /// Largest sum that passes.
        at_most_ml_kg: f64 = PER_KG,
    }
}

block! {
    /// A range of volume.
    pub struct VolumeRange {
        /// Smallest that passes.
        at_least_ml_kg: f64 = PER_KG,
        /// Largest that passes.
        at_most_ml_kg: f64 = PER_KG,
    }
}

block! {
    /// A largest volume.
    pub struct VolumeCeiling {
        /// Largest that passes.
        at_most_ml_kg: f64 = PER_KG,
    }
}

block! {
    /// A smallest share.
    pub struct ShareFloor {
        /// Smallest that passes.
        at_least_percent: f64 = PERCENT,
    }
}

block! {
    /// A longest time.
    pub struct TimeCeiling {
        /// Longest that passes.
        at_most_s: f64 = TIME,
    }
}

block! {
    /// Acts, of which one must come in time.
    pub struct InTime {
        /// Any of these.
        any_of: Vec<ActName> = ACTS,
        /// Latest that passes.
        within_s: f64 = TIME,
    }
}

block! {
    /// What acts must have done. The session is run again from the onset without those of
    /// them that came in time, and a number of the last three breaths is compared: some
    /// time after the last of those, but before the fault is put right by anything else,
    /// and before the end.
    pub struct Help {
        /// These acts, together.
        acts: Vec<ActName> = ACTS,
        /// The number that they move.
        of: Quantity = any(),
        /// Where they move it; `Same`: they must not move it by this share.
        goes: Arrow = any(),
        /// By how much of what it is without them, at the least.
        at_least_percent: f64 = number(0.0, 1000.0).or(10.0),
        /// Latest that counts as one of them.
        within_s: f64 = TIME,
        /// How long after the last of them it is compared.
        after_s: f64 = number(1.0, LONGEST_RUN_S).or(20.0),
    }
}

block! {
    /// A largest change of a control.
    pub struct Step {
        /// The control.
        of: ActName = any(),
        /// Largest that passes, of what it was.
        at_most_percent: f64 = number(0.0, 1000.0),
    }
}

block! {
    /// An act and how often.
    pub struct Often {
        /// The act.
        act: ActName = any(),
        /// Fewest times that pass.
        at_least: f64 = COUNT,
        /// How long after the one before an act counts as another.
        apart_s: f64 = TIME.or(0.0),
    }
}

block! {
    /// A time.
    pub struct Within {
        /// Latest that passes.
        within_s: f64 = TIME,
    }
}

block! {
    /// Two acts in order.
    pub struct Sequence {
        /// Any of these first.
        first: Vec<ActName> = ACTS,
        /// Then any of these.
        before: Vec<ActName> = ACTS,
    }
}

block! {
    /// Acts and what must come after the last of them.
    pub struct Next {
        /// Any of these.
        acts: Vec<ActName> = ACTS,
        /// Then any of these.
        by: Vec<ActName> = ACTS,
        /// Latest that passes, from the last of the acts.
        within_s: f64 = TIME,
    }
}

block! {
    /// Acts.
    pub struct Acts {
        /// These.
        acts: Vec<ActName> = ACTS,
    }
}

block! {
    /// A shortest time.
    pub struct Floor {
        /// Shortest that passes.
        at_least_s: f64 = TIME,
    }
}

block! {
    /// A number of times.
    pub struct Count {
        /// Most that passes.
        at_most: f64 = COUNT,
    }
}

block! {
    /// A question of the scenario.
    pub struct Which {
        /// Its `id`.
        question: Id = text(64),
    }
}

impl Measure {
    /// Whether it measures something that only a run with gas has.
    #[must_use]
    pub fn is_of_gas(&self) -> bool {
        matches!(
            self,
            Self::EndTidalOutside(_)
                | Self::EndTidalWithin(_)
                | Self::HighestEndTidal(_)
                | Self::FinalEndTidal(_)
                | Self::FinalInspiredCarbonDioxide(_)
                | Self::SaturationBelow(_)
                | Self::FinalOwnTidalVolume(_)
                | Self::AlarmSet(AlarmRange {
                    of: Alarmed::EndTidalCarbonDioxide | Alarmed::Saturation,
                    ..
                })
        )
    }
}
