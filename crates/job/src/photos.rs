//! Photos of a job, in a folder beside its file. A photo is named by what is in it, so that one sent twice is kept once, and
//! it is written whole before anybody can name it.

use std::fmt::Write as _;
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};

/// A photo may have so many bytes: what a phone takes, with room.
pub const MOST_BYTES: usize = 12 * 1024 * 1024;
/// Photos of one job.
pub const MOST_PHOTOS: usize = 100;
/// Bytes of the hash that name a photo.
const NAME_BYTES: usize = 12;

/// Kinds of picture that every browser shows: ending, how it begins, what it is called on the way.
const KINDS: [(&str, &[u8], &str); 3] = [
    // Magic numbers: JPEG, ISO/IEC 10918-1 (SOI and the next marker); PNG, ISO/IEC 15948; RIFF, checked further below.
    ("jpg", &[0xff, 0xd8, 0xff], "image/jpeg"),
    ("png", b"\x89PNG\r\n\x1a\n", "image/png"),
    ("webp", b"RIFF", "image/webp"),
];

/// Why a photo is not kept or not there.
#[derive(Debug, thiserror::Error)]
pub enum PhotoError {
    /// Too many bytes.
    #[error("the photo has {bytes} bytes, {MOST_BYTES} at most are kept")]
    TooLarge {
        /// Its size.
        bytes: usize,
    },
    /// Not a kind that is kept.
    #[error("this is no JPEG, PNG or WebP picture")]
    Kind,
    /// There are enough.
    #[error("this job has {MOST_PHOTOS} photos, more are not kept")]
    TooMany,
    /// No photo has this name.
    #[error("this job has no photo of this name")]
    NotThere,
    /// The system refused.
    #[error("{path}: {source}")]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// The folder of a job's photos: `van.job` has `van.photos`.
pub fn folder_of(job: &Path) -> PathBuf {
    job.with_extension("photos")
}

/// Keeps a photo beside a job's file; the name that it has there. Kept already, it stays.
///
/// # Errors
/// [`PhotoError`]: nothing was kept.
pub fn keep(job: &Path, bytes: &[u8]) -> Result<String, PhotoError> {
    if bytes.len() > MOST_BYTES {
        return Err(PhotoError::TooLarge { bytes: bytes.len() });
    }
    let ending = kind_of(bytes).ok_or(PhotoError::Kind)?;
    let mut hash = String::new();
    for byte in Sha256::digest(bytes).iter().take(NAME_BYTES) {
        let _ = write!(hash, "{byte:02x}");
    }
    let name = format!("{hash}.{ending}");
    let folder = folder_of(job);
    let path = folder.join(&name);
    if path.exists() {
        return Ok(name);
    }
    let io_error = |path: &Path| {
        let path = path.to_owned();
        |source| PhotoError::Io { path, source }
    };
    fs::create_dir_all(&folder).map_err(io_error(&folder))?;
    if fs::read_dir(&folder).map_err(io_error(&folder))?.count() >= MOST_PHOTOS {
        return Err(PhotoError::TooMany);
    }
    let beside = folder.join(format!("{hash}.new"));
    let written = fs::File::create(&beside).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()
    });
    written
        .and_then(|()| fs::rename(&beside, &path))
        .map_err(io_error(&path))?;
    Ok(name)
}

/// A photo's bytes and what they are.
///
/// # Errors
/// [`PhotoError::NotThere`] for anything that is no name of a photo of this job.
pub fn read(job: &Path, name: &str) -> Result<(Vec<u8>, &'static str), PhotoError> {
    let (stem, ending) = name.split_once('.').ok_or(PhotoError::NotThere)?;
    let is_hash = stem.len() == 2 * NAME_BYTES && stem.bytes().all(|byte| byte.is_ascii_hexdigit());
    let kind = KINDS.iter().find(|(known, ..)| *known == ending);
    let (_, _, called) = kind.filter(|_| is_hash).ok_or(PhotoError::NotThere)?;
    let path = folder_of(job).join(name);
    match fs::read(&path) {
        Ok(bytes) => Ok((bytes, called)),
        Err(source) if source.kind() == io::ErrorKind::NotFound => Err(PhotoError::NotThere),
        Err(source) => Err(PhotoError::Io { path, source }),
    }
}

/// What a picture is by how it begins, whatever it is said to be.
fn kind_of(bytes: &[u8]) -> Option<&'static str> {
    let begins = |(_, magic, _): &&(&str, &[u8], &str)| bytes.starts_with(magic);
    let (ending, ..) = KINDS.iter().find(begins)?;
    // A RIFF file is many things; its form stands behind its length.
    (*ending != "webp" || bytes.get(8..12) == Some(b"WEBP")).then_some(*ending)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PNG: &[u8] = b"\x89PNG\r\n\x1a\nrest";

    #[test]
    fn a_photo_is_kept_once_under_the_name_of_what_is_in_it() {
        let place = tempfile::tempdir().unwrap();
        let job = place.path().join("van.job");
        let name = keep(&job, PNG).unwrap();
        assert_eq!(keep(&job, PNG).unwrap(), name);
        assert_eq!(name.split_once('.').map(|(_, ending)| ending), Some("png"));
        assert_eq!(fs::read_dir(place.path().join("van.photos")).unwrap().count(), 1);
        assert_eq!(read(&job, &name).unwrap(), (PNG.to_vec(), "image/png"));
        let jpeg = keep(&job, b"\xff\xd8\xff\xe0....").unwrap();
        assert_eq!(read(&job, &jpeg).unwrap().1, "image/jpeg");
        assert_eq!(
            read(&job, &keep(&job, b"RIFF....WEBPVP8 ").unwrap()).unwrap().1,
            "image/webp"
        );
        // Nothing else of this machine is read.
        fs::write(&job, "secret").unwrap();
        let stem = name.trim_end_matches(".png");
        for other in [
            "",
            "van.job",
            "../van.job",
            &format!("{stem}.job"),
            &format!("../van.photos/{name}"),
            stem,
        ] {
            assert!(matches!(read(&job, other), Err(PhotoError::NotThere)), "{other}");
        }
    }

    #[test]
    fn what_is_no_picture_or_too_much_is_refused() {
        let place = tempfile::tempdir().unwrap();
        let job = place.path().join("van.job");
        for other in [
            &b""[..],
            b"hello",
            b"<svg/>",
            b"RIFF....WAVEfmt ",
            b"GIF89a",
            b"\x89PNG",
        ] {
            assert!(matches!(keep(&job, other), Err(PhotoError::Kind)), "{other:?}");
        }
        let mut large = PNG.to_vec();
        large.resize(MOST_BYTES + 1, 0);
        assert!(matches!(keep(&job, &large), Err(PhotoError::TooLarge { .. })));
        assert!(!folder_of(&job).exists(), "nothing was kept");
        for at in 0..MOST_PHOTOS {
            keep(&job, &[PNG, &at.to_be_bytes()].concat()).unwrap();
        }
        assert!(matches!(
            keep(&job, b"\x89PNG\r\n\x1a\none more"),
            Err(PhotoError::TooMany)
        ));
    }
}
