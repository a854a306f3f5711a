//! A running server for tests.
#![allow(dead_code, reason = "each test file uses a part of it")]
#![allow(
    clippy::allow_attributes,
    reason = "expect would fail in the test files that use everything"
)]

use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::time::{Duration, Instant};

use serde_json::Value;
use tokio::sync::oneshot;

/// What a server serves.
enum Run {
    Job(web::Options),
    Choice(web::start::Beginning),
    Jobs(web::start::Beginning, web::Network),
}

/// A running server; stops when dropped.
pub(crate) struct Server {
    pub(crate) address: SocketAddr,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Server {
    pub(crate) fn start(job: &Path) -> Self {
        let options = web::Options {
            address: "127.0.0.1:0".parse().expect("works"),
            names: Vec::new(),
            learning: true,
            job: job.to_owned(),
            start: web::demo::events(1_700_000_000_000),
        };
        Self::run(Run::Job(options))
    }

    /// Before there is a job.
    pub(crate) fn choosing(beginning: web::start::Beginning) -> Self {
        Self::run(Run::Choice(beginning))
    }

    /// All jobs of a folder.
    pub(crate) fn jobs(folder: &Path) -> Self {
        Self::jobs_in_network(folder, web::Network::default())
    }

    /// The same, found by phones as `network` says.
    pub(crate) fn jobs_in_network(folder: &Path, network: web::Network) -> Self {
        let beginning = web::start::Beginning {
            jobs: folder.to_owned(),
            library: folder.join("library"),
            learning: true,
            now_ms: || 1_700_000_000_000,
        };
        Self::run(Run::Jobs(beginning, network))
    }

    fn run(run: Run) -> Self {
        let (stop, stopped) = oneshot::channel::<()>();
        let (found, address) = std::sync::mpsc::channel();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_multi_thread()
                .worker_threads(2)
                .enable_all()
                .build()
                .expect("works");
            let listening = move |url: &str| {
                let address = url
                    .trim_start_matches("http://")
                    .trim_end_matches('/')
                    .parse()
                    .expect("works");
                found.send(address).expect("works");
            };
            let stop = async { drop(stopped.await) };
            let served = match run {
                Run::Job(options) => runtime.block_on(web::serve(options, listening, stop)),
                Run::Choice(beginning) => {
                    let any = "127.0.0.1:0".parse().expect("works");
                    runtime.block_on(web::serve_choice(beginning, any, &[], listening, stop))
                }
                Run::Jobs(beginning, network) => {
                    let any = "127.0.0.1:0".parse().expect("works");
                    runtime.block_on(web::serve_jobs(beginning, any, network, listening, stop))
                }
            };
            served.expect("works");
        });
        let address = address
            .recv_timeout(Duration::from_secs(20))
            .expect("the server says where it listens");
        Self {
            address,
            stop: Some(stop),
            thread: Some(thread),
        }
    }

    /// Sends a request as it is written; status, headers, body.
    pub(crate) fn raw(&self, request: &str) -> (u16, String, String) {
        self.raw_bytes(request.as_bytes())
    }

    /// The same of bytes that are no text. A server that has refused early may hang up before it has read all.
    pub(crate) fn raw_bytes(&self, request: &[u8]) -> (u16, String, String) {
        let mut stream = TcpStream::connect(self.address).expect("works");
        stream.set_read_timeout(Some(Duration::from_secs(30))).expect("works");
        let sent = stream.write_all(request);
        let mut bytes = Vec::new();
        let read = stream.read_to_end(&mut bytes);
        assert!(!bytes.is_empty(), "no answer: {sent:?}, {read:?}");
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head
            .split(' ')
            .nth(1)
            .and_then(|status| status.parse().ok())
            .unwrap_or(0);
        (status, head.to_lowercase(), body.to_owned())
    }

    pub(crate) fn get(&self, path: &str) -> (u16, String, String) {
        let host = self.address;
        self.raw(&format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
        ))
    }

    pub(crate) fn json(&self, path: &str) -> Value {
        let (status, _, body) = self.get(path);
        assert_eq!(status, 200, "{path}: {body}");
        serde_json::from_str(&body).expect("works")
    }

    /// Sends a body as JSON; status and answer.
    pub(crate) fn post(&self, path: &str, body: &Value) -> (u16, Value) {
        let (host, body) = (self.address, body.to_string());
        let length = body.len();
        let (status, _, said) = self.raw(&format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Type: application/json\r\n\
             Content-Length: {length}\r\n\r\n{body}"
        ));
        (status, serde_json::from_str(&said).unwrap_or(Value::Null))
    }

    /// The answer once it rests on `version` events and has its proposals.
    pub(crate) fn settled(&self, version: u64) -> Value {
        self.settled_at("", version)
    }

    /// The same of the job at `/job/ID`.
    pub(crate) fn settled_at(&self, job: &str, version: u64) -> Value {
        let until = Instant::now() + Duration::from_mins(2);
        loop {
            let answer = self.json(&format!("{job}/api/v1/answer"));
            if answer["version"].as_u64() >= Some(version) && answer["working"] == false {
                return answer;
            }
            assert!(Instant::now() < until, "no answer in two minutes: {answer}");
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            thread.join().expect("works");
        }
    }
}
