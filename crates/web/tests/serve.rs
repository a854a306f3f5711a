//! The server as a browser, a script and a stranger find it: started for real, spoken to over TCP.

mod common;

use std::time::Instant;

use common::Server;
use serde_json::{Value, json};

/// Sends an event; status and answer.
fn post(server: &Server, body: &str, more: &str) -> (u16, Value) {
    let (host, length) = (server.address, body.len());
    let (status, _, body) = server.raw(&format!(
        "POST /api/v1/events HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Type: application/json\r\n\
         Content-Length: {length}\r\n{more}\r\n{body}"
    ));
    (status, serde_json::from_str(&body).unwrap_or(Value::Null))
}

fn reading(id: &str, test: &str, shown: &str) -> String {
    let set_up = "key on; S1 apart; fan commanded";
    json!({"id": id, "device": "bench", "sequence": 1, "at_ms": 1_700_000_060_000_u64, "what": "reading",
           "set_up": set_up, "test": test, "shown": shown})
    .to_string()
}

#[test]
fn a_job_is_served_noted_in_and_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("van.job");
    let began = Instant::now();
    let server = Server::start(&path);
    println!("started to serving in {:?}", began.elapsed());

    let job = server.json("/api/v1/job");
    assert_eq!(job["title"], "Van 31");
    assert!(
        job["connectors"]
            .as_array()
            .unwrap()
            .iter()
            .any(|one| one["clause"] == "S1 apart"),
        "{job}"
    );
    let before = server.settled(1);
    assert_eq!(before["failure"], Value::Null);
    assert_eq!(before["conclusion"]["kind"], "open", "{before:#}");
    assert!(before["suspects"].as_array().unwrap().len() > 1);
    assert!(!before["next"].as_array().unwrap().is_empty());
    let total: f64 = before["suspects"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|one| one["chance"].as_f64())
        .sum::<f64>()
        + before["others"]["chance"].as_f64().unwrap_or(0.0);
    assert!((total - 1.0).abs() < 0.02, "chances sum to {total}");

    // Noted once, however often it is sent.
    let event = reading("r1", "light S1.3 battery-", "dark");
    let began = Instant::now();
    let (status, noted) = post(&server, &event, "");
    assert_eq!((status, &noted["added"]), (201, &json!(true)), "{noted}");
    let version = noted["latest"].as_u64().unwrap();
    let after = server.settled(version);
    println!("noted to new suspects and proposals in {:?}", began.elapsed());
    let (status, noted) = post(&server, &event, "");
    assert_eq!((status, &noted["added"]), (200, &json!(false)));
    let (status, _) = post(&server, &reading("r1", "light S1.3 battery-", "bright"), "");
    assert_eq!(status, 409);
    assert_ne!(
        before["suspects"], after["suspects"],
        "a dark test light says something"
    );
    assert_eq!(
        after["readings"].as_array().unwrap().len(),
        before["readings"].as_array().unwrap().len() + 1
    );

    // Undo brings the earlier answer back.
    let undo = json!({"id": "u1", "device": "bench", "sequence": 2, "at_ms": 0, "what": "undo", "event": after["undo"]["event"]});
    let (status, noted) = post(&server, &undo.to_string(), "");
    assert_eq!(status, 201);
    let undone = server.settled(noted["latest"].as_u64().unwrap());
    assert_eq!(undone["suspects"], before["suspects"]);
    assert_eq!(undone["redo"]["event"], "u1");

    // Another server opens the same file and finds it as it was.
    drop(server);
    let again = Server::start(&path);
    let reopened = again.settled(undone["version"].as_u64().unwrap());
    assert_eq!(reopened["readings"], undone["readings"]);
    assert_eq!(reopened["suspects"], undone["suspects"]);
}

