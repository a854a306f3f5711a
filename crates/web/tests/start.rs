//! A job begun on the page, of a circuit of the shop's library.

mod common;

use std::path::Path;
use std::time::{Duration, Instant};

use common::Server;
use job::library::Library;
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

fn begin(server: &Server, body: &str) -> (u16, String) {
    let (host, length) = (server.address, body.len());
    let (status, _, said) = server.raw(&format!(
        "POST /api/v1/begin HTTP/1.1\r\nHost: {host}\r\nContent-Type: application/json\r\nContent-Length: {length}\r\n\
         Connection: close\r\n\r\n{body}"
    ));
    (status, said)
}

#[test]
fn a_circuit_of_the_library_becomes_a_job_at_the_same_address() {
    let folder = tempfile::tempdir().expect("a folder");
    kept(folder.path());
    let server = Server::choosing(beginning(folder.path()));
    let offered = server.json("/api/v1/circuits");
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

    assert_eq!(begin(&server, "{\"library\": \"car/fan\"}").0, 422);
    assert_eq!(begin(&server, "libary").0, 400);
    let (status, said) = begin(&server, "{\"library\": \"delivery van/pressure@2\"}");
    assert_eq!(status, 201, "{said}");
    let until = Instant::now() + Duration::from_secs(20);
    while server.get("/api/v1/job").0 != 200 {
        assert!(Instant::now() < until, "the job is not served");
        std::thread::sleep(Duration::from_millis(20));
    }
    assert!(server.get("/").2.contains("Opening the job"));
    assert_eq!(begin(&server, "{\"library\": \"car/pressure\"}").0, 404);
    drop(server);
    let store = job::Store::open(&folder.path().join("delivery van pressure.job")).expect("a job");
    let job::What::Opened { circuit, .. } = &store.events()[0].what else {
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
    let offered = server.json("/api/v1/circuits");
    assert_eq!(offered["library"].as_array().map(Vec::len), Some(1));
    assert_eq!(offered["left_out"][0], "car/pressure was edited and cannot be used");
    assert_eq!(begin(&server, "{\"library\": \"car/pressure\"}").0, 422);
    // The refusal leaves the place free for another circuit.
    assert_eq!(begin(&server, "{\"library\": \"delivery van/pressure\"}").0, 201);
}
