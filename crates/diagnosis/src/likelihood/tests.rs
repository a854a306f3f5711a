//! One reading against what it should be: numbers, ghosts, over-range, codes, lights.

use bench::{CodeState, Kind, Light, Shown};

use circuit::Limits;

use super::*;
use crate::evidence::Sense;

fn evidence(sense: Sense, shown: Shown) -> Evidence {
    Evidence {
        position: 0,
        at: crate::evidence::Circumstances::default(),
        row: 0,
        nominal: 0,
        sense,
        shown,
        test: 0,
        sd: 0.02,
        own_sd: 0.01,
    }
}

fn volts(value: f64) -> Evidence {
    evidence(
        Sense::Volts,
        Shown::Number {
            value,
            resolution: 0.01,
        },
    )
}

fn expectation(kind: Kind, value: f64) -> Expectation {
    Expectation {
        kind,
        value,
        ghost_volts: (0.0, 0.0),
    }
}

/// Density of the reading, all told.
fn at(evidence: &Evidence, expectation: &Expectation) -> f64 {
    step(evidence, expectation, 0.01, 0.0, None, 0.0, None).log.exp()
}

#[test]
fn a_number_that_could_be_any_number_has_density_one_in_all() {
    let should = expectation(Kind::Number, 5.0);
    for ghost_volts in [(0.0, 0.0), (5.0, 7.6)] {
        let should = Expectation { ghost_volts, ..should };
        let n = 40_000;
        let (low, high) = (-20.0, 60.0);
        let width = (high - low) / f64::from(n);
        let sum: f64 = (0..n)
            .map(|k| at(&volts(low + (f64::from(k) + 0.5) * width), &should) * width)
            .sum();
        // What is missing lies in the tails of a wrong reading, of which there are 2 %.
        assert!((sum - 1.0).abs() < 0.005, "{sum}");
    }
}

#[test]
fn a_ghost_rests_at_the_black_lead_but_may_drift_to_its_neighbours() {
    let ghost = Expectation {
        ghost_volts: (0.0, 12.0),
        ..expectation(Kind::Number, 0.0)
    };
    let driven = expectation(Kind::Number, 0.0);
    assert!(at(&volts(0.003), &ghost) > 0.5 * at(&volts(0.003), &driven));
    assert!(at(&volts(6.0), &ghost) > 10.0 * at(&volts(6.0), &driven));
    assert!(at(&volts(-6.0), &ghost) < 2.0 * at(&volts(-6.0), &driven));
}

#[test]
fn an_ohmmeter_on_a_live_circuit_tells_nothing_much() {
    for shown in [
        Shown::Number {
            value: 47.0,
            resolution: 0.1,
        },
        Shown::OverRange,
        Shown::Unstable,
    ] {
        let reading = evidence(Sense::Ohms, shown);
        let live = at(&reading, &expectation(Kind::Live, 12.0));
        let unknown = at(&reading, &expectation(Kind::Unknown, 0.0));
        assert!((live / unknown).log2().abs() < 2.5, "{live} {unknown}");
    }
}

#[test]
fn over_range_is_expected_above_the_range_and_surprising_below() {
    let reading = evidence(Sense::Ohms, Shown::OverRange);
    let open = at(&reading, &expectation(Kind::OverRange, 5e7));
    let near = at(&reading, &expectation(Kind::Number, 4.5e7));
    let low = at(&reading, &expectation(Kind::Number, 100.0));
    assert!(open > near && near > 5.0 * low, "{open} {near} {low}");
    assert!(low > 0.005, "a lead that does not touch shows it too");
}

#[test]
fn a_light_is_off_below_two_volts_and_bright_above_eight() {
    let chance = |volts: f64, light: Light| {
        at(
            &evidence(Sense::Light, Shown::Light(light)),
            &expectation(Kind::Number, volts),
        )
    };
    for volts in [0.0, 2.0, 5.0, 8.0, 12.0] {
        let sum: f64 = [Light::Off, Light::Dim, Light::Bright]
            .map(|light| chance(volts, light))
            .iter()
            .sum();
        assert!((sum - 1.0).abs() < 1e-9, "{volts} V: {sum}");
    }
    assert!(chance(0.5, Light::Off) > 0.95);
    assert!(chance(5.0, Light::Dim) > 0.9);
    assert!(chance(11.5, Light::Bright) > 0.95);
    assert!((chance(2.0, Light::Off) - 0.5).abs() < 0.02);
}

#[test]
fn a_code_speaks_if_its_monitor_ran_and_history_less() {
    let limits = Limits {
        below: Some(0.25),
        above: Some(4.75),
        between: None,
    };
    let sense = Sense::Code(limits, 0.03, false);
    let ratio = |state: CodeState| {
        let reading = evidence(sense.clone(), Shown::Code(state));
        at(&reading, &expectation(Kind::Number, 4.95)) / at(&reading, &expectation(Kind::Number, 2.0))
    };
    assert!(ratio(CodeState::Present) > 15.0);
    assert!(ratio(CodeState::History) > 1.5 && ratio(CodeState::History) < 3.0);
    assert!(ratio(CodeState::NotSet) < 0.1);
    assert!((ratio(CodeState::NotRun) - 1.0).abs() < 1e-9);
    // In a set-up where it does not run, "not set" says nothing of the circuit.
    let reading = evidence(sense.clone(), Shown::Code(CodeState::NotSet));
    let idle = |value: f64| at(&reading, &expectation(Kind::NotRun, value));
    assert_eq!(idle(4.95), idle(2.0));
    for value in [0.0, 2.0, 4.95] {
        let states = [
            CodeState::Present,
            CodeState::Pending,
            CodeState::History,
            CodeState::NotSet,
        ];
        let chance = |state| {
            at(
                &evidence(sense.clone(), Shown::Code(state)),
                &expectation(Kind::Number, value),
            )
        };
        assert!((states.map(chance).iter().sum::<f64>() - 1.0).abs() < 1e-9);
    }
}

