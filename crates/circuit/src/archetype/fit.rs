//! A ready-made circuit while its answers are still being typed: those that fit are written in, the others say why they do not.

use toml_edit::{DocumentMut, Item, Table};

use super::edit;
use super::error::ArchetypeError;
use super::rename;
use super::{Archetype, Changed};
use crate::file;

/// An answer that was left out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// The question; `None` where no single answer is to blame, and all were left out.
    pub question: Option<String>,
    /// Why, and what is expected.
    pub why: String,
}

impl Archetype {
    /// As [`Self::fill`], with every answer that fits. The others come back, each with its reason.
    pub fn fill_what_fits(&self, answers: &[(String, String)]) -> (Changed, Vec<LeftOut>) {
        let mut fitting = answers.to_vec();
        let mut left_out = Vec::new();
        loop {
            let why = match self.fill(&fitting) {
                Ok(changed) => return (changed, left_out),
                Err(why) => why,
            };
            let blamed = why.question().map(str::to_owned).or_else(|| self.blamed(&fitting));
            let at = fitting.iter().rposition(|(id, _)| Some(id) == blamed.as_ref());
            left_out.push(LeftOut {
                question: at.and(blamed),
                why: self.briefly(&why),
            });
            match at {
                Some(at) => drop(fitting.remove(at)),
                None => fitting.clear(),
            }
        }
    }

    /// The answer without which the others make a circuit, the last one first.
    fn blamed(&self, answers: &[(String, String)]) -> Option<String> {
        (0..answers.len()).rev().find_map(|at| {
            let mut others = answers.to_vec();
            let (id, _) = others.remove(at);
            self.fill(&others).is_ok().then_some(id)
        })
    }

    /// For whoever sees the question and the answer.
    fn briefly(&self, why: &ArchetypeError) -> String {
        match why {
            ArchetypeError::Answer { expected, .. } => expected.clone(),
            ArchetypeError::SamePlace { first, answer, .. } => {
                let question = self.questions.iter().find(|question| question.id == *first);
                let first = question.map_or(first, |question| &question.what);
                format!("{answer} is taken: it is the answer to \"{first}\"")
            }
            ArchetypeError::Together { mistakes, .. } => {
                let each: Vec<&str> = mistakes.iter().map(|mistake| mistake.message.as_str()).collect();
                format!("with this answer it is no circuit: {}", each.join("; "))
            }
            _ => why.to_string(),
        }
    }

    /// The same with a vehicle's name in its text.
    #[must_use]
    pub fn of_vehicle(&self, vehicle: &str) -> Self {
        self.changed(|document| {
            edit::set(document.as_table_mut(), &["vehicle".to_owned()], vehicle.into());
        })
    }

    /// The same where the check that sets `code` sets another one. Checks of one kind of circuit differ by their number.
    #[must_use]
    pub fn with_code(&self, code: &str, other: &str, name: &str) -> Self {
        self.changed(|document| {
            let modules = document.get_mut("module").and_then(Item::as_table_like_mut);
            let modules = modules.into_iter().flat_map(|modules| modules.iter_mut());
            let checks = modules.filter_map(|(_, module)| module.get_mut("monitor")?.as_array_of_tables_mut());
            let is_it = |check: &&mut Table| check.get("code").and_then(Item::as_str) == Some(code);
            for check in checks.flat_map(|checks| checks.iter_mut()).filter(is_it) {
                check.insert("code", other.into());
                check.insert("name", name.into());
            }
            let asks = ["archetype", "ask"].map(str::to_owned);
            let asks = rename::get_mut(document.as_table_mut(), &asks).and_then(Item::as_table_like_mut);
            let asks = asks.into_iter().flat_map(|asks| asks.iter_mut());
            let choices = asks.filter_map(|(_, ask)| ask.get_mut("choose")?.as_array_of_tables_mut());
            let drops = choices.flat_map(|choices| choices.iter_mut());
            for drop in drops
                .filter_map(|choice| choice.get_mut("drop")?.as_array_mut())
                .flat_map(|drop| drop.iter_mut())
            {
                let path = drop
                    .as_str()
                    .and_then(|path| path.strip_suffix(code))
                    .filter(|path| path.ends_with(".monitor."));
                if let Some(path) = path.map(|path| [path, other].concat()) {
                    edit::replace(drop, path.into());
                }
            }
        })
    }

    fn changed(&self, change: impl FnOnce(&mut DocumentMut)) -> Self {
        let text = self.document().ok().map(|mut document| {
            change(&mut document);
            document.to_string()
        });
        let fits = text.filter(|text| file::parse(text).is_ok());
        fits.and_then(|text| Self::of(&self.name, &text))
            .unwrap_or_else(|| self.clone())
    }
}

impl ArchetypeError {
    /// The question that the answer belongs to, where it is one answer that is wrong.
    pub fn question(&self) -> Option<&str> {
        match self {
            Self::Answer { question, .. } | Self::NoSuchQuestion { question, .. } => Some(question),
            Self::SamePlace { second, .. } => Some(second),
            Self::File { .. } | Self::Plain { .. } | Self::Together { .. } | Self::Contradiction { .. } => None,
        }
    }
}
