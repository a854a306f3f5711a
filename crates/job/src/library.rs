//! The shop's own circuits by group of vehicles, so that the second van of a kind needs no drawing.
//!
//! A plain folder: `GROUP/NAME/NUMBER_DATE_HASH.toml`, each an ordinary circuit file that includes no other. A version is
//! written once and never again; what changed is the next version. The hash is the start of the SHA-256 (FIPS 180-4) of the
//! text: it tells that a file was edited or torn, and that two shops hold the same. Dates come from the caller.

use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use circuit::Mistake;
use sha2::{Digest as _, Sha256};

/// Hexadecimal digits of the hash: 48 bits, plenty against accidents.
const HASH_DIGITS: usize = 12;
/// Longest name of a group or circuit, in bytes.
const NAME_BYTES: usize = 60;

/// A folder of circuits.
#[derive(Clone, Debug)]
pub struct Library {
    folder: PathBuf,
}

/// One version of a circuit.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Version {
    /// Group of vehicles.
    pub group: String,
    /// The circuit.
    pub name: String,
    /// Day on which it was kept first, in whichever shop.
    pub date: String,
    /// Running number in this folder, from 1.
    pub number: u32,
    /// Start of the hash of its text.
    pub hash: String,
}

/// What a folder holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Contents {
    /// Every version, by group, name, date and number: of each circuit the newest comes last.
    pub versions: Vec<Version>,
    /// What lies there and is none of ours, with the reason.
    pub left_out: Vec<String>,
}

/// What came of taking circuits over.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Taken {
    /// Versions that are new there.
    pub new: Vec<Version>,
    /// How many were there already.
    pub had: usize,
    /// What was not taken, with the reason.
    pub left_out: Vec<String>,
}

/// Why a circuit cannot be kept or had.
#[derive(Debug, thiserror::Error)]
pub enum LibraryError {
    /// The system refused.
    #[error("{path}: {source}")]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Not a name.
    #[error(
        "`{name}` cannot name a {what}: use letters, digits, spaces, `-`, `_` and `.`, at most {NAME_BYTES} bytes, beginning with a letter or digit"
    )]
    Name {
        /// Group or circuit.
        what: &'static str,
        /// The name.
        name: String,
    },
    /// Not a day.
    #[error("`{date}` is no day: write it as 2026-11-26")]
    Date {
        /// What was given.
        date: String,
    },
    /// The circuit has mistakes.
    #[error("the circuit has mistakes:\n{}", .0.iter().map(|one| format!("  {one}")).collect::<Vec<_>>().join("\n"))]
    Circuit(Vec<Mistake>),
    /// The file is not as it was kept.
    #[error("{path} is not as it was kept: it was edited or torn. Add it as a new version, or put the old text back")]
    Changed {
        /// The file.
        path: PathBuf,
    },
    /// No such circuit.
    #[error("the library has no `{asked}`; it has {known}")]
    NotThere {
        /// What was asked for.
        asked: String,
        /// What there is.
        known: String,
    },
}

impl Version {
    /// Group and name, as circuits are asked for.
    pub fn circuit(&self) -> String {
        format!("{}/{}", self.group, self.name)
    }

    fn file(&self) -> PathBuf {
        let file = format!("{}_{}_{}.toml", self.number, self.date, self.hash);
        Path::new(&self.group).join(&self.name).join(file)
    }

    fn read(group: &str, name: &str, file: &str) -> Option<Self> {
        let mut pieces = file.strip_suffix(".toml")?.split('_');
        let (number, date, hash) = (pieces.next()?, pieces.next()?, pieces.next()?);
        let version = Self {
            group: group.to_owned(),
            name: name.to_owned(),
            date: date.to_owned(),
            number: number.parse().ok()?,
            hash: hash.to_owned(),
        };
        let is_ours = is_name(group) && is_name(name) && is_day(date) && pieces.next().is_none();
        // Only what is written exactly so is found again under the same path.
        (is_ours && version.file().ends_with(file)).then_some(version)
    }
}

impl Library {
    /// The library in a folder, which need not be there yet.
    pub fn at(folder: &Path) -> Self {
        Self {
            folder: folder.to_owned(),
        }
    }

