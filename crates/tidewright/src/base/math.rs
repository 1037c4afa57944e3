//! The transcendental functions of the model, from one portable source.
//!
//! The platform's own `exp` and `ln` differ in their last bits from one target
//! to the next; these do not, so a run gives the same bits everywhere. The
//! workspace's `clippy.toml` forbids the platform's.

/// eˣ.
#[must_use]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// eˣ − 1, without cancellation near 0.
#[must_use]
pub fn expm1(x: f64) -> f64 {
    libm::expm1(x)
}

/// Natural logarithm.
#[must_use]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// ln(1 + x), without cancellation near 0.
#[must_use]
pub fn ln_1p(x: f64) -> f64 {
    libm::log1p(x)
}

/// Logarithm to base 10.
#[must_use]
pub fn log10(x: f64) -> f64 {
    libm::log10(x)
}

/// Cube root.
#[must_use]
pub fn cbrt(x: f64) -> f64 {
    libm::cbrt(x)
}

/// xʸ.
#[must_use]
pub fn pow(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}

/// Sine of an angle in radians.
#[must_use]
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}

/// Cosine of an angle in radians.
#[must_use]
pub fn cos(x: f64) -> f64 {
    libm::cos(x)
}

/// Arc tangent of y/x in the quadrant of (x, y).
#[must_use]
pub fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

/// Hyperbolic tangent.
#[must_use]
pub fn tanh(x: f64) -> f64 {
    libm::tanh(x)
}

/// 1/k: a chain of products is far quicker than one of quotients.
pub(crate) const RECIPROCAL: [f64; 22] = {
    let mut table = [0.0; 22];
    let mut k = 1;
    while k < 22 {
        table[k] = 1.0 / k as f64;
        k += 1;
    }
    table
};

/// φ₁(λ, t) = (1 − e^(−λt)) / λ, and t where λ = 0: the response of a mode that
/// decays at rate λ ≥ 0 to a constant unit input.
///
/// A sealed circuit has λ = 0; the quotient is then the limit, not 0/0.
#[must_use]
pub fn phi1(lambda: f64, t: f64) -> f64 {
    let x = lambda * t;
    if x < f64::MIN_POSITIVE { t } else { -expm1(-x) / lambda }
}

/// φ₂(λ, t) = (t − φ₁(λ, t)) / λ, and t²/2 where λ = 0: the integral of φ₁.
#[must_use]
pub fn phi2(lambda: f64, t: f64) -> f64 {
    phi2_from(lambda, t, phi1(lambda, t))
}

/// φ₂ when φ₁(λ, t) is already known.
///
/// Below λt = 0.3 the difference t − φ₁ would lose digits, so the series
/// t²·Σ (−λt)ᵏ/(k+2)! takes over; 12 terms leave less than 1e-16.
#[must_use]
pub fn phi2_from(lambda: f64, t: f64, phi1: f64) -> f64 {
    let x = lambda * t;
    if x > 0.3 {
        return (t - phi1) / lambda;
    }
    if x < 1e-8 {
        return t * t * (0.5 - x * RECIPROCAL[6]);
    }
    let mut sum = 0.0;
    for k in (2..14).rev() {
        sum = (1.0 - x * sum) * RECIPROCAL[k];
    }
    t * t * sum
}

/// 1/k! for k from 0.
const INVERSE_FACTORIAL: [f64; 21] = {
    let mut table = [1.0; 21];
    let mut k = 1;
    while k < 21 {
        table[k] = table[k - 1] / k as f64;
        k += 1;
    }
    table
};

