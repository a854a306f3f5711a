//! Everything weighed but what is outside, and how far it is looked: single faults first; those that come and go, connections
//! that the file does not know, and two faults at once where these explain the readings badly.

use bench::BenchError;

use super::findings;
use super::integral::{Integral, log_sum};
use super::outside::Outside;
use super::pairs::{Pair, Pairs};
use super::ways::{self, Way};
use super::weighing::Weighing;
use crate::{ahead, prior};

/// Everything weighed but what is outside.
pub(crate) struct Causes {
    pub(crate) ways: Vec<Way>,
    /// Logarithm of the chance of each before any reading.
    pub(crate) log_before: Vec<f64>,
    pub(crate) integrals: Vec<Integral>,
    pub(crate) pairs: Vec<Pair>,
    /// Logarithm of the most that the pairs left out may weigh, and how many there are in all.
    pub(crate) left_out: (f64, usize),
    /// Logarithm of the chance before any reading of a cause outside the circuit that is no bridge of known points.
    pub(crate) outside_before: f64,
}

/// Chances of everything weighed.
pub(crate) struct Chances {
    pub(crate) ways: Vec<f64>,
    pub(crate) pairs: Vec<f64>,
    pub(crate) outside: f64,
}

/// If a cause outside is at least this likely, or the readings of the likeliest way are wrong with at least this chance, what
/// was weighed first does not explain them.
const BADLY_OUTSIDE: f64 = 0.12;
const BADLY_WRONG: f64 = 0.25;

impl Causes {
    /// Single faults of the list, as far as they stay.
    pub(crate) fn new(
        weighing: &mut Weighing<'_, '_>,
        before: &[f64],
        insides: &[f64],
        outside: &Outside,
    ) -> Result<Self, BenchError> {
        let mut causes = Self {
            ways: Vec::new(),
            log_before: Vec::new(),
            integrals: Vec::new(),
            pairs: Vec::new(),
            left_out: (f64::NEG_INFINITY, 0),
            outside_before: prior::OUTSIDE.ln(),
        };
        let listed = 0..before.len();
        let ways = weighing.ways(listed, insides, false);
        let log_before = ways.iter().map(|way| before[way.fault].ln() + way.log_share).collect();
        causes.add(weighing, ways, log_before, outside)?;
        Ok(causes)
    }

    pub(crate) fn add(
        &mut self,
        weighing: &mut Weighing<'_, '_>,
        ways: Vec<Way>,
        log_before: Vec<f64>,
        outside: &Outside,
    ) -> Result<(), BenchError> {
        let integrals = weighing.integrals(&ways, &log_before, self.total_log(outside))?;
        self.ways.extend(ways);
        self.log_before.extend(log_before);
        self.integrals.extend(integrals);
        Ok(())
    }

    /// The same faults, as far as they come and go.
    pub(crate) fn let_come_and_go(
        &mut self,
        weighing: &mut Weighing<'_, '_>,
        before: &[f64],
        insides: &[f64],
        outside: &Outside,
    ) -> Result<(), BenchError> {
        let comes: Vec<f64> = weighing.faults[..before.len()]
            .iter()
            .map(|fault| ways::share_that_comes(fault, weighing.case.intake))
            .collect();
        for (way, log_before) in self.ways.iter().zip(&mut self.log_before) {
            *log_before += (1.0 - comes[way.fault]).ln();
        }
        let ways = weighing.ways(0..before.len(), insides, true);
        let log_before = ways
            .iter()
            .map(|way| (before[way.fault] * comes[way.fault]).ln() + way.log_share)
            .collect();
        self.add(weighing, ways, log_before, outside)
    }

