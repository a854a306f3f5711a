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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::prediction::Unsaid;

    const CIRCUIT: &str = r#"
title = "A heater's pin, watched twice"
[module.engine.pin]
C1.1 = { kind = "feed" }
C1.2 = { kind = "ground" }
C1.3 = { kind = "high-side driver", on = "heater commanded", bias_up = "none", bias_down = "none", ohms = "0.3 Ω", limit = "4 A" }
[[module.engine.monitor]]
code = "P0031"
name = "off"
pin = "C1.3"
below = "1 V"
runs = "key on"
[[module.engine.monitor]]
code = "P0031"
name = "on"
pin = "C1.3"
above = "4 V"
runs = "key on"
[load.heater]
[connector]
C1 = { rows = ["1-3"] }
[wire]
W1 = { from = "battery+", to = "C1.1" }
W2 = { from = "C1.2", to = "body" }
W3 = { from = "C1.3", to = "body" }
"#;

    fn prediction(kind: Kind, value: f64) -> Prediction {
        Prediction {
            kind,
            value,
            beyond: 0.0,
            by_param: vec![0.5],
            by_severity: vec![2.0],
            source_ohms: 0.0,
            ghost_volts: (0.0, 0.0),
            unsaid: (kind == Kind::Unknown).then_some(Unsaid::Lag),
        }
    }

    #[test]
    fn the_check_that_fails_decides_on_the_scale_of_the_one_that_was_asked() {
        let circuit = circuit::parse(CIRCUIT).unwrap_or_else(|mistakes| panic!("{mistakes:?}"));
        let asked = Placement::Code {
            monitor: 0_usize.into(),
        };
        let other = others(&circuit, &asked).remove(0);
        assert_eq!(
            other,
            Placement::Code {
                monitor: 1_usize.into()
            }
        );
        let both = |own, beside| merged(&circuit, &asked, own, vec![(other.clone(), beside)]);
        let number = |value| prediction(Kind::Number, value);
        // 4.5 V is half a volt beyond 4 V: told as half a volt below 1 V, and what raises it lowers that.
        let got = both(number(5.0), number(4.5));
        assert!((got.value - 0.5).abs() < 1e-12, "{}", got.value);
        assert_eq!((got.by_param, got.by_severity), (vec![-0.5], vec![-2.0]));
        // Neither fails: the nearer one decides, here the one that was asked.
        assert!((both(number(1.2), number(1.2)).value - 1.2).abs() < 1e-12);
        // One that fails is enough, whatever is not known of the other; one that does not fail is not.
        assert_eq!(both(prediction(Kind::Unknown, 0.0), number(4.5)).kind, Kind::Number);
        assert_eq!(
            both(prediction(Kind::Unknown, 0.0), number(3.5)).unsaid,
            Some(Unsaid::Lag)
        );
        assert_eq!(both(number(2.0), prediction(Kind::Unknown, 0.0)).kind, Kind::Unknown);
        assert_eq!(both(prediction(Kind::NotRun, 0.0), number(4.5)).kind, Kind::Number);
        assert_eq!(both(number(0.5), prediction(Kind::NotRun, 0.0)).kind, Kind::Number);
    }
}
