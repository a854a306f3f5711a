//! Can a test tell anything? It cannot if the healthy circuit and all suspects that count show the same on this meter.
//!
//! Why it cannot is read off the predictions: nothing drives the point, the channel stands at an end of its range, no
//! current flows, the ohmmeter sits on voltage, the module is dead. No rule about any circuit is written down.

use bench::{BenchError, Hypothesis, Kind, Placement, Predict, Prediction, Question, Shown, Test};
use circuit::{Channel, Circuit};

use crate::candidate::net::Nets;
use crate::candidate::touched;
use crate::propose::split::{SURELY_APART, Seen, Table};
use crate::{Alive, Because, Expected, Worth};

/// Suspects that together carry this share are asked; the rest could say otherwise, but too rarely to measure for.
const ASKED: f64 = 0.98;
/// A test that is expected to tell less than this is not proposed, bits.
pub(crate) const LEAST_BITS: f64 = 0.02;
/// What a voltmeter loads a point with; behind more than that, nothing drives it.
const METER_OHMS: f64 = 10e6;
/// Below these the technician calls it nothing: volts, amperes (a clamp shows 10 mA). Common practice, no source.
const NO_VOLTS: f64 = 0.02;
const NO_AMPS: f64 = 0.02;

/// Whether a test can tell anything, and if not, why. `bits` and `minutes` are what it is expected to tell and to take.
///
/// # Errors
/// Those of [`Predict::predict`].
pub(crate) fn worth(
    bench: &dyn Predict,
    circuit: &Circuit,
    alive: &[Alive<'_>],
    test: &Test,
    bits: f64,
    minutes: f64,
) -> Result<Worth, BenchError> {
    let mut hypotheses = vec![Hypothesis::default()];
    hypotheses.extend(main(alive).map(|alive| alive.hypothesis.clone()));
    let batch = bench.predict(Question {
        hypotheses: &hypotheses,
        set_up: &test.set_up,
        placements: std::slice::from_ref(&test.placement),
        theta: &[],
        with_flows: false,
    })?;
    let predictions: Vec<&Prediction> = batch.predictions.iter().collect();
    let Some(&healthy) = predictions.first() else {
        return Ok(Worth::Tells { bits, minutes });
    };
    let seen: Vec<Seen> = predictions
        .iter()
        .map(|p| Seen::predicted(circuit, &test.placement, p))
        .collect();
    let mut table = Table::new(circuit, &test.placement, &seen, &vec![1.0; seen.len()], SURELY_APART);
    if !table.tells_nothing() {
        return Ok(Worth::Tells { bits, minutes });
    }
    let shows = match table.labels.pop().and_then(|mut label| label.pop()) {
        Some(Expected::Range(..)) => range(circuit, &test.placement, &predictions),
        Some(shows) => shows,
        None => Expected::Is(Shown::NotTaken),
    };
    let because = because(circuit, test, healthy);
    Ok(Worth::Nothing { shows, because })
}

/// What they all show, within the meter's accuracy; a wandering tail of an undriven point is left out.
fn range(circuit: &Circuit, placement: &Placement, predictions: &[&Prediction]) -> Expected {
    let ends = predictions.iter().map(|prediction| {
        let sd = bench::accuracy(circuit, placement, prediction.value, None).sd;
        (prediction.value - 2.0 * sd, prediction.value + 2.0 * sd)
    });
    let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (from, to)| {
        (low.min(from), high.max(to))
    });
    Expected::Range(low, high)
}

/// The entries of the likeliest faults, as many as carry [`ASKED`] of what all carry.
pub(crate) fn main<'s, 'a>(alive: &'s [Alive<'a>]) -> impl Iterator<Item = &'s Alive<'a>> {
    let all: f64 = alive.iter().map(|alive| alive.chance * alive.share).sum();
    let mut sum = 0.0;
    let mut last = None;
    alive.iter().take_while(move |alive| {
        // All severities of one fault stay together.
        let more = sum < ASKED * all || last == Some(alive.fault);
        sum += alive.chance * alive.share;
        last = Some(alive.fault);
        more
    })
}

