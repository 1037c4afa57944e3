//! What a browser sees of the module: a place for a question, the answer, and the live
//! clock. Every `unsafe` of this crate is here, and all of it is names that a linker
//! must keep; memory is only ever handed out as the address of a `Vec` kept here.
#![expect(unsafe_code, reason = "a name that the linker must keep is declared so")]

use std::cell::RefCell;

use crate::{Page, Passed};

#[derive(Default)]
struct Door {
    page: Page,
    question: Vec<u8>,
    answer: String,
    points: Vec<f64>,
}

thread_local! {
    static DOOR: RefCell<Door> = RefCell::default();
}

fn with<T>(ask: impl FnOnce(&mut Door) -> T) -> T {
    DOOR.with_borrow_mut(ask)
}

/// A place for a question of so many bytes; it holds until the next call.
#[unsafe(no_mangle)]
pub extern "C" fn question(bytes: usize) -> *mut u8 {
    with(|door| {
        door.question.clear();
        door.question.resize(bytes, 0);
        door.question.as_mut_ptr()
    })
}

/// Answers the question that was put there; how many bytes the answer has.
#[unsafe(no_mangle)]
pub extern "C" fn ask() -> usize {
    with(|door| {
        door.answer = door.page.answer(&door.question);
        door.answer.len()
    })
}

/// Where the answer is.
#[unsafe(no_mangle)]
pub extern "C" fn answer() -> *const u8 {
    with(|door| door.answer.as_ptr())
}

/// Lets time pass, s; see [`Passed`].
#[unsafe(no_mangle)]
pub extern "C" fn advance(passed_s: f64) -> u32 {
    with(|door| match door.page.advance(passed_s) {
        Passed::Nothing => 0,
        Passed::Time => 1,
        Passed::Told => 2,
        Passed::Stopped => 3,
    })
}

/// Gathers the curves; how many numbers they are.
#[unsafe(no_mangle)]
pub extern "C" fn gather() -> usize {
    with(|door| {
        door.page.points(&mut door.points);
        door.points.len()
    })
}

/// Where the curves are.
#[unsafe(no_mangle)]
pub extern "C" fn points() -> *const f64 {
    with(|door| door.points.as_ptr())
}
