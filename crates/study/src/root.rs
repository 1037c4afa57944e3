//! The zero of a rising function.

use tidewright::bracket::Bracket;

/// Steps that narrow the bracket, at most.
const MOST_STEPS: u32 = 80;

/// Where a rising function is zero, or `None` if it is below zero up to `most`.
///
/// By [`Bracket`], so that a straight line is solved in two looks.
pub(crate) fn rising_root<E>(
    mut f: impl FnMut(f64) -> Result<f64, E>,
    guess: f64,
    most: f64,
    tolerance: f64,
) -> Result<Option<f64>, E> {
    let (mut low, mut at_low) = (0.0, f(0.0)?);
    if at_low >= 0.0 {
        return Ok(Some(low));
    }
    let mut high = guess.min(most);
    let mut at_high = f(high)?;
    while at_high < 0.0 {
        if high >= most {
            return Ok(None);
        }
        (low, at_low) = (high, at_high);
        high = (2.0 * high).min(most);
        at_high = f(high)?;
    }
    let mut best = if -at_low < at_high { (low, -at_low) } else { (high, at_high) };
    let mut bracket = Bracket::new((low, at_low), (high, at_high));
    for _ in 0..MOST_STEPS {
        if best.1 <= tolerance {
            break;
        }
        let Bracket { low, high, .. } = bracket;
        let mut x = bracket.guess();
        if !(x > low && x < high) {
            x = 0.5 * (low + high);
        }
        if x <= low || x >= high {
            break;
        }
        let y = f(x)?;
        if y.abs() < best.1 {
            best = (x, y.abs());
        }
        if y < 0.0 {
            bracket.raise_low(x, y);
        } else {
            bracket.lower_high(x, y);
        }
    }
    Ok(Some(best.0))
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use super::*;

    fn root(f: impl Fn(f64) -> f64, guess: f64, most: f64) -> (Option<f64>, u32) {
        let mut looks = 0;
        let found = rising_root(
            |x| {
                looks += 1;
                Ok::<_, Infallible>(f(x))
            },
            guess,
            most,
            1e-14,
        );
        (found.unwrap_or_default(), looks)
    }

    #[test]
    fn closed_form_a_straight_line_takes_four_looks() {
        let (found, looks) = root(|x| 3.0 * x - 2.0, 1.0, 10.0);
        assert!((found.unwrap() - 2.0 / 3.0).abs() < 1e-15);
        assert!(looks <= 4, "{looks}");
    }

    #[test]
    fn a_curve_is_solved_to_rounding_and_a_low_one_has_no_root() {
        let (found, looks) = root(|x| x * x * x - 2.0, 0.1, 10.0);
        assert!((found.unwrap() - tidewright::math::cbrt(2.0)).abs() < 1e-14);
        assert!(looks < 20, "{looks}");
        assert_eq!(root(|x| x / (1.0 + x) - 2.0, 1.0, 1e6).0, None);
        assert_eq!(root(|x| x + 1.0, 1.0, 10.0).0, Some(0.0));
    }
}
