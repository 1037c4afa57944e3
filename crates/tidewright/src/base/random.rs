//! Seeded chance: the same seed gives the same bits on every target.

use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64;

use crate::base::math;

/// The generator for a seed.
#[must_use]
pub fn generator(seed: u64) -> Pcg64 {
    Pcg64::seed_from_u64(seed)
}

/// A draw from the normal distribution of mean 0 and standard deviation 1, by
/// Box and Muller: √(−2·ln u)·cos 2πv, u and v uniform.
///
/// The ready-made sampler of `rand_distr` takes its logarithm from the platform
/// as soon as any crate of the build turns on `num-traits/std`; this one takes
/// it from [`crate::math`].
pub fn standard_normal(generator: &mut impl Rng) -> f64 {
    let u = 1.0 - generator.random::<f64>(); // (0, 1]: the logarithm is finite
    let v = generator.random::<f64>();
    (-2.0 * math::ln(u)).sqrt() * math::cos(std::f64::consts::TAU * v)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn regress_the_first_draws_of_seed_1_are_the_same_everywhere() {
        let mut generator = generator(1);
        let bits: Vec<u64> = (0..3).map(|_| standard_normal(&mut generator).to_bits()).collect();
        assert_eq!(
            bits,
            [4_611_248_062_833_174_990, 4_602_480_476_653_273_146, 13_835_215_942_838_573_000]
        );
    }

    #[test]
    fn closed_form_moments_of_the_normal_draws() {
        let mut generator = generator(42);
        let n = 100_000;
        let draws: Vec<f64> = (0..n).map(|_| standard_normal(&mut generator)).collect();
        let moment = |k: i32| {
            draws.iter().map(|z| (0..k).fold(1.0, |product, _| product * z)).sum::<f64>()
                / f64::from(n)
        };
        // Moments 0, 1, 0, 3; standard errors are √(1, 2, 15, 96)/√n.
        assert!(moment(1).abs() < 0.013);
        assert!((moment(2) - 1.0).abs() < 0.018);
        assert!(moment(3).abs() < 0.05);
        assert!((moment(4) - 3.0).abs() < 0.13);
    }
}
