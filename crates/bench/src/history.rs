//! What happened before the reading: fuses that blew in ordinary use, relays that pulled in on the way to the set-up.
//!
//! A fuse that blows stays blown until it is replaced, so the technician meets the circuit after that. A driver or a
//! reference that shut off tries again when the key is turned.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError};

use circuit::{At, BranchKind, Circuit, FuseId, Key, LoadId, RhythmId, SetUp};
use network::{Element, ElementId, NetworkError, Outcome, Solution, States, Variations};

use crate::bench::{Prepared, named};
use crate::edit;
use crate::error::BenchError;
use crate::lower::Layout;
use crate::lowered::Lowered;
use crate::passage::Passage;
use crate::prediction::Hypothesis;
use crate::solvers::Solvers;

/// Hypotheses remembered.
const REMEMBERED: usize = 200_000;

/// Set-ups kept ready; a choice of the next test looks into some sixty.
const READY: usize = 256;

/// A healthy circuit in a set-up, ready to be broken.
#[derive(Debug)]
pub(crate) struct Ready {
    pub(crate) set_up: SetUp,
    pub(crate) lowered: Lowered,
    /// It factored, for what differs little from it.
    variations: Variations,
    /// Its node voltages when healthy, where a search for those of a broken one starts. Empty if it does not settle.
    near: Vec<f64>,
}

impl Ready {
    /// The circuit in a set-up; as a small change to it in another one, where it is one.
    fn new(shop: &Shop<'_>, set_up: SetUp, other: Option<&Self>) -> Result<Self, NetworkError> {
        let lowered = Lowered::healthy(shop.circuit, shop.layout, &set_up, shop.theta);
        let start = lowered.at_rest();
        let netlist = lowered.netlist();
        let beside = match other.and_then(|other| Some((other, other.variations.differences(&netlist)?))) {
            Some((other, changed)) => other.variations.solve(&changed, &start, None).unwrap_or_default(),
            None => None,
        };
        let solution = match beside {
            Some(solution) => Some(solution),
            None => shop.solvers.solve(&lowered, &start, None)?.converged(),
        };
        let near = solution.map(|solution| solution.node_volts).unwrap_or_default();
        Ok(Self {
            set_up,
            variations: Variations::new(&netlist)?.near(&near),
            lowered,
            near,
        })
    }

    /// The operating point reached from `start` by what was broken from this, or by that with a tool in place; where it
    /// differs by much, searched beside `near` or else the healthy one.
    pub(crate) fn solve(
        &self,
        solvers: &Solvers,
        broken: &Lowered,
        start: &States,
        near: Option<&Solution>,
    ) -> Result<Outcome, NetworkError> {
        if broken.n_nodes == self.lowered.n_nodes
            && let Some(solution) = self.variations.solve(broken.changed(), start, near)?
        {
            return Ok(Outcome::Converged(solution));
        }
        match near {
            Some(near) => solvers.solve(broken, start, Some(&near.node_volts)),
            None => solvers.solve(broken, start, self.guess(broken.n_nodes).as_deref()),
        }
    }

    /// Where to start in a netlist with `n_nodes`, of which the circuit's come first.
    fn guess(&self, n_nodes: usize) -> Option<Vec<f64>> {
        (!self.near.is_empty()).then(|| {
            let mut guess = self.near.clone();
            guess.resize(n_nodes, 0.0);
            guess
        })
    }

    /// It with faults.
    pub(crate) fn broken(&self, circuit: &Circuit, layout: &Layout, theta: &[f64], faults: &Hypothesis<'_>) -> Lowered {
        let mut lowered = self.lowered.clone();
        let at = At {
            theta,
            ..At::centre(circuit, &self.set_up)
        };
        lowered.apply(layout, &at, faults);
        lowered
    }
}

/// Ordinary use: everything mated, every load commanded, key on and engine running.
fn in_use(circuit: &Circuit) -> [SetUp; 2] {
    [Key::On, Key::Running].map(|key| SetUp {
        key,
        commanded: (0..circuit.loads.len()).map(LoadId::from).collect(),
        ..SetUp::default()
    })
}

