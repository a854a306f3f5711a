//! Codes as they were found, each with its state: `P0335 pending, P0122-13 history (81 200 km)`.

use super::several::read_each;
use super::{CodeError, Typed};

/// How a code was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum State {
    /// Present now: what people mean who name a code and say no more.
    #[default]
    Present,
    /// Its check failed, not yet for as long or as often as it takes.
    Pending,
    /// Stored only: it was present once.
    History,
}

impl State {
    /// Each with the words that say so; the first is that of readings.
    const WORDS: [(Self, &'static [&'static str]); 3] = [
        (Self::Present, &["present", "now", "current", "active", "confirmed"]),
        (Self::Pending, &["pending"]),
        (Self::History, &["history", "historic", "stored", "past", "inactive"]),
    ];

    /// As readings write it: `present`, `pending`, `history`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Present => "present",
            Self::Pending => "pending",
            Self::History => "history",
        }
    }

    fn from_word(word: &str) -> Option<Self> {
        let says = |words: &[&str]| words.iter().any(|one| one.eq_ignore_ascii_case(word));
        let found = Self::WORDS.iter().find(|(_, words)| says(words));
        found.map(|(state, _)| *state)
    }
}

/// A code with its state.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// What the code was read from.
    pub text: String,
    /// The code, or why it is none.
    pub typed: Result<Typed, CodeError>,
    /// Its state.
    pub state: State,
    /// When it was seen, in whatever words; may be empty.
    pub seen: String,
}

impl Found {
    /// The text that [`read_found`] reads back.
    pub fn to_text(&self) -> String {
        let code = match &self.typed {
            Ok(typed) => typed.to_text(),
            Err(_) => self.text.clone(),
        };
        let state = match self.state {
            State::Present => String::new(),
            state => format!(" {}", state.word()),
        };
        let seen = match self.seen.as_str() {
            "" => String::new(),
            seen => format!(" ({seen})"),
        };
        format!("{code}{state}{seen}")
    }
}

/// Each code of a text, in order, told once. Behind a code may stand its state, and in brackets when it was seen; a state with a
/// colon is that of all codes behind it, as scan tools list them: `pending: P0335 P0340`.
pub fn read_found(text: &str) -> Vec<Found> {
    let mut found: Vec<Found> = Vec::new();
    let mut usual = State::default();
    let mut rest = text;
    while !rest.is_empty() {
        let (plain, bracket) = rest.split_once('(').unwrap_or((rest, ""));
        read_plain(plain, &mut usual, &mut found);
        let (seen, after) = bracket.split_once(')').unwrap_or((bracket, ""));
        if let Some(last) = found.last_mut() {
            let seen = seen.split_whitespace().collect::<Vec<_>>().join(" ");
            if !seen.is_empty() {
                last.seen = seen;
            }
        }
        rest = after;
    }
    let mut once: Vec<Found> = Vec::new();
    for one in found {
        let same = |other: &Found| matches!((&other.typed, &one.typed), (Ok(a), Ok(b)) if a.says_as(b));
        if !once.iter().any(same) {
            once.push(one);
        }
    }
    once
}

/// The codes that stand among other words, each with the state and the bracket behind it, as [`read_found`] reads them.
pub fn among_words(text: &str) -> String {
    let mut picked: Vec<&str> = Vec::new();
    let (mut behind_code, mut in_bracket) = (false, false);
    for word in text.split_whitespace() {
        let bare = word.trim_matches(|mark: char| !mark.is_alphanumeric());
        if in_bracket || (behind_code && word.starts_with('(')) {
            picked.push(word);
            in_bracket = !word.contains(')');
        } else if is_shaped_as_code(bare) || (behind_code && State::from_word(bare).is_some()) {
            picked.push(bare);
            behind_code = true;
        } else {
            behind_code = false;
        }
    }
    // A bracket that nobody closed is no time at which a code was seen.
    if in_bracket {
        while picked.pop().is_some_and(|word| !word.starts_with('(')) {}
    }
    picked.join(" ")
}

