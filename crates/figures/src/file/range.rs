//! A setting and its range.

use tidewright_scenario::read::number;
use tidewright_scenario::{block, choice};

choice! {
    /// A setting and the range over which it is varied.
    #[derive(Copy)]
    pub enum Range {
        /// The fresh gas flow.
        FreshGasFlow(FlowRange),
        /// The cycling pressure.
        CyclingPressure(PressureRange),
        /// The inspiratory time limit.
        InspiratoryTimeLimit(TimeRange),
        /// The expiratory time.
        ExpiratoryTime(TimeRange),
        /// A leak that lets out so much at 30 cmH2O.
        Leak(LeakRange),
        /// The compliance of a lung of one compartment.
        Compliance(ComplianceRange),
        /// The resistance of an airway with one compartment.
        Resistance(ResistanceRange),
    }
}

/// Declares the block of a range: its two ends, their unit in their names.
macro_rules! range {
    ($(#[doc = $doc:literal])+ $name:ident, $from:ident to $to:ident,
     $low:literal to $high:literal $(, $rest:ident: $rest_low:literal to $rest_high:literal)?) => {
        block! {
            $(#[doc = $doc])+
            pub struct $name {
                /// Lowest value.
                $from: f64 = number($low, $high),
                /// Highest value.
                $to: f64 = number($low, $high),
                $(/// The other property of the lung, held.
                $rest: f64 = number($rest_low, $rest_high),)?
            }
        }
        impl Copy for $name {}
    };
}

range!(/** A range of flows. */ FlowRange, from_l_min to to_l_min, 0.05 to 100.0);
range!(/** A range of pressures. */ PressureRange, from_cmh2o to to_cmh2o, 0.5 to 100.0);
range!(/** A range of times. */ TimeRange, from_s to to_s, 0.02 to 60.0);
range!(/** A range of leaks. */ LeakRange, from_ml_min to to_ml_min, 0.0 to 1_000_000.0);
range!(/** A range of compliances. */ ComplianceRange, from_ml_cmh2o to to_ml_cmh2o,
       0.001 to 10_000.0, resistance_cmh2o_s_l: 0.01 to 100_000.0);
range!(/** A range of resistances. */ ResistanceRange, from_cmh2o_s_l to to_cmh2o_s_l,
       0.01 to 100_000.0, compliance_ml_cmh2o: 0.001 to 10_000.0);
