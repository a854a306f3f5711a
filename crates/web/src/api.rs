//! Routes. `/api/v1`: questions by GET, events by POST, what is new by server-sent events; all else is the page's files.
//!
//! | route | asks |
//! | --- | --- |
//! | `GET job` | vocabulary: what set-ups and tests may say |
//! | `GET answer` | readings, suspects, next tests, conclusion |
//! | `GET updates` | the same, as a stream: one `answer` event a change |
//! | `GET judge?set_up=&test=` | can it hurt, can it tell anything |
//! | `GET expects?set_up=&suspect=` | what every point in reach would read |
//! | `GET leans?suspect=` | the assumptions that a suspect leans on |
//! | `GET plan` | the next steps as a short tree; asked for the first time it is begun |
//! | `GET proof` | the last repair on trial, `null` without one |
//! | `GET picture?set_up=&suspect=&red=&black=` | the wiring picture and its terminals |
//! | `GET picture.svg`, `GET staircase` | the picture alone; the voltage staircase |
//! | `GET codes?typed=` | trouble codes in plain words, each with the event that notes it |
//! | `POST photos` | keeps a photo (JPEG, PNG or WebP) beside the job; answers with its name, which a `photo` event then notes |
//! | `GET photos/NAME` | a photo |
//! | `GET write-up?for=&as=&east=` | the job as a document: `customer` or `technician`, `pdf` or `html` |
//! | `POST shop` | uses the shop's solved jobs, leaves them out, or counts this job among them |
//! | `POST table` | which columns of a pasted table are values of this circuit, and what is odd in it |
//! | `POST events` | notes a set-up, reading, deed, code, intake, undo, repair or note |

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::rejection::{BytesRejection, JsonRejection, QueryRejection};
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::sse::{Event as Sent, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router, middleware};
use job::photos::{self, PhotoError};
use job::{Event, What};
use tokio_stream::wrappers::WatchStream;
use tokio_stream::{Stream, StreamExt as _};

use crate::assets::asset;
use crate::desk::{Added, Desk};
use crate::facts;
use crate::guard::{self, Guard};
use crate::intake::{self, CodesQuery, TypedCode};
use crate::planning::{self, PlanView};
use crate::problem::Problem;
use crate::proving::{self, LeansView, ProofView, SuspectQuery};
use crate::shop::{ShopOrder, ShopView};
use crate::table::{self, TableQuery, TableView};
use crate::view::{
    AnswerView, ExpectsView, JobView, JudgeQuery, JudgeView, Noted, PhotoKept, PictureQuery, PictureView, SetUpQuery,
    StaircaseView, StairsQuery,
};
use crate::vocabulary;
use crate::writeup::route::WriteUpQuery;
use crate::{show, stairs, writeup};

/// One event holds no more than this; a note of 4,000 characters fits four times.
pub(crate) const BODY_BYTES: usize = 64 * 1024;
/// Length of what a client may name: ids, devices.
const NAME_LETTERS: usize = 64;
/// Length of a text in an event.
const TEXT_LETTERS: usize = 4000;

type Shared = State<Arc<Desk>>;
type Answer<T> = Result<Json<T>, Problem>;

/// One job at an address of its own.
pub(crate) fn router(desk: Arc<Desk>, guard: Guard) -> Router {
    routes(desk)
        .route("/page/picture.css", get(picture_css))
        .fallback(get(asset))
        .layer(middleware::from_fn_with_state(guard, guard::watch))
}

/// What is asked and noted of one job.
pub(crate) fn routes(desk: Arc<Desk>) -> Router {
    let api = Router::new()
        .route("/job", get(job))
        .route("/answer", get(answer))
        .route("/updates", get(updates))
        .route("/judge", get(judge))
        .route("/expects", get(expects))
        .route("/leans", get(leans))
        .route("/plan", get(plan))
        .route("/proof", get(proof))
        .route("/picture", get(picture))
        .route("/picture.svg", get(picture_svg))
        .route("/staircase", get(staircase))
        .route("/write-up", get(write_up))
        .route("/events", post(note))
        .route("/codes", get(codes))
        .route(
            "/photos",
            post(keep_photo).layer(DefaultBodyLimit::max(photos::MOST_BYTES)),
        )
        .route("/photos/{name}", get(photo))
        .route("/shop", post(order))
        .route("/table", post(table).layer(DefaultBodyLimit::max(table::TABLE_BYTES)))
        .fallback(unknown)
        .method_not_allowed_fallback(wrong_method)
        .layer(DefaultBodyLimit::max(BODY_BYTES))
        .with_state(desk);
    Router::new().nest("/api/v1", api)
}

