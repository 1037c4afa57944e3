//! Where everything in a stack of panels goes, measured before anything is drawn.

use std::ops::Range;

use plotters::coord::ranged1d::Ranged as _;

use crate::paper::error::FigureError;
use crate::paper::figure::Look;
use crate::paper::font::{self, Weight};
use crate::paper::grid::{GRID, grid};
use crate::paper::theme;
use crate::paper::words::{CAUTION, Paragraph};
use crate::plot::axis::Axis;
use crate::plot::flags::{self, Flag};
use crate::plot::frame::{
    CurveLabel, Frame, leader_length, rightmost, tick_length, time_axis_height,
};
use crate::plot::key::{self, Entry};
use crate::plot::labels;
use crate::plot::marks::{Density, Marks};
use crate::plot::panel::{Curve, Panel};
use crate::plot::shading::Shading;
use crate::plot::stack::Stack;
use crate::plot::ticks::Ticks;

/// The whole page, in grid units.
pub(crate) struct Layout {
    pub title: Paragraph,
    pub subtitle: Paragraph,
    pub key: Vec<Entry>,
    pub shading: Shading,
    pub flags: Vec<Flag>,
    pub marks: Marks,
    /// The time axis and its columns.
    pub time: Axis,
    pub along: String,
    pub columns: Range<i32>,
    pub frames: Vec<Frame>,
    pub foot: Paragraph,
    /// What the curves are seen through, where they run.
    pub curtain: Option<String>,
    /// Whether the names of the panels stand above them, as they are too low.
    pub named_above: bool,
    /// Top of the shading and of the lines of changes.
    top: i32,
}

impl Layout {
    /// Measures a stack.
    ///
    /// # Errors
    /// If the panels would be too small to read.
    pub fn new(stack: &Stack, look: &Look) -> Result<Self, FigureError> {
        let &Look { width_px, height_px, .. } = look;
        if width_px > 10_000 || height_px > 10_000 {
            return Err(FigureError::TooLarge { width_px, height_px });
        }
        let margin = grid(theme::MARGIN_PX);
        let (width, height) = (width_px as i32 * GRID, height_px as i32 * GRID);
        let inner = (width - 2 * margin).max(GRID);

        let axes: Vec<Axis> = stack.panels.iter().map(value_axis).collect();
        let labels: Vec<Vec<Vec<String>>> =
            stack.panels.iter().map(|panel| label_lines(panel, width)).collect();
        let key = stack.panels.iter().any(|panel| panel.key);
        let columns = columns(width, &axes, &labels, key);
        let plot = columns.end - columns.start;
        let most_ticks = (plot / grid(56.0)).clamp(3, 13) as usize;
        let time = match stack.names.is_empty() {
            true => Axis {
                low: stack.start_s,
                high: stack.end_s,
                ticks: Ticks::new(stack.start_s, stack.end_s, most_ticks),
                names: Vec::new(),
            },
            false => {
                let widest = plot / stack.names.len() as i32 - grid(4.0);
                Axis::of_names(stack.names.iter().map(|name| in_lines(name, widest)).collect())
            }
        };
        let x_of = |t: f64| time.map(&t, (columns.start, columns.end));

        let mut y = margin;
        let style = (theme::TITLE_PX, Weight::SemiBold, theme::INK);
        let title = Paragraph::new(&mut y, stack.title, style, inner, 3);
        let style = (theme::BODY_PX, Weight::Regular, theme::SOFT_INK);
        let subtitle = Paragraph::new(&mut y, stack.subtitle, style, inner, 3);
        y += grid(4.0);

        let shading = Shading::new(stack, &x_of);
        let marks = Marks::new(stack, &x_of);
        let explain_phases = shading.shown && !shading.is_named();
        let explain_bands = matches!(marks.density(), Density::Band(_));
        let key = key::place(&mut y, stack, &marks, explain_phases, explain_bands, inner);
        let flags = flags::place(&mut y, stack, &x_of, inner);
        let top = y;
        y += match shading.is_named() {
            true => font::height(theme::TICK_PX) + grid(2.0),
            // A number at the very top of the axis rises above it by half.
            false => font::height(theme::TICK_PX) / 2,
        };

        let mut foot_y = 0;
        let style = (theme::FOOT_PX, Weight::Regular, theme::SOFT_INK);
        let mut foot = Paragraph::new(&mut foot_y, CAUTION, style, inner, 9);
        let foot_top = height - grid(theme::MARGIN_PX / 2.0) - foot_y;
        foot.lower(foot_top);

        let bottom = foot_top - grid(6.0) - time_axis_height();
        let gap = grid(theme::GAP_PX);
        let count = stack.panels.len() as i32;
        let room = bottom - y - gap * (count - 1);
        // Where there are phases, their names stand above the first panel.
        let named_above = stack.phases.is_empty()
            && stack.panels.iter().any(|panel| panel.name_along(room / count).is_none());
        let (above, air) = match named_above {
            true => (font::height(theme::BODY_PX), grid(6.0)),
            false => (0, 0),
        };
        let each = (room - air) / count - above;
        let (least_panel, least_plot) = (grid(theme::LEAST_PANEL_PX), grid(theme::LEAST_PLOT_PX));
        let tallest_labels = labels
            .iter()
            .map(|panel| panel.iter().map(|lines| label_height(lines) + grid(2.0)).sum::<i32>());
        let least = tallest_labels.max().unwrap_or(0).max(least_panel);
        if each < least || plot < least_plot {
            let px = |missing: i32| (missing.max(0) + GRID - 1) / GRID;
            return Err(FigureError::TooSmall {
                width_px,
                height_px,
                least_width_px: width_px + px(least_plot - plot) as u32,
                least_height_px: height_px + px((least - each) * count) as u32,
            });
        }

        let frames = stack.panels.iter().zip(axes).zip(labels).enumerate();
        let frames = frames.map(|(i, ((panel, axis), lines))| {
            let first = y + air + above + i as i32 * (each + above + gap);
            let rows = first..first + each;
            let axis = with_room(over_numbers(axis, panel, each), each);
            let labels = place_labels(panel, lines, &rows, &axis);
            Frame { rows, axis, labels }
        });
        let frames = frames.collect();

        Ok(Self {
            title,
            subtitle,
            key,
            shading,
            flags,
            marks,
            columns: columns.clone(),
            time: time.clone(),
            along: stack.along.to_owned(),
            frames,
            foot,
            curtain: None,
            named_above,
            top,
        })
    }

