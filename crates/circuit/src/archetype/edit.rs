//! Changing the text of a circuit file in place: comments and order stay.

use toml_edit::{DocumentMut, InlineTable, Item, Key, Table, TableLike, Value};

/// Keys from the outermost in.
pub(super) type Path = Vec<String>;

/// A path from its dotted form; `None` if it is none.
pub(super) fn path(text: &str) -> Option<Path> {
    let keys = Key::parse(text).ok()?;
    Some(keys.iter().map(|key| key.get().to_owned()).collect())
}

/// The dotted form of a path.
pub(super) fn dotted(path: &[String]) -> String {
    let keys: Vec<String> = path
        .iter()
        .map(|key| Key::new(key).display_repr().into_owned())
        .collect();
    keys.join(".")
}

/// A cavity as a key: TOML reads `M1.12` as a table in a table where it is not in quotes. So does this, where it finds that.
fn split_cavity(table: &dyn TableLike, path: &[String]) -> Option<Path> {
    let (first, rest) = path.split_first()?;
    if table.contains_key(first) {
        return None;
    }
    let (connector, cavity) = first.split_once('.')?;
    table.contains_key(connector).then(|| {
        let mut whole = vec![connector.to_owned(), cavity.to_owned()];
        whole.extend_from_slice(rest);
        whole
    })
}

/// What stands at a path.
pub(super) fn get<'t>(table: &'t dyn TableLike, path: &[String]) -> Option<&'t Item> {
    if let Some(path) = split_cavity(table, path) {
        return get(table, &path);
    }
    let (first, rest) = path.split_first()?;
    let item = table.get(first)?;
    if rest.is_empty() {
        Some(item)
    } else {
        get(item.as_table_like()?, rest)
    }
}

/// Puts a value at a path; tables on the way are made. `false` if something else than a table stands on the way.
pub(super) fn set(table: &mut dyn TableLike, path: &[String], value: Value) -> bool {
    if let Some(path) = split_cavity(table, path) {
        return set(table, &path, value);
    }
    let Some((first, rest)) = path.split_first() else {
        return false;
    };
    if !rest.is_empty() {
        let item = table
            .entry(first)
            .or_insert_with(|| Item::Value(InlineTable::new().into()));
        return item.as_table_like_mut().is_some_and(|table| set(table, rest, value));
    }
    match table.get_mut(first).and_then(Item::as_value_mut) {
        Some(old) => replace(old, value),
        None => {
            table.insert(first, Item::Value(value));
        }
    }
    true
}

/// Puts a value where another stands; the blanks and the comment around it stay.
pub(super) fn replace(old: &mut Value, mut new: Value) {
    *new.decor_mut() = old.decor().clone();
    *old = new;
}

/// Takes out what stands at a path; `None` if nothing does.
pub(super) fn take(table: &mut dyn TableLike, path: &[String]) -> Option<Item> {
    if let Some(path) = split_cavity(table, path) {
        return take(table, &path);
    }
    let (first, rest) = path.split_first()?;
    match (table.get_mut(first)?, rest) {
        (_, []) => table.remove(first),
        // One check of several, by its code.
        (Item::ArrayOfTables(checks), [code]) => {
            let is_it = |check: &Table| check.get("code").and_then(Item::as_str) == Some(code);
            let at = checks.iter().position(is_it)?;
            let taken = checks.get(at).cloned();
            checks.remove(at);
            if checks.is_empty() {
                table.remove(first);
            }
            taken.map(Item::Table)
        }
        (item, rest) => take(item.as_table_like_mut()?, rest),
    }
}

/// Puts a piece of circuit file over another: what it says wins, tables and lists of tables grow together, other lists are
/// replaced.
pub(super) fn overlay(onto: &mut dyn TableLike, piece: &Table) {
    for (key, item) in piece {
        let both = onto
            .get_mut(key)
            .and_then(Item::as_table_like_mut)
            .zip(item.as_table_like());
        if let Some((old, new)) = both {
            overlay(old, &as_table(new));
            continue;
        }
        if let (Some(Item::ArrayOfTables(old)), Item::ArrayOfTables(new)) = (onto.get_mut(key), item) {
            new.iter().for_each(|table| old.push(table.clone()));
            continue;
        }
        match (onto.get_mut(key).and_then(Item::as_value_mut), item.as_value()) {
            (Some(old), Some(new)) => replace(old, new.clone()),
            _ => {
                onto.insert(key, item.clone());
            }
        }
    }
}

/// A table of any form as one with headers.
pub(super) fn as_table(table: &dyn TableLike) -> Table {
    let mut out = Table::new();
    for (key, item) in table.iter() {
        out.insert(key, item.clone());
    }
    out
}

/// The keys of the table at a path, in order; none if there is no such table.
pub(super) fn keys(document: &DocumentMut, path: &[&str]) -> Vec<String> {
    let path: Path = path.iter().map(|key| (*key).to_owned()).collect();
    let table = get(document.as_table(), &path).and_then(Item::as_table_like);
    table.map_or_else(Vec::new, |table| table.iter().map(|(key, _)| key.to_owned()).collect())
}

/// Gives keys of a table other names; their order and comments stay.
pub(super) fn rekey(table: &mut dyn TableLike, name: &dyn Fn(&str) -> Option<String>) {
    let entries: Vec<(Key, Item)> = table
        .iter()
        .filter_map(|(key, item)| Some((table.key(key)?.clone(), item.clone())))
        .collect();
    if !entries.iter().any(|(key, _)| name(key.get()).is_some()) {
        return;
    }
    table.clear();
    for (key, item) in entries {
        match name(key.get()) {
            None => table.entry_format(&key).or_insert(item),
            Some(new) => {
                let new = Key::new(new)
                    .with_leaf_decor(key.leaf_decor().clone())
                    .with_dotted_decor(key.dotted_decor().clone());
                table.entry_format(&new).or_insert(item)
            }
        };
    }
}
