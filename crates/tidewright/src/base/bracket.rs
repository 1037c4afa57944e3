//! Two ends between which a function is zero, drawn together.

/// False position that halves the weight of a stale end (Illinois): the zero stays between
/// the ends, and a straight line is solved by one guess.
///
/// ```
/// use tidewright::bracket::Bracket;
/// let f = |x: f64| x * x - 2.0;
/// let mut bracket = Bracket::new((1.0, f(1.0)), (2.0, f(2.0)));
/// while bracket.high - bracket.low > 0.0 {
///     let x = bracket.guess();
///     match f(x) {
///         _ if x <= bracket.low || x >= bracket.high => break,
///         value if value < 0.0 => bracket.raise_low(x, value),
///         value => bracket.lower_high(x, value),
///     }
/// }
/// assert!((bracket.guess() - 1.414_213_562_373_095).abs() < 1e-14);
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Bracket {
    /// The end below the zero.
    pub low: f64,
    /// The end above it.
    pub high: f64,
    at_low: f64,
    at_high: f64,
    replaced: Option<End>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum End {
    Low,
    High,
}

impl Bracket {
    /// Between two ends, each with the value there.
    #[must_use]
    pub fn new((low, at_low): (f64, f64), (high, at_high): (f64, f64)) -> Self {
        Self { low, high, at_low, at_high, replaced: None }
    }

    /// Where the chord is zero.
    #[must_use]
    pub fn guess(&self) -> f64 {
        let Self { low, high, at_low, at_high, .. } = *self;
        high - at_high * (high - low) / (at_high - at_low)
    }

    /// The zero is above a look with this value.
    pub fn raise_low(&mut self, x: f64, value: f64) {
        (self.low, self.at_low) = (x, value);
        self.at_high *= if self.replaced == Some(End::Low) { 0.5 } else { 1.0 };
        self.replaced = Some(End::Low);
    }

    /// The zero is below a look with this value.
    pub fn lower_high(&mut self, x: f64, value: f64) {
        (self.high, self.at_high) = (x, value);
        self.at_low *= if self.replaced == Some(End::High) { 0.5 } else { 1.0 };
        self.replaced = Some(End::High);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_a_line_is_solved_at_once_and_a_bend_whose_end_stays_soon() {
        assert_eq!(Bracket::new((1.0, -2.0), (4.0, 1.0)).guess(), 3.0);
        // x⁵ − 2 bends so much that plain false position would hardly move its high end.
        let f = |x: f64| x * x * x * x * x - 2.0;
        let mut bracket = Bracket::new((0.0, f(0.0)), (3.0, f(3.0)));
        for _ in 0..30 {
            let x = bracket.guess();
            if f(x) < 0.0 {
                bracket.raise_low(x, f(x));
            } else {
                bracket.lower_high(x, f(x));
            }
        }
        assert!((bracket.guess() - 1.148_698_354_997_035).abs() < 1e-12);
    }
}
