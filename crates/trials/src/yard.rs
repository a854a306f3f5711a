//! A circuit on the bench with what can break in it: where vehicles of one kind are drawn and searched.

use std::sync::Arc;

use bench::{Bench, BenchError, Test};
use circuit::{Circuit, Fault, FaultId, Mistake, SetUp, SetUpError};
use diagnosis::{Case, Intake, Predictions, offer, weigh};

use crate::circuits::BuiltIn;
use crate::wire_order::WireOrder;

/// A circuit made ready for trials.
#[derive(Debug)]
pub struct Yard {
    /// Its name in results.
    pub name: String,
    /// The circuit.
    pub circuit: Arc<Circuit>,
    /// What can break.
    pub faults: Vec<Fault>,
    /// It on the bench.
    pub bench: Bench,
    /// Chance of each fault before any reading, as the diagnosis has it.
    pub before: Vec<f64>,
    /// The same of a cause outside the circuit.
    pub outside: f64,
    /// How the vehicle stands when the complaint shows.
    pub complaint: SetUp,
    /// The engine may be cranked and run for a reading.
    pub cranking: bool,
    /// Every test within one change of the complaint's set-up: what look-alikes are told apart by.
    pub offer: Vec<Test>,
    /// Its points along the wires.
    pub(crate) wires: WireOrder,
}

/// Why a circuit cannot be tried on.
#[derive(Debug, thiserror::Error)]
pub enum YardError {
    /// The file has mistakes.
    #[error("{name} has mistakes:\n{}", list(mistakes))]
    Circuit {
        /// The file.
        name: String,
        /// Its mistakes.
        mistakes: Vec<Mistake>,
    },
    /// The set-up that shows the complaint is none of the circuit.
    #[error("{name}, complaint in \"{text}\": {source}")]
    Complaint {
        /// The file.
        name: String,
        /// The set-up's text.
        text: String,
        /// What is wrong with it.
        source: Box<SetUpError>,
    },
    /// Nothing in the circuit can break.
    #[error("{name}: nothing in this circuit can break, so there is nothing to search for")]
    NothingBreaks {
        /// The file.
        name: String,
    },
    /// The bench cannot answer.
    #[error(transparent)]
    Bench(#[from] BenchError),
}

fn list(mistakes: &[Mistake]) -> String {
    let lines: Vec<String> = mistakes.iter().map(|mistake| format!("  {mistake}")).collect();
    lines.join("\n")
}

impl Yard {
    /// Makes a circuit ready. The complaint shows in `complaint`, a set-up's text.
    ///
    /// # Errors
    /// [`YardError::Complaint`], [`YardError::NothingBreaks`], and what the bench says of the circuit.
    pub fn new(name: &str, circuit: Circuit, complaint: &str, cranking: bool) -> Result<Self, YardError> {
        let complaint = circuit::parse_set_up(&circuit, complaint).map_err(|source| YardError::Complaint {
            name: name.to_owned(),
            text: complaint.to_owned(),
            source: Box::new(source),
        })?;
        let circuit = Arc::new(circuit);
        let faults = circuit::possible_faults(&circuit);
        if faults.is_empty() {
            return Err(YardError::NothingBreaks { name: name.to_owned() });
        }
        let bench = Bench::new(Arc::clone(&circuit))?;
        let mut predictions = Predictions::default();
        let belief = weigh(
            &bench,
            &circuit,
            &faults,
            &Case::new(&Intake::default(), &[]),
            &mut predictions,
        )?;
        let before = (0..faults.len()).map(|at| belief.chance(FaultId::from(at))).collect();
        let outside = belief.outside();
        Ok(Self {
            name: name.to_owned(),
            before,
            outside,
            offer: offer(&circuit, &complaint, 1, cranking),
            wires: WireOrder::new(&circuit),
            circuit,
            faults,
            bench,
            complaint,
            cranking,
        })
    }

    /// Makes a circuit of the product ready.
    ///
    /// # Errors
    /// As [`Yard::new`], and [`YardError::Circuit`].
    pub fn built_in(of: &BuiltIn) -> Result<Self, YardError> {
        let circuit = circuit::parse(of.text).map_err(|mistakes| YardError::Circuit {
            name: of.name.to_owned(),
            mistakes,
        })?;
        Self::new(of.name, circuit, of.complaint, of.cranking)
    }
}
