//! What the page before a job is told: what was typed in plain words, the circuits that it asks for, and the one that is being
//! made of them, with its questions.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Mutex;

use circuit::archetype::{LeftOut, combine};
use circuit::{Archetype, Asks, Changed, Circuit, Question, SetUp, colour};
use codes::code::{Found, Owner, TroubleCode, among_words, explain, read_found, shared};
use codes::vin;
use job::What;
use job::intake::{self, NewJob, fit};
use job::library::{Library, LibraryError, Version};
use serde::{Deserialize, Serialize};

use crate::desk::held;
use crate::problem::Problem;
use crate::start::refused;
use crate::words;

/// What stands before the name of a circuit of the library, as on the command line.
const OF_LIBRARY: &str = "library:";
/// Circuits that are made one at most.
const MOST_CIRCUITS: usize = 12;

/// The circuits at hand: the shop's library and the ready-made ones.
pub(crate) struct Shelf {
    library: Library,
    ready: Vec<Archetype>,
    /// Titles of the library's circuits, `None` for one that cannot be used. A version is written once, so that each is read once.
    titles: Mutex<BTreeMap<Version, Option<String>>>,
}

impl Shelf {
    pub(crate) fn at(library: &Path) -> Self {
        Self {
            library: Library::at(library),
            // Those that are built in can be read: a test holds that.
            ready: Archetype::built_in().unwrap_or_default(),
            titles: Mutex::default(),
        }
    }

    fn title(&self, version: &Version) -> Option<String> {
        let read = || {
            let text = self.library.text(version).ok()?;
            Some(circuit::parse(&text).ok()?.title)
        };
        held(&self.titles).entry(version.clone()).or_insert_with(read).clone()
    }
}

/// What a person typed of vehicle and complaint; any of it may be empty.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Typed {
    codes: String,
    /// Words of the complaint, or a part; codes may stand among them.
    wrong: String,
    /// The vehicle's plate, or what the shop calls it.
    plate: String,
    /// What vehicle it is.
    vehicle: String,
    vin: String,
}

impl Typed {
    /// The codes, wherever they were typed.
    fn codes(&self) -> String {
        all_codes(&self.codes, &self.wrong)
    }

    /// What the vehicle is called: plate and kind, as far as they were typed.
    pub(crate) fn called(&self) -> String {
        let said = [&self.plate, &self.vehicle].map(|text| text.trim());
        said.into_iter()
            .filter(|text| !text.is_empty())
            .collect::<Vec<_>>()
            .join(", ")
    }

    /// Of what kind the vehicle is; its plate or name where nothing else was typed.
    pub(crate) fn kind(&self) -> &str {
        let said = [&self.vehicle, &self.plate].map(|text| text.trim());
        said.into_iter().find(|text| !text.is_empty()).unwrap_or("")
    }

    /// The job that begins with it.
    pub(crate) fn job(self, title: String, circuit: String) -> NewJob {
        NewJob {
            title,
            codes: self.codes(),
            complaint: self.wrong.trim().to_owned(),
            vin: self.vin.trim().to_owned(),
            circuit,
        }
    }
}

/// Codes of the field for them, then those among words.
fn all_codes(codes: &str, words: &str) -> String {
    let said = [codes.trim().to_owned(), among_words(words)];
    said.into_iter()
        .filter(|text| !text.is_empty())
        .collect::<Vec<_>>()
        .join(", ")
}

/// What was typed, and what fits it.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Offered {
    codes: Vec<CodeView>,
    /// What the codes have in common.
    together: Vec<String>,
    vin: Option<VinView>,
    /// The newest version of each circuit of the library that fits, the best first; all by group where nothing was typed.
    library: Vec<KeptView>,
    /// Circuits that the library has in all.
    kept: usize,
    /// What lies in the library and cannot be used, with the reason.
    left_out: Vec<String>,
    /// Ready-made circuits, those that were asked for first.
    ready: Vec<ReadyView>,
}

/// A trouble code in plain words.
#[derive(Clone, Debug, Serialize)]
struct CodeView {
    /// The code, or what stands in its place.
    code: String,
    /// What it says; what is wrong with it if it is none.
    says: String,
    is_code: bool,
    /// What that means at the pin, and the like.
    more: Vec<String>,
    /// The code as it is typed, without its state.
    typed: String,
    /// `present`, `pending` or `history`.
    state: &'static str,
    /// When it was seen; may be empty.
    seen: String,
}

