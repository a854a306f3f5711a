//! How the vehicle stands follows from the events, and is taken back with them.

use circuit::Circuit;
use job::{Event, What, derive, steps};

fn event(id: &str, what: What) -> Event {
    Event {
        id: id.into(),
        device: "bench".into(),
        sequence: 1,
        at_ms: 0,
        what,
    }
}

fn set_up(id: &str, set_up: &str) -> Event {
    event(id, What::SetUp { set_up: set_up.into() })
}

fn reading(id: &str, set_up: &str) -> Event {
    let (test, shown) = ("voltmeter S1.3 battery-".into(), "5.00 V".into());
    let set_up = set_up.into();
    let twin = false;
    event(
        id,
        What::Reading {
            set_up,
            test,
            shown,
            twin,
        },
    )
}

fn undo(id: &str, event_id: &str) -> Event {
    event(id, What::Undo { event: event_id.into() })
}

fn stands(circuit: &Circuit, events: &[Event]) -> String {
    derive(circuit, events)
        .stands
        .map_or_else(|| "unknown".into(), |set_up| set_up.to_text(circuit))
}

#[test]
fn the_later_of_set_up_and_reading_counts_and_undo_takes_it_back() {
    let circuit = circuit::parse(circuit::DEMO).expect("the demo's circuit is sound");
    let mut events = Vec::new();
    assert_eq!(stands(&circuit, &events), "unknown");
    for (event, expected) in [
        (reading("r1", "key on; S1 apart"), "key on; S1 apart"),
        (set_up("s1", "key on; floor apart"), "key on; floor apart"),
        (set_up("s2", "key off; floor apart"), "key off; floor apart"),
        (undo("u1", "s2"), "key on; floor apart"),
        (undo("u2", "u1"), "key off; floor apart"),
        (reading("r2", "key on"), "key on"),
        (undo("u3", "r2"), "key off; floor apart"),
        (undo("u4", "s1"), "key off; floor apart"),
        (undo("u5", "s2"), "key on; S1 apart"),
    ] {
        let id = event.id.clone();
        events.push(event);
        assert_eq!(stands(&circuit, &events), expected, "after {id}");
    }
}

#[test]
fn a_set_up_is_a_step_that_can_be_undone_and_one_that_is_none_is_a_trouble() {
    let circuit = circuit::parse(circuit::DEMO).expect("the demo's circuit is sound");
    let events = [reading("r1", "key on"), set_up("s1", "key on; floor apart")];
    assert_eq!(steps(&events).undo.as_deref(), Some("s1"));
    let wrong = derive(&circuit, &[set_up("s1", "key sideways")]);
    assert_eq!(wrong.stands, None);
    assert!(wrong.troubles[0].why.contains("key sideways"), "{:?}", wrong.troubles);
}

#[test]
fn its_line_in_the_file_reads_as_documented() {
    let line = r#"{"id":"s1","device":"bench","sequence":1,"at_ms":0,"what":"set_up","set_up":"key on; floor apart"}"#;
    let read: Event = serde_json::from_str(line).expect("an event");
    assert_eq!(read, set_up("s1", "key on; floor apart"));
    assert_eq!(serde_json::to_string(&read).expect("JSON"), line);
}

#[test]
fn readings_after_a_repair_stay_through_the_next_one() {
    let circuit = circuit::parse(circuit::DEMO).expect("the demo's circuit is sound");
    let repair = |id: &str| {
        let words = "floor joint dried".into();
        event(id, What::Repair { words, fault: None })
    };
    let events = [
        reading("r1", "key on"),
        repair("m1"),
        reading("r2", "key on"),
        repair("m2"),
        reading("r3", "key on"),
    ];
    let state = derive(&circuit, &events);
    let ids = |entries: &[job::Entry]| entries.iter().map(|entry| entry.event.clone()).collect::<Vec<_>>();
    assert_eq!(ids(&state.readings), ["r1"]);
    assert_eq!(ids(&state.after_repair), ["r2", "r3"]);
    assert_eq!(state.repairs.len(), 2);
}
