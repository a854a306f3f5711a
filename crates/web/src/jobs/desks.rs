//! The desks of a shop: one a job, made when somebody opens it, shared by all who do, put away when nobody has been there for
//! long.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use axum::Router;
use axum::http::StatusCode;
use job::StoreError;
use job::folder::{Folder, id_of};

use crate::api;
use crate::desk::{Desk, OpenError, held};
use crate::problem::Problem;

/// The folder of a shop's jobs, and the desks that are in use.
pub(crate) struct Desks {
    folder: Mutex<Folder>,
    learning: bool,
    /// By id of the job.
    places: Mutex<BTreeMap<String, Arc<Place>>>,
}

/// Where a desk stands, or is being opened or put away: whoever comes meanwhile waits.
#[derive(Default)]
struct Place {
    manned: Mutex<Option<Arc<Manned>>>,
}

/// A desk at which somebody is.
pub(crate) struct Manned {
    desk: Arc<Desk>,
    routes: Router,
    /// How often the desk is held while nobody asks anything.
    at_rest: usize,
    thinking: JoinHandle<()>,
    last: Mutex<Instant>,
}

impl Manned {
    fn new(desk: Arc<Desk>) -> Result<Self, OpenError> {
        let thinking = desk.start()?;
        let routes = api::routes(Arc::clone(&desk));
        Ok(Self {
            at_rest: Arc::strong_count(&desk),
            desk,
            routes,
            thinking,
            last: Mutex::new(Instant::now()),
        })
    }

    /// Routes of the job.
    pub(crate) fn routes(&self) -> Router {
        self.routes.clone()
    }

    /// Whether a page watches, a question is being answered, or somebody was here lately.
    fn is_used(&self, idle: Duration) -> bool {
        Arc::strong_count(&self.desk) > self.at_rest || held(&self.last).elapsed() < idle
    }

    /// Ends the reasoning and lets go of the job's file.
    fn put_away(self) {
        self.desk.close();
        let ended = self.thinking.join();
        debug_assert!(ended.is_ok(), "the reasoning thread is caught where it panics");
    }
}

impl Desks {
    /// The jobs of a folder.
    pub(crate) fn of(folder: &Path, learning: bool) -> Self {
        Self {
            folder: Mutex::new(Folder::at(folder)),
            learning,
            places: Mutex::default(),
        }
    }

    /// The folder.
    pub(crate) fn folder(&self) -> MutexGuard<'_, Folder> {
        held(&self.folder)
    }

    /// The desk of a job, if it can be had without waiting.
    pub(crate) fn at_hand(&self, id: &str) -> Option<Arc<Manned>> {
        let place = held(&self.places).get(id).cloned()?;
        let manned = place.manned.try_lock().ok()?.clone()?;
        *held(&manned.last) = Instant::now();
        Some(manned)
    }

    /// The desk of a job, opened if nobody has it open yet.
    ///
    /// # Errors
    /// [`Problem`]: there is no such job, or it cannot be opened.
    pub(crate) fn man(&self, id: &str) -> Result<Arc<Manned>, Problem> {
        let path = self.folder().file(id).ok_or_else(|| {
            let help = "Open it from the list of jobs; its file may have been renamed or taken away.";
            Problem::new(StatusCode::NOT_FOUND, "there is no such job", help)
        })?;
        let place = self.place(id);
        let mut manned = held(&place.manned);
        if let Some(manned) = manned.as_ref() {
            *held(&manned.last) = Instant::now();
            return Ok(Arc::clone(manned));
        }
        let desk = Desk::open(&path, Vec::new(), self.learning).map_err(|why| refused(&why))?;
        let new = Arc::new(Manned::new(desk).map_err(|why| refused(&why))?);
        *manned = Some(Arc::clone(&new));
        Ok(new)
    }

    /// Takes in the desk of a job that was just begun; the id that it has from now on.
    ///
    /// # Errors
    /// [`Problem`]: the reasoning could not be started.
    pub(crate) fn take_in(&self, path: &Path, desk: Arc<Desk>) -> Result<String, Problem> {
        let id = id_of(path).ok_or_else(|| Problem::defect("naming the job"))?;
        let new = Manned::new(desk).map_err(|why| refused(&why))?;
        *held(&self.place(&id).manned) = Some(Arc::new(new));
        Ok(id)
    }

    fn place(&self, id: &str) -> Arc<Place> {
        Arc::clone(held(&self.places).entry(id.to_owned()).or_default())
    }

    /// Puts away the desks at which nobody has been for so long.
    pub(crate) fn put_away(&self, idle: Duration) {
        let places: Vec<Arc<Place>> = held(&self.places).values().cloned().collect();
        for place in places {
            // Where it is locked, somebody is coming.
            let Ok(mut manned) = place.manned.try_lock() else {
                continue;
            };
            let Some(one) = manned.take() else { continue };
            match Arc::try_unwrap(one) {
                Ok(one) if !one.is_used(idle) => one.put_away(),
                Ok(one) => *manned = Some(Arc::new(one)),
                Err(one) => *manned = Some(one),
            }
        }
        held(&self.places).retain(|_, place| {
            let is_coming = Arc::strong_count(place) > 1;
            is_coming || place.manned.try_lock().is_ok_and(|manned| manned.is_some())
        });
    }

    /// Ends all reasoning; for the end of the program.
    pub(crate) fn close(&self) {
        let places = std::mem::take(&mut *held(&self.places));
        for place in places.values() {
            match held(&place.manned).take().map(Arc::try_unwrap) {
                Some(Ok(manned)) => manned.put_away(),
                // Somebody is still being answered.
                Some(Err(manned)) => manned.desk.close(),
                None => {}
            }
        }
    }
}

