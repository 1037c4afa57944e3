//! The short name of a scenario.

use std::fmt;

use serde::Serialize;

use crate::fault::Problem;
use crate::read::{Read, Reader, Rule, Shape};
use crate::text::Node;

/// The short name of a scenario: small letters, digits and hyphens.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct Id(String);

impl Id {
    /// A name of at most 64 letters; nothing where the text is none.
    ///
    /// ```
    /// use tidewright_scenario::format::Id;
    /// assert_eq!(Id::new("heron-12").unwrap().as_str(), "heron-12");
    /// assert!(["", "Heron", "-12", "a b"].into_iter().all(|text| Id::new(text).is_none()));
    /// ```
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        ((1..=64).contains(&text.len()) && fits(text)).then(|| Self(text.to_owned()))
    }

    /// The name as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Read for Id {
    fn describe(_: &str, rule: &Rule) -> Shape {
        Shape::Plain(format!("small letters, digits and hyphens, at most {}", rule.max))
    }

    fn read(node: &Node, field: &str, rule: &Rule, reader: &mut Reader<'_>) -> Option<Self> {
        let text = String::read(node, field, rule, reader)?;
        if fits(&text) {
            return Some(Self(text));
        }
        let problem = Problem::OddText {
            field: field.to_owned(),
            expected: "small letters, digits and hyphens between them",
            mend: format!("write `\"{}\"`", in_kebab_case(&text)),
        };
        reader.report(node.mark(), problem);
        None
    }

    fn absent(_: &Rule) -> Option<Self> {
        None
    }
}

fn fits(text: &str) -> bool {
    let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    text.chars().all(fits) && !text.starts_with('-') && !text.ends_with('-')
}

/// `Grey Cat: first breaths!` as `grey-cat-first-breaths`.
fn in_kebab_case(text: &str) -> String {
    let words = text.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    let name = words.map(str::to_ascii_lowercase).collect::<Vec<_>>().join("-");
    if name.is_empty() { "my-scenario".to_owned() } else { name }
}
