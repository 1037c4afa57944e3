//! A drawing of the circuit in a figure file.

use tidewright_scenario::read::any;
use tidewright_scenario::{block, choice};

block! {
    /// The circuit of a scenario as a drawing: its parts in a line from the patient to the
    /// room, the gas in each as a square to scale, the ways by which gas flows. For a
    /// scenario with an `assembly`, or one without `circuit`, whose circuit is the ready-made
    /// one.
    pub struct CircuitDrawing {
        /// For which part of a breath the arrows stand.
        phase: DrawnPhase = any().or_word("Expiration"),
        /// Whether what is open, cracked or only pushed on is named.
        marks: bool = any().or_word("true"),
    }
}

choice! {
    /// The part of a breath that arrows stand for.
    #[derive(Copy, Eq)]
    pub enum DrawnPhase {
        /// The valve is shut.
        Inspiration,
        /// The valve is open.
        Expiration,
        /// The valve is open, and the patient breathes by itself.
        Standby,
    }
}
