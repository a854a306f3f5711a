//! For who sees the vehicle next: circuit, every reading with its set-up, how the suspects moved, proof, codes and cost.

use diagnosis::cautions_of;
use report::{Block, Document};

use super::account::{Account, Stage};
use super::blocks::{count, heading, list, paragraph, table, unfinished, vehicle};
use super::cause::sure;
use super::when::Clock;
use super::{codes, log, proof, tally};
use crate::words;
use crate::words::proof as said;

/// Members of a cause, and other causes, are listed from this chance.
const LISTED: f64 = 0.005;
const MOST_LISTED: usize = 8;

pub(super) fn document(account: &Account<'_>, clock: Clock) -> Document {
    let stories = codes::stories(account, clock);
    let title = account.title();
    let unfinished = unfinished(account);
    let mut blocks = Vec::new();
    if !unfinished.is_empty() {
        blocks.push(Block::Callout("This job is not finished".into(), unfinished));
    }
    blocks.push(vehicle(account, clock));
    blocks.extend(cause(account));
    blocks.extend(proved(account));
    blocks.push(heading("Trouble codes"));
    blocks.push(codes::table_of(&stories).unwrap_or_else(|| paragraph("No code was read.")));
    blocks.extend(circuit(account));
    blocks.push(heading("Everything that was read and done"));
    blocks.push(paragraph(format!(
        "In the order of the job, times in {}. A reading that was taken back stays in the list and did not count.",
        clock.zone()
    )));
    blocks.push(log::log(account, clock).unwrap_or_else(|| paragraph("Nothing was read or done.")));
    blocks.extend(moved(account));
    blocks.extend(swept(account));
    blocks.push(heading("Time and parts"));
    blocks.extend(tally::blocks(account));
    Document {
        title: format!("{title}: the job for the file"),
        subtitle: format!("For the technician, as of {}", clock.day(account.span().1)),
        language: "en".into(),
        blocks,
    }
}

/// The cause, its place, what it would do and what else is left.
fn cause(account: &Account<'_>) -> Vec<Block> {
    let faults = account.of.faults;
    let proved = account.stage.is_finished();
    let mut blocks = vec![heading(if proved { "What was wrong" } else { "What is left" })];
    if let Some(cause) = account.leader().filter(|_| account.stage != Stage::Unread) {
        let fault = &faults[cause.leader().idx()];
        let mut facts = vec![
            ("Cause", words::capital(&cause.words(faults))),
            ("Where", words::capital(&fault.place)),
            ("Parts", words::parts(account.of.circuit, fault)),
            ("Name in the circuit", fault.path.clone()),
            ("Chance", sure(cause.chance)),
        ];
        facts.extend(cause.severity(faults).map(|severity| ("How severe", severity)));
        if cause.comes_and_goes {
            facts.push(("How it shows", "most likely comes and goes".into()));
        }
        facts.push((
            "Repair",
            format!("{} ({})", words::capital(&fault.repair.words), words::cost(fault)),
        ));
        blocks.push(Block::Facts(
            facts.into_iter().map(|(name, said)| (name.to_owned(), said)).collect(),
        ));
    }
    let members = account.causes.iter().flat_map(|cause| &cause.members);
    let mut all: Vec<(String, f64, String)> = members
        .filter(|(_, chance)| *chance >= LISTED)
        .map(|(fault, chance)| {
            let fault = &faults[fault.idx()];
            (
                format!("{}, {}", words::capital(&fault.what), fault.place),
                *chance,
                fault.path.clone(),
            )
        })
        .collect();
    if account.findings.outside >= LISTED {
        all.push((
            "Something that is not in this circuit".into(),
            account.findings.outside,
            String::new(),
        ));
    }
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    let more = all.len().saturating_sub(MOST_LISTED);
    all.truncate(MOST_LISTED);
    let rows = all
        .into_iter()
        .map(|(what, chance, path)| vec![what, path, sure(chance)]);
    blocks.extend(table(
        &[
            ("Weighed by all readings", 4.0),
            ("Name in the circuit", 2.0),
            ("Chance", 0.9),
        ],
        rows.collect(),
    ));
    if more > 0 {
        blocks.push(paragraph(format!("{more} more, each less likely than these.")));
    }
    blocks
}

