//! Answers to the questions of a ready-made circuit, written into its text.

use std::collections::{BTreeMap, BTreeSet};

use toml_edit::{Array, DocumentMut, Item, Value};

use super::edit::{self, Path};
use super::error::ArchetypeError;
use super::rename::{PARTS, Renames, cavities};
use super::{Archetype, Asks, Choice, Question};
use crate::file::{self, nearest, suggestion};

/// A circuit after a change, and what was changed beyond what was asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Changed {
    /// The circuit, with the questions that are still open.
    pub archetype: Archetype,
    /// What a person should know, a sentence each.
    pub told: Vec<String>,
}

impl Archetype {
    /// The circuit with these answers: question and answer each. Instead of a question a part may stand, whose new name the
    /// answer then is. What has been answered is asked no more; what has not stays as it is.
    ///
    /// # Errors
    /// [`ArchetypeError`] of the first answer that cannot be, with the question and what was expected.
    pub fn fill(&self, answers: &[(String, String)]) -> Result<Changed, ArchetypeError> {
        let asked = |id: &str| self.questions.iter().find(|question| question.id == id);
        let beside = |(id, _): &(String, String)| asked(id).is_some_and(|question| question.beside.is_some());
        let (last, first): (Vec<_>, Vec<_>) = answers.iter().cloned().partition(beside);
        let changed = self.fill_in(&first)?;
        if last.is_empty() {
            return Ok(changed);
        }
        let (mut told, whole) = (changed.told, changed.archetype);
        let still = |id: &str| whole.questions.iter().any(|question| question.id == id);
        let (last, in_vain): (Vec<_>, Vec<_>) = last.into_iter().partition(|(id, _)| still(id));
        told.extend(in_vain.into_iter().map(|(id, answer)| {
            let what = asked(&id).map_or("", |question| &question.what);
            format!("{what} `{answer}` is left out: every cavity next to it is taken")
        }));
        let mut changed = whole.fill_in(&last)?;
        told.append(&mut changed.told);
        Ok(Changed { told, ..changed })
    }

    /// [`Self::fill`], all answers at once.
    fn fill_in(&self, answers: &[(String, String)]) -> Result<Changed, ArchetypeError> {
        let mut filling = Filling {
            of: self,
            document: self.document()?,
            moves: BTreeMap::new(),
            names: BTreeMap::new(),
        };
        let mut answered = BTreeSet::new();
        for (id, answer) in answers {
            let question = self.questions.iter().find(|question| question.id == *id);
            if let Some(question) = question {
                if !answered.insert(id) {
                    return Err(refused(question, answer, "it is answered twice"));
                }
                filling.answer(question, answer.trim())?;
            } else if filling.has_part(id) {
                filling.name(id, id, answer.trim())?;
            } else {
                return Err(filling.no_such(id));
            }
        }
        for id in answered {
            filling.no_longer_ask(id);
        }
        filling.done()
    }

    pub(super) fn document(&self) -> Result<DocumentMut, ArchetypeError> {
        // A text that reads as a circuit is TOML; should the two readers differ, that is said as a mistake of the file.
        self.text
            .parse()
            .map_err(|_unparsed: toml_edit::TomlError| ArchetypeError::File {
                name: self.name.clone(),
                mistakes: file::parse(&self.text).err().unwrap_or_default(),
            })
    }
}

struct Filling<'a> {
    of: &'a Archetype,
    document: DocumentMut,
    /// Old cavity to new one, and the question that asked.
    moves: BTreeMap<String, (String, String)>,
    /// Old part to new name, and the question that asked.
    names: BTreeMap<String, (String, String)>,
}

