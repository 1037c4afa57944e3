//! A finished figure, and the choices a caller has about its looks.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use crate::paper::error::FigureError;
use crate::paper::font::{self, FontFile};
use crate::paper::grid::GRID;
use crate::paper::svg::{Sheet, decimal, escape};
use crate::paper::theme;

/// Size and units of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// Width in CSS pixels, 96 to the inch.
    pub width_px: u32,
    /// Height in CSS pixels, 96 to the inch.
    pub height_px: u32,
    /// Unit of the flow axis.
    pub flow_unit: FlowUnit,
}

/// Unit of a flow axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FlowUnit {
    /// Litres per minute, as flowmeters read.
    LPerMin,
    /// Millilitres per second, for the smallest patients.
    MlPerS,
}

impl Look {
    /// For a printed page: 600 by 680 px, readable at half the width of A4.
    pub const PAGE: Self = Self { width_px: 600, height_px: 680, flow_unit: FlowUnit::LPerMin };

    /// For a slide of 16 to 9: 960 by 540 px.
    pub const SLIDE: Self = Self { width_px: 960, height_px: 540, flow_unit: FlowUnit::LPerMin };

    /// Widest side of a look that grew.
    const MOST_GROWN_PX: u32 = 3_000;

    /// A larger look of the same proportions, in which a figure that had no room may have
    /// it; `None` where that is not what is wrong, or would be too large for any page.
    pub(crate) fn grown_for(self, error: &FigureError) -> Option<Self> {
        let &FigureError::TooSmall { least_width_px, least_height_px, .. } = error else {
            return None;
        };
        let part = |least: u32, now: u32| f64::from(least) / f64::from(now.max(1));
        let needed = part(least_width_px, self.width_px).max(part(least_height_px, self.height_px));
        let grown = |px: u32| (f64::from(px) * needed.max(1.02)).ceil() as u32;
        let look =
            Self { width_px: grown(self.width_px), height_px: grown(self.height_px), ..self };
        (look.width_px.max(look.height_px) <= Self::MOST_GROWN_PX).then_some(look)
    }
}

impl Default for Look {
    fn default() -> Self {
        Self::PAGE
    }
}

/// A finished figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    svg: String,
    /// Where in the SVG the drawing begins.
    body_at: usize,
    title: String,
    description: String,
    look: Look,
    missing_letter: Option<(char, String)>,
    data: String,
}

impl Figure {
    pub(crate) fn new(
        id: &str,
        title: &str,
        description: String,
        sheet: Sheet,
        look: &Look,
    ) -> Self {
        let size = (look.width_px as i32 * GRID, look.height_px as i32 * GRID);
        let svg = document(id, title, &description, sheet.body(), size, "img");
        Self {
            body_at: svg.len() - sheet.body().len() - "</svg>\n".len(),
            svg,
            title: title.to_owned(),
            description,
            look: *look,
            missing_letter: sheet.missing_letter().cloned(),
            data: String::new(),
        }
    }

    pub(crate) fn with_data(self, data: String) -> Self {
        Self { data, ..self }
    }

    /// The document with something put before all that is drawn.
    pub(crate) fn behind(&self, what: &str) -> String {
        [&self.svg[..self.body_at], what, &self.svg[self.body_at..]].concat()
    }

    /// The same without its footer, for a sheet that has one of its own.
    pub(crate) fn on_a_sheet(mut self) -> Self {
        let name = self.svg.find("-footer\">");
        let from = name.and_then(|at| self.svg[..at].rfind('\n')).map(|end| end + 1);
        let length = from.and_then(|from| self.svg[from..].find("</g>\n"));
        if let (Some(from), Some(length)) = (from, length) {
            self.svg.replace_range(from..from + length + "</g>\n".len(), "");
        }
        self
    }

    /// The same document without the font, for pages that hold many figures. The
    /// reader's own sans-serif font is used; sizes leave room for common ones.
    pub fn to_light_svg(&self) -> String {
        without_font(&self.svg)
    }

    /// The numbers behind the figure as CSV, each column with its unit.
    pub fn to_csv(&self) -> &str {
        &self.data
    }

    /// The figure as one self-contained SVG document: text as text, the font
    /// embedded, with a title and a description. The same data give the same bytes.
    pub fn to_svg(&self) -> String {
        self.svg.clone()
    }