/// φ₁ … φ₅ at x ≥ 0 for a decaying mode: φₖ(x) = (1/(k−1)! − φₖ₋₁)/x with
/// φ₀ = e^(−x); φₖ(0) = 1/k!.
///
/// φ₁ is [`phi1`] and φ₂ is [`phi2`] at unit time. Upward recursion loses digits
/// near 0, so below x = 1 the last one is summed as a series and the others
/// follow downward, where nothing cancels.
#[must_use]
#[inline]
pub fn phis(x: f64) -> [f64; 5] {
    let mut phi = [0.0; 5];
    if x < 1.0 {
        // Σ (−x)ʲ/(j+5)!, in pairs and pairs of pairs: a chain four deep.
        let pair = |j: usize| INVERSE_FACTORIAL[j + 5] - x * INVERSE_FACTORIAL[j + 6];
        let (x2, x4) = (x * x, (x * x) * (x * x));
        let four = |j: usize| pair(j) + x2 * pair(j + 2);
        let eight = |j: usize| four(j) + x4 * four(j + 4);
        phi[4] = eight(0) + (x4 * x4) * eight(8);
        for k in (0..4).rev() {
            phi[k] = INVERSE_FACTORIAL[k + 1] - x * phi[k + 1];
        }
    } else {
        let part = 1.0 / x;
        phi[0] = -expm1(-x) * part;
        for k in 1..5 {
            phi[k] = (INVERSE_FACTORIAL[k] - phi[k - 1]) * part;
        }
    }
    phi
}

/// φ₁ … φ₅ at 2x from those at x: one step, then another like it, in which every
/// term is positive.
#[must_use]
#[inline]
pub fn phis_doubled(x: f64, phi: &[f64; 5]) -> [f64; 5] {
    let [a, b, c, d, e] = *phi;
    let decay = 1.0 - x * a;
    let (second, third) = (b + a, c + b + a / 2.0);
    let fourth = d + c + b / 2.0 + a / 6.0;
    let fifth = e + d + c / 2.0 + b / 6.0 + a / 24.0;
    [
        (decay * a + a) / 2.0,
        (decay * b + second) / 4.0,
        (decay * c + third) / 8.0,
        (decay * d + fourth) / 16.0,
        (decay * e + fifth) / 32.0,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_phis_obey_their_series_on_both_sides_of_the_seam() {
        for x in [0.0, 1e-9, 0.3, 0.999_999, 1.0, 1.5, 4.0] {
            let phi = phis(x);
            for k in 1..=5 {
                // Σ (−x)ʲ/(j+k)!, which 60 terms settle for x up to 4.
                let (mut term, mut sum) = (1.0, 0.0);
                for i in 1..=k {
                    term /= f64::from(i);
                }
                for j in 1..60 {
                    sum += term;
                    term *= -x / f64::from(j + k);
                }
                let error = (phi[k as usize - 1] / sum - 1.0).abs();
                assert!(error < 2e-14, "phi{k}({x}) is off by {error:e}");
                let doubled = phis_doubled(0.5 * x, &phis(0.5 * x));
                let error = (doubled[k as usize - 1] / sum - 1.0).abs();
                assert!(error < 2e-14, "phi{k}({x}) by doubling is off by {error:e}");
            }
        }
    }

    #[test]
    fn closed_form_doubled_phis_of_fast_modes_obey_the_recursion() {
        for x in [5.0, 40.0, 1e3, 1e6] {
            let (doubled, direct) = (phis_doubled(x, &phis(x)), phis(2.0 * x));
            for k in 0..5 {
                assert!((doubled[k] / direct[k] - 1.0).abs() < 1e-14, "phi{}({x})", k + 1);
            }
        }
    }

    #[test]
    fn closed_form_phi_functions_meet_their_limits_without_a_seam() {
        assert_eq!(phi1(0.0, 2.0), 2.0);
        assert_eq!(phi2(0.0, 2.0), 2.0);
        for lambda in [1e-300, 1e-12, 1e-3, 0.149_999, 0.150_001, 1.0, 50.0] {
            let t = 2.0;
            let x: f64 = lambda * t;
            // Reference by a long alternating series, summed where it converges fast.
            if x < 1.0 {
                let (mut p1, mut p2, mut term) = (0.0, 0.0, 1.0);
                for k in 1..40 {
                    p1 += term / f64::from(k);
                    p2 += term / f64::from(k) / f64::from(k + 1);
                    term *= -x / f64::from(k);
                }
                assert!((phi1(lambda, t) / (t * p1) - 1.0).abs() < 4e-16);
                assert!((phi2(lambda, t) / (t * t * p2) - 1.0).abs() < 2e-15);
            } else {
                assert!((phi1(lambda, t) - (1.0 - exp(-x)) / lambda).abs() < 1e-15);
            }
        }
    }
}
