//! A job over finitely many vehicles and tests of certain outcomes: what the best way of searching costs, exactly, and what
//! the product's rule costs on the same table.
//!
//! All ways count alike: minutes by where the last test was, repairs in the cheapest order at the end ([`Costs`]). The
//! optimum is that of dynamic programming over (vehicles still possible, last test), as Pattipati and Alexandridis (IEEE
//! Trans. SMC 20(4), 1990) have it for the search alone; here a state may also be left by repairing. The rule is that of
//! [`propose`](crate::propose()), the same code, stopped where repairing at once is no dearer. Limits: outcomes are certain, and where the leads were before the
//! last test is forgotten.

use std::collections::HashMap;

use crate::Costs;
use crate::propose::Beam;
use crate::propose::choice::{Shelf, drafts};
use crate::propose::outlay::Outlay;
use crate::propose::split::Table;
use crate::worth::LEAST_BITS;

/// Most vehicles of a table: they are the bits of a set.
pub const MOST_VEHICLES: usize = 128;

/// A table of vehicles and tests.
#[derive(Clone, Debug, PartialEq)]
pub struct Finite {
    /// The shop's figures.
    pub costs: Costs,
    /// What each kind of cure costs, proof included.
    pub prices: Vec<f64>,
    /// Chance of each vehicle, and the kind of cure that it needs; at most [`MOST_VEHICLES`].
    pub vehicles: Vec<(f64, usize)>,
    /// The tests.
    pub tests: Vec<FiniteTest>,
    /// Minutes of each test (column), at the start (row 0) and after each test (row 1 on).
    pub minutes: Vec<Vec<f64>>,
}

/// A test of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct FiniteTest {
    /// Which outcome each vehicle shows.
    pub shows: Vec<u8>,
    /// Tests of one place may be read in one go.
    pub place: usize,
}

/// A way to search a table. All end where the product's rule ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Rule {
    /// The product's.
    Product,
    /// The test that tells most of the kind of cure, its minutes not counted.
    OneStep,
    /// The tests in the order of the table, whatever they show.
    InOrder,
}

/// The vehicles still possible, the last test (0: none) and the tests done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct State {
    left: u128,
    last: usize,
    done: u32,
}

impl Finite {
    /// What a job is expected to cost where every choice is the best one.
    pub fn optimum(&self) -> f64 {
        self.best(self.all(), 0, &mut HashMap::new()) / self.mass(self.all())
    }

    /// What it is expected to cost by a rule.
    pub fn by(&self, rule: Rule) -> f64 {
        let start = State {
            left: self.all(),
            last: 0,
            done: 0,
        };
        self.follow(rule, start, &mut HashMap::new()) / self.mass(self.all())
    }

    /// What it would cost if the cure were known from the start.
    pub fn least(&self) -> f64 {
        let price = |&(mass, kind): &(f64, usize)| mass * self.prices.get(kind).copied().unwrap_or(0.0);
        self.vehicles.iter().map(price).sum::<f64>() / self.mass(self.all())
    }

    fn all(&self) -> u128 {
        (0..self.vehicles.len().min(MOST_VEHICLES)).fold(0, |set, at| set | 1 << at)
    }

    fn mass(&self, left: u128) -> f64 {
        self.members(left).map(|at| self.vehicles[at].0).sum()
    }

