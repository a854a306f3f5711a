//! What goes wrong, as the page gets it: `{"message": …, "help": …}` with a status. No path of this machine, no source text.

use axum::Json;
use axum::extract::rejection::BytesRejection;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Serialize;

/// A refused or failed request.
#[derive(Debug, Serialize)]
pub(crate) struct Problem {
    #[serde(skip)]
    pub(crate) status: StatusCode,
    /// What is wrong.
    pub(crate) message: String,
    /// What to do about it.
    pub(crate) help: String,
}

impl Problem {
    pub(crate) fn new(status: StatusCode, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self {
            status,
            message: message.into(),
            help: help.into(),
        }
    }

    /// The request says something that this circuit or job cannot follow.
    pub(crate) fn unclear(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, message, help)
    }

    /// A panic or a thread that could not be started.
    pub(crate) fn defect(what: &str) -> Self {
        Self::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            format!("{what} failed inside the program"),
            "This is a defect of the program, not of your entry. Your readings are kept; try another question or restart.",
        )
    }

    /// The answer to a question does not exist yet.
    pub(crate) fn not_ready() -> Self {
        Self::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "still working out what is possible",
            "Ask again in a second; readings can be noted meanwhile.",
        )
    }
}

impl From<BytesRejection> for Problem {
    fn from(rejection: BytesRejection) -> Self {
        let status = rejection.status();
        let help = if status == StatusCode::PAYLOAD_TOO_LARGE {
            "Send one event at a time; a note may hold 4,000 characters."
        } else {
            "Send it again."
        };
        Self::new(status, "the request could not be read to its end", help)
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        (self.status, Json(self)).into_response()
    }
}
