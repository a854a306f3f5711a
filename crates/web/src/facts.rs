//! What a job's state tells the reasoning.

use bench::Reading;
use circuit::{Circuit, Fault, PartKind};
use diagnosis::{Case, Costs, Deed, Done, Intake};
use job::{Act, Did, Said, State};

use crate::view::ActView;
use crate::words;

/// All that is known of a vehicle, as the reasoning takes it.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// Before any reading.
    pub intake: Intake,
    /// Readings, in the order in which they were taken.
    pub readings: Vec<Reading>,
    /// What was done between them.
    pub deeds: Vec<Deed>,
    /// Readings of a sound vehicle of the same kind.
    pub twin: Vec<Reading>,
    /// What the customer has agreed to, in the shop's money, where a limit was set.
    pub authorised: Option<f64>,
}

impl Facts {
    /// From a job. What came after a repair of which nobody knows what it would cure says nothing of the vehicle as it
    /// came, and is left out.
    pub fn of(state: &State, faults: &[Fault]) -> Self {
        let mut deeds = Vec::new();
        let mut until = usize::MAX;
        for act in &state.acts {
            let Some(what) = done(&act.did, faults) else {
                until = act.after;
                break;
            };
            deeds.push(Deed { after: act.after, what });
        }
        Self {
            intake: Intake {
                replaced: state.replaced.clone(),
                disturbed: state.disturbed.clone(),
                accessories: state.accessories.clone(),
                water: state.water,
                accident: state.accident,
                comes_and_goes: state.comes_and_goes,
            },
            readings: state.entries().take(until).map(|entry| entry.reading.clone()).collect(),
            deeds,
            twin: state.twin.iter().map(|entry| entry.reading.clone()).collect(),
            authorised: state.authorised,
        }
    }

    /// What this job costs.
    pub fn costs(&self) -> Costs {
        Costs {
            authorised: self.authorised,
            ..Costs::default()
        }
    }

    /// What the reasoning is asked with.
    pub fn case(&self) -> Case<'_> {
        Case {
            intake: &self.intake,
            readings: &self.readings,
            deeds: &self.deeds,
            twin: &self.twin,
        }
    }
}

/// What was done, as the reasoning knows it; `None` for a repair whose fault is not one of these.
pub fn done(did: &Did, faults: &[Fault]) -> Option<Done> {
    Some(match did {
        Did::Swapped(part) => Done::Swapped(*part),
        Did::Reseated(part) => Done::Reseated(*part),
        Did::Looked { at, damaged } => Done::LookedAt {
            at: *at,
            damaged: *damaged,
        },
        Did::Cleared => Done::Cleared,
        Did::Repaired(path) => {
            let fault = circuit::fault_by_path(faults, path.as_deref()?).ok()?;
            Done::Repaired(faults[fault.idx()].repair.key.clone())
        }
    })
}

/// What was done and written down beside the readings, deeds first.
pub(crate) fn told(circuit: &Circuit, faults: &[Fault], state: &State) -> Vec<ActView> {
    let acts = state.acts.iter().map(|act| ActView {
        event: act.event.clone(),
        at_ms: act.at_ms,
        words: words_of(circuit, faults, state, act),
    });
    let remarks = state.remarks.iter().map(|remark| ActView {
        event: remark.event.clone(),
        at_ms: remark.at_ms,
        words: match &remark.said {
            Said::Note(words) => words.clone(),
            Said::Code(code, shown, seen) => {
                let seen = if seen.is_empty() {
                    String::new()
                } else {
                    format!(" ({seen})")
                };
                format!("Code {code} {shown}{seen}. This circuit has no check that sets {code}: it is not weighed.")
            }
        },
    });
    acts.chain(remarks).collect()
}

/// What was done, in words.
fn words_of(circuit: &Circuit, faults: &[Fault], state: &State, act: &Act) -> String {
    let name = |part: &circuit::PartId| {
        let part = &circuit.parts[part.idx()];
        match part.kind {
            PartKind::Wire(_) if part.called() != part.id => format!("{} {}", part.called(), part.id),
            _ => part.called().to_owned(),
        }
    };
    words::capital(&match &act.did {
        Did::Swapped(part) => format!("{}: a part known to be good put in", name(part)),
        Did::Reseated(part) => format!("{} pulled and pushed home", name(part)),
        Did::Looked { at, damaged: true } => format!("looked closely at {}: damage seen", name(at)),
        Did::Looked { at, damaged: false } => format!("looked closely at {}: nothing seen", name(at)),
        Did::Cleared => "codes cleared".into(),
        Did::Repaired(path) => {
            let noted = state.repairs.iter().find(|(event, _, _)| *event == act.event);
            // Noted as a deed it has no words of its own: those of its fault's repair stand for them.
            let known = || circuit::fault_by_path(faults, path.as_deref()?).ok();
            let words = noted
                .map(|(_, words, _)| words.as_str())
                .filter(|words| !words.trim().is_empty());
            let words = words.or_else(|| Some(&*faults[known()?.idx()].repair.words));
            format!("repaired: {}", words.unwrap_or("it is not said what"))
        }
    })
}

#[cfg(test)]
mod tests {
    use job::{Event, What};

    use super::*;

    /// A reading, a repair of `fault`, another reading.
    fn repaired(fault: Option<&str>) -> Facts {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let reading = || What::Reading {
            set_up: "key on".into(),
            test: "scan pressure".into(),
            shown: "32.0 bar".into(),
            twin: false,
        };
        let repair = What::Repair {
            words: "done".into(),
            fault: fault.map(str::to_owned),
        };
        let events: Vec<Event> = [reading(), repair, reading()]
            .into_iter()
            .zip(1..)
            .map(|(what, sequence)| Event {
                id: sequence.to_string(),
                device: "bench".into(),
                sequence,
                at_ms: 0,
                what,
            })
            .collect();
        Facts::of(&job::derive(&circuit, &events), &circuit::possible_faults(&circuit))
    }

    #[test]
    fn readings_after_a_repair_count_where_it_is_known_what_it_cures() {
        let known = repaired(Some("floor/water"));
        assert_eq!((known.readings.len(), known.deeds.len()), (2, 1));
        assert_eq!(known.case().current_readings().len(), 1);
        let unknown = repaired(None);
        assert_eq!((unknown.readings.len(), unknown.deeds.len()), (1, 0));
    }
}
