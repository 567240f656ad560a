//! The server on a socket, under a certificate of its own authority: what a tablet that trusts it sees, and what one that does not.

use std::net::SocketAddr;
use std::path::Path;
use std::sync::{Arc, Mutex};

use calc::crew::Alone;
use ledger::{Ledger, Options, Place};
use rustls::pki_types::{CertificateDer, ServerName};
use server::tls::Tls;
use server::{Serving, serve};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::{mpsc, oneshot};
use tokio_rustls::TlsConnector;

use crate::shop::{Folder, PASSWORD, Plain};

struct Running {
    address: SocketAddr,
    code: Option<String>,
    stop: oneshot::Sender<()>,
    ended: tokio::task::JoinHandle<Result<(), server::serve::Unserved>>,
}

/// Starts a server and waits for what it says.
async fn started(folder: &Path, tls: Tls) -> Running {
    let ledger = Ledger::open(&Place::File(folder.join("shop.db")), Options::default()).await.unwrap();
    let (stop, stopped) = oneshot::channel();
    let (tell, mut told) = mpsc::unbounded_channel::<String>();
    let serving = Serving {
        ledgers: vec![ledger],
        papers: Arc::new(Plain),
        crew: Arc::new(Alone),
        listen: "127.0.0.1:0".parse().unwrap(),
        tls,
        behind_proxy: false,
        new_owner: false,
    };
    let ended = tokio::spawn(async move {
        let tell = Mutex::new(tell);
        let say = move |line: &str| drop(tell.lock().unwrap().send(line.to_owned()));
        serve(serving, async { drop(stopped.await) }, &say).await
    });
    let mut code = None;
    loop {
        let line = told.recv().await.expect("it ended before it served");
        if line.contains("POST /api/owner") {
            code = line.lines().last().map(|code| code.trim().to_owned());
        }
        if let Some(address) = line.strip_prefix("Serving on ") {
            let address = address.split_once("://").unwrap().1.parse().unwrap();
            return Running { address, code, stop, ended };
        }
    }
}

/// One request over TLS from a client that trusts `authority` alone.
async fn asked(address: SocketAddr, authority: &[u8], text: &str) -> std::io::Result<String> {
    let mut roots = rustls::RootCertStore::empty();
    roots.add(CertificateDer::from(authority.to_vec())).unwrap();
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = rustls::ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions().unwrap();
    let config = config.with_root_certificates(roots).with_no_client_auth();
    let stream = TcpStream::connect(address).await?;
    let mut stream = TlsConnector::from(Arc::new(config)).connect(ServerName::try_from("localhost").unwrap(), stream).await?;
    stream.write_all(text.as_bytes()).await?;
    let mut back = Vec::new();
    // A server that closes without a closing word of TLS is no fault of the answer.
    let _ = stream.read_to_end(&mut back).await;
    Ok(String::from_utf8_lossy(&back).into_owned())
}