    /// Connections that the circuit file does not know, and two things wrong at once.
    pub(crate) fn look_further(
        &mut self,
        weighing: &mut Weighing<'_, '_>,
        before: &[f64],
        insides: &[f64],
        outside: &Outside,
    ) -> Result<(), BenchError> {
        let unlisted = before.len()..weighing.faults.len();
        if !unlisted.is_empty() {
            self.outside_before = (prior::OUTSIDE - prior::UNLISTED).ln();
            let each = prior::UNLISTED / unlisted.len() as f64;
            weighing.ask(&ahead::ends_of(
                &weighing.faults,
                unlisted.clone(),
                insides.len() as u16,
            ))?;
            let comes = ways::share_outside(weighing.case.intake);
            for (comes_and_goes, share) in [(false, 1.0 - comes), (true, comes)] {
                if share > 0.0 {
                    let ways = weighing.ways(unlisted.clone(), insides, comes_and_goes);
                    let log_before = ways.iter().map(|way| (each * share).ln() + way.log_share).collect();
                    self.add(weighing, ways, log_before, outside)?;
                }
            }
        }
        if !self.explains_badly(weighing, outside) {
            return Ok(());
        }
        // In pairs each fault is as it most likely was, and so are the insides.
        let inside = self.likeliest_inside(insides.len(), outside);
        let mut members: Vec<(Way, f64, &Integral)> = Vec::new();
        for ((way, log_before), integral) in self.ways.iter().zip(&self.log_before).zip(&self.integrals) {
            if way.inside != inside || way.course.comes_and_goes || !log_before.is_finite() {
                continue;
            }
            match members.last_mut().filter(|last| last.0.fault == way.fault) {
                Some(last) if last.1 < *log_before => *last = (*way, *log_before, integral),
                Some(_) => {}
                None => members.push((*way, *log_before, integral)),
            }
        }
        let pairs = Pairs::weigh(weighing, &members, before.len(), self.total_log(outside))?;
        self.left_out = (pairs.left_out, pairs.n);
        self.pairs = pairs.kept;
        Ok(())
    }

    pub(crate) fn total_log(&self, outside: &Outside) -> f64 {
        let each = self.integrals.iter().zip(&self.log_before);
        let weights = each.map(|(integral, before)| integral.log + before);
        let pairs = self.pairs.iter().map(|pair| pair.log_before + pair.log);
        log_sum(weights.chain(pairs).chain([outside.log + self.outside_before]))
    }

    pub(crate) fn chances(&self, outside: &Outside) -> Chances {
        let total = self.total_log(outside);
        let each = self.integrals.iter().zip(&self.log_before);
        Chances {
            ways: each
                .map(|(integral, before)| (integral.log + before - total).exp())
                .collect(),
            pairs: self
                .pairs
                .iter()
                .map(|pair| (pair.log_before + pair.log - total).exp())
                .collect(),
            outside: (outside.log + self.outside_before - total).exp(),
        }
    }

    /// Chance of each of so many insides of the modules.
    pub(crate) fn of_insides(&self, n: usize, outside: &Outside) -> Vec<f64> {
        let mut sums = vec![0.0; n];
        let chances = self.chances(outside);
        let of_pairs = self.pairs.iter().map(|pair| pair.ways[0]).zip(chances.pairs);
        for (way, chance) in self.ways.iter().copied().zip(chances.ways).chain(of_pairs) {
            sums[usize::from(way.inside)] += chance;
        }
        for one in &outside.shares {
            sums[usize::from(one.inside)] += chances.outside * (one.log - outside.log).exp();
        }
        sums
    }

    pub(crate) fn likeliest_inside(&self, n: usize, outside: &Outside) -> u16 {
        let chances = self.of_insides(n, outside);
        let best = chances.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
        best.map_or(0, |(inside, _)| inside as u16)
    }

    /// Whether faults that come and go have to be looked at: somebody said so, tried to make one show, or what stays
    /// explains the readings badly. Else a fault that comes and goes shows as one that stays.
    pub(crate) fn may_come_and_go(&self, weighing: &Weighing<'_, '_>, outside: &Outside) -> bool {
        let provoked = weighing.body.evidence.iter().any(|one| one.at.provoked.is_some());
        let said = weighing.case.intake.comes_and_goes == Some(true);
        !weighing.body.evidence.is_empty() && (provoked || said || self.explains_badly(weighing, outside))
    }

    /// Whether what was weighed so far needs wrong readings, or a cause outside the circuit.
    pub(crate) fn explains_badly(&self, weighing: &Weighing<'_, '_>, outside: &Outside) -> bool {
        if weighing.body.evidence.is_empty() {
            return false;
        }
        let chances = self.chances(outside);
        if chances.outside > BADLY_OUTSIDE {
            return true;
        }
        let best = chances.ways.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
        let Some((best, _)) = best else { return true };
        findings::wrong_at_best(weighing.ground(), &self.ways[best], &self.integrals[best]) > BADLY_WRONG
    }
}
