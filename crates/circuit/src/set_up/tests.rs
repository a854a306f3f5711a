//! Set-ups: text, words, minutes, neighbours.

use proptest::prelude::*;

use super::*;
use crate::branch::Access;
use crate::id::{ConnectorId, DeviceId, FuseId, LoadId, PartId, PointId, RelayId, RhythmId, SensedId};
use crate::sample::circuit;

#[track_caller]
fn refused(text: &str, blamed: &str, message: &str) {
    let error = parse_set_up(&circuit(), text).unwrap_err();
    assert_eq!(&text[error.at()], blamed, "{error}");
    assert!(error.to_string().contains(message), "{error}");
}

#[track_caller]
fn canonical(text: &str, expected: &str) {
    let circuit = circuit();
    assert_eq!(parse_set_up(&circuit, text).unwrap().to_text(&circuit), expected);
}

#[test]
fn the_text_is_read_in_any_order_and_case_and_written_in_one() {
    canonical("", "key on");
    canonical(" ; KEY off;; s1 APART ;", "key off; S1 apart");
    canonical(
        "fan commanded; pressure 8 bar; pulses 30 %; battery off; relay K1 bridged; fuse F1 out; dongle out; S1 apart; M1 apart",
        "key on; M1 apart; S1 apart; dongle out; fuse F1 out; relay K1 bridged; battery off; pressure 8 bar; fan commanded; pulses 30 %",
    );
    canonical("pulses in rest; fan commanded", "key on; fan commanded; pulses in rest");
    canonical("relay K1 out; pressure 800 kPa", "key on; relay K1 out; pressure 8 bar");
    canonical(
        "jumper S1.1 S1.2; jumper S1.1 S1.2/pin fused 3 A; resistor S1.1 S1.3 4k7; bulb P1.1 P1.2 21W",
        "key on; jumper S1.1 S1.2; jumper S1.1 S1.2/pin fused 3 A; resistor S1.1 S1.3 4.7 kΩ; bulb P1.1 P1.2 21 W",
    );
    canonical(
        "source S1.2 battery- 2.5 V 10 mA; overlay S1.2 J.7/a",
        "key on; source S1.2 battery- 2.5 V 10 mA; overlay S1.2 J.7/a",
    );
}

#[test]
fn a_mistake_is_blamed_on_its_own_bytes() {
    refused("key on; S2 apart", "S2", "known here: M1, J, S1, P1");
    refused("key onn", "onn", "did you mean `on`?");
    refused("key", "", "a key position");
    refused("key on; key off", "key off", "contradicts");
    refused("presure 8 bar", "presure 8 bar", "did you mean `pressure`?");
    refused("pressure 8 V", "V", "a pressure is expected");
    refused("pressure 31 bar", "31 bar", "from 0 bar to 30 bar");
    refused("pressure 8 bar; pressure 9 bar", "pressure 9 bar", "contradicts");
    refused("pressure 8 ± 1 bar", "8 ± 1 bar", "without a tolerance");
    refused("sensor out", "sensor", "no accessory `sensor`");
    refused("fuse F1", "", "`out` after the fuse");
    refused("relay K1 out; relay K1 bridged", "relay K1 bridged", "contradicts");
    refused("jumper S1.1", "", "a point, e.g. S1.2");
    refused("jumper S1.1 S1.9", "S1.9", "did you mean `S1.1`?");
    refused("jumper S1.1 S1.1", "S1.1 S1.1", "both ends are at `S1.1`");
    refused("jumper S1.1 climate/rail", "climate/rail", "nothing can be clipped");
    refused("jumper S1.1 S1.2 3 A", "3 A", "`fused` with its rating");
    refused("jumper S1.1 S1.2 fused 0 A", "0 A", "between a thousandth");
    refused("resistor S1.1 S1.2", "", "a resistance is expected");
    refused("bulb S1.1 S1.2 -5 W", "-5 W", "between a thousandth");
    refused("resistor S1.1 S1.3 1e-30 Ω", "1e-30 Ω", "between a thousandth");
    refused("source S1.1 S1.2 2.5 V", "2.5 V", "a voltage and a current limit");
    refused("overlay S1.1 S1.2 0.1 Ω", "0.1 Ω", "nothing more");
    refused(
        "pulses 30 %; pulses in rest",
        "pulses in rest",
        "held in a phase, where a duty has no effect",
    );
    refused("pulses in rest; key on; pulses 30 %", "pulses 30 %", "leave out either");
    refused("key on; pulses rest", "rest", "or `in` and a phase, e.g. `in rest`");
    refused("pulses 130 %", "130 %", "a share of the time from 0 to 100 %");
    refused("nonsense über; key on", "nonsense über", "no part of a set-up");
}

