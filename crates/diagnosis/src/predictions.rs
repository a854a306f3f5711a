//! What the bench has answered so far, kept between readings: a new reading costs one row of answers.
//!
//! A row is one test; in it every fault has a curve over its severity, with answers at some of the positions of its
//! [`Scale`]. Only what reasoning needs is kept of a prediction.

use std::collections::HashMap;
use std::sync::Arc;

use bench::{BenchError, Hypothesis, Kind, Placement, Predict, Prediction, Question, Test};
use circuit::{Circuit, Fault, SetUp};

use crate::severity::Scale;

/// A derivative this much smaller than the largest of its prediction is dropped: it adds a millionth to the variance.
const NEGLIGIBLE: f64 = 1e-3;

/// A memory of the bench's answers for one circuit and its list of faults. Make a new one when either changes.
#[derive(Debug, Default)]
pub struct Predictions {
    rows: Vec<Row>,
    by_test: HashMap<String, usize>,
    /// Values of the uncertain parameters around which answers were asked for.
    centres: Vec<Arc<[f64]>>,
    /// Made once for the circuit and its faults.
    unlisted: Option<Arc<[Fault]>>,
}

/// What hypotheses are made of, by their numbers.
#[derive(Clone, Debug)]
pub(crate) struct Possible<'a> {
    /// The possible faults.
    pub(crate) listed: &'a [Fault],
    /// Faults that the list does not hold, numbered after those that it does.
    pub(crate) unlisted: Arc<[Fault]>,
    /// What may be inside the modules, as changes to the circuit: at least one, without changes where all is documented.
    pub(crate) insides: Arc<[Vec<Fault>]>,
    /// Values of the uncertain parameters around which answers are linear; empty: as the file has them.
    pub(crate) centre: Arc<[f64]>,
}

impl Possible<'_> {
    /// The same around other values of the uncertain parameters.
    pub(crate) fn around(&self, centre: Arc<[f64]>) -> Self {
        Self { centre, ..self.clone() }
    }

    /// The fault of this number.
    pub(crate) fn fault(&self, number: usize) -> Option<&Fault> {
        let beyond = || self.unlisted.get(number.checked_sub(self.listed.len())?);
        self.listed.get(number).or_else(beyond)
    }

    /// All faults, by number.
    pub(crate) fn faults(&self) -> Vec<&Fault> {
        self.listed.iter().chain(self.unlisted.iter()).collect()
    }

    fn inside(&self, wanted: Wanted) -> &[Fault] {
        self.insides.get(usize::from(wanted.inside)).map_or(&[], Vec::as_slice)
    }
}

/// The answers for one test.
#[derive(Clone, Debug, Default)]
pub(crate) struct Row {
    /// By what is inside the modules.
    insides: Vec<Curves>,
    pairs: HashMap<Wanted, Cell>,
}

/// The answers for one test, the modules being alike inside.
#[derive(Clone, Debug, Default)]
struct Curves {
    healthy: Option<Cell>,
    /// Sorted by fault, and within one by position: most rows know few faults.
    faults: Vec<(usize, Vec<(u16, Cell)>)>,
}

impl Curves {
    /// Where a fault's curve is, or belongs.
    fn place(&self, fault: usize) -> Result<usize, usize> {
        // A row that knows all faults has each at its number.
        match self.faults.get(fault) {
            Some(entry) if entry.0 == fault => Ok(fault),
            _ => self.faults.binary_search_by_key(&fault, |entry| entry.0),
        }
    }
}

/// One answer.
#[derive(Clone, Debug)]
pub(crate) struct Cell {
    pub(crate) kind: Kind,
    /// What would be shown if it had no ends.
    pub(crate) value: f64,
    /// Derivative by the fault's severity, per position of its scale; `None` if the bench gave none. Of two faults by the
    /// first one's.
    pub(crate) slope: Option<f64>,
    /// Of two faults, the derivative by the second one's.
    pub(crate) second_slope: Option<f64>,
    /// As in [`Prediction`].
    pub(crate) ghost_volts: (f64, f64),
    /// (parameter, derivative by it), sorted by parameter, the negligible ones left out.
    pub(crate) by_param: Vec<(u32, f64)>,
}

/// Which hypothesis: what is inside the modules, and what is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Wanted {
    /// Position among the possible insides.
    pub(crate) inside: u16,
    pub(crate) broken: Broken,
}

/// Nothing, or faults at positions of their scales.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Broken {
    Nothing,
    One(usize, u16),
    Two([(usize, u16); 2]),
}

impl Wanted {
    /// The sound circuit as its file has it.
    pub(crate) const HEALTHY: Self = Self::healthy(0);

    pub(crate) const fn healthy(inside: u16) -> Self {
        Self {
            inside,
            broken: Broken::Nothing,
        }
    }

