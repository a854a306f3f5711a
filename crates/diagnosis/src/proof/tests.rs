//! A repair on trial on a chain of joints whose figures can be worked out by hand.

use bench::Reading;
use circuit::{FaultId, SetUp};

use super::*;
use crate::fake::{chain, shows, volts_at};
use crate::{Deed, Done, Intake};

/// A chain of four joints before the load; joint 2 was renewed after a reading that shows a joint of some 6 Ω before the
/// load, and one at point 2 that shows it lies beyond.
fn on_trial(since: &[Reading]) -> Proof {
    let (circuit, faults, bench) = chain(4);
    let readings = [
        &[
            shows(volts_at(4), 6.3),
            shows(volts_at(2), 12.6),
            shows(volts_at(3), 6.32),
        ],
        since,
    ]
    .concat();
    let deeds = [Deed {
        after: 3,
        what: Done::Repaired("joint 2".into()),
    }];
    let intake = Intake::default();
    let case = Case {
        deeds: &deeds,
        ..Case::new(&intake, &readings)
    };
    proof(
        &bench,
        &circuit,
        &faults,
        &case,
        &SetUp::default(),
        &mut Predictions::default(),
    )
    .unwrap()
    .unwrap()
}

#[test]
fn the_reading_that_showed_the_fault_proves_its_repair() {
    let proof = on_trial(&[]);
    assert_eq!(proof.standing, ProofStanding::Open);
    // 0.95: what a repair cures; the rest is the fault itself, still there.
    assert!((0.85..0.96).contains(&proof.mended.now), "{:?}", proof.mended);
    assert!(proof.mended.then > 0.99, "{:?}", proof.mended);
    let first = &proof.readings[0];
    let Expected::Range(low, high) = first.band else {
        panic!("{:?}", first.band)
    };
    // Sound: 12.6 V ± 0.3 V less a drop of some 0.1 V; narrower, since 12.6 V was read before at point 2.
    assert!(low > 11.9 && high < 13.2, "{low} to {high}");
    assert!((low..=high).contains(&12.52), "{low} to {high}");
    let Some(Expected::Range(_, most)) = first.unrepaired else {
        panic!("{:?}", first.unrepaired)
    };
    assert!(most < low, "unrepaired up to {most}, band from {low}");
    assert!(first.tells() && first.missed < 0.2, "{}", first.missed);
}

#[test]
fn a_reading_in_its_band_proves_and_one_far_off_refutes() {
    let point = on_trial(&[]).readings[0].test.clone();
    let proved = on_trial(&[shows(point.clone(), 12.5)]);
    assert_eq!(proved.readings[0].read, Some(true));
    assert_eq!(proved.standing, ProofStanding::Proved, "{:?}", proved.mended);
    assert!(
        proved
            .left
            .iter()
            .find(|one| one.0 == FaultId(2))
            .is_none_or(|one| one.1.now < 0.02)
    );
    let refuted = on_trial(&[shows(point, 6.3)]);
    assert_eq!(refuted.readings[0].read, Some(false));
    assert_eq!(refuted.standing, ProofStanding::Refuted, "{:?}", refuted.mended);
    assert_eq!(refuted.left[0].0, FaultId(2));
}

#[test]
fn nothing_is_on_trial_where_nothing_was_done() {
    let (circuit, faults, bench) = chain(4);
    let intake = Intake::default();
    let readings = [shows(volts_at(4), 6.3)];
    let case = Case::new(&intake, &readings);
    let proof = proof(
        &bench,
        &circuit,
        &faults,
        &case,
        &SetUp::default(),
        &mut Predictions::default(),
    )
    .unwrap();
    assert_eq!(proof, None);
}
