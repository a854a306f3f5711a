//! Several circuits on one vehicle become one, so that a fault in what they share can be found.
//!
//! Modules, feeds, fuses, grounds, relays, splices, battery, charger, and what is sensed or commanded are one where they have
//! one name; so are pins of one kind that several circuits may hang on, and wires with the same two ends. All else that has
//! the name of another gets a new one.

use std::collections::BTreeSet;

use toml_edit::{DocumentMut, InlineTable, Item, Value};

use super::error::ArchetypeError;
use super::fill::{cut, used_cavities};
use super::merge::{Merge, strings};
use super::rename::{PARTS, Renames, cavities};
use super::{Archetype, Changed, edit};
use crate::file;

/// Tables whose entries are one where they have one name.
const SHARED: [&str; 6] = ["module", "feed", "fuse", "ground", "relay", "splice"];
/// Pins on which several circuits may hang.
const SHARED_PINS: [&str; 4] = ["feed", "ground", "sensor ground", "reference"];

/// One circuit of several, name and text of each. Questions that are the same, as where the reference sits, are asked once;
/// of the others each says which circuit it is about. Where two circuits want one cavity, a question that is open gives way.
///
/// # Errors
/// [`ArchetypeError::File`] with the mistakes of one, [`ArchetypeError::Contradiction`] with both places,
/// [`ArchetypeError::Together`] if what comes of it is no circuit.
pub fn combine(circuits: &[(&str, &str)]) -> Result<Changed, ArchetypeError> {
    let mut told = Vec::new();
    let mut whole: Option<Part> = None;
    for (idx, (name, text)) in circuits.iter().enumerate() {
        let mut part = Part::read(name, text)?;
        let again = circuits[..idx].iter().filter(|(other, _)| other == name).count();
        match &mut whole {
            None => {
                part.label_questions();
                whole = Some(part);
            }
            Some(whole) => whole.join(part, again, &mut told)?,
        }
    }
    let Some(whole) = whole else {
        return Err(ArchetypeError::Plain {
            name: "nothing".to_owned(),
        });
    };
    let text = headed(circuits, &whole.document.to_string());
    file::parse(&text).map_err(|mistakes| ArchetypeError::Together {
        name: whole.name.clone(),
        mistakes,
    })?;
    let archetype = Archetype::of(&whole.name, &text).ok_or(ArchetypeError::Plain { name: whole.name })?;
    Ok(Changed { archetype, told })
}

/// The text with what each circuit says of itself at its top: the whole began as the first of them.
fn headed(circuits: &[(&str, &str)], whole: &str) -> String {
    let header = |text: &str| -> String {
        let lines = text.split_inclusive('\n');
        lines.take_while(|line| line.starts_with('#')).collect()
    };
    let mut headers: Vec<String> = Vec::new();
    for own in circuits.iter().map(|(_, text)| header(text)) {
        if !own.is_empty() && !headers.contains(&own) {
            headers.push(own);
        }
    }
    let rest = whole.strip_prefix(&header(whole)).unwrap_or(whole);
    format!("{}{rest}", headers.join("#\n"))
}

/// A circuit that is being combined.
struct Part {
    name: String,
    title: String,
    document: DocumentMut,
}

impl Part {
    fn read(name: &str, text: &str) -> Result<Self, ArchetypeError> {
        let failed = |mistakes| ArchetypeError::File {
            name: name.to_owned(),
            mistakes,
        };
        let circuit = file::parse(text).map_err(failed)?;
        let mut document: DocumentMut = text
            .parse()
            .map_err(|_unparsed: toml_edit::TomlError| failed(Vec::new()))?;
        if !document.contains_key("archetype") {
            edit::set(
                document.as_table_mut(),
                &path(&["archetype", "about"]),
                circuit.title.clone().into(),
            );
        }
        Ok(Self {
            name: name.to_owned(),
            title: circuit.title,
            document,
        })
    }

    fn text(&self, keys: &[&str]) -> Option<&str> {
        edit::get(self.document.as_table(), &path(keys)).and_then(Item::as_str)
    }

