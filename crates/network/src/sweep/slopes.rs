//! How what is read changes with strengths and with values of bent elements.
//!
//! With something put in by the hypothesis, a unit more at a port `q` is heard at the hypothesis' ports too, which answer:
//! the response of the changed circuit is `response_q + Σ response · (1/strength + K)⁻¹ heard_q`, and a port's strength puts
//! in what it hears. The columns of the table that give readings also give these: the adjoint network (Director, Rohrer
//! 1969) is not solved again.

use super::linear::Strengths;
use super::moved::Moved;
use super::readings::Readings;
use super::{Scratch, Sweep};
use crate::adjoint::partial;
use crate::{ElementId, Parameter};

/// What a reading may be derived by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// A port's strength: around the hypothesis' own, or around 0 where it has none there. A branch's ohms are the
    /// strength of a series port, a source's volts that of a volts port.
    Strength(usize),
    /// A value of a bent element.
    Value(ElementId, Parameter),
}

impl Sweep {
    /// Derivatives of all probes by each of `by`, in `into`, the probes of the first one first; a probe's unit by that of
    /// the strength or value. Corners and discrete states stay as they are. False, and `into` empty, if the hypothesis is
    /// beyond the sweep.
    pub fn slopes(
        &self,
        (ports, strengths, readings): (&[usize], &Strengths, &Readings),
        hypothesis: usize,
        by: &[By],
        scratch: &mut Scratch,
        into: &mut Vec<f64>,
    ) -> bool {
        into.clear();
        let (table, moved) = (&self.table, &mut scratch.moved);
        let known = self.takes(ports) && readings.beyond.get(hypothesis) == Some(&false);
        if !known || !moved.again(table, ports, strengths, readings, hypothesis) {
            return false;
        }
        for by in by {
            let from = into.len();
            into.resize(from + table.n_probes, 0.0);
            let (put, unit) = match *by {
                By::Strength(port) if port >= self.ports.len() => continue,
                By::Strength(port) => (port, moved.row(table, table.first_port + port)),
                By::Value(element, parameter) => match self.bent_value(moved, element, parameter) {
                    Some(found) => found,
                    None => continue,
                },
            };
            moved.response(table, ports.len(), put);
            for (probe, slope) in into[from..].iter_mut().enumerate() {
                *slope = unit * moved.answered(table, put, probe);
            }
        }
        true
    }

    /// The column that a value of a bent element puts into, and how much per its unit.
    fn bent_value(&self, moved: &Moved, element: ElementId, parameter: Parameter) -> Option<(usize, f64)> {
        let at = self.bent_ids.iter().position(|id| *id == element)?;
        let bent = &self.table.bent[at];
        let (point, tangent) = moved.way(at);
        let volts = moved.controls(&self.table, bent);
        let amps = (0..bent.n_controls).fold(tangent.amps, |sum, k| {
            sum + tangent.siemens[k] * (volts[k] - tangent.at[k])
        });
        let by = partial(&bent.element, parameter, false, point, tangent.siemens[0], amps, volts);
        Some((bent.column + tangent.flow, by))
    }
}
