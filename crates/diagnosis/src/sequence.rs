//! Which test first, exactly, for a small table of states and tests; and the two rules that scale.
//!
//! States with chances, grouped by the repair they need; tests with costs and one certain outcome a state. The aim is to
//! know the repair at the least expected cost. [`Table::optimal`] tries everything (dynamic programming over the sets of
//! states still possible; Pattipati & Alexandridis, IEEE Trans. SMC 20(4), 1990): up to [`MOST_STATES`] states.
//! [`Table::greedy`] takes the test with most information for its cost; [`Table::lookahead`] looks one test further. Both
//! are approximations: the greedy rule can cost more than any multiple of the optimum (Garey & Graham 1974).

use std::collections::HashMap;

/// Most states of a table that is planned exactly.
pub const MOST_STATES: usize = 24;

/// A table of states and tests.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Chance of each state; any scale.
    pub chances: Vec<f64>,
    /// The repair that each state needs.
    pub repairs: Vec<usize>,
    /// Cost of each test.
    pub costs: Vec<f64>,
    /// `outcomes[state][test]`.
    pub outcomes: Vec<Vec<u8>>,
}

/// Expected cost until the repair is known, and the test to begin with (`None` if it is known already or no test helps).
pub type Plan = (f64, Option<usize>);

/// Bits for the cost of a test and the best test after it. `now`: the test's own bits and cost. `next`: for each of its
/// outcomes that leaves something to tell, the chance of it, and bits and cost of the test that would then be best.
///
/// Every such outcome counts, also where its next test pays worse than the first: counting only those that pay better
/// is as blind as the greedy rule on both examples in `tests/sequencing.rs`.
pub fn rate_ahead(now: (f64, f64), next: impl IntoIterator<Item = (f64, f64, f64)>) -> f64 {
    let (mut bits, mut cost) = now;
    for (chance, next_bits, next_cost) in next {
        bits += chance * next_bits;
        cost += chance * next_cost;
    }
    bits / cost
}

impl Table {
    /// States that one outcome of a test leaves, by outcome.
    fn split(&self, states: &[usize], test: usize) -> Vec<Vec<usize>> {
        let mut parts: Vec<(u8, Vec<usize>)> = Vec::new();
        for &state in states {
            let outcome = self.outcomes[state][test];
            match parts.iter_mut().find(|part| part.0 == outcome) {
                Some(part) => part.1.push(state),
                None => parts.push((outcome, vec![state])),
            }
        }
        parts.into_iter().map(|part| part.1).collect()
    }

    fn chance(&self, states: &[usize]) -> f64 {
        states.iter().map(|&state| self.chances[state]).sum()
    }

    /// Uncertainty over the repairs of these states times their chance, bits.
    fn doubt(&self, states: &[usize]) -> f64 {
        let mut sums: Vec<(usize, f64)> = Vec::new();
        for &state in states {
            match sums.iter_mut().find(|sum| sum.0 == self.repairs[state]) {
                Some(sum) => sum.1 += self.chances[state],
                None => sums.push((self.repairs[state], self.chances[state])),
            }
        }
        let total = self.chance(states);
        sums.into_iter()
            .filter(|sum| sum.1 > 0.0)
            .map(|sum| -sum.1 * (sum.1 / total).log2())
            .sum()
    }

    fn settled(&self, states: &[usize]) -> bool {
        states
            .iter()
            .all(|&state| self.repairs[state] == self.repairs[states[0]])
    }

    /// Every state.
    fn all(&self) -> Vec<usize> {
        (0..self.chances.len()).collect()
    }

    /// The least expected cost, and a test to begin with. `None` for more than [`MOST_STATES`] states.
    pub fn optimal(&self) -> Option<Plan> {
        if self.chances.len() > MOST_STATES {
            return None;
        }
        let states = self.all();
        let (cost, test) = self.exact(&states, &mut HashMap::new());
        Some((cost / self.chance(&states), test))
    }

    /// Least cost, times chance.
    fn exact(&self, states: &[usize], known: &mut HashMap<u32, Plan>) -> Plan {
        if states.is_empty() || self.settled(states) {
            return (0.0, None);
        }
        let set = states.iter().fold(0_u32, |set, state| set | 1 << state);
        if let Some(plan) = known.get(&set) {
            return *plan;
        }
        let mut best = (f64::INFINITY, None);
        for test in 0..self.costs.len() {
            let parts = self.split(states, test);
            if parts.len() < 2 {
                continue;
            }
            let after: f64 = parts.iter().map(|part| self.exact(part, known).0).sum();
            let cost = self.costs[test] * self.chance(states) + after;
            if cost < best.0 {
                best = (cost, Some(test));
            }
        }
        // No test splits them: they are repaired one after the other, which is not this table's affair.
        let plan = if best.1.is_none() { (0.0, None) } else { best };
        known.insert(set, plan);
        plan
    }

    /// The expected cost of always taking what `choose` takes.
    fn follow(&self, states: &[usize], choose: &dyn Fn(&Self, &[usize]) -> Option<usize>) -> f64 {
        if states.is_empty() || self.settled(states) {
            return 0.0;
        }
        let Some(test) = choose(self, states) else { return 0.0 };
        let after: f64 = self
            .split(states, test)
            .iter()
            .map(|part| self.follow(part, choose))
            .sum();
        self.costs[test] * self.chance(states) + after
    }

    /// Expected cost of the greedy rule, and its first test.
    pub fn greedy(&self) -> Plan {
        let states = self.all();
        let first = if self.settled(&states) {
            None
        } else {
            self.most_for_cost(&states)
        };
        (self.follow(&states, &Self::most_for_cost) / self.chance(&states), first)
    }

    /// Expected cost of looking one test further than the greedy rule, and its first test.
    pub fn lookahead(&self) -> Plan {
        let states = self.all();
        let first = if self.settled(&states) {
            None
        } else {
            self.two_steps(&states)
        };
        (self.follow(&states, &Self::two_steps) / self.chance(&states), first)
    }

    /// Bits times chance that a test tells.
    fn told(&self, states: &[usize], test: usize) -> f64 {
        self.doubt(states)
            - self
                .split(states, test)
                .iter()
                .map(|part| self.doubt(part))
                .sum::<f64>()
    }

    /// The test with most information for its cost.
    fn most_for_cost(&self, states: &[usize]) -> Option<usize> {
        self.best(states, |test| self.told(states, test) / self.costs[test])
    }

    /// The test that, with the best test after each of its outcomes, tells most for what both cost.
    fn two_steps(&self, states: &[usize]) -> Option<usize> {
        self.best(states, |test| {
            let whole = self.chance(states);
            let now = (self.told(states, test) / whole, self.costs[test]);
            let parts = self.split(states, test);
            let next = parts.iter().filter(|part| !self.settled(part)).filter_map(|part| {
                let next = self.most_for_cost(part)?;
                let chance = self.chance(part);
                Some((chance / whole, self.told(part, next) / chance, self.costs[next]))
            });
            rate_ahead(now, next)
        })
    }

    fn best(&self, states: &[usize], worth: impl Fn(usize) -> f64) -> Option<usize> {
        let mut best: Option<(usize, f64)> = None;
        for test in (0..self.costs.len()).filter(|&test| self.split(states, test).len() > 1) {
            let worth = worth(test);
            // A tie goes to the earlier test.
            if best.is_none_or(|best| worth > best.1 + 1e-12) {
                best = Some((test, worth));
            }
        }
        best.map(|best| best.0)
    }
}
