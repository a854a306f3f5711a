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

/// Jobs of one yard done one after the other by one worker, which share what the bench answered: that grows by some 30
/// megabytes a job.
const TOGETHER: u64 = 24;

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
    let mut done = Vec::new();
    loop {
        let batch = next.fetch_add(1, Ordering::Relaxed);
        let Some(jobs) = plan.batch(batch) else {
            return Ok(done);
        };
        let mut memory = Predictions::default();
        for number in jobs {
            match job(plan, number, &mut memory) {
                Ok(records) => done.push((number, records)),
                Err(error) => {
                    // Nobody begins another.
                    next.store(u64::MAX / 2, Ordering::Relaxed);
                    return Err(error);
                }
            }
            progress();
        }
    }
}

impl<'y> Plan<'y> {
    fn yard_of(&self, number: u64) -> Option<&'y Yard> {
        self.yards.get(number.checked_rem(self.yards.len() as u64)? as usize)
    }

    /// The jobs of a batch: a few of one yard. `None` past the last.
    fn batch(&self, batch: u64) -> Option<Vec<u64>> {
        let n_yards = self.yards.len() as u64;
        let (round, yard) = (batch.checked_div(n_yards)?, batch.checked_rem(n_yards)?);
        let first = round.checked_mul(TOGETHER)?.checked_mul(n_yards)?;
        (first < self.jobs).then(|| {
            let jobs = (0..TOGETHER).map(|at| first + at * n_yards + yard);
            jobs.filter(|number| *number < self.jobs).collect()
        })
    }
}

/// Runs one job, with each strategy of the plan. Empty without a yard.
///
/// # Errors
/// Those of the bench.
pub fn job(plan: &Plan<'_>, number: u64, memory: &mut Predictions) -> Result<Vec<Record>, BenchError> {
    let Some(yard) = plan.yard_of(number) else {
        return Ok(Vec::new());
    };
    let vehicle = Vehicle::draw(yard, plan.seed, number, plan.differs);
    let strategies = plan.strategies.iter();
    strategies.map(|&strategy| search(&vehicle, strategy, memory)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuits::BUILT_IN;

    #[test]
    fn batches_hold_every_job_once_each_of_one_circuit() {
        let yards: Vec<Yard> = BUILT_IN[..3].iter().map(|of| Yard::built_in(of).unwrap()).collect();
        let plan = Plan {
            yards: &yards,
            jobs: 100,
            seed: 0,
            strategies: Vec::new(),
            differs: None,
            threads: 1,
        };
        let batches: Vec<Vec<u64>> = (0..).map_while(|batch| plan.batch(batch)).collect();
        assert!(batches.iter().all(|jobs| jobs.iter().all(|job| job % 3 == jobs[0] % 3)));
        let mut all = batches.concat();
        all.sort_unstable();
        assert_eq!(all, (0..100).collect::<Vec<u64>>());
    }
}
