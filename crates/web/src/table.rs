//! A table of readings pasted from any tool: which column is which value of the circuit, what is odd, the readings it makes.

use codes::log;
use diagnosis::contradictions;
use job::logged::{comparable, matched, of_other_unit};
use serde::{Deserialize, Serialize};

use crate::desk::Desk;
use crate::problem::Problem;
use crate::words;

/// A pasted table holds no more than this: an hour of twenty values a second.
pub(crate) const TABLE_BYTES: usize = 4 * 1024 * 1024;

/// What was pasted.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct TableQuery {
    /// The table.
    text: String,
    /// How the vehicle stood.
    set_up: String,
}

/// What it is.
#[derive(Debug, Serialize)]
pub(crate) struct TableView {
    /// Columns that are values of the circuit's modules.
    rows: Vec<TableRow>,
    /// Names of the other columns.
    others: Vec<String>,
    /// What of the table was passed over, and why.
    passed_over: Vec<String>,
    /// What is odd in the table, and what contradicts what.
    said: Vec<String>,
}

/// A column as a reading.
#[derive(Debug, Serialize)]
struct TableRow {
    column: String,
    words: String,
    test: String,
    /// `None` where its module can show nothing of it: it is no reading.
    shown: Option<String>,
    /// What is odd about it, with the reason.
    odd: Vec<String>,
}

pub(crate) fn table(desk: &Desk, query: &TableQuery) -> Result<TableView, Problem> {
    let circuit = &*desk.circuit;
    let set_up = job::state::set_up_of(circuit, &query.set_up)
        .map_err(|why| Problem::unclear(why, "Set how the vehicle stood, then paste again."))?;
    let read = log::read(query.text.as_bytes()).map_err(|error| {
        Problem::unclear(
            error.to_string(),
            "Paste a table with a line of names above the numbers: Name (unit), then values.",
        )
    })?;
    let found = matched(circuit, &read, &[]);
    let shown = comparable(circuit, &found);
    let against = contradictions(&desk.bench, circuit, &set_up, &shown)
        .map_err(|error| Problem::unclear(error.to_string(), "Set how the vehicle stood, then paste again."))?;
    let rows = found.iter().map(|one| TableRow {
        column: read.series[one.series].name.clone(),
        words: circuit.channels[one.channel.idx()].words.clone(),
        test: one.placement().to_text(circuit),
        shown: one.shown(circuit).map(|shown| shown.to_text(&one.placement(), circuit)),
        odd: one.odd.iter().map(|odd| one.words(circuit, odd)).collect(),
    });
    let is_other = |at: &usize| !found.iter().any(|one| one.series == *at);
    // What is odd about a column of the circuit has been told by what its module can show.
    let known = log::known_pids();
    let recognised = log::recognise(&read.series, &known);
    let mut odd = log::findings(&read, &known, &recognised);
    let by_range = |what: &log::What| matches!(what, log::What::AtEnd { .. } | log::What::Beyond { .. });
    odd.retain(|one| !by_range(&one.what) || one.series.is_none_or(|at| is_other(&at)));
    let mut passed_over = of_other_unit(circuit, &read, &[], &found);
    passed_over.extend(read.passed_over());
    Ok(TableView {
        passed_over,
        rows: rows.collect(),
        others: (0..read.series.len())
            .filter(is_other)
            .map(|at| read.series[at].name.clone())
            .collect(),
        said: (odd.iter().map(|one| one.words(&read)))
            .chain(against.iter().map(|one| words::contradiction(circuit, one)))
            .collect(),
    })
}
