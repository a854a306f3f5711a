//! Tables as different tools write them, and what is odd in them.

use codes::log::{Decimal, Finding, Log, LogError, What, findings, known_pids, read, recognise};
use proptest::prelude::*;

#[track_caller]
fn log(text: &str) -> Log {
    read(text.as_bytes()).expect("a table")
}

#[track_caller]
fn found(log: &Log) -> Vec<Finding> {
    let known = known_pids();
    findings(log, &known, &recognise(&log.series, &known))
}

fn values(log: &Log, idx: usize) -> Vec<f64> {
    log.series[idx].samples.iter().map(|sample| sample.value).collect()
}

/// The same readings in the ways that tools write them.
#[test]
fn the_same_readings_are_read_whatever_the_tool() {
    let points = "Time [s],Engine speed [rpm],Coolant [°C]\n0.0,800,90\n0.5,812.5,90\n1.0,790,91\n";
    let commas = "Time;Engine speed;Coolant\ns;rpm;°C\n0,0;800;90\n0,5;812,5;90\n1,0;790;91\n";
    let tabs = "log of 26 November\n\nTime\tEngine speed (rpm)\tCoolant (°C)\n12:00:00.0\t800\t90\n12:00:00.5\t812.5\t90\n12:00:01.0\t790\t91\n";
    let quoted = "\"Time (ms)\",\"Engine speed, rpm\",\"Coolant\"\n\"0\",\"800\",\"90 °C\"\n\"500\",\"812,5\",\"90 °C\"\n\"1000\",\"790\",\"91 °C\"\n";
    for text in [points, commas, tabs, quoted] {
        let log = log(text);
        let names: Vec<(&str, &str)> = log
            .series
            .iter()
            .map(|one| (one.name.as_str(), one.unit.as_str()))
            .collect();
        assert_eq!(names, [("Engine speed", "rpm"), ("Coolant", "°C")], "{text}");
        assert_eq!(log.rows_s, [0.0, 0.5, 1.0], "{text}");
        assert_eq!(values(&log, 0), [800.0, 812.5, 790.0], "{text}");
        assert_eq!(values(&log, 1), [90.0, 90.0, 91.0], "{text}");
    }
    assert_eq!((log(commas).delimiter, log(commas).decimal), (';', Decimal::Comma));
    assert_eq!(log(tabs).delimiter, '\t');
}

#[test]
fn other_alphabets_of_bytes_are_read() {
    let text = "Time;Coolant [°C]\n0;90\n1;91\n";
    let latin: Vec<u8> = text.chars().map(|one| one as u8).collect();
    let wide: Vec<u8> = [0xFF, 0xFE]
        .into_iter()
        .chain(text.encode_utf16().flat_map(u16::to_le_bytes))
        .collect();
    let marked: Vec<u8> = [0xEF, 0xBB, 0xBF].into_iter().chain(text.bytes()).collect();
    for bytes in [latin, wide, marked] {
        assert_eq!(read(&bytes), read(text.as_bytes()));
    }
}

#[test]
fn a_table_without_header_times_or_second_column_is_read() {
    let bare = log("1;2,5\n2;2,6\n3;2,7\n");
    assert_eq!((bare.series[0].name.as_str(), bare.time.as_ref()), ("column 1", None));
    assert_eq!(values(&bare, 1), [2.5, 2.6, 2.7]);
    let one = log("Volts\n12.1\n12.2\n");
    assert_eq!(
        (one.series[0].name.as_str(), values(&one, 0)),
        ("Volts", vec![12.1, 12.2])
    );
}

#[test]
fn midnight_passes_and_lines_that_go_back_are_left_out() {
    let midnight = log("Time;RPM\n23:59:59;800\n00:00:00;810\n00:00:01;820\n");
    assert_eq!(midnight.rows_s, [0.0, 1.0, 2.0]);
    let back = log("Time;RPM\n0;800\n2;810\n1;820\nx;830\n3;840\n");
    assert_eq!(
        (values(&back, 0), back.bad_lines),
        (vec![800.0, 810.0, 840.0], vec![4, 5])
    );
}

