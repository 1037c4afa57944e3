//! A plotters backend that writes structured SVG.
//!
//! Plotters places things on whole pixels, so the backend's pixels are a fine
//! grid: [`GRID`] of them make one CSS pixel. Coordinates stay integers until
//! they are written as decimals of a CSS pixel, so the bytes never depend on how
//! a machine rounds. Text stays text. What plotters has no words for (groups,
//! dashes, curves that jump) is written by methods that the figure calls between
//! its plotters calls.

use std::convert::Infallible;
use std::fmt::Write as _;

use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind};
use plotters::style::text_anchor::{HPos, VPos};
use plotters::style::{FontStyle, FontTransform, RGBColor};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};

use crate::paper::curve::Stroke;
use crate::paper::font::{self, Weight};
use crate::paper::grid::{GRID, grid};
use crate::paper::theme::{self, Pen};

/// An area of the sheet that plotters draws on.
pub(crate) type Area = DrawingArea<Sheet, Shift>;

/// What can go wrong between plotters and the sheet. Writing to memory cannot.
pub(crate) type DrawError = DrawingAreaErrorKind<Infallible>;

/// The page that is being drawn: plotters' backend.
pub(crate) struct Sheet {
    width: u32,
    height: u32,
    body: String,
    depth: usize,
    missing_letter: Option<(char, String)>,
}

impl Sheet {
    /// An empty sheet, sizes in CSS pixels.
    pub fn new(width_px: u32, height_px: u32) -> Self {
        Self {
            width: width_px * GRID as u32,
            height: height_px * GRID as u32,
            body: String::new(),
            depth: 1,
            missing_letter: None,
        }
    }

    /// An empty sheet, sizes in grid units.
    pub fn of_grid(width: i32, height: i32) -> Self {
        Self { width: width as u32, height: height as u32, ..Self::new(0, 0) }
    }

    /// Everything drawn so far, as the inside of an SVG element.
    pub fn body(&self) -> &str {
        &self.body
    }

    /// The first letter drawn that the font lacks, and the text it stands in.
    pub fn missing_letter(&self) -> Option<&(char, String)> {
        self.missing_letter.as_ref()
    }

    /// Begins a group; a title, if not empty, says what it shows.
    pub fn open(&mut self, id: &str, title: &str) {
        self.enter(&format!("<g id=\"{}\">", escape(id)));
        if !title.is_empty() {
            let title = escape(title);
            self.line(&format!("<title>{title}</title>"));
        }
    }

    /// Writes the start of a group.
    pub fn enter(&mut self, start: &str) {
        self.line(start);
        self.depth += 1;
    }

    /// Ends the group begun last.
    pub fn close(&mut self) {
        self.depth -= 1;
        self.line("</g>");
    }

    /// Draws a curve in one path with the pen's dashes, and its jumps as thin
    /// upright lines that no one takes for a measured slope.
    pub fn curve(&mut self, strokes: &[Stroke], pen: &Pen) {
        let mut lines = String::new();
        let mut jumps = String::new();
        for stroke in strokes {
            match stroke {
                Stroke::Line(points) => path_to(&mut lines, points),
                Stroke::Jump(from, to) => path_to(&mut jumps, &[*from, *to]),
            }
        }
        let colour = theme::css(pen.colour);
        let mut write = |path: &str, width: f64, dashes: &str| {
            if !path.is_empty() {
                let width = decimal(grid(width));
                self.line(&format!(
                    "<path d=\"{path}\" fill=\"none\" stroke=\"{colour}\" \
                     stroke-width=\"{width}\" stroke-linejoin=\"round\"{dashes}/>"
                ));
            }
        };
        let lengths: Vec<String> = pen.dashes_px.iter().map(|&d| decimal(grid(d))).collect();
        let dashes = match lengths.is_empty() {
            true => String::new(),
            false => format!(" stroke-dasharray=\"{}\"", lengths.join(" ")),
        };
        write(&jumps, pen.width_px / 2.0, "");
        if pen.core_px > 0.0 {
            write(&lines, pen.core_px, "");
        }
        write(&lines, pen.width_px, &dashes);
    }

    /// Writes lines that another sheet wrote.
    #[cfg(feature = "pdf")]
    pub fn lines(&mut self, body: &str) {
        body.lines().for_each(|line| self.line(line));
    }

    /// Writes one element.
    pub fn line(&mut self, element: &str) {
        for _ in 0..self.depth {
            self.body.push(' ');
        }
        self.body.push_str(element);
        self.body.push('\n');
    }

    fn path<S: BackendStyle>(&mut self, points: &[BackendCoord], style: &S) {
        let mut d = String::new();
        path_to(&mut d, points);
        let ink = stroke(style);
        self.line(&format!("<path d=\"{d}\" fill=\"none\"{ink}/>"));
    }
}

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

