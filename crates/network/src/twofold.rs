//! Numbers of twice the digits: an unevaluated sum of two doubles (Dekker, Numer. Math. 18, 1971; Knuth, TAOCP 2, 4.2.2).
//!
//! Without fused multiply-add, which some processors lack: the same bits everywhere. Limits: magnitudes between 1e-280 and
//! 1e280; about 31 digits, the last few of them not sure.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// See the module.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Twofold {
    pub(crate) high: f64,
    pub(crate) low: f64,
}

/// 2²⁷ + 1: halves a double's digits.
const SPLITTER: f64 = 134_217_729.0;
/// A number this large cannot be split without overflow.
const LARGE: f64 = 1e290;

/// `a + b` and what rounding took from it.
fn sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    let other = s - a;
    (s, (a - (s - other)) + (b - other))
}

/// As [`sum`] where `a` is the larger one.
fn quick_sum(a: f64, b: f64) -> Twofold {
    let high = a + b;
    Twofold {
        high,
        low: if high.is_finite() { b - (high - a) } else { 0.0 },
    }
}

fn split(a: f64) -> (f64, f64) {
    let large = SPLITTER * a;
    let high = large - (large - a);
    (high, a - high)
}

/// `a · b` and what rounding took from it.
fn product(a: f64, b: f64) -> (f64, f64) {
    let p = a * b;
    if !(p.abs() < LARGE && a.abs() < LARGE && b.abs() < LARGE) {
        return (p, 0.0);
    }
    let ((a1, a2), (b1, b2)) = (split(a), split(b));
    (p, ((a1 * b1 - p) + a1 * b2 + a2 * b1) + a2 * b2)
}

impl From<f64> for Twofold {
    fn from(high: f64) -> Self {
        Self { high, low: 0.0 }
    }
}

impl Twofold {
    /// Rounded to a double.
    pub(crate) fn value(self) -> f64 {
        self.high + self.low
    }
}

impl Add for Twofold {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        let (high, low) = sum(self.high, other.high);
        let (middle, last) = sum(self.low, other.low);
        let first = quick_sum(high, low + middle);
        quick_sum(first.high, first.low + last)
    }
}

impl Neg for Twofold {
    type Output = Self;
    fn neg(self) -> Self {
        Self {
            high: -self.high,
            low: -self.low,
        }
    }
}

impl Sub for Twofold {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Mul for Twofold {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let (high, low) = product(self.high, other.high);
        quick_sum(high, low + (self.high * other.low + self.low * other.high))
    }
}

impl Div for Twofold {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let first = self.high / other.high;
        if !first.is_finite() || first == 0.0 {
            return first.into();
        }
        let left = self - other * first.into();
        let second = left.high / other.high;
        let left = left - other * second.into();
        quick_sum(first, second) + (left.high / other.high).into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use num_bigint::BigInt;
    use num_rational::BigRational;
    use num_traits::Signed;
    use proptest::prelude::*;

    fn exact(x: Twofold) -> BigRational {
        let part = |x: f64| BigRational::from_float(x).unwrap();
        part(x.high) + part(x.low)
    }

    fn near(x: Twofold, right: &BigRational, scale: &BigRational) -> bool {
        let digits = BigRational::new(BigInt::from(1), BigInt::from(10).pow(30));
        (exact(x) - right).abs() <= scale.abs() * digits
    }

    proptest! {
        #[test]
        fn thirty_digits_agree_with_exact_rationals(
            a in -1e9_f64..1e9, b in -1e9_f64..1e9, c in 1e-9_f64..1.0, d in -1.0_f64..1.0,
        ) {
            let x = Twofold::from(a) + Twofold::from(c * 1e-12);
            let y = Twofold::from(b) + Twofold::from(d * 1e-9);
            let (ex, ey) = (exact(x), exact(y));
            let size = ex.abs() + ey.abs();
            prop_assert!(near(x + y, &(&ex + &ey), &size));
            prop_assert!(near(x - y, &(&ex - &ey), &size));
            prop_assert!(near(x * y, &(&ex * &ey), &(&ex * &ey)));
            if b != 0.0 {
                prop_assert!(near(x / y, &(&ex / &ey), &(&ex / &ey)));
            }
        }
    }
}