#[test]
fn columns_without_numbers_are_named_and_empty_cells_left_out() {
    let log = log("Time,RPM,Closed loop,Load,\n0,800,On,-,\n1,,On,20,\n2,820,Off,21,\n");
    assert_eq!(log.left_out, ["Closed loop"]);
    assert_eq!(
        (values(&log, 0), values(&log, 1)),
        (vec![800.0, 820.0], vec![20.0, 21.0])
    );
}

#[test]
fn a_list_of_names_with_their_values_is_one_row() {
    for list in [
        "Parameter,Value,Unit\nEngine speed,800,rpm\nCoolant,90,°C\nFuel system,closed loop,\n",
        "Parameter;Value\nEngine speed;800 rpm\nCoolant;90 °C\nFuel system;closed loop\n",
        "Freeze frame\nEngine speed\t800\trpm\nCoolant\t90\t°C\nFuel system\tclosed loop\t-\n",
        "No.;Parameter;Unit;Value\n1;Engine speed;rpm;800,0\n2;Coolant;°C;90,0\n3;Fuel system;;closed loop\n",
    ] {
        let log = log(list);
        let seen: Vec<(&str, &str, f64)> = (log.series.iter())
            .map(|one| (one.name.as_str(), one.unit.as_str(), one.samples[0].value))
            .collect();
        assert_eq!(
            seen,
            [("Engine speed", "rpm", 800.0), ("Coolant", "°C", 90.0)],
            "{list}"
        );
        assert_eq!(
            (log.rows_s.len(), log.left_out),
            (1, vec!["Fuel system".to_owned()]),
            "{list}"
        );
    }
    // Two frames are two rows; a column of words before numbers makes no list.
    let two = log("Parameter,Frame 1,Frame 2,Unit\nRPM,800,900,rpm\nLoad,20,30,%\n");
    assert_eq!(
        (values(&two, 0), values(&two, 1)),
        (vec![800.0, 900.0], vec![20.0, 30.0])
    );
    let words = log("Closed loop;RPM\nOn;800\nOff;810\n");
    assert_eq!(
        (words.left_out, words.series[0].name.as_str()),
        (vec!["Closed loop".to_owned()], "RPM")
    );
}

#[test]
fn cells_without_a_number_are_told_with_line_and_column() {
    let log = log("Time,RPM,Load\n0,800,20\n1,abc,NaN\n2,820,-\n3,,22\n");
    assert_eq!(values(&log, 0), [800.0, 820.0]);
    assert_eq!(
        log.passed_over(),
        [
            "RPM: `abc` in line 3: no number, left out.",
            "Load: `NaN` in line 3 and another cell: no number, left out."
        ]
    );
}

#[test]
fn what_cannot_be_read_is_said_with_its_line() {
    assert_eq!(read(b" \n "), Err(LogError::Empty));
    assert_eq!(read(b"only words\nand more\n"), Err(LogError::NoNumbers));
    let twice = read(b"Time,RPM,Load\n0,0,800,5,20,1\n0,5,810,5,20,2\n");
    assert_eq!(
        twice,
        Err(LogError::CommaTwice {
            line: 2,
            found: 6,
            header: 3
        })
    );
}

/// Rows a second apart; each column is a function of the row.
fn table(header: &str, rows: usize, columns: &[&dyn Fn(usize) -> f64]) -> Log {
    let lines: Vec<String> = (0..rows)
        .map(|row| {
            std::iter::once(row as f64)
                .chain(columns.iter().map(|one| one(row)))
                .map(|cell| cell.to_string())
                .collect::<Vec<_>>()
                .join(";")
        })
        .collect();
    log(&format!("{header}\n{}\n", lines.join("\n")))
}

fn revs(row: usize) -> f64 {
    800.0 + 100.0 * (row % 7) as f64
}