#[test]
fn a_check_between_two_voltages_speaks_for_neither_side() {
    let limits = Limits {
        between: Some((1.2, 4.0)),
        ..Limits::default()
    };
    let reading = evidence(Sense::Code(limits, 0.2, false), Shown::Code(CodeState::Present));
    let chance = |value: f64| at(&reading, &expectation(Kind::Number, value));
    assert!(chance(2.5) > 20.0 * chance(12.6) && chance(2.5) > 20.0 * chance(0.2));
}

#[test]
fn nothing_is_impossible() {
    let kinds = [
        Kind::Number,
        Kind::OverRange,
        Kind::Live,
        Kind::NoCommunication,
        Kind::NotRun,
        Kind::Unknown,
    ];
    let shown = [
        Shown::Number {
            value: 1e9,
            resolution: 0.0,
        },
        Shown::Between {
            low: 0.0,
            high: 5.0,
            resolution: 0.01,
        },
        Shown::OverRange,
        Shown::Unstable,
        Shown::NoCommunication,
        Shown::YesNo(true),
        Shown::Light(Light::Dim),
        Shown::Code(CodeState::Present),
    ];
    let senses = [
        Sense::Volts,
        Sense::Ohms,
        Sense::Amps,
        Sense::Beep,
        Sense::Light,
        Sense::Scan(0.0, 5.0),
        Sense::Code(Limits::default(), 0.03, false),
    ];
    for sense in &senses {
        for shown in &shown {
            for kind in kinds {
                let log = step(
                    &evidence(sense.clone(), shown.clone()),
                    &expectation(kind, 0.0),
                    0.0,
                    0.0,
                    None,
                    0.0,
                    None,
                )
                .log;
                assert!(log.is_finite(), "{sense:?} {shown:?} {kind:?}: {log}");
            }
        }
    }
}

/// 8 mV where nothing drives the point are no word about the battery, however well a tenth of a millivolt was foreseen.
#[test]
fn a_ghost_hardly_moves_what_other_readings_should_be() {
    let mut floats = expectation(Kind::Number, 8e-4);
    let mut read = volts(0.0083);
    (read.sd, read.own_sd) = (1e-4, 1e-4);
    let variance = 1e-8;
    let driven = step(&read, &floats, variance, 0.0, None, 0.0, None);
    floats.ghost_volts = (0.0, 12.0);
    let ghost = step(&read, &floats, variance, 0.0, None, 0.0, None);
    // By how many of its own standard deviations the expectation moves.
    let moved = |step: &Step| (step.gain * variance).abs() / variance.sqrt();
    assert!(moved(&ghost) < 0.02, "{}", moved(&ghost));
    assert!(driven.wrong > 0.9 || moved(&driven) > 1.0);
}

/// Scan data of 0 to 100 %, known to 1 %, of a value that should be 98 ± 3: what is shown sums to 1, ends counted in, and an
/// end moves what the value is thought to be as a sum over all values does.
#[test]
fn a_value_held_at_its_end_is_there_or_beyond() {
    let shown = |value: f64| {
        let one = evidence(
            Sense::Scan(0.0, 100.0),
            Shown::Number {
                value,
                resolution: 0.01,
            },
        );
        Evidence { own_sd: 1.0, ..one }
    };
    let should = expectation(Kind::Number, 98.0);
    let right = |value: f64| shown::density(&shown(value), &should, 9.0);
    let n = 20_000;
    let inside: f64 = (0..n)
        .map(|k| right((f64::from(k) + 0.5) * 100.0 / f64::from(n)).all() * 100.0 / f64::from(n))
        .sum();
    let end = right(100.0);
    assert!(
        (inside + end.all() + right(0.0).all() - 1.0).abs() < 2e-3,
        "{inside} {end:?}"
    );

    // The value, normal around 98, where the converter's own error takes it over 100.
    let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
    for k in 0..4000 {
        let value = 98.0 + 3.0 * (f64::from(k) - 1999.5) / 250.0;
        let weight = shown::normal(value - 98.0, 9.0) * below(value - 99.995);
        sum += weight;
        first += weight * (value - 98.0);
        second += weight * (value - 98.0).powi(2);
    }
    let (mean, variance) = (first / sum, second / sum - (first / sum).powi(2));
    assert!((9.0 * end.gain - mean).abs() < 1e-3, "{mean} {end:?}");
    assert!((9.0 - 81.0 * end.shrink - variance).abs() < 1e-3, "{variance} {end:?}");
}
