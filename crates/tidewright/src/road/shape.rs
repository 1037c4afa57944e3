//! A machine with its outlet valve in one position, and which road it takes there.

use super::exact::Exact;
use super::numeric::Retaken;
#[cfg(feature = "reference")]
use super::reference;
use super::track::{Advance, ExactTrack, NotFinite, Stepped};
use super::{Solver, numeric};
use crate::plant::network::{NodeVec, NowhereToGo};
use crate::plant::plan::Plan;
use crate::plant::signal::Signal;
use crate::setup::{Drive, Setup, SetupError};

/// The machine with its outlet valve in one position.
#[derive(Clone, Debug)]
pub(crate) struct Shape {
    pub plan: Plan,
    /// Present where the network is linear and the solver wants it.
    pub exact: Option<Exact>,
    solver: Solver,
}

/// What a piece remembers of its road, with the road that can read it.
#[derive(Clone, Debug)]
#[expect(clippy::large_enum_variant, reason = "the exact road must not allocate")]
pub(crate) enum Track<'m> {
    Exact(ExactTrack, &'m Exact),
    Stepped(Box<Stepped>, &'m Shape),
}

impl<'m> Track<'m> {
    /// Nothing yet, on the road of a shape.
    #[inline]
    pub fn none(shape: &'m Shape) -> Self {
        match &shape.exact {
            Some(exact) => Self::Exact(ExactTrack::default(), exact),
            None => Self::Stepped(Box::default(), shape),
        }
    }
}

/// Which machine it was does not show in what it remembers.
impl PartialEq for Track<'_> {
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Exact(one, _), Self::Exact(other, _)) => one == other,
            (Self::Stepped(one, _), Self::Stepped(other, _)) => one == other,
            _ => false,
        }
    }
}

impl Shape {
    pub fn new(setup: &Setup, solver: Solver, valve_is_open: bool) -> Result<Self, SetupError> {
        let stuck = |NowhereToGo| SetupError::NowhereToGo;
        let plan = Plan::new(setup, valve_is_open);
        plan.check_ways_out().map_err(stuck)?;
        let exact = match solver {
            Solver::Auto => Exact::new(&plan).map_err(stuck)?,
            _ => None,
        };
        Ok(Self { plan, exact, solver })
    }

    /// Goes on to the horizon, to where the sensed pressure reaches `level`, or
    /// as far as one step of the road carries.
    #[inline]
    pub fn advance<'m>(
        &'m self,
        stored: &mut NodeVec,
        drive: &Drive,
        level: Option<f64>,
        horizon_s: f64,
        step_s: f64,
        track: &mut Track<'m>,
    ) -> Result<Advance, NotFinite> {
        let (plan, to) = (&self.plan, horizon_s);
        match (&self.exact, &mut *track) {
            (Some(exact), Track::Exact(track, road)) => {
                *road = exact;
                Ok(exact.advance(stored, drive, level, to, track))
            }
            (None, Track::Stepped(track, road)) => {
                *road = self;
                #[cfg(feature = "reference")]
                if self.solver == Solver::Reference {
                    return reference::advance(plan, stored, drive, level, to, track);
                }
                in_size_of!(plan, numeric::advance, plan, stored, drive, level, to, step_s, track)
            }
            _ => {
                *track = Track::none(self);
                self.advance(stored, drive, level, horizon_s, step_s, track)
            }
        }
    }

    /// A signal `t_s` after the start of a step of this shape.
    pub fn at(&self, track: &Stepped, signal: Signal, t_s: f64) -> f64 {
        match self.solver {
            #[cfg(feature = "reference")]
            Solver::Reference => reference::at(&self.plan, track, signal, t_s),
            Solver::Auto | Solver::Numeric => numeric::at(&self.plan, track, signal, t_s),
        }
    }

    /// A step of this shape, to be taken anew to any time within it.
    pub fn retaken<'a>(&'a self, track: &'a Stepped) -> Box<dyn Retaken + 'a> {
        match self.solver {
            #[cfg(feature = "reference")]
            Solver::Reference => Box::new(reference::Again { plan: &self.plan, track }),
            Solver::Auto | Solver::Numeric => numeric::retaken(&self.plan, track),
        }
    }

    /// Whether the rates of a step of this shape tell what is within it.
    pub fn tells_rates(&self) -> bool {
        match self.solver {
            #[cfg(feature = "reference")]
            Solver::Reference => false,
            Solver::Auto | Solver::Numeric => true,
        }
    }

    /// More than a signal comes to anywhere in a step of this shape, of `h_s`.
    pub fn most(&self, track: &Stepped, signal: Signal, h_s: f64) -> f64 {
        match self.solver {
            #[cfg(feature = "reference")]
            Solver::Reference => f64::INFINITY,
            Solver::Auto | Solver::Numeric => numeric::most(&self.plan, track, signal, h_s),
        }
    }

    /// Lets `ask` look at a signal along a step of this shape.
    pub fn along(&self, track: &Stepped, signal: Signal, ask: &mut numeric::Question<'_>) {
        match self.solver {
            #[cfg(feature = "reference")]
            Solver::Reference => ask(&|t| reference::at(&self.plan, track, signal, t)),
            Solver::Auto | Solver::Numeric => numeric::along(&self.plan, track, signal, ask),
        }
    }
}
