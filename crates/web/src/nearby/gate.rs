//! What lies before every request from the shop's network: a pass, or the way to one.

use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};

use super::Nearby;
use crate::assets;
use crate::problem::Problem;

/// The cookie that carries a pass.
pub(super) const COOKIE: &str = "probewise_pass";

/// What a device without a pass may see: how to get one, and how to trust this server.
const OPEN: [&str; 8] = [
    "/join",
    "/install",
    "/install/state",
    "/install/authority.crt",
    "/page/join.js",
    "/page/install.js",
    "/page/look.js",
    "/page/nearby.css",
];
const LOOK: [&str; 2] = ["/page/look.css", "/page/mark.svg"];

/// The pass that a request carries.
fn pass(headers: &HeaderMap) -> Option<&str> {
    let cookies = headers.get_all(header::COOKIE).iter();
    let pairs = cookies
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(';'));
    pairs
        .filter_map(|pair| pair.trim().split_once('='))
        .find_map(|(name, value)| (name == COOKIE).then_some(value))
}

/// Lets through who has a pass; tells others how to get one.
pub(super) async fn admit(State(nearby): State<Arc<Nearby>>, request: Request, next: Next) -> Response {
    let path = request.uri().path();
    let is_open = OPEN.contains(&path) || LOOK.contains(&path) || path.starts_with("/fonts/");
    if is_open || pass(request.headers()).is_some_and(|pass| nearby.knows(pass)) {
        return next.run(request).await;
    }
    let wants_page = request.method() == Method::GET
        && request
            .headers()
            .get(header::ACCEPT)
            .and_then(|accept| accept.to_str().ok())
            .is_some_and(|accept| accept.contains("text/html"));
    if wants_page {
        let mut page = assets::page("join.html", request.headers());
        *page.status_mut() = StatusCode::UNAUTHORIZED;
        return page;
    }
    Problem::new(
        StatusCode::UNAUTHORIZED,
        "this device is not let in",
        "On the bench's screen choose \"phones\" and scan the code shown there.",
    )
    .into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pass_is_found_among_other_cookies() {
        let mut headers = HeaderMap::new();
        assert_eq!(pass(&headers), None);
        headers.insert(header::COOKIE, "a=b; probewise_pass=12ab; c=d".parse().unwrap());
        assert_eq!(pass(&headers), Some("12ab"));
        headers.insert(header::COOKIE, "xprobewise_pass=12ab".parse().unwrap());
        assert_eq!(pass(&headers), None);
    }
}
