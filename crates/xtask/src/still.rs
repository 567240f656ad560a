//! The site's files over HTTP on loopback, and nothing else: for looking at the app, and for its tests, without a server that keeps entries.
//!
//! It answers GET and HEAD, with the policy that the real server sends; whatever writes is told that nobody keeps entries here.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};

/// Scripts and styles of our own only; WebAssembly may be compiled.
const POLICY: &str = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'";

/// Serves `site` at this port of loopback (0: a free one) until it is stopped; prints the address.
pub fn serve(site: &Path, port: u16) -> Result<(), String> {
    let listener =
        TcpListener::bind(("127.0.0.1", port)).map_err(|fault| format!("port {port} of this machine can't be taken: {fault}"))?;
    let address = listener.local_addr().map_err(|fault| fault.to_string())?;
    println!("\nBushwright: http://{address}   (files alone: what is written stays in the browser)");
    for stream in listener.incoming().flatten() {
        let site: PathBuf = site.to_owned();
        std::thread::spawn(move || answer(stream, &site));
    }
    Ok(())
}

fn answer(mut stream: TcpStream, site: &Path) -> std::io::Result<()> {
    let mut reader = BufReader::new(stream.try_clone()?).take(64 * 1024);
    let mut first = String::new();
    reader.read_line(&mut first)?;
    loop {
        let mut line = String::new();
        if reader.read_line(&mut line)? == 0 || line.trim().is_empty() {
            break;
        }
    }
    let mut words = first.split_whitespace();
    let (method, path) = (words.next().unwrap_or_default(), words.next().unwrap_or_default());
    if !matches!(method, "GET" | "HEAD") {
        return reply(&mut stream, "405 Method Not Allowed", "text/plain", b"nobody keeps entries here", true);
    }
    let name = match path.split('?').next().unwrap_or_default().trim_start_matches('/') {
        "" => "index.html",
        name => name,
    };
    // The site is flat: a name with a folder in it is none of ours.
    let bytes = if name.contains(['/', '\\']) || name.starts_with('.') { None } else { std::fs::read(site.join(name)).ok() };
    match bytes {
        Some(bytes) => reply(&mut stream, "200 OK", kind(name), &bytes, method == "GET"),
        None => reply(&mut stream, "404 Not Found", "text/plain", b"no such file", method == "GET"),
    }
}

fn kind(name: &str) -> &'static str {
    match name.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "wasm" => "application/wasm",
        "svg" => "image/svg+xml",
        "webmanifest" => "application/manifest+json",
        _ => "application/octet-stream",
    }
}

fn reply(stream: &mut TcpStream, status: &str, kind: &str, body: &[u8], with_body: bool) -> std::io::Result<()> {
    let head = format!(
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nCache-Control: no-cache\r\nContent-Security-Policy: {POLICY}\r\nX-Content-Type-Options: nosniff\r\nConnection: close\r\n\r\n",
        body.len()
    );
    stream.write_all(head.as_bytes())?;
    if with_body {
        stream.write_all(body)?;
    }
    stream.flush()
}
