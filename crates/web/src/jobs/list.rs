//! The list of jobs as the page is told: by where they stand, the latest first.

use job::{Awaited, Overview, Search, Standing};
use serde::{Deserialize, Serialize};

use super::Desks;
use crate::problem::Problem;
use crate::words;

/// Jobs that are listed of one group at most: more than anybody reads.
const MOST: usize = 50;

/// What is looked for.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct JobsQuery {
    /// Plate, vehicle, code, words; all jobs where it is empty.
    search: String,
}

/// The jobs of a shop.
#[derive(Debug, Serialize)]
pub(crate) struct JobsView {
    /// How many there are in all, found or not.
    all: usize,
    groups: Vec<GroupView>,
    /// Files that cannot be read.
    unreadable: Vec<UnreadableView>,
}

/// The jobs that stand alike.
#[derive(Debug, Serialize)]
struct GroupView {
    /// `open`, `parts`, `customer`, `proven`.
    standing: &'static str,
    words: &'static str,
    /// How many were found; the latest of them are listed.
    count: usize,
    jobs: Vec<JobRow>,
}

/// A job.
#[derive(Debug, Serialize)]
struct JobRow {
    id: String,
    title: String,
    complaint: String,
    codes: Vec<String>,
    /// How far it is.
    told: String,
    since_ms: u64,
    last_ms: u64,
}

/// A file that cannot be read.
#[derive(Debug, Serialize)]
struct UnreadableView {
    id: String,
    why: String,
}

const GROUPS: [Standing; 4] = [
    Standing::Open,
    Standing::Waiting(Awaited::Parts),
    Standing::Waiting(Awaited::Customer),
    Standing::Proven,
];

pub(crate) fn jobs(desks: &Desks, query: &JobsQuery) -> Result<JobsView, Problem> {
    let mut folder = desks.folder();
    let jobs = folder.jobs().map_err(|error| {
        let why = format!(
            "the folder of the jobs cannot be read: {}",
            job::folder::in_words(&error)
        );
        Problem::unclear(why, "See that it is there and may be read.")
    })?;
    let search = Search::new(&query.search);
    let mut all = 0;
    let mut found: [Vec<(&str, &Overview)>; 4] = Default::default();
    let mut unreadable = Vec::new();
    for (id, told) in jobs {
        all += 1;
        match told {
            Ok(one) if one.is_meant(&search) => {
                let group = GROUPS.iter().position(|group| *group == one.standing).unwrap_or(0);
                found[group].push((id, one));
            }
            Ok(_) => {}
            Err(why) => unreadable.push(UnreadableView {
                id: id.to_owned(),
                why: why.to_owned(),
            }),
        }
    }
    let group = |(standing, mut jobs): (Standing, Vec<(&str, &Overview)>)| {
        jobs.sort_by_key(|(_, one)| std::cmp::Reverse(one.last_ms));
        let (standing, words) = self::standing(standing);
        GroupView {
            standing,
            words,
            count: jobs.len(),
            jobs: jobs.iter().take(MOST).map(|(id, one)| row(id, one)).collect(),
        }
    };
    let groups = GROUPS.into_iter().zip(found).map(group);
    Ok(JobsView {
        all,
        groups: groups.filter(|group| group.count > 0).collect(),
        unreadable,
    })
}

/// Where a job stands, for scripts and for people.
pub(crate) fn standing(standing: Standing) -> (&'static str, &'static str) {
    match standing {
        Standing::Open => ("open", "open"),
        Standing::Waiting(Awaited::Parts) => ("parts", "waiting for parts"),
        Standing::Waiting(Awaited::Customer) => ("customer", "waiting for the customer"),
        Standing::Proven => ("proven", "repair proven"),
    }
}

fn row(id: &str, one: &Overview) -> JobRow {
    let told = match (one.repair.as_str(), one.readings) {
        ("", 0) => "nothing measured yet".to_owned(),
        ("", 1) => "1 reading".into(),
        ("", readings) => format!("{readings} readings"),
        (repair, _) => format!("repaired: {repair}"),
    };
    JobRow {
        id: id.to_owned(),
        title: one.title.clone(),
        complaint: one.complaint.clone(),
        codes: one.codes.clone(),
        told: words::capital(&told),
        since_ms: one.since_ms,
        last_ms: one.last_ms,
    }
}
