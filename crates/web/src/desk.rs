//! One job on the bench: its circuit, its store, and the thread that works out what follows.
//!
//! Events go into the store at once and never wait for the reasoning. The reasoning always takes the newest state; it gives
//! up a state that has been overtaken at the next question to the bench.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;

use bench::{Bench, BenchError};
use circuit::{Archetype, Circuit, Fault};
use diagnosis::Predictions;
use job::{Event, Store, StoreError, What};
use tokio::sync::watch;

use crate::mind::{Ground, Mind, Thought};
use crate::planning::PlanView;
use crate::shop::{self, Shop, ShopOrder};

/// Why a job cannot be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Its file.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A job begins with the event that names its circuit.
    #[error("this job has no circuit: its first event must open it; start a new job with a circuit file")]
    NoCircuit,
    /// The circuit in it has mistakes.
    #[error("the circuit of this job has mistakes:\n{0}")]
    Circuit(String),
    /// The circuit cannot be put on the bench.
    #[error(transparent)]
    Bench(#[from] BenchError),
    /// The system gave no thread.
    #[error("the system gave no thread for the reasoning: {0}")]
    Thread(std::io::Error),
}

/// One job, shared by all requests.
pub struct Desk {
    /// Its file.
    pub(crate) path: PathBuf,
    pub(crate) circuit: Arc<Circuit>,
    /// What to beware of with this circuit, where its file says so.
    pub(crate) cautions: Vec<String>,
    /// The shop's solved jobs, and what can break at their rates.
    shop: Mutex<Shop>,
    pub(crate) bench: Bench,
    store: Mutex<Store>,
    wanted: Mutex<Wanted>,
    changed: Condvar,
    thought: watch::Sender<Arc<Thought>>,
    /// What questions from pages have asked the bench; the reasoning has its own, so neither waits for the other.
    pub(crate) asked: Mutex<Predictions>,
    /// The same for repairs on trial and reasons, which take longer.
    pub(crate) proving: Mutex<Predictions>,
    /// The newest plan that was asked for.
    pub(crate) plan: Mutex<Option<PlanView>>,
}

/// What the reasoning thread is to do.
#[derive(Clone, Copy, Debug, Default)]
struct Wanted {
    /// Number of events in the store.
    latest: u64,
    closed: bool,
    /// The rates have changed: the same state is to be thought about once more.
    again: bool,
}

impl Desk {
    /// Opens a job's file, or begins one with `start`. With `learning` the rates are those that the solved jobs beside it
    /// make, where they have been counted.
    ///
    /// # Errors
    /// [`OpenError`]: the file, or the circuit in it.
    pub fn open(path: &Path, start: Vec<Event>, learning: bool) -> Result<Arc<Self>, OpenError> {
        let mut store = Store::open(path)?;
        if store.events().is_empty() {
            for event in start {
                store.append(event)?;
            }
        }
        let opened = store.events().iter().find_map(|event| match &event.what {
            What::Opened { circuit, .. } => Some(circuit.as_str()),
            _ => None,
        });
        let text = opened.ok_or(OpenError::NoCircuit)?;
        let parsed = circuit::parse(text).map_err(|mistakes| {
            let lines: Vec<String> = mistakes.iter().map(ToString::to_string).collect();
            OpenError::Circuit(lines.join("\n"))
        })?;
        let cautions = Archetype::read("job", text).map_or_else(|_plain| Vec::new(), |ready| ready.cautions);
        let circuit = Arc::new(parsed);
        let shop = Mutex::new(Shop::beside(path, &circuit, learning)?);
        let bench = Bench::new(Arc::clone(&circuit))?;
        let latest = store.events().len() as u64;
        let first = Thought::nothing_yet(&circuit, job::derive(&circuit, store.events()));
        Ok(Arc::new(Self {
            path: path.to_owned(),
            circuit,
            cautions,
            shop,
            bench,
            store: Mutex::new(store),
            wanted: Mutex::new(Wanted {
                latest,
                closed: false,
                again: false,
            }),
            changed: Condvar::new(),
            thought: watch::Sender::new(Arc::new(first)),
            asked: Mutex::default(),
            proving: Mutex::default(),
            plan: Mutex::default(),
        }))
    }

    /// Starts the reasoning; it ends after [`close`](Self::close).
    ///
    /// # Errors
    /// [`OpenError::Thread`] if the system gives no thread.
    pub fn start(self: &Arc<Self>) -> Result<JoinHandle<()>, OpenError> {
        let desk = Arc::clone(self);
        let thread = std::thread::Builder::new().name("reasoning".into());
        thread.spawn(move || desk.think()).map_err(OpenError::Thread)
    }