/// A letter, a digit up to 3 and three hexadecimal digits, with or without a failure type: no word of a complaint is.
fn is_shaped_as_code(word: &str) -> bool {
    let letters = word.as_bytes();
    let is_code = |code: &[u8]| {
        matches!(code, [system, first, rest @ ..] if b"PCBU".contains(&system.to_ascii_uppercase())
            && (b'0'..=b'3').contains(first) && rest.len() == 3 && rest.iter().all(u8::is_ascii_hexdigit))
    };
    match letters.split_at_checked(5) {
        Some((code, [])) => is_code(code),
        Some((code, [b'-', kind @ ..])) => is_code(code) && kind.len() == 2 && kind.iter().all(u8::is_ascii_hexdigit),
        _ => false,
    }
}

/// Codes and states without brackets.
fn read_plain(text: &str, usual: &mut State, found: &mut Vec<Found>) {
    let mut codes: Vec<&str> = Vec::new();
    let flush = |codes: &mut Vec<&str>, usual: State, found: &mut Vec<Found>| {
        let text = codes.join(" ");
        let read = read_each(&text);
        found.extend(read.map(|(text, typed)| Found {
            text,
            typed,
            state: usual,
            seen: String::new(),
        }));
        codes.clear();
    };
    let words = text.split(|mark: char| mark.is_whitespace() || matches!(mark, ',' | ';'));
    for word in words.filter(|word| !word.is_empty()) {
        if let Some(state) = word.strip_suffix(':').and_then(State::from_word) {
            flush(&mut codes, *usual, found);
            *usual = state;
        } else if let Some(state) = State::from_word(word).filter(|_| !(codes.is_empty() && found.is_empty())) {
            flush(&mut codes, *usual, found);
            if let Some(last) = found.last_mut() {
                last.state = state;
            }
        } else {
            codes.push(word);
        }
    }
    flush(&mut codes, *usual, found);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_found_among_other_words() {
        let found = |text: &str, expected: &str| assert_eq!(among_words(text), expected, "{text}");
        found("", "");
        found("stalls when warm, P0335 and p0122.", "P0335 p0122");
        found(
            "P0335 pending, then dies; P0122-13 history (81 200 km) since May",
            "P0335 pending P0122-13 history (81 200 km)",
        );
        found("code \"U0100\" (seen twice) is stored", "U0100 (seen twice)");
        // States without a code before them, plates and short words are none.
        found("fault is present in car P 123, plate B-1234, B12, P4000, P012G", "");
        found("P0335 (rest of the story", "P0335");
    }

    #[track_caller]
    fn check(text: &str, expected: &[&str]) {
        let read = read_found(text);
        let texts: Vec<String> = read.iter().map(Found::to_text).collect();
        assert_eq!(texts, expected);
        assert_eq!(
            read_found(&texts.join(", "))
                .iter()
                .map(Found::to_text)
                .collect::<Vec<_>>(),
            texts,
            "what is written is read back"
        );
    }

    #[test]
    fn a_code_alone_is_present_and_a_word_behind_it_says_otherwise() {
        check(
            "P0335 p0122-13 Pending, U0100 stored; 01 22 now",
            &["P0335", "P0122-13 pending", "U0100 history", "P0122"],
        );
        check(
            "pending: P0335 P0340 history: P0122",
            &["P0335 pending", "P0340 pending", "P0122 history"],
        );
    }

    #[test]
    fn brackets_say_when_it_was_seen() {
        check(
            "P0335 history (81 200 km,  12 days ago) P0122 (today) P0340",
            &["P0335 history (81 200 km, 12 days ago)", "P0122 (today)", "P0340"],
        );
        check("(never) P0335 pending (open", &["P0335 pending (open)"]);
    }

    #[test]
    fn what_is_no_code_keeps_its_place_and_a_code_is_told_once() {
        check(
            "P01Z7 pending P0335 P0122 P0335 history",
            &["P01Z7 pending", "P0335", "P0122"],
        );
        let read = read_found("pending");
        assert!(read.len() == 1 && read[0].typed.is_err(), "{read:?}");
    }
}
