//! What is said at intake: kept, shown, and each answer moves where suspicion starts by what the page says it does.

mod common;

use common::Server;
use serde_json::{Value, json};

fn note(server: &Server, sequence: u64, what: &Value) -> Value {
    let mut event =
        json!({"id": format!("e{sequence}"), "device": "bench", "sequence": sequence, "at_ms": 1_700_000_100_000_u64});
    let fields = what.as_object().expect("an object").clone();
    event.as_object_mut().expect("an object").extend(fields);
    let (status, noted) = server.post("/api/v1/events", &event);
    assert_eq!(status, 201, "{noted}");
    server.settled(noted["latest"].as_u64().expect("a number"))
}

/// Chance of a suspect, look-alikes included; 0 where it is not listed.
fn chance(answer: &Value, fault: &str) -> f64 {
    let suspects = answer["suspects"].as_array().expect("a list");
    let likes = |one: &Value| {
        one["look_alikes"]
            .as_array()
            .is_some_and(|all| all.iter().any(|like| like["fault"] == fault))
    };
    let found = suspects.iter().find(|one| one["fault"] == fault || likes(one));
    found.and_then(|one| one["chance"].as_f64()).unwrap_or(0.0)
}

fn intake(fields: &Value) -> Value {
    let mut all = json!({"what": "intake", "replaced": [], "disturbed": [], "water": false, "accident": false});
    all.as_object_mut()
        .expect("an object")
        .extend(fields.as_object().expect("an object").clone());
    all
}

fn starts(answer: &Value) -> Vec<String> {
    let starts = answer["intake"]["starts"].as_array().expect("a list").iter();
    starts
        .map(|one| {
            format!(
                "{}: {}",
                one["about"].as_str().expect("text"),
                one["words"].as_str().expect("text")
            )
        })
        .collect()
}

#[test]
fn each_answer_moves_where_suspicion_starts_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(&folder.path().join("van.job"));
    let before = server.settled(3);
    assert_eq!(starts(&before), [""; 0]);
    assert!(before["suspects"][0]["said"].as_array().is_some());

    let wet = note(&server, 1, &intake(&json!({"water": true})));
    let told = starts(&wet);
    assert_eq!(told.len(), 1);
    assert!(
        told[0].starts_with("water: Water between cavities, leaks, corroded contacts: "),
        "{told:?}"
    );
    assert!(
        chance(&wet, "floor.7-8/a/leak") > chance(&before, "floor.7-8/a/leak"),
        "{} {}",
        wet["suspects"],
        before["suspects"]
    );

    let worked = note(&server, 2, &intake(&json!({"disturbed": ["floor"]})));
    assert!(
        starts(&worked)[0].starts_with("disturbed: Floor joint. What can break there: "),
        "{:?}",
        starts(&worked)
    );
    let said = worked["suspects"].to_string();
    assert!(
        said.contains("Starts 3 times as likely: somebody lately worked at floor joint."),
        "{said}"
    );

    let fitted = note(&server, 3, &intake(&json!({"accessories": ["floor"]})));
    assert!(
        starts(&fitted)[0].starts_with("accessories: Floor joint. Taps, contacts and leads there: "),
        "{:?}",
        starts(&fitted)
    );
    assert_ne!(fitted["suspects"], worked["suspects"]);

    let renewed = note(&server, 4, &intake(&json!({"replaced": ["fan"], "accident": true})));
    let told = starts(&renewed);
    assert!(
        told.iter().any(|one| one.starts_with("replaced: ")
            && one.contains("what can fail in it once more: under 1\u{a0}% from the start instead of 3\u{a0}%")),
        "{told:?}"
    );
    assert!(
        told.iter().any(|one| one.starts_with("accident: Broken wires")),
        "{told:?}"
    );

    // Taken back one by one, all is as before.
    for sequence in (1..=4).rev() {
        note(
            &server,
            10 + sequence,
            &json!({"what": "undo", "event": format!("e{sequence}")}),
        );
    }
    let again = server.json("/api/v1/answer");
    assert_eq!(again["suspects"], before["suspects"]);
    assert_eq!(starts(&again), [""; 0]);

    let (status, refused) = server.post(
        "/api/v1/events",
        &json!({"id": "x", "device": "b", "sequence": 99, "at_ms": 0, "what": "intake", "accessories": ["nothing"]}),
    );
    assert_eq!(
        (status, &refused["message"]),
        (422, &json!("this circuit has no part `nothing`"))
    );
}