fn post(path: &str, body: &str) -> String {
    format!(
        "POST {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
}

#[tokio::test]
async fn a_device_that_trusts_the_shops_authority_signs_in_over_tls_and_keeps_trusting_it() {
    let folder = Folder::new();
    let own = Tls::Own { folder: folder.0.join("tls"), names: vec!["bench.shop.example".into()] };
    let running = started(&folder.0, own.clone()).await;
    let authority = std::fs::read(folder.0.join("tls/authority.crt")).unwrap();
    let body = format!(r#"{{"code":"{}","name":"C. Owner","password":"{PASSWORD}"}}"#, running.code.unwrap());
    let back = asked(running.address, &authority, &post("/api/owner", &body)).await.unwrap();
    assert!(back.starts_with("HTTP/1.1 200"), "{back}");
    let cookie = back.lines().find(|line| line.to_lowercase().starts_with("set-cookie:")).unwrap().to_owned();
    assert!(cookie.contains("__Host-bushwright=") && cookie.contains("Secure") && cookie.contains("HttpOnly"), "{cookie}");
    let page = asked(running.address, &authority, "GET /trust HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n").await.unwrap();
    assert!(page.contains("fingerprint") && page.contains("bench.shop.example"), "{page}");
    // Who speaks plain HTTP there learns nothing.
    let mut plain = TcpStream::connect(running.address).await.unwrap();
    plain.write_all(b"GET /health HTTP/1.1\r\nHost: localhost\r\n\r\n").await.unwrap();
    let mut bytes = Vec::new();
    let _ = plain.read_to_end(&mut bytes).await;
    assert!(!String::from_utf8_lossy(&bytes).contains("well"));
    drop(plain);
    running.stop.send(()).unwrap();
    running.ended.await.unwrap().unwrap();
    // Started again it has another certificate of the same authority, and no code: there is an owner.
    let again = started(&folder.0, own).await;
    assert_eq!(again.code, None);
    let back = asked(again.address, &authority, "GET /health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n").await.unwrap();
    assert!(back.starts_with("HTTP/1.1 200"), "{back}");
    again.stop.send(()).unwrap();
    again.ended.await.unwrap().unwrap();
    // Another shop's authority is not trusted for it.
    let (other, _) = server::tls::own(&folder.0.join("other"), &[], "127.0.0.1".parse().unwrap(), 1_772_460_000).unwrap();
    assert_ne!(other.der, authority);
}

#[cfg(unix)]
#[test]
fn the_private_key_is_read_by_its_owner_only_and_the_authority_vouches_for_its_names_only() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    let place = folder.0.join("tls");
    let listen = "127.0.0.1".parse().unwrap();
    let (first, _) = server::tls::own(&place, &["bench".into()], listen, 1_772_460_000).unwrap();
    let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!((mode(&place), mode(&place.join("authority.key"))), (0o700, 0o600));
    let (second, _) = server::tls::own(&place, &["bench".into()], listen, 1_782_460_000).unwrap();
    assert_eq!(first, second);
    for name in ["bank.example", "8.8.8.8"] {
        let Err(no) = server::tls::own(&place, &[name.into()], listen, 1_772_460_000) else { panic!("it vouched for {name}") };
        assert!(no.to_string().contains("was not made for"), "{no}");
    }
    std::fs::write(place.join("authority.key"), "gone").unwrap();
    let Err(no) = server::tls::own(&place, &[], listen, 1_772_460_000) else { panic!("it used a damaged key") };
    assert!(no.to_string().contains("is no private key"), "{no}");
}

/// What a server that must not start says.
async fn refused(listen: &str, tls: Tls) -> String {
    let folder = Folder::new();
    let ledger = Ledger::open(&Place::File(folder.0.join("shop.db")), Options::default()).await.unwrap();
    let listen = listen.parse().unwrap();
    let (papers, crew) = (Arc::new(Plain), Arc::new(Alone));
    let serving = Serving { ledgers: vec![ledger], papers, crew, listen, tls, behind_proxy: false, new_owner: false };
    serve(serving, std::future::pending(), &|_| {}).await.unwrap_err().to_string()
}

#[tokio::test]
async fn a_network_address_without_tls_is_refused_before_it_listens() {
    let no = refused("0.0.0.0:0", Tls::None).await;
    assert!(no.contains("would send passwords over the network"), "{no}");
}

#[tokio::test]
async fn certificate_files_serve_and_those_that_can_not_are_told_apart() {
    let folder = Folder::new();
    let (authority, pair) = server::tls::own(&folder.0.join("tls"), &[], "127.0.0.1".parse().unwrap(), now_s()).unwrap();
    let (certificate, key) = (folder.0.join("chain.pem"), folder.0.join("key.pem"));
    std::fs::write(&certificate, &pair.certificate).unwrap();
    std::fs::write(&key, &pair.key).unwrap();
    let running = started(&folder.0, Tls::Files { certificate: certificate.clone(), key: key.clone() }).await;
    let said = "GET /health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
    let well = asked(running.address, &authority.der, said).await.unwrap();
    assert!(well.starts_with("HTTP/1.1 200"), "{well}");
    running.stop.send(()).unwrap();
    running.ended.await.unwrap().unwrap();

    let (_, other) = server::tls::own(&folder.0.join("other"), &[], "127.0.0.1".parse().unwrap(), now_s()).unwrap();
    std::fs::write(folder.0.join("other.pem"), &other.key).unwrap();
    std::fs::write(folder.0.join("note.txt"), "not a certificate").unwrap();
    let files = |certificate: &str, key: &str| Tls::Files { certificate: folder.0.join(certificate), key: folder.0.join(key) };
    for (tls, what) in [
        (files("note.txt", "key.pem"), "the certificate could not be read"),
        (files("key.pem", "chain.pem"), "see that the two files are not swapped"),
        (files("chain.pem", "note.txt"), "the private key could not be read"),
        (files("chain.pem", "other.pem"), "see that the key belongs to the certificate"),
        (files("gone.pem", "key.pem"), "gone.pem"),
    ] {
        let no = refused("127.0.0.1:0", tls).await;
        assert!(no.contains(what), "{no}");
    }
}

/// Certificates hold from now on.
fn now_s() -> i64 {
    std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).map_or(0, |since| since.as_secs() as i64)
}
