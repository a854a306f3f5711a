//! The bench: a circuit, and what is kept between questions.

use std::sync::Arc;

use circuit::{At, Circuit, ParamId, Placed, SetUp};
use network::{Element, ElementId, NetworkError, Solver, States};
use rayon::prelude::*;

use crate::any_check;
use crate::attach::VOLTMETER_OHMS;
use crate::edit;
use crate::error::BenchError;
use crate::flows::leads;
use crate::fuses::{self, Fuses};
use crate::ghost::Neighbours;
use crate::history::{self, History, Ready, Shop};
use crate::lower::Layout;
use crate::lowered::Lowered;
use crate::prediction::{Batch, Flows, Hypothesis, Kind, Predict, Prediction, Question, Unsaid};
use crate::read::Case;
use crate::solvers::Solvers;
use crate::test::Placement;

/// A circuit on the bench. Shared between threads; what it keeps changes no answer.
#[derive(Debug)]
pub struct Bench {
    circuit: Arc<Circuit>,
    layout: Layout,
    neighbours: Neighbours,
    solvers: Solvers,
    history: History,
}

/// A question made ready once for all its hypotheses.
pub(crate) struct Prepared<'a> {
    pub(crate) shop: Shop<'a>,
    pub(crate) set_up: &'a SetUp,
    ordinary: Vec<Arc<Ready>>,
    before: Option<Arc<Ready>>,
    asked: Arc<Ready>,
}

impl Bench {
    /// Puts a circuit on the bench.
    ///
    /// # Errors
    /// [`BenchError::Branch`] or [`BenchError::Network`] if its values or its structure make no circuit.
    pub fn new(circuit: Arc<Circuit>) -> Result<Self, BenchError> {
        let layout = Layout::new(&circuit);
        let lowered = Lowered::healthy(&circuit, &layout, &SetUp::default(), &[]);
        Solver::new(&lowered.netlist()).map_err(|source| named(&circuit, source))?;
        let neighbours = Neighbours::new(&circuit);
        Ok(Self {
            circuit,
            layout,
            neighbours,
            solvers: Solvers::default(),
            history: History::default(),
        })
    }

    /// The circuit.
    pub fn circuit(&self) -> &Arc<Circuit> {
        &self.circuit
    }

    pub(crate) fn layout(&self) -> &Layout {
        &self.layout
    }