    /// Everything in it.
    ///
    /// # Errors
    /// [`LibraryError::Io`]. A folder that is not there is an empty library.
    pub fn contents(&self) -> Result<Contents, LibraryError> {
        let mut contents = Contents::default();
        for (group, group_path) in entries(&self.folder)? {
            for (name, name_path) in entries_or(&group_path, &mut contents.left_out)? {
                for (file, path) in entries_or(&name_path, &mut contents.left_out)? {
                    match Version::read(&group, &name, &file) {
                        Some(version) => contents.versions.push(version),
                        None => contents
                            .left_out
                            .push(format!("{}: no version of a circuit", path.display())),
                    }
                }
            }
        }
        contents.versions.sort();
        Ok(contents)
    }

    /// The version that `GROUP/NAME` (the newest) or `GROUP/NAME@NUMBER` means.
    ///
    /// # Errors
    /// [`LibraryError::NotThere`] with what there is, [`LibraryError::Io`].
    pub fn find(&self, asked: &str) -> Result<Version, LibraryError> {
        let versions = self.contents()?.versions;
        let (circuit, number) = match asked.rsplit_once('@') {
            Some((circuit, number)) => (circuit, Some(number)),
            None => (asked, None),
        };
        let fits = |version: &&Version| {
            version.circuit() == circuit && number.is_none_or(|number| version.number.to_string() == number)
        };
        if let Some(version) = versions.iter().rfind(fits) {
            return Ok(version.clone());
        }
        let mut known: Vec<String> = versions.iter().map(Version::circuit).collect();
        known.dedup();
        let known = if known.is_empty() {
            "nothing yet".to_owned()
        } else {
            known.join(", ")
        };
        Err(LibraryError::NotThere {
            asked: asked.to_owned(),
            known,
        })
    }

    /// The circuit file of a version.
    ///
    /// # Errors
    /// [`LibraryError::Changed`] if it is not as it was kept, [`LibraryError::Io`].
    pub fn text(&self, version: &Version) -> Result<String, LibraryError> {
        let path = self.folder.join(version.file());
        let bytes = fs::read(&path).map_err(io_error(&path))?;
        match String::from_utf8(bytes) {
            Ok(text) if hash(&text) == version.hash => Ok(text),
            Ok(_) | Err(_) => Err(LibraryError::Changed { path }),
        }
    }

    /// Keeps a circuit, which must stand alone, as the newest version. The version, and whether it is new: the same text is kept
    /// once.
    ///
    /// # Errors
    /// [`LibraryError`]: names, day, mistakes in the circuit, the system.
    pub fn add(&self, group: &str, name: &str, date: &str, text: &str) -> Result<(Version, bool), LibraryError> {
        for (what, name) in [("group of vehicles", group), ("circuit", name)] {
            if !is_name(name) {
                let name = name.to_owned();
                return Err(LibraryError::Name { what, name });
            }
        }
        if !is_day(date) {
            return Err(LibraryError::Date { date: date.to_owned() });
        }
        circuit::parse(text).map_err(LibraryError::Circuit)?;
        let versions = self.contents()?.versions;
        let of_circuit = || versions.iter().filter(|one| one.group == group && one.name == name);
        let hash = hash(text);
        if let Some(same) = of_circuit().find(|one| one.hash == hash && self.text(one).is_ok()) {
            return Ok((same.clone(), false));
        }
        let mut version = Version {
            group: group.to_owned(),
            name: name.to_owned(),
            date: date.to_owned(),
            number: of_circuit().map(|one| one.number).max().unwrap_or(0),
            hash,
        };
        version.number = version.number.saturating_add(1);
        let path = self.folder.join(version.file());
        write_new(&path, text).map_err(io_error(&path))?;
        Ok((version, true))
    }

