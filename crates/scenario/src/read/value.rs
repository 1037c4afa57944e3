//! Numbers, texts, lists and what may be absent.

use super::{Absent, Read, Reader, Rule, Shape, read_absent};
use crate::fault::Problem;
use crate::text::{Block, Kind, Node};
use crate::visible;

/// The unit that a field's name ends in.
pub fn unit_of(field: &str) -> &'static str {
    split_unit(field).1
}

/// A field's name without its unit, and the unit; one of them may be empty.
pub fn split_unit(field: &str) -> (&str, &'static str) {
    const UNITS: [(&str, &str); 23] = [
        ("mmhg", "mmHg"),
        ("ml_per_ml", "mL for each mL"),
        ("c", "°C"),
        ("bar", "bar"),
        ("l", "L"),
        ("ml_kg", "mL/kg"),
        ("cmh2o_s", "cmH2O·s"),
        ("percent", "%"),
        ("ml_cmh2o", "mL/cmH2O"),
        ("cmh2o_s_l", "cmH2O·s/L"),
        ("cmh2o_s2_l2", "cmH2O·s²/L²"),
        ("cmh2o", "cmH2O"),
        ("l_min", "L/min"),
        ("ml_min", "mL/min"),
        ("ml_s", "mL/s"),
        ("ml", "mL"),
        ("min", "min"),
        ("per_min", "per minute"),
        ("per_s", "per second"),
        ("mm", "mm"),
        ("cm", "cm"),
        ("kg", "kg"),
        ("s", "s"),
    ];
    let ends_in = |unit: &str| {
        let before = field.strip_suffix(unit);
        before.is_some_and(|before| before.is_empty() || before.ends_with('_'))
    };
    let longest = UNITS.iter().filter(|(end, _)| ends_in(end)).max_by_key(|(end, _)| end.len());
    longest.map_or((field, ""), |(end, unit)| {
        let name = &field[..field.len() - end.len()];
        (name.trim_end_matches('_'), *unit)
    })
}

impl Read for f64 {
    fn describe(field: &str, rule: &Rule) -> Shape {
        Shape::Plain(a_number(field, rule))
    }

    fn read(node: &Node, field: &str, rule: &Rule, reader: &mut Reader<'_>) -> Option<Self> {
        let Kind::Number(value) = node.kind else {
            let mend = match &node.kind {
                Kind::Text(text) if text.trim().parse::<f64>().is_ok() => {
                    "write the number without quotes".to_owned()
                }
                _ => format!("write {}", a_number(field, rule)),
            };
            reader.wrong_kind(node, field, a_number(field, rule), mend);
            return None;
        };
        if rule.min <= value && value <= rule.max {
            return Some(value);
        }
        let problem = Problem::OutOfRange {
            field: field.to_owned(),
            found: value.to_string(),
            unit: unit_of(field),
            min: rule.min,
            max: rule.max,
            hint: rule.hint,
        };
        reader.report(node.mark(), problem);
        None
    }

    fn absent(rule: &Rule) -> Option<Self> {
        match rule.absent {
            Absent::Number(value) => Some(value),
            _ => None,
        }
    }
}

/// `a number from 0 to 60 L/min`, or the only number that is allowed.
fn a_number(field: &str, rule: &Rule) -> String {
    if rule.min == rule.max {
        return format!("the number {}", rule.min);
    }
    let words = format!("a number from {} to {} {}", rule.min, rule.max, unit_of(field));
    words.trim_end().to_owned()
}

impl Read for u32 {
    fn describe(field: &str, rule: &Rule) -> Shape {
        f64::describe(field, rule)
    }

    fn read(node: &Node, field: &str, rule: &Rule, reader: &mut Reader<'_>) -> Option<Self> {
        let value = f64::read(node, field, rule, reader)?;
        if value.fract() != 0.0 {
            reader.report(node.mark(), Problem::NotWhole { field: field.to_owned() });
            return None;
        }
        Some(value as Self)
    }

    fn absent(rule: &Rule) -> Option<Self> {
        f64::absent(rule).map(|value| value as Self)
    }
}

impl Read for bool {
    fn describe(_: &str, _: &Rule) -> Shape {
        Shape::Plain("`true` or `false`".to_owned())
    }