    pub(crate) fn prepare<'a>(&'a self, set_up: &'a SetUp, theta: &'a [f64]) -> Result<Prepared<'a>, BenchError> {
        let (circuit, layout) = (&*self.circuit, &self.layout);
        let n_params = circuit.params.len();
        let bad = |(at, value): (usize, &f64)| !value.is_finite() || at >= n_params;
        if let Some((at, &value)) = theta.iter().enumerate().find(|&(at, value)| bad((at, value))) {
            return Err(BenchError::BadParameter {
                param: ParamId::from(at),
                value,
                n_params,
            });
        }
        let shop = Shop {
            circuit,
            layout,
            solvers: &self.solvers,
            history: &self.history,
            theta,
        };
        let ready = |set_up: SetUp| shop.ready(set_up).map_err(|source| named(circuit, source));
        // A bad thing placed is an error of the question, found before any hypothesis is solved.
        let asked = ready(set_up.clone())?;
        asked.lowered.clone().place(layout, &set_up.placed)?;
        let ordinary = if circuit.fuses.is_empty() {
            Vec::new()
        } else {
            history::ordinary(circuit)
        };
        Ok(Prepared {
            shop,
            set_up,
            ordinary: ordinary.into_iter().map(ready).collect::<Result<_, _>>()?,
            before: history::before(circuit, set_up).map(ready).transpose()?,
            asked,
        })
    }

    fn check(&self, question: &Question<'_>) -> Result<(), BenchError> {
        let circuit = &*self.circuit;
        let at = At::centre(circuit, question.set_up);
        question
            .hypotheses
            .iter()
            .try_for_each(|hypothesis| edit::check(&at, hypothesis))?;
        for placement in question.placements {
            for point in leads(placement).into_iter().flat_map(|(red, black)| [red, black]) {
                if point.idx() >= circuit.points.len() {
                    return Err(BenchError::NoSuchPoint {
                        point,
                        n_points: circuit.points.len(),
                    });
                }
            }
            match *placement {
                Placement::Clamp { around: branch } if branch.idx() >= circuit.branches.len() => {
                    return Err(BenchError::NoSuchBranch {
                        branch,
                        n_branches: circuit.branches.len(),
                    });
                }
                Placement::Scan { channel } if channel.idx() >= circuit.channels.len() => {
                    return Err(BenchError::NoSuchChannel { channel });
                }
                Placement::Code { monitor } if monitor.idx() >= circuit.monitors.len() => {
                    return Err(BenchError::NoSuchMonitor { monitor });
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn case<'a>(&'a self, prepared: &Prepared<'a>, hypothesis: &Hypothesis<'_>, solved: Solved) -> Case<'a> {
        Case {
            shop: prepared.shop,
            neighbours: &self.neighbours,
            set_up: prepared.set_up,
            ready: Arc::clone(&prepared.asked),
            lowered: solved.lowered,
            base: solved.solution,
            n_faults: hypothesis.faults.len(),
        }
    }

    fn one(
        &self,
        prepared: &Prepared<'_>,
        question: &Question<'_>,
        hypothesis: &Hypothesis<'_>,
    ) -> Result<Vec<(Prediction, Flows)>, BenchError> {
        if let Some(solved) = prepared.solve(hypothesis, true)? {
            let bare = if question.clips_in() {
                prepared.solve(hypothesis, false)?
            } else {
                None
            };
            let bare = bare.as_ref().map(|bare| &bare.solution.states);
            return self.readings(prepared, question, hypothesis, solved, bare);
        }
        let unknown = (self.unknown(hypothesis, Unsaid::Unsettled), self.no_flows(question));
        Ok(vec![unknown; question.placements.len()])
    }

    /// What is shown and what flows in one state; `bare` is what acts without what the set-up clips in, if it does.
    pub(crate) fn readings(
        &self,
        prepared: &Prepared<'_>,
        question: &Question<'_>,
        hypothesis: &Hypothesis<'_>,
        mut solved: Solved,
        bare: Option<&States>,
    ) -> Result<Vec<(Prediction, Flows)>, BenchError> {
        let elements = std::mem::take(&mut solved.placed);
        let placed: Vec<(Placed, ElementId)> = question.set_up.placed.iter().cloned().zip(elements).collect();
        let case = self.case(prepared, hypothesis, solved);
        question
            .placements
            .iter()
            .map(|placement| {
                let (prediction, tool) = case.read(placement)?;
                let flows = if !question.with_flows {
                    Flows::default()
                } else if prediction.kind == Kind::Unknown {
                    self.no_flows(question)
                } else {
                    case.flows(placement, &prediction, tool.as_ref(), &placed, bare)
                };
                Ok((prediction, flows))
            })
            .collect()
    }

    /// One hypothesis solved, with a tool in place if one is given; of what repeats, in its first phase. `None` if it does not
    /// settle.
    pub(crate) fn solved(
        &self,
        hypothesis: &Hypothesis<'_>,
        set_up: &SetUp,
        theta: &[f64],
        tool: Option<&Placement>,
    ) -> Result<Option<Exported>, BenchError> {
        let hypotheses = std::slice::from_ref(hypothesis);
        let placements = tool.map(std::slice::from_ref).unwrap_or_default();
        self.check(&Question {
            hypotheses,
            set_up,
            placements,
            theta,
            with_flows: false,
        })?;
        let passing = self.circuit.passing(set_up);
        let set_up = passing.first().map_or(set_up, |passing| &passing.set_up);
        let prepared = self.prepare(set_up, theta)?;
        let Some(solved) = prepared.solve(hypothesis, true)? else {
            return Ok(None);
        };
        let case = self.case(&prepared, hypothesis, solved);
        let Some(tool) = tool else {
            return Ok(Some(Exported {
                lowered: case.lowered,
                solution: case.base,
                tool_left_out: false,
            }));
        };
        let (prediction, with_tool) = case.read(tool)?;
        Ok(match with_tool {
            Some(tool) => Some(Exported {
                lowered: tool.lowered,
                solution: tool.solution,
                tool_left_out: false,
            }),
            None if prediction.kind == Kind::Unknown => None,
            None => Some(Exported {
                lowered: case.lowered,
                solution: case.base,
                tool_left_out: true,
            }),
        })
    }

    pub(crate) fn unknown(&self, hypothesis: &Hypothesis<'_>, unsaid: Unsaid) -> Prediction {
        Prediction {
            kind: Kind::Unknown,
            value: 0.0,
            beyond: 0.0,
            by_param: vec![0.0; self.circuit.params.len()],
            by_severity: vec![0.0; hypothesis.faults.len()],
            source_ohms: 0.0,
            ghost_volts: (0.0, 0.0),
            unsaid: Some(unsaid),
        }
    }

    /// Zeros of the right shape, for what did not settle.
    pub(crate) fn no_flows(&self, question: &Question<'_>) -> Flows {
        Flows {
            branch_amps: vec![0.0; self.circuit.branches.len()],
            point_volts: vec![0.0; self.circuit.points.len()],
            placed: vec![(0.0, 0.0); question.set_up.placed.len()],
            ..Flows::default()
        }
    }
}

/// What an export is made of.
pub(crate) struct Exported {
    pub(crate) lowered: Lowered,
    pub(crate) solution: network::Solution,
    /// The tool loads so little that it is not in the netlist.
    pub(crate) tool_left_out: bool,
}

impl Exported {
    /// Puts the tool in where it was left out for loading so little: a voltmeter.
    pub(crate) fn put_in(&mut self, layout: &Layout, tool: Option<&Placement>) {
        if let (Some((red, black)), true) = (tool.and_then(leads), self.tool_left_out) {
            self.lowered.append(Element::Resistor {
                a: layout.node(red),
                b: layout.node(black),
                ohms: VOLTMETER_OHMS,
            });
            self.tool_left_out = false;
        }
    }
}

/// A hypothesis solved in the asked set-up.
pub(crate) struct Solved {
    pub(crate) lowered: Lowered,
    pub(crate) solution: network::Solution,
    /// Elements of what the set-up clips in.
    pub(crate) placed: Vec<ElementId>,
    /// Ratings of the fuses that were made to hold, amperes.
    pub(crate) ratings: Vec<(ElementId, f64)>,
}

impl<'a> Prepared<'a> {
    /// A set-up of ordinary use, to which no other leads.
    pub(crate) fn on_the_way(shop: Shop<'a>, set_up: &'a SetUp) -> Result<Self, NetworkError> {
        Ok(Self {
            shop,
            set_up,
            ordinary: Vec::new(),
            before: None,
            asked: shop.ready(set_up.clone())?,
        })
    }

    /// The set-ups on the way to the asked one: those of ordinary use, and the one before (true).
    pub(crate) fn stages(&self) -> impl Iterator<Item = (&Ready, bool)> {
        let ordinary = self.ordinary.iter().map(|ready| (&**ready, false));
        ordinary.chain(self.before.iter().map(|ready| (&**ready, true)))
    }

    /// Fuses blown when the technician arrives.
    pub(crate) fn blown(&self, hypothesis: &Hypothesis<'_>) -> Result<Vec<ElementId>, BenchError> {
        self.shop.blown(&self.ordinary, hypothesis)
    }

    /// Breaks and solves, with what the set-up clips in or without. `None` if it does not settle.
    pub(crate) fn solve(&self, hypothesis: &Hypothesis<'_>, with_placed: bool) -> Result<Option<Solved>, BenchError> {
        let blown = self.blown(hypothesis)?;
        self.solve_with(hypothesis, with_placed, &blown, Fuses::AsRated)
    }

    /// The same with these fuses blown.
    pub(crate) fn solve_with(
        &self,
        hypothesis: &Hypothesis<'_>,
        with_placed: bool,
        blown: &[ElementId],
        fuses: Fuses,
    ) -> Result<Option<Solved>, BenchError> {
        let Shop {
            circuit, layout, theta, ..
        } = self.shop;
        let mut before = match &self.before {
            Some(ready) => {
                // Nothing is clipped in before the key is where it is asked to be.
                let before = ready.broken(circuit, layout, theta, hypothesis);
                Some((&**ready, before))
            }
            None => None,
        };
        let mut lowered = self.asked.broken(circuit, layout, theta, hypothesis);
        let things = if with_placed { &self.set_up.placed[..] } else { &[] };
        let placed = lowered.place(layout, things)?;
        let mut ratings = Vec::new();
        if fuses == Fuses::Holding {
            ratings = fuses::hold(&mut lowered);
            if let Some((_, before)) = &mut before {
                fuses::hold(before);
            }
        }
        let before = before.as_ref().map(|(ready, lowered)| (*ready, lowered));
        let solution = self
            .shop
            .reach(before, (&self.asked, &lowered), blown)
            .map_err(|source| named(circuit, source))?;
        Ok(solution.map(|solution| Solved {
            lowered,
            solution,
            placed,
            ratings,
        }))
    }
}

/// An error of the network in the circuit's words.
pub(crate) fn named(circuit: &Circuit, source: NetworkError) -> BenchError {
    let at = match &source {
        NetworkError::BadValue { element, .. } => Some(element.0 as usize),
        NetworkError::IdealSourceLoop { elements } => elements.first().map(|element| element.0 as usize),
        _ => None,
    };
    match at.and_then(|at| circuit.branches.get(at)) {
        Some(branch) => BenchError::Branch {
            path: branch.path.clone(),
            source,
        },
        None => BenchError::Network { source },
    }
}

/// What `one` answers for each hypothesis, in their order.
pub(crate) fn for_each(
    question: &Question<'_>,
    one: impl Fn(&Hypothesis<'_>) -> Result<Vec<(Prediction, Flows)>, BenchError> + Sync + Send,
) -> Result<Batch, BenchError> {
    let rows: Vec<_> = question.hypotheses.par_iter().map(one).collect::<Result<_, _>>()?;
    let mut batch = Batch::default();
    for (prediction, flows) in rows.into_iter().flatten() {
        batch.predictions.push(prediction);
        if question.with_flows {
            batch.flows.push(flows);
        }
    }
    Ok(batch)
}

impl Bench {
    fn answer(&self, question: &Question<'_>) -> Result<Batch, BenchError> {
        self.check(question)?;
        let passing = self.circuit.passing(question.set_up);
        let of_time = |placement: &Placement| {
            matches!(placement, Placement::Alternating { .. }) || self.counting(placement).is_some()
        };
        if passing.len() > 1 || question.placements.iter().any(of_time) {
            return self.predict_passing(question, &passing);
        }
        // What is on or off all the time is held there.
        let set_up = passing.first().map_or(question.set_up, |passing| &passing.set_up);
        let prepared = self.prepare(set_up, question.theta)?;
        for_each(question, |hypothesis| self.one(&prepared, question, hypothesis))
    }
}

impl Predict for Bench {
    fn predict(&self, question: Question<'_>) -> Result<Batch, BenchError> {
        // A code is set by any of its checks: those that were not asked are asked as well.
        let asked = question.placements;
        let others: Vec<Vec<Placement>> = asked.iter().map(|one| any_check::others(&self.circuit, one)).collect();
        if others.iter().all(Vec::is_empty) {
            return self.answer(&question);
        }
        let placements: Vec<Placement> = asked.iter().chain(others.iter().flatten()).cloned().collect();
        let batch = self.answer(&Question {
            placements: &placements,
            ..question
        })?;
        let mut flows = batch.flows.into_iter();
        let mut predictions = batch.predictions.into_iter();
        let mut merged = Batch::default();
        while predictions.len() > 0 {
            let own: Vec<Prediction> = predictions.by_ref().take(asked.len()).collect();
            for ((own, placement), others) in own.into_iter().zip(asked).zip(&others) {
                let others = others.iter().cloned().zip(predictions.by_ref());
                merged
                    .predictions
                    .push(any_check::merged(&self.circuit, placement, own, others.collect()));
            }
            let all: Vec<Flows> = flows.by_ref().take(placements.len()).collect();
            merged.flows.extend(all.into_iter().take(asked.len()));
        }
        Ok(merged)
    }
}
