//! From the spanned tables of the TOML parser to records that remember where each value stood.
//!
//! A record is described once, with [`record!`]: its keys, their types and what they mean. From that come the decoder,
//! the list of known keys and the JSON Schema. A decoder that yields nothing has noted a mistake.

use std::ops::Range;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::mistake::Slips;

/// A value with its place.
pub(crate) type Node<'i> = Spanned<DeValue<'i>>;

/// What can be read from a TOML value.
pub(crate) trait Decode: Sized {
    /// Reads it; `None` after noting a mistake.
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self>;

    /// What a key that is left out means; `None` if it must not be.
    fn absent() -> Option<Self> {
        None
    }
}

impl<T: Decode> Decode for Option<T> {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        T::decode(node, slips).map(Some)
    }

    fn absent() -> Option<Self> {
        Some(None)
    }
}

impl<T: Decode> Decode for Vec<T> {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        let Some(array) = node.get_ref().as_array() else {
            wrong_type(node, "a list in square brackets", slips);
            return None;
        };
        // Elements that cannot be read have been noted; the rest is still worth checking.
        Some(array.iter().filter_map(|element| T::decode(element, slips)).collect())
    }
}

/// Notes that something else than `expected` stands here.
pub(crate) fn wrong_type(node: &Node, expected: &str, slips: &mut Slips) {
    let found = match node.get_ref() {
        DeValue::String(_) => "a text in quotes",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table of keys",
    };
    slips.push("type", &node.span(), format!("this is {found}, {expected} is expected"));
}

/// Entries of a table in the order of the text.
pub(crate) fn entries<'t, 'i>(table: &'t DeTable<'i>) -> Vec<(&'t str, Range<usize>, &'t Node<'i>)> {
    let mut entries: Vec<_> = table
        .iter()
        .map(|(key, node)| (key.get_ref().as_ref(), key.span(), node))
        .collect();
    entries.sort_by_key(|(_, at, _)| at.start);
    entries
}

/// A table whose keys are being taken.
pub(crate) struct Keys<'t, 'i> {
    table: &'t DeTable<'i>,
    at: Range<usize>,
}

impl<'t, 'i> Keys<'t, 'i> {
    /// Opens a table; notes every key that is not `known`.
    pub(crate) fn open(node: &'t Node<'i>, known: &[&str], slips: &mut Slips) -> Option<Self> {
        let Some(table) = node.get_ref().as_table() else {
            wrong_type(node, "a table of keys", slips);
            return None;
        };
        for (key, at, _) in entries(table) {
            if !known.contains(&key) {
                slips.unknown(
                    "unknown-key",
                    &at,
                    format!("unknown key `{key}`"),
                    key,
                    known.iter().copied(),
                );
            }
        }
        Some(Self { table, at: node.span() })
    }

    /// Takes a key.
    pub(crate) fn take<T: Decode>(&self, key: &str, slips: &mut Slips) -> Option<T> {
        if let Some(node) = self.table.get(key) {
            // A bad value of an optional key counts as left out: it has been noted, and the rest can be checked.
            return T::decode(node, slips).or_else(T::absent);
        }
        let absent = T::absent();
        if absent.is_none() {
            slips.push("missing-key", &self.at, format!("`{key}` is missing here"));
        }
        absent
    }
}

