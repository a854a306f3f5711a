//! What may be written and what it means, what is refused and how that is put.

use quantity::{Spread, Unit, parse, parse_range};

/// Reads `text`; `expect` is the value and its tolerance, or `byte..byte: message`.
#[track_caller]
fn check(text: &str, unit: Unit, expect: &str) {
    let shown = match parse(text, unit) {
        Ok(amount) => match amount.spread {
            Spread::Unstated => format!("{}", amount.value),
            Spread::Exact => format!("{} exact", amount.value),
            Spread::Relative(part) => format!("{} rel {part}", amount.value),
            Spread::Absolute(half) => format!("{} abs {half}", amount.value),
        },
        Err(error) => format!("{:?}: {error}", error.at()),
    };
    assert_eq!(shown, expect, "{text:?} as {unit:?}");
}

#[track_caller]
fn check_range(text: &str, unit: Unit, expect: &str) {
    let shown = match parse_range(text, unit) {
        Ok(span) => format!("{} {}", span.low, span.high),
        Err(error) => format!("{:?}: {error}", error.at()),
    };
    assert_eq!(shown, expect, "{text:?} as {unit:?}");
}

#[test]
fn resistances_are_read_in_every_usual_spelling() {
    for text in [
        "4.7k",
        "4k7",
        "4K7",
        "4,7k",
        "4.7 kΩ",
        "4.7 k\u{2126}",
        "4.7kohm",
        "4.7 KOhms",
        "4700",
        "4700 R",
        "4.7e3 Ω",
        "4k7 Ω",
        " +4.7\u{a0}k ",
        "0.0047 M",
        "0.0047meg",
        "0M0047",
    ] {
        check(text, Unit::Ohm, "4700");
    }
    check("2R2", Unit::Ohm, "2.2");
    check("R47", Unit::Ohm, "0.47");
    check("0R05", Unit::Ohm, "0.05");
    check(".5", Unit::Ohm, "0.5");
    check("0", Unit::Ohm, "0");
}

#[test]
fn case_tells_milli_from_mega() {
    check("10 M", Unit::Ohm, "10000000");
    check("10 MΩ", Unit::Ohm, "10000000");
    check("10meg", Unit::Ohm, "10000000");
    check("10 MegOhm", Unit::Ohm, "10000000");
    check("10 m", Unit::Ohm, "0.01");
    check("10 mΩ", Unit::Ohm, "0.01");
    check("10 mohm", Unit::Ohm, "0.01");
    check(
        "12 MV",
        Unit::Volt,
        "3..5: the prefix in `MV` is not used for a voltage; m is milli, M is mega: write it e.g. 12.6 V",
    );
    check(
        "50M",
        Unit::Ampere,
        "2..3: the prefix in `M` is not used for a current; m is milli, M is mega: write it e.g. 50 mA",
    );
}

#[test]
fn other_quantities_are_read_in_their_units() {
    check("12.6 V", Unit::Volt, "12.6");
    check("12,6V", Unit::Volt, "12.6");
    check("5V1", Unit::Volt, "5.1");
    check("−0.3 v", Unit::Volt, "-0.3");
    check("-0 V", Unit::Volt, "0");
    check("31m", Unit::Volt, "0.031");
    check("50mA", Unit::Ampere, "0.05");
    check("20 µA", Unit::Ampere, "0.00002");
    check("20 μA", Unit::Ampere, "0.00002");
    check("20uA", Unit::Ampere, "0.00002");
    check("5 W", Unit::Watt, "5");
    check("4n7", Unit::Farad, "0.0000000047");
    check("12 mH", Unit::Henry, "0.012");
    check("1.5 m", Unit::Metre, "1.5");
    check("80 cm", Unit::Metre, "0.8");
    check("350mm", Unit::Metre, "0.35");
    check("10 ft", Unit::Metre, "3.048");
    check("10'", Unit::Metre, "3.048");
    check("10’", Unit::Metre, "3.048");
    check("10\"", Unit::Metre, "0.254");
    check("80 °C", Unit::Celsius, "80");
    check("80C", Unit::Celsius, "80");
    check("-40", Unit::Celsius, "-40");
    check("3950 K", Unit::Kelvin, "3950");
    check("20 %", Unit::Percent, "20");
    check("20 %", Unit::One, "0.2");
    check("0,85", Unit::One, "0.85");
    check("3 min", Unit::Minute, "3");
    check("1:30", Unit::Minute, "1.5");
    check("0:45", Unit::Second, "45");
    check("2 h", Unit::Minute, "120");
    check("20 ms", Unit::Second, "0.02");
    check("120 Hz", Unit::Hertz, "120");
    check("600 rpm", Unit::Hertz, "10");
    check("2.5 bar", Unit::Bar, "2.5");
    check("250 kPa", Unit::Bar, "2.5");
    check("45,50", Unit::Currency, "45.5");
    let degrees = parse("176 °F", Unit::Celsius).unwrap().value;
    assert!((degrees - 80.0).abs() < 1e-12, "{degrees}");
}

