//! Ready-made circuits that codes and words ask for.

use circuit::Archetype;
use circuit::archetype::find;

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
        let entry = codes::code::read(text)
            .ok()
            .and_then(|typed| Some((typed.code, codes::code::table::find(typed.code)?)));
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
    offers.sort_by_key(|offer| std::cmp::Reverse(offer.because.len()));
    offers
}
