//! What the job comes to, against what the customer has agreed to.
//!
//! Limits: of what was spent, the minutes of readings and the repairs made are counted, other deeds are not.

use circuit::{Circuit, Fault, SetUp};

use super::{Costs, Hands};
use crate::{AtOnce, Case, Done, Proposed};

/// What was spent so far, item by item.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spent {
    /// Minutes of each reading, change of set-up and leads included, in the order in which they were taken.
    pub reading_minutes: Vec<f64>,
    /// Repairs made, in order.
    pub repairs: Vec<Work>,
}

/// A repair that was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Work {
    /// So many readings had been taken before.
    pub after: usize,
    /// The work: see [`Repair::key`](circuit::Repair).
    pub key: String,
    /// Minutes, without seeing whether the complaint is gone.
    pub minutes: f64,
    /// Parts, in the shop's money.
    pub parts_price: f64,
}

/// What the job comes to, in the shop's money.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bill {
    /// For readings and repairs so far.
    pub spent: f64,
    /// For the reading that is proposed, where one is.
    pub step: Option<f64>,
    /// The repair that is tried first from here, with its proof.
    pub repair: f64,
    /// All that is expected until the vehicle is proven repaired, what was spent included.
    pub expected: f64,
    /// What the customer has agreed to, where a limit was set.
    pub authorised: Option<f64>,
}

impl Bill {
    /// More is expected than was agreed to: the customer is asked before anything else is done.
    pub fn asks_first(&self) -> bool {
        self.authorised.is_some_and(|limit| self.expected > limit)
    }
}

impl Costs {
    /// What was spent so far.
    pub fn spent(&self, circuit: &Circuit, faults: &[Fault], case: &Case<'_>) -> Spent {
        let mut hands = Hands::free(SetUp::normal());
        let each = case.readings.iter().map(|reading| {
            let minutes = hands.minutes_to(circuit, &reading.test);
            hands.take(&reading.test);
            minutes
        });
        let reading_minutes = each.collect();
        let repairs = case.deeds.iter().filter_map(|deed| {
            let Done::Repaired(key) = &deed.what else { return None };
            let of_key = faults
                .iter()
                .map(|fault| &fault.repair)
                .find(|repair| repair.key == *key);
            Some(Work {
                after: deed.after,
                key: key.clone(),
                minutes: of_key.map_or(0.0, |repair| repair.minutes),
                parts_price: of_key.map_or(0.0, |repair| repair.parts_price),
            })
        });
        Spent {
            reading_minutes,
            repairs: repairs.collect(),
        }
    }

    /// What that comes to, after each repair the minutes included to see whether the complaint is gone.
    pub fn of_spent(&self, spent: &Spent) -> f64 {
        let repairs = spent.repairs.iter();
        let repairs = repairs.map(|work| self.of_minutes(work.minutes + self.proof_minutes) + work.parts_price);
        self.of_minutes(spent.reading_minutes.iter().sum()) + repairs.sum::<f64>()
    }

    /// What the job comes to. `at_once`: repairing from here on.
    pub fn bill(
        &self,
        circuit: &Circuit,
        faults: &[Fault],
        case: &Case<'_>,
        proposed: &Proposed,
        at_once: &AtOnce,
    ) -> Bill {
        let spent = self.of_spent(&self.spent(circuit, faults, case));
        let next = proposed.proposals.first();
        let saves = next.and(proposed.saves).unwrap_or(0.0).max(0.0);
        Bill {
            spent,
            step: next.map(|next| self.of_minutes(next.minutes)),
            repair: at_once.price,
            expected: spent + at_once.expected - saves,
            authorised: self.authorised,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Deed, Intake, Proposal};
    use crate::{Judgement, Verdict, Worth};

    /// A step of four minutes.
    fn step() -> Proposal {
        Proposal {
            tests: Vec::new(),
            probes: Vec::new(),
            minutes: 4.0,
            bits: 1.0,
            outcomes: Vec::new(),
            judgement: Judgement {
                verdict: Verdict::Safe,
                dangers: Vec::new(),
                worth: Worth::Tells {
                    bits: 1.0,
                    minutes: 4.0,
                },
            },
        }
    }

    #[test]
    fn what_was_done_and_what_is_to_come_are_added_and_held_against_the_limit() {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let faults = circuit::possible_faults(&circuit);
        let test = bench::parse_test(&circuit, "scan pressure; key on").unwrap();
        let shown = bench::parse_shown("32 bar", &test.placement, &circuit).unwrap();
        let readings = [bench::Reading { test, shown }];
        let sensor = faults.iter().find(|fault| fault.path == "sensor/reads high").unwrap();
        let deeds = [Deed {
            after: 1,
            what: Done::Repaired(sensor.repair.key.clone()),
        }];
        let intake = Intake::default();
        let case = Case {
            deeds: &deeds,
            ..Case::new(&intake, &readings)
        };
        let at_once = AtOnce {
            fault: None,
            also: None,
            chance: 0.5,
            price: 100.0,
            expected: 180.0,
        };
        let mut proposed = Proposed {
            proposals: vec![step()],
            saves: Some(30.0),
            ..Proposed::default()
        };
        let costs = Costs {
            authorised: Some(261.0),
            ..Costs::default()
        };
        let bill = costs.bill(&circuit, &faults, &case, &proposed, &at_once);
        let spent = costs.spent(&circuit, &faults, &case);
        assert_eq!(
            (spent.reading_minutes.as_slice(), spent.repairs[0].after),
            (&[0.3][..], 1)
        );
        assert_eq!((spent.repairs[0].minutes, spent.repairs[0].parts_price), (25.0, 65.0));
        // 0.3 minutes of scan data at 1.5, and the sensor in vain: 25 and 5 minutes, and 65.
        assert!((bill.spent - (0.45 + 110.0)).abs() < 1e-9, "{bill:?}");
        assert_eq!((bill.step, bill.repair), (Some(6.0), 100.0));
        assert!((bill.expected - (110.45 + 150.0)).abs() < 1e-9 && !bill.asks_first());
        // Without a reading that pays, all of the repairing is to be paid.
        proposed.proposals.clear();
        let bill = costs.bill(&circuit, &faults, &case, &proposed, &at_once);
        assert!((bill.expected - 290.45).abs() < 1e-9 && bill.asks_first());
        assert_eq!(bill.step, None);
    }
}
