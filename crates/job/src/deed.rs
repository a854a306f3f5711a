//! What was done to the vehicle beside reading it, in its text form.
//!
//! `swapped S1`, `reseated C2`, `looked C2 damaged`, `looked C2 sound`, `cleared codes`, `repaired floor.7-8/b/leak`.

use circuit::{Circuit, PartId, PartKind};

/// What was done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Did {
    /// A part known to be good was put in.
    Swapped(PartId),
    /// A connector was pulled and pushed home again.
    Reseated(PartId),
    /// A place was looked at closely, and damage was seen there or none.
    Looked {
        /// The part.
        at: PartId,
        /// Damage was seen.
        damaged: bool,
    },
    /// Codes were cleared.
    Cleared,
    /// The work that a fault with this stable name needs was done. Nothing is known of a repair without a name.
    Repaired(Option<String>),
}

/// Something done, and when.
#[derive(Clone, Debug, PartialEq)]
pub struct Act {
    /// Id of the event.
    pub event: String,
    /// Milliseconds since 1970.
    pub at_ms: u64,
    /// So many readings of this vehicle had been taken before.
    pub after: usize,
    /// What it was.
    pub did: Did,
}

const FORMS: &str =
    "swapped PART, reseated CONNECTOR, looked PART damaged, looked PART sound, cleared codes, or repaired FAULT";

/// Reads what was done from its text form.
///
/// # Errors
/// In plain words: what is wrong and what was expected.
pub fn parse_did(circuit: &Circuit, text: &str) -> Result<Did, String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    match words.as_slice() {
        ["swapped", id] => Ok(Did::Swapped(part(circuit, id)?)),
        ["reseated", id] => {
            let at = part(circuit, id)?;
            let is_connector = matches!(circuit.parts[at.idx()].kind, PartKind::Connector(_));
            is_connector.then_some(Did::Reseated(at)).ok_or_else(|| {
                let all = circuit.connectors.iter();
                let ids: Vec<&str> = all.map(|one| circuit.parts[one.part.idx()].id.as_str()).collect();
                format!("`{id}` is no connector; connectors are {}", ids.join(", "))
            })
        }
        ["looked", id, how @ ("damaged" | "sound")] => Ok(Did::Looked {
            at: part(circuit, id)?,
            damaged: *how == "damaged",
        }),
        ["looked", ..] => Err("after looking say what was seen: looked PART damaged, or looked PART sound".into()),
        ["cleared", "codes"] => Ok(Did::Cleared),
        // Names of faults have spaces in them.
        ["repaired", fault @ ..] if !fault.is_empty() => Ok(Did::Repaired(Some(fault.join(" ")))),
        _ => Err(format!("expected {FORMS}")),
    }
}

impl Did {
    /// Its text form; none for a repair of which nothing is known.
    pub fn to_text(&self, circuit: &Circuit) -> Option<String> {
        let id = |part: &PartId| circuit.parts[part.idx()].id.as_str();
        Some(match self {
            Self::Swapped(part) => format!("swapped {}", id(part)),
            Self::Reseated(part) => format!("reseated {}", id(part)),
            Self::Looked { at, damaged: true } => format!("looked {} damaged", id(at)),
            Self::Looked { at, damaged: false } => format!("looked {} sound", id(at)),
            Self::Cleared => "cleared codes".into(),
            Self::Repaired(fault) => format!("repaired {}", fault.as_ref()?),
        })
    }
}

/// A part by its id.
///
/// # Errors
/// That there is none.
pub(crate) fn part(circuit: &Circuit, id: &str) -> Result<PartId, String> {
    let position = circuit.parts.iter().position(|part| part.id == id);
    position
        .map(PartId::from)
        .ok_or_else(|| format!("this circuit has no part `{id}`"))
}
