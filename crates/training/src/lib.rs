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
mod care;
mod choices;
pub mod class;
pub mod command;
pub mod coverage;
pub mod debrief;
pub mod desk;
mod detect;
mod draw;
mod economy;
pub mod exam;
pub mod glossary;
mod harm;
mod html;
mod limits;
mod mark;
mod measure;
mod mends;
mod meter;
mod observe;
pub mod proof;
mod replay;
pub mod review;
mod scene;
mod session;
mod sign;
pub mod text;
mod tube;
mod typed;
mod unbegun;
mod varied;
pub mod view;
mod vitals;
mod world;

pub use bedside::{Bedside, End, HAND_OVER_ARREST_S, HAND_OVER_SATURATION, OwnEffort, Seen};
pub use care::{Care, Kind};
pub use detect::Detection;
pub use draw::{Drawn, draw};
pub use html::page;
pub use mark::{Judged, Marking, mark, mark_with};
pub use meter::{Row, Totals};
pub use replay::{ReplayError, replay, replay_watched};
pub use scene::Scene;
pub use session::{
    Came, HAND_OVER_APNOEA_S, HAND_OVER_CMH2O, MOST_WAITING, NotOpen, Passing,
    SMALLEST_BREATH_ML_KG, SURGEON_TAKES_S, Saved, Session, SessionError,
};
pub use sign::Sign;
pub use tube::{Dragged, Handling, How, Moved};
pub use typed::parse_in;
pub use varied::{NotDealt, varied, vary};
pub use vitals::Vitals;
pub use world::{Busy, Controls, On, World};

/// The caution of every start, report and sheet.
pub use tidewright_scenario::report::BANNER;
