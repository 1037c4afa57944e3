//! The reference of figure files, made from the declarations that the reader uses.

use tidewright_scenario::reference_of;

use crate::file::Figure;

/// The whole reference of figure files as Markdown, with an example of each kind of figure.
/// What figure files share with scenarios stands in [`tidewright_scenario::reference`].
///
/// ```
/// let page = tidewright_figures::reference();
/// assert!(page.contains("## Sweep") && page.contains("`from_s`"));
/// ```
#[must_use]
pub fn reference() -> String {
    let mut page = include_str!("reference/introduction.md").replace("{caution}", crate::CAUTION);
    reference_of::<Figure>(&mut page);
    page
}
