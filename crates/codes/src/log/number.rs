//! Cells: numbers with a decimal point or comma, and times as seconds or by the clock.

/// What stands before the decimals, in the whole table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Decimal {
    Point,
    Comma,
}

impl Decimal {
    /// The mark itself.
    pub const fn mark(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }

    const fn grouping(self) -> char {
        match self {
            Self::Point => ',',
            Self::Comma => '.',
        }
    }

    /// The mark that more cells need: a comma where numbers with a comma alone outnumber those with a point alone.
    pub(super) fn of<'a>(cells: impl Iterator<Item = &'a str>) -> Self {
        let (mut points, mut commas) = (0_usize, 0_usize);
        for cell in cells.map(|cell| figure_and_unit(cell).0) {
            match (cell.rfind('.'), cell.rfind(',')) {
                (None, Some(_)) => commas += 1,
                (Some(point), Some(comma)) if comma > point => commas += 1,
                (Some(_), _) => points += 1,
                (None, None) => {}
            }
        }
        if commas > points { Self::Comma } else { Self::Point }
    }
}

/// The part of a cell that may be a number, and the unit behind it: `83 °C`, `12.5V`.
fn figure_and_unit(cell: &str) -> (&str, &str) {
    let cell = cell.trim();
    let exponent = |at: usize| {
        let rest = cell[at..].trim_start_matches(['e', 'E']).trim_start_matches(['+', '-']);
        at > 0 && cell[at..].starts_with(['e', 'E']) && rest.starts_with(|one: char| one.is_ascii_digit())
    };
    let end = cell
        .char_indices()
        .find(|&(at, one)| !(one.is_ascii_digit() || "+-.,".contains(one) || exponent(at)))
        .map_or(cell.len(), |(at, _)| at);
    (&cell[..end], cell[end..].trim())
}

/// A finite number and the unit written behind it. Groups of three digits may be set apart by the other mark.
pub(super) fn number(cell: &str, decimal: Decimal) -> Option<(f64, &str)> {
    let (figure, unit) = figure_and_unit(cell);
    if unit.chars().count() > 8 || unit.contains(|one: char| one.is_ascii_digit() || one == ':') {
        return None;
    }
    let (whole, decimals) = figure
        .split_once(decimal.mark())
        .map_or((figure, ""), |(whole, rest)| (whole, rest));
    if decimals.contains(decimal.grouping()) {
        return None;
    }
    let mut groups = whole.split(decimal.grouping());
    let first = groups.next()?;
    let mut digits = first.to_owned();
    for group in groups {
        if group.len() != 3 || first.trim_start_matches(['+', '-']).len() > 3 {
            return None;
        }
        digits += group;
    }
    let value: f64 = format!("{digits}.{decimals}").parse().ok()?;
    value.is_finite().then_some((value, unit))
}

/// Seconds of a time by the clock: `12:00:01.5`, `1:02.5` (minutes and seconds), with a date or without, AM and PM.
///
/// The date is passed over: a log that goes on past midnight is put right by its reader.
pub(super) fn clock(cell: &str) -> Option<f64> {
    let text = cell.trim().to_ascii_uppercase();
    let afternoon = text.ends_with("PM");
    let half_day = afternoon || text.ends_with("AM");
    let text = text.trim_end_matches(['A', 'P', 'M', 'Z', ' ']).replace(',', ".");
    let token = text.split([' ', 'T']).rfind(|part| part.contains(':'))?;
    // A time zone behind the time says nothing of what passed.
    let token = token.split(['+', '-']).next()?;
    let parts: Vec<f64> = token.split(':').map(plain).collect::<Option<_>>()?;
    let (hours, minutes, seconds) = match parts[..] {
        [hours, minutes, seconds] => (hours, minutes, seconds),
        [minutes, seconds] => (0.0, minutes, seconds),
        _ => return None,
    };
    if seconds >= 61.0 || (parts.len() == 3 && (minutes >= 60.0 || hours >= 48.0)) {
        return None;
    }
    let hours = if half_day {
        hours % 12.0 + if afternoon { 12.0 } else { 0.0 }
    } else {
        hours
    };
    Some(hours * 3600.0 + minutes * 60.0 + seconds)
}

/// Digits with at most one point.
fn plain(text: &str) -> Option<f64> {
    let simple = !text.is_empty() && text.chars().all(|one| one.is_ascii_digit() || one == '.');
    text.parse().ok().filter(|_| simple)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_tools_write_them() {
        for (cell, decimal, value, unit) in [
            ("12.5", Decimal::Point, 12.5, ""),
            ("-40", Decimal::Comma, -40.0, ""),
            (" 1,5 V", Decimal::Comma, 1.5, "V"),
            ("1.234,5", Decimal::Comma, 1234.5, ""),
            ("1,234.5", Decimal::Point, 1234.5, ""),
            ("83°C", Decimal::Point, 83.0, "°C"),
            ("1.5e-3", Decimal::Point, 0.0015, ""),
            ("12%", Decimal::Point, 12.0, "%"),
            (".5", Decimal::Point, 0.5, ""),
        ] {
            assert_eq!(number(cell, decimal), Some((value, unit)), "{cell}");
        }
        for cell in ["", "-", "--", "n/a", "On", "1,23,4.5", "1.2.3", "12:30", "NaN", "inf"] {
            assert_eq!(number(cell, Decimal::Point), None, "{cell}");
        }
    }

    #[test]
    fn clocks_as_tools_write_them() {
        for (cell, seconds) in [
            ("12:00:01.5", 43201.5),
            ("1:02.5", 62.5),
            ("00:00:01,250", 1.25),
            ("2026-11-26 00:01:00", 60.0),
            ("2026-11-26T00:01:00.5Z", 60.5),
            ("26.11.2026 00:01:00+01:00", 60.0),
            ("11/26/2026 12:00:01 AM", 1.0),
            ("1:00:00 PM", 46800.0),
        ] {
            assert_eq!(clock(cell), Some(seconds), "{cell}");
        }
        for cell in ["", "12", "12:61:00", "a:b", "1:2:3:4", ":"] {
            assert_eq!(clock(cell), None, "{cell}");
        }
    }
}
