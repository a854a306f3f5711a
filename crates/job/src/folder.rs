//! A folder of jobs as a list. Every file is read once and again only when it changed, and never locked: whoever has a job
//! open goes on. A file that cannot be read is told in its place and hides no other.

use std::collections::BTreeMap;
use std::fs::{self, Metadata};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use crate::overview::Overview;
use crate::store::{Store, StoreError};

/// Ending of a job's file.
const ENDING: &str = "job";

/// A folder of jobs.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    /// By id.
    jobs: BTreeMap<String, Kept>,
}

#[derive(Debug)]
struct Kept {
    mark: Mark,
    told: Result<Overview, String>,
}

/// By what a file is known to be as it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Mark {
    changed: Option<SystemTime>,
    length: u64,
}

impl From<Metadata> for Mark {
    fn from(data: Metadata) -> Self {
        Self {
            changed: data.modified().ok(),
            length: data.len(),
        }
    }
}

impl Folder {
    /// The folder at this path; it need not be there yet.
    pub fn at(path: &Path) -> Self {
        Self {
            path: path.to_owned(),
            jobs: BTreeMap::new(),
        }
    }

    /// The jobs as they are now by id, each with what a list tells of it or why it cannot be read.
    ///
    /// # Errors
    /// [`StoreError::Io`] if the folder cannot be read. One that is not there yet holds no jobs.
    pub fn jobs(&mut self) -> Result<impl Iterator<Item = (&str, Result<&Overview, &str>)>, StoreError> {
        let io_error = |source| StoreError::Io {
            path: self.path.clone(),
            source,
        };
        let mut now = BTreeMap::new();
        let entries = match fs::read_dir(&self.path) {
            Ok(entries) => Some(entries),
            Err(source) if source.kind() == std::io::ErrorKind::NotFound => None,
            Err(source) => return Err(io_error(source)),
        };
        for entry in entries.into_iter().flatten() {
            let path = entry.map_err(io_error)?.path();
            let Some(id) = id_of(&path) else { continue };
            // One that was taken away in between is not there.
            let Ok(data) = fs::metadata(&path) else { continue };
            if !data.is_file() {
                continue;
            }
            let mark = Mark::from(data);
            let kept = match self.jobs.remove(&id) {
                Some(kept) if kept.mark == mark => kept,
                _ => Kept {
                    mark,
                    told: told(&path),
                },
            };
            now.insert(id, kept);
        }
        self.jobs = now;
        let each = self.jobs.iter();
        Ok(each.map(|(id, kept)| (id.as_str(), kept.told.as_ref().map_err(String::as_str))))
    }

    /// The file of a job in this folder, if there is one of this id.
    pub fn file(&self, id: &str) -> Option<PathBuf> {
        let path = self.path.join(id).with_added_extension(ENDING);
        // What names a place elsewhere is no id.
        let is_here = path.parent() == Some(&self.path) && id_of(&path).as_deref() == Some(id);
        (is_here && path.is_file()).then_some(path)
    }
}

/// A job's id: the name of its file without the ending.
pub fn id_of(path: &Path) -> Option<String> {
    let is_job = path.extension().is_some_and(|ending| ending == ENDING);
    let stem = path.file_stem()?.to_str()?;
    is_job.then(|| stem.to_owned())
}

/// What a list tells of a file, or why it cannot.
fn told(path: &Path) -> Result<Overview, String> {
    let events = Store::peek(path).map_err(|error| in_words(&error))?;
    Overview::of(&events).ok_or_else(|| "nothing is in it yet".into())
}

/// What is wrong with a job's file, without the place where it lies.
pub fn in_words(error: &StoreError) -> String {
    match error {
        StoreError::Io { source, .. } => format!("it cannot be read: {source}"),
        StoreError::NotAJob { .. } => "it is no job of Probewise, whatever its name says".into(),
        StoreError::Newer { .. } => "it was written by a newer Probewise".into(),
        StoreError::BadLine { line, .. } => format!("its line {line} cannot be read"),
        StoreError::Busy { .. } => "it is open in another Probewise".into(),
    }
}