async fn unknown() -> Problem {
    Problem::new(
        StatusCode::NOT_FOUND,
        "there is nothing at this address",
        "Routes: job, answer, updates, judge, expects, leans, plan, proof, picture, staircase, write-up, codes, photos, table, events, shop.",
    )
}

async fn wrong_method() -> Problem {
    Problem::new(
        StatusCode::METHOD_NOT_ALLOWED,
        "not with this method",
        "Questions are asked by GET, events sent by POST.",
    )
}

/// Long work goes off the threads that answer.
pub(crate) async fn apart<T: Send + 'static>(
    what: &'static str,
    work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(_panicked) => Err(Problem::defect(what)),
    }
}

pub(crate) fn asked<T>(query: Result<Query<T>, QueryRejection>) -> Result<T, Problem> {
    query.map(|Query(query)| query).map_err(|rejection| {
        Problem::new(
            StatusCode::BAD_REQUEST,
            rejection.body_text(),
            "See the routes in the program's documentation.",
        )
    })
}

async fn job(State(desk): Shared) -> Json<JobView> {
    let thought = desk.thought();
    Json(vocabulary::of_job(&desk.circuit, &thought.state, &desk.cautions))
}

async fn answer(State(desk): Shared) -> Json<AnswerView> {
    Json(current(&desk))
}

/// The newest answer, with the number of events as it is now.
fn current(desk: &Desk) -> AnswerView {
    // Read in this order, so that an answer never claims to be newer than the job.
    let thought = desk.thought();
    AnswerView {
        latest: desk.latest().max(thought.view.version),
        shop: Some(desk.shop().view(&desk.circuit)),
        ..thought.view.clone()
    }
}

async fn updates(State(desk): Shared) -> Sse<impl Stream<Item = Result<Sent, Infallible>>> {
    let watch = desk.watch();
    let stream = WatchStream::new(watch).map(move |_| {
        let answer = current(&desk);
        let sent = Sent::default().event("answer").json_data(&answer);
        Ok(sent.unwrap_or_else(|_| Sent::default().comment("an answer could not be written")))
    });
    Sse::new(stream).keep_alive(KeepAlive::new().interval(Duration::from_secs(15)))
}

async fn judge(State(desk): Shared, query: Result<Query<JudgeQuery>, QueryRejection>) -> Answer<JudgeView> {
    let query = asked(query)?;
    apart("judging the test", move || show::judge(&desk, &query))
        .await
        .map(Json)
}

async fn expects(State(desk): Shared, query: Result<Query<SetUpQuery>, QueryRejection>) -> Answer<ExpectsView> {
    let query = asked(query)?;
    apart("predicting", move || show::expects(&desk, &query))
        .await
        .map(Json)
}

async fn leans(State(desk): Shared, query: Result<Query<SuspectQuery>, QueryRejection>) -> Answer<LeansView> {
    let query = asked(query)?;
    apart("weighing", move || proving::leans(&desk, &query)).await.map(Json)
}

async fn plan(State(desk): Shared) -> Answer<PlanView> {
    planning::plan(&desk).map(Json)
}

async fn proof(State(desk): Shared) -> Answer<Option<ProofView>> {
    apart("proving the repair", move || proving::proof(&desk))
        .await
        .map(Json)
}

async fn picture(State(desk): Shared, query: Result<Query<PictureQuery>, QueryRejection>) -> Answer<PictureView> {
    let query = asked(query)?;
    apart("drawing", move || show::picture(&desk, &query)).await.map(Json)
}

async fn picture_svg(
    State(desk): Shared,
    query: Result<Query<PictureQuery>, QueryRejection>,
) -> Result<Response, Problem> {
    let query = asked(query)?;
    let drawn = apart("drawing", move || show::picture(&desk, &query)).await?;
    Ok(([(header::CONTENT_TYPE, "image/svg+xml")], drawn.svg).into_response())
}

pub(crate) async fn picture_css() -> Response {
    ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], picture::STYLE).into_response()
}

async fn staircase(State(desk): Shared, query: Result<Query<StairsQuery>, QueryRejection>) -> Answer<StaircaseView> {
    let query = asked(query)?;
    apart("drawing", move || stairs::staircase(&desk, &query))
        .await
        .map(Json)
}