fn because(circuit: &Circuit, test: &Test, shown: &Prediction) -> Because {
    match shown.kind {
        Kind::NoCommunication => return Because::NotPowered,
        Kind::Live => return Because::Live,
        _ => {}
    }
    let number = shown.kind == Kind::Number;
    match test.placement {
        Placement::Scan { channel } => {
            let at_end = circuit
                .channels
                .get(channel.idx())
                .is_some_and(|channel| at_end(channel, shown.value));
            if number && at_end {
                Because::Clamped
            } else {
                Because::OutOfReach
            }
        }
        Placement::Clamp { .. } | Placement::Ammeter { .. } if number && shown.value.abs() < NO_AMPS => {
            Because::NoCurrent
        }
        Placement::Voltmeter { .. } if shown.source_ohms >= METER_OHMS => Because::NothingDrives,
        Placement::Voltmeter { .. } | Placement::TestLight { .. } if number && shown.value.abs() < NO_VOLTS => {
            let nets = Nets::new(circuit, &test.set_up);
            let one_net = touched(&test.placement)
                .is_some_and(|(a, b)| nets.same(a, b) || (nets.hangs(a).returns() && nets.hangs(b).returns()));
            if one_net {
                Because::NoCurrent
            } else {
                Because::NothingDrives
            }
        }
        _ => Because::OutOfReach,
    }
}

/// Whether a channel shows what it shows at an end of its converter's range.
fn at_end(channel: &Channel, value: f64) -> bool {
    let shown = |row: Option<&(f64, f64)>| row.map_or(f64::NAN, |row| row.1);
    let (low, high) = (shown(channel.scaling.first()), shown(channel.scaling.last()));
    let near = 0.005 * (high - low).abs();
    (value - low).abs() <= near || (value - high).abs() <= near
}

#[cfg(test)]
mod tests {
    use bench::{Placement, Test};
    use circuit::{Change, FaultId, SetUp};

    use super::*;
    use crate::hazard::fixture::{Linear, at, branch, fault, pot, set_up};

    /// The worth of a voltmeter reading between an open sensor ground and a 200 Ω one.
    fn of(red: &str, set_up: SetUp) -> Worth {
        let circuit = pot(0.5);
        let open = fault("open", vec![Change::Open(branch(&circuit, "W3"))], Vec::new());
        let elsewhere = fault(
            "elsewhere",
            vec![Change::Open(branch(&circuit, "M1.3/contact"))],
            Vec::new(),
        );
        let alive = |idx, chance, fault| Alive {
            fault: FaultId(idx),
            severity: 0.0,
            chance,
            share: 1.0,
            hypothesis: Hypothesis {
                faults: vec![(fault, 0.0)],
            },
        };
        let alive = [alive(0, 0.6, &open), alive(1, 0.4, &elsewhere)];
        let placement = Placement::Voltmeter {
            red: at(&circuit, red),
            black: circuit.battery_minus,
        };
        worth(
            &Linear(&circuit),
            &circuit,
            &alive,
            &Test { placement, set_up },
            0.5,
            1.0,
        )
        .unwrap()
    }

    #[test]
    fn the_ground_terminal_of_an_unplugged_sensor_proves_nothing() {
        let Worth::Nothing {
            shows: Expected::Range(low, high),
            because,
        } = of("S1.3", set_up(&[1], Vec::new()))
        else {
            panic!("it tells nothing")
        };
        assert!(low > -0.01 && high < 0.01, "{low} to {high}");
        assert!(matches!(because, Because::NoCurrent | Because::NothingDrives));
    }

    #[test]
    fn the_same_terminal_joined_tells() {
        assert_eq!(
            of("S1.3", SetUp::default()),
            Worth::Tells {
                bits: 0.5,
                minutes: 1.0
            }
        );
    }

    #[test]
    fn a_battery_tells_nothing_of_a_sensors_ground() {
        assert!(matches!(
            of("battery+", SetUp::default()),
            Worth::Nothing {
                because: Because::OutOfReach,
                ..
            }
        ));
    }
}
