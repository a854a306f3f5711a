//! The page's files, inside the binary.

use axum::http::{HeaderMap, StatusCode, Uri, header};
use axum::response::{IntoResponse as _, Response};
use rust_embed::RustEmbed;

use crate::problem::Problem;

#[derive(RustEmbed)]
#[folder = "assets"]
struct Assets;

/// Sends a file of the page. Browsers keep it and ask whether it changed: the mark is the hash of its content.
pub(crate) async fn asset(uri: Uri, headers: HeaderMap) -> Response {
    let path = match uri.path().trim_start_matches('/') {
        "" => "index.html",
        path => path,
    };
    sent(path, &headers)
}

/// The page on which a circuit is chosen.
pub(crate) async fn start(headers: HeaderMap) -> Response {
    sent("start.html", &headers)
}

/// The list of jobs.
pub(crate) async fn jobs(headers: HeaderMap) -> Response {
    sent("jobs.html", &headers)
}

/// The page of a job, wherever it stands.
pub(crate) async fn job(headers: HeaderMap) -> Response {
    sent("index.html", &headers)
}

/// A page by its file.
pub(crate) fn page(file: &str, headers: &HeaderMap) -> Response {
    sent(file, headers)
}

fn sent(path: &str, headers: &HeaderMap) -> Response {
    let Some(file) = Assets::get(path) else {
        return Problem::new(
            StatusCode::NOT_FOUND,
            "there is nothing at this address",
            "Open the page's first address.",
        )
        .into_response();
    };
    let hash = file.metadata.sha256_hash();
    let mark = format!(
        "\"{:016x}\"",
        hash.iter()
            .take(8)
            .fold(0_u64, |mark, byte| (mark << 8) | u64::from(*byte))
    );
    let asked = headers.get(header::IF_NONE_MATCH).and_then(|value| value.to_str().ok());
    let common = [
        (header::ETAG, mark.clone()),
        (header::CACHE_CONTROL, "no-cache".to_owned()),
    ];
    if asked == Some(mark.as_str()) {
        return (StatusCode::NOT_MODIFIED, common).into_response();
    }
    (common, [(header::CONTENT_TYPE, content_type(path))], file.data).into_response()
}

fn content_type(path: &str) -> &'static str {
    match path.rsplit_once('.').map_or("", |(_, extension)| extension) {
        "html" => "text/html; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "svg" => "image/svg+xml",
        "woff2" => "font/woff2",
        "webmanifest" => "application/manifest+json",
        _ => "text/plain; charset=utf-8",
    }
}
