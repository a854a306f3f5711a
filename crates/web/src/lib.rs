//! The page: jobs on the bench, served over HTTP with its pages inside the binary.
//!
//! - [`serve`] opens a job's file and serves until told to stop; [`Options`] says where and which job;
//! - [`serve_jobs`] serves all jobs of a folder, with a list of them; [`serve_choice`] the choice of a circuit, then its job;
//! - [`demo::events`] is a job that needs no file of its own;
//! - everything the page is told is in the crate's `view` (shapes) and `words` (texts), every route in `api`.
//!
//! The job's store is written before a reading is acknowledged; what follows from it is worked out on a thread of its own,
//! the newest state first, and sent to every open page.

mod api;
mod assets;
pub mod demo;
mod desk;
pub mod facts;
mod guard;
mod intake;
mod jobs;
pub mod learning;
mod mind;
mod nearby;
pub mod outcomes;
mod planning;
mod problem;
mod proving;
mod shop;
mod show;
mod stairs;
pub mod start;
mod table;
mod view;
mod vocabulary;
pub mod words;
pub mod writeup;

use std::io;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::{Arc, OnceLock};

use axum::extract::Request;
use job::{Event, StoreError};
use tower::ServiceExt as _;

pub use desk::{Desk, OpenError};
pub use nearby::OwnCertificate;

/// Where to serve which job.
#[derive(Clone, Debug)]
pub struct Options {
    /// Address to listen at: `127.0.0.1:0` for this machine only, any free port.
    pub address: SocketAddr,
    /// Further names under which the server is asked (`bench.shop`); addresses and `localhost` need none.
    pub names: Vec<String>,
    /// The job's file; made if it is not there.
    pub job: PathBuf,
    /// Rates as the shop's own solved jobs have them, where those beside the job have been counted.
    pub learning: bool,
    /// What a new job starts with, [`What::Opened`](job::What::Opened) first; ignored if the file holds a job already.
    pub start: Vec<Event>,
}

/// Why nothing is served.
#[derive(Debug, thiserror::Error)]
pub enum WebError {
    /// The job cannot be opened.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The address cannot be listened at.
    #[error("cannot listen at {address}: {source}; choose another port, or 0 for any that is free")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system said.
        source: io::Error,
    },
    /// The system refused a thread or the connection.
    #[error("the server stopped: {0}")]
    Io(#[from] io::Error),
}

impl From<StoreError> for WebError {
    fn from(error: StoreError) -> Self {
        Self::Open(OpenError::Store(error))
    }
}

/// Opens the job and serves it until `stop` ends. Calls `listening` with the page's address as soon as it can be opened;
/// suspects follow within a moment.
///
/// # Errors
/// [`WebError`], before `listening` is called unless the system fails later.
pub async fn serve(
    options: Options,
    listening: impl FnOnce(&str),
    stop: impl Future<Output = ()>,
) -> Result<(), WebError> {
    let desk = Desk::open(&options.job, options.start, options.learning)?;
    let address = options.address;
    let listen = |source| WebError::Listen { address, source };
    let listener = tokio::net::TcpListener::bind(address).await.map_err(listen)?;
    let bound = listener.local_addr().map_err(listen)?;
    let app = router(Arc::clone(&desk), bound, &options.names);
    listening(&format!("http://{bound}/"));
    work(desk, axum::serve(listener, app).into_future(), stop).await
}

/// Serves a page on which a circuit is chosen, at `address`, and from then on the job that this begins, until `stop` ends. Calls
/// `listening` as [`serve`] does.
///
/// # Errors
/// [`WebError`].
pub async fn serve_choice(
    beginning: start::Beginning,
    address: SocketAddr,
    names: &[String],
    listening: impl FnOnce(&str),
    stop: impl Future<Output = ()>,
) -> Result<(), WebError> {
    let listen = |source| WebError::Listen { address, source };
    let listener = tokio::net::TcpListener::bind(address).await.map_err(listen)?;
    let bound = listener.local_addr().map_err(listen)?;
    let (begun, mut desks) = tokio::sync::mpsc::channel(1);
    let choice = start::router(beginning, begun, guard::Guard::new(bound, names));
    let job = Arc::new(OnceLock::new());
    let mut serving = std::pin::pin!(axum::serve(listener, first_or(choice, Arc::clone(&job))).into_future());
    let mut stop = std::pin::pin!(stop);
    listening(&format!("http://{bound}/"));
    let desk = tokio::select! {
        served = &mut serving => return Ok(served?),
        () = &mut stop => return Ok(()),
        desk = desks.recv() => desk,
    };
    let Some(desk) = desk else { return Ok(()) };
    job.get_or_init(|| router(Arc::clone(&desk), bound, names));
    work(desk, serving, stop).await
}

