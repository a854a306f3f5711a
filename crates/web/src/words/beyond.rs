//! What goes beyond a list of suspects: two faults at once, insides learnt, what to check about the circuit file.

use circuit::{Alternative, Circuit, Fault, PointId};
use diagnosis::{Findings, Suspect};
use quantity::Amount;

use super::{percent, point};

/// Chance of a cause outside the circuit from which the file is to be checked. Common practice, no source.
const OUTSIDE_TOLD: f64 = 0.3;
/// Least chance of a connection that the file does not know which is told, and so many are at most.
const UNKNOWN_TOLD: f64 = 0.02;
const N_UNKNOWN: usize = 3;
/// Chance from which something inside a module counts as learnt, and how much it must have gained.
const LEARNT: f64 = 0.7;
const GAINED: f64 = 0.1;
/// Share of a suspect's chance from which it is told that it comes and goes.
const COMES: f64 = 0.5;

/// The second fault of a suspect, in words: "water between neighbouring terminals, floor joint".
pub fn also(faults: &[Fault], suspect: &Suspect) -> Option<String> {
    let fault = &faults[suspect.also?.idx()];
    Some(format!("{}, {}", fault.what, fault.place))
}

/// Whether a suspect most likely comes and goes.
pub fn comes_and_goes(suspect: &Suspect) -> bool {
    suspect.comes_and_goes >= COMES
}

/// Sentences for the person, those that ask for something first.
pub fn notes(circuit: &Circuit, findings: &Findings) -> Vec<String> {
    let mut notes: Vec<String> = findings
        .unknown_to_file
        .iter()
        .filter(|(_, chance)| *chance >= UNKNOWN_TOLD)
        .take(N_UNKNOWN)
        .map(|(fault, chance)| unknown(circuit, fault, *chance))
        .collect();
    if findings.outside >= OUTSIDE_TOLD {
        notes.push(format!(
            "Nothing in this picture explains the readings well ({} for something else). Check the picture against the \
             vehicle: is each cavity number and wire colour right where you measured? What lies beside these wires and in \
             these plugs that the picture lacks? Is something fitted that it does not show?",
            percent(findings.outside)
        ));
    }
    notes.extend(learnt(circuit, findings));
    if findings.pairs > 0 {
        // Pairs are also tried beside one fault that comes and goes, and may lead all the same.
        let one_leads = findings
            .suspects
            .first()
            .is_some_and(|first| first.also.is_none() && first.chance >= findings.outside);
        let why = if one_leads {
            "To be sure that it is one fault alone,"
        } else {
            "No single fault explains the readings well, so"
        };
        let left_out = match findings.pairs_left_out {
            share if share < 0.001 => "under 0.1 %".into(),
            share => percent(share),
        };
        notes.push(format!(
            "{why} {} pairs of faults at once were tried; those not looked at closely hold {left_out} together.",
            findings.pairs
        ));
    }
    notes
}

fn unknown(circuit: &Circuit, fault: &Fault, chance: f64) -> String {
    let places: Vec<&str> = fault.points.iter().map(|&at: &PointId| point(circuit, at)).collect();
    format!(
        "Something that the picture does not know may join {} ({}). Look where the two come near each other: a shared \
         bundle, a plug, a chafed spot, an added wire; check their cavity numbers against the vehicle.",
        places.join(" and "),
        percent(chance)
    )
}

