//! Huge, deep, wrong and hostile requests: each is refused in a sentence, and none stops the server or writes anything.

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::{Value, json};

use crate::shop::{Back, JOB_FILE, Shops};

/// Everything that takes a body, with what it takes.
const TAKE: &[(&str, &str)] = &[
    ("/api/owner", "application/json"),
    ("/api/session", "application/json"),
    ("/api/password", "application/json"),
    ("/api/people", "application/json"),
    ("/api/people/A.%20Turner/password", "application/json"),
    ("/api/people/A.%20Turner/gone", "application/json"),
    ("/api/sync", "application/json"),
    ("/api/registers", "application/json"),
    ("/api/jobs", "application/toml"),
    ("/api/jobs/pin/entries", "application/json"),
    ("/api/jobs/pin/links", "application/json"),
    ("/api/compute/fit", "application/json"),
];

fn is_no(back: &Back, what: &str) {
    assert!((400..500).contains(&back.status), "{what}: {} {}", back.status, back.text());
    let said = back.said();
    assert!(said.len() < 4000 && !said.contains("panicked"), "{what}: {said}");
}

async fn shop() -> (Shops, String) {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    shops.person(&owner, "own", "A. Turner", "floor").await;
    shops.job(&owner, "pin").await;
    (shops, owner)
}

#[tokio::test]
async fn wrong_deep_and_huge_bodies_are_refused_in_a_sentence() {
    let (shops, owner) = shop().await;
    let before = (shops.ledger.head("").await.unwrap(), shops.ledger.head("pin").await.unwrap());
    let deep = |open: &str, close: &str| format!("{}1{}", open.repeat(100_000), close.repeat(100_000));
    let long = format!("\"{}\"", "x".repeat(9 * 1024 * 1024));
    let bodies: &[(&str, Vec<u8>)] = &[
        ("nothing", Vec::new()),
        ("blanks", b" \n\t".to_vec()),
        ("no UTF-8", vec![0xff, 0xfe, 0x00]),
        ("half a text", b"{\"name\": \"".to_vec()),
        ("a number", b"5".to_vec()),
        ("null", b"null".to_vec()),
        ("a list", b"[]".to_vec()),
        ("a key twice", br#"{"name":"a","name":"b"}"#.to_vec()),
        ("an unknown key", br#"{"nonsense":1}"#.to_vec()),
        ("no number", br#"{"most":NaN}"#.to_vec()),
        ("a number too large", br#"{"most":1e999}"#.to_vec()),
        ("two objects", b"{}{}".to_vec()),
        ("deep lists", deep("[", "]").into_bytes()),
        ("deep objects", deep("{\"a\":", "}").into_bytes()),
        ("a long text", long.into_bytes()),
    ];
    for (path, kind) in TAKE {
        for (what, body) in bodies {
            let back = shops.bring("POST", path, &owner, Some((kind, body.clone()))).await;
            is_no(&back, &format!("{path} with {what}"));
        }
    }
    assert_eq!((shops.ledger.head("").await.unwrap(), shops.ledger.head("pin").await.unwrap()), before, "nothing was written");
}

#[tokio::test]
async fn tricks_in_the_path_lead_nowhere() {
    let (shops, owner) = shop().await;
    for path in [
        "/api/jobs/..%2f..%2fetc%2fpasswd",
        "/api/jobs/../../etc/passwd",
        "/api/jobs/%2e%2e/%2e%2e/sheet",
        "/api/jobs/%00",
        "/api/jobs/%ff",
        "/api/jobs/%0a",
        "/api/jobs/''%20or%201=1",
        "/api/jobs/pin%27--",
        "/api/jobs//sheet",
        "/api/jobs/pin/sheet.pdf/..",
        "/api/jobs/pin/drawings/..%2f/section",
        "/api/jobs/pin/sheet?working=perhaps",
        "/api/jobs/pin/sheet?colour=red",
        "/api/jobs?from=%00",
        "/api/jobs?most=-1",
        "/api/jobs?most=99999999999999999999",
        "/certificate/..%2f..",
        "/certificate/%00",
        "/trust/../shop.db",
        "/shop.db",
        "/.git/config",
    ] {
        is_no(&shops.get(path, &owner).await, path);
    }
    let long = format!("/api/jobs/{}", "x".repeat(5000));
    is_no(&shops.get(&long, &owner).await, "a long number");
    for method in ["PUT", "PATCH", "DELETE", "TRACE", "OPTIONS", "NONSENSE"] {
        let back = shops.ask(method, "/api/jobs/pin", &owner, None).await;
        assert_eq!(back.status, 405, "{method}: {}", back.text());
    }
}

/// JSON that nobody would send.
fn any_json() -> impl Strategy<Value = Value> {
    let keys = prop::sample::select(vec![
        "protocol", "most", "have", "offers", "only", "from", "entries", "cards", "what", "kind", "of", "name", "roles", "password",
        "code", "id", "seat", "value", "u", "rings", "states", "T_C", "bore_mm", "replaces", "with", "job", "follows",
    ]);
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        ".{0,12}".prop_map(Value::from),
        prop::sample::select(vec!["event", "register", "person", "correction", "shop", "fit", "018f0000-0000-7000-8000-000000000000"])
            .prop_map(Value::from),
    ];
    leaf.prop_recursive(5, 40, 6, move |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
            prop::collection::vec((keys.clone(), inner), 0..6)
                .prop_map(|pairs| pairs.into_iter().map(|(key, value)| (key.to_owned(), value)).collect()),
        ]
    })
}

/// A good body with a few bytes changed, cut out or put in.
fn bent(good: Vec<u8>) -> impl Strategy<Value = Vec<u8>> {
    prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0..3_u8), 1..6).prop_map(move |bends| {
        let mut bytes = good.clone();
        for (at, byte, how) in bends {
            if bytes.is_empty() {
                break;
            }
            let at = at.index(bytes.len());
            match how {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ => drop(bytes.remove(at)),
            }
        }
        bytes
    })
}