    fn set(&mut self, keys: &[&str], value: impl Into<Value>) {
        edit::set(self.document.as_table_mut(), &path(keys), value.into());
    }

    fn names(&self, table: &str) -> Vec<String> {
        edit::keys(&self.document, &[table])
    }

    fn parts(&self) -> BTreeSet<String> {
        PARTS.iter().flat_map(|table| self.names(table)).collect()
    }

    /// Says of each question which circuit it is about.
    fn label_questions(&mut self) {
        let title = self.title.clone();
        for id in edit::keys(&self.document, &["archetype", "ask"]) {
            if self.text(&["archetype", "ask", &id, "of"]).is_none() {
                self.set(&["archetype", "ask", &id, "of"], title.as_str());
            }
        }
    }

    /// Pins of a module: cavity and kind.
    fn pins(&self, module: &str) -> Vec<(String, String)> {
        let pins = edit::get(self.document.as_table(), &path(&["module", module, "pin"])).and_then(Item::as_table_like);
        let kind = |pin: &Item| {
            let kind = pin.as_table_like()?.get("kind")?;
            kind.as_str().map(str::to_owned)
        };
        let all = pins.map(cavities).unwrap_or_default();
        all.into_iter()
            .map(|(_, cavity, pin)| (cavity, kind(&pin).unwrap_or_default()))
            .collect()
    }

    /// Whether a cavity was never said, only assumed: there is a question for it.
    fn is_open(&self, cavity: &str) -> bool {
        let asks = edit::keys(&self.document, &["archetype", "ask"]);
        asks.iter()
            .any(|id| self.text(&["archetype", "ask", id, "cavity"]) == Some(cavity))
    }

    fn ends(&self, wire: &str) -> [String; 2] {
        ["from", "to"].map(|end| self.text(&["wire", wire, end]).unwrap_or_default().to_owned())
    }

    /// Adds another circuit; `again` is how often the same one was added before.
    fn join(&mut self, mut other: Self, again: usize, told: &mut Vec<String>) -> Result<(), ArchetypeError> {
        if again > 0 {
            other.title = format!("{} {}", other.title, again + 1);
            let title = other.title.clone();
            other.set(&["title"], title.as_str());
        }
        other.label_questions();
        self.part_cavities(&mut other, told)?;
        self.part_names(&other, again > 0).apply(&mut other.document);
        self.unite_wires(&mut other);
        self.part_channels(&other).apply(&mut other.document);
        self.unite_questions(&mut other);
        self.splice(&mut other, told);
        let (names, title) = (
            [self.name.clone(), other.name.clone()],
            [self.title.as_str(), &other.title].join(" + "),
        );
        Merge { names }.all(&mut self.document, &other.document)?;
        self.name = [self.name.as_str(), &other.name].join("+");
        self.set(&["title"], title.as_str());
        self.title = title;
        Ok(())
    }

    /// Moves pins that cannot be one out of each other's way.
    fn part_cavities(&mut self, other: &mut Self, told: &mut Vec<String>) -> Result<(), ArchetypeError> {
        let mut used: BTreeSet<String> = used_cavities(&self.document);
        used.extend(used_cavities(&other.document));
        let (mut ours, mut theirs) = (Renames::default(), Renames::default());
        for module in self.names("module") {
            let there = other.pins(&module);
            for (cavity, kind) in self.pins(&module) {
                let Some((_, their_kind)) = there.iter().find(|(place, _)| *place == cavity) else {
                    continue;
                };
                if *their_kind == kind && SHARED_PINS.contains(&kind.as_str()) {
                    continue;
                }
                let (connector, number) = cut(&cavity);
                let after = number.parse::<u16>().unwrap_or(0) + 1;
                let free = (after..=u16::MAX)
                    .map(|number| format!("{connector}.{number}"))
                    .find(|place| !used.contains(place));
                let (moved, title) = if other.is_open(&cavity) {
                    (&mut theirs, &other.title)
                } else if self.is_open(&cavity) {
                    (&mut ours, &self.title)
                } else {
                    return Err(ArchetypeError::Contradiction {
                        place: format!("cavity {cavity} of {module}"),
                        first_name: self.name.clone(),
                        first: kind,
                        second_name: other.name.clone(),
                        second: their_kind.clone(),
                    });
                };
                let Some(free) = free else { continue };
                told.push(format!(
                    "two circuits want {cavity}: that of {title} is at {free} now, as a guess"
                ));
                used.insert(free.clone());
                moved.cavities.insert(cavity, free);
            }
        }
        for (part, renames) in [(&mut *self, ours), (other, theirs)] {
            for place in renames.cavities.values() {
                let (connector, number) = cut(place);
                super::fill::grow(&mut part.document, connector, number.parse().unwrap_or(0));
            }
            renames.apply(&mut part.document);
        }
        Ok(())
    }

