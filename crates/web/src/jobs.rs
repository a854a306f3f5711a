//! The jobs of a shop at one address: the list of them, the page that begins another, and each job under its own link.
//!
//! | address | what is there |
//! | --- | --- |
//! | `/` | the list; `GET /api/v1/jobs?search=` is what it shows |
//! | `/new` | the page that begins a job, with the routes of `start` |
//! | `/job/ID/` | a job's page; under `/job/ID/api/v1/` the routes of `api` |

mod desks;
mod list;

use std::sync::Arc;
use std::time::Duration;

use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, Request, State};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse as _, Response};
use axum::routing::get;
use axum::{Json, Router, middleware};
use tower::ServiceExt as _;

use crate::api::{apart, asked, picture_css};
use crate::assets::{self, asset};
use crate::guard::{self, Guard};
use crate::problem::Problem;
use crate::start::{self, Beginning, Then};

pub(crate) use desks::Desks;
pub(crate) use list::standing;
use list::{JobsQuery, JobsView};

/// A desk at which nobody has been for so long is put away; its job is opened anew when somebody comes back.
pub(crate) const IDLE: Duration = Duration::from_mins(30);
/// How often it is looked whether there is one.
pub(crate) const LOOK: Duration = Duration::from_mins(1);

/// The routes of a shop.
pub(crate) fn router(desks: &Arc<Desks>, beginning: Beginning, guard: Guard) -> Router {
    let beginning = start::routes(beginning, Then::Keep(Arc::clone(desks)));
    let list = Router::new()
        .route("/jobs", get(jobs))
        .with_state(Arc::clone(desks))
        .merge(beginning)
        .fallback(unknown);
    let job = Router::new()
        .route("/job/{id}/api/v1/{*asked}", axum::routing::any(of_job))
        .with_state(Arc::clone(desks));
    Router::new()
        .nest("/api/v1", list)
        .merge(job)
        .route("/", get(assets::jobs))
        .route("/new", get(assets::start))
        .route("/job/{id}", get(assets::job))
        .route("/job/{id}/", get(assets::job))
        .route("/page/picture.css", get(picture_css))
        .fallback(get(asset))
        .layer(middleware::from_fn_with_state(guard, guard::watch))
}

async fn unknown() -> Problem {
    Problem::new(
        StatusCode::NOT_FOUND,
        "there is nothing at this address",
        "Routes: jobs, offers, circuit, begin; those of a job stand under /job/ID/api/v1/.",
    )
}

async fn jobs(
    State(desks): State<Arc<Desks>>,
    query: Result<Query<JobsQuery>, QueryRejection>,
) -> Result<Json<JobsView>, Problem> {
    let query = asked(query)?;
    apart("looking for jobs", move || list::jobs(&desks, &query))
        .await
        .map(Json)
}

/// Whatever is asked of one job goes to its desk.
async fn of_job(
    State(desks): State<Arc<Desks>>,
    Path((id, _asked)): Path<(String, String)>,
    mut request: Request,
) -> Result<Response, Problem> {
    let manned = match desks.at_hand(&id) {
        Some(manned) => manned,
        None => apart("opening the job", move || desks.man(&id)).await?,
    };
    let nothing = || {
        Problem::new(
            StatusCode::NOT_FOUND,
            "there is nothing at this address",
            "Open the job anew.",
        )
    };
    *request.uri_mut() = below_job(request.uri()).ok_or_else(nothing)?;
    // The desk is not put away while it works on this.
    let answer = manned.routes().oneshot(request).await;
    Ok(answer.into_response())
}

/// What stands behind `/job/ID` in an address.
fn below_job(uri: &Uri) -> Option<Uri> {
    let asked = uri.path_and_query()?.as_str();
    let (_, below) = asked.strip_prefix("/job/")?.split_once('/')?;
    format!("/{below}").parse().ok()
}
