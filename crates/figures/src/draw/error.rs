//! Why a figure file could not be drawn.

use tidewright::run::ProtocolError;
use tidewright::step::StepError;

use crate::paper::error::FigureError;

/// Why a figure file could not be drawn.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DrawFileError {
    /// The changed scenario cannot be run.
    #[error("the run cannot be made: {0}")]
    Protocol(#[from] ProtocolError),
    /// The run stops on its way.
    #[error("the run stops: {0}")]
    Step(#[from] StepError),
    /// The gas cannot be followed.
    #[error("the gas cannot be followed: {0}")]
    Gas(#[from] tidewright::exchange::GasError),
    /// A setup has no settled breath to measure.
    #[error("`{label}` has no settled breath: {source}")]
    Steady {
        /// Which of the runs.
        label: String,
        /// Why.
        source: tidewright::steady::SteadyError,
    },
    /// A breath that the figure asks for is not in the run.
    #[error("the run has no finished breath {breath} inside the figure: it has {count}")]
    NoBreath {
        /// The breath that was asked for.
        breath: u32,
        /// How many there are.
        count: usize,
    },
    /// Gas is asked for, and the scenario has none.
    #[error(
        "the figure asks for carbon dioxide or oxygen, and the scenario is without gas exchange: \
         write `gas: ()` in the scenario"
    )]
    NoGas,
    /// What a gauge shows is asked for, and the scenario has none.
    #[error(
        "the figure asks for what the gauge shows, and the scenario has no instruments: write \
         `instruments: (gauge: ())` in the scenario"
    )]
    NoInstruments,
    /// Instruments that cannot be.
    #[error("the instruments cannot be read: {0}")]
    Instruments(#[from] tidewright::instrument::InstrumentError),
    /// A breath without a plateau of carbon dioxide.
    #[error("breath {breath} breathes out no plateau of carbon dioxide to measure")]
    NoPlateau {
        /// Which breath.
        breath: u32,
    },
    /// A limb that does not hold a breath, for which the formula of the need is not made.
    #[error(
        "the limb holds {limb_ml} mL, less than the breath of {tidal_ml} mL: give the scenario \
         more `limb_ml`, or the panel less `tidal_volume_ml`"
    )]
    ShortLimb {
        /// Gas in the limb, mL.
        limb_ml: f64,
        /// The breath, mL.
        tidal_ml: f64,
    },
    /// A fresh gas flow at which carbon dioxide would rise without end.
    #[error(
        "`{label}` has no steady state at {ratio:.2} times the minute volume: carbon dioxide rises \
         beyond all measure; begin at a greater `from_ratio`"
    )]
    NoBalance {
        /// Which of the curves.
        label: String,
        /// The fresh gas flow over the minute volume.
        ratio: f64,
    },
    /// A squeeze with which even a tight circuit does not click.
    #[error(
        "`{label}` presses too little out: a tight circuit reaches {cycling_cmh2o} cmH2O with \
         {needed_ml:.3} mL; write more `squeezed_ml`"
    )]
    NoClick {
        /// Which of the curves.
        label: String,
        /// The pressure at which the ventilator clicks, cmH2O.
        cycling_cmh2o: f64,
        /// What must be pressed out at least, mL.
        needed_ml: f64,
    },
    /// The scenario's circuit cannot be drawn.
    #[error("the circuit cannot be drawn: {0}")]
    Circuit(String),
    /// A remark on a curve that is not there.
    #[error("there is no curve {curve} in panel {panel} to remark on: it has {count}")]
    NoCurve {
        /// The panel that was asked for, from 1.
        panel: u32,
        /// The curve that was asked for, from 1.
        curve: u32,
        /// How many curves that panel has.
        count: usize,
    },
    /// Curves are asked for, of a figure that has none.
    #[error("a circuit has no curves to build up or to run: draw it as it is")]
    NoCurves,
    /// A measure without a panel to stand in.
    #[error("a measure needs a panel with {needed}")]
    NoPanel {
        /// The signal that the panel must hold.
        needed: &'static str,
    },
    /// A handout's seed finds no patient near the scenario's at which the breaths
    /// change in the same way.
    #[error("no patient of seed {seed} changes its breaths as the scenario does: try another")]
    NoPatient {
        /// The seed.
        seed: u64,
    },
    /// The figure cannot be drawn.
    #[error(transparent)]
    Figure(#[from] FigureError),
}