#[test]
fn words_codes_and_photos_are_kept_with_the_job() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("van.job");
    let server = Server::start(&path);
    server.settled(3);
    let told = note(
        &server,
        1,
        &json!({"what": "told", "about": "complaint", "words": "cold when the fan runs"}),
    );
    assert_eq!(told["intake"]["complaint"], "cold when the fan runs");
    let told = note(
        &server,
        2,
        &json!({"what": "told", "about": "mileage", "words": "81 200 km"}),
    );
    assert_eq!(told["intake"]["told"], json!({"mileage": "81 200 km"}));

    // Codes as they are typed: in words, with the event that notes each.
    let codes = server.json("/api/v1/codes?typed=P0533%20pending,%20U0100,%20P01Z2");
    assert_eq!(codes[0]["code"], "P0533");
    assert_eq!(codes[0]["event"]["state"], "pending");
    assert_eq!(codes[1]["weighed"], false);
    assert_eq!(
        (&codes[2]["is_code"], &codes[2]["event"]),
        (&json!(false), &Value::Null)
    );
    let noted = note(&server, 3, &codes[0]["event"]);
    let weighed = codes[0]["weighed"].as_bool().unwrap();
    let read = noted["readings"].to_string().contains("code P0533") || noted["acts"].to_string().contains("P0533");
    assert!(read, "{weighed}: {noted:#}");

    // A photo: kept whole, named by what is in it, refused where it is none.
    let png = "\u{0}".repeat(8);
    let keep = |body: &[u8], kind: &str| {
        let mut request = format!(
            "POST /api/v1/photos HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Type: {kind}\r\nContent-Length: {}\r\n\r\n",
            server.address,
            body.len()
        )
        .into_bytes();
        request.extend(body);
        let (status, _, said) = server.raw_bytes(&request);
        (status, serde_json::from_str::<Value>(&said).unwrap_or(Value::Null))
    };
    assert_eq!(keep(png.as_bytes(), "image/png").0, 422);
    assert_eq!(keep(b"<svg xmlns='http://www.w3.org/2000/svg'/>", "image/png").0, 422);
    assert_eq!(keep(&vec![0; job::photos::MOST_BYTES + 1], "image/png").0, 413);
    let (status, kept) = keep(b"\x89PNG\r\n\x1a\nrest of it", "text/html");
    assert_eq!(status, 201, "{kept}");
    let file = kept["file"].as_str().unwrap();
    let shown = note(&server, 4, &json!({"what": "photo", "file": file}));
    assert_eq!(shown["intake"]["photos"][0]["file"], file);
    let (status, head, _) = server.get(&format!("/api/v1/photos/{file}"));
    assert_eq!(status, 200);
    assert!(
        head.contains("content-type: image/png") && head.contains("nosniff"),
        "{head}"
    );
    for other in ["..%2Fvan.job", "van.job", "0123456789abcdef01234567.png"] {
        assert_eq!(server.get(&format!("/api/v1/photos/{other}")).0, 404, "{other}");
    }
    let missing = json!({"id": "m", "device": "b", "sequence": 9, "at_ms": 0, "what": "photo", "file": "0123456789abcdef01234567.png"});
    assert_eq!(server.post("/api/v1/events", &missing).0, 404);
    let undone = note(&server, 5, &json!({"what": "undo", "event": "e4"}));
    assert_eq!(undone["intake"]["photos"], json!([]));
    assert!(
        folder.path().join("van.photos").join(file).exists(),
        "undo can itself be taken back"
    );

    drop(server);
    let again = Server::start(&path);
    let reopened = again.settled(undone["version"].as_u64().unwrap());
    assert_eq!(reopened["intake"], undone["intake"]);
}
