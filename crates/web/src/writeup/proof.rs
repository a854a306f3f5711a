//! A repair on trial as blocks: what was to be read, within which band, what was read; and sensors from end to end.

use bench::{Placement, Test};
use diagnosis::{ProofReading, Sweep, SweepStep};
use report::Block;

use super::account::Account;
use super::blocks::table;
use super::cause::sure;
use crate::words;
use crate::words::proof as said;

/// What may still be wrong is named from this chance.
const NAMED: f64 = 0.005;
const MOST_NAMED: usize = 5;

fn read(account: &Account<'_>, test: &Test) -> Option<String> {
    let reading = account.read_since(test)?;
    Some(words::shown(account.of.circuit, &test.placement, &reading.shown))
}

fn standing(reading: &ProofReading) -> &'static str {
    match reading.read {
        None => "not taken",
        Some(true) => "within",
        Some(false) => "OUTSIDE",
    }
}

/// The readings that prove the repair, with what each can tell where `telling`.
pub(super) fn readings(account: &Account<'_>, telling: bool) -> Option<Block> {
    let circuit = account.of.circuit;
    let proof = account.proof.as_ref()?;
    let rows = proof.readings.iter().map(|reading| {
        let mut row = vec![
            words::capital(&said::what(circuit, reading)),
            words::set_up(circuit, &reading.test.set_up),
            said::band(circuit, reading),
            read(account, &reading.test).unwrap_or_else(|| "–".into()),
            standing(reading).to_owned(),
        ];
        row.extend(telling.then(|| words::capital(&said::telling(circuit, reading))));
        row
    });
    let mut columns = vec![
        ("What", 2.0),
        ("Set-up", 1.9),
        ("Must read", 1.2),
        ("Read", 0.9),
        ("Stands", 0.9),
    ];
    columns.extend(telling.then_some(("What it can tell", 2.0)));
    table(&columns, rows.collect())
}

/// What may still be wrong, with its chance: in words, likeliest first.
pub(super) fn left(account: &Account<'_>) -> Vec<(String, f64)> {
    let Some(proof) = &account.proof else { return Vec::new() };
    let named = proof.left.iter().filter(|one| one.1.now >= NAMED).take(MOST_NAMED);
    let mut left: Vec<(String, f64)> = named
        .map(|(fault, chance)| (said::left(&account.of.faults[fault.idx()]), chance.now))
        .collect();
    if proof.outside.now >= NAMED {
        left.push(("Something that is not in this circuit".into(), proof.outside.now));
    }
    left.sort_by(|a, b| b.1.total_cmp(&a.1));
    left
}

/// What may still be wrong as a table.
pub(super) fn left_table(account: &Account<'_>) -> Option<Block> {
    let rows = left(account).into_iter().map(|(what, chance)| vec![what, sure(chance)]);
    table(&[("What may still be wrong", 6.0), ("Chance", 1.0)], rows.collect())
}

/// Each sensor from end to end, what it should show on the way and what was read since the repair: its name and its table.
pub(super) fn sweeps(account: &Account<'_>) -> Vec<(String, Block)> {
    let each = account.sweeps.iter().filter_map(|sweep| {
        let words = words::capital(&said::swept(account.of.circuit, sweep));
        Some((words, sweep_table(account, sweep)?))
    });
    each.collect()
}

fn sweep_table(account: &Account<'_>, sweep: &Sweep) -> Option<Block> {
    let circuit = account.of.circuit;
    let black = circuit.battery_minus;
    let signal = Placement::Voltmeter {
        red: sweep.signal,
        black,
    };
    let scan = sweep.channel.map(|channel| Placement::Scan { channel });
    let read_at = |placement: &Placement, step: &SweepStep| {
        let test = Test {
            placement: placement.clone(),
            set_up: step.set_up.clone(),
        };
        read(account, &test)
    };
    let taken = |step: &SweepStep| -> String {
        let all = [Some(&signal), scan.as_ref()];
        let read: Vec<String> = all.into_iter().flatten().filter_map(|one| read_at(one, step)).collect();
        read.join("; ")
    };
    let any_read = sweep.steps.iter().any(|step| !taken(step).is_empty());
    let rows = sweep.steps.iter().map(|step| {
        let mut row = vec![said::step(circuit, sweep, step), said::volts(step)];
        row.extend(sweep.reference.map(|_| said::ratio(step).unwrap_or_default()));
        row.extend(
            sweep
                .channel
                .map(|_| said::scan(circuit, sweep, step).unwrap_or_default()),
        );
        row.extend(any_read.then(|| taken(step)));
        row
    });
    let mut columns = vec![("At", 0.7), ("Signal", 1.2)];
    columns.extend(sweep.reference.map(|_| ("Of the reference", 1.2)));
    columns.extend(sweep.channel.map(|_| ("Scan data", 3.0)));
    columns.extend(any_read.then_some(("Read since the repair", 1.4)));
    table(&columns, rows.collect())
}
