//! Dense elimination with complete pivoting: slow, and right where the fixed order is not.
//!
//! Rows are scaled to a largest entry of 1 first, since they mix amperes and volts. An unknown that nothing determines
//! (rank lost) is held where it is and told.

use crate::lu::Pattern;

/// Below this share of the largest pivot the matrix has lost rank.
const RANK_LOST: f64 = 1e-15;

/// A dense factor, `n × n` row-major, with its pivots.
#[derive(Clone, Debug, Default)]
pub(crate) struct Dense {
    n: usize,
    entries: Vec<f64>,
    scale: Vec<f64>,
    rows: Vec<usize>,
    columns: Vec<usize>,
    rank: usize,
}

impl Dense {
    /// Factors the matrix that `values` describe.
    pub(crate) fn factor(pattern: &Pattern, values: &[f64]) -> Self {
        let n = pattern.n;
        let mut a = vec![0.0; n * n];
        let mut scale = vec![1.0; n];
        for i in 0..n {
            a[i * n + i] = pattern.diagonal(values, i);
            for at in pattern.start[i] as usize..pattern.start[i + 1] as usize {
                a[i * n + pattern.cols[at] as usize] = values[at];
            }
            let largest = a[i * n..(i + 1) * n].iter().fold(0.0_f64, |m, v| m.max(v.abs()));
            if largest > 0.0 && largest.is_finite() {
                scale[i] = 1.0 / largest;
                for entry in &mut a[i * n..(i + 1) * n] {
                    *entry *= scale[i];
                }
            }
        }
        let (mut rows, mut columns): (Vec<usize>, Vec<usize>) = ((0..n).collect(), (0..n).collect());
        let mut rank = n;
        for k in 0..n {
            let (mut best, mut at) = (RANK_LOST, None);
            for i in k..n {
                for j in k..n {
                    if a[i * n + j].abs() > best {
                        best = a[i * n + j].abs();
                        at = Some((i, j));
                    }
                }
            }
            let Some((i, j)) = at else {
                rank = k;
                break;
            };
            for c in 0..n {
                a.swap(k * n + c, i * n + c);
            }
            for r in 0..n {
                a.swap(r * n + k, r * n + j);
            }
            rows.swap(k, i);
            columns.swap(k, j);
            for r in k + 1..n {
                let multiplier = a[r * n + k] / a[k * n + k];
                a[r * n + k] = multiplier;
                if multiplier != 0.0 {
                    for c in k + 1..n {
                        a[r * n + c] -= multiplier * a[k * n + c];
                    }
                }
            }
        }
        Self {
            n,
            entries: a,
            scale,
            rows,
            columns,
            rank,
        }
    }

    /// Columns that nothing determines.
    pub(crate) fn held(&self) -> Vec<u32> {
        self.columns[self.rank..].iter().map(|&c| c as u32).collect()
    }

    /// Solves in place; held unknowns come out 0.
    pub(crate) fn solve(&self, x: &mut [f64]) {
        let (n, a) = (self.n, &self.entries);
        let mut y: Vec<f64> = self.rows.iter().map(|&r| x[r] * self.scale[r]).collect();
        for i in 0..self.rank {
            for j in 0..i {
                y[i] -= a[i * n + j] * y[j];
            }
        }
        x.fill(0.0);
        for i in (0..self.rank).rev() {
            for j in i + 1..self.rank {
                y[i] -= a[i * n + j] * y[j];
            }
            y[i] /= a[i * n + i];
            x[self.columns[i]] = y[i];
        }
    }

    /// Solves with the transpose, in place.
    pub(crate) fn solve_transposed(&self, x: &mut [f64]) {
        let (n, a) = (self.n, &self.entries);
        let mut y: Vec<f64> = self.columns.iter().map(|&c| x[c]).collect();
        for i in 0..self.rank {
            for j in 0..i {
                y[i] -= a[j * n + i] * y[j];
            }
            y[i] /= a[i * n + i];
        }
        x.fill(0.0);
        for i in (0..self.rank).rev() {
            for j in i + 1..self.rank {
                y[i] -= a[j * n + i] * y[j];
            }
            x[self.rows[i]] = y[i] * self.scale[self.rows[i]];
        }
    }
}
