//! Quantiles of any number of values in bounded memory.

use std::collections::BTreeMap;

/// Counts values by their sign, exponent and first ten binary digits: buckets as wide
/// as a thousandth of what they hold. A quantile from them is within 0.05 % of a
/// value of that rank; counts add up the same in any order.
///
/// Values nearer to 0 than [`ZERO`] count as 0.
#[derive(Clone, Default, PartialEq)]
pub(super) struct Counts {
    /// Dense pages of neighbouring buckets.
    pages: BTreeMap<i32, Box<[u64; PAGE]>>,
}

/// Below this a value is rounding.
pub(super) const ZERO: f64 = 1e-9;
const PAGE: usize = 1024;
/// Digits of a mantissa that make no difference.
const DROPPED: u32 = 42;

impl std::fmt::Debug for Counts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Counts in {} pages", self.pages.len())
    }
}

impl Counts {
    pub fn add(&mut self, value: f64) {
        let bucket = bucket(value);
        let page = self.pages.entry(bucket >> 10).or_insert_with(|| Box::new([0; PAGE]));
        page[(bucket & 1023) as usize] += 1;
    }

    /// Counts in another's values.
    pub fn append(&mut self, other: &Self) {
        for (&page, counts) in &other.pages {
            let into = self.pages.entry(page).or_insert_with(|| Box::new([0; PAGE]));
            into.iter_mut().zip(counts.iter()).for_each(|(into, count)| *into += count);
        }
    }

    /// The value of the rank ⌈q·n⌉ of `n` values, to within half a bucket.
    pub fn quantile(&self, q: f64, n: u64) -> Option<f64> {
        let rank = ((q * n as f64).ceil() as u64).clamp(1, n.max(1));
        let mut below = 0;
        for (&page, counts) in &self.pages {
            for (index, &count) in counts.iter().enumerate() {
                below += count;
                if below >= rank {
                    return Some(middle((page << 10) + index as i32));
                }
            }
        }
        None
    }
}

/// Buckets in the order of their values; 0 for zero.
fn bucket(value: f64) -> i32 {
    if value.abs() < ZERO {
        return 0;
    }
    let size = (value.abs().to_bits() >> DROPPED) as i32;
    if value < 0.0 { -size } else { size }
}

fn middle(bucket: i32) -> f64 {
    if bucket == 0 {
        return 0.0;
    }
    let bits = u64::from(bucket.unsigned_abs()) << DROPPED;
    let size = f64::from_bits(bits | 1 << (DROPPED - 1));
    if bucket < 0 { -size } else { size }
}

#[cfg(test)]
mod tests {
    use rand::RngExt;
    use rand_pcg::Pcg64;
    use tidewright::random::{generator, standard_normal};

    use super::*;

    #[test]
    fn twin_sorting_gives_the_same_quantiles_within_the_bound() {
        let mut random = generator(8);
        let kinds: [fn(&mut Pcg64) -> f64; 3] = [
            |random| tidewright::math::exp(2.0 * standard_normal(random)),
            |random| standard_normal(random) * 3.0 - 1.0,
            |random| if random.random_bool(0.5) { 0.0 } else { 1e-12 },
        ];
        for kind in kinds {
            let mut values: Vec<f64> = (0..10_007).map(|_| kind(&mut random)).collect();
            let mut counts = Counts::default();
            values.iter().for_each(|&value| counts.add(value));
            values.sort_by(f64::total_cmp);
            for q in [0.0, 0.01, 0.05, 0.25, 0.5, 0.9, 0.999, 1.0] {
                let rank = ((q * 10_007.0_f64).ceil() as usize).clamp(1, 10_007);
                let exact = values[rank - 1];
                let found = counts.quantile(q, 10_007).unwrap();
                assert!(
                    (found - exact).abs() <= 0.0005 * exact.abs() + ZERO,
                    "{q}: {found} {exact}"
                );
            }
        }
    }
}
