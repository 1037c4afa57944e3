//! Where an axis carries numbers: at steps of 1, 2 or 5 times a power of ten.

/// The ticks of one axis.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ticks {
    /// Values, rising.
    pub at: Vec<f64>,
    decimals: usize,
}

/// Powers of ten are taken from here, since computing them is not exact.
const POWERS: [f64; 13] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12];

impl Ticks {
    /// The finest ticks of which at most `most` lie in `low..=high`.
    pub fn new(low: f64, high: f64, most: usize) -> Self {
        for exponent in -12_i32..=12 {
            let power = POWERS[exponent.unsigned_abs() as usize];
            // A step is kept as a fraction: 0.2 is 2 / 10, so its multiples are
            // as near to the true decimal number as an f64 can be.
            let (up, down) = if exponent < 0 { (1.0, power) } else { (power, 1.0) };
            for unit in [1.0, 2.0, 5.0] {
                let first = (low * down / (unit * up)).ceil();
                let last = (high * down / (unit * up)).floor();
                let count = last - first + 1.0;
                if count <= most as f64 {
                    let at = (0..count.max(0.0) as usize)
                        .map(|i| (first + i as f64) * unit * up / down)
                        .collect();
                    let decimals = (-exponent).max(0) as usize;
                    return Self { at, decimals };
                }
            }
        }
        Self { at: Vec::new(), decimals: 0 }
    }

    /// A value as the axis writes it, with a true minus sign.
    pub fn label(&self, value: f64) -> String {
        match value {
            0.0 => "0".to_owned(),
            _ => signed(format!("{:.*}", self.decimals, value)),
        }
    }
}

/// A number to three figures without idle zeros, as prose and labels write it.
pub(crate) fn number(value: f64) -> String {
    let decimals = match value.abs() {
        size if size >= 100.0 => 0,
        size if size >= 10.0 => 1,
        size if size >= 1.0 => 2,
        _ => 3,
    };
    let text = format!("{value:.decimals$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    };
    signed(text)
}

fn signed(text: String) -> String {
    match text.strip_prefix('-') {
        Some(size) if size.bytes().all(|b| matches!(b, b'0' | b'.')) => size.to_owned(),
        Some(size) => format!("\u{2212}{size}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(low: f64, high: f64, most: usize) -> Vec<String> {
        let ticks = Ticks::new(low, high, most);
        ticks.at.iter().map(|&value| ticks.label(value)).collect()
    }

    #[test]
    fn ticks_step_by_one_two_or_five() {
        assert_eq!(labels(0.0, 11.0, 6), ["0", "2", "4", "6", "8", "10"]);
        assert_eq!(labels(-0.13, 0.31, 5), ["\u{2212}0.1", "0", "0.1", "0.2", "0.3"]);
        assert_eq!(labels(0.0, 61.0, 5), ["0", "20", "40", "60"]);
        assert_eq!(labels(0.0, 7300.0, 4), ["0", "2000", "4000", "6000"]);
    }

    #[test]
    fn multiples_of_a_decimal_step_are_the_nearest_numbers() {
        assert_eq!(Ticks::new(0.0, 0.7, 8).at[3], 0.3);
    }

    #[test]
    fn numbers_keep_three_figures_and_no_idle_zero() {
        let written = [0.0, -0.0, 10.0, 1.4, 33.333, 1234.5, 0.08, -4.25, 100.0].map(number);
        let expected = ["0", "0", "10", "1.4", "33.3", "1234", "0.08", "\u{2212}4.25", "100"];
        assert_eq!(written, expected);
    }
}
