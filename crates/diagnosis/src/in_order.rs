//! What a circuit in order would have shown, and whether a reading is that.
//!
//! Every kind of reading is judged by the same chances that weigh causes. Limits: one reading at a time, so what the
//! readings share (battery voltage) counts as doubt in each.

use bench::{CodeState, Kind, Light, Shown};

use crate::evidence::{End, Evidence, Sense, number};
use crate::likelihood::{Expectation, category};
use crate::{Expected, InOrder};

/// Standard deviations from what should be there from which a number is not as it should be, and the least share of it
/// that counts. Common practice, no source.
const ODD_DEVIATIONS: f64 = 3.0;
const ODD_SHARE: f64 = 0.005;
/// Something that is no number fits if it has this share of the chance of what is most likely: near the line between dim
/// and bright the eye may have it either way.
const AS_LIKELY: f64 = 0.2;

const LIGHTS: [Shown; 3] = [
    Shown::Light(Light::Off),
    Shown::Light(Light::Dim),
    Shown::Light(Light::Bright),
];
const BEEPS: [Shown; 2] = [Shown::YesNo(true), Shown::YesNo(false)];
const CODES: [Shown; 4] = [
    Shown::Code(CodeState::Present),
    Shown::Code(CodeState::Pending),
    Shown::Code(CodeState::History),
    Shown::Code(CodeState::NotSet),
];

/// What the healthy circuit would have shown, its expectation being known with this `variance`. `None` where that cannot
/// be said: it does not settle, a meter sits on a live circuit, a check does not run.
pub(crate) fn in_order(evidence: &Evidence, healthy: &Expectation, variance: f64) -> Option<InOrder> {
    let Evidence { sense, shown, .. } = evidence;
    let chance = |shown: &Shown| category(sense, shown, healthy.kind, healthy.value, variance);
    let one_of = |candidates: &[Shown]| {
        candidates
            .iter()
            .max_by(|a, b| chance(a).total_cmp(&chance(b)))
            .cloned()
    };
    let likeliest = match (healthy.kind, sense) {
        _ if *shown == Shown::Code(CodeState::NotRun) => {
            let fits = healthy.kind == Kind::NotRun;
            return fits.then(|| InOrder {
                shows: Expected::Is(shown.clone()),
                fits,
            });
        }
        (Kind::Live | Kind::NotRun | Kind::Unknown, _) => return None,
        (Kind::NoCommunication, _) => Shown::NoCommunication,
        (Kind::Number | Kind::OverRange, Sense::Beep) => one_of(&BEEPS)?,
        (Kind::OverRange, _) => Shown::OverRange,
        (Kind::Number, Sense::Light) => one_of(&LIGHTS)?,
        (Kind::Number, Sense::Code(..)) => one_of(&CODES)?,
        (Kind::Number, _) => {
            let (least, most) = sense.shown_within();
            let shown_as = healthy.value.clamp(least, most);
            return Some(InOrder {
                shows: Expected::Range(shown_as, shown_as),
                fits: match ends(shown) {
                    Some((low, high)) => {
                        let sd = (variance + evidence.own_sd * evidence.own_sd).max(0.0).sqrt();
                        let limit = (ODD_DEVIATIONS * sd).max(ODD_SHARE * healthy.value.abs());
                        // A point that nothing drives may lie anywhere on the way to its neighbours.
                        let (down, up) = healthy.ghost_volts;
                        // At an end it may be further that way.
                        let end = sense.end(shown);
                        let (higher, lower) = (matches!(end, Some(End::High(_))), matches!(end, Some(End::Low(_))));
                        (higher || low >= healthy.value - down - limit) && (lower || high <= healthy.value + up + limit)
                    }
                    None => chance(shown) >= AS_LIKELY,
                },
            });
        }
    };
    let fits = number(shown).is_none() && chance(shown) >= AS_LIKELY * chance(&likeliest);
    Some(InOrder {
        shows: Expected::Is(likeliest),
        fits,
    })
}

