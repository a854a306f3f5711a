//! Listening at this machine's addresses in the network: plainly, and by a connection that a phone can trust.

use std::io;
use std::net::{IpAddr, SocketAddr};

use axum::{Extension, Router};
use axum_server::tls_rustls::RustlsConfig;
use tokio::task::JoinSet;

use super::Secure;
use super::authority::Certificate;

/// Where the network is served; ends when dropped.
#[derive(Debug)]
pub(super) struct Open {
    /// Addresses of the page.
    pub(super) pages: Vec<String>,
    /// The same by a connection that can be trusted.
    pub(super) secure_pages: Vec<String>,
    pub(super) secure_port: u16,
    _serving: JoinSet<io::Result<()>>,
}

/// This machine's addresses in private networks; wireless and wired alike.
pub(super) fn addresses() -> io::Result<Vec<IpAddr>> {
    let all = if_addrs::get_if_addrs()?.into_iter().map(|interface| interface.ip());
    let private = all.filter(|address| matches!(address, IpAddr::V4(v4) if v4.is_private() || v4.is_link_local()));
    let addresses: Vec<IpAddr> = private.collect();
    if addresses.is_empty() {
        return Err(io::Error::new(
            io::ErrorKind::NotConnected,
            "this machine is in no private network",
        ));
    }
    Ok(addresses)
}

impl Open {
    pub(super) async fn at(
        addresses: &[IpAddr],
        name: Option<&str>,
        port: u16,
        certificate: Certificate,
        app: &Router,
    ) -> io::Result<Self> {
        let tls = RustlsConfig::from_pem(certificate.chain.into_bytes(), certificate.key.into_bytes()).await?;
        let mut serving = JoinSet::new();
        let mut pages = Vec::new();
        let mut secure_pages = Vec::new();
        // Beside the plain port if it is free; then the same in every address.
        let mut secure_port = port.saturating_add(1);
        for &address in addresses {
            let plain = tokio::net::TcpListener::bind(SocketAddr::new(address, port)).await?;
            let app_of = |secure| app.clone().layer(Extension(Secure(secure)));
            serving.spawn(axum::serve(plain, app_of(false)).into_future());
            let listener = std::net::TcpListener::bind(SocketAddr::new(address, secure_port))
                .or_else(|_| std::net::TcpListener::bind(SocketAddr::new(address, 0)))?;
            listener.set_nonblocking(true)?;
            secure_port = listener.local_addr()?.port();
            let server = axum_server::from_tcp_rustls(listener, tls.clone())?;
            serving.spawn(server.serve(app_of(true).into_make_service()));
            pages.push(format!("http://{address}:{port}/"));
            secure_pages.push(format!(
                "https://{}:{secure_port}/",
                name.unwrap_or(&address.to_string())
            ));
        }
        if name.is_some() {
            // A certificate that phones know already: the code leads there at once.
            pages.clone_from(&secure_pages);
        }
        Ok(Self {
            pages,
            secure_pages,
            secure_port,
            _serving: serving,
        })
    }
}
