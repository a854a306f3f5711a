//! What is enumerated, and how it is said.

use std::collections::BTreeSet;

use super::*;
use crate::branch::{Branch, BranchKind, Role};
use crate::id::BranchId;
use crate::model::PartKind;
use crate::sample;

fn find<'f>(faults: &'f [Fault], path: &str) -> &'f Fault {
    match fault_by_path(faults, path) {
        Ok(id) => &faults[id.idx()],
        Err(error) => panic!("{error}"),
    }
}

fn paths(faults: &[Fault]) -> Vec<&str> {
    faults.iter().map(|fault| fault.path.as_str()).collect()
}

/// Why a branch needs no fault of its own; the exceptions that the docs of `possible_faults` name.
fn excused(circuit: &Circuit, id: BranchId, branch: &Branch) -> bool {
    matches!(branch.role, Role::ClampDiode | Role::InputLeak | Role::OneWay)
        || place::Places::new(circuit).is_bypass(id)
}

fn touches(circuit: &Circuit, change: &Change, id: BranchId, branch: &Branch) -> bool {
    match *change {
        Change::AddSeries(other)
        | Change::Open(other)
        | Change::Scale(other)
        | Change::Times(other, _)
        | Change::Set(other, _)
        | Change::StuckClosed(other)
        | Change::StuckOpen(other) => other == id,
        Change::Blown(fuse) => circuit.fuses[fuse.idx()].branch == id,
        Change::ShiftSensed(device) => {
            circuit.devices[device.idx()].inside.contains(&id) && devices::follows_sensed(&branch.kind)
        }
        Change::Bridge(..) | Change::BridgeOhms(..) => false,
    }
}

/// What must hold of the list of any circuit.
fn check(circuit: &Circuit) {
    let faults = possible_faults(circuit);
    assert_eq!(
        faults,
        possible_faults(circuit),
        "the order depends on the circuit alone"
    );
    let mut seen = BTreeSet::new();
    for fault in &faults {
        let path = &fault.path;
        assert!(seen.insert(path), "{path} comes twice");
        assert!(!fault.what.is_empty() && !fault.place.is_empty(), "{path}");
        assert!(fault.weight > 0.0 && fault.weight.is_finite(), "{path}");
        assert!(
            !fault.changes.is_empty() && !fault.points.is_empty() && !fault.parts.is_empty(),
            "{path}"
        );
        assert!(
            fault.points.iter().all(|point| point.idx() < circuit.points.len()),
            "{path}"
        );
        assert!(
            fault.parts.iter().all(|part| part.idx() < circuit.parts.len()),
            "{path}"
        );
        let repair = &fault.repair;
        assert!(
            repair.minutes > 0.0 && repair.minutes.is_finite() && repair.parts_price >= 0.0,
            "{path}"
        );
        assert!(!repair.words.is_empty() && !repair.key.is_empty(), "{path}");
        if let Some(severity) = fault.severity {
            assert!(severity.low < severity.high, "{path}: {severity:?}");
            assert!(!severity.logarithmic || severity.low > 0.0, "{path}: {severity:?}");
        }
        let by_severity = fault.changes.iter().any(|change| {
            matches!(
                change,
                Change::AddSeries(_) | Change::Bridge(..) | Change::Scale(_) | Change::ShiftSensed(_)
            )
        });
        assert_eq!(
            by_severity,
            fault.severity.is_some(),
            "{path}: a severity moves something, or there is none"
        );
        for change in &fault.changes {
            if let Change::Bridge(a, b) = change {
                assert_ne!(a, b, "{path}");
            }
        }
        let in_connector = matches!(circuit.parts[fault.parts[0].idx()].kind, PartKind::Connector(_));
        assert!(
            !in_connector || fault.place.contains("cavity "),
            "{path}: {}",
            fault.place
        );
    }
    for (idx, branch) in circuit.branches.iter().enumerate() {
        let id = BranchId::from(idx);
        let covered = faults
            .iter()
            .flat_map(|fault| &fault.changes)
            .any(|change| touches(circuit, change, id, branch));
        assert_ne!(
            covered,
            excused(circuit, id, branch),
            "{} ({:?})",
            branch.path,
            branch.role
        );
    }
}

