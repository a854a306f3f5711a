//! Wire colours: plain English names, and the two-letter codes of IEC 60757.

/// Every colour that a file may name, with its code in IEC 60757 where it has one (recalled, not read).
pub const NAMES: &[(&str, &str)] = &[
    ("black", "BK"),
    ("brown", "BN"),
    ("red", "RD"),
    ("orange", "OG"),
    ("yellow", "YE"),
    ("green", "GN"),
    ("blue", "BU"),
    ("violet", "VT"),
    ("grey", "GY"),
    ("white", "WH"),
    ("pink", "PK"),
    ("turquoise", "TQ"),
    ("silver", "SR"),
    ("gold", "GD"),
    ("cream", ""),
    ("beige", ""),
    ("transparent", ""),
    ("light blue", ""),
    ("dark blue", ""),
    ("light green", ""),
    ("dark green", ""),
];

/// Other words for them.
const OTHER: &[(&str, &str)] = &[
    ("gray", "grey"),
    ("purple", "violet"),
    ("tan", "beige"),
    ("clear", "transparent"),
];

/// The plain name of a colour that is written as a name or a code, in any case; `None` if it is not known.
pub fn plain_name(word: &str) -> Option<&'static str> {
    let lower = word.to_lowercase();
    let other = OTHER.iter().find(|(other, _)| *other == lower).map(|(_, name)| *name);
    other.or_else(|| {
        let is = |name: &str, code: &str| name == lower || (!code.is_empty() && code.eq_ignore_ascii_case(word));
        NAMES.iter().find(|(name, code)| is(name, code)).map(|(name, _)| *name)
    })
}
