//! Can a test tell anything? It cannot if the healthy circuit and all suspects that count show the same on this meter.
//!
//! The suspects that count carry 98 % of what is suspected. Of the rest, those that would show something else are named
//! with what they would show, down to a hundredth of a percent and at every severity that no reading speaks against.
//!
//! Why it cannot is read off the predictions: nothing drives the point, the channel stands at an end of its range, no
//! current flows, the ohmmeter sits on voltage, the module is dead. No rule about any circuit is written down.

use bench::{BenchError, Hypothesis, Kind, Placement, Predict, Prediction, Question, Shown, Test};
use circuit::{Channel, Circuit, PointId};

use crate::candidate::net::Nets;
use crate::candidate::touched;
use crate::hazard::Cause;
use crate::propose::split::{SURELY_APART, Seen, Table};
use crate::{Alive, Because, Expected, Otherwise, Under, Worth};

/// Suspects that together carry this share decide; the rest could say otherwise, but too rarely to measure for.
const ASKED: f64 = 0.98;
/// A suspect less likely than this is not named where it alone would show something else.
pub(crate) const LEAST_NAMED: f64 = 1e-4;
/// A test that is expected to tell less than this is not proposed, bits.
pub(crate) const LEAST_BITS: f64 = 0.02;
/// What a voltmeter loads a point with; behind more than that, nothing drives it.
const METER_OHMS: f64 = 10e6;
/// Below these the technician calls it nothing: volts, amperes (a clamp shows 10 mA). Common practice, no source.
const NO_VOLTS: f64 = 0.02;
const NO_AMPS: f64 = 0.02;

/// A light that leaves less than this share of the voltage has pulled its point down.
const LOADED_SHARE: f64 = 0.5;

/// Gives the suspects at every severity still possible.
type Causes<'c, 'a> = &'c dyn Fn() -> Result<Vec<Cause<'a>>, BenchError>;

