//! For who pays: what was wrong, where, how it was found and proved, what was done, what to mind, and what it cost.

use diagnosis::ProofStanding;
use report::{Block, Document};

use super::account::{Account, Stage};
use super::blocks::{count, heading, list, paragraph, sound, unfinished, vehicle};
use super::cause::{self, sure};
use super::codes::{self, Story};
use super::when::Clock;
use super::{log, proof, tally};
use crate::words;
use crate::words::proof as said;

/// Readings named as those that told most.
const NAMED: usize = 3;
/// Other causes are named from this chance while nothing is proved.
const ALSO: f64 = 0.05;
/// Share of what may still be there that comes and goes, from which that is told.
const HIDES: f64 = 0.3;
/// A part that was replaced is cleared below this chance.
const CLEARED: f64 = 0.05;

pub(super) fn document(account: &Account<'_>, clock: Clock) -> Document {
    let stories = codes::stories(account, clock);
    let title = account.title();
    let finished = unfinished(account).is_empty();
    let mut blocks = Vec::new();
    if !finished {
        blocks.push(Block::Callout("This job is not finished".into(), unfinished(account)));
    }
    blocks.push(vehicle(account, clock));
    blocks.extend(wrong(account));
    blocks.extend(found(account, &stories));
    blocks.extend(done(account, clock));
    blocks.extend(proved(account, &stories));
    blocks.extend(minded(account, &stories));
    blocks.extend(seen(account, &stories));
    blocks.push(heading("Time and cost"));
    blocks.extend(tally::blocks(account));
    blocks.push(heading("Every reading"));
    blocks.push(log::readings(account).unwrap_or_else(|| paragraph("Nothing was measured.")));
    Document {
        title: if finished {
            format!("{title}: what was wrong, and what was done")
        } else {
            format!("{title}: where the job stands")
        },
        subtitle: format!("For the customer, as of {}", clock.day(account.span().1)),
        language: "en".into(),
        blocks,
    }
}

/// What was wrong and where.
fn wrong(account: &Account<'_>) -> Vec<Block> {
    let (circuit, faults) = (account.of.circuit, account.of.faults);
    let proved = account.stage.is_finished();
    let mut blocks = vec![heading(if proved { "What was wrong" } else { "What may be wrong" })];
    if account.stage == Stage::Unread {
        blocks.push(paragraph("Nothing has been measured yet, so nothing can be said."));
        return blocks;
    }
    let Some(cause) = account.leader() else {
        blocks.push(paragraph(format!(
            "What was measured points outside the circuit that was examined ({}), with a chance of {}.",
            circuit.title,
            sure(account.findings.outside)
        )));
        return blocks;
    };
    let fault = &faults[cause.leader().idx()];
    let mut facts = vec![
        ("What".to_owned(), words::capital(&cause.words(faults))),
        ("Where exactly".into(), words::capital(&fault.place)),
    ];
    if cause.comes_and_goes {
        facts.push(("How it shows".into(), "It most likely comes and goes".into()));
    }
    facts.push(("Chance".into(), sure(cause.chance)));
    blocks.push(Block::Facts(facts));
    let others = account
        .causes
        .iter()
        .filter(|other| other.key != cause.key && other.chance >= ALSO);
    let mut others: Vec<(String, f64)> = others
        .map(|other| (words::capital(&other.words(faults)), other.chance))
        .collect();
    if account.findings.outside >= ALSO {
        others.push((
            "Something outside the circuit that was examined".into(),
            account.findings.outside,
        ));
    }
    if !proved && !others.is_empty() {
        blocks.push(paragraph("It may also be:"));
        let each = others.iter().map(|(what, chance)| format!("{what}: {}", sure(*chance)));
        blocks.extend(list(each.collect()));
    }
    let cleared = cause::replaced(circuit, &account.causes, faults, &account.state.replaced)
        .into_iter()
        .filter(|(part, blame)| *blame < CLEARED && !cause.is_at(faults, *part))
        .map(|(part, blame)| {
            let name = circuit.parts[part.idx()].called();
            format!(
                "{}, replaced before, is most likely not to blame (chance that it is: {}).",
                words::capital(name),
                sure(blame)
            )
        });
    blocks.extend(list(cleared.collect()));
    blocks
}

