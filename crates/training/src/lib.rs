//! Lessons: a student practises on a scenario, is marked and is told why.
//!
//! A scenario with a `training` block is a lesson. A [`Session`] runs it against
//! a clock that only the caller moves; its log, an
//! [`Attempt`](tidewright_scenario::format::Attempt), is played again by
//! [`replay()`] and marked by [`mark()`]. Both are pure functions of scenario,
//! attempt and revision of the model: the same bits everywhere.
//!
//! ```
//! use std::sync::Arc;
//! use tidewright_training::{mark, replay, Session, command};
//! let text = tidewright_shelf::lesson("juno")?.text;
//! let scenario = Arc::new(tidewright_scenario::parse("juno.ron", text)?);
//! let mut session = Session::new(Arc::clone(&scenario), 7)?;
//! session.play(150.0)?;
//! session.act(command::parse("listen")?)?;
//! session.play(600.0)?;
//! let attempt = session.attempt(command::pseudonym("heron-12")?);
//! let marking = mark(&scenario, &attempt)?;
//! assert!(!marking.passed);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! The crate opens no file, reads no clock and prints nothing.

pub mod alarms;
mod bedside;
mod case;
pub mod class;
pub mod coverage;
pub mod debrief;
pub mod desk;
pub mod exam;
mod judge;
mod observe;
pub mod proof;
pub mod review;
mod session;
mod words;

pub use desk::view;
pub use words::{command, glossary, text};

pub use bedside::meter::{Row, Totals};
pub use bedside::vitals::Vitals;
pub use bedside::{Bedside, End, HAND_OVER_ARREST_S, HAND_OVER_SATURATION, OwnEffort, Seen};
pub use case::care::{Care, Kind};
pub use case::draw::{Drawn, draw};
pub use case::table::Table;
pub use case::tube::{Dragged, Handling, How, Moved};
pub use case::varied::{NotDealt, varied, vary};
pub use case::world::{Busy, Controls, On, World};
pub use debrief::html::page;
pub use debrief::scene::Scene;
pub use desk::typed::parse_in;
pub use judge::detect::Detection;
pub use judge::mark::{Judged, Marking, mark, mark_with};
pub use judge::sign::Sign;
pub use session::replay::{ReplayError, replay, replay_watched};
pub use session::{
    Came, HAND_OVER_APNOEA_S, HAND_OVER_CMH2O, MOST_WAITING, NotOpen, Passing,
    SMALLEST_BREATH_ML_KG, SURGEON_TAKES_S, Saved, Session, SessionError,
};

/// The caution of every start, report and sheet.
pub use tidewright_scenario::report::BANNER;
