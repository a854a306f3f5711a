//! Where suspicion starts, in plain words: what was said of the vehicle, and what that does before anything is measured.

use circuit::{Circuit, Fault};
use diagnosis::{Assumption, Intake, Share, Start, said_of};

use super::{capital, percent, why};
use crate::view::StartView;

/// A factor nearer to 1 than this is not told.
const TELLS: f64 = 0.05;

/// What one thing that was said does; `None` for what moves no suspicion by itself.
pub(crate) fn view(circuit: &Circuit, start: &Start) -> Option<StartView> {
    let (about, part) = match start.said {
        Assumption::Replaced(part) => ("replaced", Some(part)),
        Assumption::Disturbed(part) => ("disturbed", Some(part)),
        Assumption::Accessory(part) => ("accessories", Some(part)),
        Assumption::Water => ("water", None),
        Assumption::Accident => ("accident", None),
        _ => return None,
    };
    let name = part.map(|part| circuit.parts[part.idx()].called());
    let told = [
        share(&start.raised, raised(start.said), "more"),
        share(&start.lowered, "what can fail in it once more", "less"),
    ];
    let told: Vec<String> = told.into_iter().flatten().collect();
    let words = match (told.is_empty(), name) {
        (true, _) => "Changes nothing in this circuit.".to_owned(),
        (false, Some(name)) => format!("{}. {}.", capital(name), capital(&told.join("; "))),
        (false, None) => format!("{}.", capital(&told.join("; "))),
    };
    Some(StartView {
        about,
        part: part.map(|part| circuit.parts[part.idx()].id.clone()),
        words,
    })
}

/// What becomes likelier by it.
fn raised(said: Assumption) -> &'static str {
    match said {
        Assumption::Replaced(_) => "its plug, pulled and pushed",
        Assumption::Disturbed(_) => "what can break there",
        Assumption::Accessory(_) => "taps, contacts and leads there",
        Assumption::Water => "water between cavities, leaks, corroded contacts",
        _ => "broken wires, pushed-back terminals, leaks to body",
    }
}

fn share(share: &Share, what: &str, how: &str) -> Option<String> {
    let moved = share.now != share.otherwise;
    let (now, before) = (percent(share.now), percent(share.otherwise));
    let told = if now == before {
        format!("{what}: a little {how} likely from the start, still {now}")
    } else {
        format!("{what}: {now} from the start instead of {before}")
    };
    // A figure and its sign stay on one line.
    moved.then(|| told.replace(" %", "\u{a0}%"))
}

/// Why a fault starts higher or lower than usual: "Starts 3 times as likely: somebody lately worked at the floor joint."
pub(crate) fn of(circuit: &Circuit, intake: &Intake, fault: &Fault) -> Vec<String> {
    let said = said_of(circuit, intake, fault).into_iter();
    let told = said.filter(|(_, times)| (times - 1.0).abs() >= TELLS);
    told.map(|(said, factor)| format!("Starts {}: {}.", times(factor), why::assumed(circuit, &[], said)))
        .collect()
}

fn times(factor: f64) -> String {
    if factor < 1.0 {
        format!("{:.0} times less likely", 1.0 / factor)
    } else if factor.fract() == 0.0 {
        format!("{factor:.0} times as likely")
    } else {
        format!("{factor:.1} times as likely")
    }
}
