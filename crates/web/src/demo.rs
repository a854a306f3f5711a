//! The demo job: an invented delivery van. Its new refrigerant pressure sensor changed nothing, its scan data stands at the
//! top of the range; in truth a fan feed leaks into the signal through water between cavities 7 and 8 of the floor joint.
//!
//! The first readings are what the bench predicts for that fault, rounded as the instruments show it: a test holds them to
//! the prediction. They leave the answer open.

use job::{Event, What};

/// What happened so far: minutes before now, set-up, test, what it showed.
pub const READINGS: &[(u64, &str, &str, &str)] = &[
    (16, "key on; fan commanded", "scan pressure", "32.0 bar"),
    (
        9,
        "key on; S1 apart; fan commanded",
        "voltmeter S1.3 battery-",
        "11.11 V",
    ),
];

/// Minutes before now at which the job was opened.
const OPENED_MINUTES: u64 = 21;
const MINUTE_MS: u64 = 60_000;

/// The events of the demo job, as if its last reading had been taken a few minutes before `now_ms` (milliseconds since
/// 1970).
pub fn events(now_ms: u64) -> Vec<Event> {
    let event = |sequence: u64, minutes: u64, what: What| Event {
        id: format!("demo-{sequence}"),
        device: "demo".into(),
        sequence,
        at_ms: now_ms.saturating_sub(minutes * MINUTE_MS),
        what,
    };
    let opened = What::Opened {
        title: "Van 31".into(),
        complaint: "Air conditioning cuts out when the fan starts; pressure circuit high; new sensor changed nothing"
            .into(),
        vin: String::new(),
        circuit: circuit::DEMO.into(),
    };
    let readings = READINGS.iter().map(|&(minutes, set_up, test, shown)| {
        (
            minutes,
            What::Reading {
                set_up: set_up.into(),
                test: test.into(),
                shown: shown.into(),
                twin: false,
            },
        )
    });
    std::iter::once((OPENED_MINUTES, opened))
        .chain(readings)
        .zip(1..)
        .map(|((minutes, what), sequence)| event(sequence, minutes, what))
        .collect()
}
