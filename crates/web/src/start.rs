//! The page before there is a job: what it is to be about. A tap begins the job, and the same address then serves it.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use axum::extract::rejection::{JsonRejection, QueryRejection};
use axum::extract::{DefaultBodyLimit, Query, State};
use axum::http::StatusCode;
use axum::routing::{get, post};
use axum::{Json, Router, middleware};
use job::intake::NewJob;
use job::library::{Library, LibraryError, day};
use serde::{Deserialize, Serialize};
use tokio::sync::mpsc::Sender;

use crate::api::{BODY_BYTES, apart, asked, picture_css};
use crate::assets::{asset, start};
use crate::desk::{Desk, OpenError, held};
use crate::guard::{self, Guard};
use crate::intake::{self, Made, Making, Offered, Shelf, Typed};
use crate::jobs::Desks;
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

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Begin {
    /// What was typed of vehicle and complaint.
    #[serde(default)]
    typed: Typed,
    of: Of,
}

/// The circuit that a job is to be about.
#[derive(Clone, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Of {
    /// One of the library.
    Library(String),
    /// One that was made here, and the place in the library where it is kept as well.
    Made(Making, Option<Place>),
}

/// A place in the library.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Place {
    group: String,
    name: String,
}

#[derive(Clone, Debug, Serialize)]
struct Begun {
    title: String,
    /// Its id among the jobs of a shop; without one it is served at this address from now on.
    job: Option<String>,
}

/// What becomes of a job that was begun.
pub(crate) enum Then {
    /// It is served in place of this page: one at most.
    Serve(Sender<Arc<Desk>>),
    /// It is one of the jobs of a shop.
    Keep(Arc<Desks>),
}

struct Shared {
    beginning: Beginning,
    shelf: Shelf,
    then: Then,
    /// Two that begin at once must not take the same file.
    beginning_one: Mutex<()>,
}

type Answer<T> = Result<Json<T>, Problem>;

/// The file of a new job with this name in a folder: the second of a name is `NAME 2.job`.
pub fn new_file(folder: &Path, name: &str) -> PathBuf {
    let path = |n: u32| {
        let number = if n == 1 { String::new() } else { format!(" {n}") };
        folder.join(format!("{name}{number}.job"))
    };
    let free = (1..=u32::MAX).map(path).find(|path| !path.exists());
    free.unwrap_or_else(|| path(1))
}

/// A name that any system takes for a file, of whatever was typed.
fn file_name(typed: &str) -> String {
    const MOST_LETTERS: usize = 40;
    let plain = typed
        .chars()
        .map(|c| if c.is_alphanumeric() || c == '-' { c } else { ' ' });
    let plain: String = plain.take(MOST_LETTERS).collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    if words.is_empty() {
        "job".to_owned()
    } else {
        words.join(" ")
    }
}

/// The routes before there is a job. `begun` gets the desk of the job that was begun.
pub(crate) fn router(beginning: Beginning, begun: Sender<Arc<Desk>>, guard: Guard) -> Router {
    let api = routes(beginning, Then::Serve(begun)).fallback(no_job);
    Router::new()
        .nest("/api/v1", api)
        .route("/", get(start))
        .route("/page/picture.css", get(picture_css))
        .fallback(get(asset))
        .layer(middleware::from_fn_with_state(guard, guard::watch))
}

/// What is asked before a job begins, and its beginning.
pub(crate) fn routes(beginning: Beginning, then: Then) -> Router {
    let shelf = Shelf::at(&beginning.library);
    Router::new()
        .route("/offers", get(offers))
        .route("/circuit", post(circuit))
        .route("/begin", post(begin))
        .layer(DefaultBodyLimit::max(BODY_BYTES))
        .with_state(Arc::new(Shared {
            beginning,
            shelf,
            then,
            beginning_one: Mutex::default(),
        }))
}

async fn no_job() -> Problem {
    Problem::new(
        StatusCode::NOT_FOUND,
        "no job is begun yet",
        "Choose a circuit first: POST begin.",
    )
}

/// Why the library does not give or take a circuit, and what to do.
pub(crate) fn refused(why: &LibraryError) -> Problem {
    match why {
        LibraryError::NotThere { .. } => Problem::unclear(
            "the library has no such circuit",
            "Load the page again and choose one that it lists.",
        ),
        LibraryError::Changed { .. } => Problem::unclear(
            "this circuit was edited since it was kept",
            "Keep it as a new version with `probewise library add`.",
        ),
        LibraryError::Name { .. } => Problem::unclear(why.to_string(), "Nothing was begun; give it another name."),
        _ => Problem::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "the library cannot be read or written",
            "`probewise library list` says why.",
        ),
    }
}

fn sent<T>(body: Result<Json<T>, JsonRejection>, help: &str) -> Result<T, Problem> {
    body.map(|Json(sent)| sent)
        .map_err(|rejection| Problem::new(StatusCode::BAD_REQUEST, rejection.body_text(), help))
}

