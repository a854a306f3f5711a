//! What the job comes to, and out of how many tests the next one was chosen.

use circuit::Fault;
use diagnosis::{AtOnce, Bill, Counted};

use super::percent;

/// An amount of the shop's money, rounded as a bill is guessed.
fn money(amount: f64) -> String {
    if amount > 0.0 && amount < 1.0 {
        "under 1".to_owned()
    } else {
        format!("{amount:.0}")
    }
}

/// What is done where one repairs now.
fn work(faults: &[Fault], at_once: &AtOnce) -> String {
    let repair = |at: circuit::FaultId| faults[at.idx()].repair.words.as_str();
    match (at_once.fault, at_once.also) {
        (Some(one), Some(also)) => format!("{}, and {}", repair(one), repair(also)),
        (Some(one), None) => repair(one).to_owned(),
        (None, _) => "look beyond this picture".to_owned(),
    }
}

/// That repairing costs less than any further reading.
pub fn repair_first(faults: &[Fault], at_once: &AtOnce) -> String {
    format!(
        "Repair first: {}. It cures with a chance of {}; trying it costs less than measuring on.",
        work(faults, at_once),
        percent(at_once.chance)
    )
}

/// What was spent, what the next reading and the likely repair cost, and what is expected in all, against the limit.
pub fn bill(faults: &[Fault], at_once: &AtOnce, bill: &Bill) -> String {
    let step = bill.step.map(|step| format!("this reading {}", money(step)));
    let each = [
        Some(format!("So far {}", money(bill.spent))),
        step,
        Some(format!(
            "then, most sensible, {} for {}",
            work(faults, at_once),
            money(bill.repair)
        )),
    ];
    let each: Vec<String> = each.into_iter().flatten().collect();
    let (each, expected) = (each.join(", "), money(bill.expected));
    match bill.authorised {
        Some(limit) if bill.asks_first() => {
            format!(
                "Ask the customer first: expected to come to {expected}, authorised {}. {each}.",
                money(limit)
            )
        }
        Some(limit) => format!("{each}. In all {expected} expected, {} authorised.", money(limit)),
        None => format!("{each}. In all {expected} expected."),
    }
}

/// Out of how many tests the next one was chosen.
pub fn chosen_from(counted: &Counted) -> String {
    let plural = |n: usize, one: &str| {
        if n == 1 {
            format!("1 {one}")
        } else {
            format!("{n} {one}s")
        }
    };
    let (tests, set_ups) = (plural(counted.considered, "test"), plural(counted.set_ups, "set-up"));
    let mut told = vec![format!("Chosen from {tests} in {set_ups}")];
    if counted.tell_nothing > 0 {
        told.push(format!("{} would show the same whatever is left", counted.tell_nothing));
    }
    if counted.refused > 0 {
        told.push(format!("{} of the best not safe", counted.refused));
    }
    if counted.set_ups_left > 0 {
        told.push(format!(
            "{} further off left aside",
            plural(counted.set_ups_left, "set-up")
        ));
    }
    told.join("; ") + "."
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(authorised: Option<f64>) -> String {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let faults = circuit::possible_faults(&circuit);
        let at = faults
            .iter()
            .position(|fault| fault.path == "sensor/reads high")
            .unwrap();
        let at_once = AtOnce {
            fault: Some(at.into()),
            also: None,
            chance: 0.62,
            price: 110.0,
            expected: 150.0,
        };
        let said = repair_first(&faults, &at_once);
        assert!(
            said.contains(&faults[at].repair.words) && said.contains("62 %"),
            "{said}"
        );
        let money = Bill {
            spent: 20.0,
            step: Some(6.4),
            repair: 110.0,
            expected: 170.0,
            authorised,
        };
        bill(&faults, &at_once, &money)
    }

    #[test]
    fn the_customer_is_asked_only_where_more_is_expected_than_agreed_to() {
        assert!(told(None).ends_with("for 110. In all 170 expected."), "{}", told(None));
        assert!(
            told(Some(170.0)).ends_with("170 expected, 170 authorised."),
            "{}",
            told(Some(170.0))
        );
        let over = told(Some(169.0));
        assert!(
            over.starts_with("Ask the customer first: expected to come to 170, authorised 169. So far 20"),
            "{over}"
        );
    }

    #[test]
    fn what_is_none_is_not_told_of() {
        let counted = Counted {
            considered: 120,
            set_ups: 1,
            ..Counted::default()
        };
        assert_eq!(chosen_from(&counted), "Chosen from 120 tests in 1 set-up.");
        let counted = Counted {
            tell_nothing: 100,
            refused: 2,
            set_ups_left: 30,
            ..counted
        };
        let told = chosen_from(&counted);
        assert!(
            told.ends_with("; 2 of the best not safe; 30 set-ups further off left aside."),
            "{told}"
        );
    }
}
