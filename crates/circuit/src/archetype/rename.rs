//! New names for parts and new places for cavities, wherever a circuit file refers to them.

use std::collections::BTreeMap;

use toml_edit::{DocumentMut, InlineTable, Item, Key, Table, TableLike, Value};

use super::edit;

/// Old name to new.
pub(super) type Names = BTreeMap<String, String>;

/// What gets which name.
#[derive(Clone, Debug, Default)]
pub(super) struct Renames {
    /// Parts: modules, devices, connectors, wires, fuses, …
    pub(super) parts: Names,
    /// Cavities: `C1.6` to `C1.12`. Applied before `parts`.
    pub(super) cavities: Names,
    /// Bundles and chafes.
    pub(super) runs: Names,
    /// What is sensed, commanded or repeats.
    pub(super) states: Names,
    /// Channels of any module.
    pub(super) channels: Names,
    /// Questions.
    pub(super) questions: Names,
}

/// The tables whose entries are parts.
pub(super) const PARTS: [&str; 9] = [
    "feed",
    "fuse",
    "relay",
    "ground",
    "module",
    "device",
    "connector",
    "wire",
    "splice",
];

/// What a string of the file refers to.
#[derive(Clone, Copy)]
enum Refers {
    Place,
    Condition,
    State,
    Channel,
    Path,
    Piece,
}

impl Renames {
    /// Whether nothing is renamed.
    pub(super) fn is_empty(&self) -> bool {
        let all = [
            &self.parts,
            &self.cavities,
            &self.runs,
            &self.states,
            &self.channels,
            &self.questions,
        ];
        all.iter().all(|names| names.is_empty())
    }

    /// Renames throughout a circuit file or a piece of one.
    pub(super) fn apply(&self, document: &mut DocumentMut) {
        if self.is_empty() {
            return;
        }
        self.strings(document.as_table_mut(), &mut Vec::new());
        self.pins(document);
        self.cavity_words(document);
        for table in PARTS {
            rename_keys(document, &[table], &self.parts);
        }
        for table in ["bundle", "chafe"] {
            rename_keys(document, &[table], &self.runs);
        }
        for table in ["sensed", "load", "rhythm"] {
            rename_keys(document, &[table], &self.states);
        }
        for module in edit::keys(document, &["module"]) {
            rename_keys(document, &["module", &module, "channel"], &self.channels);
        }
        rename_keys(document, &["archetype", "ask"], &self.questions);
    }

    /// Renames in every string that refers to something.
    fn strings(&self, table: &mut dyn TableLike, path: &mut Vec<String>) {
        let keys: Vec<String> = table.iter().map(|(key, _)| key.to_owned()).collect();
        for key in keys {
            let Some(item) = table.get_mut(&key) else { continue };
            path.push(key);
            self.item(item, path);
            path.pop();
        }
    }

    fn item(&self, item: &mut Item, path: &mut Vec<String>) {
        match item {
            Item::Value(value) => self.value(value, path),
            Item::Table(table) => self.strings(table, path),
            Item::ArrayOfTables(tables) => tables.iter_mut().for_each(|table| self.strings(table, path)),
            Item::None => {}
        }
    }

    fn value(&self, value: &mut Value, path: &mut Vec<String>) {
        match value {
            Value::InlineTable(table) => self.strings(table, path),
            Value::Array(array) => array.iter_mut().for_each(|value| self.value(value, path)),
            Value::String(text) => {
                let Some(refers) = refers(path) else { return };
                let new = self.text(refers, text.value());
                if new != *text.value() {
                    edit::replace(value, new.into());
                }
            }
            _ => {}
        }
    }

    fn text(&self, refers: Refers, text: &str) -> String {
        match refers {
            Refers::Place => self.place(text),
            Refers::State => renamed(&self.states, text),
            Refers::Channel => renamed(&self.channels, text),
            Refers::Condition => {
                let all = |group: &str| {
                    let terms = group.split(';').map(|term| self.term(term.trim()));
                    terms.collect::<Vec<_>>().join("; ")
                };
                text.split('|').map(all).collect::<Vec<_>>().join(" | ")
            }
            Refers::Path => self.path(text),
            Refers::Piece => text.parse::<DocumentMut>().map_or_else(
                |_| text.to_owned(),
                |mut piece| {
                    self.apply(&mut piece);
                    piece.to_string()
                },
            ),
        }
    }