    /// The figure as a PNG, drawn from the SVG. 96 dpi gives one pixel for each
    /// CSS pixel; 300 dpi is good for print. The file knows its resolution and
    /// carries the title and the description.
    ///
    /// # Errors
    /// If the resolution is below 24 dpi or would make more than 64 million pixels,
    /// or a text holds a letter that the font of the figures lacks.
    #[cfg(feature = "png")]
    pub fn to_png(&self, dpi: f64) -> Result<Vec<u8>, FigureError> {
        if let Some((letter, text)) = self.missing_letter.clone() {
            return Err(FigureError::NoLetter { letter, text });
        }
        let texts = [("Title", &*self.title), ("Description", &*self.description)];
        crate::paper::png::encode(&self.svg, (self.look.width_px, self.look.height_px), dpi, &texts)
    }

    /// The figure as a page of a PDF of its size, made from the SVG: lines as lines,
    /// text as text, tagged as PDF/UA-1 asks, with the description for readers who
    /// listen. No date and no chance goes in: the same data give the same bytes.
    ///
    /// # Errors
    /// If a text holds a letter that the font of the figures lacks.
    #[cfg(feature = "pdf")]
    pub fn to_pdf(&self) -> Result<Vec<u8>, FigureError> {
        if let Some((letter, text)) = self.missing_letter.clone() {
            return Err(FigureError::NoLetter { letter, text });
        }
        crate::paper::pdf::encode(&[&self.svg], &self.title, &self.description)
    }

    /// Width and height in CSS pixels.
    #[cfg(feature = "pdf")]
    pub(crate) fn size(&self) -> (u32, u32) {
        (self.look.width_px, self.look.height_px)
    }

    /// What is drawn, without the document around it.
    #[cfg(feature = "pdf")]
    pub(crate) fn body(&self) -> &str {
        &self.svg[self.body_at..self.svg.len() - "</svg>\n".len()]
    }

    /// What the figure shows, in words made from its data: the text to put where a
    /// picture cannot be seen.
    pub fn description(&self) -> &str {
        &self.description
    }

    /// The heading of the figure.
    pub fn title(&self) -> &str {
        &self.title
    }
}

/// An SVG document of ours without the font.
pub(crate) fn without_font(svg: &str) -> String {
    match (svg.find("<style>"), svg.find("</style>\n")) {
        (Some(from), Some(to)) => {
            let from = svg[..from].trim_end_matches(' ').len();
            format!("{}{}", &svg[..from], &svg[to + "</style>\n".len()..])
        }
        _ => svg.to_owned(),
    }
}

/// An id that SVG and CSS accept, from any name.
pub(crate) fn id_from(name: &str) -> String {
    let id: String =
        name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    match id.starts_with(|c: char| c.is_ascii_alphabetic()) {
        true => id,
        false => format!("figure{}{id}", if id.is_empty() { "" } else { "-" }),
    }
}

/// A whole SVG document around a drawing of the given size in grid units.
pub(crate) fn document(
    id: &str,
    title: &str,
    description: &str,
    body: &str,
    (width, height): (i32, i32),
    role: &str,
) -> String {
    let id = id_from(id);
    let [width, height] = [width, height].map(decimal);
    let (title, description) = (escape(title), escape(description));
    let family = font::FAMILY;
    let faces = [&font::REGULAR, &font::SEMI_BOLD].map(font_face).concat();
    let ink = theme::css(theme::INK);
    let paper = theme::css(theme::PAPER);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
         viewBox=\"0 0 {width} {height}\" role=\"{role}\" xml:lang=\"en\" \
         aria-labelledby=\"{id}-title {id}-desc\" \
         font-family=\"{family}, Arial, Helvetica, sans-serif\" \
         text-rendering=\"geometricPrecision\" fill=\"{ink}\">\n \
         <title id=\"{id}-title\">{title}</title>\n \
         <desc id=\"{id}-desc\">{description}</desc>\n \
         <style>{faces}</style>\n \
         <rect width=\"{width}\" height=\"{height}\" fill=\"{paper}\"/>\n\
         {body}</svg>\n"
    )
}

fn font_face(file: &FontFile) -> String {
    let FontFile { css_weight, woff2, .. } = file;
    let family = font::FAMILY;
    let data = STANDARD.encode(woff2);
    format!(
        "@font-face{{font-family:{family};font-weight:{css_weight};\
         src:url(data:font/woff2;base64,{data}) format(\"woff2\")}}"
    )
}
