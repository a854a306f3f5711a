//! How a circuit stands: how exactly it was solved, and in which other states it could stand as well.
//!
//! A relay that holds itself stands in or out, a cold lamp on a current limit glows or does not. Predictions are those of
//! the state that is reached from rest on the way to the set-up; this tells the others. That there are no more than those
//! found is not claimed. It costs many solves: for one circuit that somebody looks at, not for thousands of suspects.

use circuit::{Circuit, PointId, RelayId, SetUp};
use network::{Element, ElementId, Solution};
use quantity::Unit;

use crate::attach::VOLTMETER_OHMS;
use crate::bench::{Bench, Exported};
use crate::error::BenchError;
use crate::flows::leads;
use crate::prediction::Hypothesis;
use crate::reach::reachable;
use crate::test::Placement;

/// Other states looked for.
const MOST_OTHERS: usize = 4;
/// Two states whose voltages differ by less anywhere in reach are one to a technician, volts.
const TELLING_VOLTS: f64 = 0.05;
/// Points named in words.
const POINTS_NAMED: usize = 3;

/// How a circuit stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Largest sum of currents at any node that should be 0, amperes, over the circuit alone and with each instrument.
    pub kcl_residual_amps: f64,
    /// The other stable states.
    pub others: Vec<OtherState>,
}

/// A stable state beside the one that is reached.
#[derive(Clone, Debug, PartialEq)]
pub struct OtherState {
    /// Relays that stand otherwise, and whether they are pulled in there.
    pub relays: Vec<(RelayId, bool)>,
    /// Points in reach that a voltmeter from battery negative tells apart, with what it shows in the state that is reached
    /// and in this one, volts; the largest difference first.
    pub volts: Vec<(PointId, f64, f64)>,
}

impl OtherState {
    /// "K1 held in: SP1 at 12.5 V, not 0 V".
    pub fn words(&self, circuit: &Circuit) -> String {
        let relays: Vec<String> = self
            .relays
            .iter()
            .filter_map(|(relay, is_in)| {
                let part = circuit.parts.get(circuit.relays.get(relay.idx())?.part.idx())?;
                Some(format!(
                    "{} {}",
                    part.called(),
                    if *is_in { "held in" } else { "dropped out" }
                ))
            })
            .collect();
        let state = if relays.is_empty() {
            "with every relay as it is".to_owned()
        } else {
            relays.join(", ")
        };
        let volts = |volts: f64| quantity::format(if volts.abs() < 5e-4 { 0.0 } else { volts }, Unit::Volt);
        let points = self
            .volts
            .iter()
            .take(POINTS_NAMED)
            .filter_map(|&(point, here, there)| {
                let path = &circuit.points.get(point.idx())?.path;
                Some(format!("{path} at {}, not {}", volts(there), volts(here)))
            });
        let points: Vec<String> = points.collect();
        if points.is_empty() {
            state
        } else {
            format!("{state}: {}", points.join("; "))
        }
    }
}

impl Bench {
    /// How the circuit stands under one hypothesis in a set-up, alone and with each of `placements` in it. `None` if it does
    /// not settle.
    ///
    /// # Errors
    /// As [`Predict::predict`](crate::Predict::predict).
    pub fn standing(
        &self,
        hypothesis: &Hypothesis<'_>,
        set_up: &SetUp,
        theta: &[f64],
        placements: &[Placement],
    ) -> Result<Option<Standing>, BenchError> {
        let Some(alone) = self.solved(hypothesis, set_up, theta, None)? else {
            return Ok(None);
        };
        let mut kcl_residual_amps = alone.solution.kcl_residual_amps();
        for tool in placements.iter().filter(|placement| leads(placement).is_some()) {
            if let Some(with_tool) = self.solved(hypothesis, set_up, theta, Some(tool))? {
                kcl_residual_amps = kcl_residual_amps.max(with_tool.solution.kcl_residual_amps());
            }
        }
        let others = network::other_stable_states(&alone.lowered.netlist(), &alone.solution, MOST_OTHERS)
            .iter()
            .map(|other| self.other(&alone, other, set_up))
            .filter(|other| !other.relays.is_empty() || !other.volts.is_empty())
            .collect();
        Ok(Some(Standing {
            kcl_residual_amps,
            others,
        }))
    }

    fn other(&self, reached: &Exported, other: &Solution, set_up: &SetUp) -> OtherState {
        let circuit = self.circuit();
        let pulled_in = |solution: &Solution, contact: ElementId| {
            let Some(Element::RelayContact { normally_closed, .. }) = reached.lowered.element(contact) else {
                return None;
            };
            solution.states.get(contact).map(|closed| closed != *normally_closed)
        };
        let relays = circuit.relays.iter().enumerate().filter_map(|(position, relay)| {
            let contact = ElementId(relay.contacts.first()?.0);
            let is_in = pulled_in(other, contact)?;
            (pulled_in(&reached.solution, contact)? != is_in).then(|| (RelayId::from(position), is_in))
        });
        let shows = |solution: &Solution, point: PointId| {
            let node = self.layout().node(point);
            let behind = solution.adjoint(&[(node, 1.0)]).resistance_seen();
            let share = VOLTMETER_OHMS / (VOLTMETER_OHMS + behind.max(0.0));
            // What floats altogether goes where the meter pulls it.
            if share.is_nan() {
                0.0
            } else {
                solution.volts(node) * share
            }
        };
        let mut volts: Vec<(PointId, f64, f64)> = reachable(circuit, set_up)
            .into_iter()
            .map(|probe| {
                let point = probe.point;
                (point, shows(&reached.solution, point), shows(other, point))
            })
            .filter(|(_, here, there)| (here - there).abs() > TELLING_VOLTS)
            .collect();
        volts.sort_by(|a, b| (b.1 - b.2).abs().total_cmp(&(a.1 - a.2).abs()));
        OtherState {
            relays: relays.collect(),
            volts,
        }
    }
}
