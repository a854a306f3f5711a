//! A table listed downwards, as freeze frames are: a name a line, its value and unit beside it.

use super::number::{Decimal, clock, number};
use super::read::Rows;
use super::unit::is_unit;

/// First cells of the line above such a list, small letters.
const TITLES: [&str; 12] = [
    "parameter",
    "parameters",
    "name",
    "item",
    "signal",
    "description",
    "sensor",
    "pid",
    "data",
    "value",
    "no",
    "no.",
];
/// Columns of it: a number or short name of the line, the name, the unit, values.
const MOST_BEFORE: usize = 2;

/// The same table with its names in one line and a line for each column of values; `None` if it is no such list.
///
/// It is one where a column of words, all different, stands before numbers, and units stand beside them, or a title says so,
/// or the first line is no header. Lines of words alone, such as a title of the whole, are passed over.
pub(super) fn upright(rows: &Rows, decimal: Decimal) -> Option<Rows> {
    let is_number = |cell: &str| number(cell, decimal).is_some() && clock(cell).is_none();
    let is_line = |cells: &Vec<String>| cells.iter().filter(|cell| !cell.is_empty()).count() > 1;
    let lines: Vec<&(u64, Vec<String>)> = rows.iter().filter(|(_, cells)| is_line(cells)).collect();
    let (_, first) = lines.first()?;
    let headed = !first.iter().any(|cell| is_number(cell));
    let list: Vec<&Vec<String>> = lines.iter().skip(usize::from(headed)).map(|(_, cells)| cells).collect();
    let width = list.iter().map(|cells| cells.len()).max()?;
    let column = |at: usize| list.iter().map(move |cells| cells.get(at).map_or("", String::as_str));
    let all_words = |at: &usize| {
        let mut names: Vec<&str> = column(*at).collect();
        names.sort_unstable();
        let different = names.windows(2).all(|two| two[0] != two[1]);
        different
            && names
                .iter()
                .all(|name| name.chars().any(char::is_alphabetic) && !is_number(name) && clock(name).is_none())
    };
    let names = (0..width.min(MOST_BEFORE)).find(all_words)?;
    let is_value = |at: &usize| {
        let numbers = column(*at).filter(|cell| is_number(cell)).count();
        numbers > 0 && 2 * numbers >= list.len()
    };
    let values: Vec<usize> = (names + 1..width).filter(is_value).collect();
    let of_units = |at: &usize| {
        let filled = || column(*at).filter(|cell| !cell.is_empty());
        !values.contains(at) && filled().count() > 0 && filled().all(|cell| is_unit(cell) || cell == "-")
    };
    let units = (names + 1..width).find(of_units);
    let titled = || {
        let title = first.get(names).map(|title| title.to_lowercase()).unwrap_or_default();
        TITLES.contains(&title.trim())
    };
    if values.is_empty() || !(units.is_some() || !headed || titled()) {
        return None;
    }
    let name = |cells: &&Vec<String>| {
        let unit = units
            .and_then(|at| cells.get(at))
            .filter(|unit| !unit.is_empty() && *unit != "-");
        unit.map_or_else(|| cells[names].clone(), |unit| format!("{} [{unit}]", cells[names]))
    };
    let line = |at: usize| (NO_LINE, column(at).map(str::to_owned).collect());
    let mut upright = vec![(NO_LINE, list.iter().map(name).collect())];
    upright.extend(values.into_iter().map(line));
    Some(upright)
}

/// What stands in a line is of many lines of the table as it was written.
pub(super) const NO_LINE: u64 = 0;
