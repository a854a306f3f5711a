//! Codes both ways over all inputs, and what must hold of the table.

use codes::code::table::{self, Says};
use codes::code::{CodeError, FailureType, Owner, TroubleCode, explain, read};
use proptest::prelude::*;

fn code(bytes: u16) -> TroubleCode {
    TroubleCode::from_bytes(bytes.to_be_bytes())
}

/// Computed from the bit layout of SAE J2012 / ISO 15031-6; D0 16 and C1 58 are easily got wrong.
#[test]
fn bytes_and_letters_agree_on_worked_examples() {
    for (bytes, text) in [
        (0x0133, "P0133"),
        (0x0118, "P0118"),
        (0x0562, "P0562"),
        (0x2135, "P2135"),
        (0x4035, "C0035"),
        (0x8012, "B0012"),
        (0xC100, "U0100"),
        (0xC158, "U0158"),
        (0xD016, "U1016"),
        (0x1ABC, "P1ABC"),
        (0x06A3, "P06A3"),
        (0x0A80, "P0A80"),
        (0x3400, "P3400"),
    ] {
        assert_eq!(code(bytes).to_string(), text);
        assert_eq!(read(text).expect("a code").code, code(bytes));
    }
}

#[test]
fn all_65536_codes_go_both_ways_as_letters_and_as_bytes() {
    for bytes in 0..=u16::MAX {
        let code = code(bytes);
        let [high, low] = code.to_bytes();
        let text = code.to_string();
        let _ = explain(code, None);
        if bytes == 0 {
            assert_eq!(read(&text), Err(CodeError::EmptySlot { text }));
            continue;
        }
        let letters = read(&text.to_lowercase()).expect("its own text");
        assert_eq!((letters.code, letters.from_bytes), (code, false), "{text}");
        for typed in [
            format!("{high:02x} {low:02x}"),
            format!("{bytes:04X}"),
            format!("0x{bytes:04x}"),
        ] {
            let typed = read(&typed).unwrap_or_else(|error| panic!("{typed}: {error}"));
            assert_eq!((typed.code, typed.from_bytes), (code, true), "{text}");
        }
    }
}

#[test]
fn all_failure_types_are_read_however_they_are_joined() {
    for byte in 0..=u8::MAX {
        for text in [
            format!("P0122-{byte:02X}"),
            format!("p0122{byte:02x}"),
            format!("P0122:{byte:02X}"),
            format!("P0122 {byte:02X}"),
            format!("01 22 {byte:02X}"),
            format!("0122{byte:02X}"),
        ] {
            let typed = read(&text).unwrap_or_else(|error| panic!("{text}: {error}"));
            assert_eq!(
                (typed.code, typed.failure_type),
                (code(0x0122), Some(FailureType(byte))),
                "{text}"
            );
        }
    }
}

#[test]
fn ranges_are_owned_as_the_standard_says() {
    for (text, owner) in [
        ("P0001", Owner::Common),
        ("P1001", Owner::Maker),
        ("P2001", Owner::Common),
        ("P33FF", Owner::Maker),
        ("P3400", Owner::Common),
        ("C0001", Owner::Common),
        ("C1001", Owner::Maker),
        ("C2001", Owner::Maker),
        ("C3001", Owner::Reserved),
        ("B0001", Owner::Common),
        ("B2001", Owner::Maker),
        ("B3001", Owner::Reserved),
        ("U0001", Owner::Common),
        ("U2001", Owner::Maker),
        ("U3001", Owner::Mixed),
    ] {
        assert_eq!(read(text).expect("a code").code.owner(), owner, "{text}");
    }
}

#[test]
fn errors_say_which_character_and_what_may_be_meant() {
    for (text, message) in [
        (
            "",
            "no code is written here: a letter and four digits are expected, e.g. P0122",
        ),
        (
            "PO122",
            "`PO122`: `O` (character 2) is no digit 0 to 9 or letter A to F; is P0122 meant?",
        ),
        (
            "P-4122",
            "`P-4122`: after the letter stands 0, 1, 2 or 3, not `4` (character 3)",
        ),
        (
            "P012X",
            "`P012X`: `X` (character 5) is no digit 0 to 9 or letter A to F",
        ),
        (
            "P064",
            "`P064` is too short: four digits follow the letter, here are 3; P0641, P0642, P0643, P0645 begin like that",
        ),
        (
            "X0122",
            "`X0122` begins with `X`: a code begins with P, C, B or U, e.g. P0122; as bytes it is two or three, e.g. 01 22",
        ),
        (
            "C 100",
            "`C 100` is too short: four digits follow the letter, here are 3",
        ),
        (
            "P0122-1",
            "`P0122-1`: after the code P0122 stand two digits of the failure type, e.g. P0122-13, or nothing; here is `1`",
        ),
        (
            "P0000",
            "`P0000` stands for no code: two zero bytes fill a slot that holds none",
        ),
    ] {
        assert_eq!(read(text).expect_err(text).to_string(), message);
    }
}

proptest! {
    #[test]
    fn no_text_panics_and_what_is_read_prints_as_itself(text in "\\PC{0,12}|[PCBUpcbu0-9A-F :-]{0,9}") {
        if let Ok(typed) = read(&text) {
            let again = read(&typed.code.to_string()).expect("its own text");
            prop_assert_eq!(again.code, typed.code);
        }
    }
}

