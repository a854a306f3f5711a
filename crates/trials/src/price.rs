//! What a search costs in all, until the vehicle is proven repaired.
//!
//! Minutes at the shop's rate; the repair that was named, and if it does not help the next, each with its work, its parts
//! and the minutes to see whether the complaint is gone. What is tried next is what has most chance for its cost, the
//! order that is cheapest in expectation when one thing is wrong (Kadane and Simon, Annals of Statistics 5, 1977; from
//! memory). A repair in vain teaches only that it was in vain.

use circuit::Fault;
use diagnosis::Belief;

/// The shop's rate a minute: 90 an hour. Common practice, no source.
pub const RATE: f64 = 1.5;
/// Minutes to see after a repair whether the complaint is gone. Common practice, no source.
pub const PROOF_MINUTES: f64 = 5.0;
/// Minutes to look beyond the circuit: another circuit, the module's network, the mechanics. Common practice, no source.
pub const BEYOND_MINUTES: f64 = 90.0;
/// Repairs in vain after which nobody goes on changing parts …
pub const MOST_IN_VAIN: usize = 3;
/// … and somebody else begins anew, minutes. Common practice, no source.
pub const ANEW_MINUTES: f64 = 180.0;

/// Something that may cure the vehicle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Cure<'a> {
    /// The repair with this key.
    Repair(&'a str),
    /// What is outside the circuit.
    Beyond,
}

/// Work and parts of a repair with this key, the proof included.
fn price_of(faults: &[Fault], cure: Cure<'_>) -> f64 {
    match cure {
        Cure::Beyond => (BEYOND_MINUTES + PROOF_MINUTES) * RATE,
        Cure::Repair(key) => {
            let repair = faults
                .iter()
                .map(|fault| &fault.repair)
                .find(|repair| repair.key == key);
            repair.map_or(0.0, |repair| {
                (repair.minutes + PROOF_MINUTES) * RATE + repair.parts_price
            })
        }
    }
}

/// The cost of all cures tried until one helps: `named` first, then by chance and cost. `needed` is what helps.
pub(crate) fn repairs(belief: &Belief<'_>, named: Option<Cure<'_>>, needed: Cure<'_>) -> f64 {
    let faults = belief.faults();
    let mut rest: Vec<(Cure<'_>, f64, f64)> = belief
        .repairs()
        .into_iter()
        .map(|(key, chance)| (Cure::Repair(key), chance))
        .chain([(Cure::Beyond, belief.outside())])
        .map(|(cure, chance)| (cure, chance, price_of(faults, cure)))
        .collect();
    rest.sort_by(|a, b| (b.1 / b.2).total_cmp(&(a.1 / a.2)));
    if let Some(at) = named.and_then(|named| rest.iter().position(|one| one.0 == named)) {
        let first = rest.remove(at);
        rest.insert(0, first);
    }
    let mut cost = 0.0;
    for (tried, (cure, _, price)) in rest.into_iter().enumerate() {
        if tried == MOST_IN_VAIN {
            return cost + ANEW_MINUTES * RATE + price_of(faults, needed);
        }
        cost += price;
        if cure == needed {
            return cost;
        }
    }
    cost + ANEW_MINUTES * RATE + price_of(faults, needed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use bench::Bench;
    use diagnosis::{Case, Intake, Predictions, weigh};
    use std::sync::Arc;

    #[test]
    fn the_right_repair_first_costs_itself_and_each_in_vain_is_added() {
        let circuit = Arc::new(circuit::parse(circuit::DEMO).unwrap());
        let faults = circuit::possible_faults(&circuit);
        let bench = Bench::new(Arc::clone(&circuit)).unwrap();
        let mut memory = Predictions::default();
        let belief = weigh(
            &bench,
            &circuit,
            &faults,
            &Case::new(&Intake::default(), &[]),
            &mut memory,
        )
        .unwrap();
        let sensor = faults.iter().find(|fault| fault.path == "sensor/reads high").unwrap();
        let fan = faults.iter().find(|fault| fault.path.starts_with("fan/")).unwrap();
        let [sensor, fan] = [sensor, fan].map(|fault| Cure::Repair(fault.repair.key.as_str()));
        // 25 minutes and 5 of proof at 1.5, and the sensor at 65.
        let right = repairs(&belief, Some(sensor), sensor);
        assert!((right - 110.0).abs() < 1e-9, "{right}");
        let beyond = repairs(&belief, Some(Cure::Beyond), Cure::Beyond);
        assert!((beyond - 95.0 * 1.5).abs() < 1e-9, "{beyond}");
        let wrong = repairs(&belief, Some(fan), sensor);
        assert!(wrong >= price_of(&faults, fan) + right, "{wrong}");
        // Nobody changes parts for ever.
        let most: f64 = belief
            .repairs()
            .iter()
            .map(|repair| price_of(&faults, Cure::Repair(repair.0)))
            .fold(0.0, f64::max);
        assert!(wrong <= (MOST_IN_VAIN as f64 + 1.0) * most + ANEW_MINUTES * RATE);
    }
}
