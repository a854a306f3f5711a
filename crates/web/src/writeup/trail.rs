//! How the suspects moved: their chances after every reading and deed, in the order of the job.
//!
//! Each step is a weighing of all that was known then. Limits: in a long job several readings are one step, since a weighing
//! of many readings takes long.

use std::collections::BTreeMap;

use bench::BenchError;
use circuit::Fault;
use diagnosis::{Case, Deed, Done, Predictions};
use job::State;
use report::Block;

use super::account::{Sources, chances};
use super::blocks::table;
use super::cause::Cause;
use crate::facts::Facts;
use crate::words;

/// Up to so many readings each is a step; more are shared out over fewer steps.
const EACH: usize = 24;
const SHARED_OUT: usize = 12;
/// Suspects with a column of their own, and the least chance at some step that earns one.
const COLUMNS: usize = 5;
const NOTED: f64 = 0.03;
const LETTERS: [&str; COLUMNS] = ["A", "B", "C", "D", "E"];

/// How the suspects moved.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Trail {
    /// Those with a column, what is likeliest at the end first: what each is, in words.
    pub(super) suspects: Vec<String>,
    steps: Vec<Step>,
}

/// After a step.
#[derive(Clone, Debug, PartialEq)]
struct Step {
    /// What was read or done.
    what: String,
    /// Chances of those with a column.
    chances: Vec<f64>,
    outside: f64,
    /// Chance that the vehicle is mended, once something was done that may have mended it.
    mended: Option<f64>,
}

/// What one step adds to what is known.
#[derive(Clone, Copy)]
enum Added<'d> {
    Nothing,
    /// Readings up to this position.
    Readings(usize, usize),
    Deed(&'d Deed),
}

impl Trail {
    pub(super) fn of(
        of: &Sources<'_>,
        state: &State,
        facts: &Facts,
        causes: &[Cause],
        predictions: &mut Predictions,
    ) -> Result<Self, BenchError> {
        let case = facts.case();
        let keys = Keys::of(of.faults);
        let mut weighed: Vec<Weighed> = Vec::new();
        let (mut n_readings, mut n_deeds) = (0, 0);
        for added in steps(&case) {
            match added {
                Added::Nothing => {}
                Added::Readings(_, to) => n_readings = to,
                Added::Deed(_) => n_deeds += 1,
            }
            let known = Case {
                readings: &case.readings[..n_readings],
                deeds: &case.deeds[..n_deeds],
                ..case
            };
            let belief = diagnosis::weigh(of.bench, of.circuit, of.faults, &known, predictions)?;
            let changed = known.deeds.iter().any(|deed| deed.what.changes_circuit());
            let chances = chances(&belief);
            weighed.push(Weighed {
                what: words_of(of, state, &case, added),
                by_key: keys.sums(&chances),
                chances,
                outside: belief.outside(),
                mended: changed.then(|| belief.mended()),
            });
        }
        let columns = keys.columns(of.faults, causes, &weighed);
        let steps = weighed.iter().map(|step| Step {
            what: step.what.clone(),
            chances: columns.iter().map(|(key, _)| step.by_key[*key]).collect(),
            outside: step.outside,
            mended: step.mended,
        });
        let words = columns.iter().map(|(_, cause)| words::capital(&cause.words(of.faults)));
        Ok(Self {
            steps: steps.collect(),
            suspects: words.collect(),
        })
    }

    /// The trail as a table.
    pub(super) fn table(&self) -> Option<Block> {
        let mended = self.steps.iter().any(|step| step.mended.is_some());
        let mut columns = vec![("After", 3.4)];
        columns.extend(LETTERS.iter().take(self.suspects.len()).map(|letter| (*letter, 0.8)));
        columns.extend([("others", 0.8), ("elsewhere", 0.95)]);
        columns.extend(mended.then_some(("mended", 0.8)));
        let rows = self.steps.iter().map(|step| {
            let sum: f64 = step.chances.iter().sum();
            let others = (1.0 - sum - step.outside).max(0.0);
            let figures = step.chances.iter().copied().chain([others, step.outside]);
            let mut row = vec![words::capital(&step.what)];
            row.extend(figures.map(figure));
            row.extend(mended.then(|| step.mended.map_or_else(String::new, figure)));
            row
        });
        table(&columns, rows.collect())
    }

    /// What the letters stand for.
    pub(super) fn legend(&self) -> Block {
        let each = LETTERS.iter().zip(&self.suspects);
        let mut facts: Vec<(String, String)> = each
            .map(|(letter, words)| ((*letter).to_owned(), words.clone()))
            .collect();
        facts.push(("elsewhere".into(), "something that is not in this circuit".into()));
        Block::Facts(facts)
    }
}

/// A chance in as little room as there is, and in one piece: "57 %", "<1 %".
fn figure(chance: f64) -> String {
    let words = words::percent(chance.clamp(0.0, 1.0));
    let short = words.replace("under ", "<").replace("over ", ">");
    short.replace(' ', "\u{a0}")
}

/// What is added step by step, beginning with nothing.
fn steps<'d>(case: &Case<'d>) -> Vec<Added<'d>> {
    let n_readings = case.readings.len();
    let at_a_time = if n_readings <= EACH {
        1
    } else {
        n_readings.div_ceil(SHARED_OUT)
    };
    let mut steps = vec![Added::Nothing];
    let mut deeds = case.deeds.iter().peekable();
    let mut from = 0;
    loop {
        let stop = deeds.peek().map_or(n_readings, |deed| deed.after.min(n_readings));
        while from < stop {
            let to = (from + at_a_time).min(stop);
            steps.push(Added::Readings(from, to));
            from = to;
        }
        match deeds.next() {
            Some(deed) => steps.push(Added::Deed(deed)),
            None => return steps,
        }
    }
}

