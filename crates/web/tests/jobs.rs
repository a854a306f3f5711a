//! The jobs of a shop at one address: listed, searched, begun, and each worked on at its own link, several at once.

mod common;

use std::fs;
use std::path::Path;

use common::Server;
use job::{Event, Store, What};
use serde_json::{Value, json};

/// A demo job under another title.
fn kept(folder: &Path, name: &str, title: &str, more: Vec<What>) {
    let mut store = Store::open(&folder.join(name)).expect("a store");
    for mut event in web::demo::events(1_700_000_000_000) {
        if let What::Opened { title: old, .. } = &mut event.what {
            title.clone_into(old);
        }
        store.append(event).expect("appended");
    }
    for (sequence, what) in (10..).zip(more) {
        let event = Event {
            id: format!("more-{sequence}"),
            device: "bench".into(),
            sequence,
            at_ms: 1_700_000_000_000 + sequence,
            what,
        };
        store.append(event).expect("appended");
    }
}

fn note(id: &str, what: &Value) -> Value {
    let mut event = json!({"id": id, "device": "bench", "sequence": 1, "at_ms": 1_700_000_100_000_u64});
    event
        .as_object_mut()
        .expect("an object")
        .extend(what.as_object().expect("an object").clone());
    event
}

/// Titles by group: `open: Van 31`.
fn listed(server: &Server, search: &str) -> Vec<String> {
    let list = server.json(&format!("/api/v1/jobs?search={search}"));
    let groups = list["groups"].as_array().expect("groups");
    let row = |group: &Value, job: &Value| {
        format!(
            "{}: {}",
            group["standing"].as_str().expect("there"),
            job["title"].as_str().expect("there")
        )
    };
    groups
        .iter()
        .flat_map(|group| {
            group["jobs"]
                .as_array()
                .expect("there")
                .iter()
                .map(|job| row(group, job))
        })
        .collect()
}

#[test]
fn jobs_are_listed_searched_and_a_broken_file_hurts_none() {
    let folder = tempfile::tempdir().unwrap();
    kept(folder.path(), "van.job", "HH-PW 31, delivery van", vec![]);
    let ordered = What::Waiting {
        on: Some(job::Awaited::Parts),
    };
    kept(folder.path(), "car.job", "B-XY 77, city car", vec![ordered]);
    fs::write(folder.path().join("broken.job"), "{\"probewise_job\":1}\nno event\n").unwrap();
    let server = Server::jobs(folder.path());
    assert_eq!(
        listed(&server, ""),
        ["open: HH-PW 31, delivery van", "parts: B-XY 77, city car"]
    );
    assert_eq!(listed(&server, "hhpw31"), ["open: HH-PW 31, delivery van"]);
    assert_eq!(listed(&server, "city%20fan"), ["parts: B-XY 77, city car"]);
    assert_eq!(listed(&server, "lorry"), [""; 0]);
    let list = server.json("/api/v1/jobs");
    assert_eq!(list["all"], 3);
    assert_eq!(
        list["unreadable"],
        json!([{"id": "broken", "why": "its line 2 cannot be read"}])
    );
    assert_eq!(list["groups"][0]["jobs"][0]["told"], "2 readings");

    let (status, _, said) = server.get("/job/broken/api/v1/job");
    assert_eq!(status, 422);
    assert!(said.contains("its line 2 cannot be read"), "{said}");
    assert!(
        !said.contains(&folder.path().display().to_string()),
        "no path of this machine: {said}"
    );
    assert_eq!(server.get("/job/nobody/api/v1/job").0, 404);
    assert_eq!(server.get("/job/..%2Fvan/api/v1/job").0, 404);
    assert_eq!(server.json("/job/van/api/v1/job")["title"], "HH-PW 31, delivery van");
    for page in ["/", "/new", "/job/van", "/job/van/"] {
        let (status, head, _) = server.get(page);
        assert!(status == 200 && head.contains("text/html"), "{page}");
    }
    // A stranger's name for this server opens nothing here either.
    let stranger = "GET /job/van/api/v1/job HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n";
    assert_eq!(server.raw(stranger).0, 421);
}