    fn read(node: &Node, field: &str, _: &Rule, reader: &mut Reader<'_>) -> Option<Self> {
        match &node.kind {
            Kind::Word(word) if word == "true" => Some(true),
            Kind::Word(word) if word == "false" => Some(false),
            _ => {
                let (expected, mend) = ("`true` or `false`", "write `true` or `false`");
                reader.wrong_kind(node, field, expected.to_owned(), mend.to_owned());
                None
            }
        }
    }

    fn absent(rule: &Rule) -> Option<Self> {
        read_absent(rule)
    }
}

impl Read for String {
    fn describe(_: &str, rule: &Rule) -> Shape {
        Shape::Plain(format!("text of at most {} characters", rule.max))
    }

    fn read(node: &Node, field: &str, rule: &Rule, reader: &mut Reader<'_>) -> Option<Self> {
        let Kind::Text(text) = &node.kind else {
            let mend = "write it between double quotes".to_owned();
            reader.wrong_kind(node, field, "text between double quotes".to_owned(), mend);
            return None;
        };
        if text.chars().any(|c| c.is_control() && c != '\n' && c != '\t') {
            let problem = Problem::OddText {
                field: field.to_owned(),
                expected: "letters, digits, signs and line ends",
                mend: "remove control characters".to_owned(),
            };
            reader.report(node.mark(), problem);
            return None;
        }
        let length = text.chars().count();
        in_length(node, field, ("characters", length), rule, reader)?;
        // What would turn the direction of writing is shown wherever the text is shown.
        Some(visible(text).into_owned())
    }

    fn absent(_: &Rule) -> Option<Self> {
        None
    }
}

/// Notes a text or list that is too short or too long.
fn in_length(
    node: &Node,
    field: &str,
    (of, found): (&'static str, usize),
    rule: &Rule,
    reader: &mut Reader<'_>,
) -> Option<()> {
    let (min, max) = (rule.min as usize, rule.max as usize);
    if (min..=max).contains(&found) {
        return Some(());
    }
    let field = field.to_owned();
    reader.report(node.mark(), Problem::WrongLength { field, of, found, min, max });
    None
}

impl<T: Read> Read for Vec<T> {
    fn describe(field: &str, rule: &Rule) -> Shape {
        let of = Box::new(T::describe(field, rule));
        Shape::List { of, min: rule.min as usize, max: rule.max as usize }
    }

    fn read(node: &Node, field: &str, rule: &Rule, reader: &mut Reader<'_>) -> Option<Self> {
        let Kind::List(items) = &node.kind else {
            let mend = "write `[`, the entries with commas between them, `]`".to_owned();
            reader.wrong_kind(node, field, "a list `[…]`".to_owned(), mend);
            return None;
        };
        in_length(node, field, ("entries", items.len()), rule, reader)?;
        // Every item is read before any fault ends the list.
        let read: Vec<Option<T>> =
            items.iter().map(|item| T::read(item, field, rule, reader)).collect();
        read.into_iter().collect()
    }

    fn absent(rule: &Rule) -> Option<Self> {
        (rule.absent == Absent::Empty).then(Self::new)
    }

    fn is_absent(&self) -> bool {
        self.is_empty()
    }
}

impl<T: Read> Read for Option<T> {
    fn describe(field: &str, rule: &Rule) -> Shape {
        T::describe(field, rule)
    }

    fn read(node: &Node, field: &str, rule: &Rule, reader: &mut Reader<'_>) -> Option<Self> {
        match &node.kind {
            Kind::Word(word) if word == "None" || word == "null" => Some(None),
            Kind::Named(name, inside) if name.text == "Some" => match &inside.kind {
                Kind::Block(Block { entries, .. })
                    if entries.len() == 1 && entries[0].key.is_none() =>
                {
                    T::read(&entries[0].value, field, rule, reader).map(Some)
                }
                _ => {
                    let mend = "leave out `Some`: it is never needed".to_owned();
                    reader.wrong_kind(node, field, "`Some(…)` around one value".to_owned(), mend);
                    None
                }
            },
            _ => T::read(node, field, rule, reader).map(Some),
        }
    }

    fn absent(_: &Rule) -> Option<Self> {
        Some(None)
    }

    fn is_absent(&self) -> bool {
        self.is_none()
    }
}
