//! Drawing one panel in its frame.

use std::cell::RefCell;

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::coord::ranged1d::Ranged as _;
use plotters::element::{PathElement, Polygon, Rectangle};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color as _, TextStyle};
use plotters_backend::BackendCoord;

use crate::paper::curve::{Column, Piece, Stroke, columns, strokes};
use crate::paper::font::{self, Weight};
use crate::paper::grid::grid;
use crate::paper::svg::{Area, Sheet};
use crate::paper::theme::{self, Pen};
use crate::paper::words::{Drawn, line_style, text_style};
use crate::plot::frame::{
    CurveLabel, Frame, leader_length, rightmost, tick_length, time_axis_height,
};
use crate::plot::layout::Layout;
use crate::plot::marks::Density;
use crate::plot::panel::{Block, Curve, Panel};

impl Panel {
    /// Draws the panel in its frame; the last of a stack carries the time axis.
    pub fn draw(
        &self,
        root: &Area,
        sheet: &RefCell<Sheet>,
        layout: &Layout,
        frame: &Frame,
        last: bool,
    ) -> Drawn {
        let left = grid(theme::MARGIN_PX);
        let height = frame.rows.end - frame.rows.start;
        let under = if last { time_axis_height() } else { 0 };
        let area = root
            .clone()
            .shrink((left, frame.rows.start), (layout.columns.end - left, height + under));
        let mut chart = ChartBuilder::on(&area)
            .set_label_area_size(LabelAreaPosition::Left, layout.columns.start - left)
            .set_label_area_size(LabelAreaPosition::Bottom, under)
            .build_cartesian_2d(layout.time.clone(), frame.axis.clone())?;
        let mut mesh = chart.configure_mesh();
        if !layout.time.names.is_empty() {
            mesh.disable_x_mesh();
        }
        mesh.bold_line_style(line_style(theme::GRID_LINE, 0.6))
            .axis_style(line_style(theme::INK, 1.0))
            .set_all_tick_mark_size(tick_length())
            .label_style(text_style(theme::TICK_PX, Weight::Regular, theme::INK))
            .axis_desc_style(text_style(theme::BODY_PX, Weight::SemiBold, theme::INK))
            .x_label_formatter(&|t| match layout.time.names.is_empty() {
                true => layout.time.label(*t),
                // Names may have several lines, of which plotters knows nothing.
                false => String::new(),
            })
            .y_label_formatter(&|y| frame.axis.label(*y))
            .x_desc(layout.along.clone())
            .y_desc(match layout.named_above {
                true => String::new(),
                false => self.name_along(height).unwrap_or_else(|| self.unit.to_owned()),
            })
            .draw()?;
        if last {
            names_below(root, layout, frame)?;
        }
        if layout.named_above {
            let style = text_style(theme::BODY_PX, Weight::SemiBold, theme::INK);
            let style = style.pos(Pos::new(HPos::Left, VPos::Bottom));
            let name = format!("{} ({})", self.name, self.unit);
            root.draw_text(
                &name,
                &style,
                (left, frame.rows.start - font::height(theme::TICK_PX) / 2),
            )?;
        }

        let plot = chart.plotting_area();
        self.draw_blocks(root, layout, frame)?;
        let zero = vec![(layout.time.low, 0.0), (layout.time.high, 0.0)];
        if self.rows.is_empty() {
            plot.draw(&PathElement::new(zero, line_style(theme::ZERO_LINE, 1.0)))?;
        }
        if let Some(curtain) = &layout.curtain {
            sheet.borrow_mut().enter(&format!("<g clip-path=\"url(#{curtain})\">"));
        }
        for curve in &self.curves {
            let pen = self.pen(curve);
            let on_grid = |piece: &Piece| piece.iter().map(|p| plot.map_coordinate(p)).collect();
            let pieces: Vec<Vec<BackendCoord>> = curve.pieces.iter().map(on_grid).collect();
            if pen == theme::AREA {
                for piece in pieces {
                    root.draw(&Polygon::new(piece, pen.colour.filled()))?;
                }
                continue;
            }
            let level = pen == theme::REFERENCE;
            match layout.marks.density() {
                Density::Band(width) if !level => {
                    let columns = columns(&pieces, layout.columns.start, width);
                    band(root, sheet, layout, &columns, &pen)?;
                }
                Density::Close if !level => {
                    sheet.borrow_mut().curve(&strokes(&pieces), &pen.fine());
                }
                _ => sheet.borrow_mut().curve(&strokes(&pieces), &pen),
            }
        }
        if layout.curtain.is_some() {
            sheet.borrow_mut().close();
        }
        let labels = self.curves.iter().zip(&frame.labels);
        labels.into_iter().try_for_each(|(curve, at)| {
            label(root, sheet, layout, (curve, self.pen(curve), self.key), at)
        })
    }

