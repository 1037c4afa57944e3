//! A step of the numeric road, read at any time within it from what it knows: where a
//! quantity began and ended, and its rates of change on the way. That is a small part
//! of the work of taking the step anew to that time, and enough where a signal is
//! followed and no event depends on it.

use super::track::Part;

/// A quantity along a step: a quartic whose slope is the cubic through the four rates,
/// bent smoothly to where the step ends.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Within {
    h: f64,
    first: f64,
    /// Of the share of the step that is over, its powers from one to four.
    terms: [f64; 4],
    /// How far the quartic had to be bent.
    pub bent: f64,
}

impl Within {
    /// A quantity over a step of `h` s.
    pub fn of(part: &Part, h: f64) -> Self {
        // Divided differences at 0, 0.5, 0.9 and 1: the looks of a step.
        let [a, b, c, d] = part.pace;
        let [ab, bc, cd] = [(b - a) / 0.5, (c - b) / 0.4, (d - c) / 0.1];
        let [abc, bcd] = [(bc - ab) / 0.9, (cd - bc) / 0.5];
        let cubic = bcd - abc;
        let mut terms = [
            h * a,
            h * (ab - 0.5 * abc + 0.45 * cubic) / 2.0,
            h * (abc - 1.4 * cubic) / 3.0,
            h * cubic / 4.0,
        ];
        let bent = part.last - part.first - terms.iter().sum::<f64>();
        // 3u² − 2u³ rises from 0 to 1 and leaves both ends their slopes.
        terms[1] += 3.0 * bent;
        terms[2] -= 2.0 * bent;
        Self { h, first: part.first, terms, bent }
    }

    /// Its value `t` s after the start of the step.
    #[inline]
    pub fn at(&self, t: f64) -> f64 {
        let u = t / self.h;
        let [a, b, c, d] = self.terms;
        self.first + u * (a + u * (b + u * (c + u * d)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::road::track::LOOKS;

    #[test]
    fn closed_form_a_quartic_is_read_as_itself() {
        let value = |t: f64| 3.0 + t * (2.0 - t * (5.0 + t * (1.5 - 0.25 * t)));
        let pace = |t: f64| 2.0 - t * (10.0 + t * (4.5 - t));
        let h = 0.8;
        let pace = LOOKS.map(|share| pace(share * h));
        let within =
            Within::of(&Part { first: value(0.0), last: value(h), integral: 0.0, pace }, h);
        assert!(within.bent.abs() < 1e-14, "{}", within.bent);
        for t in [0.0, 0.1, 0.33, 0.5, 0.72, 0.8] {
            assert!((within.at(t) - value(t)).abs() < 1e-14, "{t}");
        }
    }

    /// What its rates do not tell, it says; and it ends where the step does.
    #[test]
    fn closed_form_what_dies_within_the_step_bends_it() {
        let (h, fast) = (1.0, 40.0);
        let value = |t: f64| crate::base::math::exp(-fast * t);
        let pace = LOOKS.map(|share| -fast * value(share * h));
        let within = Within::of(&Part { first: 1.0, last: value(h), integral: 0.0, pace }, h);
        assert!(within.bent.abs() > 1.0);
        assert!((within.at(h) - value(h)).abs() < 1e-12 && within.at(0.0) == 1.0);
    }
}
