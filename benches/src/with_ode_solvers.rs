//! The cat by `ode_solvers`: Dormand-Prince 5(4). It has no event location, so an
//! inspiration is stopped at the first step beyond the pressure and the event is
//! found by integrating anew to a time that Newton's method corrects.

use ode_solvers::{Dopri5, OutputType, System, Vector2};

use crate::cat::{CYCLING, DURATION_S, EXPIRATION_S, PEEP, rates};

struct Plant {
    curved: bool,
    open: bool,
}

impl System<f64, Vector2<f64>> for Plant {
    fn system(&self, _t: f64, y: &Vector2<f64>, dy: &mut Vector2<f64>) {
        let [circuit, lung] = rates(self.curved, self.open, [y[0], y[1]]);
        (dy[0], dy[1]) = (circuit, lung);
    }

    fn solout(&mut self, _t: f64, y: &Vector2<f64>, _dy: &Vector2<f64>) -> bool {
        !self.open && y[0] >= CYCLING
    }
}

/// Time and state at each step; stops early once an inspiration has its pressure.
fn integrate(
    plant: Plant,
    y: Vector2<f64>,
    t: f64,
    tolerance: f64,
) -> (Vec<f64>, Vec<Vector2<f64>>) {
    let mut solver = Dopri5::from_param(
        plant,
        0.0,
        t,
        t,
        y,
        tolerance,
        tolerance,
        0.9,
        0.04,
        0.2,
        10.0,
        t,
        0.0,
        u32::MAX,
        u32::MAX,
        OutputType::Sparse,
    );
    solver.integrate().expect("an integration that succeeds");
    (solver.x_out().clone(), solver.y_out().clone())
}

/// Inspiratory times of the breaths of ten minutes, s.
///
/// # Panics
/// If an integration fails, which would make the measurement void.
#[must_use]
pub fn inspiratory_times(curved: bool, tolerance: f64) -> Vec<f64> {
    let mut y = Vector2::new(PEEP, PEEP);
    let (mut now, mut times) = (0.0, Vec::new());
    loop {
        let shut = || Plant { curved, open: false };
        let (t, states) = integrate(shut(), y, 5.0, tolerance);
        let last = t.len() - 1;
        // From the last step below the pressure on, to the pressure itself.
        let (from, base) = (states[last - 1], t[last - 1]);
        let mut left = t[last] - base;
        let mut at = states[last];
        for _ in 0..20 {
            let pace = rates(curved, false, [at[0], at[1]])[0];
            let correction = (at[0] - CYCLING) / pace;
            left -= correction;
            let (_, states) = integrate(Plant { curved, open: false }, from, left, tolerance);
            at = *states.last().expect("a last state");
            // Closer than its own errors there is nothing to gain.
            if correction.abs() < (1e-3 * tolerance).max(1e-14) {
                break;
            }
        }
        let inspiration = base + left;
        let (_, states) = integrate(Plant { curved, open: true }, at, EXPIRATION_S, tolerance);
        y = *states.last().expect("a last state");
        now += inspiration + EXPIRATION_S;
        if now > DURATION_S {
            return times;
        }
        times.push(inspiration);
    }
}