/// Whether a test can tell anything, and if not, why. `alive`: the suspects, likeliest first; `causes` gives them with all
/// severities still possible, and is called only where most show the same. `bits` and `minutes` are what it is expected to tell and to take.
///
/// # Errors
/// Those of [`Predict::predict`].
pub(crate) fn worth(
    bench: &dyn Predict,
    circuit: &Circuit,
    (alive, causes): (&[Alive<'_>], Causes<'_, '_>),
    test: &Test,
    bits: f64,
    minutes: f64,
) -> Result<Worth, BenchError> {
    let ask = |hypotheses: &[Hypothesis<'_>]| bench.predict(Question::of(hypotheses, test));
    let mut hypotheses = vec![Hypothesis::default()];
    hypotheses.extend(main(alive).map(|alive| alive.hypothesis.clone()));
    let batch = ask(&hypotheses)?;
    let Some(healthy) = batch.predictions.first() else {
        return Ok(Worth::Tells { bits, minutes });
    };
    let label = |predictions: &[&Prediction]| one_outcome(circuit, &test.placement, predictions);
    let mut same: Vec<&Prediction> = batch.predictions.iter().collect();
    if label(&same).is_none() {
        return Ok(Worth::Tells { bits, minutes });
    }
    let causes = causes()?;
    let hypotheses: Vec<Hypothesis<'_>> = causes.iter().map(|cause| cause.hypothesis.clone()).collect();
    let rest = ask(&hypotheses)?;
    let mut otherwise: Vec<Otherwise> = Vec::new();
    for (cause, prediction) in causes.iter().zip(&rest.predictions) {
        let Under::Suspect(fault) = cause.under else { continue };
        if label(&[healthy, prediction]).is_some() {
            same.push(prediction);
        } else if !otherwise.iter().any(|known| known.fault == fault) {
            let shows = label(&[prediction]).unwrap_or(Expected::Is(Shown::NotTaken));
            let chance = cause.chance;
            otherwise.push(Otherwise { fault, chance, shows });
        }
    }
    otherwise.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    let shows = match label(&[healthy]) {
        Some(Expected::Range(..)) => range(circuit, &test.placement, &same),
        Some(shows) => shows,
        None => Expected::Is(Shown::NotTaken),
    };
    let because = because(bench, circuit, test, healthy)?;
    Ok(Worth::Nothing {
        shows,
        because,
        otherwise,
    })
}

/// What a test shows under each of some predictions, if that is one thing to whoever reads the meter.
fn one_outcome(circuit: &Circuit, placement: &Placement, predictions: &[&Prediction]) -> Option<Expected> {
    let seen: Vec<Seen> = predictions
        .iter()
        .map(|prediction| Seen::predicted(circuit, placement, prediction))
        .collect();
    let mut table = Table::new(circuit, placement, &seen, &vec![1.0; seen.len()], SURELY_APART);
    if table.tells_nothing() {
        table.labels.pop()?.pop()
    } else {
        None
    }
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

fn because(bench: &dyn Predict, circuit: &Circuit, test: &Test, shown: &Prediction) -> Result<Because, BenchError> {
    match shown.kind {
        Kind::NoCommunication => return Ok(Because::NotPowered),
        Kind::Live => return Ok(Because::Live),
        _ => {}
    }
    let number = shown.kind == Kind::Number;
    Ok(match test.placement {
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
        Placement::TestLight { tip, clip } if number && shown.value.abs() < bench::DARK_VOLTS => {
            match without_light(bench, test, (tip, clip))? {
                volts if volts < NO_VOLTS => no_volts(circuit, test),
                volts if shown.value.abs() < LOADED_SHARE * volts => Because::LoadedDown,
                _ => Because::TooLittle,
            }
        }
        Placement::Voltmeter { .. } if shown.source_ohms >= METER_OHMS => Because::NothingDrives,
        Placement::Voltmeter { .. } if number && shown.value.abs() < NO_VOLTS => no_volts(circuit, test),
        _ => Because::OutOfReach,
    })
}

/// What would stand between the two points of a light in a sound circuit without it, volts.
fn without_light(bench: &dyn Predict, test: &Test, (red, black): (PointId, PointId)) -> Result<f64, BenchError> {
    let batch = bench.predict(Question::new(
        &[Hypothesis::default()],
        &test.set_up,
        &[Placement::Voltmeter { red, black }],
    ))?;
    let volts = batch.predictions.first().filter(|one| one.kind == Kind::Number);
    Ok(volts.map_or(0.0, |one| one.value.abs()))
}

/// Why no voltage stands between the two points of a test.
fn no_volts(circuit: &Circuit, test: &Test) -> Because {
    let nets = Nets::new(circuit, &test.set_up);
    let one_net = touched(&test.placement)
        .is_some_and(|(a, b)| nets.same(a, b) || (nets.hangs(a).returns() && nets.hangs(b).returns()));
    if one_net {
        Because::NoCurrent
    } else {
        Because::NothingDrives
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
    use circuit::{Change, FaultId, SetUp, Severity};

    use super::*;
    use crate::hazard::fixture::{Linear, at, branch, fault, pot, set_up};

    /// The worth of a voltmeter reading between two opens in the sensor ground.
    fn of(red: &str, set_up: SetUp) -> Worth {
        with(red, set_up, 0.0).0
    }

    /// The same with a leak from the feed to the sensor ground at a chance, and that leak.
    fn with(red: &str, set_up: SetUp, rare: f64) -> (Worth, FaultId) {
        let circuit = pot(0.5);
        let mut leak = fault(
            "leak",
            vec![Change::BridgeOhms(at(&circuit, "S1.3"), circuit.battery_plus, 1.0)],
            Vec::new(),
        );
        // Mild at its plausible severity, plain at its worst.
        leak.severity = Some(Severity {
            unit: quantity::Unit::Ohm,
            low: 1.0,
            high: 1e6,
            logarithmic: true,
        });
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
        let mut leaking = alive(2, rare, &leak);
        leaking.hypothesis.faults[0].1 = 1e6;
        let mut alive = vec![alive(0, 0.6, &open), alive(1, 0.4 - rare, &elsewhere)];
        alive.extend((rare > 0.0).then_some(leaking));
        let causes = || crate::hazard::causes(&Linear(&circuit), &alive, &[]);
        let placement = Placement::Voltmeter {
            red: at(&circuit, red),
            black: circuit.battery_minus,
        };
        let (bench, test) = (Linear(&circuit), Test { placement, set_up });
        (
            worth(&bench, &circuit, (&alive, &causes), &test, 0.5, 1.0).unwrap(),
            FaultId(2),
        )
    }

    #[test]
    fn the_ground_terminal_of_an_unplugged_sensor_proves_nothing() {
        let Worth::Nothing {
            shows: Expected::Range(low, high),
            because,
            otherwise,
        } = of("S1.3", set_up(&[1], Vec::new()))
        else {
            panic!("it tells nothing")
        };
        assert!(low > -0.01 && high < 0.01, "{low} to {high}");
        assert!(matches!(because, Because::NoCurrent | Because::NothingDrives));
        assert_eq!(otherwise, [], "neither of the two would show");
    }

    #[test]
    fn a_rare_suspect_that_would_show_otherwise_is_named_with_what_it_would_show() {
        let (worth, leak) = with("S1.3", set_up(&[0, 1], Vec::new()), 0.005);
        let Worth::Nothing { otherwise, .. } = worth else {
            panic!("99.5 % show 0 V: {worth:?}")
        };
        let [Otherwise { fault, chance, shows }] = &otherwise[..] else {
            panic!("{otherwise:?}")
        };
        assert_eq!((*fault, *chance), (leak, 0.005));
        // A wire with both plugs off hangs on the feed through the leak alone: 12.6 V behind 1 Ω to 1 MΩ into 10 MΩ.
        assert!(
            matches!(shows, Expected::Range(low, high) if *low > 11.0 && *high < 13.0),
            "{shows:?}"
        );
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
    fn a_light_that_a_weak_voltage_cannot_light_is_said_to_load_it_down() {
        let circuit = pot(0.5);
        let elsewhere = fault(
            "elsewhere",
            vec![Change::Open(branch(&circuit, "M1.3/contact"))],
            Vec::new(),
        );
        let alive = [Alive {
            fault: FaultId(0),
            severity: 0.0,
            chance: 1.0,
            share: 1.0,
            hypothesis: Hypothesis {
                faults: vec![(&elsewhere, 0.0)],
            },
        }];
        let bench = Linear(&circuit);
        let because = |tip: &str, set_up: SetUp| {
            let tip = at(&circuit, tip);
            let clip = circuit.battery_minus;
            let test = Test {
                placement: Placement::TestLight { tip, clip },
                set_up,
            };
            let none = || Ok(Vec::new());
            match worth(&bench, &circuit, (&alive, &none), &test, 0.5, 1.0).unwrap() {
                Worth::Nothing { because, .. } => because,
                other => panic!("{other:?}"),
            }
        };
        // 2.5 V behind 1.25 kΩ of track against a filament of tens of ohms.
        assert_eq!(because("S1.2", SetUp::default()), Because::LoadedDown);
        // The signal wire with both plugs off.
        assert_eq!(because("S1.2", set_up(&[0, 1], Vec::new())), Because::NothingDrives);
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