    /// Whether anything is.
    pub(crate) fn is_broken(&self) -> bool {
        self.broken != Broken::Nothing
    }

    /// The faults with their positions.
    fn broken(&self) -> Vec<(usize, u16)> {
        match self.broken {
            Broken::Nothing => Vec::new(),
            Broken::One(fault, position) => vec![(fault, position)],
            Broken::Two(both) => both.to_vec(),
        }
    }
}

impl Row {
    fn get(&self, wanted: Wanted) -> Option<&Cell> {
        let curves = || self.insides.get(usize::from(wanted.inside));
        match wanted.broken {
            Broken::Nothing => curves()?.healthy.as_ref(),
            Broken::One(fault, position) => {
                let curves = curves()?;
                let curve = &curves.faults[curves.place(fault).ok()?].1;
                let at = curve.binary_search_by_key(&position, |entry| entry.0).ok()?;
                Some(&curve[at].1)
            }
            Broken::Two(_) => self.pairs.get(&wanted),
        }
    }

    fn put(&mut self, wanted: Wanted, cell: Cell) {
        let inside = usize::from(wanted.inside);
        if self.insides.len() <= inside {
            self.insides.resize_with(inside + 1, Curves::default);
        }
        let curves = &mut self.insides[inside];
        match wanted.broken {
            Broken::Nothing => curves.healthy = Some(cell),
            Broken::One(fault, position) => {
                let at = curves.place(fault).unwrap_or_else(|at| {
                    curves.faults.insert(at, (fault, Vec::new()));
                    at
                });
                let curve = &mut curves.faults[at].1;
                match curve.binary_search_by_key(&position, |entry| entry.0) {
                    Ok(at) => curve[at].1 = cell,
                    Err(at) => curve.insert(at, (position, cell)),
                }
            }
            Broken::Two(_) => {
                self.pairs.insert(wanted, cell);
            }
        }
    }
}

impl Predictions {
    /// What is possible in a circuit with these faults and insides of its modules. Connections that its file does not know
    /// are looked for once.
    pub(crate) fn possible<'a>(
        &mut self,
        circuit: &Circuit,
        listed: &'a [Fault],
        insides: Arc<[Vec<Fault>]>,
    ) -> Possible<'a> {
        let make = || circuit::unlisted_bridges(circuit, listed).into();
        Possible {
            listed,
            unlisted: Arc::clone(self.unlisted.get_or_insert_with(make)),
            insides,
            centre: Arc::default(),
        }
    }

    /// The row of a test, made if it is new.
    pub(crate) fn row(&mut self, possible: &Possible<'_>, set_up: &SetUp, placement: &Placement) -> usize {
        if !self.centres.contains(&possible.centre) {
            self.centres.push(Arc::clone(&possible.centre));
        }
        *self
            .by_test
            .entry(key(&possible.centre, set_up, placement))
            .or_insert_with(|| {
                self.rows.push(Row::default());
                self.rows.len() - 1
            })
    }

    /// An answer that [`fill`](Self::fill) has been asked for.
    pub(crate) fn cell(&self, row: usize, wanted: Wanted) -> &Cell {
        self.rows[row].get(wanted).unwrap_or(&UNKNOWN)
    }

    /// Makes sure that every `wanted` is known for every placement in `set_up`, asking the bench for what is missing, and
    /// returns the placements' rows.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub(crate) fn fill(
        &mut self,
        bench: &dyn Predict,
        possible: &Possible<'_>,
        set_up: &SetUp,
        placements: &[Placement],
        wanted: &[Wanted],
    ) -> Result<Vec<usize>, BenchError> {
        let set_up = &set_up.at_rest();
        let rows: Vec<usize> = placements
            .iter()
            .map(|placement| self.row(possible, set_up, placement))
            .collect();
        let mut left: Vec<usize> = (0..placements.len()).collect();
        // Placements that lack the same are asked together: one solve of the circuit serves them all.
        while let Some(&first) = left.first() {
            let missing = self.missing(rows[first], wanted);
            let (alike, rest) = left
                .iter()
                .partition(|&&at| at == first || self.missing(rows[at], wanted) == missing);
            left = rest;
            self.ask(bench, possible, set_up, placements, &rows, &alike, &missing)?;
        }
        Ok(rows)
    }

    /// The answers for these tests as they would be with one parameter's tolerance this many times as wide.
    pub(crate) fn with_wider<'t>(&self, tests: impl Iterator<Item = &'t Test>, param: u32, times: f64) -> Self {
        let mut wider = Self {
            unlisted: self.unlisted.clone(),
            centres: self.centres.clone(),
            ..Self::default()
        };
        for test in tests {
            let (set_up, placement) = (test.set_up.at_rest(), &test.placement);
            for centre in &self.centres {
                let key = key(centre, &set_up, placement);
                let Some(&row) = self.by_test.get(&key).filter(|_| !wider.by_test.contains_key(&key)) else {
                    continue;
                };
                let mut row = self.rows[row].clone();
                let cells = row.insides.iter_mut().flat_map(|curves| {
                    let faults = curves
                        .faults
                        .iter_mut()
                        .flat_map(|entry| &mut entry.1)
                        .map(|(_, cell)| cell);
                    curves.healthy.iter_mut().chain(faults)
                });
                for cell in cells.chain(row.pairs.values_mut()) {
                    for (_, by) in cell.by_param.iter_mut().filter(|by| by.0 == param) {
                        *by *= times;
                    }
                }
                wider.by_test.insert(key, wider.rows.len());
                wider.rows.push(row);
            }
        }
        wider
    }

    fn missing(&self, row: usize, wanted: &[Wanted]) -> Vec<Wanted> {
        wanted
            .iter()
            .copied()
            .filter(|&wanted| self.rows[row].get(wanted).is_none())
            .collect()
    }

    #[expect(clippy::too_many_arguments, reason = "the question's parts, as they stand in `fill`")]
    fn ask(
        &mut self,
        bench: &dyn Predict,
        possible: &Possible<'_>,
        set_up: &SetUp,
        placements: &[Placement],
        rows: &[usize],
        alike: &[usize],
        missing: &[Wanted],
    ) -> Result<(), BenchError> {
        if missing.is_empty() {
            return Ok(());
        }
        let asked: Vec<Placement> = alike.iter().map(|&at| placements[at].clone()).collect();
        let hypotheses: Vec<Hypothesis<'_>> = missing
            .iter()
            .map(|wanted| {
                let inside = possible.inside(*wanted);
                let broken = wanted.broken().into_iter().filter_map(|(fault, position)| {
                    let fault = possible.fault(fault)?;
                    Some((fault, Scale::of(fault).severity(f64::from(position))))
                });
                Hypothesis {
                    faults: inside.iter().map(|fault| (fault, 0.0)).chain(broken).collect(),
                }
            })
            .collect();
        let question = Question {
            theta: &possible.centre,
            ..Question::new(&hypotheses, set_up, &asked)
        };
        let batch = bench.predict(question)?;
        let mut predictions = batch.predictions.into_iter();
        for wanted in missing {
            let before = possible.inside(*wanted).len();
            let scales: Vec<Scale> = wanted
                .broken()
                .into_iter()
                .filter_map(|(fault, _)| possible.fault(fault).map(Scale::of))
                .collect();
            for &at in alike {
                let cell = predictions.next().map_or_else(
                    || UNKNOWN.clone(),
                    |prediction| Cell::new(&prediction, &possible.centre, before, &scales),
                );
                self.rows[rows[at]].put(*wanted, cell);
            }
        }
        Ok(())
    }
}

