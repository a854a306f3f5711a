//! What may be inside the modules where nobody documented it: every combination, with its chance.

use circuit::{Circuit, Fault};

/// Combinations that are weighed at most; the rarest are left out. The circuit file keeps to fewer.
const MOST: usize = 64;

/// The possible insides; one, as the file has it, where everything is documented.
pub(crate) struct Insides {
    /// Chance of each before any reading; they sum to 1.
    pub(crate) chances: Vec<f64>,
    /// What each changes in the circuit.
    pub(crate) changes: Vec<Vec<Fault>>,
    /// By combination, the alternative of each unknown.
    pub(crate) alternatives: Vec<Vec<usize>>,
}

impl Insides {
    /// Chance of each alternative of each unknown, from those of the combinations.
    pub(crate) fn learnt(&self, circuit: &Circuit, combinations: &[f64]) -> Vec<Vec<f64>> {
        let each = circuit.unknowns.iter().enumerate();
        each.map(|(at, unknown)| {
            let mut sums = vec![0.0; unknown.alternatives.len()];
            for (chosen, chance) in self.alternatives.iter().zip(combinations) {
                if let Some(sum) = chosen.get(at).and_then(|&alternative| sums.get_mut(alternative)) {
                    *sum += chance;
                }
            }
            sums
        })
        .collect()
    }

    /// Every combination of the alternatives of a circuit, in the order of the file.
    pub(crate) fn of(circuit: &Circuit) -> Self {
        let mut combinations: Vec<(f64, Vec<usize>)> = vec![(1.0, Vec::new())];
        for unknown in &circuit.unknowns {
            let longer = combinations.iter().flat_map(|(chance, chosen)| {
                let each = unknown.alternatives.iter().enumerate();
                each.map(move |(at, alternative)| {
                    let chosen = chosen.iter().copied().chain([at]).collect();
                    (chance * alternative.chance, chosen)
                })
            });
            combinations = longer.filter(|one| one.0 > 0.0).collect();
            // Sorting is stable: among equals the file decides.
            combinations.sort_by(|a, b| b.0.total_cmp(&a.0));
            combinations.truncate(MOST);
        }
        let sum: f64 = combinations.iter().map(|one| one.0).sum();
        let changes = |chosen: &Vec<usize>| -> Vec<Fault> {
            let each = circuit.unknowns.iter().zip(chosen);
            each.filter_map(|(unknown, &at)| Some(unknown.alternatives.get(at)?.changes.clone()))
                .filter(|fault| !fault.changes.is_empty())
                .collect()
        };
        Self {
            chances: combinations.iter().map(|one| one.0 / sum).collect(),
            changes: combinations.iter().map(|one| changes(&one.1)).collect(),
            alternatives: combinations.into_iter().map(|one| one.1).collect(),
        }
    }
}
