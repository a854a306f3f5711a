//! The weighing on a bench of closed forms: laws that must hold, and known answers.

use bench::{Light, Placement, Predict, Reading, Shown, Test};
use circuit::{FaultId, PointId};
use proptest::prelude::*;

use super::*;
use crate::Conclusion;
use crate::Intake;
use crate::fake::{Fake, chain, circuit, fault, shows, volts_at};
use crate::prior::OUTSIDE;

fn weighed<'a>(bench: &dyn Predict, circuit: &'a Circuit, faults: &'a [Fault], readings: &[Reading]) -> Belief<'a> {
    weigh(
        bench,
        circuit,
        faults,
        &Case::new(&Intake::default(), readings),
        &mut Predictions::default(),
    )
    .unwrap()
}

fn chances(belief: &Belief<'_>) -> Vec<f64> {
    belief
        .weighed
        .iter()
        .map(|weighed| weighed.chance)
        .chain([belief.outside])
        .collect()
}

/// What the chain reads at point `k` with `ohms` more at `joint`.
fn truth(bench: &dyn Predict, faults: &[Fault], joint: usize, ohms: f64, test: &Test) -> f64 {
    let hypotheses = [Hypothesis {
        faults: vec![(&faults[joint], ohms)],
    }];
    let question = bench::Question::of(&hypotheses, test);
    bench.predict(question).unwrap().predictions[0].value
}

#[test]
fn without_readings_the_chances_are_those_from_before() {
    let (circuit, faults, bench) = chain(4);
    let belief = weighed(&bench, &circuit, &faults, &[]);
    assert!((belief.outside - OUTSIDE).abs() < 1e-12);
    for fault in 0..4 {
        assert!((belief.chance(FaultId(fault)) - (1.0 - OUTSIDE) / 4.0).abs() < 1e-12);
    }
    let findings = belief.findings(&bench, &mut Predictions::default(), None).unwrap();
    assert_eq!(findings.conclusion, Conclusion::Open);
}

#[test]
fn a_drop_between_two_points_names_the_joint_between_them_and_its_resistance() {
    let (circuit, faults, bench) = chain(5);
    let readings: Vec<Reading> = [1, 2, 3, 4]
        .map(|k| {
            let volts = truth(&bench, &faults, 2, 4.7, &volts_at(k));
            shows(volts_at(k), (volts * 100.0).round() / 100.0)
        })
        .to_vec();
    let mut predictions = Predictions::default();
    let belief = weigh(
        &bench,
        &circuit,
        &faults,
        &Case::new(&Intake::default(), &readings),
        &mut predictions,
    )
    .unwrap();
    let findings = belief.findings(&bench, &mut predictions, None).unwrap();
    assert_eq!(findings.suspects[0].fault, FaultId(2), "{findings:#?}");
    assert!(findings.suspects[0].chance > 0.95, "{}", findings.suspects[0].chance);
    assert!(matches!(findings.conclusion, Conclusion::Found { suspect: 0, .. }));
    let (middle, low, high) = findings.suspects[0].severity.unwrap();
    assert!(low < 4.7 && 4.7 < high, "{low} {middle} {high}");
    // 3 % of 6 Ω, and the meter: nothing that would leave more than a few percent.
    assert!(high / low < 1.25, "{low} {high}");
    assert!(
        findings.readings.iter().all(|standing| standing.wrong < 0.02),
        "{:?}",
        findings.readings
    );
}

#[test]
fn bits_sum_to_what_the_readings_did_to_the_odds() {
    let (circuit, faults, bench) = chain(4);
    let readings = [
        shows(volts_at(1), 12.4),
        shows(volts_at(2), 9.3),
        shows(volts_at(4), 9.2),
    ];
    let belief = weighed(&bench, &circuit, &faults, &readings);
    for weighed in &belief.weighed {
        let odds = |chance: f64| (chance / (1.0 - chance)).log2();
        let told: f64 = weighed.bits.iter().sum();
        assert!(
            (told - (odds(weighed.chance) - odds(weighed.before))).abs() < 1e-6,
            "{weighed:?}"
        );
    }
}