/// A vehicle's number in plain words.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct VinView {
    vin: String,
    is_vin: bool,
    told: Vec<String>,
}

/// A circuit of the library.
#[derive(Clone, Debug, Serialize)]
struct KeptView {
    /// How it is asked for: `GROUP/NAME@NUMBER`.
    circuit: String,
    group: String,
    name: String,
    title: String,
    date: String,
}

/// A ready-made circuit.
#[derive(Clone, Debug, Serialize)]
struct ReadyView {
    name: String,
    title: String,
    about: String,
    /// What asks for it; empty for the others.
    because: Vec<String>,
}

/// In plain words what a vehicle's number says, `None` if there is none.
pub(crate) fn of_vin(typed: &str) -> Option<VinView> {
    let typed = typed.trim();
    if typed.is_empty() {
        return None;
    }
    Some(match vin::read(typed) {
        Ok(vin) => VinView {
            vin: vin.to_string(),
            is_vin: true,
            told: vin.told(),
        },
        Err(why) => VinView {
            vin: typed.to_owned(),
            is_vin: false,
            told: vec![words::capital(&why.to_string())],
        },
    })
}

fn of_code(found: &Found) -> CodeView {
    let view = CodeView {
        code: found.text.clone(),
        says: String::new(),
        is_code: false,
        more: Vec::new(),
        typed: found.text.clone(),
        state: found.state.word(),
        seen: found.seen.clone(),
    };
    let typed = match &found.typed {
        Ok(typed) => typed,
        Err(why) => {
            return CodeView {
                says: why.to_string(),
                ..view
            };
        }
    };
    let told = explain(typed.code, typed.failure_type);
    let by = (typed.code.owner() != Owner::Common).then(|| format!("Numbered by {}", told.numbered_by));
    let bytes = typed
        .from_bytes
        .then(|| "Read as the bytes that a module sends.".to_owned());
    let pin = told.at_the_pin.map(str::to_owned);
    CodeView {
        code: typed.code.to_string(),
        says: told.says,
        is_code: true,
        more: [bytes, pin, told.failure, by].into_iter().flatten().collect(),
        typed: typed.to_text(),
        ..view
    }
}

/// Codes that are typed on the bench.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct CodesQuery {
    typed: String,
}

/// A code as it is typed on the bench.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct TypedCode {
    #[serde(flatten)]
    view: CodeView,
    /// What of an event notes it; `None` for what is no code.
    event: Option<What>,
    /// The circuit has a check that sets it: it is weighed.
    weighed: bool,
}

/// Codes in plain words, each with what notes it in this circuit.
pub(crate) fn typed_codes(circuit: &Circuit, query: &CodesQuery) -> Vec<TypedCode> {
    let found = read_found(&query.typed);
    let one = |found: &Found| {
        let event = found
            .typed
            .as_ref()
            .ok()
            .map(|typed| intake::noted(Some(circuit), found, *typed));
        let code = found.typed.as_ref().map(|typed| typed.code.to_string());
        TypedCode {
            view: of_code(found),
            event,
            weighed: code.is_ok_and(|code| circuit.monitor(&code).is_some()),
        }
    };
    found.iter().map(one).collect()
}

/// What was typed in plain words, and the circuits that it asks for.
pub(crate) fn offered(shelf: &Shelf, typed: &Typed) -> Result<Offered, LibraryError> {
    let found = read_found(&typed.codes());
    let codes = intake::codes_of(&found);
    let (library, left_out) = kept(shelf)?;
    let n_kept = library.len();
    let asks: Vec<String> = codes
        .iter()
        .map(ToString::to_string)
        .chain([typed.wrong.clone()])
        .collect();
    let offers = intake::offers(&shelf.ready, &asks);
    let others = shelf
        .ready
        .iter()
        .filter(|one| !offers.iter().any(|offer| offer.archetype == *one));
    let view = |one: &Archetype, because: Vec<String>| ReadyView {
        name: one.name.clone(),
        title: one.title.clone(),
        about: one.about.clone(),
        because,
    };
    let ready = offers.iter().map(|offer| view(offer.archetype, offer.because.clone()));
    Ok(Offered {
        codes: found.iter().map(of_code).collect(),
        together: shared(&codes).iter().map(codes::code::Shared::words).collect(),
        vin: of_vin(&typed.vin),
        library: fitting(library, typed, &codes),
        kept: n_kept,
        left_out,
        ready: ready.chain(others.map(|one| view(one, Vec::new()))).collect(),
    })
}

