//! `bushwright serve`: the shop's server, on this machine alone or on its network.

use std::io::Write;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::ValueEnum;
use draw::drawing::{OfSeat, Paper as Across};
use job::papers::document::Document;
use job::papers::record::Record;
use job::sheet::JobSheet;
use ledger::{Ledger, Options, Place};
use server::tls::Tls;
use server::{Log, Papers, Serving, Size};

use crate::crew::Hands;
use crate::stop::Stop;
use crate::store::HERE;

/// Serve the shop: jobs, registers, calculations and documents over HTTP.
#[derive(clap::Args)]
pub struct Arguments {
    /// The ledger: a file, or postgres://USER@HOST/DATABASE.
    #[arg(long, value_name = "STORE", env = "BUSHWRIGHT_STORE", default_value = HERE, hide_env_values = true)]
    store: String,
    /// A shop in it; may be said several times.
    #[arg(long = "shop", value_name = "SHOP", default_value = ledger::ONE_SHOP)]
    shops: Vec<String>,
    /// Where to listen. Without it only programs of this machine reach the server.
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:7447")]
    listen: SocketAddr,
    /// Serve under TLS: with a certificate authority of the shop's own network.
    #[arg(long, value_name = "own", conflicts_with = "tls_cert")]
    tls: Option<OwnTls>,
    /// Where that authority is kept; its private key is in there.
    #[arg(long, value_name = "FOLDER", default_value = "bushwright.tls", requires = "tls")]
    tls_folder: PathBuf,
    /// A name that devices reach the server by, beside those of this machine; may be said several times.
    #[arg(long = "name", value_name = "NAME", requires = "tls")]
    names: Vec<String>,
    /// Serve under TLS: with this certificate (PEM, with its chain). It is taken up anew when the file changes.
    #[arg(long, value_name = "FILE", requires = "tls_key")]
    tls_cert: Option<PathBuf>,
    /// The private key of that certificate.
    #[arg(long, value_name = "FILE", requires = "tls_cert")]
    tls_key: Option<PathBuf>,
    /// A proxy in front has the certificate, and its word on where a request comes from (X-Forwarded-For) is taken.
    #[arg(long)]
    behind_proxy: bool,
    /// Print a code that makes an owner even where the shop has one: for an owner who lost the password.
    #[arg(long)]
    new_owner: bool,
    /// Write the log as JSON, one object a line.
    #[arg(long)]
    log_json: bool,
    /// Hands to use for a calculation (all cores); answers are the same with any number.
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
}

#[derive(Clone, Copy, ValueEnum)]
enum OwnTls {
    /// A certificate authority of the shop's own network.
    Own,
}

/// The typesetter, lent to the server.
struct Typeset;

impl Papers for Typeset {
    fn sheet(&self, sheet: &JobSheet, size: Size, working: bool) -> Result<Vec<u8>, String> {
        paper::job_sheet(sheet, &paper::Options { size: set_on(size), working }).map_err(|unset| unset.to_string())
    }

    fn document(&self, document: &Document, size: Size) -> Result<Vec<u8>, String> {
        paper::document(document, set_on(size)).map_err(|unset| unset.to_string())
    }

    fn drawings(&self, sheet: &JobSheet, record: &Record, drawn: Vec<OfSeat>, paper: Across) -> Result<Vec<u8>, String> {
        paper::shop_drawings(sheet, record, drawn, paper).map_err(|unset| unset.to_string())
    }
}

const fn set_on(size: Size) -> paper::Size {
    match size {
        Size::A4 => paper::Size::A4,
        Size::Letter => paper::Size::Letter,
    }
}

pub fn run(arguments: &Arguments) -> Result<(), Stop> {
    server::serve::log(if arguments.log_json { Log::Json } else { Log::Plain });
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|fault| Stop::Failed(format!("the machine gave no room to work in: {fault}")))?;
    runtime.block_on(async {
        let serving = serving(arguments).await?;
        // What a person must know goes to standard output; the log has standard error to itself.
        let say = |line: &str| {
            let mut out = std::io::stdout().lock();
            let _ = writeln!(out, "{line}").and_then(|()| out.flush());
        };
        server::serve(serving, server::serve::asked_to_stop(), &say).await.map_err(|unserved| Stop::Failed(unserved.0))
    })
}

async fn serving(arguments: &Arguments) -> Result<Serving, Stop> {
    let place = Place::of(&arguments.store);
    let mut ledgers: Vec<Ledger> = Vec::new();
    for shop in &arguments.shops {
        // One store, however many shops.
        ledgers.push(match ledgers.first() {
            Some(first) => first.of_shop(shop)?,
            None => Ledger::open(&place, Options { shop: shop.clone(), ..Options::default() }).await?,
        });
    }
    let tls = match (&arguments.tls, &arguments.tls_cert, &arguments.tls_key) {
        (Some(OwnTls::Own), ..) => Tls::Own { folder: arguments.tls_folder.clone(), names: arguments.names.clone() },
        (None, Some(certificate), Some(key)) => Tls::Files { certificate: Path::to_owned(certificate), key: Path::to_owned(key) },
        _ => Tls::None,
    };
    Ok(Serving {
        ledgers,
        papers: Arc::new(Typeset),
        crew: Arc::new(Hands::new(arguments.threads)),
        listen: arguments.listen,
        tls,
        behind_proxy: arguments.behind_proxy,
        new_owner: arguments.new_owner,
    })
}
