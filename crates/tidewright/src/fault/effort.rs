//! What the patient's own muscles do against the ventilator.

use super::Fault;
use crate::base::quantity::{Pressure, Seconds};
use crate::setup::{Course, Effort, Segment};

/// The pattern of muscles at work, in the place of whatever there was.
pub(super) fn at_work(fault: Fault, severity: f64) -> Effort {
    match fault {
        Fault::OwnBreaths => Effort::breaths(
            Pressure::cmh2o(10.0 * severity),
            Seconds::s(OWN_BREATH_S),
            Seconds::s(OWN_BREATH_EVERY_S),
        ),
        Fault::Coughing => {
            Effort::coughs(Pressure::cmh2o(30.0 * severity), Seconds::s(COUGH_EVERY_S))
        }
        _ => {
            let hold = |s, pressure| Segment {
                duration: Seconds::s(s),
                course: Course::Hold(Pressure::cmh2o(pressure)),
            };
            let rest_s = BOUT_EVERY_S - BOUT_S;
            Effort { segments: vec![hold(BOUT_S, -8.0 * severity), hold(rest_s, 0.0)] }
        }
    }
}

const OWN_BREATH_S: f64 = 1.0;
const OWN_BREATH_EVERY_S: f64 = 3.0;
const COUGH_EVERY_S: f64 = 3.0;
const BOUT_S: f64 = 1.5;
const BOUT_EVERY_S: f64 = 5.0;
