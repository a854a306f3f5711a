//! Small dense systems with row pivoting, as many unknowns as ports; in doubles or in twofold digits.

use crate::twofold::Twofold;
use std::ops::{Add, Div, Mul, Sub};

/// What a system is solved in.
pub(crate) trait Digits:
    Copy + Default + From<f64> + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Div<Output = Self>
{
    /// Rounded to a double.
    fn rounded(self) -> f64;

    /// As many digits of this as there is room for.
    fn of(value: Twofold) -> Self;
}

impl Digits for f64 {
    fn rounded(self) -> f64 {
        self
    }

    fn of(value: Twofold) -> Self {
        value.value()
    }
}

impl Digits for Twofold {
    fn rounded(self) -> f64 {
        self.value()
    }

    fn of(value: Twofold) -> Self {
        value
    }
}

/// A factored matrix, `n × n` row-major. One of 0 × 0 solves nothing.
#[derive(Clone, Debug, Default)]
pub(crate) struct Small<D> {
    n: usize,
    entries: Vec<D>,
    /// Row that step `i` swapped with.
    swaps: Vec<u32>,
    /// Largest entry of each row before it was factored.
    sizes: Vec<f64>,
}

impl<D: Digits> Small<D> {
    /// Makes room for `n × n` zeros, to be filled row by row and then factored.
    pub(crate) fn clear(&mut self, n: usize) -> &mut [D] {
        self.n = n;
        self.entries.clear();
        self.entries.resize(n * n, D::default());
        &mut self.entries
    }

    /// Factors in place. The smallest pivot as a share of what its row began with: how far the digits cancelled. 0 if it is
    /// singular or not finite, 1 without unknowns.
    pub(crate) fn factor(&mut self) -> f64 {
        let (n, a) = (self.n, &mut self.entries);
        let size = |entry: D| entry.rounded().abs();
        self.swaps.clear();
        self.sizes.clear();
        self.sizes.extend(
            a.chunks(n.max(1))
                .map(|row| row.iter().fold(0.0_f64, |most, &x| most.max(size(x)))),
        );
        let mut least = 1.0_f64;
        for k in 0..n {
            let (mut best, mut largest) = (k, size(a[k * n + k]));
            for i in k + 1..n {
                if size(a[i * n + k]) > largest {
                    (best, largest) = (i, size(a[i * n + k]));
                }
            }
            if !(largest > f64::MIN_POSITIVE && largest.is_finite()) {
                return 0.0;
            }
            self.swaps.push(best as u32);
            self.sizes.swap(k, best);
            least = least.min(largest / self.sizes[k]);
            if best != k {
                for c in 0..n {
                    a.swap(k * n + c, best * n + c);
                }
            }
            let inverse = D::from(1.0) / a[k * n + k];
            for i in k + 1..n {
                let multiplier = a[i * n + k] * inverse;
                a[i * n + k] = multiplier;
                if multiplier.rounded() != 0.0 {
                    for c in k + 1..n {
                        a[i * n + c] = a[i * n + c] - multiplier * a[k * n + c];
                    }
                }
            }
        }
        least
    }

    /// Solves in place.
    pub(crate) fn solve(&self, x: &mut [D]) {
        let (n, a) = (self.n, &self.entries);
        for (k, &swap) in self.swaps.iter().enumerate() {
            x.swap(k, swap as usize);
        }
        for i in 0..n {
            for j in 0..i {
                x[i] = x[i] - a[i * n + j] * x[j];
            }
        }
        for i in (0..n).rev() {
            for j in i + 1..n {
                x[i] = x[i] - a[i * n + j] * x[j];
            }
            x[i] = x[i] / a[i * n + i];
        }
    }

    /// Solves with the transpose, in place.
    pub(crate) fn solve_transposed(&self, x: &mut [D]) {
        let (n, a) = (self.n, &self.entries);
        for i in 0..n {
            for j in 0..i {
                x[i] = x[i] - a[j * n + i] * x[j];
            }
            x[i] = x[i] / a[i * n + i];
        }
        for i in (0..n).rev() {
            for j in i + 1..n {
                x[i] = x[i] - a[j * n + i] * x[j];
            }
        }
        for (k, &swap) in self.swaps.iter().enumerate().rev() {
            x.swap(k, swap as usize);
        }
    }
}

/// A factored matrix in as many digits as it needs.
#[derive(Clone, Debug, Default)]
pub(crate) enum Matrix {
    /// Without unknowns.
    #[default]
    Empty,
    /// Doubles do.
    Plain(Small<f64>),
    /// Too many digits cancel.
    Fine(Small<Twofold>),
}

impl Matrix {
    /// Solves in place.
    pub(crate) fn solve(&self, x: &mut [f64]) {
        match self {
            Self::Empty => {}
            Self::Plain(small) => small.solve(x),
            Self::Fine(small) => finely(x, |x| small.solve(x)),
        }
    }

    /// Solves with the transpose, in place.
    pub(crate) fn solve_transposed(&self, x: &mut [f64]) {
        match self {
            Self::Empty => {}
            Self::Plain(small) => small.solve_transposed(x),
            Self::Fine(small) => finely(x, |x| small.solve_transposed(x)),
        }
    }
}

fn finely(x: &mut [f64], solve: impl FnOnce(&mut [Twofold])) {
    let mut fine: Vec<Twofold> = x.iter().map(|&x| x.into()).collect();
    solve(&mut fine);
    for (x, fine) in x.iter_mut().zip(fine) {
        *x = fine.value();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_solves_forwards_and_transposed() {
        let a = [0.0, 2.0, 1.0, 3.0, 1.0, -1.0, 0.5, 0.0, 4.0];
        let mut plain = Small::default();
        plain.clear(3).copy_from_slice(&a);
        assert!(plain.factor() > 0.1);
        let mut fine = Small::default();
        fine.clear(3).copy_from_slice(&a.map(Twofold::from));
        assert!(fine.factor() > 0.1);
        let x = [1.0, -2.0, 0.25];
        for matrix in [Matrix::Plain(plain.clone()), Matrix::Fine(fine)] {
            let mut forwards: Vec<f64> = (0..3).map(|i| (0..3).map(|j| a[i * 3 + j] * x[j]).sum()).collect();
            let mut transposed: Vec<f64> = (0..3).map(|i| (0..3).map(|j| a[j * 3 + i] * x[j]).sum()).collect();
            matrix.solve(&mut forwards);
            matrix.solve_transposed(&mut transposed);
            for i in 0..3 {
                assert!((forwards[i] - x[i]).abs() < 1e-14 && (transposed[i] - x[i]).abs() < 1e-14);
            }
        }
        plain.clear(2).copy_from_slice(&[1.0, 2.0, 2.0, 4.0]);
        assert_eq!(plain.factor(), 0.0);
    }

    #[test]
    fn what_cancels_in_doubles_has_digits_left_in_twofold() {
        let tiny = 1e-18;
        let one = Twofold::from(1.0);
        let mut small = Small::default();
        small.clear(2).copy_from_slice(&[one, one, one, one + tiny.into()]);
        assert!((small.factor() / tiny - 1.0).abs() < 1e-9);
        let mut x = [one, one + Twofold::from(3.0 * tiny)];
        small.solve(&mut x);
        assert!((x[0].value() + 2.0).abs() < 1e-9 && (x[1].value() - 3.0).abs() < 1e-9);
    }
}
