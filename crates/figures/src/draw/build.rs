//! A figure for a slide: built up curve by curve, or with its curves running.

use tidewright_scenario::Scenario;

use super::error::DrawFileError;
use crate::file::{Figure as FigureFile, Show, Version};
use crate::paper::figure::{Figure, id_from};
use crate::paper::grid::grid;
use crate::paper::svg::decimal;
use crate::paper::theme::{self, Pen};
use crate::plot::layout::Layout;
use crate::plot::panel::Panel;

/// How long curves run that are not drawn over seconds, s.
const USUAL_RUN_S: f64 = 8.0;
/// Longest and shortest run, s: a class waits for neither.
const RUN_S: (f64, f64) = (3.0, 60.0);
/// How long the whole stays before it runs again, s.
const REST_S: f64 = 3.0;

impl FigureFile {
    /// The figure built up: each picture holds one curve of every panel more than the one
    /// before, at the same place and scale; the last is the whole, with its measures.
    ///
    /// # Errors
    /// As [`draw`](Self::draw); a circuit has no curves to build up.
    pub fn builds(
        &self,
        scenario: &Scenario,
        version: Version,
    ) -> Result<Vec<Figure>, DrawFileError> {
        self.laid_out(scenario, version, |stack, layout, look| {
            let mut builds = vec![self.painted(stack, layout, look, version)?];
            stack.notes.clear();
            stack.said.clear();
            let over_time = matches!(self.show, Show::Time(_));
            let most = stack.panels.iter().map(curves).max().unwrap_or(0);
            for count in (1..most).rev() {
                for (panel, frame) in stack.panels.iter_mut().zip(&mut layout.frames) {
                    while let Some(last) = last(panel, count, over_time) {
                        panel.curves.remove(last);
                        frame.labels.remove(last);
                    }
                }
                builds.push(self.painted(stack, layout, look, version)?);
            }
            builds.reverse();
            Ok(builds)
        })
    }

    /// The figure as an SVG whose curves run from left to right, over seconds as fast as
    /// they were, again and again. Where motion is not wanted, on paper and in programs
    /// that know no animation it is the whole figure, at rest.
    ///
    /// # Errors
    /// As [`draw`](Self::draw); a circuit has no curves that could run.
    pub fn draw_running(
        &self,
        scenario: &Scenario,
        version: Version,
    ) -> Result<String, DrawFileError> {
        let lasts_s = match &self.show {
            Show::Time(time) => time.to_s - time.from_s,
            _ => USUAL_RUN_S,
        };
        let run_s = lasts_s.clamp(RUN_S.0, RUN_S.1);
        self.laid_out(scenario, version, |stack, layout, look| {
            let curtain = format!("{}-curtain", id_from(self.id.as_str()));
            layout.curtain = Some(curtain.clone());
            let figure = self.painted(stack, layout, look, version)?;
            Ok(figure.behind(&hung(layout, &curtain, run_s)))
        })
    }
}

/// Curves that count in a build: a level to compare with is there from the start.
fn curves(panel: &Panel) -> usize {
    let behind = [theme::REFERENCE, theme::AREA];
    panel.curves.iter().filter(|curve| !behind.contains(&curve.pen)).count()
}

/// The place of the curve that comes last, where there are more than `count`. Over time
/// the first signal stands in front of the others, and comes right after what it is
/// compared with; areas come with the whole alone.
fn last(panel: &Panel, count: usize, over_time: bool) -> Option<usize> {
    let is = |pens: &[Pen]| panel.curves.iter().position(|curve| pens.contains(&curve.pen));
    if let Some(area) = is(&[theme::AREA]) {
        return Some(area);
    }
    let behind = [theme::REFERENCE, theme::GHOST];
    let first = panel.curves.iter().position(|curve| !behind.contains(&curve.pen));
    match curves(panel) > count {
        true if over_time => first,
        true => panel.curves.len().checked_sub(1),
        false => None,
    }
}

/// What the curves are seen through, and how it opens.
fn hung(layout: &Layout, id: &str, run_s: f64) -> String {
    // Half a line's width of room on every side.
    let air = grid(2.0);
    let (left, right) = (layout.columns.start - air, layout.columns.end + air);
    let rows = layout.rows();
    let [x, y, width, height] =
        [left, rows.start - air, right - left, rows.end - rows.start + 2 * air].map(decimal);
    let whole_s = run_s + REST_S;
    let percent = 100.0 * run_s / whole_s;
    format!(
        " <style>@media screen and (prefers-reduced-motion: no-preference){{#{id} rect{{\
         transform-origin:{x}px 0;animation:{id} {whole_s:.2}s linear infinite}}}}\
         @keyframes {id}{{from{{transform:scaleX(0)}}{percent:.2}%,to{{transform:scaleX(1)}}}}\
         </style>\n <clipPath id=\"{id}\"><rect x=\"{x}\" y=\"{y}\" width=\"{width}\" \
         height=\"{height}\"/></clipPath>\n"
    )
}