    /// Takes over what another library has, or of one circuit (`GROUP/NAME`) all versions, with its dates. What is there already
    /// stays.
    ///
    /// # Errors
    /// [`LibraryError::NotThere`] if that circuit is not there, [`LibraryError::Io`]. A version that is not as it was kept or
    /// has mistakes is left out and told.
    pub fn take(&self, from: &Self, only: Option<&str>) -> Result<Taken, LibraryError> {
        if let Some(only) = only {
            from.find(only)?;
        }
        let contents = from.contents()?;
        let mut taken = Taken {
            left_out: contents.left_out,
            ..Taken::default()
        };
        let wanted = |version: &&Version| only.is_none_or(|only| version.circuit() == only);
        for version in contents.versions.iter().filter(wanted) {
            let added = from
                .text(version)
                .and_then(|text| self.add(&version.group, &version.name, &version.date, &text));
            match added {
                Ok((new, true)) => taken.new.push(new),
                Ok((_, false)) => taken.had += 1,
                Err(why @ (LibraryError::Changed { .. } | LibraryError::Circuit(_))) => {
                    taken.left_out.push(format!("{}: {why}", version.file().display()));
                }
                Err(why) => return Err(why),
            }
        }
        Ok(taken)
    }
}

/// Names and paths in a folder, by name, without hidden ones; none if it is not there.
fn entries(folder: &Path) -> Result<Vec<(String, PathBuf)>, LibraryError> {
    let read = match fs::read_dir(folder) {
        Ok(read) => read,
        Err(why) if why.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(why) => return Err(io_error(folder)(why)),
    };
    let mut found = Vec::new();
    for entry in read {
        let entry = entry.map_err(io_error(folder))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if !name.starts_with('.') {
            found.push((name, entry.path()));
        }
    }
    found.sort();
    Ok(found)
}

/// As [`entries`]; a file where a folder belongs is left out.
fn entries_or(folder: &Path, left_out: &mut Vec<String>) -> Result<Vec<(String, PathBuf)>, LibraryError> {
    if folder.is_dir() {
        return entries(folder);
    }
    left_out.push(format!("{}: no folder of circuits", folder.display()));
    Ok(Vec::new())
}

/// Writes a file that is not there yet; nothing is left of one that could not be written whole.
fn write_new(path: &Path, text: &str) -> io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
    let written = file.write_all(text.as_bytes()).and_then(|()| file.sync_all());
    if written.is_err() {
        // The first failure is the one to tell.
        let _ = fs::remove_file(path);
    }
    written
}

fn hash(text: &str) -> String {
    let digest = Sha256::digest(text.as_bytes());
    let digits = digest.iter().flat_map(|byte| [byte >> 4, byte & 15]);
    let digits = digits.filter_map(|digit| char::from_digit(digit.into(), 16));
    digits.take(HASH_DIGITS).collect()
}

/// Fit for a folder's name on any system, and for `GROUP/NAME@NUMBER`.
fn is_name(name: &str) -> bool {
    let fine = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_' | '.');
    name.len() <= NAME_BYTES
        && name.starts_with(char::is_alphanumeric)
        && !name.ends_with([' ', '.'])
        && name.chars().all(fine)
}

/// A day as ISO 8601 writes it, months and days in their usual bounds.
fn is_day(date: &str) -> bool {
    let pieces: Vec<&str> = date.split('-').collect();
    let number = |piece: &str, digits: usize| {
        let is_plain = piece.len() == digits && piece.bytes().all(|byte| byte.is_ascii_digit());
        is_plain.then(|| piece.parse::<u16>().ok()).flatten()
    };
    let [year, month, day] = pieces.as_slice() else {
        return false;
    };
    number(year, 4).is_some()
        && number(month, 2).is_some_and(|month| (1..=12).contains(&month))
        && number(day, 2).is_some_and(|day| (1..=31).contains(&day))
}

/// The day (UTC) of a time in milliseconds since 1970, as ISO 8601 writes it. Days are counted in eras of 400 years that
/// begin on the first of March (H. Hinnant, chrono-compatible low-level date algorithms, `civil_from_days`).
pub fn day(ms: u64) -> String {
    let days = ms / 86_400_000 + 719_468;
    let (era, of_era) = (days / 146_097, days % 146_097);
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let from_march = (5 * of_year + 2) / 153;
    let day = of_year - (153 * from_march + 2) / 5 + 1;
    let month = if from_march < 10 {
        from_march + 3
    } else {
        from_march - 9
    };
    let year = 400 * era + year_of_era + u64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

fn io_error(path: &Path) -> impl FnOnce(io::Error) -> LibraryError {
    let path = path.to_owned();
    move |source| LibraryError::Io { path, source }
}

#[cfg(test)]
mod tests;
