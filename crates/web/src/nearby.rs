//! Phones and tablets of the shop's network.
//!
//! Whoever sits at this machine is trusted: the server listens there alone until that person lets a phone in. Then it also
//! listens at the machine's addresses in the network, where a [`gate`] asks for a pass. A phone gets one by scanning a code that
//! carries a one-time secret, in the part of the address that is not sent or logged.
//!
//! | address | who | what is there |
//! | --- | --- | --- |
//! | `/nearby` | this machine | the code, the devices, how to take a pass away |
//! | `/join` | the network | takes the secret, gives the pass |
//! | `/install` | both | how a device comes to trust the server |

mod authority;
mod gate;
mod passes;
mod serve;

use std::fs;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

use axum::extract::rejection::JsonRejection;
use axum::extract::{Extension, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse as _, Response};
use axum::routing::{get, post};
use axum::{Json, Router, middleware};
use fast_qr::convert::svg::SvgBuilder;
use fast_qr::{ECL, QRBuilder};
use serde::{Deserialize, Serialize};
use time::OffsetDateTime;

use crate::Network;
use crate::assets;
use crate::guard::{self, Guard};
use crate::problem::Problem;
use authority::{Authority, Certificate};
use passes::{Device, Passes, Refused};

/// The shop's own certificate, PEM files.
#[derive(Clone, Debug)]
pub struct OwnCertificate {
    /// The certificate and what it hangs on.
    pub chain: PathBuf,
    /// Its key.
    pub key: PathBuf,
    /// The name that it is made out to and by which phones find this machine: `bench.shop`.
    pub name: String,
}

/// What is known of the shop's network. Kept in `devices.json` and `authority.*` of a folder.
#[derive(Debug)]
pub(crate) struct Nearby {
    folder: PathBuf,
    /// Port at which the network is served, the same as on this machine.
    port: u16,
    guard: Guard,
    network: Network,
    authority: Option<Authority>,
    passes: Mutex<Passes>,
    now_ms: fn() -> u64,
    /// Where the network is served, once it is.
    open: tokio::sync::Mutex<Option<serve::Open>>,
    app: OnceLock<Router>,
}

/// What kind of connection a request came by.
#[derive(Clone, Copy, Debug)]
struct Secure(bool);

#[derive(Clone, Debug, Serialize)]
struct Link {
    address: String,
    /// The code, SVG.
    code: String,
}

#[derive(Clone, Debug, Serialize)]
struct Invited {
    links: Vec<Link>,
    /// How long it stands; the screen's clock may be another.
    for_ms: u64,
}

#[derive(Clone, Debug, Serialize)]
struct Known {
    id: String,
    name: String,
    since_ms: u64,
    seen_ms: u64,
}

#[derive(Clone, Debug, Serialize)]
struct NearbyView {
    /// Pages of the network by which this machine is found; none while it is not served.
    addresses: Vec<String>,
    devices: Vec<Known>,
}

#[derive(Clone, Debug, Deserialize)]
struct Forget {
    id: String,
}

#[derive(Clone, Debug, Deserialize)]
struct Join {
    secret: String,
    name: String,
}

/// What a phone is told of how it comes to trust this server.
#[derive(Clone, Debug, Serialize)]
struct InstallView {
    /// The page by a connection that can be trusted.
    secure: Option<String>,
    /// Whether this request came by one.
    is_secure: bool,
    /// Whether an authority made here must be installed first.
    own_authority: bool,
}

impl Nearby {
    /// `folder` keeps what must outlast a restart; without what it holds anybody known before is a stranger.
    ///
    /// # Errors
    /// Where it cannot be read.
    pub(crate) fn at(
        folder: &Path,
        bound: SocketAddr,
        guard: Guard,
        network: Network,
        now_ms: fn() -> u64,
    ) -> io::Result<Self> {
        let devices: Vec<Device> = match fs::read_to_string(folder.join("devices.json")) {
            Ok(text) => serde_json::from_str(&text).map_err(io::Error::other)?,
            Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
            Err(error) => return Err(error),
        };
        let authority = match network.certificate {
            Some(_) => None,
            None => Some(Authority::at(folder, moment(now_ms()))?),
        };
        Ok(Self {
            folder: folder.to_owned(),
            port: bound.port(),
            guard,
            network,
            authority,
            passes: Mutex::new(Passes::of(devices)),
            now_ms,
            open: tokio::sync::Mutex::default(),
            app: OnceLock::new(),
        })
    }

