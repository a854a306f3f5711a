//! `library`: the shop's own circuits by group of vehicles.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use job::library::{Contents, Library, Taken, Version, day};
use serde_json::{Value, json};

use crate::args::{LibraryArgs, LibraryCommand};
use crate::commands::{Answer, jobs_folder, now_ms, print_json};
use crate::out;
use crate::source::{Failure, beside, circuit_text, mistaken};

/// What a circuit of the library begins with where a circuit is asked for.
const MARK: &str = "library:";

/// Text of the circuit that `library:GROUP/NAME` asks for; `None` if it asks for no such.
pub(crate) fn asked(circuit: &str) -> Option<Result<String, Failure>> {
    let asked = circuit.strip_prefix(MARK)?;
    let library = Library::at(&folder());
    let text = library.find(asked).and_then(|version| library.text(&version));
    Some(text.map_err(Failure::from))
}

/// A job's file of its own for a circuit of the library: the second van of a kind is another job.
pub(crate) fn new_job_file(circuit: &str) -> Option<PathBuf> {
    let asked = circuit.strip_prefix(MARK)?;
    let (circuit, _) = asked.rsplit_once('@').unwrap_or((asked, ""));
    Some(web::start::new_file(&jobs_folder(), &circuit.replace('/', " ")))
}

/// Where the command line says that the library is; set once, before any circuit is asked for.
static NAMED: OnceLock<PathBuf> = OnceLock::new();

/// Takes the library from this folder.
pub(crate) fn at(folder: Option<PathBuf>) {
    if let Some(folder) = folder {
        NAMED.get_or_init(|| folder);
    }
}

/// Where the library is: where the command says, else beside the jobs.
pub(crate) fn folder() -> PathBuf {
    folder_beside(&jobs_folder())
}

/// The same for jobs of a folder of their own.
pub(crate) fn folder_beside(jobs: &Path) -> PathBuf {
    NAMED.get().cloned().unwrap_or_else(|| jobs.join("library"))
}

pub(crate) fn library(args: &LibraryArgs) -> Result<Answer, Failure> {
    let folder = args.folder.clone().unwrap_or_else(folder);
    let library = Library::at(&folder);
    match &args.command {
        LibraryCommand::List => list(&library.contents()?, &folder, args.json)?,
        LibraryCommand::Add {
            circuit,
            group,
            name,
            date,
        } => {
            let text = circuit_text(circuit)?;
            let (_, text) = circuit::in_one_text(&text, &mut beside(circuit)).map_err(mistaken(circuit))?;
            let date = date.clone().unwrap_or_else(|| day(now_ms()));
            let (version, is_new) = library.add(group, name, &date, &text)?;
            if args.json {
                print_json(&json!({ "kept": to_json(&version), "new": is_new }))?;
            } else if is_new {
                out::line(format_args!("Kept as {}.", words(&version)))?;
            } else {
                out::line(format_args!("Kept already, as {}.", words(&version)))?;
            }
        }
        LibraryCommand::Export { to, circuit } => {
            return taken(&Library::at(to).take(&library, circuit.as_deref())?, args.json);
        }
        LibraryCommand::Import { from, circuit } => {
            // A wrong path is no empty library.
            std::fs::read_dir(from).map_err(|source| Failure::Io {
                path: from.clone(),
                source,
            })?;
            return taken(&library.take(&Library::at(from), circuit.as_deref())?, args.json);
        }
    }
    Ok(Answer::Done)
}

fn list(contents: &Contents, folder: &Path, is_json: bool) -> Result<(), Failure> {
    if is_json {
        let versions: Value = contents.versions.iter().map(to_json).collect();
        return print_json(
            &json!({ "folder": folder.display().to_string(), "circuits": versions, "left_out": contents.left_out }),
        );
    }
    let mut text = String::new();
    for version in &contents.versions {
        let _ = writeln!(text, "{MARK}{}", words(version));
    }
    if contents.versions.is_empty() {
        text += "Nothing is kept yet: `probewise library add CIRCUIT --group GROUP --name NAME`.\n";
    }
    out::print(text + &left_out(&contents.left_out))
}

/// What was taken over; the answer is no where something was left out.
fn taken(taken: &Taken, is_json: bool) -> Result<Answer, Failure> {
    if is_json {
        let new: Value = taken.new.iter().map(to_json).collect();
        print_json(&json!({ "new": new, "had": taken.had, "left_out": taken.left_out }))?;
    } else {
        let mut text = String::new();
        for version in &taken.new {
            let _ = writeln!(text, "{}", words(version));
        }
        let _ = writeln!(text, "{} new, {} there already.", taken.new.len(), taken.had);
        out::print(text + &left_out(&taken.left_out))?;
    }
    Ok(if taken.left_out.is_empty() {
        Answer::Done
    } else {
        Answer::No
    })
}

fn left_out(all: &[String]) -> String {
    let mut text = String::new();
    for why in all {
        let _ = writeln!(text, "Left out: {why}");
    }
    text
}

fn words(version: &Version) -> String {
    format!(
        "{}@{}  {}  {}",
        version.circuit(),
        version.number,
        version.date,
        version.hash
    )
}

fn to_json(version: &Version) -> Value {
    json!({
        "group": version.group, "name": version.name, "number": version.number, "date": version.date, "hash": version.hash,
    })
}
