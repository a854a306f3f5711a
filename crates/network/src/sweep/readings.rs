//! What many hypotheses read: a row a probe, a column a hypothesis.

use super::linear::LANES;

/// What [`Sweep::read`](super::Sweep::read) fills. Its memory is reused.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    pub(crate) n: usize,
    /// Room of a row: whole lanes.
    pub(crate) stride: usize,
    pub(crate) values: Vec<f64>,
    pub(crate) put: [Vec<f64>; 2],
    pub(crate) beyond: Vec<bool>,
}

impl Readings {
    pub(crate) fn clear(&mut self, n_probes: usize, n: usize) {
        self.n = n;
        self.stride = n.next_multiple_of(LANES);
        self.values.resize(n_probes * self.stride, 0.0);
        for put in &mut self.put {
            put.resize(self.stride, 0.0);
        }
        self.beyond.clear();
        self.beyond.resize(self.stride, false);
    }

    /// Marks a hypothesis whose digits are lost, so that nothing starts from what it puts in.
    pub(crate) fn give_up(&mut self, hypothesis: usize) {
        self.beyond[hypothesis] = true;
        for put in &mut self.put {
            put[hypothesis] = f64::NAN;
        }
    }

    /// What a probe reads, by hypothesis: volts or amperes.
    pub fn of(&self, probe: usize) -> &[f64] {
        &self.values[probe * self.stride..][..self.n]
    }

    /// What the first (0) or second (1) port puts in, by hypothesis: amperes through a shunt, volts across what a series
    /// port adds.
    pub fn put(&self, port: usize) -> &[f64] {
        &self.put[port][..self.n]
    }

    /// By hypothesis whether it is beyond the sweep: its readings mean nothing, see
    /// [`Sweep::solve_rest`](super::Sweep::solve_rest).
    pub fn beyond(&self) -> &[bool] {
        &self.beyond[..self.n]
    }
}
