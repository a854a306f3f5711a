//! A new job: which circuits the trouble codes and words ask for, and what the job begins with.

mod checks;
mod derive;

use std::cmp::Reverse;

use circuit::archetype::{combine, find, words_in_common};
use circuit::{Archetype, ArchetypeError, Changed, Circuit};
use codes::code::table;
use codes::code::{Found, TroubleCode, Typed, read, read_found};

use crate::event::{Event, What};

pub use checks::with_checks;

/// A ready-made circuit that something typed at intake asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer<'a> {
    /// The circuit.
    pub archetype: &'a Archetype,
    /// What asks for it, in plain words: `P0122 (throttle position sensor A)`.
    pub because: Vec<String>,
}

/// How many circuits one code or text may ask for.
const MOST: usize = 4;

/// The circuits that trouble codes and words ask for, those that most of them ask for first.
pub fn offers<'a>(all: &'a [Archetype], typed: &[String]) -> Vec<Offer<'a>> {
    let mut offers: Vec<Offer<'a>> = Vec::new();
    for text in typed.iter().map(|text| text.trim()).filter(|text| !text.is_empty()) {
        let entry = read(text)
            .ok()
            .and_then(|typed| Some((typed.code, table::find(typed.code)?)));
        let (words, because) = match entry {
            Some((code, entry)) => (entry.name(), format!("{code} ({})", entry.name())),
            None => (text.to_owned(), text.to_owned()),
        };
        for archetype in find(all, &words).into_iter().take(MOST) {
            match offers.iter_mut().find(|offer| offer.archetype.name == archetype.name) {
                Some(offer) if !offer.because.contains(&because) => offer.because.push(because.clone()),
                Some(_) => {}
                None => offers.push(Offer {
                    archetype,
                    because: vec![because.clone()],
                }),
            }
        }
    }
    // A stable order: what was typed first stays first among equals.
    offers.sort_by_key(|offer| Reverse(offer.because.len()));
    offers
}

/// How well a circuit of the library fits: words of its group in what the vehicle is called, then words of its name and title in
/// what is wrong. More is better; `None` if nothing of it was typed.
pub fn fit(group: &str, name_and_title: &str, vehicle: &str, wrong: &str) -> Option<[usize; 2]> {
    // A search that names the vehicle among the rest is as good.
    let all = format!("{vehicle} {wrong}");
    let fit = [words_in_common(group, &all), words_in_common(name_and_title, &all)];
    (fit != [0, 0]).then_some(fit)
}

/// One circuit of those that were chosen. A code that says low, high or the like takes the place of the check that the circuit
/// has for that: circuits of one kind differ in the numbers of their codes.
///
/// # Errors
/// [`ArchetypeError`] where several cannot be one.
pub fn made(chosen: &[&Archetype], codes: &[TroubleCode]) -> Result<Changed, ArchetypeError> {
    let mut told = Vec::new();
    let mut circuits: Vec<Archetype> = chosen.iter().map(|one| (*one).clone()).collect();
    for entry in codes.iter().filter_map(|code| table::find(*code)) {
        told.extend(checks::take_place(&mut circuits, entry, codes));
    }
    let whole = if let [one] = circuits.as_slice() {
        one.clone()
    } else {
        let texts: Vec<(&str, &str)> = circuits
            .iter()
            .map(|one| (one.name.as_str(), one.text.as_str()))
            .collect();
        let whole = combine(&texts)?;
        told.extend(whole.told);
        whole.archetype
    };
    let (text, assumed) = with_checks(&whole.text, codes, &mut |text| circuit::parse(text).ok());
    told.extend(assumed);
    Ok(Changed {
        archetype: Archetype { text, ..whole },
        told,
    })
}

/// What a job begins with.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct NewJob {
    /// Its title.
    pub title: String,
    /// The customer's words.
    pub complaint: String,
    /// The vehicle's number as it was typed; may be empty.
    pub vin: String,
    /// The circuit file.
    pub circuit: String,
    /// Trouble codes with their states, as they were typed; may be empty.
    pub codes: String,
}

impl NewJob {
    /// The events: the job is opened with a check for each code that has none and fits a pin, each code is noted as it was found,
    /// and what was typed among the codes and is none becomes a note.
    pub fn events(self, device: &str, now_ms: u64) -> Vec<Event> {
        let found = read_found(&self.codes);
        let (text, assumed) = with_checks(&self.circuit, &codes_of(&found), &mut |text| circuit::parse(text).ok());
        let circuit = circuit::parse(&text).ok();
        let codes = found.iter().map(|one| match &one.typed {
            Ok(typed) => noted(circuit.as_ref(), one, *typed),
            Err(_) => What::Note {
                words: format!("typed as a trouble code: {}", one.text),
            },
        });
        // What is not weighed is told with its code.
        let assumed = assumed
            .into_iter()
            .filter(|_| text != self.circuit)
            .map(|words| What::Note { words });
        let beside: Vec<What> = codes.chain(assumed).collect();
        let opened = What::Opened {
            title: self.title,
            complaint: self.complaint,
            vin: self.vin,
            circuit: text,
        };
        let event = |(sequence, what): (u64, What)| Event {
            id: format!("begun-{now_ms}-{sequence}"),
            device: device.to_owned(),
            sequence,
            at_ms: now_ms,
            what,
        };
        (1..).zip(std::iter::once(opened).chain(beside)).map(event).collect()
    }
}

/// Those that are codes.
pub fn codes_of(found: &[Found]) -> Vec<TroubleCode> {
    found
        .iter()
        .filter_map(|one| Some(one.typed.as_ref().ok()?.code))
        .collect()
}

/// A code as it was found, in a set-up in which its check runs.
pub fn noted(circuit: Option<&Circuit>, found: &Found, typed: Typed) -> What {
    let code = typed.code.to_string();
    let monitor = circuit.and_then(|circuit| Some((circuit, circuit.monitors.iter().find(|one| one.code == code)?)));
    let runs = monitor.and_then(|(circuit, monitor)| Some(checks::runs(circuit, monitor)?.to_text(circuit)));
    What::Code {
        set_up: runs.unwrap_or_else(|| "key on".to_owned()),
        // The circuit knows the code without its failure type.
        code: if monitor.is_some() { code } else { typed.to_text() },
        state: found.state.word().to_owned(),
        seen: found.seen.clone(),
    }
}

#[cfg(test)]
mod tests;
