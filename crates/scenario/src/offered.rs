//! What may be written at a place of a scenario: for who writes with a list of fields
//! beside the text. Taken from the declarations that the reader uses.

use serde::Serialize;

use crate::fault::Faults;
use crate::format::Scenario;
use crate::read::{Absent, BlockShape, ChoiceShape, Rule, Shape, any};
use crate::text::{self, Block, Dialect, Entry, Kind, Node};

/// The fields that a block lacks, and where one would stand.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Offered {
    /// The block's name in the reference.
    pub block: &'static str,
    /// Where a field goes, in bytes from the start of the text.
    pub at: usize,
    /// The fields, in the order of the reference.
    pub fields: Vec<Offer>,
}

/// A field that may be written.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Offer {
    /// Its name.
    pub name: &'static str,
    /// What it means.
    pub meaning: String,
    /// What it may be, in words.
    pub value: String,
    /// Whether the block must have it.
    pub must: bool,
    /// The text to put in, with a value to begin from.
    pub text: String,
    /// Where in it the value stands, in bytes.
    pub select: (usize, usize),
}

/// How deep a value to begin from goes.
const DEEPEST: usize = 6;

/// What may be written in the block around a place, in bytes from the start of the text;
/// nothing where no block can be made out.
///
/// ```
/// let text = tidewright_scenario::DEMO;
/// let at = text.find("species").expect("the patient");
/// let offered = tidewright_scenario::offered("demo.ron", text, at).expect("a block");
/// assert_eq!(offered.block, "Patient");
/// let posture = offered.fields.iter().find(|field| field.name == "posture").expect("it");
/// let mut longer = text.to_owned();
/// longer.insert_str(offered.at, &posture.text);
/// assert!(tidewright_scenario::parse("demo.ron", &longer).is_ok());
/// ```
#[must_use]
pub fn offered(file_name: &str, text: &str, at: usize) -> Option<Offered> {
    let dialect = Dialect::of(file_name, text);
    let root = text::parse(text, dialect, &mut Faults::default());
    let (shape, node, block) = around(&root, Shape::Block(&Scenario::SHAPE), at)?;
    let has = |name: &str| block.entries.iter().any(|one| is_named(one, name));
    let place = Place::of(text, node, block, at);
    let missing = shape.fields.iter().filter(|field| !has(field.name));
    let fields = missing.map(|field| {
        let kind = field.shape();
        let value = beginning(&kind, &field.rule, dialect, 0);
        let (text, select) = place.text(field.name, &value, dialect);
        Offer {
            name: field.name,
            meaning: field.meaning.split_whitespace().collect::<Vec<_>>().join(" "),
            value: kind.in_words(),
            must: field.rule.absent == Absent::Fault,
            text,
            select,
        }
    });
    Some(Offered { block: shape.name, at: place.at, fields: fields.collect() })
}

fn is_named(entry: &Entry, name: &str) -> bool {
    entry.key.as_ref().is_some_and(|key| key.text == name)
}

type Found<'n> = (&'static BlockShape, &'n Node, &'n Block);

/// The innermost block around a place.
fn around(node: &Node, shape: Shape, at: usize) -> Option<Found<'_>> {
    if at <= node.span.start || at >= node.span.end {
        return None;
    }
    match (&node.kind, shape) {
        (Kind::Named(_, inside), Shape::Block(block)) => around(inside, Shape::Block(block), at),
        (Kind::Named(name, inside), Shape::Choice(choice)) => {
            around(within(inside), follows(choice, &name.text)?, at)
        }
        (Kind::Block(block), Shape::Block(shape)) => {
            let inner = block.entries.iter().find_map(|entry| {
                let name = entry.key.as_ref().map(|key| &*key.text).or(shape.leading)?;
                let field = shape.fields.iter().find(|field| field.name == name)?;
                around(&entry.value, field.shape(), at)
            });
            inner.or(Some((shape, node, block)))
        }
        (Kind::Block(block), Shape::Choice(choice)) => {
            let named = block.entries.iter().find_map(|entry| {
                let shape = follows(choice, &entry.key.as_ref()?.text)?;
                around(&entry.value, shape, at)
            });
            let plain = || around(node, choice.plain.as_ref()?.payload?("", &any()), at);
            named.or_else(plain)
        }
        (Kind::List(items), Shape::List { of, .. }) => {
            items.iter().find_map(|item| around(item, (*of).clone(), at))
        }
        _ => None,
    }
}

