//! What a command works on: a circuit, what can break in it, and readings, read from files and arguments.

use std::fs;
use std::io::Read as _;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use bench::{Bench, Hypothesis, Reading, Test};
use circuit::{Circuit, Fault, FaultId, Mistake, PartId, SetUp};
use codes::code::{Found, TroubleCode, Typed, read_found};
use diagnosis::{Deed, Experience, Intake};
use job::event::What;
use job::intake::{self, codes_of, noted};
use job::learnt::LearntFile;
use web::facts::{self, Facts};

use crate::args::{BrokenArgs, ReadingsArgs};
use crate::library;
use crate::out;

/// Why a command could not be done.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Failure {
    /// Nobody reads the answer any more.
    #[error("nobody reads the answer")]
    Closed,
    /// The system refused.
    #[error("{path}: {source}")]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A circuit file with mistakes.
    #[error("{name} has mistakes:\n{}", list(mistakes))]
    Circuit {
        /// The file.
        name: String,
        /// Its mistakes.
        mistakes: Vec<Mistake>,
    },
    /// An argument or a line of a file that cannot be understood.
    #[error("{place}: {why}")]
    Text {
        /// Which argument or line.
        place: String,
        /// What is wrong, and what was expected.
        why: String,
    },
    /// The bench cannot answer.
    #[error(transparent)]
    Bench(#[from] bench::BenchError),
    /// A bare network cannot be read.
    #[error("{name}: {source}")]
    Bare {
        /// The file.
        name: String,
        /// What is wrong.
        source: crate::bare::BareError,
    },
    /// A table of readings cannot be read.
    #[error("{name}: {source}")]
    Log {
        /// The file.
        name: String,
        /// What is wrong.
        source: codes::log::LogError,
    },
    /// A ready-made circuit cannot be read, filled or combined.
    #[error(transparent)]
    Ready(#[from] circuit::ArchetypeError),
    /// What the shop has learnt, or its jobs, cannot be read or written.
    #[error(transparent)]
    Store(#[from] job::StoreError),
    /// The shop's library cannot be read or written, or has no such circuit.
    #[error(transparent)]
    Library(#[from] job::library::LibraryError),
    /// A circuit cannot be tried on.
    #[error(transparent)]
    Trials(#[from] Box<trials::YardError>),
    /// A job cannot be written up.
    #[error("{name}: {source}")]
    Job {
        /// The job's file.
        name: String,
        /// What is wrong.
        source: web::OpenError,
    },
    /// A document cannot be made.
    #[error(transparent)]
    Document(#[from] web::writeup::PdfError),
    /// The page cannot be served.
    #[error(transparent)]
    Web(#[from] web::WebError),
}

impl Failure {
    /// 2 for a wrong command line, 3 for everything else.
    pub(crate) fn exit_code(&self) -> u8 {
        use circuit::ArchetypeError as Ready;
        match self {
            Self::Text { .. }
            | Self::Ready(Ready::NoSuchQuestion { .. } | Ready::Answer { .. } | Ready::SamePlace { .. }) => 2,
            _ => 3,
        }
    }
}

fn list(mistakes: &[Mistake]) -> String {
    mistakes
        .iter()
        .map(|mistake| format!("  {mistake}"))
        .collect::<Vec<_>>()
        .join("\n")
}

/// The circuit of a command with the checks that these codes ask for, and what was assumed or is not weighed.
pub(crate) fn with_checks(name: &str, codes: &[TroubleCode]) -> Result<(Circuit, Vec<String>), Failure> {
    let text = circuit_text(name)?;
    let parse = |text: &str| circuit::parse_with(text, &mut beside(name));
    let (text, told) = intake::with_checks(&text, codes, &mut |text| parse(text).ok());
    Ok((parse(&text).map_err(mistaken(name))?, told))
}

/// The codes of `--code`, all of which must be codes.
fn found(texts: &[String]) -> Result<Vec<Found>, Failure> {
    let found = read_found(&texts.join(", "));
    match found.iter().find_map(|one| one.typed.as_ref().err()) {
        Some(why) => Err(Failure::Text {
            place: "--code".into(),
            why: why.to_string(),
        }),
        None => Ok(found),
    }
}

/// A circuit and what follows from it.
pub(crate) struct Source {
    pub(crate) circuit: Arc<Circuit>,
    pub(crate) faults: Vec<Fault>,
    pub(crate) bench: Bench,
    /// What moved the faults' rates; nothing without a file that says so.
    pub(crate) experience: Experience,
}

/// Text of a circuit file, of the library's for `library:GROUP/NAME`, or of the built-in one for `demo`.
pub(crate) fn circuit_text(name: &str) -> Result<String, Failure> {
    if name == "demo" {
        return Ok(circuit::DEMO.to_owned());
    }
    if let Some(text) = library::asked(name) {
        return text;
    }
    read(Path::new(name))
}

/// Reads files of device kinds from the folder of a circuit file, or below it.
pub(crate) fn beside(circuit: &str) -> impl FnMut(&str) -> Result<String, String> {
    let folder = Path::new(circuit).parent().map(Path::to_owned).unwrap_or_default();
    move |name| {
        let refused = || {
            format!(
                "`{name}` is not read: a file of device kinds lies beside the circuit file, or in a folder beside it"
            )
        };
        let is_inside = Path::new(name)
            .components()
            .all(|part| matches!(part, Component::Normal(_) | Component::CurDir));
        if !is_inside {
            return Err(refused());
        }
        let here = if folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            &folder
        };
        let path = here.join(name);
        let real = |path: &Path| fs::canonicalize(path).map_err(|error| format!("`{}`: {error}", path.display()));
        // A link may lead elsewhere.
        if !real(&path)?.starts_with(real(here)?) {
            return Err(refused());
        }
        fs::read_to_string(&path).map_err(|error| format!("`{}`: {error}", path.display()))
    }
}

/// The failure that the mistakes of a circuit file are.
pub(crate) fn mistaken(name: &str) -> impl Fn(Vec<Mistake>) -> Failure {
    let name = name.to_owned();
    move |mistakes| Failure::Circuit {
        name: name.clone(),
        mistakes,
    }
}

/// Reads a text file.
pub(crate) fn read(path: &Path) -> Result<String, Failure> {
    fs::read_to_string(path).map_err(|source| Failure::Io {
        path: path.to_owned(),
        source,
    })
}

/// Text of a file, or of standard input for `-`.
pub(crate) fn read_or_stdin(name: &str) -> Result<String, Failure> {
    if name == "-" {
        std::io::read_to_string(std::io::stdin()).map_err(|source| Failure::Io {
            path: "standard input".into(),
            source,
        })
    } else {
        read(Path::new(name))
    }
}

/// Bytes of a file, or of standard input for `-`.
pub(crate) fn bytes_or_stdin(name: &str) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    let (path, read) = if name == "-" {
        ("standard input", std::io::stdin().read_to_end(&mut bytes))
    } else {
        (
            name,
            fs::File::open(name).and_then(|mut file| file.read_to_end(&mut bytes)),
        )
    };
    let done = read.map(|_n_bytes| bytes);
    done.map_err(|source| Failure::Io {
        path: path.into(),
        source,
    })
}

impl Source {
    /// Reads and prepares a circuit.
    pub(crate) fn load(name: &str) -> Result<Self, Failure> {
        let text = circuit_text(name)?;
        let circuit = circuit::parse_with(&text, &mut beside(name)).map_err(mistaken(name))?;
        Self::of(circuit)
    }

    fn of(circuit: Circuit) -> Result<Self, Failure> {
        let circuit = Arc::new(circuit);
        let faults = circuit::possible_faults(&circuit);
        let bench = Bench::new(Arc::clone(&circuit))?;
        Ok(Self {
            circuit,
            faults,
            bench,
            experience: Experience::default(),
        })
    }

    /// The circuit of a command, with the rates that it asks for.
    pub(crate) fn told(args: &ReadingsArgs) -> Result<Self, Failure> {
        let name = &args.circuit.circuit;
        let mut source = Self::load(name)?;
        let codes = codes_of(&found(&args.codes)?);
        if !codes.is_empty() {
            let (circuit, told) = with_checks(name, &codes)?;
            source = Self::of(circuit)?;
            told.iter().for_each(out::beside);
        }
        if let Some(path) = &args.learnt {
            let file = LearntFile::read(path)?.ok_or_else(|| Failure::Io {
                path: path.clone(),
                source: std::io::ErrorKind::NotFound.into(),
            })?;
            source.experience = web::learning::from_file(&file);
            source.faults = source.experience.applied(&source.circuit, &source.faults);
        }
        Ok(source)
    }

    /// A set-up from its text form.
    pub(crate) fn set_up(&self, place: &str, text: &str) -> Result<SetUp, Failure> {
        circuit::parse_set_up(&self.circuit, text).map_err(|error| Failure::Text {
            place: format!("{place} \"{text}\""),
            why: error.to_string(),
        })
    }

    /// A test from `set-up | test`.
    pub(crate) fn test(&self, place: &str, text: &str) -> Result<Test, Failure> {
        let [set_up, test] = fields(place, text, "set-up | test")?;
        let set_up = self.set_up(place, set_up)?;
        let placement = self.placement(place, test)?;
        Ok(Test { placement, set_up })
    }

    /// An instrument and its place from their text form.
    pub(crate) fn placement(&self, place: &str, text: &str) -> Result<bench::Placement, Failure> {
        bench::parse_placement(&self.circuit, text).map_err(|error| Failure::Text {
            place: format!("{place} \"{text}\""),
            why: error.to_string(),
        })
    }

    /// A reading from `set-up | test | value`.
    pub(crate) fn reading(&self, place: &str, text: &str) -> Result<Reading, Failure> {
        let [set_up, test, shown] = fields(place, text, "set-up | test | value")?;
        job::state::reading(&self.circuit, set_up, test, shown).map_err(|why| Failure::Text {
            place: format!("{place} \"{text}\""),
            why,
        })
    }

    /// All that a command says of the vehicle.
    pub(crate) fn facts(&self, args: &ReadingsArgs) -> Result<Facts, Failure> {
        let parts = |option: &str, ids: &[String]| -> Result<Vec<PartId>, Failure> {
            ids.iter().map(|id| self.part(option, id)).collect()
        };
        let mut facts = Facts {
            intake: Intake {
                replaced: parts("--replaced", &args.replaced)?,
                disturbed: parts("--disturbed", &args.disturbed)?,
                accessories: parts("--accessory", &args.accessories)?,
                water: args.water,
                accident: args.accident,
                comes_and_goes: args.comes_and_goes,
            },
            ..Facts::default()
        };
        for one in &found(&args.codes)? {
            facts.readings.extend(self.code(one)?);
        }
        if let Some(path) = &args.file {
            for (place, line) in lines(path)? {
                self.note(&mut facts, &place, &line)?;
            }
        }
        for text in &args.readings {
            self.note(&mut facts, "--reading", text)?;
        }
        Ok(facts)
    }

    /// A code as it was found, in a set-up in which its check runs; `None` where the circuit has none.
    fn code(&self, found: &Found) -> Result<Option<Reading>, Failure> {
        let known = |typed: &&Typed| self.circuit.monitor(&typed.code.to_string()).is_some();
        let Some(typed) = found.typed.as_ref().ok().filter(known) else {
            return Ok(None);
        };
        let What::Code {
            set_up, code, state, ..
        } = noted(Some(&self.circuit), found, *typed)
        else {
            return Ok(None);
        };
        let reading = job::state::reading(&self.circuit, &set_up, &format!("code {code}"), &state);
        reading.map(Some).map_err(|why| Failure::Text {
            place: format!("--code \"{}\"", found.text),
            why,
        })
    }

    /// Adds a reading, a twin's reading or a deed.
    fn note(&self, facts: &mut Facts, place: &str, text: &str) -> Result<(), Failure> {
        match text.split_once('|') {
            None => facts.deeds.push(self.deed(place, text, facts.readings.len())?),
            Some((first, rest)) if first.trim() == "twin" => facts.twin.push(self.reading(place, rest)?),
            Some(_) => facts.readings.push(self.reading(place, text)?),
        }
        Ok(())
    }

    /// Something done after so many readings.
    pub(crate) fn deed(&self, place: &str, text: &str, after: usize) -> Result<Deed, Failure> {
        let failure = |why: String| Failure::Text {
            place: format!("{place} \"{text}\""),
            why,
        };
        let did = job::parse_did(&self.circuit, text).map_err(|why| {
            failure(format!(
                "this is neither a reading (set-up | test | value) nor a deed: {why}"
            ))
        })?;
        if let job::Did::Repaired(Some(path)) = &did {
            circuit::fault_by_path(&self.faults, path).map_err(|error| failure(error.to_string()))?;
        }
        let what = facts::done(&did, &self.faults).ok_or_else(|| failure("no such fault".into()))?;
        Ok(Deed { after, what })
    }

    /// The tests on offer from a file, if one is given.
    pub(crate) fn offer(&self, path: Option<&Path>) -> Result<Option<Vec<Test>>, Failure> {
        let Some(path) = path else { return Ok(None) };
        let tests: Result<_, _> = lines(path)?
            .iter()
            .map(|(place, line)| self.test(place, line))
            .collect();
        Ok(Some(tests?))
    }

    /// A part by its id.
    pub(crate) fn part(&self, option: &str, id: &str) -> Result<PartId, Failure> {
        let position = self.circuit.parts.iter().position(|part| part.id == id);
        position.map(PartId::from).ok_or_else(|| {
            let known: Vec<&str> = self.circuit.parts.iter().map(|part| part.id.as_str()).collect();
            Failure::Text {
                place: format!("{option} {id}"),
                why: format!("the circuit has no such part; parts are {}", known.join(", ")),
            }
        })
    }

    /// A fault by its path.
    pub(crate) fn fault_id(&self, place: &str, path: &str) -> Result<FaultId, Failure> {
        circuit::fault_by_path(&self.faults, path.trim()).map_err(|error| Failure::Text {
            place: format!("{place} \"{path}\""),
            why: error.to_string(),
        })
    }

    /// The faults of a command, each with its severity.
    pub(crate) fn broken(&self, args: &BrokenArgs) -> Result<Hypothesis<'_>, Failure> {
        let faults: Result<_, _> = args.faults.iter().map(|text| self.fault(text)).collect();
        Ok(Hypothesis { faults: faults? })
    }

    fn fault(&self, text: &str) -> Result<(&Fault, f64), Failure> {
        let failure = |why: String| Failure::Text {
            place: format!("--fault \"{text}\""),
            why,
        };
        let (path, severity) = text
            .split_once('=')
            .map_or((text, None), |(path, severity)| (path, Some(severity)));
        let id = circuit::fault_by_path(&self.faults, path.trim()).map_err(|error| failure(error.to_string()))?;
        let fault = &self.faults[id.idx()];
        let severity = match (&fault.severity, severity) {
            (None, None) => 0.0,
            (None, Some(_)) => return Err(failure("this fault is all or nothing: leave `=…` out".into())),
            (Some(range), None) => {
                let (low, high) = (
                    quantity::format(range.low, range.unit),
                    quantity::format(range.high, range.unit),
                );
                return Err(failure(format!("say how severe: {path}=…, from {low} to {high}")));
            }
            (Some(range), Some(severity)) => {
                let amount = quantity::parse(severity, range.unit).map_err(|error| failure(error.to_string()))?;
                // What is printed as an end of the range is rounded.
                let slack = |end: f64| 0.01 * end.abs();
                let (low, high) = (range.low - slack(range.low), range.high + slack(range.high));
                if !(low..=high).contains(&amount.value) {
                    let [value, low, high] =
                        [amount.value, range.low, range.high].map(|value| quantity::format(value, range.unit));
                    return Err(failure(format!(
                        "{value} is not this fault: it goes from {low} to {high}"
                    )));
                }
                amount.value
            }
        };
        Ok((fault, severity))
    }
}

fn fields<'t, const N: usize>(place: &str, text: &'t str, shape: &str) -> Result<[&'t str; N], Failure> {
    let fields: Vec<&str> = text.split('|').map(str::trim).collect();
    let found = fields.len();
    <[&str; N]>::try_from(fields).ok().ok_or_else(|| Failure::Text {
        place: format!("{place} \"{text}\""),
        why: format!("expected \"{shape}\", {N} parts with | between them, and found {found}"),
    })
}

fn lines(path: &Path) -> Result<Vec<(String, String)>, Failure> {
    let text = read(path)?;
    let lines = text.lines().enumerate().map(|(idx, line)| {
        let line = line.split('#').next().unwrap_or_default().trim();
        (format!("{}, line {}:", path.display(), idx + 1), line.to_owned())
    });
    Ok(lines.filter(|(_, line)| !line.is_empty()).collect())
}