    fn draw_blocks(&self, root: &Area, layout: &Layout, frame: &Frame) -> Drawn {
        let style = text_style(theme::TICK_PX, Weight::SemiBold, theme::INK);
        for Block { x, y, shade, text, .. } in &self.blocks {
            let [left, right] = [x.start, x.end]
                .map(|x| layout.time.map(&x, (layout.columns.start, layout.columns.end)));
            let [bottom, top] =
                [y.start, y.end].map(|y| frame.axis.map(&y, (frame.rows.end, frame.rows.start)));
            let corners = [(left, top), (right, bottom)];
            let fill = theme::ZERO_LINE.mix((0.7 * shade * 20.0).round() / 20.0);
            root.draw(&Rectangle::new(corners, theme::PAPER.filled()))?;
            root.draw(&Rectangle::new(corners, fill.filled()))?;
            // A map of many small cells has neither numbers nor edges.
            if text.is_empty() {
                continue;
            }
            root.draw(&Rectangle::new(corners, line_style(theme::INK, 0.8)))?;
            let (at, place) = match self.rows.is_empty() {
                true => (top - grid(3.0), VPos::Bottom),
                false => ((top + bottom) / 2, VPos::Center),
            };
            if self.rows.is_empty() {
                // No line of the grid runs through a number.
                let half = font::width(text, theme::TICK_PX, Weight::SemiBold) / 2 + grid(2.0);
                let middle = (left + right) / 2;
                let high = at - font::height(theme::TICK_PX) + grid(3.0);
                let ground = [(middle - half, high), (middle + half, top - grid(1.0))];
                root.draw(&Rectangle::new(ground, theme::PAPER.filled()))?;
            }
            let style = style.pos(Pos::new(HPos::Center, place));
            root.draw_text(text, &style, ((left + right) / 2, at))?;
        }
        Ok(())
    }
}

/// The names of the shared axis, where it has names.
fn names_below(root: &Area, layout: &Layout, frame: &Frame) -> Drawn {
    let style = text_style(theme::TICK_PX, Weight::Regular, theme::INK);
    let style = style.pos(Pos::new(HPos::Center, VPos::Top));
    let leading = grid(theme::TICK_PX * theme::LEADING);
    layout.time.names.iter().enumerate().try_for_each(|(i, name)| {
        let x = layout.time.map(&(i as f64), (layout.columns.start, layout.columns.end));
        let first = frame.rows.end + 2 * tick_length();
        name.lines()
            .zip(0..)
            .try_for_each(|(line, n)| root.draw_text(line, &style, (x, first + n * leading)))
    })
}

/// A curve too dense for a line: its extent, tinted, between its two edges.
fn band(
    root: &Area,
    sheet: &RefCell<Sheet>,
    layout: &Layout,
    columns: &[Column],
    pen: &Pen,
) -> Drawn {
    let edge = |y: fn(&Column) -> i32| {
        let mut points: Vec<BackendCoord> = Vec::new();
        for column in columns {
            for x in [column.left, column.right] {
                let x = x.clamp(layout.columns.start, layout.columns.end);
                match points[..] {
                    // On a level run, only its end moves.
                    [.., (_, y1), (_, y2)] if y1 == y2 && y2 == y(column) => {
                        points.pop();
                    }
                    _ => (),
                }
                points.push((x, y(column)));
            }
        }
        points
    };
    let (top, bottom) = (edge(|c| c.top), edge(|c| c.bottom));
    let around: Vec<BackendCoord> = top.iter().chain(bottom.iter().rev()).copied().collect();
    root.draw(&Polygon::new(around, pen.colour.mix(theme::TINT)))?;
    let pen = Pen { width_px: 0.7 * pen.width_px, ..*pen };
    sheet.borrow_mut().curve(&[Stroke::Line(top), Stroke::Line(bottom)], &pen);
    Ok(())
}

/// The label at the end of a curve, with a line that leads to it.
fn label(
    root: &Area,
    sheet: &RefCell<Sheet>,
    layout: &Layout,
    (curve, pen, key): (&Curve, Pen, bool),
    at: &CurveLabel,
) -> Drawn {
    if at.lines.is_empty() {
        return Ok(());
    }
    let edge = layout.columns.end + grid(2.0);
    let end = rightmost(curve)
        .map_or(edge, |(x, _)| layout.time.map(&x, (layout.columns.start, layout.columns.end)));
    let from = edge.min(end + grid(2.0));
    let to = layout.columns.end + leader_length(key);
    if key {
        let sample = Stroke::Line(vec![(edge + grid(6.0), at.middle), (to, at.middle)]);
        sheet.borrow_mut().curve(&[sample], &pen);
    } else {
        let leader = Stroke::Line(vec![(from, at.end), (to, at.middle)]);
        sheet.borrow_mut().curve(&[leader], &Pen { width_px: 1.0, ..pen.alone() });
    }
    let leading = grid(theme::BODY_PX * theme::LEADING);
    let first = at.middle - leading * (at.lines.len() as i32 - 1) / 2;
    let style = label_style(&pen).pos(Pos::new(HPos::Left, VPos::Center));
    for (i, words) in at.lines.iter().enumerate() {
        root.draw_text(words, &style, (to + grid(4.0), first + leading * i as i32))?;
    }
    Ok(())
}

fn label_style(pen: &Pen) -> TextStyle<'static> {
    match *pen {
        theme::GHOST | theme::REFERENCE | theme::AREA => {
            text_style(theme::BODY_PX, Weight::Regular, theme::SOFT_INK)
        }
        _ => text_style(theme::BODY_PX, Weight::SemiBold, theme::INK),
    }
}