impl Filling<'_> {
    fn answer(&mut self, question: &Question, answer: &str) -> Result<(), ArchetypeError> {
        if answer.is_empty() {
            return Err(refused(question, answer, "leave it out if it is not known"));
        }
        match &question.asks {
            Asks::Cavity(cavity) => self.cavity(question, cavity, answer),
            Asks::Name(part) => self.name(&question.id, part, answer),
            Asks::Keys(paths) => {
                for path in paths.iter().filter_map(|path| edit::path(path)) {
                    let value = self.typed(&path, answer);
                    if !edit::set(self.document.as_table_mut(), &path, value) {
                        let why = format!("nothing can be written at `{}`", edit::dotted(&path));
                        return Err(refused(question, answer, &why));
                    }
                }
                self.still_a_circuit(question, answer)
            }
            Asks::Choice(choices) => {
                self.choose(question, choices, answer)?;
                // What it took out is not there for it to name any more, nor for other questions to be about.
                self.no_longer_ask(&question.id);
                self.no_longer_ask_of_what_is_gone();
                self.still_a_circuit(question, answer)
            }
        }
    }

    fn no_longer_ask(&mut self, question: &str) {
        let path = ["archetype".into(), "ask".into(), question.to_owned()];
        edit::take(self.document.as_table_mut(), &path);
    }

    fn no_longer_ask_of_what_is_gone(&mut self) {
        let cavities = used_cavities(&self.document);
        let is_gone = |question: &&Question| match &question.asks {
            Asks::Cavity(cavity) => !cavities.contains(cavity),
            Asks::Name(part) => !self.has_part(part),
            Asks::Keys(_) | Asks::Choice(_) => false,
        };
        let gone: Vec<String> = (self.of.questions.iter().filter(is_gone))
            .map(|question| question.id.clone())
            .collect();
        for question in gone {
            self.no_longer_ask(&question);
        }
    }

    /// The answer as a number where one stands now, else as text.
    fn typed(&self, path: &Path, answer: &str) -> Value {
        let is_number =
            edit::get(self.document.as_table(), path).is_some_and(|item| item.is_integer() || item.is_float());
        match answer.parse::<f64>() {
            Ok(number) if is_number && number.is_finite() => number.into(),
            _ => answer.into(),
        }
    }

    fn choose(&mut self, question: &Question, choices: &[Choice], answer: &str) -> Result<(), ArchetypeError> {
        let number = answer.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        let said = choices
            .iter()
            .position(|choice| choice.say.eq_ignore_ascii_case(answer));
        let Some(choice) = said.or(number).and_then(|idx| choices.get(idx)) else {
            let says: Vec<&str> = choices.iter().map(|choice| choice.say.as_str()).collect();
            let meant = nearest(answer, says.iter().copied()).map(|near| format!(" (did you mean `{near}`?)"));
            let expected = format!(
                "one of {} is expected, or its number from 1{}",
                says.iter().map(|say| format!("`{say}`")).collect::<Vec<_>>().join(", "),
                meant.unwrap_or_default()
            );
            return Err(refused(question, answer, &expected));
        };
        for path in choice.drop.iter().filter_map(|path| edit::path(path)) {
            edit::take(self.document.as_table_mut(), &path);
        }
        if let Ok(piece) = choice.add.parse::<DocumentMut>() {
            edit::overlay(self.document.as_table_mut(), piece.as_table());
        }
        Ok(())
    }

    fn cavity(&mut self, question: &Question, old: &str, answer: &str) -> Result<(), ArchetypeError> {
        let (home, _) = cut(old);
        let (connector, number) = answer.split_once('.').unwrap_or((home, answer));
        let fits = number
            .parse::<u16>()
            .is_ok_and(|number| (1..=file::value::MOST_CAVITIES).contains(&usize::from(number)));
        // A number before the dot is a slip for a cavity, not the name of a plug that is to be made.
        let is_plug = self.has_part(connector) || (is_name(connector) && connector.starts_with(char::is_alphabetic));
        if !fits || !is_plug {
            let expected = format!(
                "the number of a cavity of {home} is expected, from 1 to {}, e.g. `12`, or plug and number at another plug, \
                 e.g. `C2.12`",
                file::value::MOST_CAVITIES
            );
            return Err(refused(question, answer, &expected));
        }
        let new = format!("{connector}.{}", number.trim_start_matches('0'));
        if let Some((_, other)) = self.moves.values().find(|(place, _)| *place == new) {
            return Err(ArchetypeError::SamePlace {
                first: other.clone(),
                second: question.id.clone(),
                answer: new,
            });
        }
        self.moves.insert(old.to_owned(), (new, question.id.clone()));
        Ok(())
    }

    fn name(&mut self, question: &str, part: &str, answer: &str) -> Result<(), ArchetypeError> {
        if let Some((_, (_, other))) = self.names.iter().find(|(_, (name, _))| name == answer) {
            return Err(ArchetypeError::SamePlace {
                first: other.clone(),
                second: question.to_owned(),
                answer: answer.to_owned(),
            });
        }
        let is_taken = answer != part && self.has_part(answer);
        if is_taken || !is_name(answer) {
            let expected = if is_taken {
                "another part has this name already"
            } else {
                "a name has letters, digits, `-` and `_` only"
            };
            return Err(ArchetypeError::Answer {
                question: question.to_owned(),
                what: format!("Name of {part}"),
                answer: answer.to_owned(),
                expected: expected.to_owned(),
            });
        }
        self.names
            .insert(part.to_owned(), (answer.to_owned(), question.to_owned()));
        Ok(())
    }

    fn has_part(&self, id: &str) -> bool {
        PARTS
            .iter()
            .any(|table| edit::keys(&self.document, &[table]).iter().any(|key| key == id))
    }

    fn no_such(&self, question: &str) -> ArchetypeError {
        let ids = self.of.questions.iter().map(|question| question.id.as_str());
        ArchetypeError::NoSuchQuestion {
            name: self.of.name.clone(),
            question: question.to_owned(),
            help: suggestion(question, ids).map_or_else(String::new, |help| format!(" ({help})")),
        }
    }

    fn still_a_circuit(&self, question: &Question, answer: &str) -> Result<(), ArchetypeError> {
        let mistakes = file::parse(&self.document.to_string()).err().unwrap_or_default();
        if mistakes.is_empty() {
            return Ok(());
        }
        // Places in a text that nobody has seen would mislead.
        let mut says: Vec<String> = Vec::new();
        for mistake in &mistakes {
            let one = match &mistake.help {
                Some(help) => format!("{} ({help})", mistake.message),
                None => mistake.message.clone(),
            };
            // An answer that stands at several keys is as wrong at each.
            if !says.contains(&one) {
                says.push(one);
            }
        }
        Err(refused(question, answer, &says.join("; ")))
    }

    /// Moves, renames and reads what has become.
    fn done(mut self) -> Result<Changed, ArchetypeError> {
        let mut told = Vec::new();
        let mut renames = Renames::default();
        for (old, (new, _)) in &self.moves {
            renames.cavities.insert(old.clone(), new.clone());
        }
        self.displace(&mut renames.cavities, &mut told);
        for (old, new) in &renames.cavities {
            self.make_room(cut(old).0, new, &mut told);
        }
        renames.apply(&mut self.document);
        let names = self.names.into_iter().map(|(part, (name, _))| (part, name)).collect();
        Renames {
            parts: names,
            ..Renames::default()
        }
        .apply(&mut self.document);
        let text = self.document.to_string();
        match file::parse(&text) {
            Ok(_) => {
                let archetype = Archetype::of(&self.of.name, &text).ok_or_else(|| ArchetypeError::Plain {
                    name: self.of.name.clone(),
                })?;
                Ok(Changed { archetype, told })
            }
            Err(mistakes) => Err(ArchetypeError::Together {
                name: self.of.name.clone(),
                mistakes,
            }),
        }
    }

    /// What stood where an answer now is, and was not asked, takes a place that has become free.
    fn displace(&self, moves: &mut BTreeMap<String, String>, told: &mut Vec<String>) {
        let used = used_cavities(&self.document);
        let targets: BTreeSet<String> = moves.values().cloned().collect();
        let mut free: Vec<String> = moves.keys().filter(|old| !targets.contains(*old)).cloned().collect();
        let displaced = targets
            .into_iter()
            .filter(|place| used.contains(place) && !moves.contains_key(place));
        let pairs: Vec<(String, String)> = displaced.filter_map(|place| Some((place, free.pop()?))).collect();
        for (place, to) in pairs {
            let what = self.pin_at(&place).unwrap_or_else(|| "something else".into());
            told.push(format!(
                "{place} was the place of the {what}: that is at {to} now, as a guess, since nothing was said of it"
            ));
            moves.insert(place, to);
        }
    }

    /// What a module has in a cavity: "feed of the engine module (ignition feed)".
    fn pin_at(&self, place: &str) -> Option<String> {
        edit::keys(&self.document, &["module"]).into_iter().find_map(|module| {
            let pin = |key: &str| ["module", module.as_str(), key].map(str::to_owned);
            let pins = edit::get(self.document.as_table(), &pin("pin"))?.as_table_like()?;
            let (_, _, pin_there) = cavities(pins).into_iter().find(|(_, cavity, _)| cavity == place)?;
            let word = |key: &str| pin_there.as_table_like()?.get(key)?.as_str().map(str::to_owned);
            let named = edit::get(self.document.as_table(), &pin("name")).and_then(Item::as_str);
            let name = word("name").map(|name| format!(" ({name})")).unwrap_or_default();
            let owner = named.map_or_else(|| format!("module {module}"), |named| format!("the {named}"));
            Some(format!("{} of {owner}{name}", word("kind")?))
        })
    }

    /// A connector that is not there yet, and rows that do not reach so far.
    fn make_room(&mut self, from: &str, place: &str, told: &mut Vec<String>) {
        let (connector, number) = cut(place);
        let own = ["connector".to_owned(), connector.to_owned()];
        if edit::get(self.document.as_table(), &own).is_none() {
            let model = ["connector".to_owned(), from.to_owned()];
            let mut like = edit::get(self.document.as_table(), &model)
                .and_then(Item::as_table_like)
                .map(edit::as_table)
                .unwrap_or_default();
            for key in ["rows", "cavity", "name"] {
                like.remove(key);
            }
            edit::set(
                self.document.as_table_mut(),
                &own,
                Value::InlineTable(like.into_inline_table()),
            );
            told.push(format!("{connector} is a new connector, taken to be like {from}"));
        }
        if let Ok(number) = number.parse() {
            grow(&mut self.document, connector, number);
        }
    }
}

