//! Sparse elimination with a fixed pattern, for matrices that are nearly those of resistor networks.
//!
//! Idea: the diagonal of a conductance row is never stored. Each row carries instead its *sum*, which is the conductance
//! to the reference, and the pivot is rebuilt from it and the off-diagonal entries. For a network of positive
//! conductances nothing is then ever subtracted, so a milliohm link hung on a 1e11 ohm leak keeps the leak to the last
//! digits, where the stored diagonal 1000 + 1e-11 would have lost it. (Grassmann, Taksar, Heyman 1985 for Markov chains;
//! Alfa, Xue, Ye 2002 for diagonally dominant M-matrices.) It is also why no pivot search is needed.
//!
//! Limits: rows with controlled sources can have entries of either sign. [`Pattern::factor`] refuses a pivot that came out
//! of cancellation, and [`crate::dense`] takes over.

/// A pivot smaller than this share of what it was summed from is left to the dense solver. 1e-11 S of insulation beside
/// 20 S of an unfed regulator (5e-13) must stay here: it still has three digits, and every round corrects with true
/// imbalances, while the dense solver pays n³ and keeps no more of them.
const CANCELLED: f64 = 1e-14;

/// No slot: the entry is not stored.
pub(crate) const NONE: u32 = u32::MAX;

/// Where the entries are. Rows and columns are numbered in elimination order.
#[derive(Debug)]
pub(crate) struct Pattern {
    /// Number of unknowns.
    pub(crate) n: usize,
    /// Row `i` is `cols[start[i]..start[i + 1]]`, ascending, without the diagonal.
    pub(crate) start: Vec<u32>,
    /// First entry of row `i` that lies right of the diagonal.
    split: Vec<u32>,
    /// Columns of the entries.
    pub(crate) cols: Vec<u32>,
    /// Whether column `j` counts in the row sums (a voltage does, a current does not).
    counts: Vec<bool>,
    /// Whether row `i` gets its pivot from its sum.
    summed: Vec<bool>,
}

/// A factored matrix; belongs to the [`Pattern`] that made it.
#[derive(Clone, Debug, Default)]
pub(crate) struct Factor {
    entries: Vec<f64>,
    inverse_pivot: Vec<f64>,
    sums: Vec<f64>,
    work: Vec<f64>,
    /// Unknowns that nothing determines: held where they are.
    pub(crate) held: Vec<u32>,
}

/// Elimination order of a symmetric graph by least degree, `first` ahead of all, and the fill-in it causes.
///
/// Returns for each step the vertex and its later neighbours.
pub(crate) fn least_degree(n: usize, edges: &[(u32, u32)], first: &[u32]) -> Vec<(u32, Vec<u32>)> {
    let words = n.div_ceil(64);
    let mut adjacent = vec![0_u64; words * n];
    let mut set = |a: usize, b: usize| adjacent[a * words + b / 64] |= 1 << (b % 64);
    for &(a, b) in edges {
        if a != b {
            set(a as usize, b as usize);
            set(b as usize, a as usize);
        }
    }
    let degree_of = |adjacent: &[u64], v: usize| -> u32 {
        adjacent[v * words..(v + 1) * words]
            .iter()
            .map(|w| w.count_ones())
            .sum()
    };
    let mut degree: Vec<u32> = (0..n).map(|v| degree_of(&adjacent, v)).collect();
    let mut alive = vec![true; n];
    let mut steps = Vec::with_capacity(n);
    for step in 0..n {
        let next = match first.get(step) {
            Some(&v) => Some(v as usize),
            None => (0..n).filter(|&v| alive[v]).min_by_key(|&v| degree[v]),
        };
        let Some(v) = next else { break };
        alive[v] = false;
        let mut later = Vec::with_capacity(degree[v] as usize);
        for w in 0..words {
            let mut bits = adjacent[v * words + w];
            while bits != 0 {
                later.push((w * 64) as u32 + bits.trailing_zeros());
                bits &= bits - 1;
            }
        }
        for &u in &later {
            let u = u as usize;
            for w in 0..words {
                let joined = adjacent[v * words + w];
                adjacent[u * words + w] |= joined;
            }
            adjacent[u * words + u / 64] &= !(1 << (u % 64));
            adjacent[u * words + v / 64] &= !(1 << (v % 64));
            degree[u] = degree_of(&adjacent, u);
        }
        steps.push((v as u32, later));
    }
    steps
}

impl Pattern {
    /// The pattern of the elimination `steps`; `position[v]` is the step of vertex `v`.
    pub(crate) fn new(steps: &[(u32, Vec<u32>)], position: &[u32], counts: Vec<bool>, summed: Vec<bool>) -> Self {
        let n = steps.len();
        let mut rows: Vec<Vec<u32>> = vec![Vec::new(); n];
        for (step, (_, later)) in steps.iter().enumerate() {
            for &u in later {
                let column = position[u as usize];
                rows[step].push(column);
                rows[column as usize].push(step as u32);
            }
        }
        let (mut start, mut split, mut cols) = (vec![0], Vec::with_capacity(n), Vec::new());
        for (i, row) in rows.iter_mut().enumerate() {
            row.sort_unstable();
            split.push((cols.len() + row.partition_point(|&c| (c as usize) < i)) as u32);
            cols.append(row);
            start.push(cols.len() as u32);
        }
        Self {
            n,
            start,
            split,
            cols,
            counts,
            summed,
        }
    }

