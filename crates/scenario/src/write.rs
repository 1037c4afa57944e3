//! A scenario written back as text.

use ron::extensions::Extensions;
use ron::ser::PrettyConfig;

use crate::format::Scenario;

impl Scenario {
    /// The scenario in RON; [`crate::parse`] reads it back as the same scenario.
    #[must_use]
    pub fn to_ron(&self) -> String {
        let options = ron::Options::default()
            .with_default_extension(Extensions::IMPLICIT_SOME)
            .with_default_extension(Extensions::UNWRAP_VARIANT_NEWTYPES);
        let text = options.to_string_pretty(self, PrettyConfig::new());
        format!("Scenario{}\n", text.expect("numbers, texts and lists can always be written"))
    }

    /// The scenario in JSON; [`crate::parse`] reads it back as the same scenario.
    #[must_use]
    pub fn to_json(&self) -> String {
        let text = serde_json::to_string_pretty(self);
        text.expect("numbers, texts and lists can always be written") + "\n"
    }
}
