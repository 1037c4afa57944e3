//! The roads from a moment to the next: exact where the network is linear,
//! numeric where it is not, and a reference road that shares no formula with
//! either.

/// Calls a function that is generic over the most nodes N and paths P with the
/// smallest sizes that hold the plan: vectors and matrices are then no longer
/// than they need be, and the answer is the same in every size.
macro_rules! in_size_of {
    ($plan:expr, $function:path, $($argument:expr),*) => {{
        use $function as function;
        match ($plan.network.nodes.len(), $plan.network.paths.len()) {
            (..=2, ..=4) => function::<2, 4>($($argument),*),
            (..=3, ..=4) => function::<3, 4>($($argument),*),
            (..=6, ..=8) => function::<6, 8>($($argument),*),
            _ => function::<{ $crate::plant::network::MAX_NODES }, { $crate::plant::network::MAX_PATHS }>(
                $($argument),*
            ),
        }
    }};
}

pub(crate) mod curve;
pub(crate) mod driven;
pub(crate) mod exact;
pub(crate) mod gas;
pub(crate) mod modes;
pub(crate) mod numeric;
pub(crate) mod readout;
#[cfg(feature = "reference")]
pub(crate) mod reference;
pub(crate) mod rosenbrock;
pub(crate) mod ruled;
pub(crate) mod shape;
pub(crate) mod track;
pub(crate) mod wave;
pub(crate) mod within;

/// Which road a machine takes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Solver {
    /// Exact where the network is linear in the phase, numeric elsewhere.
    #[default]
    Auto,
    /// Numeric everywhere: an exponential Rosenbrock method of order five.
    Numeric,
    /// A general-purpose Runge-Kutta method (Dormand and Prince) at tight tolerance, with
    /// the feature `reference`: slow, and independent of the two other roads but for the
    /// right-hand side that it shares with the numeric one.
    #[cfg(feature = "reference")]
    Reference,
}