/// The repair on trial.
fn proved(account: &Account<'_>) -> Vec<Block> {
    let mut blocks = vec![heading("Proof of the repair")];
    match (account.stage, &account.proof) {
        (Stage::OnTrial(_), Some(proof)) => {
            let repairs: Vec<String> = account
                .state
                .repairs
                .iter()
                .map(|repair| words::capital(&repair.1))
                .collect();
            blocks.extend(list(repairs));
            blocks.push(paragraph(said::headline(proof)));
            blocks.extend(proof::readings(account, true));
            blocks.extend(proof::left_table(account));
        }
        (Stage::Unnamed, _) => blocks.push(paragraph(
            "The repair noted names no fault of this circuit: no reading since can be held against it.",
        )),
        _ => blocks.push(paragraph("Nothing was repaired, so there is nothing to prove.")),
    }
    blocks
}

/// The circuit: its picture, its wires, and what to beware of with it.
fn circuit(account: &Account<'_>) -> Vec<Block> {
    let circuit = account.of.circuit;
    let mut blocks = vec![heading("The circuit")];
    let of = if circuit.vehicle.is_empty() {
        String::new()
    } else {
        format!(", {}", circuit.vehicle)
    };
    blocks.push(paragraph(format!(
        "{}{of}: {}, {}, {}; {} can break.",
        circuit.title,
        count(
            circuit.modules.len() + circuit.devices.len(),
            "module or device",
            "modules and devices"
        ),
        count(circuit.connectors.len(), "connector", "connectors"),
        count(circuit.wires.len(), "wire", "wires"),
        count(account.of.faults.len(), "thing", "things"),
    )));
    let tests: Vec<bench::Test> = account
        .facts
        .readings
        .iter()
        .map(|reading| reading.test.clone())
        .collect();
    let mut beware = account.of.cautions.to_vec();
    for caution in cautions_of(circuit, &tests) {
        if !beware.contains(&caution) {
            beware.push(caution);
        }
    }
    if !beware.is_empty() {
        blocks.push(Block::Callout("What applied to these readings".into(), beware));
    }
    blocks.push(Block::Figure(account.pictures.wiring.clone()));
    let end = |point: &circuit::PointId| words::point(circuit, *point).to_owned();
    let rows = circuit.wires.iter().map(|wire| {
        let part = &circuit.parts[wire.part.idx()];
        let tracer = wire
            .tracer
            .as_ref()
            .map(|tracer| format!("/{tracer}"))
            .unwrap_or_default();
        vec![
            part.id.clone(),
            format!("{}{tracer}", wire.colour),
            end(&wire.ends[0]),
            end(&wire.ends[1]),
            format!("{:.1} m, {} mm²", wire.length, wire.area),
        ]
    });
    blocks.extend(table(
        &[
            ("Wire", 0.8),
            ("Colour", 1.2),
            ("From", 2.2),
            ("To", 2.2),
            ("Size", 1.3),
        ],
        rows.collect(),
    ));
    blocks
}

/// How the suspects moved, with the staircases.
fn moved(account: &Account<'_>) -> Vec<Block> {
    let mut blocks = vec![heading("How the suspects moved")];
    blocks.push(paragraph(
        "Chances after each step, faults that one repair cures as one:",
    ));
    blocks.push(account.trail.legend());
    blocks.extend(account.trail.table());
    let entries = account.facts.readings.iter();
    blocks.extend(words::codes_share(account.of.circuit, entries).map(paragraph));
    blocks.extend(list(words::notes(account.of.circuit, &account.findings)));
    if !account.pictures.stairs.is_empty() {
        blocks.push(Block::Subheading("Voltage along the wire".into()));
        blocks.extend(account.pictures.stairs.iter().cloned().map(Block::Figure));
    }
    blocks
}

/// Sensors from end to end.
fn swept(account: &Account<'_>) -> Vec<Block> {
    let sweeps = proof::sweeps(account);
    if sweeps.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![heading("Sensors from end to end")];
    blocks.push(paragraph("What a sound circuit shows on the way, 99 of 100 vehicles:"));
    for (words, table) in sweeps {
        blocks.push(Block::Subheading(words));
        blocks.push(table);
    }
    blocks
}