    fn members(&self, left: u128) -> impl Iterator<Item = usize> + use<'_> {
        (0..self.vehicles.len().min(MOST_VEHICLES)).filter(move |at| left & (1 << at) != 0)
    }

    fn minutes(&self, last: usize, test: usize) -> f64 {
        self.minutes[last][test]
    }

    /// What each outcome of a test leaves.
    fn split(&self, left: u128, test: usize) -> Vec<u128> {
        let mut parts: Vec<(u8, u128)> = Vec::new();
        for at in self.members(left) {
            let shown = self.tests[test].shows[at];
            match parts.iter_mut().find(|part| part.0 == shown) {
                Some(part) => part.1 |= 1 << at,
                None => parts.push((shown, 1 << at)),
            }
        }
        parts.into_iter().map(|part| part.1).collect()
    }

    /// What is left, as the product reckons with it.
    fn outlay(&self, left: u128) -> Outlay {
        let mass = self.mass(left).max(f64::MIN_POSITIVE);
        let each: Vec<(f64, usize)> = self.members(left).map(|at| self.vehicles[at]).collect();
        Outlay {
            costs: self.costs,
            prices: self.prices.clone(),
            kinds: each.iter().map(|one| one.1).collect(),
            masses: each.iter().map(|one| one.0 / mass).collect(),
            per_bit: f64::INFINITY,
        }
    }

    /// Repairing at once, times the chance.
    fn repaired(&self, left: u128) -> f64 {
        self.outlay(left).now() * self.mass(left)
    }

    /// The least cost from here, times the chance.
    fn best(&self, left: u128, last: usize, known: &mut HashMap<(u128, usize), f64>) -> f64 {
        if let Some(&cost) = known.get(&(left, last)) {
            return cost;
        }
        let mut least = self.repaired(left);
        for test in 0..self.tests.len() {
            let parts = self.split(left, test);
            let mut cost = self.costs.of_minutes(self.minutes(last, test)) * self.mass(left);
            if parts.len() < 2 || cost >= least {
                continue;
            }
            for part in parts {
                cost += self.best(part, test + 1, known);
                if cost >= least {
                    break;
                }
            }
            least = least.min(cost);
        }
        known.insert((left, last), least);
        least
    }

    /// The cost of a rule from here, times the chance.
    fn follow(&self, rule: Rule, state: State, known: &mut HashMap<State, f64>) -> f64 {
        if let Some(&cost) = known.get(&state) {
            return cost;
        }
        let tests = self.chosen(state).map(|product| match rule {
            Rule::Product => product,
            Rule::OneStep => self.tells_most(state).into_iter().collect(),
            Rule::InOrder => self.not_done(state).take(1).collect(),
        });
        let tests = tests.filter(|tests| !tests.is_empty()).unwrap_or_default();
        let cost = if tests.is_empty() {
            self.repaired(state.left)
        } else {
            let mut parts = vec![state.left];
            let (mut last, mut done, mut minutes) = (state.last, state.done, 0.0);
            for &test in &tests {
                minutes += self.minutes(last, test);
                (last, done) = (test + 1, done | 1 << test);
                parts = parts.into_iter().flat_map(|part| self.split(part, test)).collect();
            }
            let measured = self.costs.of_minutes(minutes) * self.mass(state.left);
            let after = parts.into_iter().map(|left| State { left, last, done });
            after.fold(measured, |sum, state| sum + self.follow(rule, state, known))
        };
        known.insert(state, cost);
        cost
    }

    fn not_done(&self, state: State) -> impl Iterator<Item = usize> + use<> {
        (0..self.tests.len()).filter(move |test| state.done & (1 << test) == 0)
    }

    /// How a test splits what is left, as a table with a row for each vehicle.
    fn table(&self, left: u128, test: usize) -> Table {
        let shows: Vec<u8> = self.members(left).map(|at| self.tests[test].shows[at]).collect();
        let mut names = shows.clone();
        names.sort_unstable();
        names.dedup();
        let share = |shown: u8| names.iter().map(move |name| f64::from(u8::from(*name == shown)));
        Table {
            labels: vec![Vec::new(); names.len()],
            shares: shows
                .iter()
                .flat_map(|&shown| share(shown).collect::<Vec<_>>())
                .collect(),
        }
    }

    fn bits(&self, outlay: &Outlay, table: &Table) -> f64 {
        table.bits(&outlay.masses, &outlay.kinds, self.prices.len())
    }

    fn tells_most(&self, state: State) -> Option<usize> {
        let outlay = self.outlay(state.left);
        let bits = |test: usize| self.bits(&outlay, &self.table(state.left, test));
        let told = self.not_done(state).map(|test| (bits(test), test));
        let most = told.max_by(|a, b| a.0.total_cmp(&b.0))?;
        (most.0 >= LEAST_BITS).then_some(most.1)
    }

    /// What the product's rule does: tests at one place, or `None` where it repairs.
    fn chosen(&self, state: State) -> Option<Vec<usize>> {
        let mut shelf = Left {
            finite: self,
            outlay: self.outlay(state.left),
            last: state.last,
            tests: Vec::new(),
        };
        let telling = self.not_done(state).map(|test| (test, self.table(state.left, test)));
        shelf.tests = telling.filter(|(_, table)| shelf.bits(table) >= LEAST_BITS).collect();
        let mut outlay = shelf.outlay.clone();
        let rate = |test: usize| shelf.bits(shelf.table(test)) / shelf.minutes(test);
        outlay.at_rate((0..shelf.n()).map(rate).fold(0.0, f64::max));
        let now = outlay.now();
        let pays = drafts(&shelf, &outlay, Beam::USUAL)
            .into_iter()
            .find(|draft| draft.outlook.sure < now);
        pays.map(|draft| draft.tests.into_iter().map(|test| shelf.tests[test].0).collect())
    }
}