#[test]
fn what_of_a_set_up_changes_nothing_is_said() {
    let fan = circuit();
    let of_hall = include_str!("../../archetypes/hall-three-wire.toml");
    let hall = crate::parse(of_hall).unwrap();
    let said = |circuit: &Circuit, text: &str| parse_set_up(circuit, text).unwrap().remarks(circuit).join("\n");
    assert_eq!(
        said(&fan, "pulses 30 %"),
        "`pulses` has no effect: pulses of the fan do not go in this set-up; they go with `fan commanded`"
    );
    assert_eq!(
        said(&hall, "key running; engine_speed 800; tooth 0"),
        "`tooth 0` holds only where no phase sets it: teeth of the camshaft set it to 100 in `tooth`; to hold it still, write \
         `cam_teeth in tooth` or `cam_teeth in rest`"
    );
    assert_eq!(
        said(&hall, "tooth 0; cam_teeth in tooth"),
        "`tooth 0` counts for nothing: teeth of the camshaft, held in `tooth`, set it to 100; leave one of the two out"
    );
    assert!(said(&hall, "key running; engine_speed 0; cam_teeth 30 %").ends_with("stand still, at 0 Hz"));
    assert!(said(&hall, "cam_teeth 30 %").ends_with("they go with `key cranking` or `key running`"));
    // On the page in the technician's words: no name of the file.
    let in_words = |circuit: &Circuit, text: &str| {
        parse_set_up(circuit, text)
            .unwrap()
            .remarks_in_words(circuit)
            .join("\n")
    };
    assert_eq!(
        in_words(&fan, "pulses 30 %"),
        "pulses of the fan do not go as the vehicle stands, so what is said of them has no effect; they go with condenser fan on"
    );
    assert_eq!(
        in_words(&hall, "key running; engine_speed 800; tooth 0"),
        "teeth of the camshaft set tooth before the sensor to 100 % while they pass, whatever is said of it"
    );
    assert_eq!(
        in_words(&hall, "key running; engine_speed 0; cam_teeth 30 %"),
        "teeth of the camshaft stand still, so their share of the time has no effect"
    );
    for (circuit, in_effect) in [
        (&fan, "pulses 30 %; fan commanded"),
        (&fan, "pressure 8 bar"),
        (&hall, "tooth 0"),
        (&hall, "cam_teeth in tooth"),
        (&hall, "key running; engine_speed 800; cam_teeth 30 %"),
        (&hall, "tooth 100; cam_teeth in tooth"),
    ] {
        assert_eq!(said(circuit, in_effect), "", "{in_effect}");
    }
}

#[test]
fn an_engine_that_is_cranked_turns_at_the_starters_speed() {
    let hall = crate::parse(include_str!("../../archetypes/hall-three-wire.toml")).unwrap();
    let at = |text: &str| parse_set_up(&hall, text).unwrap();
    let named = hall
        .sensed
        .iter()
        .position(|sensed| sensed.id == "engine_speed")
        .unwrap();
    let speed = SensedId::from(named);
    let turns = |text: &str| hall.sensed_value(&at(text), speed);
    assert_eq!((turns("key running"), turns("key cranking")), (800.0, 200.0));
    assert_eq!(turns("key cranking; engine_speed 150"), 150.0, "what is said holds");

    let brought = |from: &str, to: &str| hall.brought_to(&at(from), &at(to), speed);
    assert_eq!(brought("key running", "key cranking"), None, "the starter does it");
    assert_eq!(brought("key running; engine_speed 2000", "key cranking"), None);
    assert_eq!(brought("key cranking", "key running; engine_speed 2000"), Some(2000.0));
    assert_eq!(brought("key running", "key cranking; engine_speed 150"), Some(150.0));
    let minutes = |to: &str| minutes_between(&hall, &at("key running"), &at(to));
    assert_eq!(minutes("key cranking"), minutes::KEY);
    assert_eq!(changes_between(&hall, &at("key running"), &at("key cranking")), 1);

    let near = neighbouring_set_ups(&hall, &at("key running; engine_speed 6000"), 2, true);
    let cranked = || near.iter().filter(|set_up| set_up.key == Key::Cranking);
    assert!(cranked().any(|set_up| !set_up.sensed.contains_key(&speed)));
    let kept = cranked().find(|set_up| hall.sensed_value(set_up, speed) == 6000.0);
    assert_eq!(kept, None, "no starter turns it as fast as it ran");
}

#[test]
fn words_are_short_and_name_things_as_the_technician_does() {
    let circuit = circuit();
    let set_up = parse_set_up(
        &circuit,
        "S1 apart; fan commanded; fuse F1 out; pressure 8 bar; jumper S1.1 S1.2 fused 3 A",
    );
    assert_eq!(
        set_up.unwrap().words(&circuit),
        [
            "key on, engine off",
            "sensor plug apart",
            "ignition fuse out",
            "refrigerant pressure 8 bar",
            "condenser fan on",
            "3 A fused jumper, S1.1 to S1.2"
        ]
    );
}

