//! `learn`: what the solved jobs of a folder add up to.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args as ClapArgs;
use diagnosis::{Class, Learnt};
use serde_json::{Value, json};
use web::learning::{self, Counted};

use crate::commands::{Answer, jobs_folder, print_json};
use crate::out;
use crate::show::number;
use crate::source::Failure;

/// Jobs to count.
#[derive(Debug, ClapArgs)]
pub(crate) struct LearnArgs {
    /// Folder of the jobs; that of `serve` if left out.
    pub(crate) folder: Option<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

pub(crate) fn learn(args: &LearnArgs) -> Result<Answer, Failure> {
    let folder = args.folder.clone().unwrap_or_else(jobs_folder);
    let counted = learning::count(&folder)?;
    let path = learning::file_of(&folder);
    // A folder without solved jobs may be no folder of jobs at all.
    let keeps = !counted.solved.is_empty() || path.exists();
    if keeps {
        learning::to_file(&counted).write(&path)?;
    }
    if args.json {
        print_json(&to_json(&counted))?;
    } else {
        out::print(to_text(&counted))?;
        if keeps {
            out::line(format_args!("Kept in {}.", path.display()))?;
        } else {
            out::line(format_args!("Nothing to keep."))?;
        }
    }
    Ok(Answer::Done)
}

/// Each class in each group of vehicles, what was seen most first.
fn rates(counted: &Counted) -> Vec<(&str, &Class, Learnt)> {
    let experience = &counted.experience;
    let all: BTreeSet<(&str, &Class)> = experience
        .tallies
        .keys()
        .map(|(group, class)| (group.as_str(), class))
        .collect();
    let mut rates: Vec<_> = all
        .into_iter()
        .map(|(group, class)| (group, class, experience.of(group, class)))
        .collect();
    rates.sort_by(|a, b| b.2.seen.total_cmp(&a.2.seen).then(b.2.times.total_cmp(&a.2.times)));
    rates
}

fn to_text(counted: &Counted) -> String {
    let mut out = String::new();
    for (job, why) in &counted.left_out {
        let _ = writeln!(out, "{job} does not count: {why}");
    }
    let _ = writeln!(
        out,
        "{} counted.",
        crate::text::count(counted.solved.len(), "solved job")
    );
    for (group, class, learnt) in rates(counted).iter().filter(|one| one.2.seen >= 0.5) {
        let of = if group.is_empty() {
            String::new()
        } else {
            format!(" ({group})")
        };
        let _ = writeln!(
            out,
            "  {}, {}{of}: seen {:.1} times, taken {:.1} times as likely",
            class.part, class.mode, learnt.seen, learnt.times
        );
    }
    out
}

fn to_json(counted: &Counted) -> Value {
    let left_out: Vec<Value> = counted
        .left_out
        .iter()
        .map(|(job, why)| json!({ "job": job, "why": why }))
        .collect();
    let rates: Vec<Value> = rates(counted)
        .iter()
        .map(|(group, class, learnt)| {
            json!({ "vehicles": group, "part": class.part, "mode": class.mode, "seen": number(learnt.seen), "times": number(learnt.times) })
        })
        .collect();
    json!({ "solved": counted.solved, "left_out": left_out, "rates": rates })
}
