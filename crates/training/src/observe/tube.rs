//! What is noticed when a tube is moved or a patient turned.

use tidewright_scenario::format::Act;

use crate::bedside::Bedside;
use crate::case::tube::{Dragged, How};
use crate::words::text::said;

/// What is seen of a tube that slipped out.
pub(super) const OUT: &str = "The tube has slipped out of the mouth.";

pub(super) fn seen(session: &Bedside, act: &Act) -> Option<String> {
    let handling = &session.world().tube;
    let moved = handling.moved.last().filter(|moved| moved.at_s == session.now_s());
    let Some(moved) = moved else {
        let whole = "Off the circuit, the cuff is let down, the tube drawn back a little and \
                     tied, the cuff filled by gauge, and the patient put back. Listen to both \
                     sides again.";
        return matches!(act, Act::WithdrawTube).then(|| whole.to_owned());
    };
    let against = || {
        let cuff = said(moved.cuff_cmh2o);
        format!("The tube comes with resistance: its cuff still holds {cuff} cmH2O.")
    };
    Some(match (moved.how, moved.strained(), handling.dragged) {
        (How::Turned, _, Some(Dragged::Out)) if moved.connected => {
            format!("The patient is turned on the circuit. {OUT}")
        }
        (How::Turned, ..) if moved.connected => {
            "The patient is turned on the circuit, and the circuit drags the tube along.".to_owned()
        }
        (How::Turned, ..) => "Off the circuit the patient is turned, head and body together. Put \
                              it back on, listen to both sides, and read the cuff's gauge."
            .to_owned(),
        (_, true, _) => against(),
        (How::DrawnBack, ..) => "The tube is drawn back a little and tied. Fill the cuff by its \
                                 gauge, and listen to both sides again."
            .to_owned(),
        (How::Changed, ..) => "The old tube is drawn out, its cuff down.".to_owned(),
    })
}

/// What a look shows of a tube that a turn has dragged.
pub(super) fn look(session: &Bedside) -> &'static str {
    match session.world().tube.dragged {
        Some(Dragged::Kinked) => " The tube has turned and is bent at the mouth.",
        Some(Dragged::Out) | None => "",
    }
}
