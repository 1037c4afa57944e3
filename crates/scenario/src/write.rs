//! Scenarios and attempts written back as text.

use ron::extensions::Extensions;
use ron::ser::PrettyConfig;
use serde::Serialize;

use crate::format::{Attempt, Entry, Scenario, Sealed};

impl Scenario {
    /// The scenario in RON; [`crate::parse`] reads it back as the same scenario.
    #[must_use]
    pub fn to_ron(&self) -> String {
        in_ron("Scenario", self, PrettyConfig::new())
    }

    /// The scenario in JSON; [`crate::parse`] reads it back as the same scenario.
    #[must_use]
    pub fn to_json(&self) -> String {
        in_json(self)
    }
}

impl Attempt {
    /// The log in RON, an act to a line; [`crate::parse_attempt`] reads it back.
    #[must_use]
    pub fn to_ron(&self) -> String {
        in_ron("Attempt", self, PrettyConfig::new().depth_limit(2))
    }

    /// The log in JSON; [`crate::parse_attempt`] reads it back.
    #[must_use]
    pub fn to_json(&self) -> String {
        in_json(self)
    }
}

impl Sealed {
    /// The file in RON; [`crate::parse_sealed`] reads it back.
    #[must_use]
    pub fn to_ron(&self) -> String {
        in_ron("Sealed", self, PrettyConfig::new())
    }
}

impl Entry {
    /// The line of a journal, with its end.
    #[must_use]
    pub fn to_line(&self) -> String {
        let text = options().to_string(self);
        format!("{}\n", text.expect("numbers, texts and lists can always be written"))
    }
}

fn options() -> ron::Options {
    ron::Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .with_default_extension(Extensions::UNWRAP_VARIANT_NEWTYPES)
}

fn in_ron(name: &str, value: &impl Serialize, config: PrettyConfig) -> String {
    let text = options().to_string_pretty(value, config);
    format!("{name}{}\n", text.expect("numbers, texts and lists can always be written"))
}

fn in_json(value: &impl Serialize) -> String {
    let text = serde_json::to_string_pretty(value);
    text.expect("numbers, texts and lists can always be written") + "\n"
}
