//! Ready-made circuits: ordinary circuit files with a table that says what they are for and what to ask.
//!
//! One stands as it is. Answers change its text ([`Archetype::fill`]); several become one ([`combine`]). What results is an
//! ordinary circuit file again, with the questions that nobody answered yet.

mod beside;
mod combine;
mod edit;
mod error;
mod fill;
mod find;
mod fit;
mod merge;
mod rename;

use crate::file::keys::CircuitFile;
use crate::file::mistake::Slips;
use crate::file::{self};

pub use combine::combine;
pub use error::ArchetypeError;
pub use fill::Changed;
pub use find::{find, meant, words_in_common};
pub use fit::LeftOut;

/// The built-in ones: name and text.
const BUILT_IN: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/archetypes.rs"));

/// A ready-made circuit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Archetype {
    /// Its name: that of its file.
    pub name: String,
    /// The circuit's title.
    pub title: String,
    /// What it is, in a line.
    pub about: String,
    /// Words that codes and people have for it.
    pub serves: Vec<String>,
    /// What to beware of.
    pub cautions: Vec<String>,
    /// What may be asked, in the order of the file.
    pub questions: Vec<Question>,
    /// The circuit file.
    pub text: String,
}

/// Something to ask.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// The name that an answer refers to.
    pub id: String,
    /// The question in plain words.
    pub what: String,
    /// Which of several combined circuits it is about.
    pub of: Option<String>,
    /// What the answer changes.
    pub asks: Asks,
    /// The cavity beside which it puts something, once that has its place.
    pub beside: Option<String>,
}

/// What an answer changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asks {
    /// This cavity gets another place: `C1.6`.
    Cavity(String),
    /// These keys get a value: `wire.W2.colour`.
    Keys(Vec<String>),
    /// This part gets another name.
    Name(String),
    /// One of these is chosen.
    Choice(Vec<Choice>),
}

impl Asks {
    /// The key that says so in a file: `cavity`, `keys`, `name` or `choose`.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Cavity(_) => "cavity",
            Self::Keys(_) => "keys",
            Self::Name(_) => "name",
            Self::Choice(_) => "choose",
        }
    }
}

/// One answer out of several.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// In plain words.
    pub say: String,
    /// Paths of what it takes out.
    pub drop: Vec<String>,
    /// A piece of circuit file that it adds; may be empty.
    pub add: String,
}

impl Archetype {
    /// The built-in ones, by name.
    ///
    /// # Errors
    /// A [`ArchetypeError::File`] is a defect of the product, which a test excludes.
    pub fn built_in() -> Result<Vec<Self>, ArchetypeError> {
        BUILT_IN.iter().map(|(name, text)| Self::read(name, text)).collect()
    }

    /// Reads one; `name` is that of its file, without folder and ending.
    ///
    /// # Errors
    /// [`ArchetypeError::File`] with every mistake, [`ArchetypeError::Plain`] if it has no table `[archetype]`.
    pub fn read(name: &str, text: &str) -> Result<Self, ArchetypeError> {
        file::parse(text).map_err(|mistakes| ArchetypeError::File {
            name: name.to_owned(),
            mistakes,
        })?;
        Self::of(name, text).ok_or_else(|| ArchetypeError::Plain { name: name.to_owned() })
    }

    /// What the circuit has where this question asks: `C1.5`, a colour, the first choice; `None` if the file says nothing
    /// there.
    pub fn stands(&self, question: &Question) -> Option<String> {
        match &question.asks {
            Asks::Cavity(place) | Asks::Name(place) => Some(place.clone()),
            Asks::Choice(choices) => choices.first().map(|choice| choice.say.clone()),
            Asks::Keys(paths) => {
                let document = self.document().ok()?;
                let item = edit::get(document.as_table(), &edit::path(paths.first()?)?)?;
                let value = item.as_value()?;
                Some(
                    value
                        .as_str()
                        .map_or_else(|| value.to_string().trim().to_owned(), str::to_owned),
                )
            }
        }
    }

    /// As [`Self::read`] of a text that is known to be a circuit.
    fn of(name: &str, text: &str) -> Option<Self> {
        let mut slips = Slips::new(text, None);
        let file = file::decode_text::<CircuitFile>(text, &mut slips)?;
        let keys = file.archetype?;
        let texts = |list: Option<Vec<file::value::Text>>| -> Vec<String> {
            list.into_iter().flatten().map(|text| text.text).collect()
        };
        let document: toml_edit::DocumentMut = text.parse().ok()?;
        let question = |entry: file::decode::Named<file::archetype::AskKeys>| {
            let ask = entry.is?;
            let beside = ask.beside.map(|cavity| cavity.text);
            let choice = |choice: file::archetype::ChoiceKeys| Choice {
                say: choice.say.text,
                drop: texts(choice.drop),
                add: choice.add.map(|add| add.text).unwrap_or_default(),
            };
            let asks = if let Some(cavity) = ask.cavity {
                Asks::Cavity(cavity.text)
            } else if let Some(name) = ask.name {
                Asks::Name(name.text)
            } else if let Some(choices) = ask.choose {
                Asks::Choice(choices.into_iter().map(choice).collect())
            } else if let Some(cavity) = &beside {
                // With no place free next to it there is nothing to ask.
                let choices = beside::choices(&document, cavity);
                Asks::Choice(Some(choices).filter(|choices| !choices.is_empty())?)
            } else {
                Asks::Keys(texts(ask.keys))
            };
            Some(Question {
                id: entry.name,
                what: ask.what.text,
                of: ask.of.map(|of| of.text),
                asks,
                beside,
            })
        };
        Some(Self {
            name: name.to_owned(),
            title: file.title.text,
            about: keys.about.text,
            serves: texts(keys.serves),
            cautions: texts(keys.cautions),
            questions: keys.ask.0.into_iter().filter_map(question).collect(),
            text: text.to_owned(),
        })
    }
}
