//! The numbers behind a figure, as CSV with units.

use std::fmt::Write as _;

use tidewright_scenario::report::CSV_CAUTION;

use crate::paper::theme;
use crate::plot::panel::Panel;
use crate::plot::stack::Stack;

/// One line for each point: the curve, its place on the shared axis, its value in the
/// column of its panel, and last the caution, as the head of an empty column.
pub(crate) fn csv(stack: &Stack) -> String {
    let along = match stack.names.is_empty() {
        true => column(stack.along),
        false => "place".to_owned(),
    };
    let mut text = format!("curve,{along}");
    let columns: Vec<String> = stack.panels.iter().enumerate().map(value_column).collect();
    for column in &columns {
        let _ = write!(text, ",{column}");
    }
    let _ = writeln!(text, ",{CSV_CAUTION}");
    let mut line = |i: usize, curve: &str, x: &str, y: f64| {
        let _ = write!(text, "{},{}", quoted(curve), quoted(x));
        for j in 0..columns.len() {
            text.push(',');
            if i == j {
                let _ = write!(text, "{y:.6}");
            }
        }
        text.push_str(",\n");
    };
    for (i, panel) in stack.panels.iter().enumerate() {
        for curve in panel.curves.iter().filter(|curve| curve.pen != theme::AREA) {
            for &(x, y) in curve.pieces.iter().flatten() {
                line(i, &curve.label, &format!("{x:.6}"), y);
            }
        }
        for block in &panel.blocks {
            let name = |names: &[String], at: f64| names.get(at.round() as usize).cloned();
            let place = name(&stack.names, (block.x.start + block.x.end) / 2.0).unwrap_or_default();
            match panel.rows.is_empty() {
                true => line(i, &place, &place, block.y.end),
                false => {
                    let row = name(&panel.rows, (block.y.start + block.y.end) / 2.0);
                    line(i, &row.unwrap_or_default(), &place, block.value);
                }
            }
        }
    }
    text
}

fn value_column((_, panel): (usize, &Panel)) -> String {
    format!("{}_{}", panel.id.replace('-', "_"), panel.suffix)
}

/// `Fresh gas flow (L/min)` as `fresh_gas_flow_l_min`.
pub(crate) fn column(axis: &str) -> String {
    let plain = axis.replace('₂', "2").to_lowercase();
    let words = plain.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join("_")
}

fn quoted(text: &str) -> String {
    let text = tidewright_scenario::cell(text);
    match text.contains([',', '"', '\n']) {
        true => format!("\"{}\"", text.replace('"', "\"\"")),
        false => text.into_owned(),
    }
}
