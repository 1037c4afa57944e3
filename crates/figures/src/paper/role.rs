//! What a group of the SVG is to a reader, as ARIA names it. PDFs take their tags
//! from these.

#[cfg(feature = "pdf")]
use crate::paper::figure::Figure;
#[cfg(feature = "pdf")]
use crate::paper::svg::decimal;
use crate::paper::svg::{Sheet, escape};

/// What a group is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    /// A heading and its level.
    Heading(u8),
    Paragraph,
    Table,
    Row,
    ColumnHeader,
    RowHeader,
    /// A row's name that stands over so many columns.
    Band(u32),
    Cell,
}

impl Role {
    fn attributes(self) -> String {
        match self {
            Self::Heading(level) => format!("role=\"heading\" aria-level=\"{level}\""),
            Self::Paragraph => "role=\"paragraph\"".to_owned(),
            Self::Table => "role=\"table\"".to_owned(),
            Self::Row => "role=\"row\"".to_owned(),
            Self::ColumnHeader => "role=\"columnheader\"".to_owned(),
            Self::RowHeader => "role=\"rowheader\"".to_owned(),
            Self::Band(columns) => format!("role=\"rowheader\" aria-colspan=\"{columns}\""),
            Self::Cell => "role=\"cell\"".to_owned(),
        }
    }
}

impl Sheet {
    /// Begins a group with a role; a label, if not empty, is its name.
    pub fn begin(&mut self, role: Role, label: &str) {
        let label = match label {
            "" => String::new(),
            label => format!(" aria-label=\"{}\"", escape(label)),
        };
        self.enter(&format!("<g {}{label}>", role.attributes()));
    }

    /// Puts a finished figure here, `percent` of its size.
    #[cfg(feature = "pdf")]
    pub fn put(&mut self, figure: &Figure, (x, y): (i32, i32), percent: u32) {
        let [x, y] = [x, y].map(decimal);
        let scale = f64::from(percent) / 100.0;
        self.enter(&format!("<g role=\"img\" transform=\"translate({x} {y}) scale({scale})\">"));
        self.line(&format!("<title>{}</title>", escape(figure.title())));
        self.line(&format!("<desc>{}</desc>", escape(figure.description())));
        self.lines(figure.body());
        self.close();
    }
}
