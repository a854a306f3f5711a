//! Learning from a shop's own jobs: which of them are solved, what they add up to, and how that moves the rates.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use bench::{Bench, BenchError};
use circuit::{Circuit, Fault};
use diagnosis::{Class, Done, Experience, Predictions, ProofStanding, Tally, class_of, group_of, proof, weigh};
use job::learnt::{Count, LEARNT_FILE, LearntFile, jobs_in};
use job::{Event, State, Store, StoreError, What};

use crate::facts::Facts;
use crate::mind::here;

/// Jobs gone through.
#[derive(Debug, Default)]
pub struct Counted {
    /// What the solved ones add up to.
    pub experience: Experience,
    /// Those that count, by file name.
    pub solved: Vec<String>,
    /// Those that do not, each with the reason.
    pub left_out: Vec<(String, String)>,
}

/// Goes through all jobs of a folder.
///
/// # Errors
/// [`StoreError::Io`] if the folder cannot be read. A job that cannot be read is left out.
pub fn count(folder: &Path) -> Result<Counted, StoreError> {
    let mut counted = Counted::default();
    for path in jobs_in(folder)? {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        match count_job(&path, &mut counted.experience) {
            Ok(()) => counted.solved.push(name),
            Err(why) => counted.left_out.push((name, why)),
        }
    }
    Ok(counted)
}

/// Counts one job, if its repair is proved.
fn count_job(path: &Path, experience: &mut Experience) -> Result<(), String> {
    let store = Store::open(path).map_err(|error| error.to_string())?;
    count_events(store.events(), experience)
}

/// Counts a job by its events, if its repair is proved.
///
/// # Errors
/// In words: why it does not count.
pub(crate) fn count_events(events: &[Event], experience: &mut Experience) -> Result<(), String> {
    let opened = events.iter().find_map(|event| match &event.what {
        What::Opened { circuit, .. } => Some(circuit.as_str()),
        _ => None,
    });
    let circuit =
        circuit::parse(opened.ok_or("it has no circuit")?).map_err(|_listed_elsewhere| "its circuit has mistakes")?;
    let faults = circuit::possible_faults(&circuit);
    let state = job::derive(&circuit, events);
    let facts = Facts::of(&state, &faults);
    if !facts.deeds.iter().any(|deed| matches!(deed.what, Done::Repaired(_))) {
        return Err("no repair of a known fault is noted".into());
    }
    if state.after_repair.is_empty() {
        return Err("nothing was read since the repair".into());
    }
    let bench = Bench::new(Arc::new(circuit.clone())).map_err(|error| error.to_string())?;
    count_solved(&bench, &circuit, &faults, &state, &facts, experience).map_err(|error| error.to_string())?
}

fn count_solved(
    bench: &Bench,
    circuit: &Circuit,
    faults: &[Fault],
    state: &State,
    facts: &Facts,
    experience: &mut Experience,
) -> Result<Result<(), String>, BenchError> {
    let case = facts.case();
    let mut predictions = Predictions::default();
    let now = here(state);
    let on_trial = proof(bench, circuit, faults, &case, &now, &mut predictions)?;
    if on_trial.is_none_or(|proof| proof.standing != ProofStanding::Proved) {
        return Ok(Err("its repair is not proved".into()));
    }
    let belief = weigh(bench, circuit, faults, &case, &mut predictions)?;
    experience.count(circuit, faults, &facts.intake, &belief);
    Ok(Ok(()))
}

/// As it is kept on disk.
pub fn to_file(counted: &Counted) -> LearntFile {
    let counts = counted
        .experience
        .tallies
        .iter()
        .map(|((vehicles, class), tally)| Count {
            vehicles: vehicles.clone(),
            part: class.part.clone(),
            mode: class.mode.clone(),
            seen: tally.seen,
            expected: tally.expected,
        });
    LearntFile::new(counted.solved.clone(), counts.collect())
}

/// From what is kept on disk.
pub fn from_file(file: &LearntFile) -> Experience {
    let mut experience = Experience::default();
    for count in &file.counts {
        let class = Class {
            part: count.part.clone(),
            mode: count.mode.clone(),
        };
        let tally = experience.tallies.entry((count.vehicles.clone(), class)).or_default();
        *tally = Tally {
            seen: tally.seen + count.seen,
            expected: tally.expected + count.expected,
        };
    }
    experience
}

/// Where the jobs of a folder are counted.
pub fn file_of(folder: &Path) -> PathBuf {
    folder.join(LEARNT_FILE)
}

/// What experience says of a fault: "seen here 3 times: taken 2.1 times as likely". Empty where it says next to nothing.
pub fn words(experience: &Experience, circuit: &Circuit, fault: &Fault) -> String {
    let learnt = experience.of(&group_of(circuit), &class_of(circuit, fault));
    let seen = times(learnt.seen);
    if (learnt.times - 1.0).abs() < 0.05 && learnt.seen < 0.5 {
        String::new()
    } else {
        format!("{seen}: taken {:.1} times as likely", learnt.times)
    }
}

/// How often something was seen: "seen here twice".
pub(crate) fn times(seen: f64) -> String {
    match seen.round() {
        0.0 => "not seen here yet".to_owned(),
        1.0 => "seen here once".into(),
        2.0 => "seen here twice".into(),
        times => format!("seen here {times} times"),
    }
}