    /// Whether devices were let in before: they look for this machine in the network.
    pub(crate) fn has_devices(&self) -> bool {
        !self.passes().devices.is_empty()
    }

    fn passes(&self) -> MutexGuard<'_, Passes> {
        self.passes.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn knows(&self, pass: &str) -> bool {
        let mut passes = self.passes();
        let (is_known, is_later) = passes.knows(pass, (self.now_ms)());
        if is_later {
            // When somebody was last here may be forgotten; who may come in may not, and that was written before.
            let _ = self.keep(&passes);
        }
        is_known
    }

    fn keep(&self, passes: &Passes) -> io::Result<()> {
        fs::create_dir_all(&self.folder)?;
        let text = serde_json::to_string_pretty(&passes.devices).map_err(io::Error::other)?;
        authority::keep_secret(&self.folder.join("devices.json"), &text)
    }

    fn certificate(&self, addresses: &[IpAddr]) -> io::Result<Certificate> {
        match (&self.network.certificate, &self.authority) {
            (Some(own), _) => Ok(Certificate {
                chain: fs::read_to_string(&own.chain)?,
                key: fs::read_to_string(&own.key)?,
            }),
            (None, Some(authority)) => authority.certificate(addresses, moment((self.now_ms)())),
            (None, None) => Err(io::Error::other("there is no certificate")),
        }
    }

    /// Serves the network as well, if it does not yet.
    pub(crate) async fn let_in(self: &Arc<Self>) -> io::Result<()> {
        let mut open = self.open.lock().await;
        if open.is_none() {
            let app = self
                .app
                .get()
                .cloned()
                .ok_or_else(|| io::Error::other("not ready yet"))?;
            let own = self.network.certificate.as_ref().map(|own| own.name.as_str());
            let addresses = match &*self.network.addresses {
                [] => serve::addresses()?,
                given => given.to_vec(),
            };
            let certificate = self.certificate(&addresses)?;
            *open = Some(serve::Open::at(&addresses, own, self.port, certificate, &app).await?);
            if let Some(open) = &*open {
                self.guard.also(open.secure_port);
            }
        }
        Ok(())
    }

    /// Ends all connections from the network.
    pub(crate) async fn close(&self) {
        *self.open.lock().await = None;
    }

    async fn view(&self) -> NearbyView {
        let addresses = match &*self.open.lock().await {
            Some(open) => open.pages.clone(),
            None => Vec::new(),
        };
        let passes = self.passes();
        let devices = passes.devices.iter().map(|device| Known {
            id: device.id.clone(),
            name: device.name.clone(),
            since_ms: device.since_ms,
            seen_ms: device.seen_ms,
        });
        NearbyView {
            addresses,
            devices: devices.collect(),
        }
    }
}

fn moment(ms: u64) -> OffsetDateTime {
    let seconds = i64::try_from(ms / 1000).unwrap_or_default();
    OffsetDateTime::from_unix_timestamp(seconds).unwrap_or(OffsetDateTime::UNIX_EPOCH)
}

/// 128 random bits.
fn secret() -> Result<String, Problem> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).map_err(|_unsaid| Problem::defect("making a secret"))?;
    Ok(passes::hex(&bytes))
}

/// The two sides of a server: what this machine asks, and what the network does.
pub(crate) fn sides(app: Router, nearby: &Arc<Nearby>) -> (Router, Router) {
    let guarded = |routes: Router| routes.layer(middleware::from_fn_with_state(nearby.guard.clone(), guard::watch));
    let both = Router::new()
        .route(
            "/install",
            get(|headers: HeaderMap| async move { assets::page("install.html", &headers) }),
        )
        .route("/install/state", get(install))
        .route("/install/authority.crt", get(authority_certificate))
        .with_state(Arc::clone(nearby));
    let here = Router::new()
        .route(
            "/nearby",
            get(|headers: HeaderMap| async move { assets::page("nearby.html", &headers) }),
        )
        .route("/nearby/state", get(state))
        .route("/nearby/invite", post(invite))
        .route("/nearby/forget", post(forget))
        .with_state(Arc::clone(nearby));
    let network = Router::new()
        .route(
            "/join",
            get(|headers: HeaderMap| async move { assets::page("join.html", &headers) }).post(join),
        )
        .with_state(Arc::clone(nearby));
    let here = guarded(here.merge(both.clone()))
        .merge(app.clone())
        .layer(Extension(Secure(false)));
    let network = guarded(network.merge(both)).merge(app);
    let network = network.layer(middleware::from_fn_with_state(Arc::clone(nearby), gate::admit));
    nearby.app.get_or_init(|| network.clone());
    (here, network)
}

