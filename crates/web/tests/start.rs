//! A job begun on the page: of a circuit of the shop's library, or of one that codes and answers make.

mod common;

use std::path::Path;
use std::time::{Duration, Instant};

use common::Server;
use job::library::Library;
use serde_json::{Value, json};
use web::start::{Beginning, new_file};

fn kept(folder: &Path) -> Library {
    let library = Library::at(&folder.join("library"));
    library
        .add("delivery van", "pressure", "2026-11-25", circuit::DEMO)
        .expect("kept");
    let text = circuit::DEMO.replace("title = \"", "title = \"Again: ");
    library
        .add("delivery van", "pressure", "2026-11-26", &text)
        .expect("kept");
    library
        .add("car", "pressure", "2026-11-26", circuit::DEMO)
        .expect("kept");
    library
}

fn beginning(folder: &Path) -> Beginning {
    Beginning {
        jobs: folder.to_owned(),
        library: folder.join("library"),
        learning: true,
        now_ms: || 1_700_000_000_000,
    }
}

fn post(server: &Server, path: &str, body: &str) -> (u16, String) {
    let (host, length) = (server.address, body.len());
    let (status, _, said) = server.raw(&format!(
        "POST /api/v1/{path} HTTP/1.1\r\nHost: {host}\r\nContent-Type: application/json\r\nContent-Length: {length}\r\n\
         Connection: close\r\n\r\n{body}"
    ));
    (status, said)
}

fn begin(server: &Server, of: &Value) -> (u16, String) {
    post(server, "begin", &json!({ "of": of }).to_string())
}

/// Waits until the job is served in place of the choice.
fn job(server: &Server) -> Value {
    let until = Instant::now() + Duration::from_secs(20);
    while server.get("/api/v1/job").0 != 200 {
        assert!(Instant::now() < until, "the job is not served");
        std::thread::sleep(Duration::from_millis(20));
    }
    server.json("/api/v1/job")
}

#[test]
fn a_circuit_of_the_library_becomes_a_job_at_the_same_address() {
    let folder = tempfile::tempdir().expect("a folder");
    kept(folder.path());
    let server = Server::choosing(beginning(folder.path()));
    let offered = server.json("/api/v1/offers");
    let circuits = offered["library"].as_array().expect("a list");
    let named: Vec<&str> = circuits.iter().filter_map(|one| one["circuit"].as_str()).collect();
    assert_eq!(named, ["car/pressure@1", "delivery van/pressure@2"]);
    assert!(
        circuits[1]["title"]
            .as_str()
            .is_some_and(|title| title.starts_with("Again: "))
    );
    assert_eq!(server.get("/api/v1/job").0, 404);
    assert!(server.get("/").2.contains("A new job"));

    assert_eq!(begin(&server, &json!({"library": "car/fan"})).0, 422);
    assert_eq!(post(&server, "begin", "libary").0, 400);
    let (status, said) = begin(&server, &json!({"library": "delivery van/pressure@2"}));
    assert_eq!(status, 201, "{said}");
    assert_eq!(job(&server)["title"], "Van 31, an invented delivery van");
    assert!(server.get("/").2.contains("Opening the job"));
    assert_eq!(begin(&server, &json!({"library": "car/pressure"})).0, 404);
    drop(server);
    let store = ::job::Store::open(&folder.path().join("delivery van pressure.job")).expect("a job");
    let ::job::What::Opened { circuit, .. } = &store.events()[0].what else {
        panic!("{:?}", store.events())
    };
    assert!(circuit.contains("Again: "));
    assert!(new_file(folder.path(), "delivery van pressure").ends_with("delivery van pressure 2.job"));
}

#[test]
fn an_edited_circuit_is_told_and_not_offered() {
    let folder = tempfile::tempdir().expect("a folder");
    kept(folder.path());
    let place = folder.path().join("library/car/pressure");
    let file = std::fs::read_dir(&place)
        .expect("there")
        .next()
        .expect("one")
        .expect("read")
        .path();
    std::fs::write(file, "title = \"other\"").expect("written");
    let server = Server::choosing(beginning(folder.path()));
    let offered = server.json("/api/v1/offers");
    assert_eq!(offered["library"].as_array().map(Vec::len), Some(1));
    assert_eq!(offered["left_out"][0], "car/pressure was edited and cannot be used");
    assert_eq!(begin(&server, &json!({"library": "car/pressure"})).0, 422);
    // The refusal leaves the place free for another circuit.
    assert_eq!(begin(&server, &json!({"library": "delivery van/pressure"})).0, 201);
}

