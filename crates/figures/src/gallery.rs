//! The index page of a folder of figures.

use std::fmt::Write as _;

use crate::file::{Figure as FigureFile, Show};
use crate::paper::figure::Figure;
use crate::paper::words::CAUTION;

/// The index page of a folder of figures, as Markdown: each with what it teaches,
/// its description, and the files beside it.
#[must_use]
pub fn gallery(figures: &[(FigureFile, Figure)]) -> String {
    let mut page = format!(
        "# Figures\n\n{CAUTION}\n\n\
         Every figure is drawn from the file of the same name by the program: change the file \
         and draw it again. Text in a figure is text, line styles do not depend on colour. \
         Each file also gives a student's version without names or measures, for a quiz, and \
         the numbers behind the figure as CSV, a PNG for a slide and a PDF for print:\n\n\
         ```sh\ntidewright figure figures/one-breath.ron --out one-breath.pdf\n\
         tidewright signs --out wall-chart.pdf\n```\n\n"
    );
    for (file, _) in figures {
        let _ = writeln!(page, "- [{}](#{}): {}", file.title, anchor(&file.title), file.teaches);
    }
    for (file, figure) in figures {
        let id = &file.id;
        let alt = figure.description().replace(['[', ']'], "");
        let _ = write!(
            page,
            "\n## {}\n\n{}\n\n![{alt}]({id}.svg)\n\n{}\n\n{}\
             [figure file]({id}.ron) · [student's version]({id}.quiz.svg) · from [{}]({})\n",
            file.title,
            file.teaches,
            figure.description(),
            beyond(file),
            file.scenario.rsplit('/').next().unwrap_or_default(),
            file.scenario,
        );
    }
    page
}

/// What is to be said beyond the description, and where others' results come from.
fn beyond(file: &FigureFile) -> String {
    let mut text = String::new();
    if let Some(discussion) = &file.discussion {
        let _ = write!(text, "{discussion}\n\n");
    }
    if let Show::FreshGasNeed(need) = &file.show {
        for (label, source) in need.sources() {
            let _ = write!(text, "Published, \"{label}\": {source}\n\n");
        }
    }
    text
}

/// What a heading is linked by, as the common Markdown pages do it.
fn anchor(title: &str) -> String {
    let lower = title.to_lowercase();
    let kept = lower.chars().filter(|c| c.is_alphanumeric() || " -".contains(*c));
    kept.map(|c| if c == ' ' { '-' } else { c }).collect()
}
