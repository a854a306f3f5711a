//! What was done meanwhile, and faults that come and go: known answers on a chain of joints.

use bench::{Hypothesis, Reading};
use circuit::{FaultId, PartId, Provocation, Provoked};

use super::*;
use crate::fake::{chain, shows, volts_at};
use crate::{Deed, Done, Intake};

/// A chain of which joint `k` is part `k`.
fn parts(n: usize) -> (Circuit, Vec<Fault>, impl Predict) {
    let (circuit, mut faults, bench) = chain(n);
    for (k, fault) in faults.iter_mut().enumerate() {
        fault.parts = vec![PartId::from(k)];
    }
    (circuit, faults, bench)
}

fn weighed<'a>(
    bench: &dyn Predict,
    circuit: &'a Circuit,
    faults: &'a [Fault],
    readings: &[Reading],
    deeds: &[Deed],
) -> Belief<'a> {
    let intake = Intake::default();
    let case = Case {
        deeds,
        ..Case::new(&intake, readings)
    };
    weigh(bench, circuit, faults, &case, &mut Predictions::default()).unwrap()
}

/// A reading while joint `k` is wiggled.
fn wiggled(k: usize, reading: Reading) -> Reading {
    let mut test = reading.test;
    test.set_up.provoked = Some(Provoked {
        how: Provocation::Wiggle,
        at: PartId::from(k),
    });
    Reading { test, ..reading }
}

fn deed(after: usize, what: Done) -> Deed {
    Deed { after, what }
}

fn chance(belief: &Belief<'_>, joint: u32) -> f64 {
    belief.chance(FaultId(joint))
}

/// At the load, where a joint of 6 Ω in the way leaves half of the voltage.
fn at_the_load(volts: f64) -> Reading {
    shows(volts_at(4), volts)
}

#[test]
fn a_reading_that_changes_while_a_joint_is_wiggled_names_that_joint() {
    let (circuit, faults, bench) = parts(4);
    let readings = [
        at_the_load(12.53),
        at_the_load(12.53),
        wiggled(2, at_the_load(6.3)),
        at_the_load(12.53),
    ];
    let belief = weighed(&bench, &circuit, &faults, &readings, &[]);
    // By hand: 0.6 to 0.15, and what is left to all four otherwise.
    let ratio = chance(&belief, 2) / chance(&belief, 1);
    assert!((3.0..5.0).contains(&ratio), "{ratio}");
    assert!(belief.comes_and_goes(FaultId(2)) > 0.9);
    let steady = weighed(&bench, &circuit, &faults, &[at_the_load(6.3), at_the_load(6.3)], &[]);
    assert!(steady.comes_and_goes(FaultId(2)) < 0.1);
}

#[test]
fn no_change_while_a_joint_is_wiggled_speaks_weakly_against_it() {
    let (circuit, faults, bench) = parts(4);
    let intake = Intake {
        comes_and_goes: Some(true),
        ..Intake::default()
    };
    let readings = [at_the_load(12.53), wiggled(2, at_the_load(12.53))];
    let case = Case::new(&intake, &readings);
    let belief = weigh(&bench, &circuit, &faults, &case, &mut Predictions::default()).unwrap();
    let ratio = chance(&belief, 2) / chance(&belief, 1);
    // By hand: 0.4 to 0.85, for what is there at all at this severity.
    assert!((0.4..0.75).contains(&ratio), "{ratio}");
}

#[test]
fn what_is_in_order_after_a_repair_was_what_was_repaired_and_what_is_not_was_not() {
    let (circuit, faults, bench) = parts(4);
    let repaired = [deed(1, Done::Repaired(faults[1].repair.key.clone()))];
    let before = at_the_load(6.3);
    let cured = [before.clone(), at_the_load(12.53)];
    let belief = weighed(&bench, &circuit, &faults, &cured, &repaired);
    assert!(chance(&belief, 1) > 0.85, "{}", chance(&belief, 1));
    let in_vain = [before, at_the_load(6.3)];
    let belief = weighed(&bench, &circuit, &faults, &in_vain, &repaired);
    // By hand: a new part is bad once in twenty.
    let ratio = chance(&belief, 1) / chance(&belief, 2);
    assert!((0.04..0.06).contains(&ratio), "{ratio}");
}

