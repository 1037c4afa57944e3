//! Several numbers that go through the same arithmetic side by side.
//!
//! Plain arrays and plain loops, which the compiler turns into the target's wide
//! instructions. Only +, −, ×, ÷, √, comparisons and bit patterns occur, so every
//! lane gives the same bits as a lane alone, on every target.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// `N` numbers side by side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Lanes<const N: usize>(pub [f64; N]);

/// Which of the lanes: all bits set or none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Mask<const N: usize>([u64; N]);

impl<const N: usize> Lanes<N> {
    #[inline(always)]
    pub fn all(value: f64) -> Self {
        Self([value; N])
    }

    #[inline(always)]
    pub fn map(self, f: impl Fn(f64) -> f64) -> Self {
        let mut out = self;
        for x in &mut out.0 {
            *x = f(*x);
        }
        out
    }

    #[inline(always)]
    pub fn zip(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        let mut out = self;
        for (x, y) in out.0.iter_mut().zip(other.0) {
            *x = f(*x, y);
        }
        out
    }

    #[inline(always)]
    pub fn sqrt(self) -> Self {
        self.map(f64::sqrt)
    }

    #[inline(always)]
    pub fn max(self, other: Self) -> Self {
        self.zip(other, |x, y| if x > y { x } else { y })
    }

    #[inline(always)]
    pub fn below(self, other: Self) -> Mask<N> {
        let mut mask = [0; N];
        for (is, (x, y)) in mask.iter_mut().zip(self.0.into_iter().zip(other.0)) {
            *is = if x < y { u64::MAX } else { 0 };
        }
        Mask(mask)
    }

    /// Polynomial with the given coefficients, constant first.
    #[inline(always)]
    pub fn polynomial(self, coefficients: &[f64]) -> Self {
        let (last, rest) = coefficients.split_last().unwrap_or((&0.0, &[]));
        let mut sum = Self::all(*last);
        for &c in rest.iter().rev() {
            sum = sum * self + Self::all(c);
        }
        sum
    }
}

impl<const N: usize> Mask<N> {
    pub const NONE: Self = Self([0; N]);

    /// `yes` where the mask is set, `no` elsewhere.
    #[inline(always)]
    pub fn choose(self, yes: Lanes<N>, no: Lanes<N>) -> Lanes<N> {
        let mut out = no;
        for ((out, yes), is) in out.0.iter_mut().zip(yes.0).zip(self.0) {
            *out = if N == 1 {
                // A lane alone is best served by a branch.
                if is == 0 { *out } else { yes }
            } else {
                f64::from_bits((yes.to_bits() & is) | (out.to_bits() & !is))
            };
        }
        out
    }

    #[inline(always)]
    pub fn any(self) -> bool {
        self.0.iter().fold(0, |any, is| any | is) != 0
    }

    #[inline(always)]
    pub fn lane(self, lane: usize) -> bool {
        self.0[lane] != 0
    }

    #[inline(always)]
    pub fn lanes(self) -> [bool; N] {
        self.0.map(|is| is != 0)
    }

    #[inline(always)]
    pub fn and(self, other: Self) -> Self {
        self.zip(other, |x, y| x & y)
    }

    #[inline(always)]
    pub fn or(self, other: Self) -> Self {
        self.zip(other, |x, y| x | y)
    }

    #[inline(always)]
    pub fn not(self) -> Self {
        self.zip(self, |x, _| !x)
    }

    #[inline(always)]
    fn zip(self, other: Self, f: impl Fn(u64, u64) -> u64) -> Self {
        let mut out = self;
        for (x, y) in out.0.iter_mut().zip(other.0) {
            *x = f(*x, y);
        }
        out
    }
}

macro_rules! arithmetic {
    ($($trait:ident $method:ident $op:tt),+) => {$(
        impl<const N: usize> $trait for Lanes<N> {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                self.zip(other, |x, y| x $op y)
            }
        }
    )+};
}
arithmetic!(Add add +, Sub sub -, Mul mul *, Div div /);

impl<const N: usize> Neg for Lanes<N> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        self.map(|x| -x)
    }
}
