//! The shop's solved jobs beside a job: what they make of the failure rates, this job counted among them, and the switch.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use circuit::{Circuit, Fault};
use diagnosis::{Class, Experience, class_of, group_of};
use job::learnt::LearntFile;
use job::{Event, StoreError};
use serde::{Deserialize, Serialize};

use crate::learning::{self, Counted};

/// Kinds of fault that are told of at most.
const MOST_TOLD: usize = 4;

/// The shop's solved jobs.
#[derive(Debug)]
pub(crate) struct Shop {
    /// The job on the bench.
    job: PathBuf,
    /// What can break, at the built-in rates.
    built_in: Arc<[Fault]>,
    learnt: Learnt,
    /// Whether they are used.
    on: bool,
}

/// What the solved jobs add up to.
#[derive(Debug)]
struct Learnt {
    jobs: Vec<String>,
    experience: Experience,
    /// What can break, at the rates that they make.
    faults: Arc<[Fault]>,
}

/// The shop's solved jobs, as the page is told.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ShopView {
    /// How many there are.
    jobs: usize,
    /// Whether they shape the chances.
    on: bool,
    /// This job is one of them.
    counted: bool,
    /// What they say of this circuit.
    effect: Vec<String>,
}

/// What is to be done with them.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(crate) enum ShopOrder {
    /// Use them, or leave them out.
    Use(bool),
    /// Count this job among them.
    Count {},
}

impl Shop {
    /// The solved jobs beside this one; used at first if `on`.
    ///
    /// # Errors
    /// [`StoreError`], if their file is there and cannot be read.
    pub(crate) fn beside(job: &Path, circuit: &Circuit, on: bool) -> Result<Self, StoreError> {
        let built_in: Arc<[Fault]> = circuit::possible_faults(circuit).into();
        let file = match file_beside(job) {
            Some(file) => LearntFile::read(&file)?,
            None => None,
        };
        Ok(Self {
            job: job.to_owned(),
            learnt: learnt(circuit, &built_in, file.as_ref()),
            built_in,
            on,
        })
    }

    /// What can break, at the rates in use.
    pub(crate) fn faults(&self) -> Arc<[Fault]> {
        Arc::clone(if self.on { &self.learnt.faults } else { &self.built_in })
    }

    pub(crate) fn turn(&mut self, on: bool) {
        self.on = on;
    }

    /// Where the job is.
    pub(crate) fn job(&self) -> PathBuf {
        self.job.clone()
    }

    /// Takes over what was counted.
    pub(crate) fn take(&mut self, circuit: &Circuit, file: &LearntFile) {
        self.learnt = learnt(circuit, &self.built_in, Some(file));
        self.on = true;
    }

    /// What they say of a fault; empty where they say next to nothing or are not used.
    pub(crate) fn words(&self, circuit: &Circuit, fault: &Fault) -> String {
        if self.on {
            learning::words(&self.learnt.experience, circuit, fault)
        } else {
            String::new()
        }
    }

    pub(crate) fn view(&self, circuit: &Circuit) -> ShopView {
        let Learnt { jobs, experience, .. } = &self.learnt;
        let group = group_of(circuit);
        let mut classes: Vec<Class> = self.built_in.iter().map(|fault| class_of(circuit, fault)).collect();
        classes.sort_unstable();
        classes.dedup();
        let mut told: Vec<_> = classes
            .iter()
            .map(|class| (class, experience.of(&group, class)))
            .filter(|one| one.1.seen >= 0.5)
            .collect();
        told.sort_by(|a, b| b.1.seen.total_cmp(&a.1.seen));
        let words = |(class, learnt): &(&Class, diagnosis::Learnt)| {
            let seen = learning::times(learnt.seen);
            format!(
                "{}, {}: {seen}, taken {:.1} times as likely",
                class.part, class.mode, learnt.times
            )
        };
        ShopView {
            jobs: jobs.len(),
            on: self.on,
            counted: name(&self.job).is_some_and(|name| jobs.contains(&name)),
            effect: told.iter().take(MOST_TOLD).map(words).collect(),
        }
    }
}

/// Counts a job, given by its events, among the solved ones beside it.
///
/// # Errors
/// In words: what keeps it from counting, or the disk.
pub(crate) fn count(job: &Path, events: &[Event]) -> Result<LearntFile, String> {
    let (Some(path), Some(name)) = (file_beside(job), name(job)) else {
        return Err("this job lies in no folder".into());
    };
    let kept = |error: StoreError| error.to_string();
    let file = LearntFile::read(&path).map_err(kept)?;
    let mut solved = file.as_ref().map_or_else(Vec::new, |file| file.jobs.clone());
    if solved.contains(&name) {
        return Err("this job is counted already".into());
    }
    let mut experience = file.as_ref().map(learning::from_file).unwrap_or_default();
    learning::count_events(events, &mut experience)?;
    solved.push(name);
    solved.sort();
    let file = learning::to_file(&Counted {
        experience,
        solved,
        left_out: Vec::new(),
    });
    file.write(&path).map_err(kept)?;
    Ok(file)
}

fn file_beside(job: &Path) -> Option<PathBuf> {
    job.parent().map(learning::file_of)
}

fn name(job: &Path) -> Option<String> {
    Some(job.file_name()?.to_string_lossy().into_owned())
}

fn learnt(circuit: &Circuit, built_in: &[Fault], file: Option<&LearntFile>) -> Learnt {
    let experience = file.map(learning::from_file).unwrap_or_default();
    Learnt {
        jobs: file.map_or_else(Vec::new, |file| file.jobs.clone()),
        faults: experience.applied(circuit, built_in).into(),
        experience,
    }
}