/// Describes a table: its keys with their types and meaning. Optional keys are `Option`. `[at]` keeps its place.
macro_rules! record {
    ($(#[$meta:meta])* $name:ident $([$at:ident])? { $($(#[$key_meta:meta])* $key:ident: $type:ty,)* }) => {
        $(#[$meta])*
        #[derive(Clone, Debug, schemars::JsonSchema)]
        #[schemars(deny_unknown_fields)]
        pub(crate) struct $name {
            $(
                /// Where it stands in the text.
                #[schemars(skip)]
                pub(crate) $at: std::ops::Range<usize>,
            )?
            $($(#[$key_meta])* pub(crate) $key: $type,)*
        }

        impl $name {
            /// The keys that may stand in it.
            pub(crate) const KEYS: &[&str] = &[$(stringify!($key)),*];
        }

        impl $crate::file::decode::Decode for $name {
            fn decode(
                node: &$crate::file::decode::Node,
                slips: &mut $crate::file::mistake::Slips,
            ) -> Option<Self> {
                let keys = $crate::file::decode::Keys::open(node, Self::KEYS, slips)?;
                $(let $key: Option<$type> = keys.take(stringify!($key), slips);)*
                Some(Self { $($at: node.span(),)? $($key: $key?,)* })
            }
        }
    };
}
pub(crate) use record;

/// A table of things by name, in the order of the text. One that could not be read keeps its name, so that what refers
/// to it is not blamed as well.
#[derive(Clone, Debug)]
pub(crate) struct ByName<T>(pub(crate) Vec<Named<T>>);

/// One entry of a [`ByName`].
#[derive(Clone, Debug)]
pub(crate) struct Named<T> {
    /// Its name.
    pub(crate) name: String,
    /// Where the name stands.
    pub(crate) at: Range<usize>,
    /// What it is, if it could be read.
    pub(crate) is: Option<T>,
}

impl<T> ByName<T> {
    /// Names, in order.
    pub(crate) fn names(&self) -> impl Iterator<Item = &str> {
        self.0.iter().map(|entry| entry.name.as_str())
    }

    /// Entries, in order.
    pub(crate) fn iter(&self) -> std::slice::Iter<'_, Named<T>> {
        self.0.iter()
    }
}

/// Left out: none.
impl<T> Default for ByName<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T: Decode> Decode for ByName<T> {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        let Some(table) = node.get_ref().as_table() else {
            wrong_type(node, "a table of names", slips);
            return None;
        };
        let read = |(name, at, node): (&str, Range<usize>, &Node)| Named {
            name: name.to_owned(),
            at,
            is: T::decode(node, slips),
        };
        Some(Self(entries(table).into_iter().map(read).collect()))
    }

    fn absent() -> Option<Self> {
        Some(Self::default())
    }
}

impl<T: JsonSchema> JsonSchema for ByName<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        format!("{} by name", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let of = generator.subschema_for::<T>();
        json_schema!({ "type": "object", "additionalProperties": of })
    }
}

/// Things by connector and cavity, in the order of the text: `M1.12 = …`, which TOML reads as a table in a table, or the
/// same in quotes. `name` is the whole path.
#[derive(Clone, Debug)]
pub(crate) struct ByCavity<T>(pub(crate) Vec<Named<T>>);

impl<T> ByCavity<T> {
    /// Entries, in order.
    pub(crate) fn iter(&self) -> std::slice::Iter<'_, Named<T>> {
        self.0.iter()
    }
}

impl<T> Default for ByCavity<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T: Decode> Decode for ByCavity<T> {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        let Some(table) = node.get_ref().as_table() else {
            wrong_type(node, "a table of cavities", slips);
            return None;
        };
        let mut found = Vec::new();
        for (name, at, node) in entries(table) {
            if name.contains('.') {
                found.push(Named {
                    name: name.to_owned(),
                    at,
                    is: T::decode(node, slips),
                });
            } else if let Some(table) = node.get_ref().as_table() {
                for (number, place, node) in entries(table) {
                    let at = at.start.min(place.start)..place.end;
                    // A header `[module.x.pin.M1]` may stand far above its pins: then blame the pin alone.
                    let at = if at.len() <= name.len() + number.len() + 5 {
                        at
                    } else {
                        place
                    };
                    found.push(Named {
                        name: format!("{name}.{number}"),
                        at,
                        is: T::decode(node, slips),
                    });
                }
            } else {
                wrong_type(node, "a cavity such as M1.12 with its table", slips);
            }
        }
        Some(Self(found))
    }

    fn absent() -> Option<Self> {
        Some(Self::default())
    }
}

impl<T: JsonSchema> JsonSchema for ByCavity<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        format!("{} by cavity", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let of = generator.subschema_for::<T>();
        json_schema!({
            "type": "object",
            "patternProperties": { "\\.": of },
            "additionalProperties": { "type": "object", "additionalProperties": of }
        })
    }
}