#[test]
fn every_row_of_the_table_is_read_once_in_order_and_is_common() {
    let text = include_str!("../data/codes.csv");
    let lines = text.lines().filter(|line| !line.starts_with('#')).count();
    assert_eq!(table::all().len(), lines - 1);
    assert!(table::all().is_sorted_by(|a, b| a.code < b.code));
    for entry in table::all() {
        assert_eq!(entry.code.owner(), Owner::Common, "{}", entry.code);
        assert_eq!(table::find(entry.code), Some(entry));
    }
    let items = include_str!("../data/items.csv")
        .lines()
        .filter(|line| !line.starts_with('#'))
        .count()
        - 1;
    let mut used: Vec<&str> = table::all().iter().map(|entry| entry.item.as_str()).collect();
    used.sort_unstable();
    used.dedup();
    assert_eq!(items, used.len(), "an item that no code names");
}

#[test]
fn codes_of_gears_and_of_what_feeds_injectors_are_in_the_table() {
    for (code, name, says) in [
        ("P0960", "pressure control solenoid A", Says::Open),
        ("P0973", "shift solenoid A", Says::Low),
        ("P0980", "shift solenoid C", Says::High),
        ("P0999", "shift solenoid F", Says::High),
        ("P2147", "fuel injector supply A", Says::Low),
    ] {
        let entry = table::find(read(code).expect("a code").code).expect(code);
        assert_eq!((entry.name().as_str(), entry.says), (name, says), "{code}");
        assert_eq!(
            (entry.source.as_str(), entry.status.as_str()),
            ("memory", "from memory"),
            "{code}"
        );
    }
}

/// High follows low in the common list, always; one row mistyped breaks the pair.
#[test]
fn each_low_has_its_high_next_to_it() {
    // The speed sensors' next number says "intermittent, erratic or high"; the knock family and the rest follow the rule.
    let without = ["P0502", "P2160"];
    let same = |a: &table::Entry, b: &table::Entry| a.name() == b.name();
    for entry in table::all() {
        let bytes = u16::from_be_bytes(entry.code.to_bytes());
        let text = entry.code.to_string();
        if entry.says == Says::Low && !without.contains(&text.as_str()) {
            // P0419 is followed by P0420: the digits are counted as decimals.
            let step = if bytes & 0xF == 9 { 7 } else { 1 };
            let next = table::find(code(bytes + step));
            assert!(
                next.is_some_and(|next| next.says == Says::High && same(next, entry)),
                "{text}"
            );
        }
        if entry.says == Says::High {
            let step = if bytes % 16 == 0 { 7 } else { 1 };
            let before = table::find(code(bytes - step));
            assert!(
                before.is_some_and(|before| before.says == Says::Low && same(before, entry)),
                "{text}"
            );
        }
    }
}

/// Families whose five numbers are circuit, range, low, high, intermittent.
#[test]
fn families_of_five_keep_their_order() {
    let order = [Says::Circuit, Says::Range, Says::Low, Says::High, Says::Intermittent];
    for base in [
        "P0100", "P0105", "P0110", "P0115", "P0120", "P0180", "P0190", "P0220", "P0325", "P0335", "P0340", "P0460",
        "P0550", "P0705", "P0710", "P0840", "P2120", "P2125", "P2130", "P2226", "P0845", "P0870", "P0875", "P2014",
        "P2019", "P2065", "P2075", "P2264", "P2430", "P2539", "P2562",
    ] {
        let first = u16::from_be_bytes(read(base).expect("a code").code.to_bytes());
        let base_entry = table::find(code(first)).expect(base);
        for (offset, says) in order.iter().enumerate() {
            // Decimal counting again: P2226 … P2229, P2230.
            let bytes = first + offset as u16;
            let bytes = if bytes & 0xF > 9 { bytes + 6 } else { bytes };
            let entry = table::find(code(bytes)).unwrap_or_else(|| panic!("{base} + {offset}"));
            assert_eq!(
                (entry.says, entry.name()),
                (*says, base_entry.name()),
                "{base} + {offset}"
            );
        }
    }
}

#[test]
fn injectors_and_coils_count_by_cylinder() {
    for cylinder in 1..=12_u16 {
        for (number, says) in [
            (200 + cylinder, Says::Circuit),
            (261 + 3 * (cylinder - 1), Says::Low),
            (262 + 3 * (cylinder - 1), Says::High),
        ] {
            let entry = table::find(read(&format!("P0{number}")).expect("a code").code).expect("a row");
            assert_eq!(entry.says, says, "P0{number}");
            assert_eq!(entry.instance, Some(format!("cylinder {cylinder}")), "P0{number}");
        }
        let letter = char::from(b'A' + cylinder as u8 - 1).to_string();
        for (text, says) in [
            (format!("P0{}", 350 + cylinder), Says::Circuit),
            (format!("P{}", 2297 + 3 * cylinder), Says::Low),
            (format!("P{}", 2298 + 3 * cylinder), Says::High),
        ] {
            let entry = table::find(read(&text).expect("a code").code).expect("a row");
            assert_eq!(
                (entry.says, entry.instance.as_deref()),
                (says, Some(letter.as_str())),
                "{text}"
            );
        }
    }
}

/// P0A to P0C are of the hybrid drive, P2A and P2B are not (SAE J2012, from memory).
#[test]
fn the_area_goes_by_the_range_as_well() {
    assert_eq!(code(0x0A80).area(), Some("hybrid drive"));
    assert_eq!(code(0x2A00).area(), None);
    assert_eq!(code(0x2101).area(), Some("fuel and air metering"));
}
