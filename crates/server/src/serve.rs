//! The app on the network: listening, TLS, the log, the first owner's code, and an end in good order.

use std::future::Future;
use std::net::{IpAddr, SocketAddr, TcpListener};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use axum_server::Handle;
use axum_server::tls_rustls::RustlsConfig;
use calc::crew::Crew;
use hyper_util::rt::{TokioExecutor, TokioTimer};
use ledger::Ledger;

use crate::papers::Papers;
use crate::shop::{Parts, Standing};
use crate::tls::{self, Pair, Tls};

/// How long requests that are under way get when the server is asked to stop.
const GRACE: Duration = Duration::from_secs(20);
/// How long a connection may take over the head of a request, or be silent between two.
const SILENT: Duration = Duration::from_secs(120);
/// How long a TLS handshake may take.
const HANDSHAKE: Duration = Duration::from_secs(10);
/// How often what is past its time is dropped, and certificate files are looked at.
const HOUR: Duration = Duration::from_secs(3600);
/// Hours after which the own certificate is made anew.
const ANEW_H: u64 = 24 * 30;

/// What is served, and how.
pub struct Serving {
    /// The ledger of each shop.
    pub ledgers: Vec<Ledger>,
    /// Sets documents.
    pub papers: Arc<dyn Papers>,
    /// The hands that calculations are lent.
    pub crew: Arc<dyn Crew + Send + Sync>,
    /// Where to listen.
    pub listen: SocketAddr,
    /// The certificate.
    pub tls: Tls,
    /// Behind a proxy that has the certificate, and whose word about addresses is taken.
    pub behind_proxy: bool,
    /// Make a code for a new owner even where there is one.
    pub new_owner: bool,
}

/// How the log is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Log {
    /// For a person.
    Plain,
    /// One JSON object a line.
    Json,
}

/// Why the server does not serve, in a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unserved(pub String);

impl std::fmt::Display for Unserved {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Unserved {}

impl From<tls::NoCertificate> for Unserved {
    fn from(no: tls::NoCertificate) -> Self {
        Self(no.0)
    }
}

impl From<ledger::Fault> for Unserved {
    fn from(fault: ledger::Fault) -> Self {
        Self(fault.to_string())
    }
}

impl From<crate::Refusal> for Unserved {
    fn from(refusal: crate::Refusal) -> Self {
        Self(refusal.sentence())
    }
}

/// Begins the log, on standard error. A second time it stays as it was.
pub fn log(how: Log) {
    let lines = tracing_subscriber::fmt().with_writer(std::io::stderr).with_max_level(tracing::Level::INFO).with_ansi(false);
    let _ = match how {
        Log::Plain => tracing::subscriber::set_global_default(lines.with_target(false).compact().finish()),
        Log::Json => tracing::subscriber::set_global_default(lines.json().flatten_event(true).finish()),
    };
}

/// Until the machine asks the program to end: Ctrl-C, or SIGTERM of whoever looks after services.
pub async fn asked_to_stop() {
    #[cfg(unix)]
    {
        let mut term = match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(term) => term,
            Err(_) => return std::future::pending().await,
        };
        tokio::select! {
            _ = tokio::signal::ctrl_c() => {}
            _ = term.recv() => {}
        }
    }
    #[cfg(not(unix))]
    {
        let _ = tokio::signal::ctrl_c().await;
    }
}

/// Serves until `stop`, then lets requests under way finish and closes the ledgers. `say` is told what a person must know: the address,
/// the fingerprint of an own authority, the code of the first owner. Refused before anything is opened: a plain network address.
pub async fn serve(serving: Serving, stop: impl Future<Output = ()> + Send, say: &(dyn Fn(&str) + Sync)) -> Result<(), Unserved> {
    let Serving { ledgers, papers, crew, listen, tls, behind_proxy, new_owner } = serving;
    if tls == Tls::None && !behind_proxy && !listen.ip().is_loopback() {
        return Err(Unserved(format!(
            "listening on {listen} without TLS would send passwords over the network as they are; allowed: --tls own, certificate files, \
             --behind-proxy, or an address of this machine alone; choose one (docs/serving.md)"
        )));
    }
    let now_s = ledgers.first().map(Ledger::now).ok_or_else(|| Unserved("there is no shop to serve; name one".into()))?;
    let (certificate, authority) = certificate(&tls, listen.ip(), now_s)?;
    let (listener, address) = bound(listen)?;
    let standing = Standing { secure: certificate.is_some() || behind_proxy, behind_proxy, authority };
    if let Some(authority) = &standing.authority {
        say(&format!("The authority of this shop's network has the fingerprint (SHA-256)\n  {}", authority.fingerprint));
    }
    for ledger in &ledgers {
        if new_owner || !crate::has_owner(ledger).await? {
            let code = crate::owner_code(ledger).await?;
            say(&format!("Shop {:?}: whoever gives this code within a day is its owner (POST /api/owner):\n  {code}", ledger.shop()));
        }
    }
    let scheme = if certificate.is_some() { "https" } else { "http" };
    say(&format!("Serving on {scheme}://{address}"));
    let app = crate::app(Parts { ledgers: ledgers.clone(), papers, crew, standing });
    let handle = Handle::<SocketAddr>::new();
    let chores = tokio::spawn(chores(ledgers.clone(), tls, listen.ip(), certificate.clone()));
    let service = app.into_make_service_with_connect_info::<SocketAddr>();
    let failed = |fault: std::io::Error| Unserved(format!("could not serve on {address}: {fault}"));
    let ended = async {
        match certificate {
            Some(config) => {
                let mut server = axum_server::from_tcp_rustls(listener, config)?
                    .map(|acceptor| acceptor.handshake_timeout(HANDSHAKE))
                    .handle(handle.clone());
                patient(server.http_builder());
                server.serve(service).await
            }
            None => {
                let mut server = axum_server::from_tcp(listener)?.handle(handle.clone());
                patient(server.http_builder());
                server.serve(service).await
            }
        }
    };
    let stopping = async {
        stop.await;
        tracing::info!("asked to stop: requests under way get {} s", GRACE.as_secs());
        handle.graceful_shutdown(Some(GRACE));
        std::future::pending::<()>().await;
    };
    let ended = tokio::select! {
        ended = ended => ended.map_err(failed),
        () = stopping => Ok(()),
    };
    chores.abort();
    for ledger in &ledgers {
        ledger.close().await?;
    }
    tracing::info!("stopped");
    ended
}