async fn offers(State(shared): State<Arc<Shared>>, query: Result<Query<Typed>, QueryRejection>) -> Answer<Offered> {
    let typed = asked(query)?;
    apart("looking for circuits", move || {
        intake::offered(&shared.shelf, &typed).map_err(|why| refused(&why))
    })
    .await
    .map(Json)
}

async fn circuit(State(shared): State<Arc<Shared>>, body: Result<Json<Making>, JsonRejection>) -> Answer<Made> {
    let making = sent(body, "Send circuits, answers and codes as application/json.")?;
    apart("making the circuit", move || intake::made(&shared.shelf, &making))
        .await
        .map(Json)
}

async fn begin(
    State(shared): State<Arc<Shared>>,
    body: Result<Json<Begin>, JsonRejection>,
) -> Result<(StatusCode, Json<Begun>), Problem> {
    let order = sent(
        body,
        "Send {\"of\": {\"library\": \"GROUP/NAME\"}} as application/json.",
    )?;
    let again = || Problem::new(StatusCode::CONFLICT, "a job is begun already", "Load the page again.");
    // The place is taken first: two taps are one job.
    let place = match &shared.then {
        Then::Serve(begun) => Some(begun.clone().try_reserve_owned().map_err(|_taken| again())?),
        Then::Keep(_) => None,
    };
    let (title, desk, job) = apart("beginning the job", move || {
        let (name, job) = match order.of {
            Of::Library(asked) => of_library(&shared.beginning, &asked, order.typed)?,
            Of::Made(making, keep) => of_made(&shared, &making, keep, order.typed)?,
        };
        let title = job.title.clone();
        let _alone = held(&shared.beginning_one);
        let (path, desk) = opened(&shared.beginning, &name, job)?;
        Ok(match &shared.then {
            Then::Serve(_) => (title, Some(desk), None),
            Then::Keep(desks) => (title, None, Some(desks.take_in(&path, desk)?)),
        })
    })
    .await?;
    if let Some((place, desk)) = place.zip(desk) {
        place.send(desk);
    }
    Ok((StatusCode::CREATED, Json(Begun { title, job })))
}

/// The first words there are.
fn first_said<const N: usize>(texts: [&str; N]) -> String {
    let said = texts.into_iter().map(str::trim).find(|text| !text.is_empty());
    said.unwrap_or("A new job").to_owned()
}

fn of_library(beginning: &Beginning, asked: &str, typed: Typed) -> Result<(String, NewJob), Problem> {
    let library = Library::at(&beginning.library);
    let version = library.find(asked).map_err(|why| refused(&why))?;
    let circuit = library.text(&version).map_err(|why| refused(&why))?;
    let vehicle = circuit::parse(&circuit).map_or_else(|_| String::new(), |circuit| circuit.vehicle);
    let called = typed.called();
    let name = if called.is_empty() {
        version.circuit()
    } else {
        called.clone()
    };
    let title = first_said([&called, &vehicle, &version.group]);
    Ok((file_name(&name), typed.job(title, circuit)))
}

/// The circuit that was made, kept in the library first if it is to be.
fn of_made(shared: &Shared, making: &Making, keep: Option<Place>, typed: Typed) -> Result<(String, NewJob), Problem> {
    let made = intake::finished(&shared.shelf, making)?;
    // Whose it is: those of its kind where it is kept for them, else this vehicle.
    let vehicle = keep.as_ref().map_or(typed.kind(), |place| place.group.trim());
    let made = if vehicle.is_empty() {
        made
    } else {
        made.of_vehicle(vehicle)
    };
    if let Some(Place { group, name }) = keep {
        let today = day((shared.beginning.now_ms)());
        let library = Library::at(&shared.beginning.library);
        let kept = library.add(group.trim(), name.trim(), &today, &made.text);
        kept.map_err(|why| refused(&why))?;
    }
    let title = first_said([&typed.called(), &made.title]);
    Ok((file_name(&title), typed.job(title, made.text)))
}

fn opened(beginning: &Beginning, name: &str, job: NewJob) -> Result<(PathBuf, Arc<Desk>), Problem> {
    let start = job.events("page", (beginning.now_ms)());
    let path = new_file(&beginning.jobs, name);
    let desk = Desk::open(&path, start, beginning.learning).map_err(|why| match why {
        OpenError::Store(_) => Problem::new(
            StatusCode::INSUFFICIENT_STORAGE,
            "the job's file could not be written",
            "See that the disk is not full and that the folder of the jobs can be written.",
        ),
        why => Problem::unclear("this circuit cannot be worked with", why.to_string()),
    })?;
    Ok((path, desk))
}

#[cfg(test)]
mod tests {
    use super::file_name;

    #[test]
    fn any_text_becomes_a_name_for_a_file() {
        assert_eq!(file_name("HH-PW 31 / blue"), "HH-PW 31 blue");
        assert_eq!(file_name("../../etc/passwd"), "etc passwd");
        assert_eq!((file_name(" .. "), file_name("")), ("job".into(), "job".into()));
        assert_eq!(file_name(&"long ".repeat(50)).len(), 39);
    }
}