    /// Length of the array of values: entries, then row sums, then the diagonals of rows that keep theirs.
    pub(crate) fn n_values(&self) -> usize {
        self.cols.len() + 2 * self.n
    }

    /// Where the value of (row, column) goes; [`NONE`] for a diagonal rebuilt from the row sum.
    pub(crate) fn slot(&self, row: u32, column: u32) -> u32 {
        let i = row as usize;
        if row == column {
            return if self.summed[i] {
                NONE
            } else {
                (self.cols.len() + self.n + i) as u32
            };
        }
        let (from, to) = (self.start[i] as usize, self.start[i + 1] as usize);
        self.cols[from..to]
            .binary_search(&column)
            .map_or(NONE, |at| (from + at) as u32)
    }

    /// Where the sum of a row goes.
    pub(crate) fn sum_slot(&self, row: u32) -> u32 {
        (self.cols.len() + row as usize) as u32
    }

    fn lower(&self, i: usize) -> std::ops::Range<usize> {
        self.start[i] as usize..self.split[i] as usize
    }

    fn upper(&self, i: usize) -> std::ops::Range<usize> {
        self.split[i] as usize..self.start[i + 1] as usize
    }

    /// The diagonal entry of row `i` in an unfactored array of values.
    pub(crate) fn diagonal(&self, values: &[f64], i: usize) -> f64 {
        if !self.summed[i] {
            return values[self.cols.len() + self.n + i];
        }
        let row = self.start[i] as usize..self.start[i + 1] as usize;
        let others: f64 = row
            .filter(|&at| self.counts[self.cols[at] as usize])
            .map(|at| values[at])
            .sum();
        values[self.cols.len() + i] - others
    }

    /// Factors `values` into `factor`, whose memory is reused. False if a pivot cannot be trusted.
    pub(crate) fn factor(&self, values: &[f64], factor: &mut Factor) -> bool {
        let Factor {
            entries,
            inverse_pivot,
            sums,
            work,
            held,
        } = factor;
        let nnz = self.cols.len();
        entries.clear();
        entries.extend_from_slice(&values[..nnz]);
        sums.clear();
        sums.extend_from_slice(&values[nnz..nnz + self.n]);
        inverse_pivot.resize(self.n, 0.0);
        work.clear();
        work.resize(self.n, 0.0);
        held.clear();
        for i in 0..self.n {
            for at in self.start[i] as usize..self.start[i + 1] as usize {
                work[self.cols[at] as usize] = entries[at];
            }
            work[i] = values[nnz + self.n + i];
            let mut sum = sums[i];
            for at in self.lower(i) {
                let k = self.cols[at] as usize;
                let multiplier = work[k] * inverse_pivot[k];
                work[k] = 0.0;
                entries[at] = multiplier;
                if multiplier != 0.0 {
                    let row = self.upper(k);
                    for (&column, &entry) in self.cols[row.clone()].iter().zip(&entries[row]) {
                        work[column as usize] -= multiplier * entry;
                    }
                    sum -= multiplier * sums[k];
                }
            }
            let (mut counted, mut size) = (0.0, sum.abs());
            for at in self.upper(i) {
                let column = self.cols[at] as usize;
                let entry = work[column];
                work[column] = 0.0;
                entries[at] = entry;
                size += entry.abs();
                if self.counts[column] {
                    counted += entry;
                }
            }
            let mut pivot = if self.summed[i] { sum - counted } else { work[i] };
            work[i] = 0.0;
            sums[i] = sum;
            if self.summed[i] && size == 0.0 {
                pivot = 1.0;
                held.push(i as u32);
            } else if !(pivot.abs() > CANCELLED * size && pivot.is_finite()) {
                return false;
            }
            inverse_pivot[i] = 1.0 / pivot;
        }
        true
    }

    /// Solves in place.
    pub(crate) fn solve(&self, factor: &Factor, x: &mut [f64]) {
        for i in 0..self.n {
            let row = self.lower(i);
            let done: f64 = self.cols[row.clone()]
                .iter()
                .zip(&factor.entries[row])
                .map(|(&c, l)| l * x[c as usize])
                .sum();
            x[i] -= done;
        }
        for i in (0..self.n).rev() {
            let row = self.upper(i);
            let done: f64 = self.cols[row.clone()]
                .iter()
                .zip(&factor.entries[row])
                .map(|(&c, u)| u * x[c as usize])
                .sum();
            x[i] = (x[i] - done) * factor.inverse_pivot[i];
        }
    }

    /// Solves with the transpose, in place.
    pub(crate) fn solve_transposed(&self, factor: &Factor, x: &mut [f64]) {
        for i in 0..self.n {
            x[i] *= factor.inverse_pivot[i];
            let value = x[i];
            for at in self.upper(i) {
                x[self.cols[at] as usize] -= factor.entries[at] * value;
            }
        }
        for i in (0..self.n).rev() {
            let value = x[i];
            for at in self.lower(i) {
                x[self.cols[at] as usize] -= factor.entries[at] * value;
            }
        }
    }
}
