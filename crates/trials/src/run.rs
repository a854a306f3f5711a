//! Many searches on all cores.
//!
//! Each worker takes the next job and does it alone, so that a job never waits for another; which worker does it changes
//! nothing.

use std::sync::atomic::{AtomicU64, Ordering};

use bench::BenchError;
use diagnosis::Predictions;
use rayon::ThreadPoolBuilder;

use crate::differs::Differs;
use crate::search::{Record, search};
use crate::strategy::Strategy;
use crate::vehicle::Vehicle;
use crate::yard::Yard;

/// Searches of one yard that share what the bench answered, before it is forgotten: it grows by some megabytes a search.
const KEPT_FOR: usize = 8;

/// What is tried.
#[derive(Clone, Debug)]
pub struct Plan<'y> {
    /// The circuits; job `n` is of the `n`-th, counted round and round.
    pub yards: &'y [Yard],
    /// Jobs in all.
    pub jobs: u64,
    /// Every job's vehicle follows from this and its number.
    pub seed: u64,
    /// Each job is searched with each of them.
    pub strategies: Vec<Strategy>,
    /// How the vehicles differ from their files.
    pub differs: Option<Differs>,
    /// Workers; at least one.
    pub threads: usize,
}

/// What the bench answered in earlier searches of one yard, and in how many.
type Memory = (Predictions, usize);

/// Runs all jobs and gives their records by job, then strategy. `progress` is told of each job that is done.
///
/// # Errors
/// One of those of the bench; the jobs that were not begun are left.
pub fn run(plan: &Plan<'_>, progress: &(dyn Fn() + Sync)) -> Result<Vec<Record>, BenchError> {
    let next = AtomicU64::new(0);
    let mut found: Vec<(u64, Vec<Record>)> = Vec::new();
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..plan.threads.max(1))
            .map(|_| {
                scope.spawn(|| {
                    let work = || worker(plan, &next, progress);
                    // What the reasoning would spread over all cores stays on this one: all are busy already.
                    match ThreadPoolBuilder::new().num_threads(1).build() {
                        Ok(alone) => alone.install(work),
                        Err(_) => work(),
                    }
                })
            })
            .collect();
        for worker in workers {
            match worker.join() {
                Ok(records) => found.extend(records?),
                Err(defect) => std::panic::resume_unwind(defect),
            }
        }
        Ok::<(), BenchError>(())
    })?;
    found.sort_by_key(|job| job.0);
    Ok(found.into_iter().flat_map(|job| job.1).collect())
}

fn worker(
    plan: &Plan<'_>,
    next: &AtomicU64,
    progress: &(dyn Fn() + Sync),
) -> Result<Vec<(u64, Vec<Record>)>, BenchError> {
    let mut memories: Vec<Memory> = plan.yards.iter().map(|_| Memory::default()).collect();
    let mut done = Vec::new();
    loop {
        let number = next.fetch_add(1, Ordering::Relaxed);
        let Some((at, _)) = plan.yard_of(number).filter(|_| number < plan.jobs) else {
            return Ok(done);
        };
        let memory = &mut memories[at];
        if memory.1 == KEPT_FOR {
            *memory = Memory::default();
        }
        memory.1 += 1;
        match job(plan, number, &mut memory.0) {
            Ok(records) => done.push((number, records)),
            Err(error) => {
                next.store(plan.jobs, Ordering::Relaxed);
                return Err(error);
            }
        }
        progress();
    }
}

impl<'y> Plan<'y> {
    fn yard_of(&self, number: u64) -> Option<(usize, &'y Yard)> {
        let at = number.checked_rem(self.yards.len() as u64)? as usize;
        self.yards.get(at).map(|yard| (at, yard))
    }
}

/// Runs one job, with each strategy of the plan. Empty without a yard.
///
/// # Errors
/// Those of the bench.
pub fn job(plan: &Plan<'_>, number: u64, memory: &mut Predictions) -> Result<Vec<Record>, BenchError> {
    let Some((_, yard)) = plan.yard_of(number) else {
        return Ok(Vec::new());
    };
    let vehicle = Vehicle::draw(yard, plan.seed, number, plan.differs);
    let strategies = plan.strategies.iter();
    strategies.map(|&strategy| search(&vehicle, strategy, memory)).collect()
}
