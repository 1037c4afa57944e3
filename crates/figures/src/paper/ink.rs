//! The few elements that our SVG backend writes, read back so that pages and pixels
//! are drawn from them.

use roxmltree::Node;

use crate::paper::error::FigureError;
use crate::paper::font::Weight;

/// Control points of a Bézier quarter of a circle, as part of its radius: error
/// below 0.03 %.
const QUARTER: f32 = 0.552_285;
/// SVG's own limit for the tips of corners.
pub(crate) const MITER_LIMIT: f32 = 4.0;

/// A part of an outline. Lengths in CSS pixels, y downward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Step {
    Move([f32; 2]),
    Line([f32; 2]),
    /// A cubic Bézier curve: two control points and the end.
    Curve([[f32; 2]; 3]),
    Close,
}

/// A colour, and how much of it covers what is below, from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ink {
    pub rgb: [u8; 3],
    pub opacity: f32,
}

/// How a line is drawn along an outline.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Pen {
    pub ink: Ink,
    pub width: f32,
    pub round_joins: bool,
    /// Lengths of dashes and gaps in turn; none for a whole line.
    pub dashes: Vec<f32>,
}

/// A turn by an angle about a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Turn {
    pub degrees: f32,
    pub about: [f32; 2],
}

/// A text in one line.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Words<'a> {
    pub text: &'a str,
    /// The baseline's start, middle or end.
    pub at: [f32; 2],
    /// How much of its width lies before that.
    pub before: f32,
    pub size: f32,
    pub weight: Weight,
    pub fill: Option<Ink>,
    pub turn: Option<Turn>,
}

/// What one element draws.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Mark<'a> {
    Nothing,
    Shape { outline: Vec<Step>, fill: Option<Ink>, pen: Option<Pen> },
    Words(Words<'a>),
}

impl<'a> Mark<'a> {
    /// Reads an element.
    pub fn of(node: &Node<'a, '_>) -> Result<Self, FigureError> {
        let outline = match node.tag_name().name() {
            "title" | "desc" | "style" => return Ok(Self::Nothing),
            "text" => return Ok(Self::Words(words(node)?)),
            "path" => path(node.attribute("d").unwrap_or_default())?,
            "rect" => rect(node)?,
            "circle" => {
                circle([number(node, "cx")?, number(node, "cy")?], number(node, "r")?).to_vec()
            }
            other => return Err(FigureError::Page(format!("no ink for an element <{other}>"))),
        };
        Ok(Self::Shape { outline, fill: ink(node, "fill", "fill-opacity")?, pen: pen(node)? })
    }
}

/// A group's own shift and scale, where it has one.
pub(crate) fn moved(node: &Node<'_, '_>) -> Result<Option<([f32; 2], f32)>, FigureError> {
    let Some(text) = node.attribute("transform") else { return Ok(None) };
    let inside = text.strip_prefix("translate(").and_then(|rest| rest.strip_suffix(')'));
    let numbers = inside.map(|inside| inside.split([' ', ')', '(']).filter_map(|n| n.parse().ok()));
    match numbers.into_iter().flatten().collect::<Vec<f32>>()[..] {
        [x, y, scale] => Ok(Some(([x, y], scale))),
        _ => Err(FigureError::Page(format!("a group is moved by {text:?}"))),
    }
}

/// An attribute that must be a number.
pub(crate) fn number(node: &Node<'_, '_>, name: &str) -> Result<f32, FigureError> {
    let text = node.attribute(name).unwrap_or_default();
    let missing = || FigureError::Page(format!("`{name}` is {text:?}, which is no number"));
    text.parse().map_err(|_| missing())
}

/// `M x y x y … Z`, the only kind of path that the backend writes.
fn path(d: &str) -> Result<Vec<Step>, FigureError> {
    let mut outline = Vec::new();
    for part in d.split_inclusive('Z').flat_map(|part| part.split('M')).filter(|p| !p.is_empty()) {
        let numbers = part.trim_end_matches('Z').split_whitespace().map(str::parse::<f32>);
        let numbers = numbers.collect::<Result<Vec<f32>, _>>();
        let numbers = numbers.map_err(|_| FigureError::Page(format!("a path holds {part:?}")))?;
        for (i, point) in numbers.chunks_exact(2).enumerate() {
            let point = [point[0], point[1]];
            outline.push(if i == 0 { Step::Move(point) } else { Step::Line(point) });
        }
        if part.ends_with('Z') {
            outline.push(Step::Close);
        }
    }
    Ok(outline)
}

