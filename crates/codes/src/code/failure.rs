//! The failure type byte: the third byte of a code from a newer module, which says in what way it failed.

use std::fmt;
use std::sync::LazyLock;

/// The third byte of a code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FailureType(pub u8);

const TABLE: &str = include_str!("../../data/failure_types.csv");

static MEANINGS: LazyLock<Vec<(u8, String)>> = LazyLock::new(|| {
    crate::rows::rows(TABLE)
        .filter_map(|row| Some((u8::from_str_radix(row.get(0)?, 16).ok()?, row.get(1)?.to_owned())))
        .collect()
});

impl FailureType {
    /// What it means; `None` where the table has no row for it.
    pub fn meaning(self) -> Option<&'static str> {
        let found = MEANINGS.iter().find(|(byte, _)| *byte == self.0)?;
        Some(&found.1)
    }
}

impl fmt::Display for FailureType {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02X}", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_read_and_in_order() {
        let lines = TABLE.lines().filter(|line| !line.starts_with('#')).count();
        assert_eq!(MEANINGS.len(), lines - 1);
        assert!(MEANINGS.is_sorted_by(|a, b| a.0 < b.0));
    }

    #[test]
    fn open_alone_is_13_and_15_may_be_a_short_to_battery() {
        assert_eq!(FailureType(0x13).meaning(), Some("open"));
        assert_eq!(FailureType(0x15).meaning(), Some("short to battery or open"));
        assert_eq!(FailureType(0x10).meaning(), None);
        assert_eq!(FailureType(0x1a).to_string(), "1A");
    }
}
