//! A code that several checks set: it is present as soon as one of them fails.
//!
//! A code is read by its name, so what is asked of one of its checks is answered for all of them. The one that is furthest in its
//! limits, or nearest to them, decides; what it compares is told on the scale of the check that was asked, as far from its limit.

use circuit::{Circuit, Limits, MonitorId};

use crate::prediction::{Kind, Prediction};
use crate::test::Placement;

/// The other checks of the code that a placement reads.
pub(crate) fn others(circuit: &Circuit, placement: &Placement) -> Vec<Placement> {
    let Placement::Code { monitor } = *placement else {
        return Vec::new();
    };
    let Some(asked) = circuit.monitors.get(monitor.idx()) else {
        return Vec::new();
    };
    let all = circuit.monitors.iter().enumerate();
    all.filter(|(at, one)| *at != monitor.idx() && one.code == asked.code)
        .map(|(at, _)| Placement::Code {
            monitor: MonitorId::from(at),
        })
        .collect()
}

/// How far a value lies within limits, below 0 how far outside; and by how much that grows with the value, 1 or −1.
fn within(limits: &Limits, value: f64) -> (f64, f64) {
    let below = limits.below.map(|limit| (limit - value, -1.0));
    let above = limits.above.map(|limit| (value - limit, 1.0));
    let between = limits.between.map(|(low, high)| {
        let (from, to) = ((value - low, 1.0), (high - value, -1.0));
        if from.0 <= to.0 { from } else { to }
    });
    let all = [below, above, between].into_iter().flatten();
    all.max_by(|one, other| one.0.total_cmp(&other.0))
        .unwrap_or((f64::NEG_INFINITY, 1.0))
}

/// The value as far within limits, on the side of their first edge; and by how much it grows with that, 1 or −1.
fn at_depth(limits: &Limits, depth: f64) -> (f64, f64) {
    match (limits.below, limits.above, limits.between) {
        (Some(limit), ..) => (limit - depth, -1.0),
        (_, Some(limit), _) => (limit + depth, 1.0),
        (.., Some((low, high))) => (low + depth.min(0.5 * (high - low)), 1.0),
        (None, None, None) => (depth, 1.0),
    }
}

/// What one of a code's checks was asked, answered for all: `own` is its own prediction.
pub(crate) fn merged(
    circuit: &Circuit,
    placement: &Placement,
    own: Prediction,
    others: Vec<(Placement, Prediction)>,
) -> Prediction {
    let limits = |placement: &Placement| match *placement {
        Placement::Code { monitor } => circuit.monitors[monitor.idx()].limits,
        _ => Limits::default(),
    };
    let asked = limits(placement);
    let (depth, _) = within(&asked, own.value);
    let mut best = (own.kind == Kind::Number).then_some(depth);
    let mut decides = own;
    // One that fails is enough; where none does, one of which nothing can be said leaves all unsaid.
    let rank = |prediction: &Prediction, depth: Option<f64>| match (prediction.kind, depth) {
        (Kind::Number, Some(depth)) if depth > 0.0 => 4,
        (Kind::Unknown, _) => 3,
        (Kind::Number, _) => 2,
        (Kind::NotRun, _) => 1,
        _ => 0,
    };
    for (other, prediction) in others {
        let (depth, by_value) = within(&limits(&other), prediction.value);
        let depth = (prediction.kind == Kind::Number).then_some(depth);
        if (rank(&prediction, depth), depth) <= (rank(&decides, best), best) {
            continue;
        }
        best = depth;
        decides = match depth {
            Some(depth) => {
                let (value, by_depth) = at_depth(&asked, depth);
                let turn = by_value * by_depth;
                let turned = |slopes: Vec<f64>| slopes.into_iter().map(|slope| turn * slope).collect();
                Prediction {
                    value,
                    beyond: turn * prediction.beyond,
                    by_param: turned(prediction.by_param),
                    by_severity: turned(prediction.by_severity),
                    ..prediction
                }
            }
            None => prediction,
        };
    }
    decides
}
