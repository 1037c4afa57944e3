//! From the roles of groups to the tags of a PDF.

use std::num::NonZeroU16;

use krilla::geom::Transform;
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Node as TagNode, TableHeaderScope, Tag, TagGroup, TagKind,
    TagTree,
};
use roxmltree::Node;

use super::{draw as element, text_of};
use crate::paper::error::FigureError;
use crate::paper::ink;

type Done = Result<(), FigureError>;

/// Where a tag belongs.
trait Parent {
    fn take(&mut self, child: TagNode);
}

impl Parent for TagTree {
    fn take(&mut self, child: TagNode) {
        self.push(child);
    }
}

impl Parent for TagGroup {
    fn take(&mut self, child: TagNode) {
        self.push(child);
    }
}

/// What a role makes of a group.
enum Role {
    /// One thing to read, with all that is drawn in it.
    Leaf(TagKind),
    /// Holds other roles.
    Holder(TagKind),
}

/// Draws a page and adds its tags to the tree.
pub(super) fn draw(root: &Node<'_, '_>, surface: &mut Surface<'_>, tree: &mut TagTree) -> Done {
    group(root, surface, tree)
}

fn group(node: &Node<'_, '_>, surface: &mut Surface<'_>, parent: &mut dyn Parent) -> Done {
    match role(node)? {
        None => children(node, surface, parent),
        Some(Role::Holder(kind)) => {
            let mut holder = TagGroup::new(kind);
            children(node, surface, &mut holder)?;
            parent.take(holder.into());
            Ok(())
        }
        Some(Role::Leaf(kind)) => {
            let mut leaf = TagGroup::new(kind);
            leaf.push(surface.start_tagged(ContentTag::Other));
            let drawn = contents(node, surface);
            surface.end_tagged();
            parent.take(leaf.into());
            drawn
        }
    }
}

/// Draws what stands in a group whose tags are its children's.
fn children(node: &Node<'_, '_>, surface: &mut Surface<'_>, parent: &mut dyn Parent) -> Done {
    moved(node, surface, |surface| {
        node.children().filter(Node::is_element).try_for_each(|child| {
            if child.has_tag_name("g") {
                return group(&child, surface, parent);
            }
            let decoration = Artifact::with_kind(ArtifactType::Other);
            surface.start_tagged(ContentTag::Artifact(decoration));
            let drawn = element::draw(&child, surface);
            surface.end_tagged();
            drawn
        })
    })
}

/// Draws what stands in a group that is one thing to read.
fn contents(node: &Node<'_, '_>, surface: &mut Surface<'_>) -> Done {
    moved(node, surface, |surface| {
        node.children().filter(Node::is_element).try_for_each(|child| {
            match child.has_tag_name("g") {
                true => contents(&child, surface),
                false => element::draw(&child, surface),
            }
        })
    })
}

/// Draws under the group's own transform: a shift and a scale.
fn moved<'s>(
    node: &Node<'_, '_>,
    surface: &mut Surface<'s>,
    draw: impl FnOnce(&mut Surface<'s>) -> Done,
) -> Done {
    let Some(([x, y], scale)) = ink::moved(node)? else {
        return draw(surface);
    };
    surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, x, y));
    let drawn = draw(surface);
    surface.pop();
    drawn
}

fn role(node: &Node<'_, '_>) -> Result<Option<Role>, FigureError> {
    let label = || node.attribute("aria-label").map(str::to_owned);
    let role = match node.attribute("role") {
        None | Some("document") => return Ok(None),
        Some("img") => {
            let alt = text_of(node, "desc").or_else(|| text_of(node, "title")).or_else(label);
            Role::Leaf(Tag::Figure(alt).into())
        }
        Some("heading") => {
            let level = node.attribute("aria-level").and_then(|level| level.parse().ok());
            Role::Leaf(Tag::Hn(level.unwrap_or(NonZeroU16::MIN), label()).into())
        }
        Some("paragraph") => Role::Leaf(Tag::P.into()),
        Some("table") => Role::Holder(Tag::Table.with_summary(label()).into()),
        Some("row") => Role::Holder(Tag::TR.into()),
        Some("columnheader") => Role::Leaf(Tag::TH(TableHeaderScope::Column).into()),
        Some("rowheader") => {
            let span = node.attribute("aria-colspan").and_then(|span| span.parse().ok());
            Role::Leaf(Tag::TH(TableHeaderScope::Row).with_col_span(span).into())
        }
        Some("cell") => Role::Leaf(Tag::TD.with_alt_text(label()).into()),
        Some(other) => return Err(FigureError::Page(format!("no tag for the role {other:?}"))),
    };
    Ok(Some(role))
}
