//! Values as a meter would show them: three or so digits, with the prefix a technician would say.
//!
//! Over-range and "could not be taken" are no values and are printed elsewhere.

use crate::Unit;

/// `value`, in the base of `unit`, to the digits one would read off a meter: `4.70 kΩ`, `12.6 V`, `0.31 V`, `31 mV`.
///
/// Volts below 1 V get two digits and no more than 10 µV of detail, everything else three; what is not electrical loses
/// its trailing zeros; money has two decimals. A value that is not finite gives `?` in place of the number.
pub fn format(value: f64, unit: Unit) -> String {
    match unit {
        Unit::Volt if value.abs() < 5e-6 => with_unit("0", "", unit),
        Unit::Volt if value.abs() < 0.995 => with_digits(value, unit, 2),
        Unit::Currency if value.is_finite() => unsigned_zero(format!("{value:.2}")),
        Unit::Celsius if value.is_finite() => with_unit(&unsigned_zero(trim(format!("{value:.1}"))), "", unit),
        _ if prefixes(unit).is_empty() => {
            let (number, prefix) = digits_and_prefix(value, unit, 3);
            with_unit(&trim(number), prefix, unit)
        }
        _ => with_digits(value, unit, 3),
    }
}

/// `value`, in the base of `unit`, to `digits` significant digits (at least 1, at most 17).
///
/// The whole part of a unit that is printed without prefixes is never rounded.
pub fn with_digits(value: f64, unit: Unit, digits: usize) -> String {
    let (number, prefix) = digits_and_prefix(value, unit, digits);
    with_unit(&number, prefix, unit)
}

/// Six significant digits (money: all) without trailing zeros, for values that were typed and will be read back.
pub(crate) fn trimmed(value: f64, unit: Unit) -> String {
    // Sums of money are exact and may be long.
    let digits = if unit == Unit::Currency { 15 } else { 6 };
    let (number, prefix) = digits_and_prefix(value, unit, digits);
    with_unit(&trim(number), prefix, unit)
}

/// Prefixes that are printed, with their powers of ten, from the largest. Empty: always in the base.
fn prefixes(unit: Unit) -> &'static [(i32, &'static str)] {
    match unit {
        Unit::Volt => &[(3, "k"), (0, ""), (-3, "m")],
        Unit::Ampere | Unit::Henry | Unit::Second => &[(0, ""), (-3, "m"), (-6, "µ"), (-9, "n")],
        Unit::Ohm => &[(9, "G"), (6, "M"), (3, "k"), (0, ""), (-3, "m"), (-6, "µ")],
        Unit::Watt => &[(3, "k"), (0, ""), (-3, "m"), (-6, "µ")],
        Unit::Farad => &[(0, ""), (-3, "m"), (-6, "µ"), (-9, "n"), (-12, "p")],
        Unit::Hertz => &[(6, "M"), (3, "k"), (0, "")],
        Unit::Metre
        | Unit::SquareMillimetre
        | Unit::Celsius
        | Unit::Kelvin
        | Unit::Percent
        | Unit::Minute
        | Unit::Bar
        | Unit::Currency
        | Unit::One => &[],
    }
}

/// How small a number may get before the next smaller prefix is taken: volts and ohms stay whole down to a tenth.
fn smallest_mantissa_power(unit: Unit, prefix_power: i32) -> i32 {
    if prefix_power == 0 && matches!(unit, Unit::Volt | Unit::Ohm) {
        -1
    } else {
        0
    }
}

fn digits_and_prefix(value: f64, unit: Unit, digits: usize) -> (String, &'static str) {
    if !value.is_finite() {
        return ("?".to_owned(), "");
    }
    let last = i32::try_from(digits.clamp(1, 17)).unwrap_or(17) - 1;
    if value == 0.0 {
        return ("0".to_owned(), "");
    }
    // Round first: 999.6 Ω to three digits is 1.00 kΩ.
    let rounded = format!("{value:.*e}", usize::try_from(last).unwrap_or(0));
    let Some((mantissa, power)) = rounded.split_once('e') else {
        return (rounded, "");
    };
    let power: i32 = power.parse().unwrap_or(0);
    let all = prefixes(unit);
    if all.is_empty() && power > last {
        return (format!("{value:.0}"), "");
    }
    let fits = |&&(prefix, _): &&(i32, &str)| power >= prefix + smallest_mantissa_power(unit, prefix);
    let &(prefix_power, prefix) = all.iter().find(fits).or(all.last()).unwrap_or(&(0, ""));
    (place_point(mantissa, power - prefix_power), prefix)
}

/// `mantissa · 10^power` written out; the mantissa has one digit before its point.
fn place_point(mantissa: &str, power: i32) -> String {
    let (sign, mantissa) = mantissa.strip_prefix('-').map_or(("", mantissa), |rest| ("-", rest));
    let digits: String = mantissa.chars().filter(char::is_ascii_digit).collect();
    let Ok(power) = usize::try_from(power) else {
        let zeros = "0".repeat(usize::try_from(-power - 1).unwrap_or(0));
        return format!("{sign}0.{zeros}{digits}");
    };
    let padded = format!("{digits:0<width$}", width = power + 1);
    match padded.split_at_checked(power + 1) {
        Some((whole, fraction)) if !fraction.is_empty() => format!("{sign}{whole}.{fraction}"),
        _ => format!("{sign}{padded}"),
    }
}

fn trim(number: String) -> String {
    if !number.contains('.') {
        return number;
    }
    number.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Rounding may leave `-0.00`.
fn unsigned_zero(number: String) -> String {
    match number.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => number,
    }
}

fn with_unit(number: &str, prefix: &str, unit: Unit) -> String {
    match unit.symbol() {
        "" => number.to_owned(),
        symbol => format!("{number} {prefix}{symbol}"),
    }
}
