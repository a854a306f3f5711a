//! What a shop's solved jobs add up to, on disk: one small file beside the jobs, made anew from them whenever asked.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::store::StoreError;

/// Name of the file in the folder of the jobs.
pub const LEARNT_FILE: &str = "learnt.json";
const VERSION: u32 = 1;

/// The file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LearntFile {
    probewise_learnt: u32,
    /// The jobs that count, by file name.
    pub jobs: Vec<String>,
    /// What they add up to.
    pub counts: Vec<Count>,
}

/// How often a kind of fault was the cause, in one group of vehicles.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Count {
    /// Group of vehicles.
    pub vehicles: String,
    /// Kind of part.
    pub part: String,
    /// How it fails.
    pub mode: String,
    /// Jobs in which it was the cause.
    pub seen: f64,
    /// Jobs in which the built-in rates expected it.
    pub expected: f64,
}

impl LearntFile {
    /// What these jobs add up to.
    pub fn new(jobs: Vec<String>, counts: Vec<Count>) -> Self {
        Self {
            probewise_learnt: VERSION,
            jobs,
            counts,
        }
    }

    /// Reads a file; `None` if it is not there.
    ///
    /// # Errors
    /// [`StoreError`]: the system, no such file of ours, or a newer one. It is left alone.
    pub fn read(path: &Path) -> Result<Option<Self>, StoreError> {
        let text = match fs::read_to_string(path) {
            Ok(text) => text,
            Err(source) if source.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(source) => return Err(io_error(path, source)),
        };
        let read: Self = serde_json::from_str(&text).map_err(|source| StoreError::BadLine {
            path: path.to_owned(),
            line: source.line(),
            source,
        })?;
        if read.probewise_learnt > VERSION {
            return Err(StoreError::Newer {
                path: path.to_owned(),
                found: read.probewise_learnt,
            });
        }
        let sane = |count: &Count| {
            let fine = |value: f64| value.is_finite() && value >= 0.0;
            fine(count.seen) && fine(count.expected)
        };
        Ok(Some(Self {
            counts: read.counts.into_iter().filter(sane).collect(),
            ..read
        }))
    }

    /// Writes the file whole: beside it first, then over it.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn write(&self, path: &Path) -> Result<(), StoreError> {
        let beside = path.with_extension("json.new");
        let failed = |source| io_error(path, source);
        let text = serde_json::to_string_pretty(self).map_err(|source| failed(source.into()))?;
        let mut file = fs::File::create(&beside).map_err(failed)?;
        file.write_all(text.as_bytes()).map_err(failed)?;
        file.write_all(b"\n").map_err(failed)?;
        file.sync_all().map_err(failed)?;
        fs::rename(&beside, path).map_err(failed)
    }
}

/// The files of the jobs in a folder, by name.
///
/// # Errors
/// [`StoreError::Io`].
pub fn jobs_in(folder: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let mut jobs = Vec::new();
    for entry in fs::read_dir(folder).map_err(|source| io_error(folder, source))? {
        let path = entry.map_err(|source| io_error(folder, source))?.path();
        if path.is_file() && path.extension().is_some_and(|extension| extension == "job") {
            jobs.push(path);
        }
    }
    jobs.sort();
    Ok(jobs)
}

fn io_error(path: &Path, source: std::io::Error) -> StoreError {
    StoreError::Io {
        path: path.to_owned(),
        source,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_written_is_read_again_and_what_is_newer_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(LEARNT_FILE);
        assert_eq!(LearntFile::read(&path).unwrap(), None);
        let count = Count {
            vehicles: "van".into(),
            part: "connector".into(),
            mode: "leak".into(),
            seen: 2.0,
            expected: 0.4,
        };
        let file = LearntFile::new(vec!["one.job".into()], vec![count]);
        file.write(&path).unwrap();
        assert_eq!(LearntFile::read(&path).unwrap(), Some(file));
        let text = fs::read_to_string(&path)
            .unwrap()
            .replace("\"probewise_learnt\": 1", "\"probewise_learnt\": 9");
        fs::write(&path, text).unwrap();
        let error = LearntFile::read(&path).unwrap_err().to_string();
        assert!(error.contains("newer"), "{error}");
    }
}
