//! Drawing a stack as it was measured.

mod panel;

use std::cell::RefCell;
use std::rc::Rc;

use crate::paper::figure::{Look, id_from};
use crate::paper::svg::{Area, DrawError, Sheet};
use crate::paper::words::Drawn;
use crate::plot::layout::Layout;
use crate::plot::stack::Stack;

impl Stack<'_> {
    /// Draws the stack as it was measured; `id` starts the id of every group.
    pub fn draw(&self, layout: &Layout, look: &Look, id: &str) -> Result<Sheet, DrawError> {
        let sheet = Rc::new(RefCell::new(Sheet::new(look.width_px, look.height_px)));
        let root = Area::from(&sheet);
        let id = id_from(id);
        let group = |name: &str, title: &str, draw: &dyn Fn() -> Drawn| {
            sheet.borrow_mut().open(&format!("{id}-{name}"), title);
            let drawn = draw();
            sheet.borrow_mut().close();
            drawn
        };
        let rows = layout.rows();

        group("heading", "", &|| {
            layout.title.draw(&root)?;
            layout.subtitle.draw(&root)
        })?;
        if !layout.key.is_empty() {
            group("key", "", &|| layout.key.iter().try_for_each(|entry| entry.draw(&root)))?;
        }
        if !self.phases.is_empty() {
            group("phases", "", &|| layout.shading.draw(&root, rows.clone()))?;
        }
        if !layout.flags.is_empty() {
            group("changes", "", &|| {
                layout.flags.iter().try_for_each(|flag| flag.draw(&root, &sheet, rows.clone()))
            })?;
        }
        for (i, (panel, frame)) in self.panels.iter().zip(&layout.frames).enumerate() {
            let title = format!("{}, {}", panel.name, panel.unit);
            let last = i + 1 == self.panels.len();
            group(panel.id, &title, &|| panel.draw(&root, &sheet, layout, frame, last))?;
        }
        if !self.notes.is_empty() {
            group("measures", "", &|| {
                self.notes.iter().try_for_each(|(panel, note)| {
                    note.draw(&root, &layout.time, &layout.columns, &layout.frames[*panel])
                })
            })?;
        }
        if let (Some(frame), 1..) = (layout.frames.first(), layout.marks.len()) {
            group("ends-of-breaths", "", &|| layout.marks.draw(&root, self, frame))?;
        }
        group("footer", "", &|| layout.foot.draw(&root))?;

        drop(root);
        Ok(sheet.replace(Sheet::new(0, 0)))
    }
}