#[test]
fn what_was_typed_is_told_in_plain_words_and_brings_circuits() {
    let folder = tempfile::tempdir().expect("a folder");
    kept(folder.path());
    let server = Server::choosing(beginning(folder.path()));
    let told =
        server.json("/api/v1/offers?codes=P0335%20P0122%20history%20(in%20May)%20P01Z2&vehicle=delivery%20van%2031&vin=1M8GDM9AXKP042788");
    assert_eq!(
        told["codes"][0]["says"]
            .as_str()
            .map(|says| says.contains("crankshaft")),
        Some(true),
        "{told}"
    );
    assert_eq!(
        (&told["codes"][1]["code"], &told["codes"][2]["is_code"]),
        (&json!("P0122"), &json!(false))
    );
    assert_eq!(
        (
            &told["codes"][0]["state"],
            &told["codes"][1]["state"],
            &told["codes"][1]["seen"]
        ),
        (&json!("present"), &json!("history"), &json!("in May"))
    );
    assert!(
        told["vin"]["told"][0]
            .as_str()
            .is_some_and(|line| line.starts_with("Check digit X: right"))
    );
    let ready: Vec<&str> = told["ready"]
        .as_array()
        .expect("a list")
        .iter()
        .filter(|one| one["because"] != json!([]))
        .filter_map(|one| one["name"].as_str())
        .collect();
    assert!(
        ready.contains(&"pick-up-coil") && ready.contains(&"position-track"),
        "{ready:?}"
    );
    let library = told["library"].as_array().expect("a list");
    assert_eq!(
        (library.len(), &library[0]["group"], &told["kept"]),
        (1, &json!("delivery van"), &json!(2))
    );
    let wrong = server.json("/api/v1/offers?vin=1M8GDM9AXKP04278");
    assert_eq!(
        wrong["vin"]["told"][0],
        "16 characters are here, 17 are needed: look for one left out"
    );
    assert_eq!(server.get("/api/v1/offers?colour=red").0, 400);
}

#[test]
fn answers_that_do_not_fit_are_told_at_their_question_and_begin_no_job() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = Server::choosing(beginning(folder.path()));
    let made = |answers: Value| -> Value {
        let body =
            json!({ "circuits": ["pick-up-coil", "position-track"], "answers": answers, "codes": "P0335 P0122" });
        let (status, said) = post(&server, "circuit", &body.to_string());
        assert_eq!(status, 200, "{said}");
        serde_json::from_str(&said).expect("JSON")
    };
    let question = |made: &Value, id: &str| -> Value {
        let all = made["questions"].as_array().expect("a list");
        all.iter().find(|one| one["id"] == id).expect("asked").clone()
    };
    let open = made(json!([]));
    assert!(open["svg"].as_str().is_some_and(|svg| svg.starts_with("<svg")));
    assert!(open["cautions"].as_array().is_some_and(|all| all.len() > 2));
    let body = json!({ "circuits": ["position-track"], "codes": "P0122 P0117" });
    let (_, said) = post(&server, "circuit", &body.to_string());
    assert!(
        said.contains("This circuit has no check that sets P0117, so it is not weighed: no pin alone fits it"),
        "{said}"
    );
    let signal = question(&open, "signal");
    assert_eq!(
        (&signal["kind"], &signal["plug"], &signal["stands"]),
        (&json!("cavity"), &json!("C1"), &json!("7"))
    );
    assert_eq!(question(&open, "beside")["choices"][1], "a wire at 12 V");
    assert_eq!(question(&open, "length")["kind"], "length");

    let answered = made(json!([["signal", "31"], ["reference", "here"], ["signal-colour", ""]]));
    assert_ne!(answered["svg"], open["svg"], "the picture follows");
    assert!(answered["svg"].as_str().is_some_and(|svg| svg.contains("C1.31")));
    let problem = question(&answered, "reference")["problem"].clone();
    assert!(
        problem
            .as_str()
            .is_some_and(|why| why.starts_with("The number of a cavity of C1")),
        "{problem}"
    );
    assert_eq!(question(&answered, "signal")["problem"], Value::Null);

    let wrong = json!({"made": [{ "circuits": ["position-track"], "answers": [["signal", "here"]] }, null]});
    let (status, said) = begin(&server, &wrong);
    assert_eq!(status, 422, "{said}");
    assert!(said.contains("Module cavity of the signal"), "{said}");
    let place = json!({ "group": "van/..", "name": "throttle" });
    let (status, said) = begin(&server, &json!({"made": [{ "circuits": ["position-track"] }, place]}));
    assert_eq!(status, 422, "{said}");
    assert!(said.contains("cannot name a group of vehicles"), "{said}");
    assert!(
        !folder.path().join("library").exists() && std::fs::read_dir(folder.path()).expect("there").next().is_none()
    );
    for circuits in [json!([]), json!(["no-such"])] {
        assert_eq!(
            post(&server, "circuit", &json!({ "circuits": circuits }).to_string()).0,
            422
        );
    }
}

