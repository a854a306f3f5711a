//! A table as any tool writes it: which mark is between the columns, where the header is, which column is the time.

use super::downwards::upright;
use super::number::{Decimal, clock, number};
use super::unit::is_unit;
use super::{Dropped, Log, Sample, Series};

/// Why a table cannot be read. Lines count from 1.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "the message of each variant says what its fields mean")]
pub enum LogError {
    #[error("there is nothing in it: a table with a header line and rows of numbers is expected")]
    Empty,
    #[error(
        "no row of numbers was found: a table with a header line and rows of numbers is expected, or a name, its value and its unit \
         a line"
    )]
    NoNumbers,
    #[error(
        "line {line} has {found} columns, the header has {header}: numbers with a decimal comma between commas cannot be told apart; \
         export with semicolons or tabs, or with decimal points"
    )]
    CommaTwice { line: u64, found: usize, header: usize },
    #[error("line {line}: {why}")]
    Broken { line: u64, why: String },
}

/// Lines of a table in cells, each with its number.
pub(super) type Rows = Vec<(u64, Vec<String>)>;

/// Reads a table: UTF-8, UTF-16 with its mark, or Latin-1.
///
/// Between the columns stands a tab, a semicolon or a comma; lines before the header are passed over. The header is the line
/// before the numbers, units in it in brackets or in a line of their own. A list of names with their values beside them, as
/// freeze frames are written, is read as one row.
///
/// # Errors
/// A [`LogError`] with the line to look at.
pub fn read(bytes: &[u8]) -> Result<Log, LogError> {
    let text = decoded(bytes);
    if text.trim().is_empty() {
        return Err(LogError::Empty);
    }
    let (delimiter, rows) = split(&text)?;
    let decimal = Decimal::of(
        rows.iter()
            .flat_map(|(_, cells)| cells.iter().map(String::as_str))
            .filter(|cell| clock(cell).is_none()),
    );
    let rows = upright(&rows, decimal).unwrap_or(rows);
    let width = usual_width(&rows);
    let is_value = |cell: &String| number(cell, decimal).is_some() || clock(cell).is_some();
    let is_data = |cells: &[String]| {
        let filled = cells.iter().filter(|cell| !cell.is_empty()).count();
        let values = cells.iter().filter(|cell| is_value(cell)).count();
        cells.len() >= width.min(2) && values > 0 && 2 * values >= filled
    };
    let first = rows
        .iter()
        .position(|(_, cells)| is_data(cells))
        .ok_or(LogError::NoNumbers)?;
    let (names, units) = header(&rows[..first], width);
    let data = &rows[first..];
    if let Some((line, cells)) = data.iter().find(|(_, cells)| cells.len() > names.len().max(width)) {
        let (line, found, header) = (*line, cells.len(), names.len());
        return Err(LogError::CommaTwice { line, found, header });
    }
    if delimiter == ',' && !names.is_empty() && width > names.len() {
        let (line, found, header) = (data[0].0, width, names.len());
        return Err(LogError::CommaTwice { line, found, header });
    }
    let columns = columns(&names, &units, width.max(names.len()));
    Ok(log(&columns, data, delimiter, decimal))
}

fn decoded(bytes: &[u8]) -> String {
    let wide = |rest: &[u8], order: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = rest.as_chunks::<2>().0.iter().map(|pair| order(*pair)).collect();
        String::from_utf16_lossy(&units)
    };
    match bytes {
        [0xFF, 0xFE, rest @ ..] => wide(rest, u16::from_le_bytes),
        [0xFE, 0xFF, rest @ ..] => wide(rest, u16::from_be_bytes),
        [0xEF, 0xBB, 0xBF, rest @ ..] => String::from_utf8_lossy(rest).into_owned(),
        _ => std::str::from_utf8(bytes).map_or_else(
            |_latin| bytes.iter().map(|byte| char::from(*byte)).collect(),
            str::to_owned,
        ),
    }
}