#[test]
fn every_branch_can_fail_and_every_fault_is_sound() {
    let circuit = sample::circuit();
    check(&circuit);
    let roles: BTreeSet<Role> = circuit.branches.iter().map(|branch| branch.role).collect();
    assert_eq!(
        roles.len(),
        29,
        "the sample has a branch of every role, so that the check means something"
    );
}

#[test]
fn the_demos_list_is_sound() {
    let circuit = crate::parse(crate::DEMO);
    check(&circuit.unwrap());
}

#[test]
fn a_fault_says_what_and_exactly_where() {
    let faults = possible_faults(&sample::circuit());
    let said = |path: &str| {
        let fault = find(&faults, path);
        format!("{}: {}; {}", fault.what, fault.place, fault.repair.words)
    };
    assert_eq!(
        said("J.7/contact resistance"),
        "added resistance in the contact: dirty, corroded or spread: floor joint J, cavity 7 (signal), violet/yellow wire; \
         renew the terminals of cavity 7 of floor joint"
    );
    assert_eq!(
        said("J.7/b/crimp resistance"),
        "added resistance in the crimp: floor joint J, cavity 7 (signal), violet/yellow wire, far side; \
         renew the terminals of cavity 7 of floor joint"
    );
    assert_eq!(
        said("W5/broken"),
        "wire broken, or out of its crimp: violet/yellow wire W5, from climate module plug cavity 4 to floor joint cavity 7; \
         repair W5"
    );
    assert_eq!(
        said("J.7-8/a/leak"),
        "water or corrosion between neighbouring terminals: floor joint J, cavity 7 to cavity 8, wire side; cavity 7 (signal), \
         violet/yellow wire against cavity 8 (fan feed), red/blue wire; dry, clean and seal floor joint, renew what is eaten away"
    );
    assert_eq!(
        said("climate/pull/lost"),
        "pull resistor lost: climate module, pull, at climate module plug M1, cavity 4 (signal), violet/yellow wire; \
         replace climate module"
    );
    assert_eq!(
        said("J/water"),
        "water across all terminals: floor joint J, cavity 7, 8, 10; dry, clean and seal floor joint, renew what is eaten away"
    );
}

#[test]
fn only_physical_neighbours_leak() {
    let circuit = sample::circuit();
    let faults = possible_faults(&circuit);
    let leaks: Vec<&str> = paths(&faults)
        .into_iter()
        .filter(|path| path.starts_with("M1.") && path.ends_with("a/leak"))
        .collect();
    // Rows 1 2 3 and 4 5 6. 2-5 is ground against sensor ground, one conductor inside the module.
    assert_eq!(
        leaks,
        [
            "M1.1-2/a/leak",
            "M1.1-4/a/leak",
            "M1.2-3/a/leak",
            "M1.3-6/a/leak",
            "M1.4-5/a/leak",
            "M1.5-6/a/leak"
        ]
    );
    assert!(
        fault_by_path(&faults, "J.8-10/a/leak").is_err(),
        "cavity 9 lies between and is empty"
    );
    assert_eq!(
        find(&faults, "J/water").changes.len(),
        2,
        "water crosses the empty cavity: 7-8 and 8-10"
    );
    assert!(
        find(&faults, "J.7-8/a/leak").weight > find(&faults, "M1.4-5/a/leak").weight,
        "the joint is wet"
    );
    assert_eq!(
        paths(&faults)
            .into_iter()
            .filter(|path| path.starts_with('W') && path.ends_with("/leak"))
            .collect::<Vec<_>>(),
        ["W5-W6/leak", "W5-W7/leak", "W6-W7/leak"]
    );
    assert!(
        fault_by_path(&faults, "W4/rubbed to body").is_err(),
        "a ground wire on body metal is no fault"
    );
    assert!(find(&faults, "W5/rubbed to body").place.contains("at the seat bracket"));
    // Grounded in the module alone, by 30 mΩ and the module's own way to ground: a leak to body carries a share of that.
    let sensor_ground = find(&faults, "W7/rubbed to body").severity.unwrap();
    assert!(
        sensor_ground.low < 1.0 && (10.0..2000.0).contains(&sensor_ground.high),
        "{sensor_ground:?}"
    );
    assert!(find(&faults, "W5/rubbed to body").weight > 5.0 * find(&faults, "W6/rubbed to body").weight);
}

