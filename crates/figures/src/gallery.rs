//! The index page of a folder of figures.

use std::fmt::Write as _;

use crate::CAUTION;
use crate::figure::Figure;
use crate::file::Figure as FigureFile;

/// The index page of a folder of figures, as Markdown: each with what it teaches,
/// its description, and the files beside it.
#[must_use]
pub fn gallery(figures: &[(FigureFile, Figure)]) -> String {
    let mut page = format!(
        "# Figures\n\n{CAUTION}\n\n\
         Every figure is drawn from the file of the same name by the program: change the file \
         and draw it again. Text in a figure is text, line styles do not depend on colour. \
         Each file also gives a student's version without names or measures, for a quiz, and \
         the numbers behind the figure as CSV.\n"
    );
    for (file, figure) in figures {
        let id = &file.id;
        let alt = figure.description().replace(['[', ']'], "");
        let _ = write!(
            page,
            "\n## {}\n\n{}\n\n![{alt}]({id}.svg)\n\n{}\n\n\
             [figure file]({id}.ron) · [student's version]({id}.quiz.svg) · from [{}]({})\n",
            file.title,
            file.teaches,
            figure.description(),
            file.scenario.rsplit('/').next().unwrap_or_default(),
            file.scenario,
        );
    }
    page
}