/// The first of tab, semicolon and comma that cuts four of five lines alike; one column if none does.
fn split(text: &str) -> Result<(char, Rows), LogError> {
    for delimiter in ['\t', ';', ','] {
        let rows = cells(text, delimiter)?;
        let width = usual_width(&rows);
        // A comma may also be the decimal mark of a single column.
        let alike = rows
            .iter()
            .filter(|(_, cells)| cells.len().abs_diff(width) <= 1)
            .count();
        let enough = if delimiter == ',' { rows.len() > 1 } else { true };
        if width > 1 && enough && 5 * alike >= 3 * rows.len() {
            return Ok((delimiter, rows));
        }
    }
    Ok((';', cells(text, ';')?))
}

fn cells(text: &str, delimiter: char) -> Result<Rows, LogError> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter as u8)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Rows::new();
    for record in reader.records() {
        let record = record.map_err(|error| LogError::Broken {
            line: error.position().map_or(0, csv::Position::line),
            why: error.to_string(),
        })?;
        let line = record.position().map_or(0, csv::Position::line);
        let cells: Vec<String> = record.iter().map(str::to_owned).collect();
        if cells.iter().any(|cell| !cell.is_empty()) {
            rows.push((line, cells));
        }
    }
    Ok(rows)
}

/// The number of cells that most lines have; the larger of two as frequent.
fn usual_width(rows: &Rows) -> usize {
    let mut counts = std::collections::BTreeMap::<usize, usize>::new();
    for (_, cells) in rows {
        *counts.entry(cells.len()).or_default() += 1;
    }
    counts
        .into_iter()
        .max_by_key(|(_, count)| *count)
        .map_or(0, |(width, _)| width)
}

/// Names, and units where they have a line of their own.
fn header(before: &[(u64, Vec<String>)], width: usize) -> (Vec<String>, Vec<String>) {
    let wide: Vec<&Vec<String>> = before
        .iter()
        .map(|(_, cells)| cells)
        .filter(|cells| cells.len() + 1 >= width.min(3))
        .collect();
    let bare = |cell: &String| cell.trim_matches(['[', ']', '(', ')']).to_owned();
    match wide.as_slice() {
        [.., names, units]
            if units.iter().any(|cell| !cell.is_empty()) && units.iter().all(|cell| is_unit(&bare(cell))) =>
        {
            ((*names).clone(), units.iter().map(bare).collect())
        }
        [.., names] => ((*names).clone(), Vec::new()),
        [] => (Vec::new(), Vec::new()),
    }
}

/// A column's name and unit.
struct Column {
    name: String,
    unit: String,
}

fn columns(names: &[String], units: &[String], width: usize) -> Vec<Column> {
    (0..width)
        .map(|idx| {
            let name = names.get(idx).map_or("", String::as_str);
            let (name, own) = name_and_unit(name);
            let unit = units
                .get(idx)
                .filter(|unit| own.is_empty() && *unit != "-")
                .cloned()
                .unwrap_or(own);
            let name = if name.is_empty() {
                format!("column {}", idx + 1)
            } else {
                name
            };
            Column { name, unit }
        })
        .collect()
}

/// `Engine speed [1/min]`, `RPM (rpm)`, `Coolant, °C`: what is in brackets at the end is the unit if it is one.
fn name_and_unit(text: &str) -> (String, String) {
    let text = text.trim();
    for (open, close) in [('[', ']'), ('(', ')'), ('{', '}')] {
        if let Some((name, unit)) = text.strip_suffix(close).and_then(|rest| rest.rsplit_once(open)) {
            // In round brackets may also stand which sensor it is.
            if open != '(' || is_unit(unit) {
                return (name.trim().to_owned(), unit.trim().to_owned());
            }
        }
    }
    match text.rsplit_once(',') {
        Some((name, unit)) if !unit.trim().is_empty() && is_unit(unit) => {
            (name.trim().to_owned(), unit.trim().to_owned())
        }
        _ => (text.to_owned(), String::new()),
    }
}