    /// `S1.2`, `S1.2/pin`, `floor.7/a`, `F7/in`, `SP1`.
    pub(super) fn place(&self, text: &str) -> String {
        let (head, side) = text.split_at(text.find('/').unwrap_or(text.len()));
        let head = renamed(&self.cavities, head);
        match head.split_once('.') {
            Some((connector, cavity)) => [&renamed(&self.parts, connector), ".", cavity, side].concat(),
            None => renamed(&self.parts, &head) + side,
        }
    }

    /// One term of a condition: `not S1 mated`.
    fn term(&self, term: &str) -> String {
        let (not, rest) = term
            .strip_prefix("not ")
            .map_or(("", term), |rest| ("not ", rest.trim()));
        let Some((subject, predicate)) = rest.split_once(' ') else {
            return term.to_owned();
        };
        let names = match predicate.split(' ').next() {
            Some("in") if predicate != "in" => &self.states,
            Some("mated" | "apart" | "fitted" | "out" | "in") => &self.parts,
            Some("commanded" | "at" | "below") => &self.states,
            _ => return term.to_owned(),
        };
        [not, &renamed(names, subject), " ", predicate].concat()
    }

    /// `wire.W2.colour`, `module.engine.pin."C1.6".pull_up`.
    fn path(&self, text: &str) -> String {
        let Some(mut path) = edit::path(text) else {
            return text.to_owned();
        };
        if let [table, _, "pin", ..] = path.iter().map(String::as_str).collect::<Vec<_>>().as_slice()
            && *table == "module"
            && path.len() >= 4
        {
            if !path[3].contains('.') && path.len() >= 5 {
                let cavity = path.remove(4);
                path[3] = [&path[3], ".", &cavity].concat();
            }
            path[3] = self.place(&path[3]);
        }
        if path.len() >= 4 && path[0] == "module" && path[2] == "channel" {
            path[3] = renamed(&self.channels, &path[3]);
        }
        if path.len() >= 2 {
            let names = match path[0].as_str() {
                table if PARTS.contains(&table) => Some(&self.parts),
                "bundle" | "chafe" => Some(&self.runs),
                "sensed" | "load" | "rhythm" => Some(&self.states),
                _ => None,
            };
            if let Some(names) = names {
                path[1] = renamed(names, &path[1]);
            }
        }
        edit::dotted(&path)
    }

    /// Moves the pins of modules to the new places of their cavities.
    fn pins(&self, document: &mut DocumentMut) {
        if self.cavities.is_empty() && self.parts.is_empty() {
            return;
        }
        for module in edit::keys(document, &["module"]) {
            let path = ["module".to_owned(), module, "pin".to_owned()];
            let Some(table) = edit::get(document.as_table(), &path).and_then(Item::as_table_like) else {
                continue;
            };
            let pins: Vec<(Key, String, Item)> = cavities(table);
            if pins.iter().all(|(_, cavity, _)| self.place(cavity) == *cavity) {
                continue;
            }
            let mut new = Table::new();
            for (key, cavity, pin) in pins {
                let place = self.place(&cavity);
                let Some((connector, number)) = place.split_once('.') else {
                    continue;
                };
                let group = new.entry(connector).or_insert_with(|| {
                    let mut group = Table::new();
                    group.set_dotted(true);
                    Item::Table(group)
                });
                let Some(group) = group.as_table_like_mut() else {
                    continue;
                };
                let decor = key.leaf_decor().clone();
                let key = Key::new(number).with_leaf_decor(decor);
                let pin = pin.into_value().map_or(Item::None, Item::Value);
                group.entry_format(&key).or_insert(pin);
            }
            let Some(old) = get_mut(document.as_table_mut(), &path) else {
                continue;
            };
            match old {
                Item::Table(old) => {
                    old.clear();
                    new.iter().for_each(|(key, item)| {
                        old.insert(key, item.clone());
                    });
                }
                old => *old = Item::Value(Value::InlineTable(inline(new))),
            }
        }
    }