fn load(row: usize) -> f64 {
    20.0 + 3.0 * (row % 5) as f64 + (row % 2) as f64
}

#[test]
fn a_value_at_the_end_of_its_range_is_told_with_the_time() {
    // An open sensor reads coldest: -40 °C, which is -40 °F.
    for unit in ["°C", "°F"] {
        let log = table(
            &format!("Time;Coolant temp [{unit}]"),
            30,
            &[&|row| if row < 10 { 85.0 } else { -40.0 }],
        );
        let found = found(&log);
        let end = What::AtEnd {
            high: false,
            value: -40.0,
            samples: 20,
            of: 30,
            from_s: 10.0,
            to_s: 29.0,
        };
        assert!(
            found.contains(&Finding {
                series: Some(0),
                what: end
            }),
            "{found:?}"
        );
    }
    let hot = table("Time;IAT [°F]", 5, &[&|_| 419.0]);
    assert!(
        matches!(
            found(&hot)[..],
            [Finding {
                what: What::AtEnd { high: true, .. },
                ..
            }]
        ),
        "215 °C is 419 °F"
    );
    // At rest an engine turns at 0 rpm, and a pedal on the floor shows 100 %.
    assert!(found(&table("Time;RPM;Throttle position", 30, &[&|_| 0.0, &|_| 100.0])).is_empty());
}

#[test]
fn a_value_that_its_formula_cannot_say_is_told_with_the_ends() {
    // By the formulas: A·100/255 is 0 to 100 %, (256·A+B)/4 at most 16383.75 rpm, A−40 at most 215 °C.
    let log = log(
        "Time;Throttle position [%];Engine speed [rpm];Coolant temp [°C]\n0;250;20000;90\n1;-20;16383;300\n2;40;800;91\n",
    );
    let told = found(&log);
    let beyond = |ends, value, samples, from_s, to_s| What::Beyond {
        ends,
        value,
        samples,
        of: 3,
        from_s,
        to_s,
    };
    for (series, what) in [
        (0, beyond((0.0, 100.0), 250.0, 2, 0.0, 1.0)),
        (1, beyond((0.0, 16383.75), 20000.0, 1, 0.0, 0.0)),
        (2, beyond((-40.0, 215.0), 300.0, 1, 1.0, 1.0)),
    ] {
        let series = Some(series);
        assert!(
            told.contains(&Finding {
                series,
                what: what.clone()
            }),
            "{what:?} in {told:?}"
        );
    }
    let said = told.iter().find(|one| one.series == Some(1)).map(|one| one.words(&log));
    let reason = "that cannot be, for its formula ends at 0 and 16383.75 rpm";
    assert!(said.as_ref().is_some_and(|said| said.contains(reason)), "{said:?}");
    // As far as bytes go it may be: 100.1 % is 100 % rounded by the tool, 419 °F is 215 °C.
    let fits = table("Time;Throttle position [%];IAT [°F]", 2, &[&|_| 100.1, &|_| 419.0]);
    assert!(!found(&fits).iter().any(|one| matches!(one.what, What::Beyond { .. })));
}

#[test]
fn a_value_that_freezes_while_others_move_is_told() {
    let map = |frozen: usize| {
        move |row: usize| {
            if row < frozen {
                30.0 + 5.0 * (row % 6) as f64
            } else {
                42.0
            }
        }
    };
    let log = table("Time;RPM;Load;MAP [kPa]", 60, &[&revs, &load, &map(20)]);
    let frozen = What::Frozen {
        value: 42.0,
        samples: 40,
        from_s: 20.0,
        to_s: 59.0,
        while_moved: vec!["RPM".into(), "Load".into()],
    };
    assert_eq!(
        found(&log),
        [Finding {
            series: Some(2),
            what: frozen
        }]
    );
    // With the engine at rest nothing moves.
    let still = table("Time;RPM;Load;MAP [kPa]", 60, &[&|_| 0.0, &|_| 0.0, &|_| 101.0]);
    assert!(found(&still).is_empty());
    assert!(found(&table("Time;RPM;Load;MAP [kPa]", 60, &[&revs, &load, &map(60)])).is_empty());
}

