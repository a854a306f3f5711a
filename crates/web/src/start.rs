//! The page before there is a job: which circuit it is about. A tap on one of the shop's library begins the job, and the
//! same address then serves it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use axum::extract::State;
use axum::extract::rejection::JsonRejection;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::Response;
use axum::routing::{get, post};
use axum::{Json, Router, middleware};
use job::library::{Library, LibraryError};
use job::{Event, What};
use serde::{Deserialize, Serialize};
use tokio::sync::mpsc::Sender;

use crate::assets::{asset, start};
use crate::desk::{Desk, OpenError};
use crate::guard::{self, Guard};
use crate::problem::Problem;

/// Where jobs are begun, and of what.
#[derive(Clone, Debug)]
pub struct Beginning {
    /// Folder of the jobs; a new one gets a file of its own there.
    pub jobs: PathBuf,
    /// Folder of the shop's library.
    pub library: PathBuf,
    /// Rates as the shop's own solved jobs have them.
    pub learning: bool,
    /// The clock: milliseconds since 1970.
    pub now_ms: fn() -> u64,
}

/// A circuit of the library, as the page is told.
#[derive(Clone, Debug, Serialize)]
struct Kept {
    /// How it is asked for: `GROUP/NAME@NUMBER`.
    circuit: String,
    group: String,
    name: String,
    title: String,
    date: String,
}

#[derive(Clone, Debug, Serialize)]
struct Offered {
    /// The newest version of each circuit.
    library: Vec<Kept>,
    /// What lies in the library and cannot be used, with the reason.
    left_out: Vec<String>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Begin {
    /// A circuit of the library.
    library: String,
}

#[derive(Clone, Debug, Serialize)]
struct Begun {
    title: String,
}

struct Shared {
    beginning: Beginning,
    begun: Sender<Arc<Desk>>,
}

/// The file of a new job with this name in a folder: the second of a name is `NAME 2.job`.
pub fn new_file(folder: &Path, name: &str) -> PathBuf {
    let path = |n: u32| {
        let number = if n == 1 { String::new() } else { format!(" {n}") };
        folder.join(format!("{name}{number}.job"))
    };
    let free = (1..=u32::MAX).map(path).find(|path| !path.exists());
    free.unwrap_or_else(|| path(1))
}

/// The routes before there is a job. `begun` gets the desk of the job that was begun.
pub(crate) fn router(beginning: Beginning, begun: Sender<Arc<Desk>>, guard: Guard) -> Router {
    let api = Router::new()
        .route("/circuits", get(circuits))
        .route("/begin", post(begin))
        .fallback(no_job)
        .with_state(Arc::new(Shared { beginning, begun }));
    Router::new()
        .nest("/api/v1", api)
        .route("/", get(start))
        .fallback(get(asset))
        .layer(middleware::from_fn_with_state(guard, guard::watch))
        .layer(middleware::map_response(last))
}

/// A connection that stayed open would never see the job.
async fn last(mut response: Response) -> Response {
    response
        .headers_mut()
        .insert(header::CONNECTION, HeaderValue::from_static("close"));
    response
}

async fn no_job() -> Problem {
    Problem::new(
        StatusCode::NOT_FOUND,
        "no job is begun yet",
        "Choose a circuit first: POST begin.",
    )
}

fn refused(why: &LibraryError) -> Problem {
    match why {
        LibraryError::NotThere { .. } => Problem::unclear(
            "the library has no such circuit",
            "Load the page again and choose one that it lists.",
        ),
        LibraryError::Changed { .. } => Problem::unclear(
            "this circuit was edited since it was kept",
            "Keep it as a new version with `probewise library add`.",
        ),
        _ => Problem::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "the library cannot be read",
            "`probewise library list` says why.",
        ),
    }
}

/// Long work goes off the threads that answer.
async fn apart<T: Send + 'static>(work: impl FnOnce() -> Result<T, Problem> + Send + 'static) -> Result<T, Problem> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(_panicked) => Err(Problem::defect("beginning the job")),
    }
}

async fn circuits(State(shared): State<Arc<Shared>>) -> Result<Json<Offered>, Problem> {
    apart(move || offered(&Library::at(&shared.beginning.library)))
        .await
        .map(Json)
}

fn offered(library: &Library) -> Result<Offered, Problem> {
    let mut versions = library.contents().map_err(|why| refused(&why))?.versions;
    versions.reverse();
    versions.dedup_by_key(|version| version.circuit());
    versions.reverse();
    let mut offered = Offered {
        library: Vec::new(),
        left_out: Vec::new(),
    };
    for version in versions {
        let circuit = library.text(&version).ok().and_then(|text| circuit::parse(&text).ok());
        match circuit {
            Some(circuit) => offered.library.push(Kept {
                circuit: format!("{}@{}", version.circuit(), version.number),
                group: version.group,
                name: version.name,
                title: circuit.title,
                date: version.date,
            }),
            None => offered
                .left_out
                .push(format!("{} was edited and cannot be used", version.circuit())),
        }
    }
    Ok(offered)
}

async fn begin(
    State(shared): State<Arc<Shared>>,
    body: Result<Json<Begin>, JsonRejection>,
) -> Result<(StatusCode, Json<Begun>), Problem> {
    let Json(order) = body.map_err(|rejection| {
        let help = "Send {\"library\": \"GROUP/NAME\"} as application/json.";
        Problem::new(StatusCode::BAD_REQUEST, rejection.body_text(), help)
    })?;
    let again = || Problem::new(StatusCode::CONFLICT, "a job is begun already", "Load the page again.");
    // The place is taken first: two taps are one job.
    let place = shared.begun.clone().try_reserve_owned().map_err(|_taken| again())?;
    let (desk, title) = apart(move || opened(&shared.beginning, &order.library)).await?;
    place.send(desk);
    Ok((StatusCode::CREATED, Json(Begun { title })))
}

fn opened(beginning: &Beginning, asked: &str) -> Result<(Arc<Desk>, String), Problem> {
    let library = Library::at(&beginning.library);
    let version = library.find(asked).map_err(|why| refused(&why))?;
    let circuit = library.text(&version).map_err(|why| refused(&why))?;
    let vehicle = circuit::parse(&circuit).map_or_else(|_| String::new(), |circuit| circuit.vehicle);
    let title = if vehicle.is_empty() {
        version.group.clone()
    } else {
        vehicle
    };
    let now = (beginning.now_ms)();
    let opened = What::Opened {
        title: title.clone(),
        complaint: String::new(),
        circuit,
    };
    let start = vec![Event {
        id: format!("opened-{now}"),
        device: "page".into(),
        sequence: 1,
        at_ms: now,
        what: opened,
    }];
    let path = new_file(&beginning.jobs, &version.circuit().replace('/', " "));
    let desk = Desk::open(&path, start, beginning.learning).map_err(|why| match why {
        OpenError::Store(_) => Problem::new(
            StatusCode::INSUFFICIENT_STORAGE,
            "the job's file could not be written",
            "See that the disk is not full and that the folder of the jobs can be written.",
        ),
        why => Problem::unclear("this circuit cannot be worked with", why.to_string()),
    })?;
    Ok((desk, title))
}
