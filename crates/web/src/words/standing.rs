//! How readings stand to what should be there, and where the job stands.

use bench::{Placement, Reading};
use circuit::{Circuit, Fault, FaultId, PartKind};
use diagnosis::{Conclusion, Findings, ReadingStanding};

use super::{capital, expected, percent};
use crate::outcomes;

/// Told bits below which a reading has told nothing.
const TOLD_BITS: f64 = 0.05;
/// Chance of being wrong from which a reading is to be repeated.
const DOUBTFUL: f64 = 0.3;
/// Least chance of a suspect that is named where no test tells apart what is left.
const NAMED_CHANCE: f64 = 0.03;
/// Share of a suspect's chance, cured by what was done, from which its repair counts as done.
const MENDED: f64 = 0.5;

/// How a reading stands: the sentence and its kind (`odd`, `fits`, `nothing`, `doubtful`).
pub fn verdict(circuit: &Circuit, reading: &Reading, standing: &ReadingStanding) -> (String, &'static str) {
    if !standing.possible {
        let why = match reading.test.placement {
            Placement::Scan { channel } => {
                let range = job::logged::range_words(circuit, &circuit.channels[channel.idx()]);
                format!(" ({range})")
            }
            _ => String::new(),
        };
        let what = format!("cannot be{why}: check the unit, the range and the typing, then measure again");
        return (what, "doubtful");
    }
    if standing.wrong >= DOUBTFUL {
        return ("may be a slip: measure it again".into(), "doubtful");
    }
    match &standing.in_order {
        Some(in_order) if !in_order.fits => {
            let should = expected(circuit, &reading.test.placement, &in_order.shows);
            (format!("should be {should}"), "odd")
        }
        _ if standing.told_bits < TOLD_BITS => ("tells nothing yet".into(), "nothing"),
        Some(_) => ("as it should be".into(), "fits"),
        None => ("counts".into(), "fits"),
    }
}

/// Whether to go on.
pub fn conclusion(circuit: &Circuit, faults: &[Fault], findings: &Findings) -> (&'static str, String) {
    match &findings.conclusion {
        Conclusion::Open => ("open", "Keep measuring.".into()),
        Conclusion::Found { suspect, chance } => {
            let Some(suspect) = findings.suspects.get(*suspect) else {
                return ("open", "Keep measuring.".into());
            };
            let repair = &faults[suspect.fault.idx()].repair;
            let cured: Vec<(FaultId, f64)> = each_alone(findings)
                .into_iter()
                .filter(|(fault, _)| faults[fault.idx()].repair.key == repair.key)
                .collect();
            let what = capital(&outcomes::together(faults, &cured));
            let then = if suspect.mended >= MENDED {
                format!("Done: {}. Prove it by readings", repair.words)
            } else {
                format!("To cure it, with a chance of {}: {}", percent(*chance), repair.words)
            };
            ("found", format!("{what}. {then}."))
        }
        Conclusion::Outside => (
            "outside",
            "Most likely not in this picture: check the circuit against the vehicle, or look at what else shares it."
                .into(),
        ),
        Conclusion::RepairFirst(at_once) => ("repair first", super::repair_first(faults, at_once)),
        Conclusion::CannotTell => {
            let left: Vec<String> = each_alone(findings)
                .iter()
                .take_while(|(_, chance)| *chance >= NAMED_CHANCE)
                .map(|(fault, chance)| {
                    let fault = &faults[fault.idx()];
                    let what = outcomes::head(&fault.what, ':');
                    format!("{what}, {} ({})", parts(circuit, fault), percent(*chance))
                })
                .collect();
            let left = left.join(", or ");
            (
                "cannot tell",
                format!(
                    "No test on offer tells apart what is left: {left}. Repair the cheapest first, then measure again."
                ),
            )
        }
    }
}

/// The parts that a fault touches, wires with their names in the circuit file, since colours come twice.
pub fn parts(circuit: &Circuit, fault: &Fault) -> String {
    let name = |part: &circuit::PartId| {
        let part = &circuit.parts[part.idx()];
        match part.kind {
            PartKind::Wire(_) if part.called() != part.id => format!("{} {}", part.called(), part.id),
            _ => part.called().to_owned(),
        }
    };
    fault.parts.iter().map(name).collect::<Vec<_>>().join(" and ")
}

/// Every suspect by itself with its own chance, look-alikes not folded, most likely first.
fn each_alone(findings: &Findings) -> Vec<(FaultId, f64)> {
    let mut all: Vec<(FaultId, f64)> = findings
        .suspects
        .iter()
        .flat_map(|suspect| suspect.look_alikes.iter().copied())
        .collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    all
}
