//! A session driven by code, left, and taken up again from its log.
#![allow(clippy::print_stdout, reason = "an example prints")]

use std::error::Error;
use std::sync::Arc;

use tidewright_training::{Session, command};

/// Runs it.
pub fn main() -> Result<(), Box<dyn Error>> {
    let text = tidewright_shelf::lesson("juno")?.text;
    let scenario = Arc::new(tidewright_scenario::parse("juno.ron", text)?);
    let mut session = Session::new(Arc::clone(&scenario), 7)?;
    session.play(150.0)?;
    session.act(command::parse("listen")?)?;
    session.play(200.3)?;
    // The log is all there is to keep: text, a few lines long.
    let kept = serde_json::to_string(&session.attempt(command::pseudonym("plover-3")?))?;

    let mut again =
        Session::resume(&scenario, &tidewright_scenario::parse_attempt("kept.json", &kept)?)?;
    assert_eq!(again.seen(), session.seen());
    for session in [&mut session, &mut again] {
        session.play(400.0)?;
    }
    assert_eq!(again.rows(), session.rows());
    for row in again.rows().iter().take(3) {
        println!("{} {:.1} cmH2O", row.breath.number, row.shown_peak_cmh2o);
    }
    Ok(())
}
