//! A document as PDF: A4, tagged (PDF/UA-1), text as text, pictures as vectors, a number on every page.
//!
//! [`flow`] breaks blocks into lines and puts them on pages, [`table`] does so for rows, [`draw`] writes the pages. Lines are
//! broken at blanks and after hyphens and slashes, which is enough for languages that the typeface has letters for.

mod draw;
mod flow;
mod letters;
mod table;

use crate::document::Document;
use letters::Typeface;

/// Why a document does not become a PDF.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// A picture is no SVG.
    #[error("the picture `{caption}` cannot be read: {source}")]
    Picture {
        /// Its caption.
        caption: String,
        /// What is wrong with it.
        source: usvg::Error,
    },
    /// The file cannot be written so that it keeps what it promises.
    #[error("the PDF cannot be written: {0}")]
    Written(String),
}

/// Sets a document on A4 pages.
///
/// A letter that the typeface lacks is shown as `?`, and a line at the end says so.
///
/// # Errors
/// [`PdfError`]: a picture that is no SVG.
pub fn pdf(document: &Document) -> Result<Vec<u8>, PdfError> {
    let typeface = Typeface::new();
    let flow = flow::set(document, &typeface)?;
    draw::write(document, flow, &typeface)
}
