//! Exponentials and logarithms of lanes, by polynomials of our own.
//!
//! Coefficients: interpolation at Chebyshev points, worked out with 60 digits; the
//! error of each polynomial is stated, and the tests hold the functions to libm.

use super::lanes::{Lanes, Mask};

/// e^r = 1 + r + r²·P(r) for |r| ≤ ln 2 / 2, within 2e-17.
const EXP: [f64; 10] = [
    0.500_000_000_000_000_1,
    0.166_666_666_666_666_69,
    0.041_666_666_666_624_16,
    0.008_333_333_333_330_063,
    0.001_388_888_891_719_986_3,
    0.000_198_412_698_630_429_63,
    2.480_152_131_748_408_3e-5,
    2.755_726_847_655_369_5e-6,
    2.762_007_820_380_639_4e-7,
    2.510_037_761_960_637_2e-8,
];

/// artanh(s) = s + s³·B(s²) for s² ≤ 0.0312, within 8e-16 of B.
const ARTANH: [f64; 7] = [
    0.333_333_333_333_333_54,
    0.199_999_999_999_283_7,
    0.142_857_143_223_947_19,
    0.111_111_040_776_976_71,
    0.090_915_498_853_917_38,
    0.076_624_626_506_338_03,
    0.073_490_058_438_241_36,
];

/// 1/(k+2)! with alternating signs, for φ₂.
const PHI2: [f64; 16] = phi2_series();

const LOG2_E: f64 = std::f64::consts::LOG2_E;
/// ln 2 in two parts, the first with zeros at its end.
const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
/// 1.5·2⁵²: adding it leaves a whole number in the low bits.
const WHOLE: f64 = 6_755_399_441_055_744.0;
/// e^(−x) beyond this is below 1e-300 and counts as that.
const MOST: f64 = 690.0;

/// e^(−x) for x ≥ 0.
#[inline(always)]
pub(super) fn exp_neg<const N: usize>(x: Lanes<N>) -> Lanes<N> {
    let x = -x.below(Lanes::all(MOST)).choose(x, Lanes::all(MOST));
    let shifted = x * Lanes::all(LOG2_E) + Lanes::all(WHOLE);
    let k = shifted - Lanes::all(WHOLE);
    let r = x - k * Lanes::all(LN_2_HIGH) - k * Lanes::all(LN_2_LOW);
    let e = Lanes::all(1.0) + (r + r * r * r.polynomial(&EXP));
    // 2ᵏ by adding k to the exponent.
    e.zip(shifted, |e, shifted| f64::from_bits(e.to_bits().wrapping_add(shifted.to_bits() << 52)))
}

/// (φ₁(x), φ₂(x)) for x ≥ 0, with φ₁ = (1 − e^(−x))/x and φ₂ = (1 − φ₁)/x.
#[inline(always)]
pub(super) fn phis<const N: usize>(x: Lanes<N>) -> (Lanes<N>, Lanes<N>) {
    let one = Lanes::all(1.0);
    let small = x.below(Lanes::all(0.5));
    let mut near = (one, one);
    if small.any() {
        // A large x would overflow the series, and is not taken from it.
        let x = small.choose(x, Lanes::all(0.0));
        let phi2 = x.polynomial(&PHI2);
        near = (one - x * phi2, phi2);
        if !small.not().any() {
            return near;
        }
    }
    // Beyond 40, 1 − e^(−x) is 1.
    let gone = if x.below(Lanes::all(40.0)).any() { one - exp_neg(x) } else { one };
    let phi1 = gone / x;
    let phi2 = (one - phi1) / x;
    (small.choose(near.0, phi1), small.choose(near.1, phi2))
}

/// ℓ(y) = (−ln(1 − y) − y)/y² for 0 ≤ y < 1; ½ at 0. With y = λ·φ₁(λ, t) it gives
/// the time back, t = φ₁ + λ·φ₁²·ℓ, and φ₂(λ, t) = φ₁²·ℓ, both without a seam at
/// λ = 0.
#[inline(always)]
pub(super) fn ell<const N: usize>(y: Lanes<N>) -> Lanes<N> {
    let near = y.below(Lanes::all(0.3));
    let result = ell_near(near.choose(y, Lanes::all(0.0)));
    if near.not().any() { ell_far(y, near, result) } else { result }
}

/// ℓ = d·(1 + 2·y·d²·B(y²d²)) with d = 1/(2 − y): no terms of unlike sign for y ≥ 0.
#[inline(always)]
fn ell_near<const N: usize>(y: Lanes<N>) -> Lanes<N> {
    let one = Lanes::all(1.0);
    let d = one / (Lanes::all(2.0) - y);
    let s = y * d;
    d * (one + Lanes::all(2.0) * s * d * (s * s).polynomial(&ARTANH))
}