    /// From the top of the shading to the foot of the last panel.
    pub fn rows(&self) -> Range<i32> {
        self.top..self.frames.last().map_or(self.top, |frame| frame.rows.end)
    }
}

/// Most lines of a name under an axis.
const MOST_NAME_LINES: usize = 2;

/// A name in lines of at most a width.
fn in_lines(name: &str, widest: i32) -> String {
    let (size, weight) = (theme::TICK_PX, Weight::Regular);
    let mut lines = font::wrap(name, size, weight, widest);
    if lines.len() > MOST_NAME_LINES {
        let rest = lines.split_off(MOST_NAME_LINES - 1).join(" ");
        lines.push(rest);
    }
    let lines = lines.iter().map(|line| font::shorten(line, size, weight, widest));
    lines.collect::<Vec<_>>().join("\n")
}

/// Most ticks of a value axis, however high its panel.
const MOST_TICKS: usize = 5;

/// The values an axis spans: zero, every value, and some air.
fn value_axis(panel: &Panel) -> Axis {
    if !panel.rows.is_empty() {
        return Axis::of_names(panel.rows.clone());
    }
    let points = panel.curves.iter().flat_map(|curve| curve.pieces.iter().flatten());
    let values = points.map(|point| point.1).chain(panel.marked.iter().copied());
    let values = values.chain(panel.blocks.iter().map(|block| block.y.end));
    let (mut low, mut high) = (0.0_f64, 0.0_f64);
    for value in values {
        low = low.min(value);
        high = high.max(value);
    }
    let span = (high - low).max(panel.least_span);
    let air =
        panel.air.max(if panel.marked.is_empty() && panel.blocks.is_empty() { 0.08 } else { 0.2 });
    let high = high.max(low + span) + span * air;
    let low = if low < 0.0 { low - span * 0.06 } else { low };
    Axis { low, high, ticks: Ticks::new(low, high, MOST_TICKS), names: Vec::new() }
}

