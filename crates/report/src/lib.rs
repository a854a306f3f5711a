//! Documents to hand out: plain blocks in, a PDF or one self-contained page out.
//!
//! - [`Document`] is what is said, as data;
//! - [`pdf`] sets it on A4 pages, tagged for readers aloud, with pictures as vectors;
//! - [`html`] writes one page that needs no other file and runs nothing.
//!
//! Knows no vehicles and reads no clock: equal documents give equal bytes.

mod document;
mod html;
mod pdf;

pub use document::{Block, Document, Figure, Table};
pub use html::{html, policy};
pub use pdf::{PdfError, pdf};