#[test]
fn what_to_do_next_starts_from_how_the_vehicle_stands() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(&folder.path().join("van.job"));
    let before = server.settled(1);
    assert_eq!(before["set_up"], "key on; S1 apart; fan commanded");
    let event = json!({"id": "s1", "device": "bench", "sequence": 1, "at_ms": 1_700_000_060_000_u64, "what": "set_up",
                       "set_up": "key on; S1 apart; floor apart; fan commanded"});
    let (status, noted) = post(&server, &event.to_string(), "");
    assert_eq!(status, 201, "{noted}");
    let parted = server.settled(noted["latest"].as_u64().unwrap());
    assert_eq!(parted["set_up"], "key on; floor apart; S1 apart; fan commanded");
    // A plug parted is no reading; only which test is within reach, and so what none tells apart, may change.
    assert_eq!(parted["suspects"][0]["alone"], before["suspects"][0]["alone"]);
    assert_eq!(parted["readings"], before["readings"]);
    // Minutes of a change by hand arithmetic are the circuit's own test; here each step that is told is paid for, and the
    // joint that was parted is either used as it is or put together first.
    for next in parted["next"].as_array().unwrap() {
        let together = next["how"].to_string().contains("put the floor joint together");
        let stays = next["set_up"].as_str().unwrap().contains("floor apart");
        assert!(together != stays, "{next}");
    }
    assert!(
        parted["undo"]["words"].as_str().unwrap().starts_with("set-up: "),
        "{parted}"
    );
    assert_ne!(parted["next"], before["next"]);

    let undo = json!({"id": "u1", "device": "bench", "sequence": 2, "at_ms": 0, "what": "undo", "event": "s1"});
    let (_, noted) = post(&server, &undo.to_string(), "");
    let undone = server.settled(noted["latest"].as_u64().unwrap());
    assert_eq!(undone["next"], before["next"]);
    let wrong =
        json!({"id": "s2", "device": "bench", "sequence": 3, "at_ms": 0, "what": "set_up", "set_up": "key sideways"});
    let (status, refused) = post(&server, &wrong.to_string(), "");
    assert_eq!(status, 422, "{refused}");
    assert!(
        refused["message"].as_str().unwrap().contains("key sideways"),
        "{refused}"
    );
}

#[test]
fn keep_measuring_is_said_only_with_something_to_measure() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(&folder.path().join("van.job"));
    let readings = [
        ("key on; S1 apart; fan commanded", "32.0 bar"),
        ("key on; S1 apart", "0.2 bar"),
    ];
    for (at, (set_up, shown)) in readings.into_iter().enumerate() {
        let event = json!({"id": format!("r{at}"), "device": "bench", "sequence": at + 1, "at_ms": 0, "what": "reading",
                           "set_up": set_up, "test": "scan pressure", "shown": shown});
        let (status, noted) = post(&server, &event.to_string(), "");
        assert_eq!(status, 201, "{noted}");
        let answer = server.settled(noted["latest"].as_u64().unwrap());
        let (next, kind) = (
            answer["next"].as_array().unwrap(),
            answer["conclusion"]["kind"].as_str().unwrap(),
        );
        assert!(!next.is_empty() || kind != "open", "{}", answer["conclusion"]);
    }
}

#[test]
fn every_kind_of_reading_is_judged_by_what_a_circuit_in_order_shows() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(&folder.path().join("van.job"));
    let mut latest = 0;
    let cases = [
        ("light S1.3 battery-", "bright", "should be dark"),
        ("voltmeter S1.3 battery-", "11..12 V", "should be near 0 V"),
    ];
    for (at, (test, shown, _)) in cases.iter().enumerate() {
        let (status, noted) = post(&server, &reading(&format!("v{at}"), test, shown), "");
        assert_eq!(status, 201, "{noted}");
        latest = noted["latest"].as_u64().unwrap();
    }
    let codes = [
        ("present", "should be not set"),
        ("history", "should be not set"),
        ("not set", "as it should be"),
    ];
    for (at, (state, _)) in codes.iter().enumerate() {
        let event = json!({"id": format!("c{at}"), "device": "bench", "sequence": 1, "at_ms": 0, "what": "code",
                           "set_up": "key on", "code": "P0533", "state": state});
        let (status, noted) = post(&server, &event.to_string(), "");
        assert_eq!(status, 201, "{noted}");
        latest = noted["latest"].as_u64().unwrap();
    }
    let answer = server.settled(latest);
    let readings = answer["readings"].as_array().unwrap();
    let ours = &readings[readings.len() - cases.len() - codes.len()..];
    let expected = cases.iter().map(|case| case.2).chain(codes.iter().map(|case| case.1));
    for (reading, expected) in ours.iter().zip(expected) {
        let verdict = reading["verdict"].as_str().unwrap();
        // Readings that contradict each other make some of them doubtful, and what tells nothing new says so; none is
        // called right that is not.
        let fits = expected == "as it should be";
        let right = verdict == expected
            || verdict == "may be a slip: measure it again"
            || (fits && verdict == "tells nothing yet");
        assert!(right, "{reading}: {expected}");
    }
    let told: Vec<&str> = ours.iter().filter_map(|one| one["verdict"].as_str()).collect();
    assert!(
        told.contains(&"should be dark") && told.contains(&"should be near 0 V"),
        "{told:?}"
    );
    assert!(told.contains(&"should be not set"), "{told:?}");
    assert_eq!(ours[0]["set_up_short"], "sensor plug apart, condenser fan on");
}