/// A step as it was weighed.
struct Weighed {
    what: String,
    /// By fault.
    chances: Vec<f64>,
    /// By repair.
    by_key: Vec<f64>,
    outside: f64,
    mended: Option<f64>,
}

/// The repairs that faults need, in the order of the faults.
struct Keys<'f> {
    keys: Vec<&'f str>,
    /// By fault: position of its repair.
    of_fault: Vec<usize>,
}

impl<'f> Keys<'f> {
    fn of(faults: &'f [Fault]) -> Self {
        let mut keys: Vec<&str> = Vec::new();
        let mut known: BTreeMap<&str, usize> = BTreeMap::new();
        let position = |fault: &'f Fault| {
            *known.entry(&fault.repair.key).or_insert_with(|| {
                keys.push(&fault.repair.key);
                keys.len() - 1
            })
        };
        let of_fault = faults.iter().map(position).collect();
        Self { keys, of_fault }
    }

    /// Chances by repair.
    fn sums(&self, chances: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0_f64; self.keys.len()];
        for (key, chance) in self.of_fault.iter().zip(chances) {
            sums[*key] = (sums[*key] + chance).min(1.0);
        }
        sums
    }

    /// The repairs that are told of by themselves, each with its cause: what is likeliest at the end first.
    fn columns(&self, faults: &[Fault], causes: &[Cause], steps: &[Weighed]) -> Vec<(usize, Cause)> {
        let at_best = |key: usize| {
            let each = steps.iter().map(|step| step.by_key[key]).enumerate();
            each.fold(
                (0.0, 0),
                |best, (at, chance)| if chance > best.0 { (chance, at) } else { best },
            )
        };
        let all = (0..self.keys.len()).map(|key| (key, at_best(key)));
        let mut noted: Vec<(usize, (f64, usize))> = all.filter(|(_, best)| best.0 >= NOTED).collect();
        noted.sort_by(|a, b| b.1.0.total_cmp(&a.1.0));
        noted.truncate(COLUMNS);
        let mut columns: Vec<(usize, Cause)> = noted
            .into_iter()
            .map(|(key, (_, at))| {
                let known = causes.iter().find(|cause| cause.key == self.keys[key]);
                let cause = known.cloned();
                (
                    key,
                    cause.unwrap_or_else(|| Cause::of_key(faults, self.keys[key], &steps[at].chances)),
                )
            })
            .collect();
        columns.sort_by(|a, b| b.1.chance.total_cmp(&a.1.chance));
        columns
    }
}

/// What was read or done in a step.
fn words_of(of: &Sources<'_>, state: &State, case: &Case<'_>, added: Added<'_>) -> String {
    let circuit = of.circuit;
    let name = |part: &circuit::PartId| circuit.parts[part.idx()].called();
    match added {
        Added::Nothing => "what was said at first".into(),
        Added::Readings(from, to) if to == from + 1 => {
            let reading = &case.readings[from];
            let at = &reading.test.placement;
            format!(
                "{to}. {}: {}",
                words::capital(&words::placement(circuit, at)),
                words::shown(circuit, at, &reading.shown)
            )
        }
        Added::Readings(from, to) => format!("readings {} to {to}", from + 1),
        Added::Deed(deed) => match &deed.what {
            Done::Swapped(part) => format!("{}: a good one put in", name(part)),
            Done::Reseated(part) => format!("{} pushed home", name(part)),
            Done::LookedAt { at, damaged } => {
                let seen = if *damaged { "damage seen" } else { "nothing seen" };
                format!("looked at {}: {seen}", name(at))
            }
            Done::Cleared => "codes cleared".into(),
            Done::Repaired(key) => {
                let repair = of.faults.iter().find(|fault| fault.repair.key == *key);
                let words = state.repairs.last().map(|repair| repair.1.as_str());
                format!(
                    "repaired: {}",
                    repair.map_or(words.unwrap_or_default(), |fault| &fault.repair.words)
                )
            }
        },
    }
}

#[cfg(test)]
mod tests {
    use diagnosis::Intake;

    use super::*;

    #[test]
    fn a_long_job_has_few_steps_and_every_reading_is_in_one() {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let reading = job::state::reading(&circuit, "key on", "scan pressure", "8.0 bar").unwrap();
        for (n, most) in [
            (0, 1),
            (1, 2),
            (EACH, EACH + 1),
            (EACH + 1, SHARED_OUT + 1),
            (200, SHARED_OUT + 1),
        ] {
            let readings = vec![reading.clone(); n];
            let deed = Deed {
                after: n / 2,
                what: Done::Cleared,
            };
            let intake = Intake::default();
            for deeds in [&[][..], std::slice::from_ref(&deed)] {
                let case = Case {
                    deeds,
                    ..Case::new(&intake, &readings)
                };
                let steps = steps(&case);
                // A deed is a step, and may cut a run of readings in two.
                assert!(steps.len() <= most + 2 * deeds.len(), "{n}: {}", steps.len());
                let mut at = 0;
                for step in &steps {
                    match step {
                        Added::Nothing => assert_eq!(at, 0),
                        Added::Readings(from, to) => {
                            assert!(*from == at && to > from);
                            at = *to;
                        }
                        Added::Deed(deed) => assert_eq!(deed.after, at),
                    }
                }
                assert_eq!(at, n);
            }
        }
    }
}
