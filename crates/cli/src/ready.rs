//! `archetypes`, `questions`, `fill`: ready-made circuits, what they ask, and the circuit that answers make.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use circuit::archetype::{combine, meant};
use circuit::{Archetype, ArchetypeError, Asks, Changed, Question};
use job::intake::offers;
use serde_json::{Value, json};

use crate::args::{ArchetypesArgs, FillArgs, QuestionsArgs, ReadyArgs};
use crate::commands::{Answer, print_json};
use crate::out;
use crate::source::{Failure, read};

pub(crate) fn archetypes(args: &ArchetypesArgs) -> Result<Answer, Failure> {
    let all = at_hand(&args.ready)?;
    let found: Vec<(&Archetype, Vec<String>)> = if args.words.is_empty() {
        all.iter().map(|one| (one, Vec::new())).collect()
    } else {
        let offers = offers(&all, &args.words);
        offers
            .into_iter()
            .map(|offer| (offer.archetype, offer.because))
            .collect()
    };
    if args.ready.json {
        let json = found.iter().map(|(one, because)| {
            json!({
                "name": one.name, "title": one.title, "about": one.about, "serves": one.serves, "cautions": one.cautions,
                "questions": one.questions.len(), "because": because,
            })
        });
        print_json(&json.collect::<Value>())?;
    } else if found.is_empty() {
        out::line("No ready-made circuit is known by that. Without words all are listed.")?;
    } else {
        let width = found.iter().map(|(one, _)| one.name.chars().count()).max().unwrap_or(0);
        for (one, because) in &found {
            let because = if because.is_empty() {
                String::new()
            } else {
                format!(" [{}]", because.join(", "))
            };
            out::line(format_args!("{:width$}  {}{because}", one.name, one.about))?;
        }
    }
    Ok(if found.is_empty() { Answer::No } else { Answer::Done })
}

pub(crate) fn questions(args: &QuestionsArgs) -> Result<Answer, Failure> {
    let Changed { archetype, told } = together(&args.circuits, &args.ready)?;
    if args.ready.json {
        print_json(&json!({
            "name": archetype.name, "title": archetype.title, "about": archetype.about, "cautions": archetype.cautions,
            "questions": questions_json(&archetype), "told": told,
        }))?;
    } else {
        out::print(questions_text(&archetype, &told))?;
    }
    Ok(Answer::Done)
}

pub(crate) fn fill(args: &FillArgs) -> Result<Answer, Failure> {
    let (circuits, answers): (Vec<&String>, Vec<&String>) =
        args.circuits_and_answers.iter().partition(|text| !text.contains('='));
    let circuits: Vec<String> = circuits.into_iter().cloned().collect();
    let answers: Vec<(String, String)> = answers
        .iter()
        .filter_map(|text| text.split_once('='))
        .map(|(question, answer)| (question.trim().to_owned(), answer.trim().to_owned()))
        .collect();
    let Changed { archetype, mut told } = together(&circuits, &args.ready)?;
    let filled = archetype.fill(&answers)?;
    told.extend(filled.told);
    let archetype = filled.archetype;
    if args.ready.json {
        print_json(&json!({
            "name": archetype.name, "title": archetype.title, "circuit": archetype.text, "cautions": archetype.cautions,
            "questions": questions_json(&archetype), "told": told,
        }))?;
    } else {
        // Comments, so that the output is a circuit file as it stands.
        let told = told.iter().fold(String::new(), |mut text, line| {
            let _ = writeln!(text, "# {line}");
            text
        });
        out::print(told + &archetype.text)?;
    }
    Ok(Answer::Done)
}