async fn codes(
    State(desk): Shared,
    query: Result<Query<CodesQuery>, QueryRejection>,
) -> Result<Json<Vec<TypedCode>>, Problem> {
    Ok(Json(intake::typed_codes(&desk.circuit, &asked(query)?)))
}

async fn keep_photo(
    State(desk): Shared,
    body: Result<axum::body::Bytes, BytesRejection>,
) -> Result<(StatusCode, Json<PhotoKept>), Problem> {
    let too_large = |status| Problem::new(status, "the photo is too large", "Photos up to 12 MB are kept.");
    let bytes = body.map_err(|rejection| too_large(rejection.status()))?;
    let file = apart("keeping the photo", move || {
        photos::keep(&desk.path, &bytes).map_err(|why| photo_refused(&why))
    })
    .await?;
    Ok((StatusCode::CREATED, Json(PhotoKept { file })))
}

async fn photo(State(desk): Shared, Path(name): Path<String>) -> Result<Response, Problem> {
    let (bytes, kind) = apart("reading the photo", move || {
        photos::read(&desk.path, &name).map_err(|why| photo_refused(&why))
    })
    .await?;
    // Named by what is in it, a photo never changes.
    let kept = "private, max-age=31536000, immutable";
    Ok(([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, kept)], bytes).into_response())
}

fn photo_refused(why: &PhotoError) -> Problem {
    match why {
        PhotoError::NotThere => Problem::new(StatusCode::NOT_FOUND, why.to_string(), "It may have been taken away."),
        PhotoError::Io { .. } => Problem::new(
            StatusCode::INSUFFICIENT_STORAGE,
            "the photo could not be written or read",
            "See that the disk is not full and that the folder of the jobs can be written.",
        ),
        why => Problem::unclear(why.to_string(), "Nothing was kept."),
    }
}

async fn write_up(
    State(desk): Shared,
    query: Result<Query<WriteUpQuery>, QueryRejection>,
) -> Result<Response, Problem> {
    let query = asked(query)?;
    apart("writing up", move || writeup::route::sent(&desk, &query)).await
}

async fn order(State(desk): Shared, body: Result<Json<ShopOrder>, JsonRejection>) -> Answer<ShopView> {
    let Json(order) = body.map_err(|rejection| {
        let help = "Send {\"use\": true}, {\"use\": false} or {\"count\": {}} as application/json.";
        Problem::new(StatusCode::BAD_REQUEST, rejection.body_text(), help)
    })?;
    apart("counting the job", move || {
        let help = "A job counts once its repair is noted for a known fault and readings since prove it.";
        desk.order(order).map_err(|why| Problem::unclear(why, help))?;
        let view = desk.shop().view(&desk.circuit);
        Ok(view)
    })
    .await
    .map(Json)
}

async fn table(State(desk): Shared, body: Result<Json<TableQuery>, JsonRejection>) -> Answer<TableView> {
    let Json(query) = body.map_err(|rejection| {
        let help = "Send {\"text\": the table, \"set_up\": how the vehicle stood} as application/json, 4 MB at most.";
        Problem::new(rejection.status(), rejection.body_text(), help)
    })?;
    apart("reading the table", move || table::table(&desk, &query))
        .await
        .map(Json)
}

async fn note(
    State(desk): Shared,
    headers: HeaderMap,
    body: Result<axum::body::Bytes, BytesRejection>,
) -> Result<(StatusCode, Json<Noted>), Problem> {
    let json = headers
        .get(header::CONTENT_TYPE)
        .is_some_and(|kind| kind.as_bytes().starts_with(b"application/json"));
    if !json {
        let help = "Send the event as application/json.";
        return Err(Problem::new(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            "this is no JSON",
            help,
        ));
    }
    let event: Event = serde_json::from_slice(&body?).map_err(|error| {
        let help = "An event has id, device, sequence, at_ms and what, and the fields of its kind.";
        Problem::new(
            StatusCode::BAD_REQUEST,
            format!("the event cannot be read: {error}"),
            help,
        )
    })?;
    let added = apart("noting", move || {
        check(&desk, &event)?;
        desk.add(event).map_err(|_kept_from_the_page| {
            let help = "Nothing was noted. See that the disk is not full and that the job's file can be written; the entry is sent again.";
            Problem::new(StatusCode::INSUFFICIENT_STORAGE, "the job's file could not be written", help)
        })
    })
    .await?;
    match added {
        Added::New(latest) => Ok((StatusCode::CREATED, Json(Noted { latest, added: true }))),
        Added::Again(latest) => Ok((StatusCode::OK, Json(Noted { latest, added: false }))),
        Added::Clash => Err(Problem::new(
            StatusCode::CONFLICT,
            "another event has this id",
            "Every event needs an id of its own; sending the same event again is fine.",
        )),
    }
}

