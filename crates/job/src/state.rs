//! What the events add up to.

use std::collections::{BTreeMap, BTreeSet};

use bench::{Placement, Reading, Test};
use circuit::{Circuit, PartId, SetUp};

use crate::deed::{Act, Did, parse_did, part};
use crate::event::{About, Event, What};
use crate::standing::{Standing, standing};

/// A reading and the event that brought it.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Id of the event.
    pub event: String,
    /// Milliseconds since 1970.
    pub at_ms: u64,
    /// The reading.
    pub reading: Reading,
    /// Of a code: when it was seen, in whatever words; else empty.
    pub seen: String,
}

/// Something that was written down and says nothing of this circuit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// Id of the event.
    pub event: String,
    /// Milliseconds since 1970.
    pub at_ms: u64,
    /// What it says.
    pub said: Said,
}

/// What a remark says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Said {
    /// A person's words.
    Note(String),
    /// A code that no monitor of this circuit knows, its state, and when it was seen; that may be empty.
    Code(String, String, String),
}

/// A photo of the vehicle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    /// Id of the event.
    pub event: String,
    /// Milliseconds since 1970.
    pub at_ms: u64,
    /// Name of its file.
    pub file: String,
    /// What it shows; may be empty.
    pub words: String,
}

/// An event that cannot be understood with this circuit. It stays in the job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Id of the event.
    pub event: String,
    /// Why, in plain words.
    pub why: String,
}

/// A job as it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct State {
    /// Title.
    pub title: String,
    /// The customer's words.
    pub complaint: String,
    /// The vehicle's identification number as it was typed; may be empty.
    pub vin: String,
    /// Parts replaced in vain.
    pub replaced: Vec<PartId>,
    /// Parts lately disturbed.
    pub disturbed: Vec<PartId>,
    /// Accessories fitted later, or parts at which one was.
    pub accessories: Vec<PartId>,
    /// Water came in.
    pub water: bool,
    /// There was an accident.
    pub accident: bool,
    /// Whether the complaint comes and goes, where that was said.
    pub comes_and_goes: Option<bool>,
    /// What the customer has agreed to, in the shop's money, where a limit was set.
    pub authorised: Option<f64>,
    /// Readings and codes on the vehicle as it came, in order.
    pub readings: Vec<Entry>,
    /// Readings since the last repair; they judge it.
    pub after_repair: Vec<Entry>,
    /// Readings of a sound vehicle of the same kind, in order.
    pub twin: Vec<Entry>,
    /// What was done and looked at between the readings, repairs included, in order.
    pub acts: Vec<Act>,
    /// Changes of the set-up by themselves: (event, how the vehicle stood from then on).
    pub set_ups: Vec<(String, SetUp)>,
    /// How the vehicle stands: as last brought into a set-up or as at the last reading, whichever is later. `None` as long
    /// as neither happened.
    pub stands: Option<SetUp>,
    /// Repairs: (event, words, fault's stable name).
    pub repairs: Vec<(String, String, Option<String>)>,
    /// What was told at intake, in words; the customer's are `complaint`.
    pub told: BTreeMap<About, String>,
    /// Photos, in order.
    pub photos: Vec<Photo>,
    /// Notes, and codes that no monitor of this circuit knows, in order.
    pub remarks: Vec<Remark>,
    /// Where it stands, and since when: milliseconds since 1970.
    pub standing: (Standing, u64),
    /// Events taken back.
    pub undone: BTreeSet<String>,
    /// Events that cannot be understood.
    pub troubles: Vec<Trouble>,
}

impl State {
    /// All readings of this vehicle, in order.
    pub fn entries(&self) -> impl DoubleEndedIterator<Item = &Entry> {
        self.readings.iter().chain(&self.after_repair)
    }
}

/// Ids of the events that stand undone. An undo may itself be taken back; later events decide.
pub fn undone(events: &[Event]) -> BTreeSet<String> {
    let mut dead: BTreeMap<&str, bool> = BTreeMap::new();
    // From the last to the first: whether an undo counts is settled before what it takes back.
    for event in events.iter().rev() {
        if let What::Undo { event: target } = &event.what
            && !dead.get(event.id.as_str()).copied().unwrap_or(false)
        {
            dead.insert(target, true);
        }
    }
    dead.into_iter()
        .filter(|(_, dead)| *dead)
        .map(|(id, _)| id.to_owned())
        .collect()
}

/// What "undo" and "redo" would do next: the event that each would take back.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Steps {
    /// The last thing done that still stands.
    pub undo: Option<String>,
    /// The undo that would itself be taken back. Nothing once something new was done.
    pub redo: Option<String>,
}

/// Derives the steps. Opening the job cannot be undone.
pub fn steps(events: &[Event]) -> Steps {
    let mut done: Vec<&str> = Vec::new();
    // Undos that can be taken back, each with what it took back.
    let mut taken: Vec<(&str, &str)> = Vec::new();
    for event in events {
        match &event.what {
            What::Opened { .. } => {}
            What::Undo { event: target } => {
                if let Some(at) = taken.iter().position(|(undo, _)| undo == target) {
                    done.push(taken.remove(at).1);
                } else if let Some(at) = done.iter().position(|known| known == target) {
                    taken.push((&event.id, done.remove(at)));
                }
            }
            _ => {
                done.push(&event.id);
                taken.clear();
            }
        }
    }
    Steps {
        undo: done.last().map(|id| (*id).to_owned()),
        redo: taken.last().map(|(undo, _)| (*undo).to_owned()),
    }
}