/// The circuits of a command, made one if they are several.
fn together(names: &[String], args: &ReadyArgs) -> Result<Changed, Failure> {
    if names.is_empty() {
        return Err(Failure::Text {
            place: "fill".into(),
            why: "a circuit is expected before the answers; `probewise archetypes` lists the ready-made ones".into(),
        });
    }
    let all = at_hand(args)?;
    let texts = names
        .iter()
        .map(|name| named(name, &all))
        .collect::<Result<Vec<_>, _>>()?;
    if let [(name, text)] = texts.as_slice() {
        let archetype = Archetype::read(name, text)?;
        return Ok(Changed {
            archetype,
            told: Vec::new(),
        });
    }
    let texts: Vec<(&str, &str)> = texts
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_str()))
        .collect();
    Ok(combine(&texts)?)
}

/// Name and text of a ready-made circuit or a file.
fn named(name: &str, all: &[Archetype]) -> Result<(String, String), Failure> {
    if let Some(one) = all.iter().find(|one| one.name == name) {
        return Ok((name.to_owned(), one.text.clone()));
    }
    let path = Path::new(name);
    if !path.exists() && path.extension().is_none() {
        let known = || {
            let names: Vec<&str> = all.iter().map(|one| one.name.as_str()).collect();
            format!("known are {}", names.join(", "))
        };
        let help = meant(all, name).map_or_else(known, |near| format!("did you mean `{near}`?"));
        return Err(Failure::Text {
            place: name.to_owned(),
            why: format!("there is no such file and no such ready-made circuit; {help}"),
        });
    }
    Ok((stem(path), read(path)?))
}

fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

/// The ready-made circuits of the folder that a command names, then the built-in ones of other names.
pub(crate) fn at_hand(args: &ReadyArgs) -> Result<Vec<Archetype>, Failure> {
    let mut all = Vec::new();
    if let Some(folder) = &args.folder {
        let failure = |source| Failure::Io {
            path: folder.clone(),
            source,
        };
        for entry in fs::read_dir(folder).map_err(failure)? {
            let path = entry.map_err(failure)?.path();
            if path.extension().is_some_and(|extension| extension == "toml") {
                match Archetype::read(&stem(&path), &read(&path)?) {
                    Ok(one) => all.push(one),
                    // Circuits without questions may lie beside them.
                    Err(ArchetypeError::Plain { .. }) => {}
                    Err(why) => return Err(why.into()),
                }
            }
        }
        all.sort_by(|a, b| a.name.cmp(&b.name));
    }
    for one in Archetype::built_in()? {
        if !all.iter().any(|own| own.name == one.name) {
            all.push(one);
        }
    }
    Ok(all)
}

fn questions_text(archetype: &Archetype, told: &[String]) -> String {
    let mut text = format!("{}\n{}\n", archetype.title, archetype.about);
    for line in archetype
        .cautions
        .iter()
        .map(|caution| format!("Mind: {caution}"))
        .chain(told.iter().cloned())
    {
        let _ = writeln!(text, "{line}");
    }
    if archetype.questions.is_empty() {
        text.push_str("\nIt asks nothing.\n");
    }
    let mut of = None;
    for question in &archetype.questions {
        if question.of != of {
            let _ = write!(text, "\n{}", question.of.as_deref().unwrap_or("Together"));
            of.clone_from(&question.of);
        }
        let stands = archetype
            .stands(question)
            .map_or_else(String::new, |stands| format!(" [{stands}]"));
        let _ = write!(text, "\n  {}: {}{stands}", question.id, question.what);
        if let Asks::Choice(choices) = &question.asks {
            for (idx, choice) in choices.iter().enumerate() {
                let _ = write!(text, "\n    {}  {}", idx + 1, choice.say);
            }
        }
    }
    text + "\n"
}

fn questions_json(archetype: &Archetype) -> Value {
    let choices = |question: &Question| match &question.asks {
        Asks::Choice(choices) => choices.iter().map(|choice| json!(choice.say)).collect(),
        _ => json!([]),
    };
    let questions = archetype.questions.iter().map(|question| {
        json!({
            "id": question.id, "what": question.what, "of": question.of, "asks": question.asks.word(),
            "stands": archetype.stands(question), "choices": choices(question),
        })
    });
    questions.collect()
}