/// Where y is 0.3 or more: through the logarithm itself, 1 − y = m·2ᵏ.
#[cold]
#[inline(never)]
fn ell_far<const N: usize>(y: Lanes<N>, near: Mask<N>, result: Lanes<N>) -> Lanes<N> {
    const ROOT_HALF: u64 = 0x3FE6_A09E_667F_3BCD;
    let u = (Lanes::all(1.0) - y).map(|u| if u > 0.0 { u } else { f64::MIN_POSITIVE });
    let (mut k, mut m) = (u, u);
    for i in 0..N {
        let bits = u.0[i].to_bits();
        let exponent = (bits.wrapping_sub(ROOT_HALF) as i64) >> 52;
        k.0[i] = exponent as f64;
        m.0[i] = f64::from_bits(bits.wrapping_sub((exponent as u64) << 52));
    }
    let f = Lanes::all(1.0) - m;
    let ln_m = -(f + f * f * ell_near(f));
    let ln = k * Lanes::all(LN_2_HIGH) + (k * Lanes::all(LN_2_LOW) + ln_m);
    near.choose(result, (-ln - y) / (y * y))
}

const fn phi2_series() -> [f64; 16] {
    let (mut series, mut k, mut term) = ([0.0; 16], 0, 0.5);
    while k < 16 {
        series[k] = term;
        term /= -((k + 3) as f64);
        k += 1;
    }
    series
}

#[cfg(test)]
mod tests {
    use rand::RngExt;
    use tidewright::math;
    use tidewright::random::generator;

    use super::*;

    fn spread(low: f64, high: f64) -> impl Iterator<Item = f64> {
        let mut random = generator(3);
        (0..20_000).map(move |_| low * math::pow(high / low, random.random::<f64>()))
    }

    fn relative(value: f64, expected: f64) -> f64 {
        ((value - expected) / expected).abs()
    }

    #[test]
    fn twin_libm_agrees_on_the_exponential() {
        let worst = spread(1e-12, 650.0)
            .map(|x| relative(exp_neg(Lanes([x])).0[0], math::exp(-x)))
            .fold(0.0, f64::max);
        assert!(worst < 4e-16, "{worst:e}");
        assert_eq!(exp_neg(Lanes([0.0, 5000.0])).0[0], 1.0);
        assert!(exp_neg(Lanes([0.0, 5000.0])).0[1] < 1e-290);
    }

    #[test]
    fn twin_libm_agrees_on_the_phis() {
        for x in spread(1e-9, 600.0) {
            let (phi1, phi2) = phis(Lanes([x]));
            assert!(relative(phi1.0[0], math::phi1(1.0, x) / x) < 1e-15, "{x}");
            assert!(relative(phi2.0[0], math::phis(x)[1]) < 2e-15, "{x}");
        }
        assert_eq!(phis(Lanes([0.0])), (Lanes([1.0]), Lanes([0.5])));
    }

    #[test]
    fn twin_libm_agrees_on_time_from_the_slow_mode() {
        for x in spread(1e-7, 30.0) {
            // y from a time; the time from y.
            let y = -math::expm1(-x);
            let ell = ell(Lanes([y])).0[0];
            // y itself is rounded, and near 1 its last digit is worth e^x of time.
            let allowed = 4e-16 + 2.3e-16 * math::exp(x) / x;
            assert!(relative(y + y * y * ell, x) < allowed, "{x} {y}");
            if x > 1e-3 && x < 1.0 {
                assert!(relative(y * y * ell, x - y) < 3e-15 / x, "{x}");
            }
        }
        assert_eq!(ell(Lanes([0.0])), Lanes([0.5]));
    }

    #[test]
    fn lanes_give_the_bits_of_a_lane_alone() {
        let xs = [0.0, 1e-5, 0.2, 0.31, 0.5, 0.77, 0.99, 0.999_999, 39.9, 40.1, 800.0];
        let together = (exp_neg(Lanes(xs)), phis(Lanes(xs)), ell(Lanes(xs)));
        for (i, &x) in xs.iter().enumerate() {
            let (e, (f, g)) = (exp_neg(Lanes([x])), phis(Lanes([x])));
            assert_eq!(together.0.0[i].to_bits(), e.0[0].to_bits());
            assert_eq!(together.1.0.0[i].to_bits(), f.0[0].to_bits());
            assert_eq!(together.1.1.0[i].to_bits(), g.0[0].to_bits());
            if x < 1.0 {
                assert_eq!(together.2.0[i].to_bits(), ell(Lanes([x])).0[0].to_bits());
            }
        }
    }
}
