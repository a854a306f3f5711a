//! The sums that the tables say their values come of.

/// The value of a sum of decimal numbers with `+ - * / ^` and brackets; `None` if the text is no such sum.
pub(crate) fn value(text: &str) -> Option<f64> {
    let mut rest = text.trim();
    let value = terms(&mut rest)?;
    rest.is_empty().then_some(value)
}

/// Takes a sign off the front of the text.
fn take(rest: &mut &str, signs: &str) -> Option<char> {
    let sign = rest.chars().next().filter(|sign| signs.contains(*sign))?;
    *rest = rest[sign.len_utf8()..].trim_start();
    Some(sign)
}

fn terms(rest: &mut &str) -> Option<f64> {
    let mut sum = factors(rest)?;
    while let Some(sign) = take(rest, "+-") {
        let next = factors(rest)?;
        sum += if sign == '+' { next } else { -next };
    }
    Some(sum)
}

fn factors(rest: &mut &str) -> Option<f64> {
    let mut product = power(rest)?;
    while let Some(sign) = take(rest, "*/") {
        let next = power(rest)?;
        product *= if sign == '*' { next } else { next.recip() };
    }
    Some(product)
}

fn power(rest: &mut &str) -> Option<f64> {
    if take(rest, "-").is_some() {
        return Some(-power(rest)?);
    }
    let base = number(rest)?;
    match take(rest, "^") {
        Some(_) => Some(base.powf(power(rest)?)),
        None => Some(base),
    }
}

fn number(rest: &mut &str) -> Option<f64> {
    if take(rest, "(").is_some() {
        let inner = terms(rest)?;
        take(rest, ")")?;
        return Some(inner);
    }
    let digit = |at: char| at.is_ascii_digit() || at == '.' || at == 'e';
    let end = rest.find(|at: char| !digit(at)).unwrap_or(rest.len());
    let (figure, after) = rest.split_at(end);
    *rest = after.trim_start();
    figure.parse().ok()
}