#[test]
fn changes_cost_minutes_and_going_nowhere_costs_none() {
    let circuit = circuit();
    let at = |text: &str| parse_set_up(&circuit, text).unwrap();
    let cost = |from: &str, to: &str| minutes_between(&circuit, &at(from), &at(to));
    assert_eq!(cost("S1 apart", "S1 apart"), 0.0);
    assert_eq!(cost("", "key off"), minutes::KEY);
    assert_eq!(cost("", "S1 apart"), 2.5, "2 to reach, half of 1 to part and mate");
    assert_eq!(cost("S1 apart", ""), 2.5);
    assert_eq!(
        cost("", "M1 apart"),
        2.5 + 2.0 * minutes::KEY,
        "a module's: key off and on again"
    );
    assert_eq!(cost("key off", "key off; M1 apart"), 2.5);
    assert_eq!(cost("", "key off; M1 apart"), 2.5 + minutes::KEY);
    assert_eq!(cost("", "relay K1 out"), minutes::RELAY);
    assert_eq!(cost("relay K1 out", "relay K1 bridged"), minutes::RELAY);
    assert_eq!(
        cost("", "battery off") - cost("battery off", ""),
        minutes::BATTERY_SETTLES
    );
    assert_eq!(cost("", "pressure 8 bar"), 4.0);
    assert_eq!(cost("", "pressure 6 bar"), 0.0, "6 bar is usual");
    assert_eq!(cost("", "fan commanded; fuse F1 out"), minutes::COMMAND + minutes::FUSE);
    assert_eq!(cost("", "jumper S1.1 S1.2; jumper S1.1 S1.2"), 2.0 * minutes::PLACE);
    assert_eq!(
        cost("jumper S1.1 S1.2", "jumper S1.1 S1.2; jumper S1.1 S1.2"),
        minutes::PLACE
    );
    let mut fixed = circuit.clone();
    fixed.sensed[0].set_minutes = None;
    assert_eq!(minutes_between(&fixed, &at(""), &at("pressure 8 bar")), f64::INFINITY);
}

#[test]
fn set_ups_within_two_changes_differ_in_at_most_two_things() {
    let circuit = circuit();
    let normal = SetUp::normal();
    let two = neighbouring_set_ups(&circuit, &normal, 2, false);
    let apart: Vec<usize> = two.iter().map(|to| changes_between(&circuit, &normal, to)).collect();
    assert!(
        apart[1..].iter().all(|&n| n == 1 || n == 2) && apart[0] == 0,
        "{apart:?}"
    );
    let one = neighbouring_set_ups(&circuit, &normal, 1, false).len() - 1;
    assert_eq!(apart.iter().filter(|&&n| n == 1).count(), one);
    let at = |text: &str| parse_set_up(&circuit, text).unwrap();
    assert_eq!(
        changes_between(&circuit, &at("S1 apart; key off"), &at("P1 apart; key on")),
        3
    );
}

#[test]
fn neighbours_are_ordered_different_and_sensible() {
    let circuit = circuit();
    let one = neighbouring_set_ups(&circuit, &SetUp::normal(), 1, false);
    let texts: Vec<String> = one.iter().map(|set_up| set_up.to_text(&circuit)).collect();
    assert_eq!(
        texts,
        [
            "key on",
            "key off",
            "key running",
            "key on; M1 apart",
            "key on; J apart",
            "key on; S1 apart",
            "key on; P1 apart",
            "key on; dongle out",
            "key on; fuse F1 out",
            "key on; relay K1 out",
            "key on; fan commanded",
            "key on; pressure 0 bar",
            "key on; pressure 30 bar"
        ]
    );
    let cranking = neighbouring_set_ups(&circuit, &SetUp::normal(), 1, true);
    assert!(
        cranking.iter().all(|set_up| set_up.key != Key::Cranking),
        "no branch of the sample tells it from on"
    );

    let two = neighbouring_set_ups(&circuit, &SetUp::normal(), 2, false);
    assert_eq!(two[..one.len()], one);
    for (position, set_up) in two.iter().enumerate() {
        assert!(!two[..position].contains(set_up), "twice: {}", set_up.to_text(&circuit));
        assert!(set_up.commanded.is_empty() || set_up.key != Key::Off);
        assert_eq!(parse_set_up(&circuit, &set_up.to_text(&circuit)).as_ref(), Ok(set_up));
    }
    // 12 single changes in 11 slots: 66 pairs less 1 + 1 within a slot, less key off with fan.
    assert_eq!(two.len(), 1 + 12 + 66 - 2 - 1);
}

