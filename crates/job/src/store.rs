//! Jobs on disk: a plain file a job, one event a line as JSON, only ever appended to.
//!
//! An event is acknowledged after the file is synced. A line that a power cut tore off is set aside, not lost: it is moved
//! to a file of its own beside the job. A file that is not ours, or newer, is refused and never written to.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::event::Event;

const VERSION: u32 = 1;

#[derive(Serialize, Deserialize)]
struct Header {
    probewise_job: u32,
}

/// What can go wrong with a job's file.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The system refused.
    #[error("{path}: {source}")]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Not a job of ours.
    #[error("{path} is not a Probewise job: its first line must be {{\"probewise_job\":{VERSION}}}; it was left alone")]
    NotAJob {
        /// The file.
        path: PathBuf,
    },
    /// Written by a newer version.
    #[error(
        "{path} was written by a newer Probewise (job format {found}, this one knows {VERSION}); it was left alone"
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its format.
        found: u32,
    },
    /// A line in the middle cannot be read.
    #[error("{path}, line {line}: {source}; the file was left alone")]
    BadLine {
        /// The file.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
        /// What is wrong with it.
        source: serde_json::Error,
    },
    /// Another process has this job open.
    #[error("{path} is open in another Probewise; close that one first, or use its page")]
    Busy {
        /// The file.
        path: PathBuf,
    },
}

/// One job's file, open for appending.
#[derive(Debug)]
pub struct Store {
    path: PathBuf,
    file: File,
    events: Vec<Event>,
}

impl Store {
    /// Opens a job's file, or makes it.
    ///
    /// # Errors
    /// See [`StoreError`]: nothing is ever overwritten.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let io_error = |source| StoreError::Io {
            path: path.to_owned(),
            source,
        };
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(io_error)?;
        }
        let mut file = OpenOptions::new()
            .read(true)
            .append(true)
            .create(true)
            .open(path)
            .map_err(io_error)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(fs::TryLockError::WouldBlock) => return Err(StoreError::Busy { path: path.to_owned() }),
            Err(fs::TryLockError::Error(source)) => return Err(io_error(source)),
        }
        let bytes = fs::read(path).map_err(io_error)?;
        if bytes.is_empty() {
            write_line(&mut file, &Header { probewise_job: VERSION }).map_err(io_error)?;
        }
        let (events, whole) = read(path, &bytes)?;
        if whole > 0 && whole < bytes.len() {
            set_aside(path, &bytes[whole..]).map_err(io_error)?;
            file.set_len(whole as u64)
                .and_then(|()| file.sync_all())
                .map_err(io_error)?;
        }
        Ok(Self {
            path: path.to_owned(),
            file,
            events,
        })
    }

    /// The events of a job's file as they are now, whoever has it open; nothing is locked, made or mended.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub fn peek(path: &Path) -> Result<Vec<Event>, StoreError> {
        let bytes = fs::read(path).map_err(|source| StoreError::Io {
            path: path.to_owned(),
            source,
        })?;
        read(path, &bytes).map(|(events, _)| events)
    }

    /// All events, in the order in which they were acknowledged.
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// Adds an event and syncs the file; `false` if an event of this id is there already.
    ///
    /// # Errors
    /// [`StoreError::Io`]: then it was not acknowledged and is not in [`events`](Self::events).
    pub fn append(&mut self, event: Event) -> Result<bool, StoreError> {
        if self.events.iter().any(|known| known.id == event.id) {
            return Ok(false);
        }
        let length = self.file.metadata().map(|data| data.len());
        if let Err(source) = write_line(&mut self.file, &event) {
            // A half-written line must not swallow the next one.
            if let Ok(length) = length {
                let _ = self.file.set_len(length);
            }
            return Err(StoreError::Io {
                path: self.path.clone(),
                source,
            });
        }
        self.events.push(event);
        Ok(true)
    }
}

/// The events of a file's whole lines, and the length of those lines. An empty file has no events yet.
fn read(path: &Path, bytes: &[u8]) -> Result<(Vec<Event>, usize), StoreError> {
    let whole = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
    let text = String::from_utf8_lossy(&bytes[..whole]);
    let mut lines = text.lines();
    let Some(first) = lines.next() else {
        let is_new = bytes.is_empty();
        return if is_new {
            Ok((Vec::new(), 0))
        } else {
            Err(StoreError::NotAJob { path: path.to_owned() })
        };
    };
    let Ok(header) = serde_json::from_str::<Header>(first) else {
        return Err(StoreError::NotAJob { path: path.to_owned() });
    };
    if header.probewise_job > VERSION {
        return Err(StoreError::Newer {
            path: path.to_owned(),
            found: header.probewise_job,
        });
    }
    let event = |(idx, line): (usize, &str)| {
        serde_json::from_str(line).map_err(|source| StoreError::BadLine {
            path: path.to_owned(),
            line: idx + 2,
            source,
        })
    };
    let events = lines.enumerate().map(event).collect::<Result<_, _>>()?;
    Ok((events, whole))
}

fn write_line(file: &mut File, value: &impl Serialize) -> io::Result<()> {
    let mut line = serde_json::to_vec(value)?;
    line.push(b'\n');
    file.write_all(&line)?;
    file.sync_data()
}

fn set_aside(path: &Path, torn: &[u8]) -> io::Result<()> {
    let mut name = path.as_os_str().to_owned();
    name.push(".torn");
    let mut aside = OpenOptions::new().append(true).create(true).open(PathBuf::from(name))?;
    aside.write_all(torn)?;
    aside.write_all(b"\n")?;
    aside.sync_all()
}