/// What follows a word of a choice.
fn follows(choice: &ChoiceShape, word: &str) -> Option<Shape> {
    let known = choice.words.iter().find(|known| known.name == word)?;
    Some(known.payload?("", &any()))
}

/// `Word(value)` holds a value, `Word(name: value)` a block.
fn within(inside: &Node) -> &Node {
    match &inside.kind {
        Kind::Block(block) => match &block.entries[..] {
            [only] if only.key.is_none() => &only.value,
            _ => inside,
        },
        _ => inside,
    }
}

/// A value to begin from.
fn beginning(shape: &Shape, rule: &Rule, dialect: Dialect, depth: usize) -> String {
    let json = dialect == Dialect::Json;
    match (rule.absent, shape) {
        (Absent::Number(number), _) => return number.to_string(),
        (Absent::Word(word @ ("true" | "false")), _) => return word.to_owned(),
        (Absent::Word(word), _) if json => return format!("\"{word}\""),
        (Absent::Word(word), _) => return word.to_owned(),
        _ if depth > DEEPEST => return if json { "{}" } else { "()" }.to_owned(),
        _ => {}
    }
    match shape {
        Shape::Plain(words) if words.contains("number") => some_number(rule).to_string(),
        Shape::Plain(words) if words.contains("`true`") => "true".to_owned(),
        Shape::Plain(words) if words.starts_with("text") => "\"write here\"".to_owned(),
        Shape::Plain(_) => "\"name\"".to_owned(),
        Shape::Block(block) => {
            let must = block.fields.iter().filter(|field| field.rule.absent == Absent::Fault);
            let must: Vec<String> = must
                .map(|field| {
                    let value = beginning(&field.shape(), &field.rule, dialect, depth + 1);
                    entry(field.name, &value, dialect)
                })
                .collect();
            let inside = must.join(", ");
            if json { format!("{{{inside}}}") } else { format!("({inside})") }
        }
        Shape::Choice(choice) => {
            let Some(word) = choice.words.first() else { return String::new() };
            let Some(payload) = word.payload else {
                return if json { format!("\"{}\"", word.name) } else { word.name.to_owned() };
            };
            let value = beginning(&payload("", &any()), &any(), dialect, depth + 1);
            match json {
                true => format!("{{\"{}\": {value}}}", word.name),
                false if value.starts_with('(') => format!("{}{value}", word.name),
                false => format!("{}({value})", word.name),
            }
        }
        Shape::List { of, min, .. } => {
            let item = beginning(of, &any(), dialect, depth + 1);
            format!("[{}]", vec![item; (*min).max(1)].join(", "))
        }
    }
}

/// 1 where that is allowed, else the least.
fn some_number(rule: &Rule) -> f64 {
    if rule.min <= 1.0 && 1.0 <= rule.max { 1.0 } else { rule.min }
}

fn entry(name: &str, value: &str, dialect: Dialect) -> String {
    match dialect {
        Dialect::Ron => format!("{name}: {value}"),
        Dialect::Json => format!("\"{name}\": {value}"),
    }
}

/// Where a field goes, and what must stand around it.
struct Place {
    at: usize,
    before: String,
    after: &'static str,
}

