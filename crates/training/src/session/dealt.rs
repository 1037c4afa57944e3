//! The session of a student of a class.

use std::sync::Arc;

use tidewright_scenario::Scenario;
use tidewright_scenario::format::Dealt;

use super::{Session, SessionError, lesson};
use crate::case::choices::Orders;
use crate::case::draw::draw;
use crate::case::varied::varied;

impl Session {
    /// Begins a session with what a class was dealt for its student; with nothing,
    /// as [`Session::new`].
    ///
    /// # Errors
    /// As [`Session::new`], or what was dealt is not what this lesson deals.
    pub fn dealt(
        scenario: &Arc<Scenario>,
        seed: u32,
        dealt: Option<Dealt>,
    ) -> Result<Self, SessionError> {
        let mut session = Self::about_to_begin(scenario, seed, dealt)?;
        session.changes_due()?;
        Ok(session)
    }

    /// A session in which nothing has taken effect, not even what is there from the
    /// start.
    pub(crate) fn about_to_begin(
        scenario: &Arc<Scenario>,
        seed: u32,
        dealt: Option<Dealt>,
    ) -> Result<Self, SessionError> {
        let own = match &dealt {
            Some(dealt) => Arc::new(varied(scenario, dealt)?),
            None => Arc::clone(scenario),
        };
        let (own, orders) = Orders::shuffled(own, seed);
        let drawn = draw(lesson(&own)?, seed);
        Self::built(own, seed, dealt, drawn, orders)
    }

    /// The scenario as it was dealt, to be shared.
    pub(crate) fn own_scenario(&self) -> &Arc<Scenario> {
        &self.lesson.scenario
    }
}