/// Ordinary use, what repeats held in every phase.
pub(crate) fn ordinary(circuit: &Circuit) -> Vec<SetUp> {
    let n_phases = circuit
        .rhythms
        .iter()
        .map(|rhythm| rhythm.phases.len())
        .max()
        .unwrap_or(1);
    let held = |phase: usize| {
        let all = circuit.rhythms.iter().enumerate();
        all.map(|(idx, rhythm)| (RhythmId::from(idx), Some(phase % rhythm.phases.len().max(1))))
            .collect()
    };
    let in_use = in_use(circuit);
    let phases = (0..n_phases).flat_map(|phase| in_use.iter().map(move |set_up| (phase, set_up)));
    phases
        .map(|(phase, set_up)| SetUp {
            held: held(phase),
            ..set_up.clone()
        })
        .collect()
}

/// How one gets to a set-up: the key position before it, loads not commanded yet. `None` if the way makes no difference
/// because nothing in the circuit holds itself.
pub(crate) fn before(circuit: &Circuit, set_up: &SetUp) -> Option<SetUp> {
    let holds_itself = circuit
        .branches
        .iter()
        .any(|branch| matches!(branch.kind, BranchKind::RelayContact { relay: Some(_), .. }));
    if !holds_itself {
        return None;
    }
    let key = match set_up.key {
        Key::Off | Key::Held | Key::Asleep => Key::On,
        Key::Accessory | Key::On | Key::Cranking | Key::Running => Key::Off,
    };
    Some(SetUp {
        key,
        commanded: std::collections::BTreeSet::new(),
        ..set_up.clone()
    })
}

/// All at rest, with these fuses blown.
fn at_rest(lowered: &Lowered, blown: &[ElementId]) -> States {
    let mut states = lowered.at_rest();
    for &fuse in blown {
        states.set(fuse, true);
    }
    states
}

/// The states of one netlist carried to another that has the same elements first. What shut off tries again if
/// `key_turned`.
pub(crate) fn carried(from: &States, to: &Lowered, key_turned: bool) -> States {
    let mut states = to.at_rest();
    for at in 0..from.len() as u32 {
        let id = ElementId(at);
        let Some(state) = from.get(id) else { continue };
        if !(key_turned && matches!(to.element(id), Some(Element::Driver { .. }))) {
            states.set(id, state);
        }
    }
    states
}

/// What is remembered: of a hypothesis, the fuses it blows in ordinary use; set-ups made ready. It changes no answer.
#[derive(Debug, Default)]
pub(crate) struct History {
    blown: Mutex<HashMap<Key64, Vec<ElementId>>>,
    /// Set-ups made ready, with the bits of θ, the latest last.
    ready: Mutex<VecDeque<(Vec<u64>, Arc<Ready>)>>,
}

/// Paths of the faults with the bits of their severities, and the bits of θ.
type Key64 = (Vec<(String, u64)>, Vec<u64>);

fn key(hypothesis: &Hypothesis<'_>, theta: &[f64]) -> Key64 {
    let faults = hypothesis
        .faults
        .iter()
        .map(|(fault, severity)| (fault.path.clone(), severity.to_bits()))
        .collect();
    (faults, theta.iter().map(|value| value.to_bits()).collect())
}

/// What a hypothesis is broken and solved with.
#[derive(Clone, Copy)]
pub(crate) struct Shop<'a> {
    pub(crate) circuit: &'a Circuit,
    pub(crate) layout: &'a Layout,
    pub(crate) solvers: &'a Solvers,
    pub(crate) history: &'a History,
    pub(crate) theta: &'a [f64],
}

