//! Text forms: what is written is read back; what is not understood is refused with its place.

mod common;

use bench::{
    CodeState, Light, Placement, Shown, TextError, accuracy, parse_placement, parse_shown, parse_test, reachable,
};
use common::*;

#[test]
fn every_instrument_reads_back_what_it_writes() {
    let circuit = van();
    for text in [
        "voltmeter S1.2 battery-",
        "ohmmeter S1.2 S1.3",
        "diode S1.3 battery-",
        "continuity M1.1 F2/out",
        "ammeter F2/out M1.1",
        "clamp W3",
        "light S1.3 battery+",
        "scan pressure",
        "code P0533",
    ] {
        assert_eq!(parse_placement(&circuit, text).unwrap().to_text(&circuit), text);
    }
    assert_eq!(
        parse_placement(&circuit, "  Voltmeter s1.2 ").unwrap(),
        parse_placement(&circuit, "voltmeter S1.2 battery-").unwrap()
    );
    let test = parse_test(&circuit, "voltmeter S1.2; key off; pressure 9 bar");
    assert_eq!(
        test.unwrap().placement,
        parse_placement(&circuit, "voltmeter S1.2").unwrap()
    );
}

#[test]
fn refusals_say_where_and_what() {
    let circuit = van();
    let refuse = |text: &str| parse_placement(&circuit, text).unwrap_err();
    assert_eq!(refuse("voltmetre S1.2").at(), 0..9);
    assert!(refuse("voltmetre S1.2").to_string().contains("`voltmeter`"));
    let unknown = refuse("voltmeter S1.9x");
    assert_eq!(unknown.at(), 10..15);
    assert!(matches!(refuse("ammeter S1.1"), TextError::Missing { .. }));
    assert!(matches!(refuse("voltmeter battery-"), TextError::SamePoint { .. }));
    assert!(matches!(refuse("clamp climate/draw"), TextError::NothingToClamp { .. }));
    assert!(matches!(refuse("voltmeter climate/adc"), TextError::OutOfReach { .. }));
    assert!(matches!(refuse("scan pressure now"), TextError::LeftOver { .. }));
    assert!(matches!(refuse(""), TextError::Empty { .. }));
    let set_up = parse_test(&circuit, "voltmeter S1.2; key sideways").unwrap_err();
    assert!(set_up.at().start >= 15, "{set_up:?}");
}

#[test]
fn readings_keep_their_digits() {
    let circuit = van();
    let volts = parse_placement(&circuit, "voltmeter S1.2").unwrap();
    let ohms = parse_placement(&circuit, "ohmmeter S1.2").unwrap();
    let scan = parse_placement(&circuit, "scan pressure").unwrap();
    let number = |value: f64, resolution: f64| Shown::Number { value, resolution };
    let same = |shown: Shown, value: f64, resolution: f64| match shown {
        Shown::Number {
            value: v,
            resolution: r,
        } => {
            assert!(
                (v - value).abs() < 1e-12 && (r / resolution - 1.0).abs() < 1e-9,
                "{v} {r}"
            );
        }
        other => panic!("{other:?} is no number"),
    };
    same(parse_shown("10.4 V", &volts, &circuit).unwrap(), 10.4, 0.1);
    same(parse_shown(" 31 mV ", &volts, &circuit).unwrap(), 0.031, 0.001);
    same(parse_shown("-0.02", &volts, &circuit).unwrap(), -0.02, 0.01);
    same(parse_shown("4.7k", &ohms, &circuit).unwrap(), 4700.0, 100.0);
    same(parse_shown("32.0 bar", &scan, &circuit).unwrap(), 32.0, 0.1);
    assert_eq!(parse_shown("OL", &ohms, &circuit).unwrap(), Shown::OverRange);
    assert_eq!(parse_shown("Unstable", &volts, &circuit).unwrap(), Shown::Unstable);
    for (placement, text) in [(&volts, "2.1..2.9 V"), (&volts, "31..35 mV")] {
        assert!(
            matches!(parse_shown(text, placement, &circuit).unwrap(), Shown::Between { .. }),
            "{text}"
        );
    }
    for (placement, shown) in [
        (&volts, number(10.4, 0.1)),
        (&volts, number(0.031, 0.001)),
        (&ohms, number(4700.0, 100.0)),
        (&ohms, number(1.2e6, 1e5)),
        (&scan, number(32.0, 0.1)),
        (
            &volts,
            Shown::Between {
                low: 2.1,
                high: 2.9,
                resolution: 0.1,
            },
        ),
    ] {
        let text = shown.to_text(placement, &circuit);
        let back = parse_shown(&text, placement, &circuit).unwrap();
        assert_eq!(back.to_text(placement, &circuit), text);
        if let (Shown::Number { value, resolution }, back) = (shown, back) {
            same(back, value, resolution);
        }
    }
}