    /// New names for what is not the same and has the same name.
    fn part_names(&self, other: &Self, again: bool) -> Renames {
        let mut renames = Renames::default();
        let ours = self.parts();
        let mut taken: BTreeSet<String> = ours.union(&other.parts()).cloned().collect();
        let plugs = |part: &Self| -> BTreeSet<String> {
            let modules = part
                .names("module")
                .into_iter()
                .filter(|module| self.names("module").contains(module));
            let pins = modules.flat_map(|module| part.pins(&module));
            pins.map(|(cavity, _)| cut(&cavity).0.to_owned()).collect()
        };
        let shared_plugs: BTreeSet<String> = plugs(self).intersection(&plugs(other)).cloned().collect();
        for table in PARTS {
            for name in other.names(table) {
                let is_one = self.names(table).contains(&name)
                    && (SHARED.contains(&table) || (table == "connector" && shared_plugs.contains(&name)));
                if ours.contains(&name) && !is_one {
                    let new = fresh(&name, &mut taken);
                    renames.parts.insert(name, new);
                }
            }
        }
        let runs =
            |part: &Self| -> BTreeSet<String> { ["bundle", "chafe"].iter().flat_map(|run| part.names(run)).collect() };
        let mut taken: BTreeSet<String> = runs(self).union(&runs(other)).cloned().collect();
        for name in runs(self).intersection(&runs(other)) {
            renames.runs.insert(name.clone(), fresh(name, &mut taken));
        }
        if again {
            // The same circuit twice senses and moves two things.
            let states = |part: &Self| -> BTreeSet<String> {
                ["sensed", "load", "rhythm"]
                    .iter()
                    .flat_map(|one| part.names(one))
                    .collect()
            };
            let mut taken: BTreeSet<String> = states(self).union(&states(other)).cloned().collect();
            for name in states(self).intersection(&states(other)) {
                renames.states.insert(name.clone(), fresh(name, &mut taken));
            }
        }
        renames
    }

    /// Wires with the same two ends are one wire.
    fn unite_wires(&self, other: &mut Self) {
        let mut renames = Renames::default();
        for wire in other.names("wire") {
            let [from, to] = other.ends(&wire);
            let same = self.names("wire").into_iter().find(|ours| {
                let [a, b] = self.ends(ours);
                (a == from && b == to) || (a == to && b == from)
            });
            if let Some(same) = same {
                for (end, place) in ["from", "to"].iter().zip(self.ends(&same)) {
                    other.set(&["wire", &wire, end], place.as_str());
                }
                renames.parts.insert(wire, same);
            }
        }
        renames.apply(&mut other.document);
    }

    /// New names for channels that are not the same.
    fn part_channels(&self, other: &Self) -> Renames {
        let mut renames = Renames::default();
        for module in self.names("module") {
            let of = |part: &Self| edit::keys(&part.document, &["module", &module, "channel"]);
            let mut taken: BTreeSet<String> = of(self).into_iter().chain(of(other)).collect();
            for name in of(other).iter().filter(|name| of(self).contains(name)) {
                let pin = |part: &Self| {
                    part.text(&["module", &module, "channel", name, "pin"])
                        .map(str::to_owned)
                };
                if pin(self) != pin(other) {
                    renames.channels.insert(name.clone(), fresh(name, &mut taken));
                }
            }
        }
        renames
    }