impl DrawingBackend for Sheet {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        (self.width, self.height)
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, (x, y): BackendCoord, colour: BackendColor) -> Drawn {
        self.draw_rect((x, y), (x + 1, y + 1), &colour, true)
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Drawn {
        self.path(&[from, to], style);
        Ok(())
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        (x0, y0): BackendCoord,
        (x1, y1): BackendCoord,
        style: &S,
        filled: bool,
    ) -> Drawn {
        let [x, y] = [x0.min(x1), y0.min(y1)].map(decimal);
        let [width, height] = [(x1 - x0).abs(), (y1 - y0).abs()].map(decimal);
        let ink = ink(style, filled);
        self.line(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"{ink}/>"
        ));
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        let points: Vec<_> = path.into_iter().collect();
        self.path(&points, style);
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        (x, y): BackendCoord,
        radius: u32,
        style: &S,
        filled: bool,
    ) -> Drawn {
        let [x, y, radius] = [x, y, radius as i32].map(decimal);
        let ink = ink(style, filled);
        self.line(&format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\"{ink}/>"));
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        style: &S,
    ) -> Drawn {
        let points: Vec<_> = corners.into_iter().collect();
        let mut d = String::new();
        path_to(&mut d, &points);
        let ink = ink(style, true);
        self.line(&format!("<path d=\"{d}Z\"{ink}/>"));
        Ok(())
    }

    fn draw_text<T: BackendTextStyle>(&mut self, text: &str, style: &T, at: BackendCoord) -> Drawn {
        let size = style.size() / f64::from(GRID);
        let down = match style.anchor().v_pos {
            VPos::Top => font::ascent(size),
            VPos::Center => font::cap_height(size) / 2,
            VPos::Bottom => -font::descent(size),
        };
        let anchor = match style.anchor().h_pos {
            HPos::Left => "",
            HPos::Center => " text-anchor=\"middle\"",
            HPos::Right => " text-anchor=\"end\"",
        };
        let degrees = match style.transform() {
            FontTransform::None => 0,
            FontTransform::Rotate90 => 90,
            FontTransform::Rotate180 => 180,
            FontTransform::Rotate270 => 270,
        };
        // The baseline moves before the text turns, in the text's own frame.
        let [x, y, baseline] = [at.0, at.1, at.1 + down].map(decimal);
        let turn = match degrees {
            0 => String::new(),
            _ => format!(" transform=\"rotate({degrees} {x} {y})\""),
        };
        let weight = match css_weight(style) {
            400 => String::new(),
            weight => format!(" font-weight=\"{weight}\""),
        };
        if self.missing_letter.is_none() {
            self.missing_letter = font::missing_letter(text).map(|c| (c, text.to_owned()));
        }
        let fill = hex(style.color());
        let size = decimal(grid(size));
        let text = escape(text);
        self.line(&format!(
            "<text x=\"{x}\" y=\"{baseline}\" font-size=\"{size}\" \
             fill=\"{fill}\"{weight}{anchor}{turn}>{text}</text>"
        ));
        Ok(())
    }

    fn estimate_text_size<T: BackendTextStyle>(
        &self,
        text: &str,
        style: &T,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        let size = style.size() / f64::from(GRID);
        let width = font::width(text, size, weight(style));
        Ok((width as u32, font::height(size) as u32))
    }
}

/// A number of grid units as a decimal number of CSS pixels, without idle zeros.
pub(crate) fn decimal(units: i32) -> String {
    let hundredths = i64::from(units) * i64::from(100 / GRID);
    let sign = if hundredths < 0 { "-" } else { "" };
    let (whole, rest) = (hundredths.abs() / 100, hundredths.abs() % 100);
    let text = format!("{sign}{whole}.{rest:02}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A text as XML may hold it. Letters that XML forbids become a space.
pub(crate) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\u{fffe}' | '\u{ffff}' => safe.push(' '),
            letter if letter.is_control() => safe.push(' '),
            letter => safe.push(letter),
        }
    }
    safe
}

fn path_to(d: &mut String, points: &[BackendCoord]) {
    for (i, &(x, y)) in points.iter().enumerate() {
        let step = if i == 0 { "M" } else { " " };
        let _ = write!(d, "{step}{} {}", decimal(x), decimal(y));
    }
}

fn ink<S: BackendStyle>(style: &S, filled: bool) -> String {
    match filled {
        true => format!(" fill=\"{}\"{}", hex(style.color()), opacity("fill", style)),
        false => format!(" fill=\"none\"{}", stroke(style)),
    }
}

fn stroke<S: BackendStyle>(style: &S) -> String {
    let colour = hex(style.color());
    let width = decimal(style.stroke_width() as i32);
    let opacity = opacity("stroke", style);
    format!(" stroke=\"{colour}\" stroke-width=\"{width}\"{opacity}")
}

fn opacity<S: BackendStyle>(what: &str, style: &S) -> String {
    let percent = (style.color().alpha * 100.0).round() as i32;
    match percent {
        100 => String::new(),
        percent => format!(" {what}-opacity=\"0.{percent:02}\""),
    }
}

fn hex(colour: BackendColor) -> String {
    let (red, green, blue) = colour.rgb;
    theme::css(RGBColor(red, green, blue))
}

fn weight<T: BackendTextStyle>(style: &T) -> Weight {
    match style.style() {
        FontStyle::Bold => Weight::SemiBold,
        _ => Weight::Regular,
    }
}

fn css_weight<T: BackendTextStyle>(style: &T) -> u16 {
    match weight(style) {
        Weight::Regular => font::REGULAR.css_weight,
        Weight::SemiBold => font::SEMI_BOLD.css_weight,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grid_units_are_written_as_the_shortest_decimal() {
        let written = [0, 1, -1, 10, 20, -2019, 12_000].map(decimal);
        assert_eq!(written, ["0", "0.05", "-0.05", "0.5", "1", "-100.95", "600"]);
    }

    #[test]
    fn text_cannot_break_the_document() {
        assert_eq!(escape("R < 5 & \"C\"\u{0}"), "R &lt; 5 &amp; &quot;C&quot; ");
    }
}
