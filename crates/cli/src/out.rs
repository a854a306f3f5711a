//! Printing to standard output. A reader who has seen enough, as `head` has, ends the program quietly.

use std::fmt::Display;
use std::io::Write as _;

use crate::source::Failure;

/// Prints as it stands.
///
/// # Errors
/// [`Failure::Closed`] if nobody reads any more, [`Failure::Io`] if it cannot be written.
pub(crate) fn print(text: impl Display) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    write!(out, "{text}").and_then(|()| out.flush()).map_err(unwritten)
}

/// Prints a line.
///
/// # Errors
/// As [`print`].
pub(crate) fn line(text: impl Display) -> Result<(), Failure> {
    print(format_args!("{text}\n"))
}

/// Tells what to mind beside an answer, which may be JSON. Where nobody reads it, the answer stands.
pub(crate) fn beside(line: impl Display) {
    let _ = writeln!(std::io::stderr(), "mind: {line}.");
}

/// Why standard output did not take what was printed.
pub(crate) fn unwritten(source: std::io::Error) -> Failure {
    match source.kind() {
        std::io::ErrorKind::BrokenPipe => Failure::Closed,
        _ => Failure::Io {
            path: "standard output".into(),
            source,
        },
    }
}