#[test]
fn a_reading_that_all_causes_predict_alike_moves_no_fault_against_another() {
    let (circuit, faults, bench) = chain(4);
    // The battery itself reads the same whatever joint is bad.
    let belief = weighed(&bench, &circuit, &faults, &[shows(volts_at(0), 12.41)]);
    for fault in 1..4 {
        assert!((belief.chance(FaultId(0)) / belief.chance(FaultId(fault)) - 1.0).abs() < 1e-9);
    }
}

#[test]
fn the_same_reading_twice_is_hardly_more_than_once() {
    let (circuit, faults, bench) = chain(4);
    let odds = |readings: &[Reading]| {
        let belief = weighed(&bench, &circuit, &faults, readings);
        let for_it = belief.chance(FaultId(2));
        (for_it / (1.0 - for_it)).log2()
    };
    let reading = shows(volts_at(3), truth(&bench, &faults, 2, 20.0, &volts_at(3)));
    let other = shows(volts_at(2), truth(&bench, &faults, 2, 20.0, &volts_at(2)));
    let once = odds(&[reading.clone(), other.clone()]);
    let twice = odds(&[reading.clone(), reading.clone(), other.clone()]);
    let five = odds(&[
        reading.clone(),
        reading.clone(),
        reading.clone(),
        reading.clone(),
        reading,
        other,
    ]);
    let before = odds(&[]);
    assert!(once - before > 3.0, "{before} {once}");
    // It takes away some of the doubt whether the first was a slip, and no more: below a bit.
    assert!((twice - once).abs() < 1.0, "{once} {twice}");
    assert!((five - once).abs() < 2.0, "{once} {five}");
}

#[test]
fn a_reading_at_odds_with_the_rest_is_called_wrong_and_does_not_decide() {
    let (circuit, faults, bench) = chain(6);
    let mut readings: Vec<Reading> = (0..=6)
        .map(|k| {
            shows(
                volts_at(k),
                (truth(&bench, &faults, 3, 10.0, &volts_at(k)) * 100.0).round() / 100.0,
            )
        })
        .collect();
    // The lead did not touch.
    readings[2].shown = Shown::Number {
        value: 0.0,
        resolution: 0.01,
    };
    let belief = weighed(&bench, &circuit, &faults, &readings);
    assert!(belief.chance(FaultId(3)) > 0.9, "{:?}", chances(&belief));
    let wrong: Vec<f64> = belief.standings.iter().map(|standing| standing.wrong).collect();
    assert!(wrong[2] > 0.99, "{wrong:?}");
    assert!(
        wrong.iter().enumerate().all(|(at, wrong)| at == 2 || *wrong < 0.01),
        "{wrong:?}"
    );
}

#[test]
fn healthy_readings_everywhere_point_outside_or_to_what_comes_and_goes() {
    let (circuit, faults, bench) = chain(3);
    let readings: Vec<Reading> = (0..=3).map(|k| shows(volts_at(k), 12.55)).collect();
    let intake = |comes_and_goes| Intake {
        comes_and_goes,
        ..Intake::default()
    };
    let weighed = |intake: &Intake| {
        let case = Case::new(intake, &readings);
        weigh(&bench, &circuit, &faults, &case, &mut Predictions::default()).unwrap()
    };
    let stays = weighed(&intake(Some(false)));
    assert!(stays.outside > 0.8, "{}", stays.outside);
    let findings = stays.findings(&bench, &mut Predictions::default(), None).unwrap();
    assert_eq!(findings.conclusion, Conclusion::Outside);
    let comes = weighed(&intake(Some(true)));
    assert!(comes.outside < 0.3, "{}", comes.outside);
    assert!(comes.weighed.iter().all(|weighed| weighed.comes_and_goes > 0.99));
}

#[test]
fn readings_that_no_fault_explains_point_outside() {
    let (circuit, faults, bench) = chain(3);
    // Rising along the chain: a second source, which nothing here is.
    let readings = [
        shows(volts_at(0), 12.6),
        shows(volts_at(1), 5.0),
        shows(volts_at(2), 8.0),
        shows(volts_at(3), 11.0),
    ];
    let belief = weighed(&bench, &circuit, &faults, &readings);
    assert!(belief.outside > 0.8, "{:?}", chances(&belief));
}