#[test]
fn turning_the_key_off_ends_a_command_and_everything_can_be_put_back() {
    let circuit = circuit();
    let from = parse_set_up(
        &circuit,
        "fan commanded; battery off; relay K1 bridged; jumper S1.1 S1.2",
    )
    .unwrap();
    let texts: Vec<String> = neighbouring_set_ups(&circuit, &from, 1, false)
        .iter()
        .map(|set_up| set_up.to_text(&circuit))
        .collect();
    assert!(
        texts.contains(&"key off; relay K1 bridged; battery off; jumper S1.1 S1.2".to_owned()),
        "{texts:?}"
    );
    assert!(
        texts.contains(&"key on; relay K1 bridged; fan commanded; jumper S1.1 S1.2".to_owned()),
        "{texts:?}"
    );
    let joined = parse_set_up(&circuit, "S1 apart; jumper S1.1 S1.2; relay K1 bridged").unwrap();
    let back = neighbouring_set_ups(&circuit, &joined, 3, false);
    assert!(back.contains(&SetUp::normal()));
}

/// Any set-up of the sample that can be said.
fn any_set_up() -> impl Strategy<Value = SetUp> {
    let points: Vec<PointId> = (0..circuit().points.len())
        .map(PointId::from)
        .filter(|point| circuit().points[point.idx()].access != Access::Inside)
        .collect();
    let ends = prop::sample::subsequence(points, 2);
    let value = || {
        (-3.0..9.0_f64, prop::bool::ANY).prop_map(|(log, round)| {
            if round {
                log.exp2().round() + 1.0
            } else {
                10_f64.powf(log)
            }
        })
    };
    let placed = (ends, 0..6, value(), value()).prop_map(|(ends, kind, value, limit)| {
        let (a, b) = (ends[0], ends[1]);
        match kind {
            0 => Placed::Jumper { a, b, fuse_amps: None },
            1 => Placed::Jumper {
                a,
                b,
                fuse_amps: Some(value),
            },
            2 => Placed::Resistor { a, b, ohms: value },
            3 => Placed::Bulb { a, b, watts: value },
            4 => Placed::Source {
                plus: b,
                minus: a,
                volts: value - 3.0,
                limit_amps: limit,
            },
            _ => Placed::OverlayWire { a, b },
        }
    });
    let sets = (
        prop::collection::btree_set((0..4_u32).prop_map(ConnectorId), 0..4),
        prop::collection::btree_set(Just(DeviceId(2)), 0..2),
        prop::collection::btree_set(Just(FuseId(0)), 0..2),
        (
            prop::collection::btree_set(Just(LoadId(0)), 0..2),
            prop::option::of(prop_oneof![
                (0..=100_u8).prop_map(Ok),
                prop::option::of(Just(0)).prop_map(Err)
            ]),
        ),
        prop::collection::btree_map(Just(SensedId(0)), 0.0..=30.0, 0..2),
        prop::collection::vec(placed, 0..4),
        prop::option::of((
            prop::sample::select(Provocation::ALL.to_vec()),
            (0..4_u32).prop_map(PartId),
        )),
    );
    (prop::sample::select(Key::ALL.to_vec()), prop::bool::ANY, 0..3, sets).prop_map(
        |(key, battery_off, relay, sets)| {
            let (apart, taken_out, fuses_out, (commanded, pulses), sensed, placed, provoked) = sets;
            let relays = |state| (relay == state).then_some(RelayId(0)).into_iter().collect();
            SetUp {
                key,
                apart,
                taken_out,
                fuses_out,
                relays_out: relays(1),
                relays_bridged: relays(2),
                battery_off,
                sensed,
                commanded,
                duty: pulses
                    .and_then(Result::ok)
                    .map(|percent| (RhythmId(0), f64::from(percent)))
                    .into_iter()
                    .collect(),
                held: pulses
                    .and_then(Result::err)
                    .map(|phase| (RhythmId(0), phase))
                    .into_iter()
                    .collect(),
                placed,
                provoked: provoked.map(|(how, at)| Provoked { how, at }),
            }
        },
    )
}

proptest! {
    #[test]
    fn what_is_written_is_read_back(set_up in any_set_up()) {
        let circuit = circuit();
        let text = set_up.to_text(&circuit);
        prop_assert_eq!(parse_set_up(&circuit, &text), Ok(set_up), "{}", text);
    }

    #[test]
    fn no_text_panics_and_every_mistake_points_into_it(text in "(key|S1| apart|relay|K1|out|jumper|source|S1.1|battery-| |;|pressure|8|bar|V|é|\u{2003}|\\PC){0,12}") {
        if let Err(error) = parse_set_up(&circuit(), &text) {
            prop_assert!(text.get(error.at()).is_some(), "{error:?}");
        }
    }
}
