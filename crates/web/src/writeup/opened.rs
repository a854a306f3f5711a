//! A job made ready to be written up where no page is open on it.

use std::sync::Arc;

use bench::Bench;
use circuit::{Archetype, Circuit, Fault};
use diagnosis::Experience;
use job::{Event, What};

use super::Sources;
use crate::desk::OpenError;

/// A job with its circuit on the bench.
pub struct Opened {
    circuit: Arc<Circuit>,
    faults: Vec<Fault>,
    bench: Bench,
    cautions: Vec<String>,
    events: Vec<Event>,
}

impl Opened {
    /// From a job's events; `experience`: what the shop's own jobs have taught.
    ///
    /// # Errors
    /// [`OpenError`]: the circuit in it.
    pub fn of(events: Vec<Event>, experience: &Experience) -> Result<Self, OpenError> {
        let opened = events.iter().find_map(|event| match &event.what {
            What::Opened { circuit, .. } => Some(circuit.as_str()),
            _ => None,
        });
        let text = opened.ok_or(OpenError::NoCircuit)?;
        let circuit = circuit::parse(text).map_err(|mistakes| {
            let lines: Vec<String> = mistakes.iter().map(ToString::to_string).collect();
            OpenError::Circuit(lines.join("\n"))
        })?;
        let circuit = Arc::new(circuit);
        let built_in = circuit::possible_faults(&circuit);
        Ok(Self {
            faults: experience.applied(&circuit, &built_in),
            bench: Bench::new(Arc::clone(&circuit))?,
            cautions: Archetype::read("job", text).map_or_else(|_plain| Vec::new(), |ready| ready.cautions),
            circuit,
            events,
        })
    }

    /// What is gone through.
    pub fn sources(&self) -> Sources<'_> {
        Sources {
            bench: &self.bench,
            circuit: &self.circuit,
            faults: &self.faults,
            cautions: &self.cautions,
            events: &self.events,
        }
    }
}
