//! A rough look at many tests: a few likely suspects at a few severities, the uncertain parameters as mere spread.
//!
//! It finds the few dozen tests worth an exact look and looks one step further than that. What is shown to a person never
//! comes from here.

use bench::{BenchError, Hypothesis, Placement, Predict, Question};
use circuit::{Circuit, FaultId, SetUp};

use super::split::{Table, entropy, spread};
use crate::Alive;

/// Most faults looked at.
const MOST_FAULTS: usize = 10;

/// What is still possible, roughly.
pub(crate) struct Rough<'a> {
    hypotheses: Vec<Hypothesis<'a>>,
    /// Of each hypothesis; they sum to 1.
    pub(crate) weights: Vec<f64>,
    /// Which repair each needs; the last stands for a cause outside this circuit.
    pub(crate) kinds: Vec<usize>,
    pub(crate) n_kinds: usize,
}

impl<'a> Rough<'a> {
    /// The likeliest of what is alive, and a cause outside as the healthy circuit. `key`: which repair a fault needs.
    pub(crate) fn new<'k>(alive: &[Alive<'a>], outside: f64, key: impl Fn(FaultId) -> &'k str) -> Self {
        let mut rough = Self {
            hypotheses: Vec::new(),
            weights: Vec::new(),
            kinds: Vec::new(),
            n_kinds: 0,
        };
        let mut faults: Vec<FaultId> = Vec::new();
        let mut keys: Vec<&str> = Vec::new();
        for entry in alive {
            if !faults.contains(&entry.fault) {
                if faults.len() == MOST_FAULTS {
                    break;
                }
                faults.push(entry.fault);
            }
            let key = key(entry.fault);
            let kind = keys.iter().position(|&known| known == key).unwrap_or_else(|| {
                keys.push(key);
                keys.len() - 1
            });
            rough.push(entry.hypothesis.clone(), entry.chance * entry.share, kind);
        }
        rough.push(Hypothesis::default(), outside.max(1e-3), keys.len());
        rough.n_kinds = keys.len() + 1;
        let sum: f64 = rough.weights.iter().sum();
        for weight in &mut rough.weights {
            *weight /= sum;
        }
        rough
    }

    fn push(&mut self, hypothesis: Hypothesis<'a>, weight: f64, kind: usize) {
        self.hypotheses.push(hypothesis);
        self.weights.push(weight);
        self.kinds.push(kind);
    }

    /// Bits that are left to be told.
    pub(crate) fn bits_left(&self) -> f64 {
        let mut by_kind = vec![0.0; self.n_kinds];
        for (weight, &kind) in self.weights.iter().zip(&self.kinds) {
            if let Some(into) = by_kind.get_mut(kind) {
                *into += weight;
            }
        }
        entropy(&by_kind)
    }

    /// Bits that a test is expected to tell, given these weights.
    pub(crate) fn bits(&self, table: &Table, weights: &[f64]) -> f64 {
        table.bits(weights, &self.kinds, self.n_kinds)
    }

    /// How each test's outcomes split what is possible.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub(crate) fn tables(
        &self,
        bench: &dyn Predict,
        circuit: &Circuit,
        set_up: &SetUp,
        placements: &[Placement],
    ) -> Result<Vec<Table>, BenchError> {
        if placements.is_empty() {
            return Ok(Vec::new());
        }
        let hypotheses = &self.hypotheses[..];
        let batch = bench.predict(Question {
            hypotheses,
            set_up,
            placements,
            theta: &[],
            with_flows: false,
        })?;
        let table = |(idx, placement): (usize, &Placement)| {
            let column: Vec<_> = batch.predictions.iter().skip(idx).step_by(placements.len()).collect();
            let spreads: Vec<f64> = column.iter().map(|p| spread(circuit, placement, p)).collect();
            Table::new(circuit, placement, &column, &spreads, &self.weights)
        };
        Ok(placements.iter().enumerate().map(table).collect())
    }
}
