//! Why a fault is suspected, in plain words: the assumption it leans on.

use bench::Reading;
use circuit::{Circuit, PartId};
use diagnosis::{Assumption, Why};

use super::{percent, placement, shown};

/// Chance that must change before it is said that a suspect leans on something.
const LEANS: f64 = 0.02;

/// The assumption that a suspect leans on most, in a sentence.
pub fn leans_on(circuit: &Circuit, readings: &[Reading], why: &Why) -> String {
    let Some(&(assumption, then)) = why.leans_on.first().filter(|one| (one.1 - why.chance).abs() >= LEANS) else {
        return "It leans on no single assumption: none of them changes its chance when it is dropped.".into();
    };
    format!(
        "It leans most on this: {}. {}, it would be {} instead of {}.",
        assumed(circuit, readings, assumption),
        super::capital(&relaxed(assumption)),
        percent(then),
        percent(why.chance)
    )
}

/// What is assumed.
pub fn assumed(circuit: &Circuit, readings: &[Reading], assumption: Assumption) -> String {
    let part = |id: PartId| circuit.parts.get(id.idx()).map_or("that part", circuit::Part::called);
    match assumption {
        Assumption::Reading(at) => readings.get(at).map_or_else(
            || "a reading is right".into(),
            |reading| {
                let at = &reading.test.placement;
                format!(
                    "the reading is right: {}, {}",
                    placement(circuit, at),
                    shown(circuit, at, &reading.shown)
                )
            },
        ),
        Assumption::Battery => "the battery is charged about as usual and keeps its voltage".into(),
        Assumption::Tolerance(id) => {
            let words = circuit.params.get(id.idx()).map_or("a value", |param| &param.words);
            format!("within its tolerance: {words}")
        }
        Assumption::InCircuit => "the cause is in this circuit".into(),
        Assumption::ComesAndGoes(false) => "the fault is there all the time".into(),
        Assumption::ComesAndGoes(true) => "the fault comes and goes".into(),
        Assumption::Water => "water came in".into(),
        Assumption::Accident => "there was an accident".into(),
        Assumption::Replaced(id) => format!("{} was replaced in vain", part(id)),
        Assumption::Disturbed(id) => format!("somebody lately worked at {}", part(id)),
        Assumption::Accessory(id) => format!("an accessory was fitted: {}", part(id)),
        Assumption::Rate => "such a fault happens about as often as is usual".into(),
    }
}

/// What is done to an assumption to see how much leans on it.
pub fn relaxed(assumption: Assumption) -> String {
    match assumption {
        Assumption::Reading(_) => "without that reading",
        Assumption::Battery => "if its voltage were three times less certain",
        Assumption::Tolerance(_) => "if that tolerance were three times as wide",
        Assumption::InCircuit => "if a cause elsewhere were as likely from the start",
        Assumption::ComesAndGoes(false) => "if it came and went",
        Assumption::ComesAndGoes(true) => "if it were there all the time",
        Assumption::Water => "if it had stayed dry",
        Assumption::Accident | Assumption::Replaced(_) | Assumption::Disturbed(_) | Assumption::Accessory(_) => {
            "if that were not so"
        }
        Assumption::Rate => "if it happened a third as often",
    }
    .into()
}
