//! Bytes as a row of choices.

/// Choices taken from bytes one after the other; behind the last byte all are the first.
#[derive(Debug)]
pub struct Choices<'a> {
    bytes: &'a [u8],
}

impl<'a> Choices<'a> {
    /// The choices that these bytes make.
    #[must_use]
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { bytes }
    }

    /// Whether there are bytes left.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.bytes.is_empty()
    }

    /// The next byte.
    pub fn byte(&mut self) -> u8 {
        let Some((&first, rest)) = self.bytes.split_first() else { return 0 };
        self.bytes = rest;
        first
    }

    /// One of the numbers below `count`; 0 where there is none.
    pub fn below(&mut self, count: usize) -> usize {
        let wide = match count {
            0 | 1 => return 0,
            2..=256 => usize::from(self.byte()),
            _ => (0..3).fold(0, |wide, _| wide << 8 | usize::from(self.byte())),
        };
        wide % count
    }

    /// True once in so many times.
    pub fn once_in(&mut self, times: usize) -> bool {
        self.below(times) == times - 1
    }

    /// One of these.
    pub fn one<'b, T>(&mut self, of: &'b [T]) -> &'b T {
        &of[self.below(of.len())]
    }

    /// From 0 to 1.
    pub fn share(&mut self) -> f64 {
        let wide = (0..4).fold(0_u32, |wide, _| wide << 8 | u32::from(self.byte()));
        f64::from(wide) / f64::from(u32::MAX)
    }

    /// A number that is likely to be trouble within these bounds, or just beyond them.
    pub fn number(&mut self, min: f64, max: f64) -> f64 {
        let (low, high) = (min.max(-1e9), max.min(1e9));
        match self.below(16) {
            0 => min,
            1 => max,
            2 => low - 1.0,
            3 => high + 1.0,
            4 => 0.0,
            5 => 1.0,
            6 => low + (high - low) * 1e-9,
            7 => low + (high - low) * self.share() * 1e-3,
            8 => low + ((high - low) * self.share()).floor(),
            _ => low + (high - low) * self.share(),
        }
    }
}