/// The newest version of each circuit of the library, and what cannot be used.
fn kept(shelf: &Shelf) -> Result<(Vec<KeptView>, Vec<String>), LibraryError> {
    let mut versions = shelf.library.contents()?.versions;
    versions.reverse();
    versions.dedup_by_key(|version| version.circuit());
    versions.reverse();
    let mut library = Vec::new();
    let mut left_out = Vec::new();
    for version in versions {
        let Some(title) = shelf.title(&version) else {
            left_out.push(format!("{} was edited and cannot be used", version.circuit()));
            continue;
        };
        library.push(KeptView {
            circuit: format!("{}@{}", version.circuit(), version.number),
            group: version.group,
            name: version.name,
            title,
            date: version.date,
        });
    }
    Ok((library, left_out))
}

/// Those that fit what was typed, the best first; all where nothing was.
fn fitting(library: Vec<KeptView>, typed: &Typed, codes: &[TroubleCode]) -> Vec<KeptView> {
    let items = codes.iter().filter_map(|code| codes::code::table::find(*code));
    let wrong = items.fold(typed.wrong.clone(), |words, entry| words + " " + &entry.name());
    let vehicle = typed.called();
    if wrong.trim().is_empty() && vehicle.is_empty() {
        return library;
    }
    let fits = library.into_iter().filter_map(|one| {
        let fit = fit(&one.group, &format!("{} {}", one.name, one.title), &vehicle, &wrong)?;
        Some((fit, one))
    });
    let mut fits: Vec<([usize; 2], KeptView)> = fits.collect();
    fits.sort_by_key(|(fit, _)| Reverse(*fit));
    fits.into_iter().map(|(_, one)| one).collect()
}

/// A circuit that is being made: ready-made ones and of the library (`library:GROUP/NAME`), answers to their questions, and the codes that are set.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Making {
    circuits: Vec<String>,
    /// Question and answer.
    #[serde(default)]
    answers: Vec<(String, String)>,
    #[serde(default)]
    codes: String,
    /// Words of the complaint; codes may stand among them.
    #[serde(default)]
    wrong: String,
    /// The vehicle's plate or name.
    #[serde(default)]
    vehicle: String,
}

/// The circuit as it stands, its questions, and what of the answers does not fit.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Made {
    title: String,
    questions: Vec<QuestionView>,
    /// What is wrong and belongs to no single answer.
    problems: Vec<String>,
    /// What was assumed on the way.
    told: Vec<String>,
    cautions: Vec<String>,
    svg: String,
    /// Wire colours that are known.
    colours: Vec<&'static str>,
    /// Under which group and name it may be kept.
    group: String,
    name: String,
}

/// A question.
#[derive(Clone, Debug, Serialize)]
struct QuestionView {
    id: String,
    what: String,
    /// The circuit that it is about, where it is one of several.
    of: Option<String>,
    /// `cavity`, `colour`, `length`, `choice` or `text`.
    kind: &'static str,
    /// What the circuit has there without an answer; of a cavity its number.
    stands: String,
    /// Plug of a cavity.
    plug: String,
    choices: Vec<String>,
    /// What is wrong with the answer.
    problem: Option<String>,
}

/// The circuits, made one.
fn whole(shelf: &Shelf, making: &Making) -> Result<Changed, Problem> {
    let unclear = |message: String| Problem::unclear(message, "Go back and choose circuits from the list.");
    if making.circuits.is_empty() || making.circuits.len() > MOST_CIRCUITS {
        return Err(unclear(format!("1 to {MOST_CIRCUITS} circuits can be made one")));
    }
    let named = |name: &String| {
        if let Some(kept) = name.strip_prefix(OF_LIBRARY) {
            return of_library(&shelf.library, kept);
        }
        let one = shelf.ready.iter().find(|one| one.name == *name).cloned();
        one.ok_or_else(|| unclear(format!("there is no ready-made circuit `{name}`")))
    };
    let chosen = making.circuits.iter().map(named).collect::<Result<Vec<_>, _>>()?;
    let chosen: Vec<&Archetype> = chosen.iter().collect();
    let made = intake::made(
        &chosen,
        &intake::codes_of(&read_found(&all_codes(&making.codes, &making.wrong))),
    );
    made.map_err(|why| unclear(why.to_string()))
}

