//! What sits next to a cavity in a module's plug: asked of any ready-made circuit, for leaks between neighbours are faults of
//! their own.
//!
//! The answers are made from the circuit: a cavity next to that one which is still free, and where the module's own feed and
//! ground come from.

use toml_edit::{DocumentMut, Item};

use super::Choice;
use super::edit;
use super::fill::{cut, rows_of, used_cavities};
use super::rename::cavities;

/// Where a wire at 12 V, or at ground, comes from in a module that has no feed or ground of its own in the file.
const FEED: &str = "battery+";
const GROUND: &str = "body";

/// What may sit next to a cavity, nothing first; empty where no cavity next to it is free.
pub(super) fn choices(document: &DocumentMut, cavity: &str) -> Vec<Choice> {
    let Some((module, free)) = module_of(document, cavity).zip(free_beside(document, cavity)) else {
        return Vec::new();
    };
    let (_, number) = cut(&free);
    let wire = |say: &str, name: &str, pin: &str, from: &str| Choice {
        say: say.to_owned(),
        drop: Vec::new(),
        add: format!(
            "[module.{module}.pin]\n{free} = {{ {pin}, name = \"{name} beside {cavity}\" }}\n\n[wire.beside-{number}]\nname = \
             \"{name} beside {cavity}\"\nfrom = \"{from}\"\nto = \"{free}\"\n"
        ),
    };
    let feed = source(document, &module, "feed").unwrap_or_else(|| FEED.to_owned());
    let ground = source(document, &module, "ground").unwrap_or_else(|| GROUND.to_owned());
    vec![
        Choice {
            say: "nothing known".to_owned(),
            drop: Vec::new(),
            add: String::new(),
        },
        wire("12 V", "wire at 12 V", "kind = \"feed\", powers = false", &feed),
        // A second ground of the module would carry its current; an input that is grounded does not.
        wire(
            "ground",
            "wire at ground",
            "kind = \"input\", pull_up = \"10k\", pull_down = \"none\"",
            &ground,
        ),
    ]
}

fn pins(document: &DocumentMut, module: &str) -> Vec<(String, Item)> {
    let path = ["module", module, "pin"].map(str::to_owned);
    let pins = edit::get(document.as_table(), &path).and_then(Item::as_table_like);
    let all = pins.map(cavities).unwrap_or_default();
    all.into_iter().map(|(_, cavity, pin)| (cavity, pin)).collect()
}

fn module_of(document: &DocumentMut, cavity: &str) -> Option<String> {
    let has_it = |module: &String| pins(document, module).iter().any(|(place, _)| place == cavity);
    edit::keys(document, &["module"]).into_iter().find(has_it)
}

/// The nearest free cavity in the same row, else above or below.
fn free_beside(document: &DocumentMut, cavity: &str) -> Option<String> {
    let (connector, number) = cut(cavity);
    let number: u16 = number.parse().ok()?;
    let path = ["connector", connector, "rows"].map(str::to_owned);
    let rows = edit::get(document.as_table(), &path).map(rows_of).unwrap_or_default();
    let mut next: Vec<u16> = Vec::new();
    let at = rows
        .iter()
        .enumerate()
        .find_map(|(row, all)| Some((row, all.iter().position(|one| *one == number)?)));
    match at {
        Some((row, column)) => {
            let there = |row: Option<usize>, column: Option<usize>| rows.get(row?)?.get(column?).copied();
            let (left, right) = (column.checked_sub(1), column.checked_add(1));
            next.extend(there(Some(row), right));
            next.extend(there(Some(row), left));
            next.extend(there(row.checked_add(1), Some(column)));
            next.extend(there(row.checked_sub(1), Some(column)));
        }
        // Without rows there is one, from cavity 1 up.
        None => next.extend(
            [number.checked_add(1), number.checked_sub(1)]
                .into_iter()
                .flatten()
                .filter(|one| *one > 0),
        ),
    }
    let used = used_cavities(document);
    let place = |number: u16| format!("{connector}.{number}");
    next.into_iter().map(place).find(|place| !used.contains(place))
}

/// Where the wire to the first pin of a kind comes from, if several may start there: no cavity holds two.
fn source(document: &DocumentMut, module: &str, kind: &str) -> Option<String> {
    let is_it = |pin: &Item| pin.as_table_like()?.get("kind")?.as_str().map(|one| one == kind);
    let (cavity, _) = pins(document, module)
        .into_iter()
        .find(|(_, pin)| is_it(pin) == Some(true))?;
    let ends = edit::keys(document, &["wire"]).into_iter().filter_map(|wire| {
        let end = |key: &str| {
            let path = ["wire", wire.as_str(), key].map(str::to_owned);
            edit::get(document.as_table(), &path)
                .and_then(Item::as_str)
                .map(str::to_owned)
        };
        Some((end("from")?, end("to")?))
    });
    let mut far = ends.filter_map(|(from, to)| match () {
        () if from == cavity => Some(to),
        () if to == cavity => Some(from),
        () => None,
    });
    far.find(|place| !place.contains('.'))
}
