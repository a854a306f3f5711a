//! Two documents from one job: for the customer in plain words, and for whoever sees the vehicle next, with every reading.
//!
//! [`work_out`] goes through the job's events once and asks the bench what follows ([`Account`]); [`document`] only puts that
//! into blocks, so equal accounts give equal documents. What is told follows from the job: where nothing was repaired or
//! proved, it says so. Limits: what it cost is reckoned from the circuit file's minutes and prices, it is no invoice.

mod account;
mod blocks;
mod cause;
mod codes;
mod customer;
mod log;
mod opened;
mod pictures;
mod proof;
pub(crate) mod route;
mod tally;
mod technician;
mod trail;
mod when;

use report::Document;
pub use report::PdfError;

pub use self::account::{Account, Sources, work_out};
pub use self::opened::Opened;

/// For whom a document is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reader {
    /// Who pays: plain words.
    Customer,
    /// Who sees the vehicle next: everything.
    Technician,
}

/// What a document becomes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Pages of A4.
    Pdf,
    /// A page that stands alone.
    Html,
}

/// The document of a job. Times are told so many minutes east of Greenwich.
pub fn document(account: &Account<'_>, reader: Reader, minutes_east: i32) -> Document {
    let clock = when::Clock::new(minutes_east);
    match reader {
        Reader::Customer => customer::document(account, clock),
        Reader::Technician => technician::document(account, clock),
    }
}

/// A document as a file.
///
/// # Errors
/// [`PdfError`]: a defect, since the pictures are our own.
pub fn written(document: &Document, form: Form) -> Result<Vec<u8>, PdfError> {
    match form {
        Form::Pdf => report::pdf(document),
        Form::Html => Ok(report::html(document).into_bytes()),
    }
}
