//! How a vehicle may differ from its circuit file: what the diagnosis is not told.

use circuit::{BranchId, Change, Circuit, Fault, Mode, PointId, Role, Severity};
use rand::{Rng, RngExt as _};

use crate::chance::pick;
use crate::unlisted;

/// A way in which the vehicle is not what its circuit file says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Differs {
    /// Something nobody wrote down leaks into one of the wires, from the battery or to body metal.
    Neighbour,
    /// A resistor inside a module is several times what the file says, or a part of it.
    Insides,
    /// The cause is a bridge between two wires that none of the possible faults joins.
    Unlisted,
    /// Some values lie far outside their tolerance.
    Tolerance,
    /// All wires are of another length.
    Wires,
}

/// Values that lie outside their tolerance, and how far at least and at most, in standard deviations.
const N_OUTSIDE: usize = 3;
const FAR: (f64, f64) = (4.0, 6.0);

impl Differs {
    /// Every way.
    pub const ALL: [Self; 5] = [
        Self::Neighbour,
        Self::Insides,
        Self::Unlisted,
        Self::Tolerance,
        Self::Wires,
    ];

    /// Its name in commands and results.
    pub fn name(self) -> &'static str {
        match self {
            Self::Neighbour => "neighbour",
            Self::Insides => "insides",
            Self::Unlisted => "unlisted",
            Self::Tolerance => "tolerance",
            Self::Wires => "wires",
        }
    }

    /// What is in the vehicle and not in the file, with its severity, beside the values in `theta`, which it may move.
    pub(crate) fn changes(
        self,
        circuit: &Circuit,
        faults: &[Fault],
        theta: &mut [f64],
        rng: &mut impl Rng,
    ) -> Option<(Fault, f64)> {
        let scale = |branches: Vec<BranchId>| branches.into_iter().map(Change::Scale).collect();
        let (changes, severity) = match self {
            Self::Neighbour => {
                let wire = on_a_wire(circuit, rng)?;
                let other = if rng.random() {
                    circuit.battery_plus
                } else {
                    circuit.body
                };
                (vec![Change::Bridge(wire, other)], spread(rng, 500.0, 50e3))
            }
            Self::Unlisted => {
                let (one, other) = unlisted::bridge(circuit, faults, rng)?;
                (vec![Change::Bridge(one, other)], spread(rng, 1.0, 2e3))
            }
            Self::Insides => {
                let is_inside = |role| matches!(role, Role::Pull | Role::Series | Role::Bias | Role::Quiescent);
                let weights = circuit
                    .branches
                    .iter()
                    .map(|branch| f64::from(u8::from(is_inside(branch.role))));
                let branch = pick(rng, weights)?;
                let factor = spread(rng, 3.0, 10.0);
                let factor = if rng.random() { factor } else { 1.0 / factor };
                (scale(vec![branch.into()]), factor)
            }
            Self::Wires => {
                let wires = circuit.wires.iter().map(|wire| wire.branch).collect();
                (scale(wires), spread(rng, 1.5, 4.0))
            }
            Self::Tolerance => {
                for _ in 0..N_OUTSIDE {
                    let at = rng.random_range(0..theta.len().max(1));
                    let far = FAR.0 + (FAR.1 - FAR.0) * rng.random::<f64>();
                    *theta.get_mut(at)? = if rng.random() { far } else { -far };
                }
                return None;
            }
        };
        Some((unknown(self, changes), severity))
    }
}

/// Evenly over the logarithm.
fn spread(rng: &mut impl Rng, low: f64, high: f64) -> f64 {
    low * (high / low).powf(rng.random::<f64>())
}

fn on_a_wire(circuit: &Circuit, rng: &mut impl Rng) -> Option<PointId> {
    let wire = circuit.wires.get(rng.random_range(0..circuit.wires.len().max(1)))?;
    Some(wire.ends[rng.random_range(0..2_usize)])
}

/// A change that no list of possible faults knows, as severe as is said with it.
fn unknown(differs: Differs, changes: Vec<Change>) -> Fault {
    Fault {
        severity: Some(Severity {
            unit: quantity::Unit::One,
            low: 0.1,
            high: 100e3,
            logarithmic: true,
        }),
        ..Fault::unlisted(format!("not in the file: {}", differs.name()), Mode::Leak, changes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Luck;

    #[test]
    fn every_way_changes_something_in_the_demo_vehicle() {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let faults = circuit::possible_faults(&circuit);
        for differs in Differs::ALL {
            let mut theta = vec![0.0; circuit.params.len()];
            let changes = differs.changes(
                &circuit,
                &faults,
                &mut theta,
                &mut Luck { seed: 1, job: 0 }.of("differs"),
            );
            let moved = theta.iter().any(|value| value.abs() >= FAR.0);
            assert_eq!(moved, differs == Differs::Tolerance);
            assert_eq!(changes.is_some(), !moved, "{}", differs.name());
        }
    }
}
