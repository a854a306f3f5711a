//! Two circuit files laid over each other: what only one says stands, what both say must be the same.

use toml_edit::{Array, ArrayOfTables, DocumentMut, Item, Table, TableLike, Value};

use super::edit;
use super::error::ArchetypeError;

/// Laying one circuit over another.
pub(super) struct Merge {
    /// Their names, for telling where they differ.
    pub(super) names: [String; 2],
}

impl Merge {
    /// Lays `other` over `onto`.
    pub(super) fn all(&self, onto: &mut DocumentMut, other: &DocumentMut) -> Result<(), ArchetypeError> {
        self.tables(onto.as_table_mut(), other.as_table(), &mut Vec::new())
    }

    fn tables(
        &self,
        onto: &mut dyn TableLike,
        other: &dyn TableLike,
        path: &mut Vec<String>,
    ) -> Result<(), ArchetypeError> {
        for (key, item) in other.iter() {
            path.push(key.to_owned());
            let at: Vec<&str> = path.iter().map(String::as_str).collect();
            let Some(old) = onto.get_mut(key).filter(|old| !old.is_none()) else {
                let is_inline = onto.iter().next().is_some_and(|(_, first)| first.is_inline_table());
                onto.insert(key, moved(item, is_inline));
                path.pop();
                continue;
            };
            match at.as_slice() {
                // Words, of which one set is enough.
                ["title"] | [.., "name"] => {}
                ["archetype", "about"] => join(old, item),
                ["archetype", "serves" | "cautions"] | ["include"] => unite(old, item),
                ["connector", _, "rows"] => longer(old, item),
                ["module", _, "monitor"] => monitors(old, item),
                _ => match (old.as_table_like_mut(), item.as_table_like()) {
                    (Some(old), Some(new)) => self.tables(old, new, path)?,
                    _ => self.same(old, item, path)?,
                },
            }
            path.pop();
        }
        Ok(())
    }

    fn same(&self, old: &Item, new: &Item, path: &[String]) -> Result<(), ArchetypeError> {
        let (first, second) = (strings(old), strings(new));
        if first == second {
            return Ok(());
        }
        let [first_name, second_name] = self.names.clone();
        Err(ArchetypeError::Contradiction {
            place: edit::dotted(path),
            first_name,
            first,
            second_name,
            second,
        })
    }
}

/// What an item says, whatever its blanks, comments and form: tables by key.
pub(super) fn strings(item: &Item) -> String {
    if let Some(table) = item.as_table_like() {
        let mut entries: Vec<String> = table
            .iter()
            .map(|(key, item)| [key, " = ", &strings(item)].concat())
            .collect();
        entries.sort();
        return format!("{{ {} }}", entries.join(", "));
    }
    match item {
        Item::ArrayOfTables(tables) => {
            let tables: Vec<String> = tables
                .iter()
                .map(|table| strings(&Item::Table(table.clone())))
                .collect();
            format!("[{}]", tables.join(", "))
        }
        Item::Value(value) => plain(value),
        _ => String::new(),
    }
}

fn plain(value: &Value) -> String {
    match value {
        Value::String(text) => format!("{:?}", text.value()),
        Value::Array(array) => {
            let values: Vec<String> = array.iter().map(|value| strings(&Item::Value(value.clone()))).collect();
            format!("[{}]", values.join(", "))
        }
        other => other.clone().decorated("", "").to_string(),
    }
}

/// An item of another file: where it stood there says nothing here.
fn moved(item: &Item, is_inline: bool) -> Item {
    match item {
        Item::Table(table) if is_inline => Item::Value(table.clone().into_inline_table().into()),
        Item::Table(table) => Item::Table(unplaced(table)),
        Item::ArrayOfTables(tables) => Item::ArrayOfTables(tables.iter().map(unplaced).collect()),
        other => other.clone(),
    }
}

fn unplaced(table: &Table) -> Table {
    let mut table = table.clone();
    table.set_position(None);
    for (_, item) in table.iter_mut() {
        *item = moved(item, false);
    }
    table
}

fn join(old: &mut Item, new: &Item) {
    if let (Some(old), Some(new)) = (old.as_value_mut(), new.as_str()) {
        let both = [old.as_str().unwrap_or_default(), new].join("; ");
        edit::replace(old, both.into());
    }
}

fn unite(old: &mut Item, new: &Item) {
    let (Some(old), Some(new)) = (old.as_array_mut(), new.as_array()) else {
        return;
    };
    let known: Vec<String> = old.iter().map(plain).collect();
    new.iter()
        .filter(|value| !known.contains(&plain(value)))
        .for_each(|value| old.push(value.clone()));
}

/// Rows of a plug that both have: those that reach further.
fn longer(old: &mut Item, new: &Item) {
    let (Some(ours), Some(theirs)) = (old.as_array(), new.as_array()) else {
        return;
    };
    let last = |rows: &Array| {
        let text = rows.to_string();
        let numbers = text.split(|letter: char| !letter.is_ascii_digit());
        numbers.filter_map(|number| number.parse::<u32>().ok()).max()
    };
    if last(theirs) > last(ours) {
        *old = new.clone();
    }
}

/// The checks of both, each once.
fn monitors(old: &mut Item, new: &Item) {
    let tables = |item: &Item| -> Vec<Table> {
        match item {
            Item::ArrayOfTables(tables) => tables.iter().map(unplaced).collect(),
            Item::Value(Value::Array(array)) => array
                .iter()
                .filter_map(Value::as_inline_table)
                .map(|table| table.clone().into_table())
                .collect(),
            _ => Vec::new(),
        }
    };
    let mut all = tables(old);
    for table in tables(new) {
        let said = strings(&Item::Table(table.clone()));
        if !all.iter().any(|known| strings(&Item::Table(known.clone())) == said) {
            all.push(table);
        }
    }
    *old = Item::ArrayOfTables(all.into_iter().collect::<ArrayOfTables>());
}