    /// Moves the words that connectors have for cavities.
    fn cavity_words(&self, document: &mut DocumentMut) {
        let mut moved = Vec::new();
        for (old, new) in &self.cavities {
            let Some((from, number)) = old.split_once('.') else {
                continue;
            };
            let path = ["connector", from, "cavity", number].map(str::to_owned);
            if let Some(words) = edit::take(document.as_table_mut(), &path).and_then(|item| item.into_value().ok()) {
                moved.push((new, words));
            }
        }
        for (new, words) in moved {
            let Some((to, number)) = new.split_once('.') else {
                continue;
            };
            let path = ["connector", to, "cavity", number].map(str::to_owned);
            edit::set(document.as_table_mut(), &path, words);
        }
    }
}

/// The pins of a module one by one: key, cavity, what it is.
pub(super) fn cavities(table: &dyn TableLike) -> Vec<(Key, String, Item)> {
    let mut pins = Vec::new();
    for (name, item) in table.iter() {
        if name.contains('.') {
            let key = table.key(name).cloned().unwrap_or_else(|| Key::new(name));
            pins.push((key, name.to_owned(), item.clone()));
        } else if let Some(group) = item.as_table_like() {
            for (number, pin) in group.iter() {
                let key = group.key(number).cloned().unwrap_or_else(|| Key::new(number));
                pins.push((key, [name, ".", number].concat(), pin.clone()));
            }
        }
    }
    pins
}

fn inline(table: Table) -> InlineTable {
    let mut table = table;
    table.iter_mut().for_each(|(_, item)| {
        if let Item::Table(group) = item {
            *item = Item::Value(Value::InlineTable(std::mem::take(group).into_inline_table()));
        }
    });
    table.into_inline_table()
}

pub(super) fn get_mut<'t>(table: &'t mut dyn TableLike, path: &[String]) -> Option<&'t mut Item> {
    let (first, rest) = path.split_first()?;
    let item = table.get_mut(first)?;
    if rest.is_empty() {
        Some(item)
    } else {
        get_mut(item.as_table_like_mut()?, rest)
    }
}

fn rename_keys(document: &mut DocumentMut, path: &[&str], names: &Names) {
    let path: Vec<String> = path.iter().map(|key| (*key).to_owned()).collect();
    if let Some(table) = get_mut(document.as_table_mut(), &path).and_then(Item::as_table_like_mut) {
        edit::rekey(table, &|key| names.get(key).cloned());
    }
}

fn renamed(names: &Names, name: &str) -> String {
    names.get(name).cloned().unwrap_or_else(|| name.to_owned())
}

/// What the string at these keys refers to, if to anything that can be renamed.
fn refers(path: &[String]) -> Option<Refers> {
    let path: Vec<&str> = path.iter().map(String::as_str).collect();
    Some(match path.as_slice() {
        ["wire", _, "from" | "to"]
        | ["feed" | "fuse", _, "from"]
        | ["ground", _, "to"]
        | ["device", _, "pins", _]
        | ["device", _, "between"]
        | ["bundle" | "chafe", _, "wires"]
        | ["module", _, "channel", _, "pin" | "against"]
        | ["module", _, "monitor", "pin"]
        | ["archetype", "ask", _, "cavity" | "name" | "beside"] => Refers::Place,
        ["module", _, "pin", .., "on"] | ["module", _, "monitor", "runs"] | ["rhythm", _, "runs"] => Refers::Condition,
        ["device", _, "senses" | "load" | "rhythm"] | ["rhythm", _, "by"] | ["rhythm", _, "phase", _, "sets"] => {
            Refers::State
        }
        ["module", _, "monitor", "channel"] => Refers::Channel,
        ["archetype", "ask", _, "keys"] | ["archetype", "ask", _, "choose", "drop"] => Refers::Path,
        ["archetype", "ask", _, "choose", "add"] => Refers::Piece,
        _ => return None,
    })
}