/// High enough for the numbers that stand on bars.
fn over_numbers(axis: Axis, panel: &Panel, height: i32) -> Axis {
    if panel.blocks.is_empty() || !panel.rows.is_empty() {
        return axis;
    }
    let number = f64::from(font::height(theme::TICK_PX) + grid(4.0));
    let bars = f64::from(height) - number;
    let tallest = panel.blocks.iter().map(|block| block.y.end).fold(0.0, f64::max);
    Axis { high: axis.high.max(tallest * f64::from(height) / bars.max(1.0)), ..axis }
}

/// As many ticks as leave room for the numbers beside them.
fn with_room(axis: Axis, height: i32) -> Axis {
    if !axis.names.is_empty() {
        return axis;
    }
    let Axis { low, high, .. } = axis;
    let apart = |ticks: &Ticks| match ticks.at[..] {
        [first, second, ..] => f64::from(height) * (second - first) / (high - low),
        _ => f64::INFINITY,
    };
    let needed = f64::from(font::height(theme::TICK_PX));
    let mut ticks = axis.ticks;
    for most in (1..MOST_TICKS).rev() {
        if apart(&ticks) < needed {
            ticks = Ticks::new(low, high, most);
        }
    }
    Axis { low, high, ticks, names: Vec::new() }
}

fn columns(width: i32, axes: &[Axis], labels: &[Vec<Vec<String>>], key: bool) -> Range<i32> {
    let margin = grid(theme::MARGIN_PX);
    let numbers = axes.iter().flat_map(|axis| axis.labels());
    let widest = numbers.map(|n| font::width(&n, theme::TICK_PX, Weight::Regular)).max();
    let left = font::height(theme::BODY_PX) + grid(6.0) + widest.unwrap_or(0) + 2 * tick_length();
    let lines = labels.iter().flatten().flatten();
    let widest = lines.map(|line| font::width(line, theme::BODY_PX, Weight::SemiBold)).max();
    let right = match widest {
        Some(widest) => leader_length(key) + grid(4.0) + widest,
        None => grid(4.0),
    };
    margin + left..width - margin - right
}

/// The labels of the curves, broken into lines; a wide page has wider lines.
fn label_lines(panel: &Panel, page: i32) -> Vec<Vec<String>> {
    if panel.unlabelled {
        return vec![Vec::new(); panel.curves.len()];
    }
    let (least, most) = theme::LABEL_PX;
    let size = theme::BODY_PX;
    // As wide as the longest word, within reason.
    let words = panel.curves.iter().flat_map(|curve| curve.label.split(' '));
    let word = words.map(|word| font::width(word, size, Weight::SemiBold)).max().unwrap_or(0);
    let widest = (page / 7).max(word).clamp(grid(least), grid(most));
    let lines = |curve: &Curve| {
        let lines = font::wrap(&curve.label, size, Weight::SemiBold, widest);
        lines.iter().map(|l| font::shorten(l, size, Weight::SemiBold, widest)).collect()
    };
    panel.curves.iter().map(lines).collect()
}

fn label_height(lines: &[String]) -> i32 {
    grid(theme::BODY_PX * theme::LEADING) * lines.len() as i32
}

fn place_labels(
    panel: &Panel,
    lines: Vec<Vec<String>>,
    rows: &Range<i32>,
    axis: &Axis,
) -> Vec<CurveLabel> {
    let ends: Vec<i32> = panel
        .curves
        .iter()
        .map(|curve| {
            if panel.key {
                return rows.start;
            }
            let value = rightmost(curve).map_or(0.0, |(_, y)| y);
            axis.map(&value, (rows.end, rows.start))
        })
        .collect();
    let boxes: Vec<(i32, i32)> =
        ends.iter().zip(&lines).map(|(&end, lines)| (end, label_height(lines))).collect();
    let gap = if panel.key { grid(8.0) } else { grid(1.0) };
    let middles = labels::spread(&boxes, gap, rows.start, rows.end);
    ends.into_iter()
        .zip(middles)
        .zip(lines)
        .map(|((end, middle), lines)| CurveLabel { end, middle, lines })
        .collect()
}