/// How phones of the shop find and trust this machine.
#[derive(Clone, Debug, Default)]
pub struct Network {
    /// The shop's own certificate; without one an authority is made here.
    pub certificate: Option<OwnCertificate>,
    /// The addresses of this machine at which it is found; empty for all that it has in private networks.
    pub addresses: Vec<std::net::IpAddr>,
}

impl Network {
    fn names(&self) -> Vec<String> {
        self.certificate.iter().map(|own| own.name.clone()).collect()
    }
}

/// Serves the jobs of a folder, with a list of them, at `address` until `stop` ends. Calls `listening` as [`serve`] does. A job
/// is opened when somebody asks for it, and put away when nobody has for half an hour. Phones of the network are let in by a code
/// that a page on this machine shows (`/nearby`); who was let in is kept in the folder `network` of the jobs' folder.
///
/// # Errors
/// [`WebError`].
pub async fn serve_jobs(
    beginning: start::Beginning,
    address: SocketAddr,
    network: Network,
    listening: impl FnOnce(&str),
    stop: impl Future<Output = ()>,
) -> Result<(), WebError> {
    let listen = |source| WebError::Listen { address, source };
    let listener = tokio::net::TcpListener::bind(address).await.map_err(listen)?;
    let bound = listener.local_addr().map_err(listen)?;
    let desks = Arc::new(jobs::Desks::of(&beginning.jobs, beginning.learning));
    let guard = guard::Guard::new(bound, &network.names());
    let folder = beginning.jobs.join("network");
    let nearby = nearby::Nearby::at(&folder, bound, guard.clone(), network, beginning.now_ms)?;
    let nearby = Arc::new(nearby);
    let (app, _) = nearby::sides(jobs::router(&desks, beginning, guard), &nearby);
    if nearby.has_devices() {
        // A machine that is in no network now serves itself alone; the page says so when a phone is to be let in.
        let _ = nearby.let_in().await;
    }
    listening(&format!("http://{bound}/"));
    let served = tokio::select! {
        served = axum::serve(listener, app).into_future() => served,
        () = put_away(&desks) => Ok(()),
        () = stop => Ok(()),
    };
    nearby.close().await;
    let ended = tokio::task::spawn_blocking(move || desks.close()).await;
    debug_assert!(ended.is_ok(), "nothing here panics");
    Ok(served?)
}

/// Looks now and then for desks at which nobody is.
async fn put_away(desks: &Arc<jobs::Desks>) {
    let mut look = tokio::time::interval(jobs::LOOK);
    loop {
        look.tick().await;
        let desks = Arc::clone(desks);
        let looked = tokio::task::spawn_blocking(move || desks.put_away(jobs::IDLE)).await;
        debug_assert!(looked.is_ok(), "nothing here panics");
    }
}

/// Asks the choice until there is a job, then the job: the address and its connections stay.
fn first_or(choice: axum::Router, job: Arc<OnceLock<axum::Router>>) -> axum::Router {
    axum::Router::new().fallback(move |request: Request| job.get().unwrap_or(&choice).clone().oneshot(request))
}

/// Thinks about a job while it is served.
async fn work(
    desk: Arc<Desk>,
    serving: impl Future<Output = io::Result<()>>,
    stop: impl Future<Output = ()>,
) -> Result<(), WebError> {
    let thinking = desk.start()?;
    let served = tokio::select! {
        served = serving => served,
        () = stop => Ok(()),
    };
    desk.close();
    let ended = tokio::task::spawn_blocking(move || thinking.join()).await;
    debug_assert!(ended.is_ok(), "the reasoning thread is caught where it panics");
    Ok(served?)
}

/// The routes of one job, for a server that listens at `address`.
pub fn router(desk: Arc<Desk>, address: SocketAddr, names: &[String]) -> axum::Router {
    api::router(desk, guard::Guard::new(address, names))
}
