//! What is wrong with a file, and where.

use std::fmt;
use std::ops::Range;

use quantity::ParseError;

/// One mistake in a circuit file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// What is wrong and what was expected, as a sentence without a full stop.
    pub message: String,
    /// What to do about it, where that is not obvious.
    pub help: Option<String>,
    /// Which file, if it is not the circuit file itself: the name of a file of device kinds.
    pub file: Option<String>,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// Byte offset in the text.
    pub offset: usize,
    /// Bytes to blame; may be 0.
    pub length: usize,
    /// Stable short name of the kind of mistake: `unknown-key`, `cavity-used-twice`, …
    pub code: &'static str,
}

impl fmt::Display for Mistake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(file) = &self.file {
            write!(f, "{file}, ")?;
        }
        write!(f, "line {}, column {}: {}", self.line, self.column, self.message)?;
        match &self.help {
            Some(help) => write!(f, " ({help})"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for Mistake {}

/// Collects the mistakes of one text.
#[derive(Debug)]
pub(crate) struct Slips<'t> {
    text: &'t str,
    file: Option<String>,
    found: Vec<Mistake>,
}

impl<'t> Slips<'t> {
    /// None so far, in `text` of the file of this name.
    pub(crate) fn new(text: &'t str, file: Option<String>) -> Self {
        Self {
            text,
            file,
            found: Vec::new(),
        }
    }

    /// Notes a mistake.
    pub(crate) fn push(&mut self, code: &'static str, at: &Range<usize>, message: impl Into<String>) {
        self.note(code, at, message.into(), None);
    }

    /// Notes a mistake and what to do about it.
    pub(crate) fn push_help(
        &mut self,
        code: &'static str,
        at: &Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.note(code, at, message.into(), Some(help.into()));
    }

    /// Notes a name that is not among `known`, and suggests the nearest.
    pub(crate) fn unknown<'a>(
        &mut self,
        code: &'static str,
        at: &Range<usize>,
        message: impl Into<String>,
        name: &str,
        known: impl IntoIterator<Item = &'a str>,
    ) {
        let help = suggestion(name, known);
        self.note(code, at, message.into(), help);
    }

    /// Notes a value that could not be read, at its place within the string literal at `at`.
    pub(crate) fn unreadable(&mut self, literal: &Range<usize>, content: &str, error: &ParseError) {
        let at = self.inside(literal, content, error.at());
        self.note("value", &at, error.to_string(), None);
    }

    /// The place of `part` of `content`, which the string literal at `literal` holds.
    pub(crate) fn inside(&self, literal: &Range<usize>, content: &str, part: Range<usize>) -> Range<usize> {
        let raw = self.text.get(literal.clone()).unwrap_or("");
        let is_plain = raw.len() == content.len() + 2 && raw.get(1..raw.len() - 1) == Some(content);
        if is_plain {
            literal.start + 1 + part.start..literal.start + 1 + part.end
        } else {
            literal.clone()
        }
    }

    fn note(&mut self, code: &'static str, at: &Range<usize>, message: String, help: Option<String>) {
        let offset = floor_char_boundary(self.text, at.start);
        let before = &self.text[..offset];
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        self.found.push(Mistake {
            message,
            help: help.filter(|help| !help.is_empty()),
            file: self.file.clone(),
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
            offset,
            length: at.end.min(self.text.len()).saturating_sub(offset),
            code,
        });
    }

    /// Whether there are any.
    pub(crate) fn any(&self) -> bool {
        !self.found.is_empty()
    }

    /// Whether there are any but those of these codes.
    pub(crate) fn any_but(&self, codes: &[&str]) -> bool {
        self.found.iter().any(|mistake| !codes.contains(&mistake.code))
    }

    /// All of them, in the order of the text, each once.
    pub(crate) fn into_mistakes(mut self) -> Vec<Mistake> {
        self.found
            .sort_by(|a, b| (a.offset, a.code, &a.message).cmp(&(b.offset, b.code, &b.message)));
        self.found.dedup();
        self.found
    }
}

fn floor_char_boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// "did you mean `x`?" if one of `known` is near enough, else the known ones if they are few.
pub(crate) fn suggestion<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let known: Vec<&str> = known.into_iter().collect();
    if let Some(near) = nearest(name, known.iter().copied()) {
        return Some(format!("did you mean `{near}`?"));
    }
    (1..=24)
        .contains(&known.len())
        .then(|| format!("known here: {}", known.join(", ")))
}

/// The one of `known` that is nearest in spelling to `name`, if near enough to be meant.
pub(crate) fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = name.to_lowercase();
    known
        .into_iter()
        .map(|candidate| {
            (
                strsim::normalized_damerau_levenshtein(&lower, &candidate.to_lowercase()),
                candidate,
            )
        })
        // 0.55: half of a four-letter word may be wrong, but not more (chosen by trying slips of the hand).
        .filter(|(likeness, _)| *likeness >= 0.55)
        .max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.cmp(a.1)))
        .map(|(_, candidate)| candidate)
}