impl Shop<'_> {
    /// A set-up made ready, now or earlier.
    pub(crate) fn ready(&self, set_up: SetUp) -> Result<Arc<Ready>, NetworkError> {
        let theta: Vec<u64> = self.theta.iter().map(|value| value.to_bits()).collect();
        let known = {
            let all = self.history.ready.lock().unwrap_or_else(PoisonError::into_inner);
            all.iter()
                .rev()
                .find(|(of, ready)| *of == theta && ready.set_up == set_up)
                .map(|(_, ready)| Arc::clone(ready))
        };
        if let Some(known) = known {
            return Ok(known);
        }
        let usual = SetUp::default();
        let other = if set_up == usual {
            None
        } else {
            Some(self.ready(usual)?)
        };
        let ready = Arc::new(Ready::new(self, set_up, other.as_deref())?);
        let mut all = self.history.ready.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= READY {
            all.pop_front();
        }
        all.push_back((theta, Arc::clone(&ready)));
        Ok(ready)
    }

    /// Fuses blown when the technician arrives; `ordinary` is made ready.
    pub(crate) fn blown(
        &self,
        ordinary: &[Arc<Ready>],
        hypothesis: &Hypothesis<'_>,
    ) -> Result<Vec<ElementId>, BenchError> {
        let element = |fuse: FuseId| ElementId(self.circuit.fuses[fuse.idx()].branch.0);
        let before: Vec<ElementId> = edit::blown(hypothesis).map(element).collect();
        if self.circuit.fuses.is_empty() {
            return Ok(before);
        }
        let key = key(hypothesis, self.theta);
        let known = self
            .history
            .blown
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .get(&key)
            .cloned();
        if let Some(known) = known {
            return Ok(known);
        }
        let mut blown = self.blown_in_phases(ordinary, hypothesis, before.clone())?;
        if blown.len() > before.len() && !self.circuit.rhythms.is_empty() {
            blown = self.blown_by_the_mean(hypothesis, before)?;
        }
        blown.sort_unstable();
        blown.dedup();
        let mut remembered = self.history.blown.lock().unwrap_or_else(PoisonError::into_inner);
        if remembered.len() >= REMEMBERED {
            remembered.clear();
        }
        remembered.insert(key, blown.clone());
        Ok(blown)
    }

    /// Were each phase of what repeats to last.
    fn blown_in_phases(
        &self,
        ordinary: &[Arc<Ready>],
        hypothesis: &Hypothesis<'_>,
        mut blown: Vec<ElementId>,
    ) -> Result<Vec<ElementId>, BenchError> {
        for ready in ordinary {
            let lowered = ready.broken(self.circuit, self.layout, self.theta, hypothesis);
            let start = at_rest(&lowered, &blown);
            let solved = ready.solve(self.solvers, &lowered, &start, None);
            let Outcome::Converged(solution) = solved.map_err(|source| named(self.circuit, source))? else {
                continue;
            };
            let fuses = self.circuit.fuses.iter().map(|fuse| ElementId(fuse.branch.0));
            let new: Vec<ElementId> = fuses
                .filter(|fuse| solution.states.get(*fuse) == Some(true) && !blown.contains(fuse))
                .collect();
            blown.extend(new);
        }
        Ok(blown)
    }

    /// By the heat of what goes through the fuses while it repeats.
    fn blown_by_the_mean(
        &self,
        hypothesis: &Hypothesis<'_>,
        mut blown: Vec<ElementId>,
    ) -> Result<Vec<ElementId>, BenchError> {
        for set_up in in_use(self.circuit) {
            let passing = self.circuit.passing(&set_up);
            let prepare = |passing| Prepared::on_the_way(*self, passing);
            let prepared: Result<Vec<_>, _> = passing.iter().map(|passing| prepare(&passing.set_up)).collect();
            let prepared = prepared.map_err(|source| named(self.circuit, source))?;
            let passage = Passage::new(self.circuit, &set_up, self.theta, &passing, prepared);
            if let Ok((_, all)) = passage.settled(hypothesis, false, blown.clone())? {
                blown = all;
            }
        }
        Ok(blown)
    }

    /// The operating point of `lowered`, broken from its set-up, reached by way of the one before. `None` if it does not
    /// settle.
    pub(crate) fn reach(
        &self,
        before: Option<(&Ready, &Lowered)>,
        (ready, lowered): (&Ready, &Lowered),
        blown: &[ElementId],
    ) -> Result<Option<Solution>, NetworkError> {
        let mut start = at_rest(lowered, blown);
        if let Some((ready, first)) = before {
            let rest = at_rest(first, blown);
            if let Outcome::Converged(solution) = ready.solve(self.solvers, first, &rest, None)? {
                start = carried(&solution.states, lowered, true);
            }
        }
        Ok(ready.solve(self.solvers, lowered, &start, None)?.converged())
    }
}
