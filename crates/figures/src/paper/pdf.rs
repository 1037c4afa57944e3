//! Pages of a PDF from SVGs of our own backend: vector lines, text as text, tagged
//! for readers who listen, and the same bytes for the same pages.
//!
//! The roles that the SVG's groups carry become the tags of the PDF: the backend
//! writes them once, and both kinds of file tell the same structure. Whatever
//! stands outside a role is decoration.

mod draw;
mod roles;

use std::sync::LazyLock;

use krilla::configure::{Accessibility, Configuration, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{Point, Transform};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::tagging::TagTree;
use krilla::text::Font;
use krilla::{Document, SerializeSettings};
use roxmltree::{Document as Xml, Node};

use crate::paper::error::FigureError;
use crate::paper::font::{self, Weight};
use crate::paper::ink::number;

/// Points, of which 72 make an inch, in one CSS pixel.
const POINTS_PER_PX: f32 = 0.75;

/// A PDF with one page for each SVG, which each have a title.
pub(crate) fn encode(
    pages: &[&str],
    title: &str,
    description: &str,
) -> Result<Vec<u8>, FigureError> {
    encode_scaled(pages, title, description, 1.0)
}

/// The same, each page so many times as large as its SVG.
pub(crate) fn encode_scaled(
    pages: &[&str],
    title: &str,
    description: &str,
    scale: f32,
) -> Result<Vec<u8>, FigureError> {
    let scale = scale * POINTS_PER_PX;
    let settings = SerializeSettings {
        // Stops with an error where a page lacks what PDF/UA-1 asks for.
        configuration: configuration(),
        ..SerializeSettings::default()
    };
    let mut document = Document::new_with(settings);
    let mut outline = Outline::new();
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    for (i, svg) in pages.iter().enumerate() {
        let svg = Xml::parse(svg).map_err(|error| FigureError::Page(error.to_string()))?;
        let root = svg.root_element();
        let (width, height) = (number(&root, "width")?, number(&root, "height")?);
        let size = PageSettings::from_wh(width * scale, height * scale);
        let size = size.ok_or_else(|| FigureError::Page("a page has no area".to_owned()))?;
        let mut page = document.start_page_with(size);
        let mut surface = page.surface();
        surface.push_transform(&Transform::from_scale(scale, scale));
        roles::draw(&root, &mut surface, &mut tree)?;
        surface.pop();
        surface.finish();
        page.finish();
        let top = XyzDestination::new(i, Point::from_xy(0.0, 0.0));
        outline.push_child(OutlineNode::new(text_of(&root, "title").unwrap_or_default(), top));
    }
    document.set_outline(outline);
    document.set_tag_tree(tree);
    document.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .description(description.to_owned())
            .language("en".to_owned())
            .creator(format!("Tidewright {}", env!("CARGO_PKG_VERSION"))),
    );
    Ok(document.finish()?)
}

fn configuration() -> Configuration {
    ConfigurationBuilder::new()
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .expect("PDF/UA-1 alone goes with the version of PDF that it brings")
}

/// The shipped font, as the PDF embeds it.
fn face(weight: Weight) -> Font {
    static FONTS: LazyLock<[Font; 2]> = LazyLock::new(|| {
        [&font::REGULAR, &font::SEMI_BOLD].map(|file| {
            Font::new(file.ttf.into(), 0).expect("the shipped font is a valid TrueType file")
        })
    });
    match weight {
        Weight::Regular => FONTS[0].clone(),
        Weight::SemiBold => FONTS[1].clone(),
    }
}

/// The text of a child element.
fn text_of<'a>(node: &Node<'a, '_>, name: &str) -> Option<String> {
    let child = node.children().find(|child| child.has_tag_name(name));
    child.and_then(|child| child.text()).map(str::to_owned)
}
