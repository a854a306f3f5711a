//! A cause outside the circuit: the sound circuit of which something unforeseen disturbs a share of the tests, that share
//! being unknown.

use super::integral::{Ground, log_sum};
use super::ways::AT_REST;
use crate::likelihood::Sums;
use crate::model::Field;

/// Share of the tests that a cause outside the circuit may disturb, each with its chance. Common practice, no source.
pub const DISTURBED: [(f64, f64); 4] = [(0.03, 0.4), (0.15, 0.3), (0.4, 0.2), (0.8, 0.1)];

/// A cause outside the circuit, weighed.
pub(crate) struct Outside {
    pub(crate) log: f64,
    /// By share of the tests disturbed and what is inside the modules.
    pub(crate) shares: Vec<Disturbed>,
}

/// The sound circuit with a share of its tests disturbed.
pub(crate) struct Disturbed {
    pub(crate) share: f64,
    pub(crate) inside: u16,
    /// Logarithm of prior times likelihood, all together and by reading.
    pub(crate) log: f64,
    pub(crate) logs: Vec<f64>,
}

impl Outside {
    /// `seen`: logarithm of what close looks say of it; `comes`: share of its chance in which it comes and goes, like a fault
    /// of the circuit. It then disturbs fewer of the tests. Limit: that it stays from one reading to the next is left out.
    pub(crate) fn new(ground: Ground<'_>, insides: &[f64], seen: f64, comes: f64) -> Self {
        let mut shares = Vec::with_capacity(insides.len() * DISTURBED.len());
        let mut room = <(Field, Sums)>::default();
        for (inside, of_inside) in insides.iter().enumerate() {
            let span = ground.healthy(inside as u16);
            ground.params.expect(ground.body, &span, 0.0, 0.0, &mut room.0);
            let stays = DISTURBED.map(|(share, chance)| (share, chance * (1.0 - comes)));
            let goes = DISTURBED.map(|(share, chance)| (share * AT_REST, chance * comes));
            for (share, chance) in stays.into_iter().chain(goes).filter(|one| one.1 > 0.0) {
                let log = room.1.weigh(ground.body, &room.0.expected, ground.order, share, false);
                shares.push(Disturbed {
                    share,
                    inside: inside as u16,
                    log: of_inside.ln() + chance.ln() + seen + log,
                    logs: room.1.steps.iter().map(|step| step.log).collect(),
                });
            }
        }
        Self {
            log: log_sum(shares.iter().map(|share| share.log)),
            shares,
        }
    }

    /// Expected share of the tests disturbed, the modules being so inside, and the chance of that.
    pub(crate) fn disturbed(&self, inside: u16) -> (f64, f64) {
        let here = self.shares.iter().filter(|one| one.inside == inside);
        let (mut sum, mut chance) = (0.0, 0.0);
        for one in here {
            let weight = (one.log - self.log).exp();
            sum += one.share * weight;
            chance += weight;
        }
        (sum / chance.max(f64::MIN_POSITIVE), chance)
    }
}
