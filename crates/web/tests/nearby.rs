//! Phones of the shop's network: who is let in, and to what.

mod common;

use std::io::{Read as _, Write as _};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpStream};

use common::Server;

/// Stands for an address in the shop's network: no request to it is one of this machine's own.
const NETWORK: IpAddr = IpAddr::V4(Ipv4Addr::new(127, 0, 0, 2));

fn server(folder: &std::path::Path) -> Server {
    Server::jobs_in_network(
        folder,
        web::Network {
            addresses: vec![NETWORK],
            ..web::Network::default()
        },
    )
}

/// Asks at the network's address; status, headers, body.
fn ask(server: &Server, method: &str, path: &str, headers: &str, body: &str) -> (u16, String, String) {
    let address = SocketAddr::new(NETWORK, server.address.port());
    let mut stream = TcpStream::connect(address).expect("it listens");
    let length = body.len();
    let request = format!(
        "{method} {path} HTTP/1.1\r\nHost: {address}\r\nContent-Type: application/json\r\nContent-Length: {length}\r\n\
         Connection: close\r\n{headers}\r\n{body}"
    );
    stream.write_all(request.as_bytes()).expect("works");
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).expect("works");
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let status = head
        .split(' ')
        .nth(1)
        .and_then(|status| status.parse().ok())
        .unwrap_or(0);
    (status, head.to_owned(), body.to_owned())
}

/// A secret, as the code on the bench's screen carries it.
fn invited(server: &Server) -> String {
    let (status, invited) = server.post("/nearby/invite", &serde_json::json!({}));
    assert_eq!(status, 200, "{invited}");
    let address = invited["links"][0]["address"]
        .as_str()
        .expect("it leads somewhere")
        .to_owned();
    assert!(address.starts_with(&format!("http://{NETWORK}:")), "{address}");
    assert!(
        invited["links"][0]["code"]
            .as_str()
            .expect("a picture")
            .starts_with("<svg")
    );
    address.split_once('#').expect("it carries a secret").1.to_owned()
}

fn cookie(head: &str) -> String {
    let line = head.lines().find_map(|line| line.strip_prefix("set-cookie: "));
    line.and_then(|line| line.split(';').next()).expect("a pass").to_owned()
}

#[test]
fn nothing_is_served_in_the_network_before_somebody_is_let_in() {
    let folder = tempfile::tempdir().expect("works");
    let server = server(folder.path());
    let address = SocketAddr::new(NETWORK, server.address.port());
    assert!(TcpStream::connect(address).is_err());
    assert_eq!(server.get("/api/v1/jobs").0, 200);
}

#[test]
fn a_secret_lets_one_device_in_until_it_is_shut_out() {
    let folder = tempfile::tempdir().expect("works");
    let server = server(folder.path());
    let secret = invited(&server);
    // Without a pass nothing but the way to one.
    for path in [
        "/api/v1/jobs",
        "/",
        "/new",
        "/job/x/api/v1/job",
        "/page/main.js",
        "/nearby",
        "/nearby/state",
    ] {
        assert_eq!(ask(&server, "GET", path, "", "").0, 401, "{path}");
    }
    let (status, _, page) = ask(&server, "GET", "/", "Accept: text/html\r\n", "");
    assert!(status == 401 && page.contains("Come in"), "{page}");
    assert_eq!(ask(&server, "GET", "/join", "", "").0, 200);
    let shown = |secret: &str| format!("{{\"secret\":\"{secret}\",\"name\":\"phone\"}}");
    assert_eq!(ask(&server, "POST", "/join", "", &shown("guessed")).0, 403);
    let (status, head, _) = ask(&server, "POST", "/join", "", &shown(&secret));
    assert_eq!(status, 200);
    assert!(head.contains("HttpOnly") && head.contains("SameSite=Strict"), "{head}");
    assert_eq!(
        ask(&server, "POST", "/join", "", &shown(&secret)).0,
        403,
        "it is good once"
    );
    let pass = format!("Cookie: {}\r\n", cookie(&head));
    assert_eq!(ask(&server, "GET", "/api/v1/jobs", &pass, "").0, 200);
    // Who is let in does not let others in.
    for path in ["/nearby", "/nearby/state"] {
        assert_eq!(ask(&server, "GET", path, &pass, "").0, 404, "{path}");
    }
    assert_eq!(ask(&server, "POST", "/nearby/invite", &pass, "{}").0, 405);
    let state = server.json("/nearby/state");
    let id = state["devices"][0]["id"].as_str().expect("it is listed");
    assert_eq!(state["devices"][0]["name"], "phone");
    assert_eq!(server.post("/nearby/forget", &serde_json::json!({ "id": id })).0, 200);
    assert_eq!(ask(&server, "GET", "/api/v1/jobs", &pass, "").0, 401);
}

#[test]
fn who_was_let_in_is_after_a_restart_and_no_secret_is_on_the_disk() {
    let folder = tempfile::tempdir().expect("works");
    let pass = {
        let server = server(folder.path());
        let secret = invited(&server);
        let (_, head, _) = ask(
            &server,
            "POST",
            "/join",
            "",
            &format!("{{\"secret\":\"{secret}\",\"name\":\"phone\"}}"),
        );
        let kept = std::fs::read_to_string(folder.path().join("network/devices.json")).expect("it is kept");
        let pass = cookie(&head);
        let (_, value) = pass.split_once('=').expect("a pass");
        assert!(!kept.contains(value) && !kept.contains(&secret), "{kept}");
        pass
    };
    let server = server(folder.path());
    let headers = format!("Cookie: {pass}\r\n");
    assert_eq!(ask(&server, "GET", "/api/v1/jobs", &headers, "").0, 200);
}
