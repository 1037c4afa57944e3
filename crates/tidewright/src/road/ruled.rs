//! Which of decaying terms rule a slope, and how often it can pass zero.

/// Which of decaying terms rule a slope Σ rₖ·e^(−λₖt), added slowest first.
///
/// With Sₖ = r₀ + … + rₖ the slope is Σ Sₖ·(e^(−λₖt) − e^(−λₖ₊₁t)), in which no
/// bracket is below zero. So it keeps the sign that all Sₖ have, and it passes zero
/// no more often than they change theirs (Laguerre's rule of signs; from memory).
#[derive(Clone, Copy, Default)]
pub(crate) struct Ruled {
    sum: f64,
    sign: f64,
    turns: u32,
}

impl Ruled {
    /// The next faster term.
    #[inline]
    pub fn add(&mut self, slope: f64) {
        self.sum += slope;
        self.turns += u32::from(self.sum * self.sign < 0.0);
        if self.sum != 0.0 {
            self.sign = self.sum.signum();
        }
    }

    /// The slope turns no more often.
    pub fn turns(&self) -> u32 {
        self.turns
    }

    /// Whether the signal goes down before it goes up.
    pub fn falls_first(&self) -> bool {
        self.sign < 0.0
    }

    /// The slope at the start.
    pub fn pace(&self) -> f64 {
        self.sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::math::exp;

    /// Four terms of every sign and size: what the rule allows is never exceeded.
    #[test]
    fn closed_form_a_slope_passes_zero_no_more_often_than_ruled() {
        let (rates, sizes) = ([0.0, 0.7, 3.0, 40.0], [-3.0, -1.0, -0.25, 0.0, 0.25, 1.0, 3.0]);
        let (mut some, mut once) = (0, 0);
        for case in 0..sizes.len().pow(4) {
            let slopes: [f64; 4] =
                std::array::from_fn(|k| sizes[case / sizes.len().pow(k as u32) % sizes.len()]);
            let mut ruled = Ruled::default();
            slopes.iter().for_each(|&slope| ruled.add(slope));
            let slope = |t: f64| -> f64 {
                rates.iter().zip(slopes).map(|(rate, slope)| slope * exp(-rate * t)).sum()
            };
            let (mut passed, mut before) = (0, 0.0);
            for look in 1..2000 {
                let here = slope(1e-4 * exp(0.006 * f64::from(look)));
                if here.abs() < 1e-12 {
                    continue;
                }
                if before == 0.0 {
                    assert_eq!(here < 0.0, ruled.falls_first(), "{slopes:?}");
                }
                passed += u32::from(here * before < 0.0);
                before = here;
            }
            assert!(passed <= ruled.turns(), "{slopes:?}: {passed}, not {}", ruled.turns());
            some += u32::from(passed > 1);
            once += u32::from(passed == 1);
        }
        assert!(some > 50 && once > 500, "{some} {once}");
    }
}
