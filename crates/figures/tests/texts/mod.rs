//! Where the texts of a figure stand, measured by another road: as resvg sets them.

use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{self, fontdb::Database};

/// Measures every text as resvg sets it: inside the page, apart from the others.
pub fn assert_texts_are_clear(name: &str, svg: &str) {
    let tree = tree(svg);
    let mut boxes = Vec::new();
    collect(tree.root(), &mut boxes);
    let size = tree.size();
    assert!(boxes.len() > 10 || boxes.len() == svg.matches("<text").count(), "{name}");
    for (i, (text, a)) in boxes.iter().enumerate() {
        let inside = a.left() >= 0.0
            && a.top() >= 0.0
            && a.right() <= size.width()
            && a.bottom() <= size.height();
        assert!(inside, "{name}: '{text}' leaves the page: {a:?}");
        for (other, b) in &boxes[..i] {
            // Line boxes may touch; a shared strip of half a pixel is no overlap.
            let wide = a.right().min(b.right()) - a.left().max(b.left());
            let high = a.bottom().min(b.bottom()) - a.top().max(b.top());
            assert!(wide < 0.5 || high < 0.5, "{name}: '{text}' covers '{other}'");
        }
    }
}

/// The SVG as resvg reads it, with the shipped font and no other.
fn tree(svg: &str) -> usvg::Tree {
    let mut fonts = Database::new();
    for weight in ["Regular", "SemiBold"] {
        let path = format!("{}/fonts/Inter-{weight}.ttf", env!("CARGO_MANIFEST_DIR"));
        fonts.load_font_data(std::fs::read(path).expect("the shipped font"));
    }
    let options = usvg::Options { fontdb: Arc::new(fonts), ..usvg::Options::default() };
    usvg::Tree::from_str(svg, &options).expect("a sound SVG")
}

/// Red, green and blue of every pixel, as resvg draws the SVG so large.
#[allow(dead_code, reason = "not every test that reads texts draws")]
pub fn pixels(svg: &str, width: u32, height: u32) -> Vec<u8> {
    let tree = tree(svg);
    let mut pixmap = Pixmap::new(width, height).expect("a size");
    let size = tree.size();
    let scale = Transform::from_scale(width as f32 / size.width(), height as f32 / size.height());
    resvg::render(&tree, scale, &mut pixmap.as_mut());
    pixmap.data().chunks_exact(4).flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect()
}

fn collect(group: &usvg::Group, boxes: &mut Vec<(String, usvg::Rect)>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(group) => collect(group, boxes),
            usvg::Node::Text(text) => {
                let words = text.chunks().iter().map(|chunk| chunk.text()).collect();
                boxes.push((words, text.abs_bounding_box()));
            }
            _ => (),
        }
    }
}
