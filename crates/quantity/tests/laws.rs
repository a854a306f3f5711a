//! Properties: no text panics, errors point into the text, what is printed is read back.

use proptest::prelude::*;
use quantity::{Amount, ParseError, Spread, Unit, format, parse, parse_displayed, parse_range, with_digits};

fn any_unit() -> impl Strategy<Value = Unit> {
    prop::sample::select(Unit::ALL.to_vec())
}

/// Any text, or one made of the pieces that values are made of, so that deep paths are reached.
fn any_text() -> impl Strategy<Value = String> {
    let piece = prop::sample::select(vec![
        "4", "700", "0", ".", ",", "..", "k", "m", "M", "meg", "µ", "R", "V", "Ω", "ohm", "mm2", "mm", "²", "AWG",
        "/0", " ", "\u{a0}", "±", "+-", "%", "°C", "°F", "K", "e", "E9", "99999", "-", "−", "+", ":", "30", "'", "’",
        "exact", " to ", "–", "OL", "L", "€", "é", "𝛀", "\"",
    ]);
    prop_oneof![
        any::<String>(),
        prop::collection::vec(piece, 0..9).prop_map(|pieces| pieces.concat())
    ]
}

fn points_into(text: &str, error: &ParseError) -> bool {
    text.get(error.at()).is_some() && !error.to_string().is_empty()
}

/// A value that could be met, of a sign that the unit allows.
fn any_value() -> impl Strategy<Value = f64> {
    (-9.0..9.0_f64, 1.0..10.0_f64).prop_map(|(power, mantissa)| mantissa * 10_f64.powf(power))
}

fn close(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn no_text_panics_and_every_error_points_into_it(text in any_text(), unit in any_unit()) {
        match parse(&text, unit) {
            Ok(amount) => prop_assert!(amount.value.is_finite() && amount.half_width().is_none_or(|half| half.is_finite() && half >= 0.0)),
            Err(error) => prop_assert!(points_into(&text, &error), "{error:?}"),
        }
        if let Err(error) = parse_displayed(&text, unit) {
            prop_assert!(points_into(&text, &error), "{error:?}");
        }
        match parse_range(&text, unit) {
            Ok(span) => prop_assert!(span.low <= span.high && span.high.is_finite()),
            Err(error) => prop_assert!(points_into(&text, &error), "{error:?}"),
        }
    }

    #[test]
    fn every_double_prints(bits in any::<u64>(), unit in any_unit(), digits in any::<usize>()) {
        let value = f64::from_bits(bits);
        prop_assert!(!format(value, unit).is_empty());
        prop_assert!(!with_digits(value, unit, digits).is_empty());
    }

    #[test]
    fn printed_digits_are_read_back(value in any_value(), unit in any_unit(), digits in 1_usize..=17) {
        let text = with_digits(value, unit, digits);
        let back = parse(&text, unit).map_err(|error| TestCaseError::fail(format!("{text}: {error}")))?;
        // Half a step of the last of `digits` digits, and a little for the conversion to binary and back.
        let half_step = 0.5 * 10_f64.powi(1 - i32::try_from(digits).unwrap_or(17));
        prop_assert!(close(back.value, value, half_step + 4.0 * f64::EPSILON), "{value:e} printed as {text}, read as {:e}", back.value);
    }

    #[test]
    fn an_amount_survives_print_and_parse(value in any_value(), unit in any_unit(), part in 0.001..1.0_f64, kind in 0..4) {
        let spread = match kind {
            0 => Spread::Unstated,
            1 => Spread::Exact,
            2 if unit != Unit::Celsius && unit != Unit::Percent => Spread::Relative(part),
            _ => Spread::Absolute(part * value * 0.999),
        };
        let amount = Amount { value, spread, unit };
        let text = amount.to_string();
        let back = parse(&text, unit).map_err(|error| TestCaseError::fail(format!("{text}: {error}")))?;
        prop_assert!(close(back.value, value, 5.1e-6), "{text}");
        prop_assert_eq!(std::mem::discriminant(&back.spread), std::mem::discriminant(&spread), "{}", text);
        if let (Some(a), Some(b)) = (back.half_width(), amount.half_width()) {
            prop_assert!(close(a, b, 2e-5), "{text}");
        }
    }
}