#[test]
fn what_was_not_taken_says_nothing() {
    let (circuit, faults, bench) = chain(3);
    let readings = [Reading {
        test: volts_at(2),
        shown: Shown::NotTaken,
    }];
    let belief = weighed(&bench, &circuit, &faults, &readings);
    assert!((belief.outside - OUTSIDE).abs() < 1e-12);
    assert_eq!(belief.standings[0].told_bits, 0.0);
    assert_eq!(belief.weighed[0].expects, [None]);
}

#[test]
fn a_sagging_battery_is_learnt_and_not_taken_for_a_fault() {
    let (circuit, faults, bench) = chain(3);
    // Everything half a volt low, and a drop at joint 1.
    let scale = 12.0 / 12.6;
    let readings: Vec<Reading> = (0..=3)
        .map(|k| shows(volts_at(k), scale * truth(&bench, &faults, 1, 3.0, &volts_at(k))))
        .collect();
    let belief = weighed(&bench, &circuit, &faults, &readings);
    assert!(belief.chance(FaultId(1)) > 0.95, "{:?}", chances(&belief));
    let (_, centre, sd) = belief.learnt.iter().copied().find(|learnt| learnt.0.0 == 0).unwrap();
    assert!((centre + 2.0).abs() < 0.5, "{centre}: 0.6 V of 0.3 V");
    assert!(sd < 0.9, "by the next reading it may have moved on: {sd}");
}

#[test]
fn a_test_light_tells_a_feed_through_a_bad_joint_from_a_good_one() {
    let (circuit, faults, bench) = chain(3);
    let light = |k: usize, light: Light| Reading {
        test: Test {
            placement: Placement::TestLight {
                tip: PointId::from(k),
                clip: PointId(1000),
            },
            ..volts_at(k)
        },
        shown: Shown::Light(light),
    };
    let belief = weighed(
        &bench,
        &circuit,
        &faults,
        &[light(1, Light::Bright), light(2, Light::Off)],
    );
    assert!(
        belief.chance(FaultId(1)) > 10.0 * belief.chance(FaultId(0)),
        "{:?}",
        chances(&belief)
    );
    assert!(
        belief.chance(FaultId(1)) > 10.0 * belief.chance(FaultId(2)),
        "{:?}",
        chances(&belief)
    );
}

#[test]
fn faults_that_no_test_tells_apart_are_folded_with_both_repairs_listed() {
    let (circuit, mut faults, bench) = chain(3);
    // A second thing that can be wrong with joint 1.
    let mut twin = faults[1].clone();
    twin.repair.key = "another repair".into();
    twin.weight = 0.5;
    faults.push(twin);
    let readings: Vec<Reading> = (0..=3)
        .map(|k| shows(volts_at(k), truth(&bench, &faults, 1, 3.0, &volts_at(k))))
        .collect();
    let mut predictions = Predictions::default();
    let belief = weigh(
        &bench,
        &circuit,
        &faults,
        &Case::new(&Intake::default(), &readings),
        &mut predictions,
    )
    .unwrap();
    let offer: Vec<Test> = (0..=3).map(volts_at).collect();
    let findings = belief.findings(&bench, &mut predictions, Some(&offer)).unwrap();
    let first = &findings.suspects[0];
    assert_eq!(first.look_alikes.iter().map(|one| one.0.0).collect::<Vec<_>>(), [1, 3]);
    assert!((first.look_alikes[0].1 / first.look_alikes[1].1 - 2.0).abs() < 1e-6);
    assert_eq!(findings.conclusion, Conclusion::CannotTell);
    let sum: f64 = findings.suspects.iter().map(|suspect| suspect.chance).sum();
    assert!((sum + findings.outside - 1.0).abs() < 1e-9);
    // With one repair for both it can stop.
    let mut same = faults.clone();
    same[3].repair.key = same[1].repair.key.clone();
    let belief = weigh(
        &bench,
        &circuit,
        &same,
        &Case::new(&Intake::default(), &readings),
        &mut predictions,
    )
    .unwrap();
    let findings = belief.findings(&bench, &mut predictions, Some(&offer)).unwrap();
    assert!(matches!(findings.conclusion, Conclusion::Found { suspect: 0, chance } if chance > 0.95));
}