impl Place {
    /// Behind the entry that ends before the place, on a line of its own.
    fn of(text: &str, node: &Node, block: &Block, at: usize) -> Self {
        let ended = block.entries.iter().rfind(|entry| entry.value.span.end <= at);
        let is_last = block.entries.last().is_none_or(|last| last.value.span.end <= at);
        let json = text[node.span.start..].starts_with('{');
        let closing = if json && is_last { "" } else { "," };
        let indent = |of: usize, more: usize| {
            let line = text[..of].rfind('\n').map_or(0, |end| end + 1);
            let blank = text[line..].chars().take_while(|&c| c == ' ').count();
            " ".repeat(blank + more)
        };
        let Some(entry) = ended else {
            let start = node.span.start + 1;
            let indent = indent(start, 4);
            return Self { at: start, before: format!("\n{indent}"), after: closing };
        };
        let end = entry.value.span.end;
        let rest = &text[end..];
        let comma = rest.trim_start().starts_with(',');
        let mut place = end;
        if comma {
            place += rest.find(',').unwrap_or(0) + 1;
            // A comment behind it stays with it.
            let line = text[place..].split('\n').next().unwrap_or_default();
            if line.trim().is_empty() || line.trim_start().starts_with("//") {
                place += line.len();
            }
        }
        let indent = indent(entry.key.as_ref().map_or(end, |key| key.span.start), 0);
        let before = format!("{}\n{indent}", if comma { "" } else { "," });
        Self { at: place, before, after: closing }
    }

    fn text(&self, name: &str, value: &str, dialect: Dialect) -> (String, (usize, usize)) {
        let written = entry(name, value, dialect);
        let start = self.before.len() + written.len() - value.len();
        let text = format!("{}{written}{}", self.before, self.after);
        (text, (start, start + value.len()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{DEMO, parse};

    /// Every field that is offered anywhere in a text can be put in, and is then known.
    fn every_offer_is_read(file: &str, text: &str) -> usize {
        let mut tried = std::collections::BTreeSet::new();
        for at in (0..text.len()).filter(|&at| text.is_char_boundary(at)) {
            let Some(Offered { block, at, fields }) = offered(file, text, at) else { continue };
            for field in fields {
                if !tried.insert((block, field.name, at)) {
                    continue;
                }
                let mut longer = text.to_owned();
                longer.insert_str(at, &field.text);
                assert_eq!(
                    &longer[at + field.select.0..at + field.select.1],
                    &field.text[field.select.0..field.select.1]
                );
                let mut faults = Faults::default();
                text::parse(&longer, Dialect::of(file, &longer), &mut faults);
                assert_eq!(faults.count(), 0, "{block}.{}: {longer}", field.name);
                let Err(rejected) = parse(file, &longer) else { continue };
                for fault in rejected.faults() {
                    let says = fault.to_string();
                    assert!(!says.contains("has no field"), "{block}.{}: {says}", field.name);
                    assert!(!says.contains("twice"), "{block}.{}: {says}", field.name);
                }
            }
        }
        tried.len()
    }

    #[test]
    fn every_offer_can_be_put_in_and_is_read() {
        assert!(every_offer_is_read("a.ron", DEMO) > 40);
        let json = parse("a.ron", DEMO).expect("the demo").to_json();
        assert!(every_offer_is_read("a.json", &json) > 40);
    }

    #[test]
    fn what_is_there_is_not_offered_and_a_comment_stays_with_its_line() {
        let text = "Scenario(\n    id: \"a\", // its name\n    patient: (species: Cat),\n)";
        let offered = offered("a.ron", text, text.find("patient").expect("it") - 1);
        let offered = offered.expect("a block");
        assert_eq!(offered.block, "Scenario");
        assert!(offered.fields.iter().all(|one| one.name != "id" && one.name != "patient"));
        assert!(text[..offered.at].ends_with("// its name"));
        assert_eq!(super::offered("a.ron", "", 0), None);
        assert_eq!(super::offered("a.ron", "Scenario(", 20), None);
    }
}
