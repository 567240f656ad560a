//! Two shops in one store, with somebody of every role in each, and a way to ask the app over them.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU32, Ordering};

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request};
use calc::crew::Alone;
use draw::drawing::{OfSeat, Paper};
use job::papers::document::Document;
use job::papers::record::Record;
use job::sheet::JobSheet;
use ledger::{Ledger, Options, Place};
use serde_json::{Value, json};
use server::{Papers, Parts, Size, Standing, app};
use tower::ServiceExt;

/// A day of the tests' own clock.
pub const DAY_S: i64 = 86_400;
/// The password of everybody.
pub const PASSWORD: &str = "brass and tallow";
/// A job that every shop of these tests may take in.
pub const JOB_FILE: &str = include_str!("../../../../demo/excavator_link_pin.toml");

/// A folder that goes when the test ends.
pub struct Folder(pub PathBuf);

impl Folder {
    pub fn new() -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let name = format!("bushwright-server-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        let folder = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&folder).unwrap();
        Self(folder)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Says what it was given instead of setting it: the typesetter has tests of its own.
pub struct Plain;

impl Papers for Plain {
    fn sheet(&self, sheet: &JobSheet, size: Size, working: bool) -> Result<Vec<u8>, String> {
        let stages: Vec<&str> = sheet.seats.iter().flat_map(|seat| &seat.stages).map(|stage| stage.stage.word()).collect();
        Ok(format!("%PDF {} {size:?} {working} {}", sheet.number, stages.join(" ")).into_bytes())
    }

    fn document(&self, document: &Document, size: Size) -> Result<Vec<u8>, String> {
        Ok(format!("%PDF {} {} {size:?} {}", document.kind, document.number, document.head).into_bytes())
    }

    fn drawings(&self, sheet: &JobSheet, record: &Record, drawn: Vec<OfSeat>, paper: Paper) -> Result<Vec<u8>, String> {
        let named: Vec<String> = drawn.iter().map(|of| format!("{} {}", of.seat, of.name)).collect();
        Ok(format!("%PDF drawings {} {paper:?} {} {}", sheet.number, record.revision, named.join(", ")).into_bytes())
    }
}

/// What came back.
pub struct Back {
    pub status: u16,
    pub headers: HeaderMap,
    pub bytes: Vec<u8>,
}

impl Back {
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes).unwrap_or_else(|_| panic!("not JSON: {}", self.text()))
    }

    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).into_owned()
    }

    /// The sentence of a refusal.
    pub fn said(&self) -> String {
        let said = self.json();
        said["says"].as_str().map_or_else(|| said["error"].to_string(), str::to_owned)
    }

    /// The cookie that it sets, as it is sent back.
    pub fn cookie(&self) -> String {
        self.headers["set-cookie"].to_str().unwrap().split(';').next().unwrap().to_owned()
    }
}

/// The app over two shops.
pub struct Shops {
    pub app: Router,
    pub ledger: Ledger,
    pub other: Ledger,
    pub clock: Arc<AtomicI64>,
    pub folder: Arc<Folder>,
}

impl Shops {
    /// Two empty shops, "own" and "other".
    pub async fn empty() -> Self {
        Self::opened(Arc::new(Folder::new()), Arc::new(AtomicI64::new(1_772_460_000)), 0).await
    }

    /// The same store opened once more, by another server, that is to leave `spare` bytes of the disk free.
    pub async fn opened(folder: Arc<Folder>, clock: Arc<AtomicI64>, spare: u64) -> Self {
        let of_clock = clock.clone();
        let options =
            Options { shop: "own".into(), clock: Arc::new(move || of_clock.load(Ordering::Relaxed)), spare, ..Options::default() };
        let ledger = Ledger::open(&Place::File(folder.0.join("shop.db")), options).await.unwrap();
        let other = ledger.of_shop("other").unwrap();
        let app = app(Parts {
            ledgers: vec![ledger.clone(), other.clone()],
            papers: Arc::new(Plain),
            crew: Arc::new(Alone),
            standing: Standing::default(),
        });
        Self { app, ledger, other, clock, folder }
    }

    pub async fn send(&self, request: Request<Body>) -> Back {
        let response = self.app.clone().oneshot(request).await.unwrap();
        let (parts, body) = response.into_parts();
        Back { status: parts.status.as_u16(), headers: parts.headers, bytes: to_bytes(body, usize::MAX).await.unwrap().to_vec() }
    }

    pub async fn ask(&self, method: &str, path: &str, cookie: &str, body: Option<Value>) -> Back {
        let body = body.map(|body| ("application/json", body.to_string().into_bytes()));
        self.bring(method, path, cookie, body).await
    }

    pub async fn bring(&self, method: &str, path: &str, cookie: &str, body: Option<(&str, Vec<u8>)>) -> Back {
        self.send(request(method, path, cookie, body)).await
    }

    pub async fn get(&self, path: &str, cookie: &str) -> Back {
        self.ask("GET", path, cookie, None).await
    }

    /// Makes the owner of a shop by its code; gives the cookie.
    pub async fn owner(&self, ledger: &Ledger, name: &str) -> String {
        let code = server::owner_code(ledger).await.unwrap();
        let body = json!({"code": code, "name": name, "password": PASSWORD, "shop": ledger.shop()});
        let back = self.ask("POST", "/api/owner", "", Some(body)).await;
        assert_eq!(back.status, 200, "{}", back.text());
        back.cookie()
    }

    /// Adds somebody and signs them in.
    pub async fn person(&self, owner: &str, shop: &str, name: &str, role: &str) -> String {
        let body = json!({"name": name, "roles": [role], "password": PASSWORD});
        let back = self.ask("POST", "/api/people", owner, Some(body)).await;
        assert_eq!(back.status, 200, "{}", back.text());
        self.sign_in(shop, name).await
    }

    pub async fn sign_in(&self, shop: &str, name: &str) -> String {
        let back = self.ask("POST", "/api/session", "", Some(json!({"name": name, "password": PASSWORD, "shop": shop}))).await;
        assert_eq!(back.status, 200, "{}", back.text());
        back.cookie()
    }

    /// Takes in the job file under another number.
    pub async fn job(&self, cookie: &str, number: &str) {
        let old = JOB_FILE.lines().find(|line| line.starts_with("number")).unwrap();
        let text = JOB_FILE.replace(old, &format!("number = {number:?}"));
        let back = self.bring("POST", "/api/jobs", cookie, Some(("application/toml", text.into_bytes()))).await;
        assert_eq!(back.status, 200, "{}", back.text());
        assert_eq!(back.json()["job"], number);
    }
}

pub fn request(method: &str, path: &str, cookie: &str, body: Option<(&str, Vec<u8>)>) -> Request<Body> {
    let mut request = Request::builder().method(method.parse::<Method>().unwrap()).uri(path).header("host", "shop.local");
    if !cookie.is_empty() {
        request = request.header("cookie", cookie);
    }
    match body {
        Some((kind, bytes)) => request.header("content-type", kind).body(Body::from(bytes)).unwrap(),
        None => request.body(Body::empty()).unwrap(),
    }
}
