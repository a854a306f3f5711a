//! What a job costs until the vehicle is proven repaired: one account for choosing, stopping and scoring.
//!
//! Minutes at the shop's rate, those of a reading depending on where the leads are ([`Hands`]); then the repairs, each with
//! its work, its parts and the minutes to see whether the complaint is gone. What is tried next is what has most chance
//! for its price, the order that is cheapest in expectation when one thing is wrong (Kadane and Simon, Annals of
//! Statistics 5, 1977; from memory). A repair in vain costs all of its price and teaches only that it was in vain.

use std::collections::BTreeMap;

use circuit::Fault;

use crate::Belief;

mod bill;
mod hands;

pub use bill::{Bill, Spent, Work};
pub use hands::Hands;

/// The shop's figures. Money is in the shop's own unit, as the prices of parts are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Costs {
    /// An hour of work.
    pub rate_per_hour: f64,
    /// Minutes to see after a repair whether the complaint is gone.
    pub proof_minutes: f64,
    /// Minutes to look beyond the circuit: another circuit, the module's network, the mechanics.
    pub beyond_minutes: f64,
    /// Repairs in vain after which nobody goes on changing parts …
    pub most_in_vain: usize,
    /// … and somebody else begins anew, minutes.
    pub anew_minutes: f64,
    /// What the customer has agreed to, where a limit was set.
    pub authorised: Option<f64>,
}

/// Common practice, no source.
impl Default for Costs {
    fn default() -> Self {
        Self {
            rate_per_hour: 90.0,
            proof_minutes: 5.0,
            beyond_minutes: 90.0,
            most_in_vain: 3,
            anew_minutes: 180.0,
            authorised: None,
        }
    }
}

/// Something that may cure the vehicle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cure<'a> {
    /// The repair with this key.
    Repair(&'a str),
    /// The repairs with these keys, both of them.
    Both(&'a str, &'a str),
    /// What is outside the circuit.
    Beyond,
}

impl Cure<'_> {
    /// Whether a vehicle that needs `needed` is cured by it.
    pub fn cures(self, needed: Cure<'_>) -> bool {
        match (self, needed) {
            (Cure::Both(one, other), Cure::Repair(key)) => key == one || key == other,
            (Cure::Both(one, other), Cure::Both(a, b)) => (one, other) == (a, b) || (one, other) == (b, a),
            _ => self == needed,
        }
    }
}

/// A cure to be tried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Attempt<'a> {
    /// What is done.
    pub cure: Cure<'a>,
    /// Chance that this is what is needed.
    pub chance: f64,
    /// Work, parts and proof.
    pub price: f64,
}

impl Costs {
    /// What minutes of work cost.
    pub fn of_minutes(&self, minutes: f64) -> f64 {
        minutes * self.rate_per_hour / 60.0
    }

    /// Work and parts of a cure, the proof included; repairs that no fault of the list needs cost nothing but the proof.
    pub fn of_cure(&self, faults: &[Fault], cure: Cure<'_>) -> f64 {
        let work = |key: &str| {
            let repairs = faults.iter().map(|fault| &fault.repair);
            let repair = repairs.into_iter().find(|repair| repair.key == key);
            repair.map_or(0.0, |repair| self.of_minutes(repair.minutes) + repair.parts_price)
        };
        let before_proof = match cure {
            Cure::Repair(key) => work(key),
            Cure::Both(one, other) => work(one) + work(other),
            Cure::Beyond => self.of_minutes(self.beyond_minutes),
        };
        before_proof + self.of_minutes(self.proof_minutes)
    }