fn is_name(text: &str) -> bool {
    !text.is_empty() && (text.chars()).all(|letter| letter.is_alphanumeric() || matches!(letter, '-' | '_'))
}

/// Connector and number of a cavity.
pub(super) fn cut(cavity: &str) -> (&str, &str) {
    cavity.split_once('.').unwrap_or((cavity, ""))
}

fn refused(question: &Question, answer: &str, expected: &str) -> ArchetypeError {
    ArchetypeError::Answer {
        question: question.id.clone(),
        what: question.what.clone(),
        answer: answer.to_owned(),
        expected: expected.to_owned(),
    }
}

/// Every cavity that a pin or a wire has.
pub(super) fn used_cavities(document: &DocumentMut) -> BTreeSet<String> {
    let mut used = BTreeSet::new();
    for module in edit::keys(document, &["module"]) {
        let path = ["module".to_owned(), module, "pin".to_owned()];
        if let Some(pins) = edit::get(document.as_table(), &path).and_then(Item::as_table_like) {
            used.extend(cavities(pins).into_iter().map(|(_, cavity, _)| cavity));
        }
    }
    let text = |path: Path| {
        edit::get(document.as_table(), &path)
            .and_then(Item::as_str)
            .map(str::to_owned)
    };
    for wire in edit::keys(document, &["wire"]) {
        for end in ["from", "to"] {
            let place = text(vec!["wire".into(), wire.clone(), end.into()]).unwrap_or_default();
            let cavity = place.split('/').next().unwrap_or_default();
            if cavity.contains('.') {
                used.insert(cavity.to_owned());
            }
        }
    }
    used
}