#[test]
fn damage_seen_at_a_place_speaks_for_it_and_none_seen_weakly_against() {
    let (circuit, faults, bench) = parts(4);
    let look = |damaged| {
        let at = PartId(2);
        let deeds = [
            deed(1, Done::LookedAt { at, damaged }),
            deed(1, Done::LookedAt { at, damaged }),
        ];
        let belief = weighed(&bench, &circuit, &faults, &[at_the_load(6.3)], &deeds);
        chance(&belief, 2) / chance(&belief, 1)
    };
    // By hand: seen with 0.4 + 0.6 · 0.03 where it is, with 0.03 where it is not; looking twice tells nothing more.
    assert!((look(true) / (0.418 / 0.03) - 1.0).abs() < 1e-6, "{}", look(true));
    assert!((look(false) / (0.582 / 0.97) - 1.0).abs() < 1e-6, "{}", look(false));
}

#[test]
fn a_twin_says_nothing_of_this_vehicles_fault() {
    let (circuit, faults, bench) = parts(4);
    let intake = Intake::default();
    let readings = [at_the_load(6.3)];
    let twin = [shows(volts_at(2), 12.4), at_the_load(12.5)];
    let alone = Case::new(&intake, &readings);
    let both = Case { twin: &twin, ..alone };
    let weigh = |case: &Case<'_>| weigh(&bench, &circuit, &faults, case, &mut Predictions::default()).unwrap();
    let (alone, both) = (weigh(&alone), weigh(&both));
    for joint in 0..4 {
        assert!(
            (chance(&alone, joint) - chance(&both, joint)).abs() < 5e-3,
            "{} {}",
            chance(&alone, joint),
            chance(&both, joint)
        );
    }
    assert_eq!(both.standings.len(), 1);
}

/// Two joints of the chain, each with its own drop: no single one gives both.
#[test]
fn two_drops_in_one_chain_are_two_faults() {
    let (circuit, faults, bench) = parts(5);
    let hypothesis = [Hypothesis {
        faults: vec![(&faults[1], 3.0), (&faults[3], 2.0)],
    }];
    let readings: Vec<Reading> = (0..=5)
        .map(|k| {
            let test = volts_at(k);
            let question = bench::Question::of(&hypothesis, &test);
            let volts = bench.predict(question).unwrap().predictions[0].value;
            shows(test, (volts * 100.0).round() / 100.0)
        })
        .collect();
    let belief = weighed(&bench, &circuit, &faults, &readings, &[]);
    assert_eq!(belief.n_pairs, 10);
    let pair = &belief.pairs[0];
    assert_eq!((pair.first.0, pair.second.map(|one| one.0)), (1, Some(3)));
    assert!(pair.chance > 0.9, "{}", pair.chance);
    let scale = Scale::of(&faults[1]);
    let ohms = [pair.first.1, pair.second.unwrap().1].map(|position| scale.severity(position));
    assert!((ohms[0] - 3.0).abs() < 0.3 && (ohms[1] - 2.0).abs() < 0.3, "{ohms:?}");
    assert!(belief.pairs_left_out < 1e-3, "{}", belief.pairs_left_out);
    assert!(belief.chance(FaultId(1)) > 0.95 && belief.chance(FaultId(3)) > 0.95);
    let findings = belief.findings(&bench, &mut Predictions::default(), None).unwrap();
    assert_eq!(findings.suspects[0].also, Some(FaultId(3)));
    let sum: f64 = belief.cures().into_values().sum();
    assert!((sum - 1.0).abs() < 1e-9, "{sum}");
}