    /// Ends the reasoning once its present thought is told.
    pub fn close(&self) {
        held(&self.wanted).closed = true;
        self.changed.notify_all();
    }

    /// Puts an event into the store, synced when this returns: whether it is new, and how many there are.
    pub(crate) fn add(&self, event: Event) -> Result<Added, StoreError> {
        let mut store = held(&self.store);
        if let Some(known) = store.events().iter().find(|known| known.id == event.id) {
            let same = known.what == event.what && known.device == event.device;
            let latest = store.events().len() as u64;
            return Ok(if same { Added::Again(latest) } else { Added::Clash });
        }
        store.append(event)?;
        let latest = store.events().len() as u64;
        drop(store);
        held(&self.wanted).latest = latest;
        self.changed.notify_all();
        // Open pages learn at once that what they show is older than the last reading.
        self.thought.send_modify(|_| {});
        Ok(Added::New(latest))
    }

    /// What can break, at the rates in use.
    pub(crate) fn faults(&self) -> Arc<[Fault]> {
        held(&self.shop).faults()
    }

    /// The circuit, and what can break in it at the rates in use.
    pub(crate) fn ground(&self) -> Ground {
        Ground {
            circuit: Arc::clone(&self.circuit),
            faults: self.faults(),
        }
    }

    /// The shop's solved jobs.
    pub(crate) fn shop(&self) -> MutexGuard<'_, Shop> {
        held(&self.shop)
    }

    /// Uses the shop's solved jobs, leaves them out, or counts this job among them.
    ///
    /// # Errors
    /// In words: why this job does not count.
    pub(crate) fn order(&self, order: ShopOrder) -> Result<(), String> {
        match order {
            ShopOrder::Use(on) => self.shop().turn(on),
            ShopOrder::Count {} => {
                // The proof takes a while: nobody waits for the lock meanwhile.
                let job = self.shop().job();
                let file = shop::count(&job, &self.events())?;
                self.shop().take(&self.circuit, &file);
            }
        }
        *held(&self.plan) = None;
        held(&self.wanted).again = true;
        self.changed.notify_all();
        self.thought.send_modify(|_| {});
        Ok(())
    }

    /// Every event so far.
    pub(crate) fn events(&self) -> Vec<Event> {
        held(&self.store).events().to_vec()
    }

    /// Number of events.
    pub(crate) fn latest(&self) -> u64 {
        held(&self.wanted).latest
    }

    /// The newest thought.
    pub(crate) fn thought(&self) -> Arc<Thought> {
        Arc::clone(&self.thought.borrow())
    }

    /// Every thought from now on.
    pub(crate) fn watch(&self) -> watch::Receiver<Arc<Thought>> {
        self.thought.subscribe()
    }

    fn think(&self) {
        let mut mind = Mind::default();
        let mut done = None;
        while let Some(version) = self.next_version(done) {
            let state = job::derive(&self.circuit, &self.events()[..version as usize]);
            let overtaken = || {
                let wanted = held(&self.wanted);
                wanted.closed || wanted.again || wanted.latest != version
            };
            let tell = |thought: Thought| drop(self.thought.send_replace(Arc::new(thought)));
            let run = catch_unwind(AssertUnwindSafe(|| {
                mind.think(self, version, &state, &overtaken, &tell)
            }));
            if !matches!(run, Ok(Ok(()) | Err(BenchError::GivenUp))) {
                // What a panic left behind may be half done.
                mind = Mind::default();
                tell(Thought::failed(version, self, state));
            }
            done = Some(version);
        }
    }

    /// Waits for a state that has not been thought about; `None` once closed.
    fn next_version(&self, done: Option<u64>) -> Option<u64> {
        let wanted = held(&self.wanted);
        let nothing_new = |wanted: &mut Wanted| !wanted.closed && !wanted.again && Some(wanted.latest) == done;
        let mut wanted = self
            .changed
            .wait_while(wanted, nothing_new)
            .unwrap_or_else(PoisonError::into_inner);
        wanted.again = false;
        (!wanted.closed).then_some(wanted.latest)
    }
}

/// What became of an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Added {
    /// It is new; so many there are now.
    New(u64),
    /// It was here already.
    Again(u64),
    /// Another event has its id.
    Clash,
}

/// Nothing here is left half changed by a panic, so a poisoned lock is as good as another.
pub(crate) fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
