//! The line on its sheet: stops, ways, and what stands at the foot.

use plotters::element::{PathElement, Polygon, Rectangle};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color as _, RGBColor};
use std::cell::RefCell;

use crate::file::DrawnPhase;
use crate::paper::figure::Look;
use crate::paper::font::{self, Weight};
use crate::paper::grid::grid;
use crate::paper::svg::{Area, Sheet};
use crate::paper::theme;
use crate::paper::words::{CAUTION, Drawn, Paragraph, line_style, text_style};

/// Side of the square that stands for 1 mL, px at most: squares go with the gas by their
/// area.
const SIDE_PX: f64 = 3.5;
/// The line, px from the left, and what stands beside it.
const LINE_PX: f64 = 250.0;
const NAME_PX: f64 = 190.0;
const SIZE_PX: f64 = 320.0;
/// A line of text at the foot.
const ROW_PX: f64 = 20.0;
/// Rows that the square of the legend takes.
const LEGEND_ROWS: usize = 2;

/// Which way gas flows past a stop.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Way {
    Up,
    Down,
    Both,
    Still,
}

/// One stop of the line.
pub(super) struct Stop {
    pub name: String,
    pub size: String,
    pub ml: f64,
    pub way: Way,
    /// Breathed to and fro.
    pub dead: bool,
    /// Something is said to be wrong with it.
    pub wrong: bool,
    pub ventilator: bool,
}

/// Fresh gas coming in at a stop.
pub(super) struct Branch {
    pub stop: usize,
    pub name: &'static str,
}

/// What stands below the line.
pub(super) struct Foot<'a> {
    /// For which part of a breath the arrows stand, if that is said.
    pub phase: Option<DrawnPhase>,
    pub wrong: &'a [String],
}

pub(super) struct Canvas<'a> {
    pub root: &'a Area,
    pub sheet: &'a RefCell<Sheet>,
    pub id: &'a str,
    pub look: &'a Look,
}

/// Where the stops lie and how large a square is.
struct Scale {
    top: i32,
    gap: i32,
    /// Side of the square that stands for 1 mL.
    side: f64,
}

impl Scale {
    fn at(&self, index: usize) -> i32 {
        self.top + self.gap * index as i32
    }

    /// Half the side of a stop's square.
    fn half(&self, stop: &Stop) -> i32 {
        let side = if stop.ml > 0.0 { self.side * stop.ml.sqrt() } else { f64::from(grid(2.0)) };
        (side / 2.0).round() as i32
    }
}

