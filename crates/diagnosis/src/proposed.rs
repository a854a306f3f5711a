//! What comes of looking for the next test: what to measure, out of how many tests, and whether repairing is cheaper.

use circuit::FaultId;

use crate::{Belief, Conclusion, Costs, Cure, Findings, Proposal};

/// What to measure next, and what it was chosen from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Proposed {
    /// Best first; only what is safe, tells something and pays.
    pub proposals: Vec<Proposal>,
    /// What the best of the safe tests that tell something is expected to save against repairing at once, in the shop's
    /// money; not above 0 where none pays. `None` where there is no such test.
    pub saves: Option<f64>,
    /// What the job is expected to cost from here with the first proposal, doubts that are left then being found out at the
    /// rate of the best test in sight; roughly.
    pub outlook: Option<f64>,
    /// The tests that it was chosen from.
    pub counted: Counted,
}

/// How many tests were looked at, and what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counted {
    /// Instruments at their places, in every set-up looked into.
    pub considered: usize,
    /// Of these: whatever is still suspected, they show the same.
    pub tell_nothing: usize,
    /// Of the best: not safe. Those behind the best are not judged.
    pub refused: usize,
    /// Set-ups looked into …
    pub set_ups: usize,
    /// … and others within two changes, left aside: too far, or nothing near them told as much.
    pub set_ups_left: usize,
}

/// What is tried first where somebody repairs now, and what repairing comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtOnce {
    /// The likeliest fault that it cures; `None`: look beyond the circuit.
    pub fault: Option<FaultId>,
    /// A second fault, mended at the same time.
    pub also: Option<FaultId>,
    /// Chance that this cures the vehicle.
    pub chance: f64,
    /// Its price, proof included.
    pub price: f64,
    /// What it is expected to come to until the vehicle is proven repaired, further repairs included where this is in vain.
    pub expected: f64,
}

impl Costs {
    /// Repairing now, what has most chance for its price first. `None` where nothing is suspected.
    pub fn at_once(&self, belief: &Belief<'_>) -> Option<AtOnce> {
        let attempts = self.in_order(belief);
        let first = attempts.first()?;
        let likeliest = |key: &str| {
            let of_key = belief.faults().iter().enumerate().filter(|(_, f)| f.repair.key == key);
            let ids = of_key.map(|(at, _)| FaultId::from(at));
            ids.max_by(|a, b| belief.chance(*a).total_cmp(&belief.chance(*b)))
        };
        let (fault, also) = match first.cure {
            Cure::Repair(key) => (likeliest(key), None),
            Cure::Both(one, other) => (likeliest(one), likeliest(other)),
            Cure::Beyond => (None, None),
        };
        let mut all: Vec<(f64, f64)> = attempts.iter().map(|one| (one.chance, one.price)).collect();
        Some(AtOnce {
            fault,
            also,
            chance: first.chance,
            price: first.price,
            expected: self.expected(&mut all),
        })
    }
}

impl Findings {
    /// The findings once the tests worth doing are known. Without any, repairing comes first where some test is safe and
    /// would tell, only not enough for its minutes; otherwise measuring on cannot tell.
    #[must_use]
    pub fn settled(mut self, proposed: &Proposed, at_once: Option<AtOnce>) -> Self {
        if proposed.proposals.is_empty() && self.conclusion == Conclusion::Open {
            self.conclusion = match at_once.filter(|_| proposed.saves.is_some()) {
                Some(at_once) => Conclusion::RepairFirst(at_once),
                None => Conclusion::CannotTell,
            };
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use bench::Bench;

    use super::*;
    use crate::{Case, Intake, Predictions, weigh};

    #[test]
    fn repairing_comes_first_only_where_a_safe_test_would_tell_and_does_not_pay() {
        let circuit = Arc::new(circuit::parse(circuit::DEMO).unwrap());
        let faults = circuit::possible_faults(&circuit);
        let bench = Bench::new(Arc::clone(&circuit)).unwrap();
        let mut memory = Predictions::default();
        let intake = Intake::default();
        let belief = weigh(&bench, &circuit, &faults, &Case::new(&intake, &[]), &mut memory).unwrap();
        let findings = belief.findings(&bench, &mut memory, None).unwrap();
        assert_eq!(findings.conclusion, Conclusion::Open);
        let costs = Costs::default();
        let at_once = costs.at_once(&belief).unwrap();
        // What is tried first is what costs least for its chance, and its fault needs that very repair.
        let fault = &faults[at_once.fault.unwrap().idx()];
        assert_eq!(costs.of_cure(&faults, Cure::Repair(&fault.repair.key)), at_once.price);
        assert!(at_once.chance > 0.0 && at_once.expected > at_once.price);

        let conclusion = |saves: Option<f64>| {
            let proposed = Proposed {
                saves,
                ..Proposed::default()
            };
            findings.clone().settled(&proposed, Some(at_once)).conclusion
        };
        assert_eq!(conclusion(None), Conclusion::CannotTell);
        assert_eq!(conclusion(Some(-2.0)), Conclusion::RepairFirst(at_once));
    }
}
