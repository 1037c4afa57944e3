//! The leak test by a squeeze in a figure file.

use tidewright_scenario::block;
use tidewright_scenario::read::{list, number, text};

block! {
    /// The smallest leak that a squeeze of the thumb shows, over the time that the thumb
    /// takes: outlet and port are shut, and with any larger leak the pressure does not
    /// reach the scenario's cycling pressure. Leaks are flows at that pressure.
    pub struct SqueezeTest {
        /// The quickest thumb.
        from_s: f64 = number(0.02, 60.0),
        /// The slowest.
        to_s: f64 = number(0.02, 60.0),
        /// A curve for each of these.
        curves: Vec<SqueezeCurve> = list(1, 4),
    }
}

block! {
    /// What is pressed out of what.
    pub struct SqueezeCurve {
        /// What it is, in a few words.
        label: String = text(40),
        /// Gas between outlet valve, port and sensor.
        sealed_ml: f64 = number(0.1, 10_000.0),
        /// What the thumb presses out.
        squeezed_ml: f64 = number(0.001, 1000.0),
        /// What walls and hoses take up beside the gas.
        walls_ml_cmh2o: f64 = number(0.0, 100.0).or(0.0),
    }
}