    /// What may be needed, in the order in which it is tried: most chance for its price first.
    pub fn in_order<'a>(&self, belief: &Belief<'a>) -> Vec<Attempt<'a>> {
        let faults = belief.faults();
        let mut prices: BTreeMap<&str, f64> = BTreeMap::new();
        for fault in faults {
            let price = self.of_minutes(fault.repair.minutes) + fault.repair.parts_price;
            prices.entry(&fault.repair.key).or_insert(price);
        }
        let proof = self.of_minutes(self.proof_minutes);
        let price = |key: &str| prices.get(key).copied().unwrap_or(0.0);
        let mut attempts: Vec<Attempt<'a>> = belief
            .cures()
            .into_iter()
            .map(|(keys, chance)| {
                let (cure, work) = match keys {
                    [Some(one), Some(other)] => (Cure::Both(one, other), price(one) + price(other)),
                    [Some(one), None] | [None, Some(one)] => (Cure::Repair(one), price(one)),
                    [None, None] => (Cure::Beyond, self.of_minutes(self.beyond_minutes)),
                };
                Attempt {
                    cure,
                    chance,
                    price: work + proof,
                }
            })
            .collect();
        attempts.sort_by(|a, b| (b.chance / b.price).total_cmp(&(a.chance / a.price)));
        attempts
    }

    /// What it costs to try these one after the other until the vehicle is cured that needs `needed`.
    pub fn until_cured(&self, faults: &[Fault], attempts: &[Attempt<'_>], needed: Cure<'_>) -> f64 {
        let mut cost = 0.0;
        for attempt in attempts.iter().take(self.most_in_vain) {
            cost += attempt.price;
            if attempt.cure.cures(needed) {
                return cost;
            }
        }
        cost + self.of_minutes(self.anew_minutes) + self.of_cure(faults, needed)
    }

    /// The same in expectation, for chances and prices of things of which one is needed. Chances of any scale: the cost is
    /// of theirs. Sorts them into the order in which they are tried.
    pub fn expected(&self, of: &mut [(f64, f64)]) -> f64 {
        of.sort_by(|a, b| (b.0 / b.1).total_cmp(&(a.0 / a.1)));
        let mut left: f64 = of.iter().map(|one| one.0).sum();
        let mut cost = 0.0;
        for (tried, &(chance, price)) in of.iter().enumerate() {
            if tried < self.most_in_vain {
                cost += left.max(0.0) * price;
                left -= chance;
            } else {
                cost += chance * (self.of_minutes(self.anew_minutes) + price);
            }
        }
        cost
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Case, Intake, Predictions, weigh};
    use bench::Bench;
    use std::sync::Arc;

    #[test]
    fn the_right_repair_first_costs_itself_and_each_in_vain_is_added() {
        let circuit = Arc::new(circuit::parse(circuit::DEMO).unwrap());
        let faults = circuit::possible_faults(&circuit);
        let bench = Bench::new(Arc::clone(&circuit)).unwrap();
        let mut memory = Predictions::default();
        let intake = Intake::default();
        let belief = weigh(&bench, &circuit, &faults, &Case::new(&intake, &[]), &mut memory).unwrap();
        let costs = Costs::default();
        let sensor = faults.iter().find(|fault| fault.path == "sensor/reads high").unwrap();
        let sensor = Cure::Repair(&sensor.repair.key);
        // 25 minutes and 5 of proof at 90 an hour, and the sensor at 65.
        assert!((costs.of_cure(&faults, sensor) - 110.0).abs() < 1e-9);
        assert!((costs.of_cure(&faults, Cure::Beyond) - 95.0 * 1.5).abs() < 1e-9);

        let attempts = costs.in_order(&belief);
        assert!(
            attempts
                .windows(2)
                .all(|two| two[0].chance / two[0].price >= two[1].chance / two[1].price)
        );
        let third = costs.until_cured(&faults, &attempts, attempts[2].cure);
        let prices: f64 = attempts[..3].iter().map(|attempt| attempt.price).sum();
        assert!((third - prices).abs() < 1e-9);
        // Nobody changes parts for ever: the fourth is found by beginning anew.
        let fourth = costs.until_cured(&faults, &attempts, attempts[3].cure);
        assert!((fourth - prices - 180.0 * 1.5 - attempts[3].price).abs() < 1e-9);

        // The expectation is the mean over what may be needed.
        let mean: f64 = attempts
            .iter()
            .map(|one| one.chance * costs.until_cured(&faults, &attempts, one.cure))
            .sum();
        let mut chances: Vec<(f64, f64)> = attempts.iter().map(|one| (one.chance, one.price)).collect();
        let expected = costs.expected(&mut chances);
        assert!((mean - expected).abs() < 1e-6 * mean, "{mean} {expected}");
    }

    #[test]
    fn chance_for_price_is_the_cheapest_order_of_all() {
        let costs = Costs::default();
        let things = [(0.5, 100.0), (0.3, 20.0), (0.2, 300.0)];
        let cost = |order: [usize; 3]| {
            let mut left = 1.0;
            order.iter().fold(0.0, |sum, &at| {
                let sum = sum + left * things[at].1;
                left -= things[at].0;
                sum
            })
        };
        let orders = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];
        let least = orders.into_iter().map(cost).fold(f64::INFINITY, f64::min);
        let found = costs.expected(&mut things.clone());
        assert!((found - least).abs() < 1e-9, "{found} {least}");
    }

    #[test]
    fn both_repairs_cure_what_needs_one_of_them_and_not_the_other_way_round() {
        assert!(Cure::Both("a", "b").cures(Cure::Repair("b")) && Cure::Both("a", "b").cures(Cure::Both("b", "a")));
        assert!(!Cure::Repair("a").cures(Cure::Both("a", "b")) && !Cure::Beyond.cures(Cure::Repair("a")));
    }
}