#[test]
fn codes_and_answers_become_a_job_and_a_circuit_of_the_library() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = Server::choosing(beginning(folder.path()));
    let typed = json!({ "codes": "P0122 pending (81 200 km), P1234", "wrong": "stalls", "vehicle": "../Van 31", "vin": "1M8GDM9AXKP042788" });
    let making = json!({ "circuits": ["pick-up-coil", "position-track"], "codes": "P0122 P1234", "answers": [["signal", "31"]] });
    let of = json!({"made": [making, { "group": "delivery van", "name": "crank and throttle" }]});
    let (status, said) = post(&server, "begin", &json!({ "typed": typed, "of": of }).to_string());
    assert_eq!(status, 201, "{said}");
    let job = job(&server);
    assert_eq!(
        (&job["title"], &job["complaint"]),
        (&json!("../Van 31"), &json!("stalls"))
    );
    assert_eq!(
        (&job["vin"]["vin"], &job["vehicle"]),
        (&json!("1M8GDM9AXKP042788"), &json!("delivery van"))
    );
    assert!(
        job["cautions"]
            .as_array()
            .is_some_and(|all| all.contains(&json!("Key off before the module's plug is opened.")))
    );
    let answer = server.settled(3);
    assert_eq!(answer["troubles"], json!([]));
    assert_eq!(answer["readings"][0]["test"], "code P0122");
    let reading = &answer["readings"][0];
    assert_eq!(
        (&reading["shown"], &reading["seen"]),
        (&json!("pending"), &json!("81 200 km"))
    );
    assert!(
        answer["acts"][0]["words"].as_str().is_some_and(
            |words| words == "Code P1234 present. This circuit has no check that sets P1234: it is not weighed."
        ),
        "{}",
        answer["acts"]
    );
    drop(server);
    let store = ::job::Store::open(&folder.path().join("Van 31.job")).expect("a job");
    let ::job::What::Opened { circuit, .. } = &store.events()[0].what else {
        panic!("{:?}", store.events())
    };
    let library = Library::at(&folder.path().join("library"));
    let kept = library.find("delivery van/crank and throttle").expect("kept");
    assert_eq!(&library.text(&kept).expect("whole"), circuit);
    // The next vehicle of the kind is one tap.
    let again = Server::choosing(beginning(folder.path()));
    assert_eq!(
        again.json("/api/v1/offers?vehicle=delivery%20van%2032")["library"][0]["name"],
        "crank and throttle"
    );
    assert_eq!(
        begin(&again, &json!({"library": "delivery van/crank and throttle"})).0,
        201
    );
}

#[test]
fn what_cannot_be_predicted_is_told_with_its_reason() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = Server::choosing(beginning(folder.path()));
    let of = json!({"circuits": ["solenoid-duty"], "answers": []});
    assert_eq!(begin(&server, &json!({ "made": [of, null] })).0, 201);
    job(&server);
    server.settled(1);
    let asked = server.json("/api/v1/judge?set_up=key%20on;%20valve%20commanded&test=ac%20V1.2");
    let said = asked["healthy"].as_str().unwrap_or_default();
    assert_eq!(asked["remarks"], json!([]));
    let idle = server.json("/api/v1/judge?set_up=key%20on;%20pulses%2060%20%25&test=ac%20V1.2");
    let remark = idle["remarks"][0].as_str().unwrap_or_default();
    assert!(
        remark.contains("do not go as the vehicle stands") && !remark.contains('`'),
        "{idle}"
    );
    assert!(
        said.starts_with("cannot be said: it hangs on how a coil's current"),
        "{asked}"
    );
}

#[test]
fn a_circuit_of_the_library_and_a_ready_made_one_become_one_job() {
    let folder = tempfile::tempdir().expect("a folder");
    kept(folder.path());
    let server = Server::choosing(beginning(folder.path()));
    let making = json!({"circuits": ["library:car/pressure", "pick-up-coil"], "codes": "P0335"});
    let (status, said) = post(&server, "circuit", &making.to_string());
    let made: Value = serde_json::from_str(&said).expect("JSON");
    assert_eq!(status, 200, "{said}");
    // What the library's circuit says is no question; the other still asks its own.
    assert!(
        made["questions"].as_array().is_some_and(|asked| asked.len() > 1),
        "{said}"
    );
    assert_eq!(post(&server, "circuit", r#"{"circuits": ["library:car/fan"]}"#).0, 422);
    assert_eq!(
        post(&server, "circuit", r#"{"circuits": ["library:car/pressure"]}"#).0,
        200
    );
    assert_eq!(begin(&server, &json!({"made": [making, null]})).0, 201);
    let parts = job(&server)["parts"].to_string();
    assert!(parts.contains("pressure sensor") && parts.contains("crank"), "{parts}");
}
