//! `write-up`: a job as a document, for the customer or for the file.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;
use diagnosis::{Experience, Predictions};
use job::Store;
use job::learnt::LearntFile;
use web::learning;
use web::writeup::{Form, Opened, Reader, document, work_out, written};

use crate::args::by_name;
use crate::commands::{Answer, now_ms};
use crate::out;
use crate::source::Failure;

/// A job to write up.
#[derive(Debug, ClapArgs)]
pub(crate) struct WriteUpArgs {
    /// The job's file, or `demo`.
    pub(crate) job: String,
    /// For whom.
    #[arg(long = "for", value_name = "customer|technician", value_parser = by_name([("customer", Reader::Customer), ("technician", Reader::Technician)]))]
    pub(crate) reader: Reader,
    /// File to write; its name ends in .pdf or .html.
    #[arg(long, value_name = "FILE")]
    pub(crate) out: PathBuf,
    /// How far the shop's clock is from Greenwich.
    #[arg(long, value_name = "+HH:MM", default_value = "+00:00", value_parser = minutes_east, allow_hyphen_values = true)]
    pub(crate) utc_offset: i32,
    /// Leave out what the solved jobs beside this one have taught.
    #[arg(long)]
    pub(crate) no_learning: bool,
}

pub(crate) fn write_up(args: &WriteUpArgs) -> Result<Answer, Failure> {
    let form = form(&args.out)?;
    let path = Path::new(&args.job);
    let (events, experience) = if args.job == "demo" {
        (web::demo::events(now_ms()), Experience::default())
    } else {
        (Store::peek(path)?, learnt(path, args.no_learning)?)
    };
    let opened = Opened::of(events, &experience).map_err(|source| Failure::Job {
        name: args.job.clone(),
        source,
    })?;
    let account = work_out(opened.sources(), &mut Predictions::default())?;
    let document = document(&account, args.reader, args.utc_offset);
    let bytes = written(&document, form)?;
    fs::write(&args.out, &bytes).map_err(|source| Failure::Io {
        path: args.out.clone(),
        source,
    })?;
    out::line(format_args!("{}: {}", args.out.display(), document.title))?;
    Ok(Answer::Done)
}

/// What the name of the file asks for.
fn form(out: &Path) -> Result<Form, Failure> {
    let ending = out.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    match ending.to_ascii_lowercase().as_str() {
        "pdf" => Ok(Form::Pdf),
        "html" | "htm" => Ok(Form::Html),
        _ => Err(Failure::Text {
            place: format!("--out \"{}\"", out.display()),
            why: "its name must end in .pdf or .html, which says what is written".into(),
        }),
    }
}

/// What the solved jobs beside this one have taught, as the page would have it.
fn learnt(job: &Path, left_out: bool) -> Result<Experience, Failure> {
    let folder = job.parent().filter(|_| !left_out);
    let file = folder
        .map(|folder| LearntFile::read(&learning::file_of(folder)))
        .transpose()?;
    Ok(file.flatten().as_ref().map(learning::from_file).unwrap_or_default())
}

/// Minutes east of Greenwich from "+01:00".
fn minutes_east(text: &str) -> Result<i32, String> {
    let of = || {
        let (sign, rest) = match text.strip_prefix('-') {
            Some(rest) => (-1, rest),
            None => (1, text.strip_prefix('+').unwrap_or(text)),
        };
        let (hours, minutes) = rest.split_once(':')?;
        let number = |text: &str| {
            text.bytes()
                .all(|byte| byte.is_ascii_digit())
                .then(|| text.parse::<i32>().ok())?
        };
        let (hours, minutes) = (number(hours)?, number(minutes)?);
        (hours <= 14 && minutes < 60).then_some(sign * (60 * hours + minutes))
    };
    of().ok_or_else(|| "as in +01:00 or -03:30, at most 14 hours".to_owned())
}