#[test]
fn a_sharp_meter_does_not_fall_between_solved_severities() {
    // The likelihood of 1001 severities, by brute force on a fine scale, against the integral.
    let mut circuit = circuit();
    circuit.params.clear();
    let mut broken = fault("drift", 1.0);
    broken.severity = Some(circuit::Severity {
        unit: quantity::Unit::Percent,
        low: 0.0,
        high: 100.0,
        logarithmic: false,
    });
    let faults = [broken, fault("flat", 1.0)];
    let volts = |severity: f64| 1.0 + 3.0 * (severity / 100.0).powf(1.5);
    let bench = Fake {
        n_params: 0,
        answer: |hypothesis: &Hypothesis<'_>, _: &Test, _: &[f64]| match hypothesis.faults.first() {
            Some((fault, severity)) if fault.path == "drift" => (bench::Kind::Number, volts(*severity)),
            _ => (bench::Kind::Number, 2.33),
        },
    };
    for shown in [1.103, 1.721, 2.345, 2.99, 3.71] {
        let reading = Reading {
            test: volts_at(1),
            shown: Shown::Number {
                value: shown,
                resolution: 0.001,
            },
        };
        let belief = weighed(&bench, &circuit, &faults, std::slice::from_ref(&reading));
        let sd = bench::accuracy(&circuit, &reading.test.placement, shown, Some(0.001)).sd;
        let density = |off: f64| (-0.5 * (off / sd).powi(2)).exp() / (sd * std::f64::consts::TAU.sqrt());
        let n = 100_000;
        let brute: f64 = (0..n)
            .map(|k| density(volts((f64::from(k) + 0.5) / f64::from(n) * 100.0) - shown))
            .sum::<f64>()
            / f64::from(n);
        let slip = crate::likelihood::slip(&crate::evidence::Sense::Volts, &reading.shown);
        let expected = (0.98 * brute + 0.02 * slip) / (0.98 * density(shown - 2.33) + 0.02 * slip);
        let got = belief.chance(FaultId(0)) / belief.chance(FaultId(1));
        assert!((got / expected - 1.0).abs() < 0.03, "{shown} V: {got} for {expected}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn chances_sum_to_one_and_the_order_of_readings_changes_nothing(
        values in prop::collection::vec((0_usize..5, -0.5_f64..14.0), 1..7),
        turn in 0_usize..7,
    ) {
        let (mut circuit, mut faults, bench) = chain(4);
        // What drifts while one works depends on the order, and so does what comes and goes.
        circuit.params[0].path = "steady".into();
        for fault in &mut faults {
            fault.mode = circuit::Mode::WeakSupply;
        }
        let readings: Vec<Reading> = values.iter().map(|(k, value)| shows(volts_at(*k), *value)).collect();
        let belief = weighed(&bench, &circuit, &faults, &readings);
        let sum: f64 = belief.cures().into_values().sum();
        prop_assert!((sum - 1.0).abs() < 1e-9, "{sum}");
        prop_assert!(belief.standings.iter().all(|standing| (0.0..=1.0).contains(&standing.wrong)));
        let mut turned = readings.clone();
        turned.rotate_left(turn % readings.len());
        prop_assert_eq!(chances(&belief), chances(&weighed(&bench, &circuit, &faults, &turned)));
    }

    #[test]
    fn a_memory_of_earlier_answers_changes_no_bit(a in 0.0_f64..13.0, b in 0.0_f64..13.0) {
        let (circuit, faults, bench) = chain(4);
        let readings = [shows(volts_at(2), a), shows(volts_at(3), b)];
        let mut predictions = Predictions::default();
        let intake = Intake::default();
        weigh(&bench, &circuit, &faults, &Case::new(&intake, &readings[..1]), &mut predictions).unwrap();
        let kept = weigh(&bench, &circuit, &faults, &Case::new(&intake, &readings), &mut predictions).unwrap();
        prop_assert_eq!(chances(&kept), chances(&weighed(&bench, &circuit, &faults, &readings)));
    }
}