#[test]
fn cross_sections_may_be_gauges() {
    check("0.5 mm²", Unit::SquareMillimetre, "0.5");
    check("0.5mm2", Unit::SquareMillimetre, "0.5");
    check("0,75 mm^2", Unit::SquareMillimetre, "0.75");
    check("1.5", Unit::SquareMillimetre, "1.5");
    let area = |text| parse(text, Unit::SquareMillimetre).unwrap().value;
    for text in ["18 AWG", "18AWG", "AWG 18", "awg18"] {
        assert_eq!(area(text), quantity::awg_area_mm2(18), "{text}");
    }
    for text in ["2/0 AWG", "AWG 2/0", "00 AWG"] {
        assert_eq!(area(text), quantity::awg_area_mm2(-1), "{text}");
    }
    assert_eq!(area("0 AWG"), quantity::awg_area_mm2(0));
    let no_gauge = |found: &str| {
        format!(
            "0..{}: `{found}` is no wire gauge: 4/0 AWG to 40 AWG are known, e.g. 18 AWG or 1/0 AWG",
            found.len()
        )
    };
    for text in ["55 AWG", "5/0 AWG", "AWG"] {
        check(text, Unit::SquareMillimetre, &no_gauge(text));
    }
    check(
        "18.5 AWG",
        Unit::SquareMillimetre,
        &no_gauge("AWG").replace("0..3", "5..8"),
    );
}

#[test]
fn tolerances_follow_the_value() {
    for text in [
        "4.7k ± 5 %",
        "4k7±5%",
        "4.7 kΩ +- 5 %",
        "4.7k +/- 5%",
        "4.7k 5%",
        "4.7 kΩ 5 % ",
    ] {
        check(text, Unit::Ohm, "4700 rel 0.05");
    }
    check("12.6 V ± 0.3 V", Unit::Volt, "12.6 abs 0.3");
    check("12.6 V +- 300 mV", Unit::Volt, "12.6 abs 0.3");
    check("12,6 ± 0,3", Unit::Volt, "12.6 abs 0.3");
    check("4.7k ± 2k2", Unit::Ohm, "4700 abs 2200");
    check("80 °C ± 2 °C", Unit::Celsius, "80 abs 2");
    check("80 °C ± 2 K", Unit::Celsius, "80 abs 2");
    check("80 °C ± 9 °F", Unit::Celsius, "80 abs 5");
    check("20 % ± 2 %", Unit::Percent, "20 abs 2");
    check("0.5 ± 2 %", Unit::One, "0.5 rel 0.02");
    check(
        "18 AWG 5%",
        Unit::SquareMillimetre,
        &format!("{} rel 0.05", quantity::awg_area_mm2(18)),
    );
    check("5.00 V ± 0", Unit::Volt, "5 exact");
    check("4.7k ± 0", Unit::Ohm, "4700 exact");
    check("5 V exact", Unit::Volt, "5 exact");
    check("5 exact", Unit::Volt, "5 exact");
}

#[test]
fn a_wrong_tolerance_is_explained() {
    let size = "cannot be: it is never below zero, above 100 %, or larger than the value";
    check(
        "4.7k ± 500 %",
        Unit::Ohm,
        &format!("5..13: a tolerance of `± 500 %` {size}"),
    );
    check(
        "4.7k ± -5 %",
        Unit::Ohm,
        &format!("5..12: a tolerance of `± -5 %` {size}"),
    );
    check(
        "4.7k ± 10k",
        Unit::Ohm,
        &format!("4..11: a tolerance of `± 10k` {size}"),
    );
    check(
        "4.7k ± 100",
        Unit::Ohm,
        "5..11: the unit of the tolerance `± 100` is missing or unclear: write e.g. ± 5 % or ± 4.7k",
    );
    check(
        "80 °C ± 5 %",
        Unit::Celsius,
        "7..13: the unit of the tolerance `± 5 %` is missing or unclear: write e.g. ± 2 °C",
    );
    check(
        "12.6 V ± 2 Ω",
        Unit::Volt,
        "12..14: this is a resistance, a voltage is expected, e.g. 12.6 V",
    );
    check(
        "12.6 V ± 0 Ω",
        Unit::Volt,
        "12..14: this is a resistance, a voltage is expected, e.g. 12.6 V",
    );
    check(
        "12.6 V ±",
        Unit::Volt,
        "9..9: nothing is written here: a percentage is expected, e.g. 20 %",
    );
    check(
        "12.6 V + 0.3",
        Unit::Volt,
        "7..12: `+ 0.3` after the value is not understood: a tolerance may follow, e.g. ± 5 %",
    );
}