#[test]
fn every_job_has_a_desk_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    kept(folder.path(), "van.job", "Van", vec![]);
    kept(folder.path(), "HH-PW 31 grün.job", "Green van", vec![]);
    let server = Server::jobs(folder.path());
    let green = "/job/HH-PW%2031%20gr%C3%BCn";
    let before = [server.settled_at("/job/van", 3), server.settled_at(green, 3)];
    assert_eq!(before[0]["suspects"], before[1]["suspects"]);

    let reading = note(
        "r1",
        &json!({"what": "reading", "set_up": "key on; S1 apart; fan commanded", "test": "light S1.3 battery-", "shown": "dark"}),
    );
    let (status, noted) = server.post(&format!("{green}/api/v1/events"), &reading);
    assert_eq!(status, 201, "{noted}");
    let after = server.settled_at(green, noted["latest"].as_u64().unwrap());
    assert_eq!(after["readings"].as_array().unwrap().len(), 3);
    let other = server.settled_at("/job/van", 3);
    assert_eq!(
        other["readings"], before[0]["readings"],
        "a reading of one is none of the other"
    );
    assert_eq!(other["suspects"], before[0]["suspects"]);

    // Where it stands shows in the list at once; a measurement opens it again.
    let waits = note("w1", &json!({"what": "waiting", "on": "customer"}));
    assert_eq!(server.post("/job/van/api/v1/events", &waits).0, 201);
    assert_eq!(listed(&server, ""), ["open: Green van", "customer: Van"]);
    assert_eq!(server.settled_at("/job/van", 4)["standing"], "customer");
    let (status, refused) = server.post("/job/van/api/v1/events", &note("a1", &json!({"what": "accepted"})));
    assert_eq!(
        (status, &refused["message"]),
        (422, &json!("no readings prove a repair yet"))
    );

    // The server ends, the files are let go, and another finds everything as it was.
    drop(server);
    let again = Server::jobs(folder.path());
    assert_eq!(again.settled_at(green, 4)["readings"], after["readings"]);
    assert_eq!(listed(&again, ""), ["open: Green van", "customer: Van"]);
}

#[test]
fn a_job_begins_in_three_fields_with_codes_among_the_words() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::jobs(folder.path());
    assert_eq!(server.json("/api/v1/jobs")["all"], 0);
    let offered = server.json("/api/v1/offers?plate=HH-PW%2031&vehicle=delivery%20van&wrong=stalls%20when%20warm,%20P0122%20pending%20and%20P0335");
    let codes: Vec<&str> = offered["codes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["code"].as_str().unwrap())
        .collect();
    assert_eq!(codes, ["P0122", "P0335"]);
    assert_eq!(offered["codes"][0]["state"], "pending");
    let circuit = offered["ready"]
        .as_array()
        .unwrap()
        .iter()
        .find(|one| !one["because"].as_array().unwrap().is_empty())
        .unwrap();
    let typed =
        json!({"plate": " HH-PW 31 ", "vehicle": "delivery van", "wrong": "stalls when warm, P0122 pending and P0335"});
    let made = json!({"circuits": [circuit["name"]], "wrong": typed["wrong"], "vehicle": "delivery van"});
    let order = json!({"typed": typed, "of": {"made": [made, null]}});
    let (status, begun) = server.post("/api/v1/begin", &order);
    assert_eq!(
        (status, &begun["title"], &begun["job"]),
        (201, &json!("HH-PW 31, delivery van"), &json!("HH-PW 31 delivery van")),
        "{begun}"
    );
    let (_, second) = server.post("/api/v1/begin", &order);
    assert_eq!(
        second["job"], "HH-PW 31 delivery van 2",
        "the second of a name has a file of its own"
    );

    assert_eq!(listed(&server, "P0122"), ["open: HH-PW 31, delivery van"; 2]);
    assert_eq!(
        listed(&server, "crankshaft").len(),
        2,
        "a code is found by what it means"
    );
    let job = server.json("/job/HH-PW%2031%20delivery%20van/api/v1/job");
    assert_eq!(job["complaint"], "stalls when warm, P0122 pending and P0335");
    assert_eq!(job["vehicle"], "delivery van");
}
