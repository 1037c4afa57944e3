//! Panels over one shared axis: what they hold.

use crate::plot::event::{BreathEnd, Event, Phase};
use crate::plot::note::Note;
use crate::plot::panel::Panel;

/// Panels over one axis, and what is marked on it.
pub(crate) struct Stack<'a> {
    pub title: &'a str,
    pub subtitle: &'a str,
    pub start_s: f64,
    pub end_s: f64,
    /// Name and unit of the shared axis; time for most figures.
    pub along: &'a str,
    /// Names of its values, where they are not numbers.
    pub names: Vec<String>,
    pub phases: Vec<Phase>,
    /// Measures drawn into the panels, each with the place of its panel.
    pub notes: Vec<(usize, Note)>,
    /// Sentences of the description for what is drawn but not written out.
    pub said: Vec<String>,
    /// Marked in the first panel.
    pub breath_ends: Vec<BreathEnd>,
    pub events: Vec<Event>,
    pub panels: Vec<Panel>,
}

impl<'a> Stack<'a> {
    /// An empty stack over an axis.
    pub fn over(along: &'a str, start_s: f64, end_s: f64, panels: Vec<Panel>) -> Self {
        Self {
            title: "",
            subtitle: "",
            start_s,
            end_s,
            along,
            names: Vec::new(),
            phases: Vec::new(),
            notes: Vec::new(),
            said: Vec::new(),
            breath_ends: Vec::new(),
            events: Vec::new(),
            panels,
        }
    }
}