#[test]
fn questions_are_answered_and_bad_ones_refused_with_help() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(&folder.path().join("van.job"));
    server.settled(1);
    let judged = server.json("/api/v1/judge?set_up=key%20on%3B%20S1%20apart&test=voltmeter%20S1.2%20battery-");
    assert_eq!(judged["safety"]["verdict"], "safe");
    // The other side of the plug is out of reach while it is together, and the page is told so.
    let far = server.json("/api/v1/judge?set_up=key%20on&test=voltmeter%20S1.3%2Fpin%20battery-");
    assert!(
        far["worth"].as_str().unwrap().contains("Part the sensor plug first"),
        "{far}"
    );
    // An ohmmeter on a signal that carries a feed would show nothing of use.
    let ohms = server
        .json("/api/v1/judge?set_up=key%20on%3B%20S1%20apart%3B%20fan%20commanded&test=ohmmeter%20S1.3%20battery-");
    assert_ne!(ohms["safety"]["verdict"], "safe", "{ohms}");
    let moves = server.json("/api/v1/judge?set_up=key%20on%3B%20fan%20commanded&test=voltmeter%20C5.1");
    let told = moves["safety"]["cautions"][0].as_str().expect("a caution");
    assert!(told.contains("fan turns"), "{moves}");

    let suspect = server.json("/api/v1/answer")["suspects"][0]["fault"]
        .as_str()
        .unwrap()
        .replace(' ', "%20")
        .replace('/', "%2F");
    let expects = server.json(&format!(
        "/api/v1/expects?set_up=key%20on%3B%20fan%20commanded&suspect={suspect}"
    ));
    assert!(
        expects["rows"]
            .as_array()
            .unwrap()
            .iter()
            .any(|row| row["differs"] == true),
        "{expects}"
    );
    let picture = server.json("/api/v1/picture?set_up=key%20on%3B%20S1%20apart&red=S1.3&width=900");
    assert!(picture["svg"].as_str().unwrap().starts_with("<svg"));
    assert!(
        !picture["svg"].as_str().unwrap().contains("<style"),
        "the page's policy would refuse it"
    );
    assert!(
        picture["spots"]
            .as_array()
            .unwrap()
            .iter()
            .any(|spot| spot["point"] == "S1.3" && spot["reachable"] == true)
    );

    // Where nothing is to be seen as the vehicle stands, the last voltage is shown as it was taken, unless a place is
    // asked for.
    let stairs = |query: &str| server.json(&format!("/api/v1/staircase?{query}"))["svg"].to_string();
    let as_measured = "(as measured: sensor plug apart, condenser fan on)";
    assert!(stairs("set_up=key%20off%3B%20S1%20apart").contains(as_measured));
    assert!(!stairs("set_up=key%20off%3B%20S1%20apart&at=S1.3").contains(as_measured));
    assert!(!stairs("set_up=key%20on%3B%20S1%20apart%3B%20fan%20commanded").contains(as_measured));

    for (path, status) in [
        ("/api/v1/judge?test=voltmeter%20nowhere", 422),
        ("/api/v1/judge?set_up=key%20sideways&test=scan%20pressure", 422),
        ("/api/v1/judge", 400),
        ("/api/v1/expects?suspect=nothing", 422),
        ("/api/v1/expects?colour=red", 400),
        ("/api/v1/picture?red=nowhere", 422),
        ("/api/v1/nothing", 404),
        ("/nothing", 404),
        ("/../Cargo.toml", 404),
    ] {
        let (found, _, body) = server.get(path);
        let body: Value = serde_json::from_str(&body).unwrap_or_else(|_| panic!("{path}: no JSON: {body}"));
        assert_eq!(found, status, "{path}: {body}");
        assert!(!body["message"].as_str().unwrap().is_empty() && !body["help"].as_str().unwrap().is_empty());
        assert!(!body.to_string().contains(env!("CARGO_MANIFEST_DIR")));
    }
    for (body, status) in [
        ("", 400),
        ("{}", 400),
        (reading("r2", "voltmeter nowhere", "1 V").as_str(), 422),
        (reading("r2", "voltmeter S1.3 battery-", "a lot").as_str(), 422),
        (reading("has space", "voltmeter S1.3 battery-", "1 V").as_str(), 422),
        (
            r#"{"id":"u","device":"d","sequence":1,"at_ms":0,"what":"undo","event":"nothing"}"#,
            422,
        ),
        (
            r#"{"id":"o","device":"d","sequence":1,"at_ms":0,"what":"opened","title":"","complaint":"","circuit":""}"#,
            422,
        ),
    ] {
        let (found, answer) = post(&server, body, "");
        assert_eq!(found, status, "{body}: {answer}");
    }
    let (status, _) = post(&server, &format!("{{\"id\":\"{}\"}}", "x".repeat(100_000)), "");
    assert_eq!(status, 413);
}