/// How it was found: what was read, and what told most.
fn found(account: &Account<'_>, stories: &[Story]) -> Vec<Block> {
    let circuit = account.of.circuit;
    let n_before = account.n_before_repair();
    let before = &account.facts.readings[..n_before];
    let measured = before.iter().filter(|reading| !log::is_code(reading)).count();
    let mut set_ups: Vec<&circuit::SetUp> = before.iter().map(|reading| &reading.test.set_up).collect();
    set_ups.sort_by_key(|set_up| set_up.to_text(circuit));
    set_ups.dedup();
    let finished = account.stage.is_finished();
    let mut blocks = vec![heading(if finished {
        "How it was found"
    } else {
        "What was measured"
    })];
    if before.is_empty() {
        blocks.push(paragraph("Nothing was measured before the repair."));
        return blocks;
    }
    let codes = match stories.len() {
        0 => String::new(),
        n => format!("{} read and ", count(n, "trouble code was", "trouble codes were")),
    };
    let ways = match set_ups.len() {
        1 => String::new(),
        n => format!(", with the vehicle set up in {n} different ways"),
    };
    blocks.push(paragraph(words::capital(&format!(
        "{codes}{} taken{ways}.",
        count(measured, "measurement was", "measurements were"),
    ))));
    let mut telling: Vec<(usize, f64)> = (0..n_before).map(|at| (at, account.bits(at))).collect();
    telling.retain(|(_, bits)| words::leaning(*bits) > 0);
    telling.sort_by(|a, b| b.1.total_cmp(&a.1));
    telling.truncate(NAMED);
    if telling.is_empty() {
        return blocks;
    }
    blocks.push(paragraph(if finished {
        "These spoke most clearly for what was wrong:"
    } else {
        "These speak most clearly for what is likeliest:"
    }));
    let each = telling.iter().map(|(at, _)| {
        let reading = &before[*at];
        let place = &reading.test.placement;
        format!(
            "{} ({}) showed {}; in a sound vehicle: {}.",
            words::capital(&words::placement(circuit, place)),
            words::set_up_short(circuit, &reading.test.set_up),
            words::shown(circuit, place, &reading.shown),
            sound(account, *at, reading)
        )
    });
    blocks.extend(list(each.collect()));
    blocks
}

/// What was done, in order.
fn done(account: &Account<'_>, clock: Clock) -> Vec<Block> {
    let acts = account.state.acts.iter().filter_map(|act| {
        let words = log::told(account, &act.event)?;
        Some(format!("{}: {words}", clock.time(act.at_ms)))
    });
    let done = list(acts.collect());
    let nothing = || paragraph("Nothing was repaired or changed.");
    vec![heading("What was done"), done.unwrap_or_else(nothing)]
}

/// How the repair was proved, and the codes.
fn proved(account: &Account<'_>, stories: &[Story]) -> Vec<Block> {
    let finished = account.stage.is_finished();
    let mut blocks = vec![heading(if finished {
        "How the repair was proved"
    } else {
        "Proof of the repair"
    })];
    match (account.stage, &account.proof) {
        (Stage::OnTrial(_), Some(proof)) => {
            blocks.push(paragraph(said::headline(proof)));
            blocks.extend(proof::readings(account, false));
        }
        (Stage::Unnamed, _) => blocks.push(paragraph("What was repaired is not known, so nothing is proved.")),
        _ => blocks.push(paragraph("Nothing was repaired, so there is nothing to prove.")),
    }
    let codes = codes::table_of(stories);
    if let Some(codes) = codes {
        blocks.push(Block::Subheading("Trouble codes".into()));
        blocks.push(codes);
    }
    blocks
}

/// What to mind from here on.
fn minded(account: &Account<'_>, stories: &[Story]) -> Vec<Block> {
    let mut told = Vec::new();
    if let (Stage::OnTrial(standing), Some(proof)) = (account.stage, &account.proof) {
        let left = proof::left(account);
        let named: Vec<String> = left
            .iter()
            .map(|(what, chance)| format!("{what} ({})", sure(*chance)))
            .collect();
        if standing != ProofStanding::Refuted && !named.is_empty() {
            told.push(format!("What may still be wrong: {}.", named.join("; ")));
        }
        if proof.hides > HIDES {
            told.push("What may still be there comes and goes: come back when it shows again.".into());
        }
    }
    for story in stories.iter().filter(|story| story.is_back) {
        told.push(format!("Code {} {}.", story.code, story.since));
    }
    if account.state.water {
        told.push("Water came in. Where it came from is not among what was measured here.".into());
    }
    told.push(format!("Only this was examined: {}.", account.of.circuit.title));
    let mut blocks = vec![heading("Please mind")];
    blocks.extend(list(told));
    blocks
}

/// What else was seen.
fn seen(account: &Account<'_>, stories: &[Story]) -> Vec<Block> {
    let circuit = account.of.circuit;
    let mut told: Vec<String> = Vec::new();
    for act in &account.state.acts {
        let job::Did::Looked { at, damaged: true } = act.did else {
            continue;
        };
        if !account.leader().is_some_and(|cause| cause.is_at(account.of.faults, at)) {
            told.push(format!("Damage was seen at {}.", circuit.parts[at.idx()].called()));
        }
    }
    for story in stories.iter().filter(|story| !story.is_weighed) {
        told.push(format!(
            "Code {} ({}) was {}: it does not belong to what was examined here, and was not followed.",
            story.code, story.what, story.found
        ));
    }
    let nothing = || paragraph("Nothing else was noted.");
    vec![heading("What else was seen"), list(told).unwrap_or_else(nothing)]
}