impl Canvas<'_> {
    pub fn draw(
        &self,
        title: &str,
        stops: &[Stop],
        branches: &[Branch],
        sensed: Option<usize>,
        foot: &Foot<'_>,
    ) -> Drawn {
        let height = f64::from(self.look.height_px);
        let mut y = grid(theme::MARGIN_PX);
        let heading = (theme::TITLE_PX, Weight::SemiBold, theme::INK);
        let heading = Paragraph::new(&mut y, title, heading, self.widest(0), 2);
        self.group("heading", &|| heading.draw(self.root))?;
        let said = self.broken(&legend_says(foot.phase), grid(60.0));
        let wrong: Vec<String> = foot.wrong.iter().flat_map(|said| self.broken(said, 0)).collect();
        let rows = said.len().max(LEGEND_ROWS) + wrong.len();
        let bottom = grid(height - 72.0 - ROW_PX * rows as f64);
        let top = y + grid(34.0);
        let count = (stops.len().max(2) - 1) as i32;
        // The last stop may be the largest, and stands above the foot with all of it.
        let most = stops.iter().map(|stop| stop.ml).fold(1.0, f64::max);
        let last = stops.last().map_or(0.0, |stop| stop.ml);
        let gap_for = |half: i32| (bottom - top - grid(14.0) - half) / count;
        let side = (0.9 * f64::from(gap_for(0)) / most.sqrt()).min(f64::from(grid(SIDE_PX)));
        let half = (side * last.sqrt() / 2.0).round() as i32;
        let scale = Scale { top, gap: gap_for(half), side };
        self.group("line", &|| self.line(stops, branches, &scale))?;
        self.group("ways", &|| {
            stops.windows(2).enumerate().try_for_each(|(i, pair)| {
                let from = scale.at(i) + scale.half(&pair[0]);
                let to = scale.at(i + 1) - scale.half(&pair[1]);
                self.arrow(from, to, pair[0].way)
            })
        })?;
        self.group("fresh-gas", &|| {
            branches.iter().try_for_each(|branch| {
                let half = stops.get(branch.stop).map_or(0, |stop| scale.half(stop));
                self.branch(scale.at(branch.stop), half, branch.name)
            })
        })?;
        let ventilator = stops.iter().position(|stop| stop.ventilator);
        if let (Some(from), Some(to)) = (sensed, ventilator) {
            self.group("sensing", &|| self.sensing(scale.at(from), scale.at(to)))?;
        }
        self.group("legend", &|| self.legend(bottom, side, &said, &wrong))?;
        self.group("footer", &|| self.caution())
    }

    /// Room for text that begins so far from the left margin.
    fn widest(&self, from: i32) -> i32 {
        grid(f64::from(self.look.width_px) - 2.0 * theme::MARGIN_PX) - from
    }

    fn broken(&self, said: &str, from: i32) -> Vec<String> {
        font::wrap(said, theme::BODY_PX, Weight::Regular, self.widest(from))
    }

    fn group(&self, name: &str, draw: &dyn Fn() -> Drawn) -> Drawn {
        self.sheet.borrow_mut().open(&format!("{}-{name}", self.id), "");
        let drawn = draw();
        self.sheet.borrow_mut().close();
        drawn
    }

    fn words(&self, text: &str, at: (i32, i32), side: HPos, colour: RGBColor) -> Drawn {
        if text.is_empty() {
            return Ok(());
        }
        let style = text_style(theme::BODY_PX, Weight::Regular, colour);
        self.root.draw_text(text, &style.pos(Pos::new(side, VPos::Center)), at)
    }

    fn path(&self, points: &[(i32, i32)], colour: RGBColor, width_px: f64) -> Drawn {
        self.root.draw(&PathElement::new(points.to_vec(), line_style(colour, width_px)))
    }

    fn line(&self, stops: &[Stop], branches: &[Branch], scale: &Scale) -> Drawn {
        let x = grid(LINE_PX);
        self.path(&[(x, scale.at(0)), (x, scale.at(stops.len() - 1))], theme::SHADE_EDGE, 2.0)?;
        for (index, stop) in stops.iter().enumerate() {
            let (y, half) = (scale.at(index), scale.half(stop));
            let corners = [(x - half, y - half), (x + half, y + half)];
            let fill = if stop.dead { theme::TINTED } else { theme::PAPER };
            self.root.draw(&Rectangle::new(corners, fill.filled()))?;
            let colour = if stop.dead { theme::FLOW.colour } else { theme::INK };
            self.root.draw(&Rectangle::new(corners, line_style(colour, 1.6)))?;
            let (name, colour) = match stop.wrong {
                true => (format!("! {}", stop.name), theme::FLOW.colour),
                false => (stop.name.clone(), theme::INK),
            };
            self.words(&name, (grid(NAME_PX), y), HPos::Right, colour)?;
            // Where fresh gas comes in its arrow stands first.
            let comes_in = branches.iter().any(|branch| branch.stop == index);
            let size = grid(SIZE_PX + if comes_in { 90.0 } else { 0.0 });
            self.words(&stop.size, (size, y), HPos::Left, theme::SOFT_INK)?;
        }
        Ok(())
    }

    /// An arrow beside the line, in the free room between two stops.
    fn arrow(&self, from: i32, to: i32, way: Way) -> Drawn {
        let (x, head) = (grid(LINE_PX + 16.0), grid(4.0));
        let (y, half) = ((from + to) / 2, ((to - from) / 2 - 2 * head).min(grid(9.0)));
        if way == Way::Still || half <= head {
            return Ok(());
        }
        self.path(&[(x, y - half), (x, y + half)], theme::INK, 1.4)?;
        let tip = |tip: i32, back: i32| {
            let points = vec![(x, tip), (x - head, back), (x + head, back)];
            self.root.draw(&Polygon::new(points, theme::INK.filled()))
        };
        if way != Way::Down {
            tip(y - half - head, y - half + head)?;
        }
        if way != Way::Up {
            tip(y + half + head, y + half - head)?;
        }
        Ok(())
    }

    /// Fresh gas coming in from the right.
    fn branch(&self, y: i32, half: i32, name: &str) -> Drawn {
        let (from, to) = (grid(SIZE_PX - 6.0), grid(LINE_PX + 4.0) + half);
        self.path(&[(from, y), (to, y)], theme::PRESSURE.colour, 2.4)?;
        let head = grid(5.0);
        let points = vec![(to, y), (to + 2 * head, y - head), (to + 2 * head, y + head)];
        self.root.draw(&Polygon::new(points, theme::PRESSURE.colour.filled()))?;
        self.words(name, (grid(SIZE_PX), y), HPos::Left, theme::PRESSURE.colour)
    }

    /// The line by which pressure is sensed, along the left.
    fn sensing(&self, from: i32, to: i32) -> Drawn {
        let (near, far) = (grid(LINE_PX - 8.0), grid(LINE_PX - 44.0));
        let colour = theme::VOLUME.colour;
        self.path(&[(near, from), (far, from), (far, to), (near, to)], colour, 1.4)?;
        let style = text_style(theme::FOOT_PX, Weight::Regular, colour);
        let middle = Pos::new(HPos::Right, VPos::Center);
        self.root.draw_text("senses here", &style.pos(middle), (far - grid(4.0), from + grid(14.0)))
    }

    fn legend(&self, top: i32, side: f64, said: &[String], wrong: &[String]) -> Drawn {
        let x = grid(theme::MARGIN_PX);
        // The square of 100 mL.
        let side = (side * 10.0).round() as i32;
        let corners = [(x, top), (x + side, top + side)];
        self.root.draw(&Rectangle::new(corners, line_style(theme::INK, 1.6)))?;
        let row = |row: usize| top + grid(8.0 + ROW_PX * row as f64);
        for (index, line) in said.iter().enumerate() {
            let at = (x + side + grid(8.0), row(index));
            self.words(line, at, HPos::Left, theme::SOFT_INK)?;
        }
        for (index, line) in wrong.iter().enumerate() {
            let at = (x, row(said.len().max(LEGEND_ROWS) + index) + grid(4.0));
            self.words(line, at, HPos::Left, theme::FLOW.colour)?;
        }
        Ok(())
    }

    /// The caution at the foot.
    fn caution(&self) -> Drawn {
        let mut y = 0;
        let style = (theme::FOOT_PX, Weight::Regular, theme::SOFT_INK);
        let mut foot = Paragraph::new(&mut y, CAUTION, style, self.widest(0), 9);
        foot.lower(grid(f64::from(self.look.height_px) - theme::MARGIN_PX / 2.0) - y);
        foot.draw(self.root)
    }
}

fn legend_says(phase: Option<DrawnPhase>) -> String {
    let said = "100 mL of gas, by area. Tinted: breathed to and fro.";
    let arrows = match phase {
        Some(DrawnPhase::Inspiration) => " Arrows: the way of the gas while the valve is shut.",
        Some(DrawnPhase::Expiration) => " Arrows: the way of the gas while the valve is open.",
        Some(DrawnPhase::Standby) => " Arrows: the way of the gas in standby.",
        None => "",
    };
    format!("{said}{arrows}")
}