/// Whether an event is one that this job can follow.
fn check(desk: &Desk, event: &Event) -> Result<(), Problem> {
    let named = |what: &str, text: &str| {
        let fine = (1..=NAME_LETTERS).contains(&text.len()) && text.chars().all(|c| c.is_ascii_graphic());
        let help = format!("Use 1 to {NAME_LETTERS} plain letters and digits.");
        if fine {
            Ok(())
        } else {
            Err(Problem::unclear(
                format!("the event's {what} is empty, too long or has spaces"),
                help,
            ))
        }
    };
    named("id", &event.id)?;
    named("device", &event.device)?;
    let short = |texts: &[&str]| {
        let fine = texts.iter().all(|text| text.chars().count() <= TEXT_LETTERS);
        if fine {
            Ok(())
        } else {
            Err(Problem::unclear(
                "the text is too long",
                format!("Up to {TEXT_LETTERS} characters."),
            ))
        }
    };
    let reading = |set_up: &str, test: &str, shown: &str| {
        job::state::reading(&desk.circuit, set_up, test, shown)
            .map(drop)
            .map_err(|why| Problem::unclear(why, "Nothing was noted; correct it and note it again."))
    };
    match &event.what {
        What::Opened { .. } => Err(Problem::unclear(
            "this job is open already",
            "Start another job for another vehicle.",
        )),
        What::SetUp { set_up } => {
            short(&[set_up])?;
            job::state::set_up_of(&desk.circuit, set_up)
                .map(drop)
                .map_err(|why| Problem::unclear(why, "Nothing was noted; example: key on; S1 apart"))
        }
        What::Reading {
            set_up, test, shown, ..
        } => {
            short(&[set_up, test, shown])?;
            reading(set_up, test, shown)
        }
        What::Did { did } => {
            short(&[did])?;
            let said = |why: String| Problem::unclear(why, "Nothing was noted; example: reseated S1");
            let did = job::parse_did(&desk.circuit, did).map_err(said)?;
            // A name that no fault has is told before it is noted.
            match facts::done(&did, &desk.faults()) {
                Some(_) => Ok(()),
                None => Err(said("no fault of this circuit has that name".into())),
            }
        }
        What::Code {
            set_up,
            code,
            state,
            seen,
        } => {
            short(&[set_up, code, state, seen])?;
            let known = desk
                .circuit
                .monitors
                .iter()
                .any(|monitor| monitor.code.eq_ignore_ascii_case(code));
            if known {
                reading(set_up, &format!("code {code}"), state)
            } else {
                Ok(())
            }
        }
        What::Undo { event: target } => {
            let there = desk
                .events()
                .iter()
                .any(|known| known.id == *target && !matches!(known.what, What::Opened { .. }));
            if there {
                Ok(())
            } else {
                Err(Problem::unclear(
                    "there is no such event to take back",
                    "It may have been noted on another device.",
                ))
            }
        }
        What::Intake {
            replaced,
            disturbed,
            accessories,
            authorised,
            ..
        } => {
            let agreed = authorised.map(job::state::agreed).transpose();
            agreed.map_err(|why| Problem::unclear(why, "Leave it out where no limit was set."))?;
            let parts: Vec<&str> = replaced
                .iter()
                .chain(disturbed)
                .chain(accessories)
                .map(String::as_str)
                .collect();
            short(&parts)?;
            match parts
                .iter()
                .find(|id| !desk.circuit.parts.iter().any(|part| part.id == **id))
            {
                Some(id) => Err(Problem::unclear(
                    format!("this circuit has no part `{id}`"),
                    "Use the ids of the circuit file.",
                )),
                None => Ok(()),
            }
        }
        What::Photo { file, words } => {
            short(&[words])?;
            photos::read(&desk.path, file)
                .map(drop)
                .map_err(|why| photo_refused(&why))
        }
        What::Waiting { .. } => Ok(()),
        What::Accepted {} => proving::is_proved(desk)?.then_some(()).ok_or_else(|| {
            let help = "Take the readings that the proof asks for; each must lie within its band.";
            Problem::unclear("no readings prove a repair yet", help)
        }),
        What::Repair { words, fault } => short(&[words, fault.as_deref().unwrap_or_default()]),
        What::Note { words } | What::Told { words, .. } => short(&[words]),
    }
}
