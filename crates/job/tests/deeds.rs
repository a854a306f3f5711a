//! What was done between the readings has its place among them, and older jobs still open.

use circuit::Circuit;
use job::{Did, Event, What, derive, parse_did};

fn demo() -> Circuit {
    circuit::parse(circuit::DEMO).expect("the demo's circuit is sound")
}

fn events(whats: impl IntoIterator<Item = What>) -> Vec<Event> {
    let whats = whats.into_iter().zip(1..);
    whats
        .map(|(what, sequence)| Event {
            id: format!("e{sequence}"),
            device: "bench".into(),
            sequence,
            at_ms: sequence,
            what,
        })
        .collect()
}

fn did(text: &str) -> What {
    What::Did { did: text.into() }
}

fn reading(twin: bool) -> What {
    What::Reading {
        set_up: "key on; S1 apart".into(),
        test: "voltmeter S1.3".into(),
        shown: "5.00 V".into(),
        twin,
    }
}

#[test]
fn deeds_stand_where_they_were_done_among_the_readings() {
    let circuit = demo();
    let repaired = What::Repair {
        words: "dried".into(),
        fault: Some("floor/water".into()),
    };
    let mut events = events([
        reading(false),
        did("reseated S1"),
        reading(true),
        reading(false),
        repaired,
        reading(false),
        did("cleared codes"),
    ]);
    let state = derive(&circuit, &events);
    assert!(state.troubles.is_empty(), "{:?}", state.troubles);
    let acts: Vec<(usize, Option<String>)> = state
        .acts
        .iter()
        .map(|act| (act.after, act.did.to_text(&circuit)))
        .collect();
    let expected = [(1, "reseated S1"), (2, "repaired floor/water"), (3, "cleared codes")];
    assert_eq!(acts, expected.map(|(after, text)| (after, Some(text.to_owned()))));
    assert_eq!((state.entries().count(), state.twin.len()), (3, 1));
    events.extend(
        self::events([What::Undo { event: "e2".into() }])
            .into_iter()
            .map(|event| Event {
                id: "u".into(),
                ..event
            }),
    );
    assert_eq!(derive(&circuit, &events).acts.len(), 2);
}

#[test]
fn a_twins_reading_does_not_say_how_this_vehicle_stands() {
    let state = derive(&demo(), &events([reading(true)]));
    assert_eq!(state.stands, None);
}

#[test]
fn text_forms_come_back_as_they_went() {
    let circuit = demo();
    for text in [
        "swapped S1",
        "reseated S1",
        "looked S1 damaged",
        "looked S1 sound",
        "cleared codes",
        "repaired a/added resistance",
    ] {
        let did = parse_did(&circuit, text).expect(text);
        assert_eq!(did.to_text(&circuit).as_deref(), Some(text));
    }
    assert_eq!(Did::Repaired(None).to_text(&circuit), None);
    for (text, why) in [
        ("", "expected swapped PART"),
        ("reseated nowhere", "no part `nowhere`"),
        ("reseated battery", "connectors are"),
        ("looked S1", "what was seen"),
        ("washed S1", "expected swapped PART"),
    ] {
        let said = parse_did(&circuit, text).expect_err(text);
        assert!(said.contains(why), "{text}: {said}");
    }
}

#[test]
fn events_of_before_are_read() {
    for line in [
        r#"{"id":"a","device":"d","sequence":1,"at_ms":0,"what":"reading","set_up":"key on","test":"voltmeter S1.3","shown":"5 V"}"#,
        r#"{"id":"b","device":"d","sequence":2,"at_ms":0,"what":"intake","water":true}"#,
    ] {
        let event: Event = serde_json::from_str(line).expect(line);
        let state = derive(&demo(), &[event]);
        assert!(state.troubles.is_empty() && state.twin.is_empty() && state.comes_and_goes.is_none());
    }
}
