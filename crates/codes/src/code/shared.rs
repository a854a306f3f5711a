//! What several codes have in common by the code table alone. What they share in the vehicle, the circuit tells.

use std::collections::BTreeSet;

use super::TroubleCode;
use super::table::{self, CircuitKind, Common, Entry, Says};

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
    /// Several codes of one sensor with more than one output: its plug, its supply and its ground come before either output.
    Sensor {
        /// The item with its outputs.
        name: String,
        /// Its codes.
        codes: Vec<TroubleCode>,
        /// Those of them that only compare one output with another.
        compare: Vec<TroubleCode>,
    },
    /// Several items that may hang on the same.
    HangOn {
        /// What that may be.
        on: Vec<Common>,
        /// Their codes.
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
            Self::Sensor { name, codes, compare } => {
                let follow = match compare.as_slice() {
                    [] => String::new(),
                    all => format!(
                        "; {} only compare{} them and may follow",
                        list(all),
                        if all.len() == 1 { "s" } else { "" }
                    ),
                };
                format!(
                    "{} are of one sensor: {name}{follow}. Look at its plug, its 5 V and its ground before either output is chased \
                     alone.",
                    list(codes)
                )
            }
            Self::HangOn { on, codes } => {
                let what: Vec<&str> = on.iter().map(|one| what_is(*one).0).collect();
                let first: Vec<&str> = on.iter().map(|one| what_is(*one).1).collect();
                format!(
                    "{} may have one cause: {}. Before one of them is chased alone: {}.",
                    list(codes),
                    what.join(", or "),
                    first.join("; ")
                )
            }
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
            | Self::Sensor { codes, .. }
            | Self::HangOn { codes, .. }
            | Self::Silent { codes }
            | Self::Bank { codes, .. } => codes,
        }
    }
}

/// What several circuits may hang on, in plain words, and what to do there first.
const fn what_is(common: Common) -> (&'static str, &'static str) {
    match common {
        Common::Reference => (
            "the 5 V that their module gives them",
            "measure the 5 V at one of their plugs, and if it is low, part the sensors on it one by one until it comes back",
        ),
        Common::SensorGround => (
            "the sensor ground that they share",
            "measure it at one of their plugs against battery negative, key on",
        ),
        Common::SensorFeed => (
            "the feed or the ground that these sensors share",
            "measure both at one of their plugs, key on",
        ),
        Common::Feed => (
            "the feed that these loads share, with its fuse, relay and splice, or the ground of the module that drives them",
            "measure the feed at one of their plugs, key on",
        ),
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
        // What a supply takes with it goes its way: a sensor's signal that is too high does not come of 5 V that are too low.
        let supplies_are = |says: Says| {
            entries
                .iter()
                .filter(|entry| is_supply(entry))
                .all(|entry| entry.says == says)
        };
        let opposite = match (supplies_are(Says::Low), supplies_are(Says::High)) {
            (true, _) => Some(Says::High),
            (_, true) => Some(Says::Low),
            _ => None,
        };
        let follows = |entry: &Entry| needs_supply(entry.circuit) && opposite != Some(entry.says);
        let may_follow = those(&|entry| !is_supply(entry) && follows(entry));
        found.push(Shared::Supply {
            codes: supply,
            may_follow,
        });
    }
    let silent = those(&|entry| entry.says == Says::NoMessages);
    if silent.len() > 1 {
        found.push(Shared::Silent { codes: silent });
    }
    found.extend(of_one_item(&entries));
    found.extend(hanging_on(&entries, &found));
    let names: BTreeSet<String> = entries.iter().map(|entry| entry.name()).collect();
    for bank in 1..=2 {
        let codes = those(&|entry| entry.bank == Some(bank));
        let of_bank = entries.iter().filter(|entry| entry.bank.is_some()).count();
        if codes.len() > 1 && codes.len() == of_bank && names.len() > 1 {
            found.push(Shared::Bank { bank, codes });
        }
    }
    found
}

