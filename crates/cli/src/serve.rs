//! `serve`: the jobs of a folder, the page of one job, or that of the choice what the next one is about.

use std::net::{Ipv4Addr, SocketAddr};

use job::intake::NewJob;

use crate::args::ServeArgs;
use crate::commands::{Answer, jobs_folder, now_ms};
use crate::source::{Failure, beside, circuit_text, mistaken};
use crate::{library, out};

pub(crate) fn serve(args: ServeArgs) -> Result<Answer, Failure> {
    let address = SocketAddr::from((Ipv4Addr::LOCALHOST, args.port));
    if args.choose || (args.circuit.is_none() && args.job.is_none()) {
        let jobs = args.folder.unwrap_or_else(jobs_folder);
        let beginning = web::start::Beginning {
            library: library::folder_beside(&jobs),
            jobs,
            learning: !args.no_learning,
            now_ms,
        };
        let folder = beginning.jobs.display().to_string();
        let own = args.certificate.zip(args.key).zip(args.name);
        let network = web::Network {
            certificate: own.map(|((chain, key), name)| web::OwnCertificate { chain, key, name }),
            addresses: args.network_address,
        };
        let threads = threads()?;
        if args.choose {
            let told = told(format!("The job is kept in {folder}."), args.open);
            threads.block_on(web::serve_choice(beginning, address, &[], told, stopped()))?;
        } else {
            let told = told(format!("The jobs are kept in {folder}."), args.open);
            threads.block_on(web::serve_jobs(beginning, address, network, told, stopped()))?;
        }
        return Ok(Answer::Done);
    }
    let start = match args.circuit.as_deref() {
        None | Some("demo") => web::demo::events(now_ms()),
        Some(name) => new_job(name)?,
    };
    let name = args.circuit.as_deref().filter(|name| *name != "demo").unwrap_or("demo");
    let stem = std::path::Path::new(name).file_stem().unwrap_or_default().to_owned();
    let job = args
        .job
        .or_else(|| library::new_job_file(name))
        .unwrap_or_else(|| jobs_folder().join(stem).with_extension("job"));
    let kept = format!("This job is kept in {}.", job.display());
    let options = web::Options {
        address,
        names: Vec::new(),
        learning: !args.no_learning,
        job,
        start,
    };
    threads()?.block_on(web::serve(options, told(kept, args.open), stopped()))?;
    Ok(Answer::Done)
}

fn threads() -> Result<tokio::runtime::Runtime, Failure> {
    let mut threads = tokio::runtime::Builder::new_multi_thread();
    threads.enable_all().build().map_err(|source| Failure::Io {
        path: "the server's threads".into(),
        source,
    })
}

/// Tells where the page is, and opens it if asked to.
fn told(kept: String, open: bool) -> impl FnOnce(&str) {
    move |address| {
        let mut told = format!("Probewise is on the bench: {address}\n{kept} Stop with Ctrl-C.");
        if open && !open_browser(address) {
            told += "\nOpen the address in a browser.";
        }
        // The page is served whether anybody reads this or not.
        let _ = out::line(told);
    }
}

/// Ends when the person stops the program.
async fn stopped() {
    // Without a signal handler the process simply ends as it would have; nothing acknowledged is lost either way.
    if tokio::signal::ctrl_c().await.is_err() {
        std::future::pending::<()>().await;
    }
}

/// Opens the page where a desktop offers a way to.
fn open_browser(address: &str) -> bool {
    let desktop = std::env::var_os("DISPLAY").is_some() || std::env::var_os("WAYLAND_DISPLAY").is_some();
    let program = if cfg!(target_os = "macos") {
        "open"
    } else if cfg!(windows) {
        "explorer"
    } else if desktop {
        "xdg-open"
    } else {
        return false;
    };
    let quiet = std::process::Stdio::null;
    std::process::Command::new(program)
        .arg(address)
        .stdin(quiet())
        .stdout(quiet())
        .stderr(quiet())
        .spawn()
        .is_ok()
}

/// The first event of a new job. Mistakes in its circuit are reported before anything is written. The job keeps the
/// circuit with what it includes as one text, and so needs none of these files again.
fn new_job(name: &str) -> Result<Vec<job::Event>, Failure> {
    let text = circuit_text(name)?;
    let (circuit, text) = circuit::in_one_text(&text, &mut beside(name)).map_err(mistaken(name))?;
    bench::Bench::new(std::sync::Arc::new(circuit.clone()))?;
    let title = if circuit.vehicle.is_empty() {
        name.to_owned()
    } else {
        circuit.vehicle
    };
    let new = NewJob {
        title,
        circuit: text,
        ..NewJob::default()
    };
    Ok(new.events("command line", now_ms()))
}
