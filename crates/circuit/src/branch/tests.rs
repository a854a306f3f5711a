//! Laws and conditions in set-ups.

use super::*;
use crate::id::{ConnectorId, DeviceId, FuseId, LoadId, RelayId};
use crate::sample::circuit;
use crate::set_up::{Key, parse_set_up};

const PRESSURE: SensedId = SensedId(0);

fn law(base: Base) -> Law {
    Law {
        base,
        moved_by: vec![Moved {
            param: ParamId(0),
            factor: 0.1,
            shift: 2.0,
        }],
    }
}

fn table(logarithmic: bool) -> Base {
    Base::Table {
        by: PRESSURE,
        rows: vec![(0.0, 1000.0), (10.0, 100.0), (20.0, 400.0)],
        logarithmic,
    }
}

#[test]
fn a_table_is_interpolated_inside_and_held_outside() {
    let circuit = circuit();
    let value = |text: &str, logarithmic, shift_percent| {
        let set_up = parse_set_up(&circuit, text).unwrap();
        let law = Law {
            base: table(logarithmic),
            moved_by: Vec::new(),
        };
        law.value(&At::centre(&circuit, &set_up).shifted(shift_percent))
    };
    assert_eq!(value("", false, 0.0), 460.0, "6 bar is usual");
    assert_eq!(value("pressure 5 bar", false, 0.0), 550.0);
    assert!((value("pressure 5 bar", true, 0.0) - 1000.0 / 10_f64.sqrt()).abs() < 1e-9);
    assert_eq!(value("pressure 10 bar", true, 0.0), 100.0);
    assert_eq!(value("pressure 30 bar", true, 0.0), 400.0);
    assert_eq!(value("pressure 5 bar", false, 50.0), 400.0, "15 of 30 bar on top of 5");
    assert_eq!(value("pressure 5 bar", false, -50.0), 1000.0);
}

#[test]
fn derivatives_agree_with_differences() {
    let circuit = circuit();
    let condition = Condition::SensedAtLeast(PRESSURE, 20.0);
    let bases = [
        Base::Fixed(4700.0),
        table(false),
        table(true),
        Base::When {
            condition,
            then: 3.0,
            otherwise: 7.0,
        },
    ];
    for base in bases {
        let law = law(base);
        for pressure in ["0.5", "6", "14", "29"] {
            let set_up = parse_set_up(&circuit, &format!("pressure {pressure} bar")).unwrap();
            let theta = [0.7, -0.4];
            let base = At::centre(&circuit, &set_up).shifted(3.0);
            let at = At { theta: &theta, ..base };
            for param in [ParamId(0), ParamId(1)] {
                let derivative: f64 = law
                    .derivatives(&at)
                    .filter(|(by, _)| *by == param)
                    .map(|(_, slope)| slope)
                    .sum();
                let step = |size: f64| {
                    let mut theta = theta;
                    theta[param.idx()] += size;
                    law.value(&At { theta: &theta, ..base })
                };
                let difference = (step(1e-4) - step(-1e-4)) / 2e-4;
                assert!(
                    (derivative - difference).abs() < 1e-4 * (1.0 + difference.abs()),
                    "{law:?} at {pressure} by {param:?}"
                );
            }
            let shifted = |size: f64| law.value(&at.shifted(3.0 + size));
            let difference = (shifted(1e-4) - shifted(-1e-4)) / 2e-4;
            assert!(
                (law.by_shift(&at) - difference).abs() < 1e-4 * (1.0 + difference.abs()),
                "{law:?}"
            );
        }
    }
}

#[test]
fn conditions_follow_the_set_up() {
    let circuit = circuit();
    let relay = RelayId(0);
    let on = Condition::KeyIn([Key::On, Key::Running].into());
    let cases: [(Condition, &str, &str); 10] = [
        (on.clone(), "key running", "key off"),
        (Condition::Mated(ConnectorId(2)), "M1 apart", "S1 apart"),
        (Condition::Fitted(DeviceId(2)), "", "dongle out"),
        (Condition::FuseIn(FuseId(0)), "", "fuse F1 out"),
        (Condition::RelayIn(relay), "", "relay K1 bridged"),
        (Condition::RelayBridged(relay), "relay K1 bridged", "relay K1 out"),
        (Condition::BatteryOn, "", "battery off"),
        (Condition::Commanded(LoadId(0)), "fan commanded", ""),
        (
            Condition::SensedAtLeast(PRESSURE, 8.0),
            "pressure 8 bar",
            "pressure 7.9 bar",
        ),
        (
            Condition::All(vec![on.clone(), Condition::BatteryOn]),
            "",
            "battery off",
        ),
    ];
    for (condition, yes, no) in cases {
        let holds = |condition: &Condition, text| condition.holds_in(&circuit, &parse_set_up(&circuit, text).unwrap());
        assert!(holds(&condition, yes), "{condition:?} in `{yes}`");
        assert!(!holds(&condition, no), "{condition:?} in `{no}`");
        assert!(holds(&Condition::Not(Box::new(condition.clone())), no));
        assert!(holds(&Condition::Any(vec![Condition::Never, condition.clone()]), yes));
        assert!(!holds(&Condition::Any(vec![Condition::Never, condition]), no));
    }
}