/// Times after which a connection that says nothing is closed.
fn patient(builder: &mut hyper_util::server::conn::auto::Builder<TokioExecutor>) {
    builder.http1().timer(TokioTimer::new()).header_read_timeout(SILENT);
    builder.http2().timer(TokioTimer::new()).keep_alive_interval(SILENT).keep_alive_timeout(HANDSHAKE).max_concurrent_streams(64);
}

fn bound(listen: SocketAddr) -> Result<(TcpListener, SocketAddr), Unserved> {
    let failed = |fault: std::io::Error| {
        Unserved(format!(
            "could not listen on {listen}: {fault}; see that no other program has it and that this machine has that address, or give another with --listen"
        ))
    };
    let listener = TcpListener::bind(listen).map_err(failed)?;
    listener.set_nonblocking(true).map_err(failed)?;
    let address = listener.local_addr().map_err(failed)?;
    Ok((listener, address))
}

type Certified = (Option<RustlsConfig>, Option<crate::Authority>);

fn certificate(tls: &Tls, listen: IpAddr, now_s: i64) -> Result<Certified, Unserved> {
    let (pair, authority) = match tls {
        Tls::None => return Ok((None, None)),
        Tls::Files { certificate, key } => (tls::from_files(certificate, key)?, None),
        Tls::Own { folder, names } => {
            let (authority, pair) = tls::own(folder, names, listen, now_s)?;
            (pair, Some(authority))
        }
    };
    Ok((Some(RustlsConfig::from_config(Arc::new(config(&pair)?))), authority))
}

/// The TLS settings of a certificate: HTTP/2 where the client has it.
fn config(pair: &Pair) -> Result<rustls::ServerConfig, Unserved> {
    use rustls::pki_types::pem::PemObject;
    use rustls::pki_types::{CertificateDer, PrivateKeyDer};
    let unread = |what: &str| {
        Unserved(format!(
            "the {what} could not be read; allowed: PEM, as --tls-cert and --tls-key take it; see that the two files are not swapped"
        ))
    };
    let chain: Vec<CertificateDer<'static>> =
        CertificateDer::pem_slice_iter(&pair.certificate).collect::<Result<_, _>>().map_err(|_| unread("certificate"))?;
    if chain.is_empty() {
        return Err(unread("certificate"));
    }
    let key = PrivateKeyDer::from_pem_slice(&pair.key).map_err(|_| unread("private key"))?;
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let mut config = rustls::ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map(|builder| builder.with_no_client_auth())
        .and_then(|builder| builder.with_single_cert(chain, key))
        .map_err(|fault| Unserved(format!("the certificate can't be used: {fault}; see that the key belongs to the certificate")))?;
    config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
    Ok(config)
}

/// Once an hour: drops what is past its time, puts the figures in order, takes up a certificate that was renewed.
async fn chores(ledgers: Vec<Ledger>, tls: Tls, listen: IpAddr, config: Option<RustlsConfig>) {
    let mut seen = changed(&tls);
    for hour in 1_u64.. {
        tokio::time::sleep(HOUR).await;
        crate::health::count();
        for ledger in &ledgers {
            if let Err(fault) = crate::sweep(ledger).await {
                tracing::warn!(shop = ledger.shop(), "what is past its time was not dropped: {fault}");
            }
        }
        let now = changed(&tls);
        let due = match tls {
            Tls::None => false,
            Tls::Files { .. } => now != seen,
            Tls::Own { .. } => hour.is_multiple_of(ANEW_H),
        };
        seen = now;
        if let (true, Some(config), Some(ledger)) = (due, &config, ledgers.first()) {
            match certificate(&tls, listen, ledger.now()) {
                Ok((Some(anew), _)) => config.reload_from_config(anew.get_inner()),
                Ok((None, _)) => {}
                Err(fault) => tracing::error!("the certificate stays as it was: {fault}"),
            }
        }
    }
}

/// When certificate files were written last.
fn changed(tls: &Tls) -> Vec<Option<std::time::SystemTime>> {
    let when = |place: &Path| std::fs::metadata(place).and_then(|about| about.modified()).ok();
    match tls {
        Tls::Files { certificate, key } => vec![when(certificate), when(key)],
        _ => Vec::new(),
    }
}
