//! Tables of readings and logs as any tool writes them: columns to series, what each series is, and what is odd about it.
//!
//! - [`read()`] finds delimiter, decimal mark, header, units and time column by itself;
//! - [`recognise`] says which known value a series is, by its name and unit;
//! - [`findings`] points out what a sound vehicle and a sound tool would not log.

mod downwards;
mod finding;
mod known;
mod number;
mod read;
mod unit;

pub use finding::{Finding, What, findings};
pub use known::{Known, Recognised, known_pids, recognise, taken_for};
pub use number::Decimal;
pub use read::{LogError, read};

/// Of a cell that is passed over so many letters are shown.
const SHOWN_LETTERS: usize = 20;

/// One value of a series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Seconds since the first row; the number of the row, from 0, where the table has no times.
    pub at_s: f64,
    /// In the series' unit.
    pub value: f64,
}

/// A column of numbers. Cells without a number are left out of the samples.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// As the table names it, without the unit.
    pub name: String,
    /// As the table writes it; empty if it does not.
    pub unit: String,
    /// In the order of the rows.
    pub samples: Vec<Sample>,
}

/// A cell that holds something else than a number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dropped {
    /// Position of its series in the log.
    pub series: usize,
    /// Its line, counted from 1; 0 where the table was listed downwards.
    pub line: u64,
    /// What it holds.
    pub cell: String,
}

/// A table that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Log {
    /// Its columns of numbers, the times left out.
    pub series: Vec<Series>,
    /// Of each row, as in [`Sample::at_s`].
    pub rows_s: Vec<f64>,
    /// The name of the column of times, if there is one.
    pub time: Option<String>,
    /// What stands between the columns.
    pub delimiter: char,
    /// What stands before the decimals.
    pub decimal: Decimal,
    /// Columns that hold no numbers.
    pub left_out: Vec<String>,
    /// Cells that hold no number, in columns that else do.
    pub dropped: Vec<Dropped>,
    /// Lines, counted from 1, whose time cannot be read or goes back; their values are left out.
    pub bad_lines: Vec<u64>,
}

impl Log {
    /// From the first row to the last, where the table has times.
    pub fn seconds(&self) -> Option<f64> {
        self.time.as_ref()?;
        Some(self.rows_s.last()? - self.rows_s.first()?)
    }

    /// What of the table was passed over, and why: a sentence each.
    pub fn passed_over(&self) -> Vec<String> {
        let mut said = Vec::new();
        if !self.left_out.is_empty() {
            said.push(format!("No numbers: {}.", self.left_out.join(", ")));
        }
        for (idx, series) in self.series.iter().enumerate() {
            let own: Vec<&Dropped> = self.dropped.iter().filter(|one| one.series == idx).collect();
            let [first, rest @ ..] = own.as_slice() else { continue };
            let cell: String = first.cell.chars().take(SHOWN_LETTERS).collect();
            let place = if first.line > 0 {
                format!(" in line {}", first.line)
            } else {
                String::new()
            };
            let others = match rest.len() {
                0 => String::new(),
                1 => " and another cell".to_owned(),
                n => format!(" and {n} other cells"),
            };
            said.push(format!(
                "{}: `{cell}`{place}{others}: no number, left out.",
                series.name
            ));
        }
        if let [first, rest @ ..] = self.bad_lines.as_slice() {
            let lines = if rest.is_empty() {
                "1 line".to_owned()
            } else {
                format!("{} lines", rest.len() + 1)
            };
            said.push(format!(
                "Left out {lines} whose time cannot be read or goes back, the first is line {first}."
            ));
        }
        said
    }
}
