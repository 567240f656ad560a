//! Every route from the API description is tried by those who have no right to it. A route that is described and has no row here fails.

use axum::http::Method;
use serde_json::{Value, json};
use server::rights::{ROUTES, Right};

use crate::shop::{PASSWORD, Shops, request};

/// A request that would do, were it let through: `{number}` and the like are filled in by what this shop has.
struct Sample {
    method: &'static str,
    path: &'static str,
    at: &'static str,
    body: Body,
    /// The same asked for something that only another shop has.
    elsewhere: Option<&'static str>,
}

#[derive(Clone, Copy)]
enum Body {
    None,
    Json(&'static str),
    Toml(&'static str),
}

const fn get(path: &'static str, at: &'static str) -> Sample {
    Sample { method: "get", path, at, body: Body::None, elsewhere: None }
}

const fn post(path: &'static str, at: &'static str, body: &'static str) -> Sample {
    Sample { method: "post", path, at, body: Body::Json(body), elsewhere: None }
}

const fn of_job(sample: Sample, elsewhere: &'static str) -> Sample {
    Sample { elsewhere: Some(elsewhere), ..sample }
}

const SAMPLES: &[Sample] = &[
    get("/", "/"),
    get("/api", "/api"),
    get("/api/openapi.json", "/api/openapi.json"),
    get("/health", "/health"),
    get("/metrics", "/metrics"),
    get("/trust", "/trust"),
    get("/trust/authority.crt", "/trust/authority.crt"),
    post("/api/owner", "/api/owner", r#"{"code":"guessed","name":"D. Nobody","password":"brass and tallow","shop":"own"}"#),
    post("/api/session", "/api/session", r#"{"name":"C. Owner","password":"a guess of ten","shop":"own"}"#),
    get("/api/session", "/api/session"),
    Sample { method: "delete", path: "/api/session", at: "/api/session", body: Body::None, elsewhere: None },
    post("/api/password", "/api/password", r#"{"old":"not the old one","new":"long enough to be new"}"#),
    get("/api/people", "/api/people"),
    post("/api/people", "/api/people", r#"{"name":"C. Owner","roles":["boss"],"password":"brass and tallow"}"#),
    of_job(
        post("/api/people/{name}/password", "/api/people/Nobody/password", r#"{"password":"brass and tallow"}"#),
        "/api/people/E.%20Elsewhere/password",
    ),
    of_job(post("/api/people/{name}/gone", "/api/people/Nobody/gone", r#"{"because":"left"}"#), "/api/people/E.%20Elsewhere/gone"),
    post("/api/sync", "/api/sync", r#"{"protocol":1,"most":1,"have":{"theirs":0}}"#),
    get("/api/registers", "/api/registers"),
    post("/api/registers", "/api/registers", r#"{"cards":[]}"#),
    get("/api/jobs", "/api/jobs"),
    Sample { method: "post", path: "/api/jobs", at: "/api/jobs", body: Body::Toml("number = 5"), elsewhere: None },
    of_job(get("/api/jobs/{number}", "/api/jobs/ours"), "/api/jobs/theirs"),
    of_job(post("/api/jobs/{number}/entries", "/api/jobs/ours/entries", NOTE), "/api/jobs/theirs/entries"),
    of_job(get("/api/jobs/{number}/sheet", "/api/jobs/ours/sheet"), "/api/jobs/theirs/sheet"),
    of_job(get("/api/jobs/{number}/sheet.pdf", "/api/jobs/ours/sheet.pdf"), "/api/jobs/theirs/sheet.pdf"),
    of_job(get("/api/jobs/{number}/papers/{file}", "/api/jobs/ours/papers/drawing.pdf"), "/api/jobs/theirs/papers/drawing.pdf"),
    of_job(get("/api/jobs/{number}/drawings", "/api/jobs/ours/drawings"), "/api/jobs/theirs/drawings"),
    of_job(get("/api/jobs/{number}/drawings/{seat}/{name}", "/api/jobs/ours/drawings/x/section"), "/api/jobs/theirs/drawings/x/section"),
    of_job(get("/api/jobs/{number}/links", "/api/jobs/ours/links"), "/api/jobs/theirs/links"),
    of_job(post("/api/jobs/{number}/links", "/api/jobs/ours/links", r#"{"whom":"the harbour"}"#), "/api/jobs/theirs/links"),
    Sample {
        method: "delete",
        path: "/api/links/{name}",
        at: "/api/links/none",
        body: Body::None,
        elsewhere: Some("/api/links/THEIR_LINK"),
    },
    get("/certificate/{token}", "/certificate/0000000000000000000000000000000000000000000000000000000000000000.6f776e"),
    get("/api/compute", "/api/compute"),
    get("/api/compute/{kind}", "/api/compute/to-20"),
    post("/api/compute/{kind}", "/api/compute/to-20", "{}"),
];

const NOTE: &str = r#"{"entries":[{"what":{"kind":"event","what":"note","detail":"looked at"}}]}"#;

/// What everybody may see: it says nothing of a shop.
const PUBLIC: &[&str] = &["/", "/api", "/api/openapi.json", "/health", "/trust", "/trust/authority.crt"];

impl Sample {
    fn body(&self) -> Option<(&'static str, Vec<u8>)> {
        match self.body {
            Body::None => None,
            Body::Json(text) => Some(("application/json", text.into())),
            Body::Toml(text) => Some(("application/toml", text.into())),
        }
    }
}

struct Everybody {
    shops: Shops,
    /// Cookies by role; the first has none.
    cookies: Vec<(&'static str, String)>,
    their_link: String,
}

async fn everybody() -> Everybody {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    let floor = shops.person(&owner, "own", "A. Turner", "floor").await;
    let office = shops.person(&owner, "own", "B. Clerk", "office").await;
    let left = shops.person(&owner, "own", "F. Former", "floor").await;
    // Their card is gone but their account is not: whoever is in that state has no role.
    let gone = json!({"cards": [{"of": "gone", "register": "person", "name": "F. Former", "because": "moved away"}]});
    assert_eq!(shops.ask("POST", "/api/registers", &owner, Some(gone)).await.status, 200);
    shops.job(&floor, "ours").await;
    let there = shops.owner(&shops.other, "E. Elsewhere").await;
    shops.job(&there, "theirs").await;
    let link = shops.ask("POST", "/api/jobs/theirs/links", &there, Some(json!({"whom": "the mill"}))).await;
    let their_link = link.json()["name"].as_str().unwrap().to_owned();
    let cookies = vec![("", left), ("floor", floor), ("office", office), ("owner", owner)];
    Everybody { shops, cookies, their_link }
}

fn described() -> Vec<(String, String)> {
    let paths = server::description()["paths"].as_object().unwrap();
    let of_path = |(path, methods): (&String, &Value)| {
        methods.as_object().unwrap().keys().map(|method| (method.clone(), path.clone())).collect::<Vec<_>>()
    };
    paths.iter().flat_map(of_path).collect()
}

fn right(sample: &Sample) -> Right {
    let method: Method = sample.method.to_uppercase().parse().unwrap();
    ROUTES.iter().find(|route| route.method == method && route.path == sample.path).map(|route| route.right).expect(sample.path)
}

#[test]
fn the_table_of_rights_the_description_and_these_samples_name_the_same_routes() {
    let described = described();
    for (method, path) in &described {
        assert!(
            SAMPLES.iter().any(|sample| sample.method == method && sample.path == path),
            "{method} {path} is described but has no refusal test: give it a row in SAMPLES"
        );
        assert!(
            ROUTES.iter().any(|route| route.method.as_str().to_lowercase() == *method && route.path == path),
            "{method} {path} stands in no row of ROUTES"
        );
    }
    assert_eq!(described.len(), ROUTES.len(), "a row of ROUTES has no route");
    assert_eq!(described.len(), SAMPLES.len(), "a row of SAMPLES has no route");
    for route in ROUTES.iter().filter(|route| route.right == Right::Open && route.method == Method::GET) {
        assert!(PUBLIC.contains(&route.path), "{} is open to everybody: is that meant?", route.path);
    }
    for sample in SAMPLES.iter().filter(|sample| sample.path.contains("{number}")) {
        assert!(sample.elsewhere.is_some(), "{} is not tried with another shop's job", sample.path);
    }
}

#[tokio::test]
async fn nobody_without_a_session_gets_through() {
    let Everybody { shops, cookies, .. } = everybody().await;
    let (_, owner) = cookies.last().unwrap();
    let token = owner.split_once('=').unwrap().1.split('.').next().unwrap().to_owned();
    let other_shop = format!("bushwright={token}.{}", "other".bytes().map(|byte| format!("{byte:02x}")).collect::<String>());
    let guesses = ["", "bushwright=guessed", "bushwright=.6f776e", "bushwright=%00", "bushwright=0.0", other_shop.as_str()];
    for sample in SAMPLES {
        for guess in guesses {
            let back = shops.bring(&sample.method.to_uppercase(), sample.at, guess, sample.body()).await;
            let shown = format!("{} {} with {guess:?}: {} {}", sample.method, sample.at, back.status, back.text());
            match (right(sample), sample.path) {
                (Right::Open, "/api/owner") => assert_eq!(back.status, if back.status == 429 { 429 } else { 403 }, "{shown}"),
                (Right::Open, "/api/session") => assert_eq!(back.status, if back.status == 429 { 429 } else { 401 }, "{shown}"),
                (Right::Open, "/trust" | "/trust/authority.crt") => assert_eq!(back.status, 404, "{shown}"),
                (Right::Open, _) => assert_eq!(back.status, 200, "{shown}"),
                (Right::Link, _) => assert_eq!(back.status, 404, "{shown}"),
                _ => assert_eq!(back.status, 401, "{shown}"),
            }
            if back.status >= 400 {
                assert!(!back.said().is_empty());
            }
        }
    }
}

#[tokio::test]
async fn who_lacks_the_right_is_refused_and_who_has_it_is_not() {
    let Everybody { shops, cookies, .. } = everybody().await;
    for sample in SAMPLES.iter().filter(|sample| !matches!(right(sample), Right::Open | Right::Link)) {
        let needs = right(sample);
        for (role, cookie) in &cookies {
            // Signing out ends a session that the next row needs.
            if sample.method == "delete" && sample.path == "/api/session" && !role.is_empty() {
                continue;
            }
            let back = shops.bring(&sample.method.to_uppercase(), sample.at, cookie, sample.body()).await;
            let shown = format!("{} {} as {role:?}: {} {}", sample.method, sample.at, back.status, back.text());
            let own_no = sample.path == "/api/password" && back.text().contains("old password");
            if needs.roles().contains(role) {
                assert!(own_no || !matches!(back.status, 401 | 403 | 500..), "{shown}");
            } else {
                assert_eq!(back.status, 403, "{shown}");
                assert!(back.said().contains("allowed: "), "{shown}");
            }
        }
    }
}

#[tokio::test]
async fn what_is_in_another_shop_is_not_there() {
    let Everybody { shops, cookies, their_link } = everybody().await;
    let (_, owner) = cookies.last().unwrap();
    for sample in SAMPLES {
        let Some(elsewhere) = sample.elsewhere else { continue };
        let there = elsewhere.replace("THEIR_LINK", &their_link);
        let back = shops.bring(&sample.method.to_uppercase(), &there, owner, sample.body()).await;
        let nowhere = elsewhere.replace("theirs", "nowhere").replace("THEIR_LINK", "nothing").replace("E.%20Elsewhere", "Nobody");
        let not = shops.bring(&sample.method.to_uppercase(), &nowhere, owner, sample.body()).await;
        assert_eq!((back.status, not.status), (404, 404), "{there}: {}", back.text());
        // The words are the same as for what is nowhere.
        let names = ["theirs", "nowhere", "nothing", "E. Elsewhere", "Nobody", their_link.get(..60).unwrap()];
        let plain = |text: String| names.iter().fold(text, |text, name| text.replace(name, "X"));
        assert_eq!(plain(back.text()), plain(not.text()));
    }
    let list = shops.get("/api/jobs", owner).await.text();
    assert!(list.contains("ours") && !list.contains("theirs"), "{list}");
    let synced = shops.ask("POST", "/api/sync", owner, Some(json!({"protocol": 1, "most": 1000}))).await.text();
    assert!(synced.contains("ours") && !synced.contains("theirs") && !synced.contains("Elsewhere"), "{synced}");
}

#[tokio::test]
async fn a_page_of_another_site_writes_nothing() {
    let Everybody { shops, cookies, .. } = everybody().await;
    let (_, owner) = cookies.last().unwrap();
    for sample in SAMPLES.iter().filter(|sample| sample.method != "get") {
        for (header, value) in [
            ("origin", "https://elsewhere.example"),
            ("origin", "null"),
            ("origin", "http://shop.local.elsewhere.example"),
            ("sec-fetch-site", "cross-site"),
            ("sec-fetch-site", "same-site"),
        ] {
            let mut request = request(&sample.method.to_uppercase(), sample.at, owner, sample.body());
            request.headers_mut().insert(header, value.parse().unwrap());
            let back = shops.send(request).await;
            assert_eq!(back.status, 403, "{} {} with {header}: {value}: {}", sample.method, sample.at, back.text());
        }
        if sample.body().is_some() {
            for kind in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"] {
                let back = shops.bring(&sample.method.to_uppercase(), sample.at, owner, Some((kind, b"{}".to_vec()))).await;
                assert!(matches!(back.status, 404 | 415), "{} {} as {kind}: {}", sample.method, sample.at, back.text());
            }
        }
    }
    let mut own = request("POST", "/api/registers", owner, Some(("application/json", br#"{"cards":[]}"#.to_vec())));
    own.headers_mut().insert("origin", "https://shop.local".parse().unwrap());
    assert_eq!(shops.send(own).await.status, 400, "a page of this server gets as far as the route");
}

#[tokio::test]
async fn what_an_entry_says_decides_too() {
    let Everybody { shops, cookies, .. } = everybody().await;
    let of = |role: &str| cookies.iter().find(|(name, _)| *name == role).unwrap().1.as_str();
    let gauge = json!({"of": "gauge", "name": "bore gauge", "about": "two-point", "low_mm": 50.0, "high_mm": 150.0, "resolution_mm": 0.001,
        "repeatability_mm": null, "repeats": null, "contacts": "two"});
    let boss = json!({"of": "person", "name": "A. Turner", "roles": ["owner"]});
    let gone = json!({"of": "gone", "register": "person", "name": "C. Owner", "because": "no"});
    for (role, card, status) in [
        ("floor", &gauge, 400),
        ("office", &gauge, 200),
        ("floor", &boss, 400),
        ("office", &boss, 400),
        ("office", &gone, 400),
        ("owner", &gone, 400),
    ] {
        let back = shops.ask("POST", "/api/registers", of(role), Some(json!({"cards": [card]}))).await;
        assert_eq!(back.status, status, "{role} {card}: {}", back.text());
    }
    // A correction needs the right of what it replaces: a card of the office can't take the place of a person.
    let registers = shops.get("/api/registers", of("office")).await.json();
    let person = registers["cards"]["person"]["C. Owner"]["entry"].as_str().unwrap().to_owned();
    let entry = json!({"version": 1, "id": shops.ledger.new_id(), "job": "", "seat": "shop", "who": "B. Clerk", "device": "d", "when": "",
        "follows": null, "what": {"kind": "correction", "replaces": person, "because": "no", "with": {"kind": "register", "card": gauge}}});
    let back = shops.ask("POST", "/api/sync", of("office"), Some(json!({"protocol": 1, "most": 1, "offers": [entry]}))).await.json();
    assert_eq!((back["taken"].as_array().unwrap().len(), back["refused"].as_array().unwrap().len()), (0, 1), "{back}");
    // Who releases is the office or the owner.
    let head = "0".repeat(64);
    let sign = json!({"entries": [{"what": {"kind": "signature", "role": "released", "head": head}}]});
    assert_eq!(shops.ask("POST", "/api/jobs/ours/entries", of("floor"), Some(sign.clone())).await.status, 400);
    assert_eq!(shops.ask("POST", "/api/jobs/ours/entries", of("office"), Some(sign)).await.status, 200);
    // The password of everybody still does: nobody was changed on the way.
    for name in ["A. Turner", "B. Clerk", "C. Owner"] {
        let body = json!({"name": name, "password": PASSWORD, "shop": "own"});
        assert_eq!(shops.ask("POST", "/api/session", "", Some(body)).await.status, 200);
    }
}
