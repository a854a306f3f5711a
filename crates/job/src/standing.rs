//! Where a job stands: open, waiting, or proven. It follows from the events alone.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::event::{Event, What};

/// What a job waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Awaited {
    /// Parts that were ordered.
    Parts,
    /// The customer's word.
    Customer,
}

/// Where a job stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Somebody may work on it.
    #[default]
    Open,
    /// It waits.
    Waiting(Awaited),
    /// The proof of its repair was accepted.
    Proven,
}

/// Where a job stands and since when, milliseconds since 1970. Whatever is measured or done at the vehicle ends a wait, and
/// takes an accepted proof back: it rested on what was known then.
pub fn standing(events: &[Event], undone: &BTreeSet<String>) -> (Standing, u64) {
    let begun = events.first().map_or(0, |first| first.at_ms);
    let alive = events.iter().filter(|event| !undone.contains(&event.id));
    alive.fold((Standing::Open, begun), |before, event| {
        let now = match &event.what {
            What::Waiting { on } => on.map_or(Standing::Open, Standing::Waiting),
            What::Accepted {} => Standing::Proven,
            What::Reading { twin: false, .. } | What::Did { .. } | What::Repair { .. } => Standing::Open,
            _ => return before,
        };
        if now == before.0 { before } else { (now, event.at_ms) }
    })
}
