//! How much memory a thousand tablets cost a server that they are signed in at and have synced with, and then leave idle.
//!
//! `cargo run --release -p server --example tablets [COUNT]` starts a server of its own under TLS in a process of its own, signs COUNT
//! devices in (one session and one connection each), lets each sync a job, and prints the server's resident memory from /proc.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::sync::Arc;

use calc::crew::Alone;
use draw::drawing::{OfSeat, Paper};
use job::papers::document::Document;
use job::papers::record::Record;
use job::sheet::JobSheet;
use ledger::{Ledger, Options, Place};
use rustls::pki_types::{CertificateDer, ServerName};
use server::tls::Tls;
use server::{Papers, Serving, Size, serve};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;

/// As the program itself: it gives the memory of password hashes back.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

type Failed = Box<dyn std::error::Error + Send + Sync>;

/// No document is asked for here.
struct NoPaper;

impl Papers for NoPaper {
    fn sheet(&self, _: &JobSheet, _: Size, _: bool) -> Result<Vec<u8>, String> {
        Err("this server has no paper".into())
    }

    fn document(&self, _: &Document, _: Size) -> Result<Vec<u8>, String> {
        Err("this server has no paper".into())
    }

    fn drawings(&self, _: &JobSheet, _: &Record, _: Vec<OfSeat>, _: Paper) -> Result<Vec<u8>, String> {
        Err("this server has no paper".into())
    }
}

fn main() -> Result<(), Failed> {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    let mut arguments = std::env::args().skip(1);
    match arguments.next() {
        Some(word) if word == "server" => runtime.block_on(server(&arguments.next().unwrap_or_default())),
        count => runtime.block_on(tablets(count.and_then(|count| count.parse().ok()).unwrap_or(1000))),
    }
}

async fn server(folder: &str) -> Result<(), Failed> {
    let ledger = Ledger::open(&Place::File(format!("{folder}/shop.db").into()), Options::default()).await?;
    let serving = Serving {
        ledgers: vec![ledger],
        papers: Arc::new(NoPaper),
        crew: Arc::new(Alone),
        listen: ([127, 0, 0, 1], 0).into(),
        tls: Tls::Own { folder: format!("{folder}/tls").into(), names: Vec::new() },
        behind_proxy: false,
        new_owner: false,
    };
    Ok(serve(serving, server::serve::asked_to_stop(), &|line| println!("{line}")).await?)
}

async fn tablets(count: usize) -> Result<(), Failed> {
    let folder = std::env::temp_dir().join(format!("bushwright-tablets-{}", std::process::id()));
    std::fs::create_dir_all(&folder)?;
    let mut child =
        Command::new(std::env::current_exe()?).arg("server").arg(&folder).stdout(Stdio::piped()).stderr(Stdio::null()).spawn()?;
    let measured = measured(&mut child, &folder, count).await;
    child.kill()?;
    child.wait()?;
    std::fs::remove_dir_all(&folder)?;
    measured
}

async fn measured(child: &mut std::process::Child, folder: &std::path::Path, count: usize) -> Result<(), Failed> {
    let mut lines = BufReader::new(child.stdout.take().ok_or("no output")?).lines();
    let (mut code, mut address) = (String::new(), String::new());
    while address.is_empty() {
        let line = lines.next().ok_or("the server ended")??;
        match line.strip_prefix("Serving on https://") {
            Some(there) => address = there.to_owned(),
            None => code = line.trim().to_owned(),
        }
    }
    let trust = trusting(&std::fs::read(folder.join("tls/authority.crt"))?)?;
    println!("a server that has just started: {} MB", resident_mb(child.id())?);
    let mut first = connected(&trust, &address).await?;
    let owner = format!(r#"{{"code":"{code}","name":"C. Owner","password":"brass and tallow"}}"#);
    let cookie = cookie_of(&asked(&mut first, "/api/owner", "", "application/json", &owner).await?)?;
    asked(&mut first, "/api/jobs", &cookie, "application/toml", include_str!("../../../demo/ferry_ramp_winch.toml")).await?;
    let mut held = Vec::with_capacity(count);
    for number in 0..count {
        let mut tablet = connected(&trust, &address).await?;
        let sign_in = r#"{"name":"C. Owner","password":"brass and tallow"}"#;
        let cookie = cookie_of(&asked(&mut tablet, "/api/session", "", "application/json", sign_in).await?)?;
        let answer = asked(&mut tablet, "/api/sync", &cookie, "application/json", r#"{"protocol":1,"most":1000}"#).await?;
        if !answer.starts_with("HTTP/1.1 200") {
            return Err(format!("tablet {number}: {}", answer.lines().next().unwrap_or_default()).into());
        }
        held.push(tablet);
        if (number + 1).is_multiple_of(250) || number + 1 == count {
            println!("{} tablets signed in, synced and idle: {} MB", number + 1, resident_mb(child.id())?);
        }
    }
    Ok(())
}

fn trusting(authority: &[u8]) -> Result<TlsConnector, Failed> {
    let mut roots = rustls::RootCertStore::empty();
    roots.add(CertificateDer::from(authority.to_vec()))?;
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = rustls::ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions()?;
    Ok(TlsConnector::from(Arc::new(config.with_root_certificates(roots).with_no_client_auth())))
}

async fn connected(trust: &TlsConnector, address: &str) -> Result<TlsStream<TcpStream>, Failed> {
    Ok(trust.connect(ServerName::try_from("localhost")?, TcpStream::connect(address).await?).await?)
}

/// Posts over a connection that stays open; gives head and body.
async fn asked(tablet: &mut TlsStream<TcpStream>, path: &str, cookie: &str, kind: &str, body: &str) -> Result<String, Failed> {
    let length = body.len();
    let head =
        format!("POST {path} HTTP/1.1\r\nHost: localhost\r\nCookie: {cookie}\r\nContent-Type: {kind}\r\nContent-Length: {length}\r\n\r\n");
    tablet.write_all(format!("{head}{body}").as_bytes()).await?;
    let mut bytes = Vec::new();
    loop {
        let text = String::from_utf8_lossy(&bytes);
        if let Some((head, body)) = text.split_once("\r\n\r\n") {
            let length = head.lines().find_map(|line| line.to_lowercase().strip_prefix("content-length:")?.trim().parse::<usize>().ok());
            if length.is_none_or(|length| body.len() >= length) {
                return Ok(text.into_owned());
            }
        }
        let mut part = [0; 16 * 1024];
        let got = tablet.read(&mut part).await?;
        if got == 0 {
            return Err("the server closed the connection".into());
        }
        bytes.extend_from_slice(part.get(..got).unwrap_or_default());
    }
}

fn cookie_of(answer: &str) -> Result<String, Failed> {
    let line = answer.lines().find(|line| line.to_lowercase().starts_with("set-cookie:")).ok_or_else(|| answer.to_owned())?;
    let value = line.split_once(':').map(|(_, value)| value.trim()).and_then(|value| value.split(';').next());
    Ok(value.unwrap_or_default().to_owned())
}

/// Resident memory of a process, MB.
fn resident_mb(process: u32) -> Result<u64, Failed> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status"))?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:")).ok_or("no VmRSS")?;
    Ok(line.split_whitespace().nth(1).ok_or("no figure")?.parse::<u64>()? / 1024)
}