#[test]
fn strangers_are_turned_away_and_pages_may_load_nothing_foreign() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(&folder.path().join("van.job"));
    let (status, head, _) = server.get("/");
    assert_eq!(status, 200);
    assert!(
        head.contains("content-security-policy: default-src 'none'; script-src 'self'"),
        "{head}"
    );
    assert!(!head.contains("unsafe-inline"));
    assert!(head.contains("x-content-type-options: nosniff"));
    let mark = head
        .lines()
        .find_map(|line| line.strip_prefix("etag: "))
        .unwrap()
        .to_owned();
    let host = server.address;
    let (status, _, _) = server.raw(&format!(
        "GET / HTTP/1.1\r\nHost: {host}\r\nIf-None-Match: {mark}\r\nConnection: close\r\n\r\n"
    ));
    assert_eq!(status, 304);

    let (status, _, body) = server.raw("GET /api/v1/job HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n");
    assert_eq!(status, 421, "{body}");
    let note = r#"{"id":"n","device":"d","sequence":1,"at_ms":0,"what":"note","words":"hello"}"#;
    let (status, _) = post(&server, note, "Origin: http://evil.example\r\n");
    assert_eq!(status, 403);
    let (status, _) = post(&server, note, &format!("Origin: http://{host}\r\n"));
    assert_eq!(status, 201);
    let length = note.len();
    let (status, _, _) = server.raw(&format!(
        "POST /api/v1/events HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Type: text/plain\r\n\
         Content-Length: {length}\r\n\r\n{note}"
    ));
    assert_eq!(status, 415, "a form of another site can only send plain text");
}

#[test]
fn a_shop_that_counts_its_jobs_sees_what_that_does() {
    let folder = tempfile::tempdir().unwrap();
    let learnt = r#"{"probewise_learnt":1,"jobs":["a.job"],"counts":[
        {"vehicles":"van an invented delivery van","part":"connector","mode":"leak","seen":5.0,"expected":0.5}]}"#;
    let leak = |answer: &Value| {
        let suspects = answer["suspects"].as_array().unwrap();
        let one = suspects
            .iter()
            .find(|one| one["fault"].as_str().unwrap().ends_with("/leak"))
            .unwrap();
        (
            one["chance"].as_f64().unwrap(),
            one["seen"].as_str().unwrap().to_owned(),
        )
    };
    let server = Server::start(&folder.path().join("van.job"));
    let (before, seen) = leak(&server.settled(1));
    assert_eq!(seen, "");
    assert_eq!(server.json("/api/v1/proof"), Value::Null);
    drop(server);
    std::fs::write(folder.path().join("learnt.json"), learnt).unwrap();
    let server = Server::start(&folder.path().join("van.job"));
    let (after, seen) = leak(&server.settled(1));
    assert!(after > before, "{after} after {before}");
    // (4 + 5) / (4 + 0.5) = 2.
    assert_eq!(seen, "Seen here 5 times: taken 2.0 times as likely");
    let (status, _, body) = server.get("/api/v1/leans?suspect=nothing");
    assert_eq!(status, 422, "{body}");

    // Left out, the rates are the built-in ones at once, and back again.
    let order = |what: &str| {
        let (host, length) = (server.address, what.len());
        let (status, _, body) = server.raw(&format!(
            "POST /api/v1/shop HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Type: application/json\r\n\
             Content-Length: {length}\r\n\r\n{what}"
        ));
        (status, body)
    };
    let until = |wanted: f64| {
        for _ in 0..1000 {
            let answer = server.settled(1);
            if (leak(&answer).0 - wanted).abs() < 1e-9 {
                return answer;
            }
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
        panic!("{wanted} never came");
    };
    let (status, body) = order(r#"{"use":false}"#);
    assert_eq!(status, 200, "{body}");
    let answer = until(before);
    assert_eq!(
        (leak(&answer).1.as_str(), &answer["shop"]["on"]),
        ("", &Value::Bool(false))
    );
    assert_eq!(order(r#"{"use":true}"#).0, 200);
    let answer = until(after);
    assert_eq!(answer["shop"]["jobs"], 1);
    assert_eq!(
        answer["shop"]["effect"][0],
        "connector, leak: seen here 5 times, taken 2.0 times as likely"
    );
    // A job without a proved repair does not count, and says why.
    let (status, body) = order(r#"{"count":{}}"#);
    assert!(
        status == 422 && body.contains("no repair of a known fault is noted"),
        "{status} {body}"
    );
    assert_eq!(order("{\"forget\":1}").0, 400);
    assert_eq!(
        std::fs::read_to_string(folder.path().join("learnt.json")).unwrap(),
        learnt
    );
}