#[test]
fn shared_conductors_are_disturbed_through_a_short_in_the_other_device() {
    let circuit = sample::circuit();
    let faults = possible_faults(&circuit);
    let short = find(&faults, "sensor/ground-reference shorted");
    let [_, ground, reference] = [0, 1, 2].map(|pin| circuit.devices[0].pins[pin].1);
    assert_eq!(short.changes, [Change::Bridge(ground, reference)]);
    assert_eq!(
        paths(&faults)
            .into_iter()
            .filter(|path| path.starts_with("dongle/"))
            .collect::<Vec<_>>(),
        [
            "dongle/path 1/added resistance",
            "dongle/path 1/open",
            "dongle/path 2/added resistance",
            "dongle/path 2/open",
            "dongle/1a-2a shorted"
        ],
        "each path, one leak between the two, nothing for the bypass"
    );
}

#[test]
fn severities_start_and_end_where_they_matter() {
    let faults = possible_faults(&sample::circuit());
    let range = |path: &str| {
        find(&faults, path)
            .severity
            .map(|severity| (severity.low, severity.high))
            .unwrap()
    };
    assert_eq!(range("G1/added resistance"), (5e-4, 1e7));
    assert_eq!(range("W12/added resistance"), (1e-2, 1e7), "2.5 mm²");
    assert_eq!(range("S1.1/contact resistance"), (5e-2, 1e7), "0.5 mm²");
    assert_eq!(
        range("M1.1-2/a/leak"),
        (0.1, 1e4),
        "feed against ground: both firm, whatever is apart: only a drain is felt"
    );
    // With the sensor unplugged a voltmeter of 10 MΩ holds its signal: 12 V over 100 MΩ still show 1 V.
    assert_eq!(range("M1.4-5/a/leak"), (0.1, 1e8));
    assert_eq!(range("sensor/reads low"), (-100.0, -3.0));
    let drag = find(&faults, "fan motor/winding/drags").severity.unwrap();
    assert!(drag.high < 1.0, "a running motor's ohms go down as it drags");
}

#[test]
fn leaks_onto_nets_that_little_holds_reach_high() {
    // Without its output stage and divider only the 100 kΩ pull holds the signal.
    let mut circuit = sample::circuit();
    for branch in &mut circuit.branches {
        if branch.path.starts_with("sensor/") {
            let nowhere = circuit.battery_plus;
            branch.kind = BranchKind::Resistor {
                a: nowhere,
                b: nowhere,
                ohms: crate::Law::fixed(1.0),
            };
        }
    }
    let faults = possible_faults(&circuit);
    assert_eq!(find(&faults, "M1.4-5/a/leak").severity.unwrap().high, 1e8);
}

#[test]
fn work_that_mends_several_faults_has_one_key() {
    let faults = possible_faults(&sample::circuit());
    let key = |path: &str| &find(&faults, path).repair.key;
    assert_eq!(key("S1.2/contact resistance"), key("S1.2/bad terminal"));
    assert_eq!(key("S1.2/contact resistance"), key("S1.2/crimp resistance"));
    assert_eq!(key("J.7-8/a/leak"), key("J/water"));
    assert_eq!(key("sensor/reads high"), key("sensor/wiper/worn"));
    assert_eq!(key("W5/broken"), key("W5/rubbed to body"));
    assert_ne!(key("W5/broken"), key("W6/broken"));
    assert_ne!(key("F1/blown"), key("F1/holder/contact resistance"));
}

#[test]
fn repairs_take_the_files_figures_before_the_table() {
    let mut circuit = sample::circuit();
    let sensor = circuit.devices[0].part;
    circuit.parts[sensor.idx()].price = Some(240.0);
    circuit.parts[sensor.idx()].repair_minutes = Some(7.0);
    let faults = possible_faults(&circuit);
    let repair = &find(&faults, "sensor/reads high").repair;
    assert_eq!((repair.minutes, repair.parts_price), (7.0, 240.0));
}

#[test]
fn a_wrong_path_names_the_nearest() {
    let faults = possible_faults(&sample::circuit());
    let error = fault_by_path(&faults, "S1.2/contact resistence").unwrap_err();
    assert_eq!(error.nearest.as_deref(), Some("S1.2/contact resistance"));
    assert!(error.to_string().contains("did you mean `S1.2/contact resistance`?"));
}
