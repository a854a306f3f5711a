//! Where answers are linear in the uncertain parameters: near what the readings say of them, once they say that a part is far
//! from what the file has (Newton's step towards the likeliest, as in an iterated extended Kalman filter; from memory).

use std::sync::Arc;

use super::causes::Causes;
use super::findings::Top;
use super::outside::Outside;
use super::weighing::Weighing;
use crate::model::SAGS;

/// Times that answers are asked for around other values, at most.
pub(crate) const TIMES: usize = 2;
/// A centre moves in steps of this many standard deviations, so that the next reading finds most answers made …
const STEP: f64 = 1.0;
/// … and not at all before a parameter is this far off.
const FAR: f64 = 0.8;
/// No further than this.
const FURTHEST: f64 = 3.0;

/// The parameters' values around which to ask, in standard deviations; empty where all are near what the file has. The battery
/// moves while one works: it stays.
pub(crate) fn learnt(weighing: &Weighing<'_, '_>, causes: &Causes, outside: &Outside) -> Arc<[f64]> {
    let ground = weighing.ground();
    let chances = causes.chances(outside);
    let params = &weighing.circuit.params;
    let mut centre = vec![0.0; params.len()];
    for (param, mean, _) in Top::new(ground, causes, &chances, outside).learnt(ground) {
        let at = param.idx();
        if mean.abs() >= FAR && params.get(at).is_some_and(|param| param.path != SAGS) {
            centre[at] = ((mean / STEP).round() * STEP).clamp(-FURTHEST, FURTHEST);
        }
    }
    if centre.iter().all(|at| *at == 0.0) {
        Arc::default()
    } else {
        centre.into()
    }
}