#[test]
fn missing_samples_are_told_for_the_log_or_for_the_one_column() {
    let whole = log("Time;RPM\n0;800\n1;810\n2;820\n3;830\n9;840\n10;850\n11;860\n");
    let gap = What::Missing {
        samples: 5,
        every_s: 1.0,
        from_s: 3.0,
        to_s: 9.0,
    };
    assert_eq!(
        found(&whole),
        [Finding {
            series: None,
            what: gap.clone()
        }]
    );
    let one = log(
        "Time;RPM;X\n0;800;1\n1;810;1\n2;820;1\n3;830;1\n4;840;\n5;840;\n6;840;\n7;840;\n8;840;\n9;840;1\n10;850;1\n11;860;1\n",
    );
    assert_eq!(
        found(&one),
        [Finding {
            series: Some(1),
            what: gap
        }]
    );
    // One column filled a row, as some tools write: nothing is missing.
    let turns =
        log("Time;RPM;X\n0;800;\n1;;1\n2;810;\n3;;1\n4;820;\n5;;1\n6;830;\n7;;1\n8;840;\n9;;1\n10;850;\n11;;1\n");
    assert!(found(&turns).is_empty());
}

#[test]
fn a_jump_faster_than_the_thing_can_change_is_told() {
    let log = table(
        "Time;Coolant temp [°C]",
        10,
        &[&|row| if row == 5 { 20.0 } else { 88.0 }],
    );
    let jump = What::Jump {
        from: 88.0,
        to: 20.0,
        from_s: 4.0,
        to_s: 5.0,
        per_second: 10.0,
        jumps: 2,
    };
    assert_eq!(
        found(&log),
        [Finding {
            series: Some(0),
            what: jump
        }]
    );
    // Warming by a degree a second is none, and over ten seconds even thirty degrees are none.
    assert!(found(&table("Time;Coolant temp [°C]", 30, &[&|row| 20.0 + row as f64])).is_empty());
    assert!(found(&log_of_two(10.0, 30.0)).is_empty());
    assert!(!found(&log_of_two(1.0, 30.0)).is_empty());
    // A tool that held the value back for most of a second shows a step between two samples.
    assert!(found(&log_of_two(0.1, 9.0)).is_empty());
}

fn log_of_two(seconds: f64, degrees: f64) -> Log {
    log(&format!("Time;Coolant temp [°C]\n0;20\n{seconds};{}\n", 20.0 + degrees))
}

proptest! {
    #[test]
    fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        if let Ok(log) = read(&bytes) {
            let _ = found(&log);
        }
    }

    #[test]
    fn no_table_panics(text in "([A-Za-z0-9.,;:\t \"\n°\\[\\]-]{0,8}[;,\t\n]){0,40}") {
        if let Ok(log) = read(text.as_bytes()) {
            let _ = found(&log);
            prop_assert!(log.rows_s.is_sorted());
        }
    }

    /// Whatever the marks, the numbers come back.
    #[test]
    fn numbers_come_back(rows in proptest::collection::vec((0_i32..100_000, -4000_i32..4000), 3..20), comma: bool, tab: bool) {
        let mark = if comma { "," } else { "." };
        let between = if tab { "\t" } else { ";" };
        let cell = |hundredths: i32| format!("{:.2}", f64::from(hundredths) / 100.0).replace('.', mark);
        let lines: Vec<String> = rows.iter().map(|(a, b)| format!("{}{between}{}", cell(*a), cell(*b))).collect();
        let log = log(&format!("first{between}second\n{}\n", lines.join("\n")));
        let expected: Vec<f64> = rows.iter().map(|(_, b)| f64::from(*b) / 100.0).collect();
        prop_assert_eq!(values(&log, 1), expected);
    }
}
