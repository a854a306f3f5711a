//! Who may talk to the page, and what the page may load.
//!
//! The server has no sign-in: it trusts whoever reaches its address, which is this machine unless the person chose
//! otherwise. A web site open in the same browser reaches it too, so every request must name this server as its host (a
//! site that points its own name here does not) and, if a page sent it, come from this server's own page.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::sync::atomic::{AtomicU16, Ordering};

use axum::extract::{Request, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};

use crate::problem::Problem;

/// Nothing but this server's own files; no inline script or style, no frame around the page.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data:; \
                      connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; \
                      frame-ancestors 'none'";

const HEADERS: [(&str, &str); 7] = [
    ("content-security-policy", POLICY),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("x-frame-options", "DENY"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    (
        "permissions-policy",
        "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
    ),
];

/// The names under which this server is asked.
#[derive(Clone, Debug)]
pub(crate) struct Guard {
    port: u16,
    /// A second port at which this server listens; 0 where it does not.
    also: Arc<AtomicU16>,
    names: Arc<[String]>,
}

impl Guard {
    /// For a server that listens at `address`; `names` are further host names it is known by.
    pub(crate) fn new(address: SocketAddr, names: &[String]) -> Self {
        let names = names
            .iter()
            .map(|name| name.to_ascii_lowercase())
            .chain(["localhost".to_owned()])
            .collect();
        Self {
            port: address.port(),
            also: Arc::default(),
            names,
        }
    }

    /// The server listens at another port too.
    pub(crate) fn also(&self, port: u16) {
        self.also.store(port, Ordering::Relaxed);
    }

    /// An address cannot be pointed elsewhere by a name server, so any with our port will do; a name must be known.
    fn knows(&self, host: &str) -> bool {
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.ends_with(']') => (name, port.parse().ok()),
            _ => (host, Some(80)),
        };
        let bare = name
            .strip_prefix('[')
            .and_then(|rest| rest.strip_suffix(']'))
            .unwrap_or(name);
        let also = self.also.load(Ordering::Relaxed);
        let is_ours = |port: u16| port == self.port || (also != 0 && port == also);
        port.is_some_and(is_ours)
            && (bare.parse::<IpAddr>().is_ok() || self.names.iter().any(|known| known.eq_ignore_ascii_case(name)))
    }

    fn refuses(&self, request: &Request) -> Option<Problem> {
        let text = |name: HeaderName| request.headers().get(name).map(|value| value.to_str().unwrap_or("?"));
        let host = text(header::HOST).unwrap_or_default();
        if !self.knows(host) {
            return Some(Problem::new(
                StatusCode::MISDIRECTED_REQUEST,
                "this address is not one of this server's",
                "Open the address that the program printed when it started.",
            ));
        }
        match text(header::ORIGIN) {
            Some(origin)
                if !["http://", "https://"]
                    .iter()
                    .any(|scheme| origin.strip_prefix(scheme) == Some(host)) =>
            {
                Some(Problem::new(
                    StatusCode::FORBIDDEN,
                    "the request came from another site",
                    "Use the page that this server gives out.",
                ))
            }
            _ => None,
        }
    }
}

/// Refuses strangers and adds the headers.
pub(crate) async fn watch(State(guard): State<Guard>, request: Request, next: Next) -> Response {
    let mut response = match guard.refuses(&request) {
        Some(problem) => problem.into_response(),
        None => next.run(request).await,
    };
    for (name, value) in HEADERS {
        // A document brings a policy of its own, stricter but for the style inside it.
        let unless_told = response.headers_mut().entry(HeaderName::from_static(name));
        unless_told.or_insert(HeaderValue::from_static(value));
    }
    response
        .headers_mut()
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_with_our_port_and_known_names_only() {
        let guard = Guard::new("127.0.0.1:8080".parse().unwrap(), &["bench.shop".into()]);
        for host in [
            "127.0.0.1:8080",
            "localhost:8080",
            "LOCALHOST:8080",
            "[::1]:8080",
            "bench.shop:8080",
        ] {
            assert!(guard.knows(host), "{host}");
        }
        for host in [
            "",
            "127.0.0.1",
            "127.0.0.1:81",
            "evil.example:8080",
            "localhost.evil.example:8080",
            "[::1]",
            ":8080",
        ] {
            assert!(!guard.knows(host), "{host}");
        }
        assert!(Guard::new("127.0.0.1:80".parse().unwrap(), &[]).knows("localhost"));
    }
}
