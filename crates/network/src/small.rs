//! Small dense systems with row pivoting: as many unknowns as ports.

/// A factored matrix, `n × n` row-major. One of 0 × 0 solves nothing.
#[derive(Clone, Debug, Default)]
pub(crate) struct Small {
    n: usize,
    entries: Vec<f64>,
    /// Row that step `i` swapped with.
    swaps: Vec<u32>,
    /// Largest entry of each row before it was factored.
    sizes: Vec<f64>,
}

impl Small {
    /// Makes room for `n × n` zeros, to be filled row by row and then factored.
    pub(crate) fn clear(&mut self, n: usize) -> &mut [f64] {
        self.n = n;
        self.entries.clear();
        self.entries.resize(n * n, 0.0);
        &mut self.entries
    }

    /// Factors in place. The smallest pivot as a share of what its row began with: how far the digits cancelled. 0 if it is
    /// singular or not finite, 1 without unknowns.
    pub(crate) fn factor(&mut self) -> f64 {
        let (n, a) = (self.n, &mut self.entries);
        self.swaps.clear();
        self.sizes.clear();
        self.sizes
            .extend(a.chunks(n.max(1)).map(|row| row.iter().fold(0.0_f64, |most, x| most.max(x.abs()))));
        let mut least = 1.0_f64;
        for k in 0..n {
            let (mut best, mut size) = (k, a[k * n + k].abs());
            for i in k + 1..n {
                if a[i * n + k].abs() > size {
                    (best, size) = (i, a[i * n + k].abs());
                }
            }
            if !(size > f64::MIN_POSITIVE && size.is_finite()) {
                return 0.0;
            }
            self.swaps.push(best as u32);
            self.sizes.swap(k, best);
            least = least.min(size / self.sizes[k]);
            if best != k {
                for c in 0..n {
                    a.swap(k * n + c, best * n + c);
                }
            }
            let inverse = 1.0 / a[k * n + k];
            for i in k + 1..n {
                let multiplier = a[i * n + k] * inverse;
                a[i * n + k] = multiplier;
                if multiplier != 0.0 {
                    for c in k + 1..n {
                        a[i * n + c] -= multiplier * a[k * n + c];
                    }
                }
            }
        }
        least
    }

    /// Solves in place.
    pub(crate) fn solve(&self, x: &mut [f64]) {
        let (n, a) = (self.n, &self.entries);
        for (k, &swap) in self.swaps.iter().enumerate() {
            x.swap(k, swap as usize);
        }
        for i in 0..n {
            for j in 0..i {
                x[i] -= a[i * n + j] * x[j];
            }
        }
        for i in (0..n).rev() {
            for j in i + 1..n {
                x[i] -= a[i * n + j] * x[j];
            }
            x[i] /= a[i * n + i];
        }
    }

    /// Solves with the transpose, in place.
    pub(crate) fn solve_transposed(&self, x: &mut [f64]) {
        let (n, a) = (self.n, &self.entries);
        for i in 0..n {
            for j in 0..i {
                x[i] -= a[j * n + i] * x[j];
            }
            x[i] /= a[i * n + i];
        }
        for i in (0..n).rev() {
            for j in i + 1..n {
                x[i] -= a[j * n + i] * x[j];
            }
        }
        for (k, &swap) in self.swaps.iter().enumerate().rev() {
            x.swap(k, swap as usize);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_solves_forwards_and_transposed() {
        let a = [0.0, 2.0, 1.0, 3.0, 1.0, -1.0, 0.5, 0.0, 4.0];
        let mut small = Small::default();
        small.clear(3).copy_from_slice(&a);
        assert!(small.factor() > 0.1);
        let x = [1.0, -2.0, 0.25];
        let mut forwards: Vec<f64> = (0..3).map(|i| (0..3).map(|j| a[i * 3 + j] * x[j]).sum()).collect();
        let mut transposed: Vec<f64> = (0..3).map(|i| (0..3).map(|j| a[j * 3 + i] * x[j]).sum()).collect();
        small.solve(&mut forwards);
        small.solve_transposed(&mut transposed);
        for i in 0..3 {
            assert!((forwards[i] - x[i]).abs() < 1e-14 && (transposed[i] - x[i]).abs() < 1e-14);
        }
        small.clear(2).copy_from_slice(&[1.0, 2.0, 2.0, 4.0]);
        assert_eq!(small.factor(), 0.0);
    }
}