/// Rows that were a guess, grown so that they reach a cavity: as many rows as before, of equal length.
pub(super) fn grow(document: &mut DocumentMut, connector: &str, number: u16) {
    let path = ["connector", connector, "rows"].map(str::to_owned);
    let Some(rows) = edit::get(document.as_table(), &path) else {
        return;
    };
    let circuit_rows = rows_of(rows);
    if circuit_rows.is_empty() || circuit_rows.iter().flatten().any(|cavity| *cavity == number) {
        return;
    }
    let first = circuit_rows.iter().flatten().copied().min().unwrap_or(1).min(number);
    let last = circuit_rows.iter().flatten().copied().max().unwrap_or(1).max(number);
    let n_rows = circuit_rows.len() as u16;
    let each = (last - first + 1).div_ceil(n_rows);
    let rows: Array = (0..n_rows)
        .map(|row| (first + row * each, (first + (row + 1) * each - 1)))
        .filter(|(from, _)| *from <= last)
        .map(|(from, to)| format!("{from}-{}", to.min(last)))
        .collect();
    edit::set(document.as_table_mut(), &path, rows.into());
}

/// Rows of cavities as a file has them; none if they cannot be read.
pub(super) fn rows_of(rows: &Item) -> Vec<Vec<u16>> {
    let row = |value: &Value| -> Option<Vec<u16>> {
        if let Some(list) = value.as_array() {
            return list.iter().map(|one| u16::try_from(one.as_integer()?).ok()).collect();
        }
        let mut row = Vec::new();
        for piece in value.as_str()?.split([' ', ',']).filter(|piece| !piece.is_empty()) {
            let (first, last) = piece.split_once(['-', '–']).unwrap_or((piece, piece));
            let (first, last): (u16, u16) = (first.parse().ok()?, last.parse().ok()?);
            row.extend(first.min(last)..=first.max(last));
        }
        Some(row)
    };
    let rows = rows
        .as_array()
        .map(|rows| rows.iter().map(row).collect::<Option<Vec<_>>>());
    rows.flatten().unwrap_or_default()
}
