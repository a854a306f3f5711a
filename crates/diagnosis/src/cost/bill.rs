//! What the job comes to, against what the customer has agreed to.
//!
//! Limits: of what was spent, the minutes of readings and the repairs made are counted, other deeds are not.

use circuit::{Circuit, Fault, SetUp};

use super::{Costs, Cure, Hands};
use crate::{AtOnce, Case, Done, Proposed};

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
    /// What the job comes to. `at_once`: repairing from here on.
    pub fn bill(
        &self,
        circuit: &Circuit,
        faults: &[Fault],
        case: &Case<'_>,
        proposed: &Proposed,
        at_once: &AtOnce,
    ) -> Bill {
        let mut hands = Hands::free(SetUp::normal());
        let mut minutes = 0.0;
        for reading in case.readings {
            minutes += hands.minutes_to(circuit, &reading.test);
            hands.take(&reading.test);
        }
        let repairs = case.deeds.iter().map(|deed| match &deed.what {
            Done::Repaired(key) => self.of_cure(faults, Cure::Repair(key)),
            _ => 0.0,
        });
        let spent = self.of_minutes(minutes) + repairs.sum::<f64>();
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