type Shared = State<Arc<Nearby>>;

async fn state(State(nearby): Shared) -> Json<NearbyView> {
    Json(nearby.view().await)
}

async fn invite(State(nearby): Shared) -> Result<Json<Invited>, Problem> {
    nearby.let_in().await.map_err(|error| {
        Problem::new(
            StatusCode::SERVICE_UNAVAILABLE,
            format!("the network cannot be served: {error}"),
            "Join this machine to the shop's network, allow this program in its firewall, and try again.",
        )
    })?;
    let secret = secret()?;
    nearby.passes().invite(&secret, (nearby.now_ms)());
    let pages = nearby.view().await.addresses;
    let links = pages.into_iter().map(|page| {
        let address = format!("{page}join#{secret}");
        code(&address).map(|code| Link { address, code })
    });
    Ok(Json(Invited {
        links: links.collect::<Result<_, _>>()?,
        for_ms: passes::INVITED_MS,
    }))
}

/// The code of an address. Dark on light whatever the page's look: cameras want it so.
fn code(address: &str) -> Result<String, Problem> {
    let code = QRBuilder::new(address).ecl(ECL::M).build();
    let code = code.map_err(|_unsaid| Problem::defect("drawing the code"))?;
    Ok(SvgBuilder::default().to_str(&code))
}

async fn forget(State(nearby): Shared, body: Result<Json<Forget>, JsonRejection>) -> Result<Json<NearbyView>, Problem> {
    let Json(Forget { id }) = body.map_err(|_unsaid| Problem::unclear("no device is named", "Reload the page."))?;
    {
        let mut passes = nearby.passes();
        if passes.forget(&id) {
            nearby.keep(&passes).map_err(|error| not_kept(&error))?;
        }
    }
    Ok(Json(nearby.view().await))
}

fn not_kept(error: &io::Error) -> Problem {
    Problem::new(
        StatusCode::INTERNAL_SERVER_ERROR,
        format!("the list of devices could not be written: {error}"),
        "Make room on the disk, or allow this program to write there, and try again.",
    )
}

async fn join(
    State(nearby): Shared,
    secure: Extension<Secure>,
    body: Result<Json<Join>, JsonRejection>,
) -> Result<Response, Problem> {
    let Json(Join { secret: shown, name }) =
        body.map_err(|_unsaid| Problem::unclear("no secret came with this", "Scan the code anew."))?;
    let (pass, id) = (secret()?, secret()?);
    {
        let mut passes = nearby.passes();
        let joined = passes.join(&shown, (&id[..8], &name, &pass), (nearby.now_ms)());
        joined.map_err(|why| {
            let message = match why {
                Refused::NoneStands => "this code was used already, or is no longer shown",
                Refused::TooLate => "this code is older than ten minutes",
                Refused::Wrong => "this is not the code that the bench shows now",
            };
            let help = "On the bench's screen choose \"phones\" and scan the code that it shows then.";
            Problem::new(StatusCode::FORBIDDEN, message, help)
        })?;
        nearby.keep(&passes).map_err(|error| not_kept(&error))?;
    }
    let secure = if secure.0.0 { "; Secure" } else { "" };
    let cookie = format!(
        "{}={pass}; Path=/; HttpOnly; SameSite=Strict; Max-Age=34560000{secure}",
        gate::COOKIE
    );
    Ok(([(header::SET_COOKIE, cookie)], Json(serde_json::json!({}))).into_response())
}

async fn install(State(nearby): Shared, secure: Extension<Secure>) -> Json<InstallView> {
    let secure_page = nearby
        .open
        .lock()
        .await
        .as_ref()
        .and_then(|open| open.secure_pages.first().cloned());
    Json(InstallView {
        secure: secure_page,
        is_secure: secure.0.0,
        own_authority: nearby.authority.is_some(),
    })
}

async fn authority_certificate(State(nearby): Shared) -> Result<Response, Problem> {
    let nothing = || {
        Problem::new(
            StatusCode::NOT_FOUND,
            "this shop has a certificate of its own",
            "Nothing needs to be installed.",
        )
    };
    let authority = nearby.authority.as_ref().ok_or_else(nothing)?;
    let headers = [
        (header::CONTENT_TYPE, "application/x-x509-ca-cert"),
        (
            header::CONTENT_DISPOSITION,
            "attachment; filename=\"bench-authority.crt\"",
        ),
    ];
    Ok((headers, authority.der.clone()).into_response())
}
