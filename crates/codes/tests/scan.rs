//! Worked bytes, and texts that are no bytes.

use codes::scan::{ScanError, Value, of, read_bytes, read_pid};
use proptest::prelude::*;

#[test]
fn worked_bytes_give_their_values() {
    let mut seen = std::collections::BTreeSet::new();
    for line in include_str!("scan_data_examples.csv").lines().skip(2) {
        let cells: Vec<&str> = line.split(',').collect();
        let pid = read_pid(cells[0]).expect("a PID");
        let formulas = of(pid).expect("known");
        let formula = formulas
            .iter()
            .find(|one| one.field.as_deref().unwrap_or("") == cells[1])
            .expect(line);
        let bytes = read_bytes(cells[2]).expect("bytes");
        let expected: f64 = cells[3].parse().expect("a number");
        let Value::Number(value) = formula.value(&bytes).expect("the right length") else {
            panic!("{line}")
        };
        // The examples are written with six decimals.
        assert!((value - expected).abs() < 1e-6, "{line}: {value}");
        seen.insert((pid, cells[1]));
    }
    assert_eq!(
        seen.len(),
        codes::scan::all().len(),
        "each formula has a worked example"
    );
}

#[test]
fn errors_say_what_is_wrong() {
    let rpm = of(0x0C).expect("known")[0];
    assert_eq!(
        rpm.value(&[0x1A]).expect_err("too short").to_string(),
        "PID 0C (engine speed) has 2 data byte(s), here are 1: give them without service and PID"
    );
    assert_eq!(
        rpm.nearest(17000.0).expect_err("too fast").to_string(),
        "17000 rpm is outside what engine speed can say: 0 to 16383.75 rpm"
    );
    assert!(rpm.nearest(f64::NAN).is_err() && rpm.nearest(f64::INFINITY).is_err());
    assert_eq!(read_pid("1234"), Err(ScanError::Pid { text: "1234".into() }));
    assert!(matches!(read_pid("+c"), Err(ScanError::Pid { .. })));
    assert!(matches!(
        read_bytes("1G"),
        Err(ScanError::Digit {
            found: 'G',
            position: 2,
            ..
        })
    ));
    assert!(matches!(read_bytes("1A F"), Err(ScanError::HalfByte { .. })));
    assert_eq!(
        of(0xFE).expect_err("unknown").to_string(),
        "PID FE is not in the built-in table"
    );
}

proptest! {
    #[test]
    fn bytes_are_read_however_they_are_joined(bytes in proptest::collection::vec(any::<u8>(), 0..8), mark in "[ ,:-]?", prefix: bool) {
        let texts: Vec<String> = bytes.iter().map(|byte| if prefix { format!("0x{byte:02x}") } else { format!("{byte:02X}") }).collect();
        prop_assert_eq!(read_bytes(&texts.join(&mark)), Ok(bytes));
    }

    #[test]
    fn no_text_panics(text in "\\PC{0,10}") {
        let _ = (read_bytes(&text), read_pid(&text));
    }
}