/// `set_up` with nothing provoked: that changes no circuit.
fn key(centre: &[f64], set_up: &SetUp, placement: &Placement) -> String {
    format!("{placement:?} {set_up:?} {centre:?}")
}

/// What is kept where the bench said nothing.
static UNKNOWN: Cell = Cell {
    kind: Kind::Unknown,
    value: 0.0,
    slope: None,
    second_slope: None,
    ghost_volts: (0.0, 0.0),
    by_param: Vec::new(),
};

impl Cell {
    /// `centre`: where it was predicted; what it would be at 0 if it were linear is kept. `before`: changes of the hypothesis
    /// that are no faults; `scales` of those that are, after them.
    fn new(prediction: &Prediction, centre: &[f64], before: usize, scales: &[Scale]) -> Self {
        let moved: f64 = prediction.by_param.iter().zip(centre).map(|(by, at)| by * at).sum();
        let value = prediction.value + prediction.beyond - moved;
        if !value.is_finite() && prediction.kind == Kind::Number {
            return UNKNOWN.clone();
        }
        let largest = prediction.by_param.iter().fold(0.0_f64, |most, by| most.max(by.abs()));
        let by_param = prediction
            .by_param
            .iter()
            .enumerate()
            .filter(|(_, by)| by.is_finite() && by.abs() > NEGLIGIBLE * largest)
            .map(|(param, by)| (param as u32, *by))
            .collect();
        let slope = |which: usize| {
            let slope = prediction.by_severity.get(before + which)? * scales.get(which)?.per_position();
            slope.is_finite().then_some(slope)
        };
        let finite = |volts: f64| if volts.is_finite() { volts.abs() } else { 0.0 };
        Self {
            kind: prediction.kind,
            value: if value.is_finite() { value } else { 0.0 },
            slope: slope(0),
            second_slope: slope(1),
            ghost_volts: (finite(prediction.ghost_volts.0), finite(prediction.ghost_volts.1)),
            by_param,
        }
    }
}