#[test]
fn words_are_for_the_instrument_that_shows_them() {
    let circuit = van();
    let of = |test: &str| parse_placement(&circuit, test).unwrap();
    let (light, code, volts) = (of("light S1.3"), of("code P0533"), of("voltmeter S1.3"));
    for (placement, text, shown) in [
        (&light, "dim", Shown::Light(Light::Dim)),
        (&light, "not taken", Shown::NotTaken),
        (&code, "not set", Shown::Code(CodeState::NotSet)),
        (&code, "history", Shown::Code(CodeState::History)),
        (&code, "no communication", Shown::NoCommunication),
        (&of("continuity S1.3"), "yes", Shown::YesNo(true)),
    ] {
        assert_eq!(parse_shown(text, placement, &circuit).unwrap(), shown);
        assert_eq!(shown.to_text(placement, &circuit), text);
    }
    assert!(parse_shown("dim", &volts, &circuit).is_err());
    assert!(parse_shown("10 V", &light, &circuit).is_err());
    assert!(parse_shown("12 A", &volts, &circuit).is_err());
    assert!(matches!(
        parse_shown("2.9..2.1", &volts, &circuit),
        Err(TextError::Reversed { .. })
    ));
    assert!(matches!(
        parse_shown("  ", &volts, &circuit),
        Err(TextError::Empty { .. })
    ));
    for odd in ["..", "1..", "..2", "é", "10 V é", "\u{2212}", "1..2..3"] {
        assert!(parse_shown(odd, &volts, &circuit).is_err(), "{odd}");
    }
    assert_eq!(Light::at(1.0), Light::Off);
    assert_eq!(Light::at(-5.0), Light::Dim);
    assert_eq!(Light::at(12.0), Light::Bright);
}

#[test]
fn accuracy_grows_with_range_and_with_coarse_digits() {
    let circuit = van();
    let volts = parse_placement(&circuit, "voltmeter S1.2").unwrap();
    let sd = |value, resolution| accuracy(&circuit, &volts, value, resolution).sd;
    // 12.6 V on the 60 V range: 63 mV and two counts of 10 mV.
    assert!((sd(12.6, None) - (0.083f64.powi(2) / 3.0 + 1e-4 / 12.0).sqrt()).abs() < 1e-9);
    assert!(sd(0.1, None) < 1e-3);
    // Read to a tenth of a volt, the two counts are two tenths.
    assert!((sd(12.6, Some(0.1)) - (0.263f64.powi(2) / 3.0 + 0.01 / 12.0).sqrt()).abs() < 1e-9);
    for far in ["1e160 V", "-1e160 V", "0..1e160 V", "-1e160..1 V"] {
        assert!(parse_shown(far, &volts, &circuit).is_err(), "no meter shows {far}");
    }
    let ohms = Placement::Ohmmeter {
        red: circuit.battery_plus,
        black: circuit.battery_minus,
    };
    assert!(accuracy(&circuit, &ohms, 0.1, None).sd > 0.05, "leads");
    let scan = parse_placement(&circuit, "scan pressure").unwrap();
    let of_scan = accuracy(&circuit, &scan, 8.0, None).sd;
    assert!(of_scan > 0.1 && of_scan < 0.3, "{of_scan} bar");
}

#[test]
fn pins_are_reached_only_when_their_connector_is_apart() {
    let circuit = van();
    let reached = |text: &str| {
        let set_up = set_up(&circuit, text);
        reachable(&circuit, &set_up)
            .into_iter()
            .map(|probe| (probe.point, probe.back_probed))
            .collect::<Vec<_>>()
    };
    let (pin, wire) = (point(&circuit, "S1.3/pin"), point(&circuit, "S1.3"));
    assert!(reached("key on").contains(&(wire, true)));
    assert!(!reached("key on").iter().any(|(point, _)| *point == pin));
    assert!(reached("key on; S1 apart").contains(&(wire, false)));
    assert!(reached("key on; S1 apart").contains(&(pin, false)));
    assert!(
        !reached("key on")
            .iter()
            .any(|(at, _)| *at == point(&circuit, "climate/adc"))
    );
}