    /// Questions about the same thing are one; others get names and say what they are about.
    fn unite_questions(&mut self, other: &mut Self) {
        let mut renames = Renames::default();
        let ours = edit::keys(&self.document, &["archetype", "ask"]);
        let theirs = edit::keys(&other.document, &["archetype", "ask"]);
        let mut taken: BTreeSet<String> = ours.iter().chain(&theirs).cloned().collect();
        for id in &theirs {
            let about = |part: &Self, id: &str| {
                let question = edit::get(part.document.as_table(), &path(&["archetype", "ask", id]));
                let question = question.and_then(Item::as_table_like).map(edit::as_table);
                question.map(|mut question| {
                    question.remove("of");
                    question.remove("what");
                    strings(&Item::Table(question))
                })
            };
            let target = about(other, id);
            if let Some(same) = ours.iter().find(|ours| about(self, ours) == target) {
                edit::take(other.document.as_table_mut(), &path(&["archetype", "ask", id]));
                edit::take(self.document.as_table_mut(), &path(&["archetype", "ask", same, "of"]));
            } else if ours.contains(id) {
                renames.questions.insert(id.clone(), fresh(id, &mut taken));
            }
        }
        renames.apply(&mut other.document);
    }

    /// Where two wires want one cavity, they meet at a splice.
    fn splice(&mut self, other: &mut Self, told: &mut Vec<String>) {
        let pins = self.names("module").into_iter().flat_map(|module| self.pins(&module));
        let plugs: BTreeSet<String> = pins.map(|(cavity, _)| cut(&cavity).0.to_owned()).collect();
        let ours = self.names("wire");
        for wire in other.names("wire").into_iter().filter(|wire| !ours.contains(wire)) {
            for (end, place) in ["from", "to"].iter().zip(other.ends(&wire)) {
                if !place.contains('.') || !plugs.contains(cut(&place).0) {
                    continue;
                }
                if let Some(splice) = self.splice_at(&place, other, told) {
                    other.set(&["wire", &wire, end], splice.as_str());
                }
            }
        }
    }

    /// The splice behind a cavity; made if a wire leads elsewhere from there, `None` if none does.
    fn splice_at(&mut self, cavity: &str, other: &Self, told: &mut Vec<String>) -> Option<String> {
        let wires = self.names("wire");
        let wire = wires
            .into_iter()
            .find(|wire| self.ends(wire).iter().any(|end| end == cavity))?;
        let [from, to] = self.ends(&wire);
        let (end, far) = if from == cavity { ("from", to) } else { ("to", from) };
        if self.names("splice").contains(&far) {
            return Some(far);
        }
        let mut taken: BTreeSet<String> = self.parts().union(&other.parts()).cloned().collect();
        let splice = fresh("SP", &mut taken);
        let trunk = fresh("W", &mut taken);
        self.set(&["splice", &splice], InlineTable::new());
        self.set(&["wire", &wire, end], splice.as_str());
        // 0.3 m: common practice, no source; splices sit near the plug more often than not.
        for (key, value) in [("from", cavity), ("to", &splice), ("length", "0.3 m")] {
            self.set(&["wire", &trunk, key], value);
        }
        for key in ["size", "colour"] {
            if let Some(value) = self.text(&["wire", &wire, key]).map(str::to_owned) {
                self.set(&["wire", &trunk, key], value.as_str());
            }
        }
        told.push(format!(
            "{cavity} serves both: their wires meet at splice {splice}, near that plug, as a guess"
        ));
        Some(splice)
    }
}

fn path(keys: &[&str]) -> Vec<String> {
    keys.iter().map(|key| (*key).to_owned()).collect()
}

/// A name that is not taken, like this one: `W1` becomes `W8`, `sensor` becomes `sensor2`.
fn fresh(name: &str, taken: &mut BTreeSet<String>) -> String {
    let stem = name.trim_end_matches(|letter: char| letter.is_ascii_digit());
    let least = if stem == name && stem.len() > 2 { 2 } else { 1 };
    let free = (least..=u32::MAX)
        .map(|number| format!("{stem}{number}"))
        .find(|name| !taken.contains(name));
    let free = free.unwrap_or_default();
    taken.insert(free.clone());
    free
}