/// Derives the state. Pure: equal events and circuit give an equal state.
pub fn derive(circuit: &Circuit, events: &[Event]) -> State {
    let undone = undone(events);
    let mut state = State {
        standing: standing(events, &undone),
        undone,
        ..State::default()
    };
    for event in events {
        if !state.undone.contains(&event.id)
            && let Err(why) = apply(circuit, event, &mut state)
        {
            state.troubles.push(Trouble {
                event: event.id.clone(),
                why,
            });
        }
    }
    state
}

fn apply(circuit: &Circuit, event: &Event, state: &mut State) -> Result<(), String> {
    match &event.what {
        What::Opened {
            title, complaint, vin, ..
        } => {
            state.title.clone_from(title);
            state.complaint.clone_from(complaint);
            state.vin.clone_from(vin);
        }
        What::Intake {
            replaced,
            disturbed,
            accessories,
            water,
            accident,
            comes_and_goes,
            authorised,
        } => {
            let authorised = authorised.map(agreed).transpose()?;
            state.replaced = parts(circuit, replaced)?;
            state.disturbed = parts(circuit, disturbed)?;
            state.accessories = parts(circuit, accessories)?;
            state.water = *water;
            state.accident = *accident;
            state.comes_and_goes = *comes_and_goes;
            state.authorised = authorised;
        }
        What::Told { about, words } => {
            if *about == About::Complaint {
                state.complaint.clone_from(words);
            } else if words.is_empty() {
                state.told.remove(about);
            } else {
                state.told.insert(*about, words.clone());
            }
        }
        What::Photo { file, words } => state.photos.push(Photo {
            event: event.id.clone(),
            at_ms: event.at_ms,
            file: file.clone(),
            words: words.clone(),
        }),
        What::SetUp { set_up } => {
            let set_up = set_up_of(circuit, set_up)?;
            state.set_ups.push((event.id.clone(), set_up.clone()));
            state.stands = Some(set_up);
        }
        What::Reading {
            set_up,
            test,
            shown,
            twin,
        } => {
            let entry = Entry {
                event: event.id.clone(),
                at_ms: event.at_ms,
                reading: reading(circuit, set_up, test, shown)?,
                seen: String::new(),
            };
            if *twin {
                state.twin.push(entry);
            } else {
                note_reading(state, entry);
            }
        }
        What::Did { did } => {
            let did = parse_did(circuit, did).map_err(|why| format!("`{did}`: {why}"))?;
            note_act(state, event, did);
        }
        What::Code {
            set_up,
            code,
            state: shown,
            seen,
        } => {
            if circuit
                .monitors
                .iter()
                .any(|monitor| monitor.code.eq_ignore_ascii_case(code))
            {
                let reading = reading(circuit, set_up, &format!("code {code}"), shown)?;
                note_reading(
                    state,
                    Entry {
                        event: event.id.clone(),
                        at_ms: event.at_ms,
                        reading,
                        seen: seen.clone(),
                    },
                );
            } else {
                set_up_of(circuit, set_up)?;
                note_remark(state, event, Said::Code(code.clone(), shown.clone(), seen.clone()));
            }
        }
        // These say where the job stands, and that is derived of all events at once.
        What::Undo { .. } | What::Waiting { .. } | What::Accepted {} => {}
        What::Repair { words, fault } => {
            state.repairs.push((event.id.clone(), words.clone(), fault.clone()));
            note_act(state, event, Did::Repaired(fault.clone()));
        }
        What::Note { words } => note_remark(state, event, Said::Note(words.clone())),
    }
    Ok(())
}

fn note_act(state: &mut State, event: &Event, did: Did) {
    state.acts.push(Act {
        event: event.id.clone(),
        at_ms: event.at_ms,
        after: state.readings.len() + state.after_repair.len(),
        did,
    });
}

fn note_remark(state: &mut State, event: &Event, said: Said) {
    state.remarks.push(Remark {
        event: event.id.clone(),
        at_ms: event.at_ms,
        said,
    });
}

fn note_reading(state: &mut State, entry: Entry) {
    state.stands = Some(entry.reading.test.set_up.clone());
    if state.repairs.is_empty() {
        state.readings.push(entry);
    } else {
        state.after_repair.push(entry);
    }
}

fn parts(circuit: &Circuit, ids: &[String]) -> Result<Vec<PartId>, String> {
    ids.iter().map(|id| part(circuit, id)).collect()
}

/// An amount of money that a customer may agree to.
///
/// # Errors
/// In plain words, where it is negative or no number.
pub fn agreed(amount: f64) -> Result<f64, String> {
    let fine = amount.is_finite() && amount >= 0.0;
    fine.then_some(amount)
        .ok_or_else(|| format!("the customer cannot have agreed to {amount}: an amount is 0 or more"))
}

/// Reads a set-up from its text form.
///
/// # Errors
/// In plain words: what is wrong, where, and what was expected.
pub fn set_up_of(circuit: &Circuit, text: &str) -> Result<SetUp, String> {
    circuit::parse_set_up(circuit, text).map_err(|error| format!("set-up `{text}`: {error}"))
}

/// Reads a reading from its three text forms.
///
/// # Errors
/// In plain words: which of the three is wrong, where, and what was expected.
pub fn reading(circuit: &Circuit, set_up: &str, test: &str, shown: &str) -> Result<Reading, String> {
    let set_up = set_up_of(circuit, set_up)?;
    let placement: Placement =
        bench::parse_placement(circuit, test).map_err(|error| format!("test `{test}`: {error}"))?;
    let shown = bench::parse_shown(shown, &placement, circuit).map_err(|error| format!("value `{shown}`: {error}"))?;
    Ok(Reading {
        test: Test { placement, set_up },
        shown,
    })
}