/// Codes of one item in one place, and of one sensor with several outputs.
fn of_one_item(entries: &[&Entry]) -> Vec<Shared> {
    let place = |entry: &Entry| (entry.item.clone(), entry.body(), entry.bank, entry.sensor);
    let mut places = Vec::new();
    for entry in entries {
        if !places.contains(&place(entry)) {
            places.push(place(entry));
        }
    }
    let of_place = |at: &_| -> Vec<&Entry> { entries.iter().copied().filter(|entry| place(entry) == *at).collect() };
    let told = places.iter().map(of_place).filter(|own| own.len() > 1).map(|own| {
        let codes = |wanted: &dyn Fn(&Entry) -> bool| -> Vec<TroubleCode> {
            own.iter().filter(|one| wanted(one)).map(|one| one.code).collect()
        };
        let names: BTreeSet<String> = own.iter().map(|one| one.name()).collect();
        let outputs: BTreeSet<&str> = own
            .iter()
            .filter_map(|one| one.instance.as_deref())
            .flat_map(|one| one.split('/'))
            .collect();
        if names.len() == 1 {
            let (name, codes) = (own[0].name(), codes(&|_| true));
            return Shared::Item { name, codes };
        }
        let outputs: Vec<&str> = outputs.into_iter().collect();
        Shared::Sensor {
            name: format!("{} {}", own[0].item, list(&outputs)),
            codes: codes(&|_| true),
            compare: codes(&|one| one.says == Says::Correlation),
        }
    });
    told.collect()
}

/// Codes of several items that may come of the same, where no supply that is told already explains them.
fn hanging_on(entries: &[&Entry], told: &[Shared]) -> Vec<Shared> {
    let explained: Vec<TroubleCode> = (told.iter())
        .filter_map(|one| match one {
            Shared::Supply { may_follow, .. } => Some(may_follow.iter().copied()),
            _ => None,
        })
        .flatten()
        .collect();
    let mut found: Vec<(Vec<TroubleCode>, Vec<Common>)> = Vec::new();
    for &common in Common::ALL {
        let own = || {
            entries
                .iter()
                .filter(|entry| entry.may_come_of(common) && !explained.contains(&entry.code))
        };
        let names: BTreeSet<String> = own().map(|entry| entry.name()).collect();
        if names.len() < 2 {
            continue;
        }
        let codes: Vec<TroubleCode> = own().map(|entry| entry.code).collect();
        match found.iter_mut().find(|(known, _)| *known == codes) {
            Some((_, on)) => on.push(common),
            None => found.push((codes, vec![common])),
        }
    }
    found
        .into_iter()
        .map(|(codes, on)| Shared::HangOn { on, codes })
        .collect()
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
        // A high signal does not come of a low supply.
        assert_eq!(words(&["P0113", "P0562"]), ["Check the supply of P0562 first."]);
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
    fn loads_and_sensors_that_may_hang_on_the_same_are_told_together() {
        let one = |codes: &[&str]| {
            let [told] = words(codes).try_into().expect("one sentence");
            told
        };
        let injectors = one(&["P0201", "P0202", "P0203", "P0204"]);
        assert!(
            injectors.starts_with("P0201, P0202, P0203 and P0204 may have one cause: the feed that these loads share"),
            "{injectors}"
        );
        let low = one(&["P0107", "P0117", "P0122"]);
        assert!(
            low.starts_with("P0107, P0117 and P0122 may have one cause: the 5 V that their module gives"),
            "{low}"
        );
        let high = one(&["P0108", "P0118", "P0123"]);
        assert!(
            high.starts_with("P0108, P0118 and P0123 may have one cause: the sensor ground"),
            "{high}"
        );
        let turning = one(&["P0335", "P0340"]);
        assert!(
            turning.contains("the feed or the ground that these sensors share"),
            "{turning}"
        );
        // What reads low and what reads high have no one cause of these.
        assert!(words(&["P0107", "P0118"]).is_empty());
    }

    #[test]
    fn the_tracks_of_one_sensor_are_told_as_such_with_what_only_compares_them() {
        let told = words(&["P2135", "P0122", "P0222"]);
        assert_eq!(
            told[0],
            "P2135, P0122 and P0222 are of one sensor: throttle or pedal position A and B; P2135 only compares them and may follow. \
             Look at its plug, its 5 V and its ground before either output is chased alone."
        );
        assert!(
            told[1].starts_with("P0122 and P0222 may have one cause: the 5 V"),
            "{told:?}"
        );
        // D belongs to the pedal, A to the throttle.
        assert!(!words(&["P0122", "P2122"]).join(" ").contains("one sensor"));
        // Two air temperature sensors are two parts, though a code compares them.
        assert!(!words(&["P0112", "P0097", "P2199"]).join(" ").contains("one sensor"));
        assert!(words(&["P0121", "P0223"])[0].contains("are of one sensor: throttle or pedal position A and B."));
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