/// The tests not done that still tell something, each with its table.
struct Left<'f> {
    finite: &'f Finite,
    outlay: Outlay,
    last: usize,
    tests: Vec<(usize, Table)>,
}

impl Shelf for Left<'_> {
    /// The last test, 0 for none.
    type Hands = usize;

    fn n(&self) -> usize {
        self.tests.len()
    }

    fn table(&self, test: usize) -> &Table {
        &self.tests[test].1
    }

    /// Few tests: a set-up each, so that none is left out.
    fn set_up(&self, test: usize) -> usize {
        test
    }

    fn minutes(&self, test: usize) -> f64 {
        self.finite.minutes(self.last, self.tests[test].0)
    }

    fn bits(&self, table: &Table) -> f64 {
        self.finite.bits(&self.outlay, table)
    }

    fn after(&self, done: &[usize]) -> usize {
        done.last().map_or(self.last, |&test| self.tests[test].0 + 1)
    }

    fn minutes_after(&self, last: &usize, _: &[usize], test: usize) -> f64 {
        self.finite.minutes(*last, self.tests[test].0)
    }

    fn beside(&self, done: &[usize], test: usize) -> bool {
        let place = |test: usize| self.finite.tests[self.tests[test].0].place;
        done.first().is_none_or(|&first| place(first) == place(test))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four vehicles of equal chance that need four cures of 100, and tests of ten minutes (15) each.
    fn four(tests: &[[u8; 4]]) -> Finite {
        let costs = Costs {
            most_in_vain: 10,
            ..Costs::default()
        };
        let place = |(place, shows): (usize, &[u8; 4])| FiniteTest {
            shows: shows.to_vec(),
            place,
        };
        Finite {
            costs,
            prices: vec![100.0; 4],
            vehicles: (0..4).map(|kind| (0.25, kind)).collect(),
            tests: tests.iter().enumerate().map(place).collect(),
            minutes: vec![vec![10.0; tests.len()]; tests.len() + 1],
        }
    }

    #[test]
    fn two_halvings_are_the_optimum_and_the_product_finds_them() {
        // By hand: 15 + 15 + 100; in vain they would be 250.
        let halves = four(&[[0, 0, 1, 1], [0, 1, 0, 1], [0, 1, 1, 1]]);
        assert!((halves.optimum() - 130.0).abs() < 1e-9, "{}", halves.optimum());
        assert!((halves.by(Rule::Product) - 130.0).abs() < 1e-9);
        assert!((halves.least() - 100.0).abs() < 1e-9);
        // A chart that begins with what is told by the others: one more reading where that left three.
        let chart = four(&[[0, 1, 1, 1], [0, 0, 1, 1], [0, 1, 0, 1]]);
        assert!(chart.by(Rule::InOrder) > 130.0 + 1.0);
    }

    #[test]
    fn where_nothing_pays_all_repair_and_no_rule_beats_the_optimum() {
        let mut dear = four(&[[0, 0, 1, 1], [0, 1, 0, 1]]);
        for row in &mut dear.minutes {
            row.fill(100.0);
        }
        for rule in [Rule::Product, Rule::OneStep, Rule::InOrder] {
            assert!((dear.by(rule) - 250.0).abs() < 1e-9, "{rule:?}");
        }
        assert!((dear.optimum() - 250.0).abs() < 1e-9);
        let mixed = four(&[[0, 1, 2, 2], [0, 0, 1, 1], [1, 0, 0, 1]]);
        for rule in [Rule::Product, Rule::OneStep, Rule::InOrder] {
            assert!(mixed.by(rule) >= mixed.optimum() - 1e-9, "{rule:?}");
        }
    }

    #[test]
    fn the_minutes_from_one_test_to_the_next_count() {
        // The second test is at hand once the first was done, and far away otherwise.
        let mut near = four(&[[0, 0, 1, 1], [0, 1, 0, 1]]);
        near.minutes = vec![vec![10.0, 60.0], vec![10.0, 1.0], vec![10.0, 1.0]];
        assert!(
            (near.optimum() - (15.0 + 1.5 + 100.0)).abs() < 1e-9,
            "{}",
            near.optimum()
        );
        assert!((near.by(Rule::Product) - near.optimum()).abs() < 1e-9);
    }
}
