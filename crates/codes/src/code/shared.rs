//! What several codes have in common by the code table alone. What they share in the vehicle, the circuit tells.

use super::TroubleCode;
use super::table::{self, CircuitKind, Entry, Says};

/// Something that several codes have in common. Each list is in the order in which the codes were given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Shared {
    /// A supply or the battery voltage is at fault itself: other codes may only follow from it.
    Supply {
        /// The codes of the supply.
        codes: Vec<TroubleCode>,
        /// Codes of items that need a supply.
        may_follow: Vec<TroubleCode>,
    },
    /// Several codes of the same item in the same place.
    Item {
        /// The item with its place.
        name: String,
        /// Its codes.
        codes: Vec<TroubleCode>,
    },
    /// Several modules are not heard: the bus, or what feeds them.
    Silent {
        /// Their codes.
        codes: Vec<TroubleCode>,
    },
    /// Several items, all of the same bank.
    Bank {
        /// The bank.
        bank: u8,
        /// Their codes.
        codes: Vec<TroubleCode>,
    },
}

impl Shared {
    /// In plain words, with what to do first.
    pub fn words(&self) -> String {
        match self {
            Self::Supply { codes, may_follow } if may_follow.is_empty() => {
                format!("Check the supply of {} first.", list(codes))
            }
            Self::Supply { codes, may_follow } => format!(
                "Check the supply of {} first: {} may only follow from it.",
                list(codes),
                list(may_follow)
            ),
            Self::Item { name, codes } => format!("{} are all of the same item: {name}.", list(codes)),
            Self::Silent { codes } => format!(
                "{}: several modules are not heard; check the bus and what feeds them all before any one module.",
                list(codes)
            ),
            Self::Bank { bank, codes } => format!("{} are all of bank {bank}.", list(codes)),
        }
    }

    /// The codes it is about.
    pub fn codes(&self) -> &[TroubleCode] {
        match self {
            Self::Supply { codes, .. }
            | Self::Item { codes, .. }
            | Self::Silent { codes }
            | Self::Bank { codes, .. } => codes,
        }
    }
}

/// `P0122, P0335 and P0340`.
pub fn list(codes: &[impl ToString]) -> String {
    let names: Vec<String> = codes.iter().map(ToString::to_string).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// What these codes have in common, what explains most first. Codes that the table lacks are passed over.
pub fn shared(codes: &[TroubleCode]) -> Vec<Shared> {
    let mut entries: Vec<&Entry> = Vec::new();
    for entry in codes.iter().filter_map(|code| table::find(*code)) {
        if !entries.contains(&entry) {
            entries.push(entry);
        }
    }
    let those = |wanted: &dyn Fn(&Entry) -> bool| -> Vec<TroubleCode> {
        entries
            .iter()
            .filter(|entry| wanted(entry))
            .map(|entry| entry.code)
            .collect()
    };
    let is_supply = |entry: &Entry| {
        entry.circuit == CircuitKind::Supply
            || (entry.circuit == CircuitKind::SensedVoltage && entry.says != Says::Range)
    };
    let mut found = Vec::new();
    let supply = those(&is_supply);
    if !supply.is_empty() && entries.len() > 1 {
        let may_follow = those(&|entry| !is_supply(entry) && needs_supply(entry.circuit));
        found.push(Shared::Supply {
            codes: supply,
            may_follow,
        });
    }
    let silent = those(&|entry| entry.says == Says::NoMessages);
    if silent.len() > 1 {
        found.push(Shared::Silent { codes: silent });
    }
    let mut names: Vec<String> = Vec::new();
    for name in entries.iter().map(|entry| entry.name()) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    for name in &names {
        let codes = those(&|entry| entry.name() == *name);
        if codes.len() > 1 {
            found.push(Shared::Item {
                name: name.clone(),
                codes,
            });
        }
    }
    for bank in 1..=2 {
        let codes = those(&|entry| entry.bank == Some(bank));
        let of_bank = entries.iter().filter(|entry| entry.bank.is_some()).count();
        if codes.len() > 1 && codes.len() == of_bank && names.len() > 1 {
            found.push(Shared::Bank { bank, codes });
        }
    }
    found
}

/// Sensors on a reference, and loads and modules on battery voltage.
const fn needs_supply(circuit: CircuitKind) -> bool {
    !matches!(
        circuit,
        CircuitKind::Judged | CircuitKind::InsideModule | CircuitKind::Knock
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::code::read;

    #[track_caller]
    fn words(codes: &[&str]) -> Vec<String> {
        let codes: Vec<TroubleCode> = codes.iter().map(|text| read(text).expect("a code").code).collect();
        shared(&codes).iter().map(Shared::words).collect()
    }

    #[test]
    fn a_reference_comes_before_the_sensors_on_it() {
        assert_eq!(
            words(&["P0107", "P0642", "P0532"]),
            ["Check the supply of P0642 first: P0107 and P0532 may only follow from it."]
        );
    }

    #[test]
    fn the_same_item_the_same_bank_and_silent_modules_are_told() {
        assert_eq!(
            words(&["P0122", "P0121"]),
            ["P0122 and P0121 are all of the same item: throttle or pedal position A."]
        );
        assert_eq!(words(&["P0151", "P0345"]), ["P0151 and P0345 are all of bank 2."]);
        assert!(words(&["U0100", "U0121"])[0].contains("the bus"));
    }

    #[test]
    fn one_code_twice_and_codes_apart_share_nothing() {
        assert!(words(&["P0122", "P0122"]).is_empty());
        assert!(words(&["P0122", "P0335", "P1234"]).is_empty());
        assert!(words(&["P0131", "P0151"]).is_empty());
        assert!(
            words(&["P0131", "P0151", "P0345"]).is_empty(),
            "one of them is of the other bank"
        );
    }
}
