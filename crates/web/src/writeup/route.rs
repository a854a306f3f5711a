//! `GET write-up`: a document of the job, as pages or as a page.

use axum::http::header;
use axum::response::{IntoResponse as _, Response};
use diagnosis::Predictions;
use serde::Deserialize;

use super::{Form, Reader, Sources, document, work_out, written};
use crate::desk::Desk;
use crate::problem::Problem;
use crate::show::refused;

/// Which document.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WriteUpQuery {
    /// `customer` or `technician`.
    #[serde(rename = "for")]
    reader: String,
    /// `pdf` or `html`.
    #[serde(rename = "as")]
    form: String,
    /// How far the reader's clock is from Greenwich, minutes east.
    #[serde(default)]
    east: i32,
}

/// The document that was asked for, of the job on a desk.
pub(crate) fn sent(desk: &Desk, query: &WriteUpQuery) -> Result<Response, Problem> {
    let unclear = |what: &str, help: &str| Problem::unclear(format!("there is no write-up {what}"), help);
    let reader = match query.reader.as_str() {
        "customer" => Reader::Customer,
        "technician" => Reader::Technician,
        other => return Err(unclear(&format!("for `{other}`"), "Ask for customer or technician.")),
    };
    let (form, kind) = match query.form.as_str() {
        "pdf" => (Form::Pdf, "application/pdf"),
        "html" => (Form::Html, "text/html; charset=utf-8"),
        other => return Err(unclear(&format!("as `{other}`"), "Ask for pdf or html.")),
    };
    let events = desk.events();
    let faults = desk.faults();
    let of = Sources {
        bench: &desk.bench,
        circuit: &desk.circuit,
        faults: &faults,
        cautions: &desk.cautions,
        events: &events,
    };
    // With answers of its own: nobody who proves a repair waits for a document.
    let account = work_out(of, &mut Predictions::default()).map_err(refused)?;
    let name = file_name(account.title(), &query.reader, &query.form);
    let document = document(&account, reader, query.east);
    let bytes = written(&document, form).map_err(|_told_to_nobody| Problem::defect("writing the document"))?;
    // The page's own policy would refuse the style inside; this one allows that style and nothing else.
    let policy = format!("{}; frame-ancestors 'none'", report::policy());
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (header::CONTENT_DISPOSITION, format!("inline; filename=\"{name}\"")),
        (header::CONTENT_SECURITY_POLICY, policy),
    ];
    Ok((headers, bytes).into_response())
}

/// A name that any system takes: "van-31-customer.pdf".
fn file_name(title: &str, reader: &str, form: &str) -> String {
    let plain = |letter: char| {
        if letter.is_ascii_alphanumeric() {
            letter.to_ascii_lowercase()
        } else {
            '-'
        }
    };
    let name: String = title.chars().take(40).map(plain).collect();
    let pieces: Vec<&str> = name.split('-').filter(|piece| !piece.is_empty()).collect();
    let name = if pieces.is_empty() {
        "job".to_owned()
    } else {
        pieces.join("-")
    };
    format!("{name}-{reader}.{form}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_named_by_the_job_whatever_that_is_called() {
        assert_eq!(file_name("Van 31", "customer", "pdf"), "van-31-customer.pdf");
        assert_eq!(file_name("\"; x=\"\r\n../ü", "customer", "pdf"), "x-customer.pdf");
        assert_eq!(file_name("…", "technician", "html"), "job-technician.html");
    }
}
