//! The part of a session that its debrief draws.

use std::ops::Range;

use serde::Serialize;

use crate::debrief::Debrief;
use crate::session::Session;
use crate::words::text::said_act;

/// Longest part of a session that a figure shows, s.
const LONGEST_S: f64 = 90.0;
/// How much of it comes before the onset, s.
const BEFORE_ONSET_S: f64 = 15.0;
/// Shortest part of which there is anything to see, s.
const SHORTEST_S: f64 = 1.0;

/// The session around its onset: which part of it, and what is marked there.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Scene {
    /// The part, s.
    pub window_s: Range<f64>,
    /// Onset, first sign and acts within it, each with its time, s, in order of time.
    pub events: Vec<(f64, String)>,
}

impl Scene {
    /// The scene of a session and its debrief; none where the session was too short to
    /// show anything.
    #[must_use]
    pub fn of(session: &Session, debrief: &Debrief) -> Option<Self> {
        let now_s = session.now_s();
        // Who ended before the onset sees what there was.
        let onset_s = debrief.marking.onset_s.filter(|&onset_s| onset_s <= now_s);
        let from_s = onset_s.map_or(0.0, |onset_s| (onset_s - BEFORE_ONSET_S).max(0.0));
        let to_s = (from_s + LONGEST_S).min(now_s);
        if now_s <= SHORTEST_S || to_s - from_s < SHORTEST_S {
            return None;
        }
        let marking = &debrief.marking;
        let marks = [(marking.onset_s, "onset"), (marking.sign_s, "first sign")];
        let marks = marks.into_iter().filter_map(|(at_s, label)| Some((at_s?, label.to_owned())));
        let acts = session.acts().iter().map(|timed| (timed.at_s, said_act(&timed.act)));
        let shown = |event: &(f64, String)| (from_s..=to_s).contains(&event.0);
        let mut events: Vec<(f64, String)> = marks.chain(acts).filter(shown).collect();
        events.sort_by(|a, b| a.0.total_cmp(&b.0));
        Some(Self { window_s: from_s..to_s, events })
    }
}