/// One without an area is nothing.
fn rect(node: &Node<'_, '_>) -> Result<Vec<Step>, FigureError> {
    let origin = |name| node.attribute(name).map_or(Ok(0.0), |_| number(node, name));
    let (x, y) = (origin("x")?, origin("y")?);
    let (right, bottom) = (x + number(node, "width")?, y + number(node, "height")?);
    if !(right > x && bottom > y) {
        return Ok(Vec::new());
    }
    let corners = [[right, y], [right, bottom], [x, bottom]].map(Step::Line);
    Ok([Step::Move([x, y])].into_iter().chain(corners).chain([Step::Close]).collect())
}

fn circle([x, y]: [f32; 2], r: f32) -> [Step; 6] {
    let k = QUARTER * r;
    [
        Step::Move([x + r, y]),
        Step::Curve([[x + r, y + k], [x + k, y + r], [x, y + r]]),
        Step::Curve([[x - k, y + r], [x - r, y + k], [x - r, y]]),
        Step::Curve([[x - r, y - k], [x - k, y - r], [x, y - r]]),
        Step::Curve([[x + k, y - r], [x + r, y - k], [x + r, y]]),
        Step::Close,
    ]
}

fn words<'a>(node: &Node<'a, '_>) -> Result<Words<'a>, FigureError> {
    Ok(Words {
        text: node.text().unwrap_or_default(),
        at: [number(node, "x")?, number(node, "y")?],
        before: match node.attribute("text-anchor") {
            Some("middle") => 0.5,
            Some("end") => 1.0,
            _ => 0.0,
        },
        size: number(node, "font-size")?,
        weight: match node.attribute("font-weight") {
            Some(_) => Weight::SemiBold,
            None => Weight::Regular,
        },
        fill: ink(node, "fill", "fill-opacity")?,
        turn: node.attribute("transform").map(turn).transpose()?,
    })
}

/// `rotate(degrees x y)`.
fn turn(text: &str) -> Result<Turn, FigureError> {
    let inside = text.strip_prefix("rotate(").and_then(|rest| rest.strip_suffix(')'));
    let numbers = inside.map(|inside| inside.split(' ').filter_map(|n| n.parse().ok()));
    match numbers.into_iter().flatten().collect::<Vec<f32>>()[..] {
        [degrees, x, y] => Ok(Turn { degrees, about: [x, y] }),
        _ => Err(FigureError::Page(format!("a text is turned by {text:?}"))),
    }
}

fn pen(node: &Node<'_, '_>) -> Result<Option<Pen>, FigureError> {
    let Some(ink) = ink(node, "stroke", "stroke-opacity")? else { return Ok(None) };
    let dashes = node.attribute("stroke-dasharray").into_iter();
    Ok(Some(Pen {
        ink,
        width: number(node, "stroke-width")?,
        round_joins: node.attribute("stroke-linejoin") == Some("round"),
        dashes: dashes.flat_map(|all| all.split(' ')).filter_map(|one| one.parse().ok()).collect(),
    }))
}

/// `#rrggbb`, or nothing for `none` and where none is given.
fn ink(node: &Node<'_, '_>, name: &str, opacity: &str) -> Result<Option<Ink>, FigureError> {
    let Some(text) = node.attribute(name).filter(|&text| text != "none") else {
        return Ok(None);
    };
    let hex = text.strip_prefix('#').filter(|hex| hex.len() == 6);
    let value = hex.and_then(|hex| u32::from_str_radix(hex, 16).ok());
    let value = value.ok_or_else(|| FigureError::Page(format!("`{name}` is {text:?}")))?;
    let [_, red, green, blue] = value.to_be_bytes();
    let covers = node.attribute(opacity).map_or(Ok(1.0), |_| number(node, opacity))?;
    if !(0.0..=1.0).contains(&covers) {
        let wrong = format!("`{opacity}` is {covers}, not within 0 and 1");
        return Err(FigureError::Page(wrong));
    }
    Ok(Some(Ink { rgb: [red, green, blue], opacity: covers }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_of_two_parts_keeps_both() {
        let steps = path("M0 1 2 3ZM4 5 6 7").unwrap();
        let (a, b) = (Step::Move([0.0, 1.0]), Step::Line([2.0, 3.0]));
        let (c, d) = (Step::Move([4.0, 5.0]), Step::Line([6.0, 7.0]));
        assert_eq!(steps, [a, b, Step::Close, c, d]);
        assert!(path("M0 one").is_err());
    }

    /// At an eighth of the way round, as at each quarter, the radius is kept.
    #[test]
    fn closed_form_a_circle_is_round() {
        let [Step::Move(from), Step::Curve([a, b, to]), ..] = circle([1.0, 2.0], 10.0) else {
            panic!("it begins with a curve");
        };
        let middle = |i: usize| 0.125 * (from[i] + to[i]) + 0.375 * (a[i] + b[i]);
        let (x, y) = (middle(0) - 1.0, middle(1) - 2.0);
        assert!(((x * x + y * y).sqrt() / 10.0 - 1.0).abs() < 3e-4);
    }
}