/// Least and most of a number shown.
fn ends(shown: &Shown) -> Option<(f64, f64)> {
    match *shown {
        Shown::Number { value, .. } => Some((value, value)),
        Shown::Between { low, high, .. } => Some((low.min(high), low.max(high))),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fits(sense: Sense, shown: Shown, kind: Kind, value: f64) -> Option<bool> {
        let evidence = Evidence {
            position: 0,
            at: crate::evidence::Circumstances::default(),
            row: 0,
            nominal: 0,
            sense,
            shown,
            test: 0,
            sd: 0.02,
            own_sd: 0.02,
        };
        let healthy = Expectation {
            kind,
            value,
            ghost_volts: (0.0, 0.0),
        };
        in_order(&evidence, &healthy, 0.01).map(|in_order| in_order.fits)
    }

    #[test]
    fn every_kind_of_reading_is_held_to_what_a_healthy_circuit_shows() {
        let limits = circuit::Limits {
            above: Some(4.8),
            ..circuit::Limits::default()
        };
        let code = || Sense::Code(limits, 0.03, false);
        let wandering = |low, high| Shown::Between {
            low,
            high,
            resolution: 0.01,
        };
        let volts = |value| Shown::Number {
            value,
            resolution: 0.01,
        };
        let number = Kind::Number;
        let cases = [
            (Sense::Light, Shown::Light(Light::Bright), number, 0.0, Some(false)),
            (Sense::Light, Shown::Light(Light::Off), number, 0.0, Some(true)),
            (Sense::Light, Shown::Light(Light::Off), number, 12.0, Some(false)),
            (Sense::Light, Shown::Light(Light::Dim), number, 8.0, Some(true)),
            (Sense::Beep, Shown::YesNo(true), number, 0.2, Some(true)),
            (Sense::Beep, Shown::YesNo(true), Kind::OverRange, 0.0, Some(false)),
            (code(), Shown::Code(CodeState::Present), number, 2.0, Some(false)),
            (code(), Shown::Code(CodeState::History), number, 2.0, Some(false)),
            (code(), Shown::Code(CodeState::NotSet), number, 2.0, Some(true)),
            (code(), Shown::Code(CodeState::Present), number, 5.5, Some(true)),
            (code(), Shown::Code(CodeState::NotRun), number, 2.0, None),
            (code(), Shown::Code(CodeState::NotSet), Kind::NotRun, 0.0, None),
            (Sense::Volts, wandering(11.0, 12.0), number, 0.0, Some(false)),
            (Sense::Volts, wandering(-0.1, 12.0), number, 0.0, Some(false)),
            (Sense::Volts, wandering(4.9, 5.1), number, 5.0, Some(true)),
            (Sense::Volts, volts(5.1), number, 5.0, Some(true)),
            (Sense::Volts, volts(5.6), number, 5.0, Some(false)),
            (Sense::Volts, Shown::Unstable, number, 5.0, Some(false)),
            (Sense::Ohms, Shown::OverRange, number, 1000.0, Some(false)),
            (Sense::Ohms, Shown::OverRange, Kind::OverRange, 0.0, Some(true)),
            (Sense::Ohms, volts(1000.0), Kind::OverRange, 0.0, Some(false)),
            (Sense::Ohms, volts(1000.0), Kind::Live, 12.0, None),
            (Sense::Scan(0.0, 32.0), Shown::NoCommunication, number, 8.0, Some(false)),
            (
                Sense::Scan(0.0, 32.0),
                Shown::NoCommunication,
                Kind::NoCommunication,
                0.0,
                Some(true),
            ),
        ];
        for (sense, shown, kind, value, expected) in cases {
            let told = format!("{sense:?}, {shown:?}, healthy {kind:?} {value}");
            assert_eq!(fits(sense, shown, kind, value), expected, "{told}");
        }
    }

    #[test]
    fn a_point_that_nothing_drives_may_lie_on_the_way_to_its_neighbours() {
        let evidence = Evidence {
            position: 0,
            at: crate::evidence::Circumstances::default(),
            row: 0,
            nominal: 0,
            sense: Sense::Volts,
            shown: Shown::Number {
                value: 2.0,
                resolution: 0.01,
            },
            test: 0,
            sd: 0.02,
            own_sd: 0.02,
        };
        let healthy = Expectation {
            kind: Kind::Number,
            value: 0.0,
            ghost_volts: (0.0, 5.0),
        };
        assert!(in_order(&evidence, &healthy, 0.0).is_some_and(|one| one.fits));
    }
}