/// Runs `asks` through the app: no answer may be a fault of the server.
fn none_stops_it(cases: u32, bodies: impl Strategy<Value = (usize, Vec<u8>)>) {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let (shops, owner) = runtime.block_on(shop());
    let mut runner = TestRunner::new(Config { cases, failure_persistence: None, ..Config::default() });
    let ran = runner.run(&bodies, |(route, body)| {
        let (path, kind) = TAKE[route];
        let back = runtime.block_on(shops.bring("POST", path, &owner, Some((kind, body))));
        prop_assert!(back.status < 500, "{path}: {} {}", back.status, back.text());
        prop_assert!(back.status < 400 || serde_json::from_slice::<Value>(&back.bytes).is_ok());
        Ok(())
    });
    ran.unwrap();
}

/// Routes whose wrong bodies cost no password hash: the others are asked in the table above.
fn cheap() -> impl Strategy<Value = usize> {
    prop::sample::select(
        TAKE.iter()
            .enumerate()
            .filter(|(_, (path, _))| !path.contains("password") && *path != "/api/owner" && *path != "/api/session")
            .map(|(i, _)| i)
            .collect::<Vec<_>>(),
    )
}

#[test]
fn bytes_of_any_kind_stop_nothing() {
    none_stops_it(400, (cheap(), prop::collection::vec(any::<u8>(), 0..300)));
}

#[test]
fn json_of_any_kind_stops_nothing() {
    none_stops_it(600, (cheap(), any_json().prop_map(|value| value.to_string().into_bytes())));
}

#[test]
fn a_good_request_that_was_bent_stops_nothing() {
    let entry = json!({"version": 1, "id": "018f0000-0000-7000-8000-000000000000", "job": "pin", "seat": "job", "who": "C. Owner", "device": "d",
        "when": "2026-03-02", "follows": null, "what": {"kind": "event", "what": "note", "detail": "x"}});
    let sync = json!({"protocol": 1, "have": {"pin": 3}, "offers": [entry], "most": 10}).to_string();
    let fit = calc::compute::kind("fit").unwrap().example;
    let place = |path: &str| TAKE.iter().position(|(of, _)| *of == path).unwrap();
    let good = [(place("/api/sync"), sync.into_bytes()), (place("/api/compute/fit"), fit.into()), (place("/api/jobs"), JOB_FILE.into())];
    for (route, body) in good {
        none_stops_it(150, bent(body).prop_map(move |body| (route, body)));
    }
}