/// What was learnt of modules whose insides nobody documented: "pressure signal at M1.27 has a pull-up of about 10 kΩ (94 %)".
fn learnt(circuit: &Circuit, findings: &Findings) -> Vec<String> {
    let each = circuit.unknowns.iter().zip(&findings.insides);
    each.filter_map(|(unknown, chances)| {
        let alternatives = || unknown.alternatives.iter().zip(chances);
        // A pull-up of 10 kΩ and one of 47 kΩ are both a pull-up: what it is may be known, and its size within bounds.
        let of = |what: &str| {
            alternatives()
                .filter(|one| one.0.what == what)
                .map(|one| *one.1)
                .sum::<f64>()
        };
        let (best, _) = alternatives().max_by(|one, other| of(&one.0.what).total_cmp(&of(&other.0.what)))?;
        let mut sizes: Vec<(&Alternative, f64)> = alternatives()
            .filter(|one| one.0.what == best.what)
            .map(|(one, chance)| (one, *chance))
            .collect();
        sizes.sort_by(|one, other| other.1.total_cmp(&one.1));
        let mut told = 0.0;
        let enough = sizes.iter().take_while(|one| {
            let more = told < LEARNT;
            told += if more { one.1 } else { 0.0 };
            more
        });
        let told_of: Vec<&Alternative> = enough.map(|one| one.0).collect();
        let before: f64 = told_of.iter().map(|one| one.chance).sum();
        if told < LEARNT || told < before + GAINED {
            return None;
        }
        let amounts = told_of.iter().filter_map(|one| one.size);
        let low = amounts.clone().min_by(|one, other| one.0.total_cmp(&other.0));
        let high = amounts.max_by(|one, other| one.0.total_cmp(&other.0));
        let words = match (low, high) {
            (Some((low, unit)), Some((high, _))) if low < high => {
                let [low, high] = [low, high].map(|value| Amount::new(value, unit));
                format!("{} of about {low} to {high}", best.what)
            }
            _ => told_of.first()?.words(),
        };
        Some(format!(
            "Learnt from the readings: {} has {words} ({}).",
            unknown.place,
            percent(told)
        ))
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use circuit::Unknown;
    use diagnosis::Conclusion;

    use super::*;

    fn findings() -> Findings {
        Findings {
            suspects: Vec::new(),
            outside: 0.0,
            readings: Vec::new(),
            learnt: Vec::new(),
            insides: Vec::new(),
            unknown_to_file: Vec::new(),
            pairs: 0,
            pairs_left_out: 0.0,
            conclusion: Conclusion::Open,
        }
    }

    #[test]
    fn each_says_what_to_check() {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        assert!(notes(&circuit, &findings()).is_empty());
        let faults = circuit::possible_faults(&circuit);
        let bridge = circuit::unlisted_bridges(&circuit, &faults).swap_remove(0);
        let [a, b] = [bridge.points[0], bridge.points[1]].map(|at| point(&circuit, at).to_owned());
        let told = Findings {
            outside: 0.4,
            unknown_to_file: vec![(bridge, 0.12)],
            pairs: 45,
            pairs_left_out: 0.0002,
            ..findings()
        };
        let told = notes(&circuit, &told);
        assert!(told[0].contains(&format!("may join {a} and {b} (12 %)")), "{told:?}");
        assert!(
            told[1].contains("cavity number") && told[1].contains("40 %"),
            "{told:?}"
        );
        assert!(
            told[2].starts_with("No single fault") && told[2].contains("45 pairs") && told[2].contains("under 0.1 %"),
            "{told:?}"
        );
        let leads = Suspect {
            fault: circuit::FaultId(0),
            also: None,
            look_alikes: vec![(circuit::FaultId(0), 0.9)],
            chance: 0.9,
            chance_before: 0.1,
            comes_and_goes: 1.0,
            mended: 0.0,
            severity: None,
            bits: Vec::new(),
            expects: Vec::new(),
        };
        let one_leads = Findings {
            suspects: vec![leads],
            pairs: 45,
            ..findings()
        };
        assert!(notes(&circuit, &one_leads)[0].starts_with("To be sure that it is one fault alone, 45 pairs"));
    }

    #[test]
    fn insides_are_told_once_the_readings_have_taught_them() {
        let mut circuit = circuit::parse(circuit::DEMO).unwrap();
        let changes = circuit::possible_faults(&circuit).swap_remove(0);
        let alternative = |what: &str, ohms: f64, chance| Alternative {
            what: what.into(),
            size: Some((ohms, quantity::Unit::Ohm)),
            chance,
            changes: changes.clone(),
        };
        circuit.unknowns = vec![Unknown {
            path: "M1.27/pull".into(),
            place: "pressure signal at M1.27".into(),
            alternatives: vec![
                alternative("a pull-up", 10e3, 0.4),
                alternative("a pull-up", 47e3, 0.4),
                alternative("a pull-down", 10e3, 0.2),
            ],
        }];
        let told = |chances: [f64; 3]| {
            let findings = Findings {
                insides: vec![chances.into()],
                ..findings()
            };
            learnt(&circuit, &findings).join(" ")
        };
        assert_eq!(told([0.4, 0.4, 0.2]), "", "that was known before");
        let place = "Learnt from the readings: pressure signal at M1.27 has";
        assert_eq!(
            told([0.95, 0.02, 0.03]),
            format!("{place} a pull-up of about 10 kΩ (95 %).")
        );
        assert_eq!(
            told([0.5, 0.45, 0.05]),
            format!("{place} a pull-up of about 10 kΩ to 47 kΩ (95 %).")
        );
        assert_eq!(
            told([0.05, 0.05, 0.9]),
            format!("{place} a pull-down of about 10 kΩ (90 %).")
        );
    }
}