/// Why a job cannot be opened, and what to do.
fn refused(why: &OpenError) -> Problem {
    let in_words = |error: &StoreError| format!("this job cannot be opened: {}", job::folder::in_words(error));
    match why {
        OpenError::Store(error @ StoreError::Busy { .. }) => Problem::new(
            StatusCode::SERVICE_UNAVAILABLE,
            in_words(error),
            "Close it in the other Probewise, or use that one's page.",
        ),
        OpenError::Store(error) => Problem::unclear(
            in_words(error),
            "The file was left as it is. The other jobs are not touched by it.",
        ),
        OpenError::Thread(_) => Problem::defect("opening the job"),
        why => Problem::unclear(why.to_string(), "The job's file was left as it is."),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Weak;

    use axum::body::Body;
    use axum::extract::Request;
    use tower::ServiceExt as _;

    use super::*;

    fn begun(folder: &Path, name: &str) {
        let mut store = job::Store::open(&folder.join(name)).expect("a store");
        for event in crate::demo::events(1_700_000_000_000) {
            store.append(event).expect("appended");
        }
    }

    #[test]
    fn a_desk_is_shared_and_put_away_with_all_that_it_held() {
        let folder = tempfile::tempdir().expect("a folder");
        begun(folder.path(), "van.job");
        let desks = Desks::of(folder.path(), true);
        assert!(desks.at_hand("van").is_none());
        let one = desks.man("van").expect("opened");
        let other = desks.man("van").expect("opened");
        assert!(Arc::ptr_eq(&one, &other), "two devices, one desk");
        assert!(desks.at_hand("van").is_some());
        // What was asked leaves nothing behind that holds it.
        let threads = tokio::runtime::Builder::new_current_thread().build().expect("threads");
        for asked in ["/api/v1/answer", "/api/v1/picture", "/api/v1/nothing"] {
            let request = Request::get(asked).body(Body::empty()).expect("a request");
            let answer = threads.block_on(one.routes().oneshot(request)).expect("answered");
            assert_eq!(answer.status().is_success(), asked != "/api/v1/nothing", "{asked}");
        }
        drop(threads);
        let desk: Weak<Desk> = Arc::downgrade(&one.desk);
        let circuit = Arc::downgrade(&one.desk.circuit);
        let thought = Arc::downgrade(&one.desk.thought());

        // Somebody holds it, then a page watches it, then somebody was here lately: it stays.
        desks.put_away(Duration::ZERO);
        drop((one, other));
        let watching = desks.at_hand("van").expect("still there").desk.clone();
        desks.put_away(Duration::ZERO);
        assert!(desks.at_hand("van").is_some(), "a page watches");
        drop(watching);
        desks.put_away(Duration::from_mins(1));
        assert!(desks.at_hand("van").is_some(), "somebody was here lately");

        desks.put_away(Duration::ZERO);
        assert!(desks.at_hand("van").is_none());
        assert!(held(&desks.places).is_empty());
        assert!(desk.upgrade().is_none(), "the desk is gone");
        assert!(
            circuit.upgrade().is_none() && thought.upgrade().is_none(),
            "and what it held"
        );
        assert!(desks.man("van").is_ok(), "and opens anew");
        desks.close();
    }

    #[test]
    fn what_cannot_be_opened_is_told_and_leaves_no_desk() {
        let folder = tempfile::tempdir().expect("a folder");
        begun(folder.path(), "van.job");
        std::fs::write(folder.path().join("broken.job"), "nonsense\n").expect("written");
        let desks = Desks::of(folder.path(), true);
        let status = |id: &str| desks.man(id).map_or_else(|problem| problem.status.as_u16(), |_| 200);
        assert_eq!((status("nobody"), status("../van"), status("broken")), (404, 404, 422));
        let elsewhere = job::Store::open(&folder.path().join("van.job")).expect("opened");
        assert_eq!(status("van"), 503);
        drop(elsewhere);
        assert_eq!(status("van"), 200);
        desks.close();
    }
}