/// A circuit of the library as one to be made one with others; it need not ask anything.
fn of_library(library: &Library, asked: &str) -> Result<Archetype, Problem> {
    let version = library.find(asked).map_err(|why| refused(&why))?;
    let text = library.text(&version).map_err(|why| refused(&why))?;
    let plain = |_asks_nothing| combine(&[(&version.name, &text)]).map(|whole| whole.archetype);
    let read = Archetype::read(&version.name, &text).or_else(plain);
    read.map_err(|why| Problem::unclear(why.to_string(), "Mend it and keep it as a new version."))
}

/// A reason as a sentence: typed words in quotes, as people write them.
fn plain(why: &str) -> String {
    words::capital(&why.replace('`', "\""))
}

/// Answers that say something.
fn said(making: &Making) -> Vec<(String, String)> {
    let said = making.answers.iter().filter(|(_, answer)| !answer.trim().is_empty());
    said.cloned().collect()
}

/// The circuit with all answers.
pub(crate) fn finished(shelf: &Shelf, making: &Making) -> Result<Archetype, Problem> {
    let open = whole(shelf, making)?.archetype;
    let (filled, left_out) = open.fill_what_fits(&said(making));
    let Some(wrong) = left_out.first() else {
        return Ok(filled.archetype);
    };
    let asked = open
        .questions
        .iter()
        .find(|one| Some(&one.id) == wrong.question.as_ref());
    let why = match asked {
        Some(question) => format!("{}: {}", question.what, plain(&wrong.why)),
        None => plain(&wrong.why),
    };
    let help = "Nothing was begun. Mend this answer, or leave it empty: then the usual is taken.";
    Err(Problem::unclear(why, help))
}

/// The circuit with the answers that fit, drawn.
pub(crate) fn made(shelf: &Shelf, making: &Making) -> Result<Made, Problem> {
    let Changed { archetype, told } = whole(shelf, making)?;
    let (filled, left_out) = archetype.fill_what_fits(&said(making));
    let made = filled.archetype;
    let circuit = circuit::parse(&made.of_vehicle(&making.vehicle).text)
        .map_err(|_mistakes| Problem::defect("making the circuit"))?;
    let look = picture::Look {
        themed: false,
        background: false,
        ..picture::Look::default()
    };
    let drawn = picture::wiring(&circuit, &SetUp::normal(), &picture::Marks::default(), &look);
    let asked = archetype.questions.iter();
    Ok(Made {
        title: made.title.clone(),
        questions: asked
            .map(|question| of_question(question, &archetype, &made, &left_out))
            .collect(),
        problems: left_out
            .iter()
            .filter(|one| one.question.is_none())
            .map(|one| plain(&one.why))
            .collect(),
        told: told.iter().chain(&filled.told).map(|line| plain(line)).collect(),
        cautions: made.cautions.clone(),
        svg: drawn.svg,
        colours: colour::NAMES.iter().map(|(name, _)| *name).collect(),
        group: diagnosis::group_of(&circuit),
        name: made.name.replace('+', " and ").replace('-', " "),
    })
}

fn of_question(question: &Question, before: &Archetype, after: &Archetype, left_out: &[LeftOut]) -> QuestionView {
    // While it is open, another answer may move what it asks about.
    let open = after.questions.iter().find(|other| other.id == question.id);
    let stands = match open {
        Some(open) => after.stands(open),
        None => before.stands(question),
    };
    let stands = stands.unwrap_or_default();
    let (plug, number) = stands.split_once('.').unwrap_or(("", &stands));
    let is_cavity = matches!(question.asks, Asks::Cavity(_));
    let problem = left_out.iter().find(|one| one.question.as_ref() == Some(&question.id));
    QuestionView {
        id: question.id.clone(),
        what: question.what.clone(),
        of: question.of.clone(),
        kind: match &question.asks {
            Asks::Cavity(_) => "cavity",
            Asks::Choice(_) => "choice",
            Asks::Keys(paths) if paths.iter().all(|path| path.ends_with(".colour")) => "colour",
            Asks::Keys(paths) if paths.iter().all(|path| path.ends_with(".length")) => "length",
            Asks::Keys(_) | Asks::Name(_) => "text",
        },
        plug: if is_cavity { plug.to_owned() } else { String::new() },
        stands: if is_cavity { number.to_owned() } else { stands.clone() },
        choices: match &question.asks {
            Asks::Choice(choices) => choices.iter().map(|choice| choice.say.clone()).collect(),
            _ => Vec::new(),
        },
        problem: problem.map(|one| plain(&one.why)),
    }
}