/// The column of times: called so, or filled with times by the clock.
fn time_column(columns: &[Column], data: &[(u64, Vec<String>)]) -> Option<usize> {
    let called = |column: &Column| {
        let name: String = column
            .name
            .to_lowercase()
            .chars()
            .filter(|one| one.is_alphanumeric())
            .collect();
        matches!(
            name.as_str(),
            "time"
                | "times"
                | "timems"
                | "timesec"
                | "timestamp"
                | "elapsed"
                | "elapsedtime"
                | "t"
                | "seconds"
                | "sec"
                | "datetime"
                | "clock"
                | "devicetime"
                | "logtime"
                | "timeofday"
        )
    };
    let by_clock = |idx: usize| {
        let filled = data
            .iter()
            .filter_map(|(_, cells)| cells.get(idx))
            .filter(|cell| !cell.is_empty());
        let (mut n, mut clocks) = (0_usize, 0_usize);
        for cell in filled {
            n += 1;
            clocks += usize::from(clock(cell).is_some());
        }
        n > 0 && 10 * clocks >= 9 * n
    };
    let clocked = (0..columns.len()).find(|idx| by_clock(*idx));
    clocked.or_else(|| columns.iter().position(called))
}

/// Seconds of a cell of the column of times; numbers without a unit are seconds, or milliseconds since 1970 where they are huge.
fn time(cell: &str, unit: &str, name: &str, decimal: Decimal) -> Option<f64> {
    if let Some(seconds) = clock(cell) {
        return Some(seconds);
    }
    let (value, own) = number(cell, decimal)?;
    let unit = if own.is_empty() { unit } else { own };
    let milliseconds = unit.is_empty() && (value.abs() > 1e11 || name.to_lowercase().ends_with("ms"));
    if milliseconds {
        return Some(value / 1000.0);
    }
    let unit = if unit.is_empty() { "s" } else { unit };
    super::unit::conversion(unit, "s").map(|conversion| conversion.apply(value))
}

fn log(columns: &[Column], data: &[(u64, Vec<String>)], delimiter: char, decimal: Decimal) -> Log {
    const DAY: f64 = 86400.0;
    let time_idx = time_column(columns, data);
    let mut rows_s = Vec::with_capacity(data.len());
    let mut bad_lines = Vec::new();
    let mut dropped = Vec::new();
    let mut series: Vec<Series> = columns
        .iter()
        .map(|column| Series {
            name: column.name.clone(),
            unit: column.unit.clone(),
            samples: Vec::new(),
        })
        .collect();
    let mut start = None;
    let mut last = 0.0;
    for (row, (line, cells)) in data.iter().enumerate() {
        let at_s = match time_idx {
            None => row as f64,
            Some(idx) => {
                let column = &columns[idx];
                let cell = cells.get(idx).map_or("", String::as_str);
                let Some(mut now) = time(cell, &column.unit, &column.name, decimal) else {
                    bad_lines.push(*line);
                    continue;
                };
                let is_clock = clock(cell).is_some();
                let start = *start.get_or_insert(now);
                // Past midnight the clock begins anew.
                while is_clock && now - start < last - DAY / 2.0 {
                    now += DAY;
                }
                if now - start < last {
                    bad_lines.push(*line);
                    continue;
                }
                now - start
            }
        };
        last = at_s;
        rows_s.push(at_s);
        for (idx, one) in series.iter_mut().enumerate() {
            let cell = cells.get(idx).map_or("", String::as_str);
            if let Some((value, unit)) = number(cell, decimal) {
                if one.unit.is_empty() {
                    unit.clone_into(&mut one.unit);
                }
                one.samples.push(Sample { at_s, value });
            } else if !cell.is_empty() {
                let (line, cell) = (*line, cell.to_owned());
                dropped.push((idx, Dropped { series: 0, line, cell }));
            }
        }
    }
    let mut kept: Vec<Series> = Vec::new();
    let mut kept_cells = Vec::new();
    let mut left_out = Vec::new();
    for (idx, one) in series.into_iter().enumerate() {
        let empty = data
            .iter()
            .all(|(_, cells)| cells.get(idx).is_none_or(String::is_empty));
        if Some(idx) == time_idx || (one.samples.is_empty() && empty && one.name.starts_with("column ")) {
            continue;
        }
        if one.samples.is_empty() {
            left_out.push(one.name);
        } else {
            let own = dropped.iter().filter(|(of, _)| *of == idx);
            let series = kept.len();
            kept_cells.extend(own.map(|(_, one)| Dropped { series, ..one.clone() }));
            kept.push(one);
        }
    }
    Log {
        series: kept,
        rows_s,
        time: time_idx.map(|idx| columns[idx].name.clone()),
        delimiter,
        decimal,
        left_out,
        dropped: kept_cells,
        bad_lines,
    }
}