#[test]
fn what_cannot_be_read_says_where_and_what_was_expected() {
    check(
        "",
        Unit::Volt,
        "0..0: nothing is written here: a voltage is expected, e.g. 12.6 V",
    );
    check(
        "  ",
        Unit::Ohm,
        "2..2: nothing is written here: a resistance is expected, e.g. 4.7k",
    );
    check(
        "low",
        Unit::Volt,
        "0..3: `low` is no number: a voltage is expected, e.g. 12.6 V",
    );
    check(
        "R",
        Unit::Ohm,
        "0..1: `R` is no number: a resistance is expected, e.g. 4.7k",
    );
    check(
        ".",
        Unit::Ohm,
        "0..1: `.` is no number: a resistance is expected, e.g. 4.7k",
    );
    check(
        "4.7 kΩ",
        Unit::Volt,
        "4..7: this is a resistance, a voltage is expected, e.g. 12.6 V",
    );
    check(
        "12 V",
        Unit::Ohm,
        "3..4: this is a voltage, a resistance is expected, e.g. 4.7k",
    );
    check(
        "3 m",
        Unit::Minute,
        "2..3: this is a length, a time in minutes is expected, e.g. 3 min",
    );
    check(
        "18 AWG",
        Unit::Metre,
        "3..6: this is a wire cross-section, a length is expected, e.g. 1.5 m",
    );
    check(
        "12 furlongs",
        Unit::Metre,
        "3..11: `furlongs` is no unit known here: a length is expected, e.g. 1.5 m",
    );
    check(
        "45 €",
        Unit::Currency,
        "3..6: `€` is no unit known here: an amount of money is expected, e.g. 45.50",
    );
    check("1e400", Unit::Ohm, "0..5: `1e400` is too large to be a value");
    check("0e999", Unit::Ohm, "0..5: `0e999` is too large to be a value");
    check("-5 Ω", Unit::Ohm, "0..5: a resistance cannot be negative");
    check(
        "0 mm²",
        Unit::SquareMillimetre,
        "0..6: a wire cross-section must be more than zero, e.g. 0.5 mm² or 18 AWG",
    );
    check(
        "-300 °C",
        Unit::Celsius,
        "0..8: `-300 °C` is below absolute zero (-273.15 °C)",
    );
    check(
        "1:75",
        Unit::Minute,
        "0..4: `1:75` is no time: minutes and two digits of seconds are expected, e.g. 1:30",
    );
    check(
        "12.6 V 3",
        Unit::Volt,
        "7..8: `3` after the value is not understood: a tolerance may follow, e.g. ± 5 %",
    );
}

#[test]
fn thousands_separators_are_refused() {
    let grouped = "has a thousands separator or two separators: write the digits together with one decimal point";
    for text in [
        "1,234.5",
        "1.234,5",
        "1'000",
        "1_000",
        "4 700",
        "1 000 000",
        "1.234.567",
    ] {
        check(text, Unit::Ohm, &format!("0..{}: `{text}` {grouped}", text.len()));
    }
    check(
        "4,700",
        Unit::Ohm,
        "0..5: `4,700` could be 4.700 or 4700: write the one you mean",
    );
    check("0,125", Unit::Ohm, "0.125");
    check("12.650", Unit::Ohm, "12.65");
    check("1234,567", Unit::Ohm, "1234.567");
}

#[test]
fn ranges_share_the_unit_of_their_end() {
    for text in [
        "0.5..4.5 V",
        "0.5 V .. 4.5 V",
        "500 mV…4.5 V",
        "0,5 – 4,5 V",
        "0.5 to 4.5 V",
        "0.5..4.5",
    ] {
        check_range(text, Unit::Volt, "0.5 4.5");
    }
    check_range("-40..125 °C", Unit::Celsius, "-40 125");
    check_range("0.5..4.5 kΩ", Unit::Ohm, "500 4500");
    check_range("0 .. 0", Unit::Ohm, "0 0");
    check_range(
        "10..100k",
        Unit::Ohm,
        "0..8: write the unit at both ends of `10..100k`: the prefix could belong to one or to both",
    );
    check_range(
        "4..1 V",
        Unit::Volt,
        "0..6: the range `4..1 V` runs backwards: the lower value comes first",
    );
    check_range(
        "4 V",
        Unit::Volt,
        "0..3: `4 V` is no range: two values with .. between them are expected, e.g. 0.5..4.5 V",
    );
    check_range(
        "..5 V",
        Unit::Volt,
        "0..0: nothing is written here: a voltage is expected, e.g. 12.6 V",
    );
    check_range(
        "0..5 Ω",
        Unit::Volt,
        "5..7: this is a resistance, a voltage is expected, e.g. 12.6 V",
    );
}
