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
        format!("{}\n", plain(&text.expect("numbers, texts and lists can always be written")))
    }
}

fn options() -> ron::Options {
    ron::Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .with_default_extension(Extensions::UNWRAP_VARIANT_NEWTYPES)
}

fn in_ron(name: &str, value: &impl Serialize, config: PrettyConfig) -> String {
    // Else files differ between systems.
    let text = options().to_string_pretty(value, config.new_line("\n"));
    format!("{name}{}\n", plain(&text.expect("numbers, texts and lists can always be written")))
}

/// `None` is a name like any other in our files, also where RON's writer marks it as raw.
fn plain(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    let mut quoted = false;
    for part in text.split_inclusive('"') {
        plain += &if quoted { part.to_owned() } else { part.replace("r#None", "None") };
        let before = part.trim_end_matches('"');
        let slashes = before.len() - before.trim_end_matches('\\').len();
        let escaped = quoted && slashes % 2 == 1;
        quoted ^= before.len() < part.len() && !escaped;
    }
    plain
}

pub(super) fn in_json(value: &impl Serialize) -> String {
    let text = serde_json::to_string_pretty(value);
    text.expect("numbers, texts and lists can always be written") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_raw_name_is_written_plainly_and_a_text_as_it_stands() {
        let raw = r#"(guidance: r#None, story: "a \"r#None\" \\", monitor: r#None)"#;
        let told = r#"(guidance: None, story: "a \"r#None\" \\", monitor: None)"#;
        assert_eq!(plain(raw), told);
        let text = include_str!("../../../../scenarios/training/marlow-the-whole-case.ron");
        let lesson = crate::parse("a.ron", &text.replace("guidance: Hints", "guidance: None"));
        let lesson = lesson.expect("a lesson");
        assert!(lesson.to_ron().contains("guidance: None,"));
        assert!(crate::parse("a.ron", &lesson.to_ron()).is_ok_and(|again| again == lesson));
    }
}
