//! The state an animal is in, as far as it changes a typical value.

/// State of consciousness.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum State {
    /// Awake and at rest.
    Awake,
    /// Under general anaesthesia, intubated.
    #[default]
    Anaesthetised,
}

/// Body condition.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum BodyCondition {
    /// Lean to ideal.
    #[default]
    Ideal,
    /// Overweight: about a fifth above ideal.
    Overweight,
    /// Obese: far above ideal.
    Obese,
}

/// How the animal lies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Posture {
    /// On its breastbone, or standing.
    Sternal,
    /// On its side.
    #[default]
    Lateral,
    /// On its back.
    Dorsal,
}

/// All of these together; the default is an anaesthetised animal of ideal body
/// condition that lies on its side.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Condition {
    /// Awake or anaesthetised.
    pub state: State,
    /// How fat it is.
    pub body: BodyCondition,
    /// How it lies.
    pub posture: Posture,
}
