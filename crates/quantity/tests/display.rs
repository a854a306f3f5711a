//! What a person copies off a display.

use quantity::{Displayed, OnDisplay, Unit, parse_displayed};

#[track_caller]
fn check(text: &str, unit: Unit, expect: &str) {
    let shown = match parse_displayed(text, unit) {
        Ok(OnDisplay::Number(Displayed { value, resolution })) => format!("{value} by {resolution}"),
        Ok(OnDisplay::OverRange) => "over range".to_owned(),
        Err(error) => format!("{:?}: {error}", error.at()),
    };
    assert_eq!(shown, expect, "{text:?} as {unit:?}");
}

#[test]
fn a_display_says_how_finely_it_resolves() {
    check("10.40 V", Unit::Volt, "10.4 by 0.01");
    check("5.02", Unit::Volt, "5.02 by 0.01");
    check("-31 mV", Unit::Volt, "-0.031 by 0.001");
    check("0.00", Unit::Volt, "0 by 0.01");
    check("4k7", Unit::Ohm, "4700 by 100");
    check("1.250 MΩ", Unit::Ohm, "1250000 by 1000");
    check("-0.2", Unit::Ohm, "-0.2 by 0.1");
    for text in ["OL", "O.L", "0L", "0.L MΩ", "OL.", "-OL", ".OL kΩ"] {
        check(text, Unit::Ohm, "over range");
    }
    check(
        "OL V",
        Unit::Ohm,
        "0..4: `OL V` is no number: a resistance is expected, e.g. 4.7k",
    );
    check(
        "5.02 V ± 1 %",
        Unit::Volt,
        "7..13: `± 1 %` after the value is not understood: a tolerance may follow, e.g. ± 5 %",
    );
}
