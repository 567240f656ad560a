//! A shop's day over HTTP: people, gauges, jobs, devices, calculations, documents, links.

use std::sync::atomic::Ordering;

use calc::crew::Alone;
use job::entry::{Entry, EntryId, Scope, VERSION, What};
use job::lathe::log::{Log, Writer};
use job::lathe::step::Surface;
use job::lathe::{Dialogue, Now, Reply};
use job::stages::{Wish, setup};
use job::sync::Device;
use ledger::{Author, Ledger};
use serde_json::{Value, json};

use crate::shop::{DAY_S, PASSWORD, Shops, request};

/// The winch, whose bushes a simulated lathe can turn.
const WINCH: &str = include_str!("../../../../demo/ferry_ramp_winch.toml");

#[tokio::test]
async fn the_first_owner_is_made_by_the_code_and_only_once() {
    let shops = Shops::empty().await;
    assert!(!server::has_owner(&shops.ledger).await.unwrap());
    let code = server::owner_code(&shops.ledger).await.unwrap();
    let claim = |code: &str| json!({"code": code, "name": "C. Owner", "password": PASSWORD, "shop": "own"});
    let back = shops.ask("POST", "/api/owner", "", Some(claim("aaaa-bbbb-cccc-dddd"))).await;
    assert_eq!(back.status, 403, "{}", back.text());
    let short = json!({"code": code, "name": "C. Owner", "password": "short", "shop": "own"});
    assert_eq!(shops.ask("POST", "/api/owner", "", Some(short)).await.status, 400, "a refused password leaves the code as it is");
    let back = shops.ask("POST", "/api/owner", "", Some(claim(&code.to_uppercase()))).await;
    assert_eq!(back.status, 200, "{}", back.text());
    assert_eq!(back.json(), json!({"name": "C. Owner", "roles": ["owner"], "shop": "own"}));
    assert!(server::has_owner(&shops.ledger).await.unwrap());
    assert_eq!(shops.ask("POST", "/api/owner", "", Some(claim(&code))).await.status, 403);
    assert_eq!(shops.get("/api/session", &back.cookie()).await.json()["name"], "C. Owner");
    let set = back.headers["set-cookie"].to_str().unwrap();
    assert!(set.contains("HttpOnly") && set.contains("SameSite=Strict") && set.contains("Path=/"), "{set}");
}

#[tokio::test]
async fn a_code_is_good_for_a_day() {
    let shops = Shops::empty().await;
    let code = server::owner_code(&shops.ledger).await.unwrap();
    shops.clock.fetch_add(DAY_S + 1, Ordering::Relaxed);
    let body = json!({"code": code, "name": "C. Owner", "password": PASSWORD, "shop": "own"});
    assert_eq!(shops.ask("POST", "/api/owner", "", Some(body)).await.status, 403);
}

#[tokio::test]
async fn a_session_ends_by_signing_out_a_new_password_leaving_and_time() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    let first = shops.person(&owner, "own", "A. Turner", "floor").await;
    let second = shops.sign_in("own", "A. Turner").await;
    assert_eq!(shops.ask("DELETE", "/api/session", &first, None).await.status, 200);
    assert_eq!((shops.get("/api/session", &first).await.status, shops.get("/api/session", &second).await.status), (401, 200));
    let change = json!({"old": PASSWORD, "new": "tallow and brass"});
    assert_eq!(shops.ask("POST", "/api/password", &second, Some(change)).await.status, 200);
    assert_eq!(shops.get("/api/session", &second).await.status, 401);
    let back = json!({"password": PASSWORD});
    assert_eq!(shops.ask("POST", "/api/people/A.%20Turner/password", &owner, Some(back)).await.status, 200);
    let third = shops.sign_in("own", "A. Turner").await;
    let gone = shops.ask("POST", "/api/people/A.%20Turner/gone", &owner, Some(json!({"because": "moved away"}))).await;
    assert_eq!((gone.status, shops.get("/api/session", &third).await.status), (200, 401));
    let again = shops.ask("POST", "/api/session", "", Some(json!({"name": "A. Turner", "password": PASSWORD, "shop": "own"}))).await;
    assert_eq!(again.status, 401);
    // Used within its time it goes on; unused it ends.
    shops.clock.fetch_add(20 * DAY_S, Ordering::Relaxed);
    assert_eq!(shops.get("/api/session", &owner).await.status, 200);
    shops.clock.fetch_add(20 * DAY_S, Ordering::Relaxed);
    assert_eq!(shops.get("/api/session", &owner).await.status, 200);
    shops.clock.fetch_add(31 * DAY_S, Ordering::Relaxed);
    assert_eq!(shops.get("/api/session", &owner).await.status, 401);
    server::sweep(&shops.ledger).await.unwrap();
    assert_eq!(shops.ledger.asides("session").await.unwrap(), []);
}

#[tokio::test]
async fn guesses_are_counted_in_the_store_for_every_server_over_it() {
    let shops = Shops::empty().await;
    shops.owner(&shops.ledger, "C. Owner").await;
    let guess = |password: &str| json!({"name": "C. Owner", "password": password, "shop": "own"});
    for _ in 0..5 {
        assert_eq!(shops.ask("POST", "/api/session", "", Some(guess("not the password"))).await.status, 401);
    }
    let back = shops.ask("POST", "/api/session", "", Some(guess(PASSWORD))).await;
    assert_eq!(back.status, 429, "even the right one waits: {}", back.text());
    let wait: i64 = back.headers["retry-after"].to_str().unwrap().parse().unwrap();
    assert!((1..=300).contains(&wait));
    let second = Shops::opened(shops.folder.clone(), shops.clock.clone(), 0).await;
    assert_eq!(second.ask("POST", "/api/session", "", Some(guess(PASSWORD))).await.status, 429, "another server over the same store");
    shops.clock.fetch_add(wait, Ordering::Relaxed);
    assert_eq!(shops.ask("POST", "/api/session", "", Some(guess(PASSWORD))).await.status, 200);
}

#[tokio::test]
async fn people_and_gauges_are_cards_and_a_job_file_becomes_entries() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    let floor = shops.person(&owner, "own", "A. Turner", "floor").await;
    let people = shops.get("/api/people", &owner).await.json();
    assert_eq!(people[0], json!({"name": "A. Turner", "roles": ["floor"], "signs_in": true}));
    let gauge = |name: &str| {
        json!({"of": "gauge", "name": name, "about": "outside", "low_mm": 0.0, "high_mm": 25.0, "resolution_mm": 0.001,
        "repeatability_mm": null, "repeats": null, "contacts": null})
    };
    let cards = json!({"cards": [gauge("one"), gauge("two"), gauge("three")]});
    let back = shops.ask("POST", "/api/registers", &owner, Some(cards)).await;
    assert_eq!((back.status, back.json()["taken"].as_array().unwrap().len()), (200, 3), "{}", back.text());
    let registers = shops.get("/api/registers", &floor).await.json();
    assert_eq!(registers["cards"]["gauge"].as_object().unwrap().keys().collect::<Vec<_>>(), ["one", "three", "two"]);
    assert_eq!(registers["needs_you"], json!([]), "cards that follow each other are not apart");
    shops.job(&floor, "pin").await;
    let again = shops.bring("POST", "/api/jobs", &floor, Some(("application/toml", crate::shop::JOB_FILE.into()))).await.json();
    let twice = shops.bring("POST", "/api/jobs", &floor, Some(("application/toml", crate::shop::JOB_FILE.into()))).await.json();
    assert!(again["new"].as_u64().unwrap() > 20, "{again}");
    assert_eq!(twice["new"], 0);
    let jobs = shops.get("/api/jobs?most=1", &floor).await.json();
    assert_eq!(jobs["jobs"].as_array().unwrap().len(), 1);
    let on = jobs["on"].as_str().unwrap();
    let rest = shops.get(&format!("/api/jobs?from={on}"), &floor).await.json();
    assert_eq!((rest["jobs"].as_array().unwrap().len(), &rest["on"]), (1, &Value::Null));
    let note = json!({"entries": [{"what": {"kind": "event", "what": "note", "detail": "the pin is hard"}}]});
    let back = shops.ask("POST", "/api/jobs/pin/entries", &floor, Some(note)).await.json();
    let record = shops.get("/api/jobs/pin", &floor).await.json();
    let last = record["entries"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (&last["entry"]["who"], &last["by"], &last["entry"]["id"]),
        (&json!("A. Turner"), &json!("A. Turner"), &back["taken"][0]["id"])
    );
    assert_eq!(last["hash"], record["head"]);
}

#[tokio::test]
async fn two_devices_come_to_have_the_same() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    let floor = shops.person(&owner, "own", "A. Turner", "floor").await;
    shops.job(&floor, "pin").await;
    let mut devices = [Device::default(), Device::default()];
    for (i, device) in devices.iter_mut().enumerate() {
        let what = What::Event { what: "note".into(), detail: format!("from device {i}") };
        let when = "2026-03-02".to_owned();
        device.write(Entry {
            version: VERSION,
            id: shops.ledger.new_id(),
            job: "pin".into(),
            seat: Scope::Job,
            who: "A. Turner".into(),
            device: format!("tablet {i}"),
            when,
            follows: None,
            what,
        });
    }
    for round in 0..12 {
        let device = &mut devices[round % 2];
        let ask = serde_json::to_value(device.ask(7)).unwrap();
        let back = shops.ask("POST", "/api/sync", &floor, Some(ask)).await;
        assert_eq!(back.status, 200, "{}", back.text());
        device.take(&serde_json::from_slice(&back.bytes).unwrap()).unwrap();
    }
    while !devices.iter().all(Device::is_level) {
        for device in &mut devices {
            let ask = serde_json::to_value(device.ask(1000)).unwrap();
            let back = shops.ask("POST", "/api/sync", &floor, Some(ask)).await;
            device.take(&serde_json::from_slice(&back.bytes).unwrap()).unwrap();
        }
    }
    let [one, two] = &mut devices;
    for device in [&mut *one, &mut *two] {
        let ask = serde_json::to_value(device.ask(1000)).unwrap();
        let back = shops.ask("POST", "/api/sync", &floor, Some(ask)).await;
        device.take(&serde_json::from_slice(&back.bytes).unwrap()).unwrap();
    }
    assert_eq!(one.chain("pin"), two.chain("pin"));
    assert_eq!(one.head("pin"), shops.get("/api/jobs/pin", &floor).await.json()["head"]);
}

#[tokio::test]
async fn an_old_app_and_a_signature_of_another_get_a_clear_word() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    let floor = shops.person(&owner, "own", "A. Turner", "floor").await;
    let old = shops.ask("POST", "/api/sync", &floor, Some(json!({"protocol": 0, "colour": "red"}))).await;
    assert_eq!(old.status, 426);
    assert!(old.said().contains("the app is older than the server"), "{}", old.said());
    let sign = |who: &str| Entry {
        version: VERSION,
        id: shops.ledger.new_id(),
        job: "pin".into(),
        seat: Scope::Job,
        who: who.into(),
        device: "tablet".into(),
        when: "2026-03-02".into(),
        follows: None,
        what: What::Signature { role: "made".into(), head: "0".repeat(64) },
    };
    let ask = json!({"protocol": 1, "most": 1, "offers": [sign("C. Owner"), sign("A. Turner")]});
    let back = shops.ask("POST", "/api/sync", &floor, Some(ask)).await.json();
    assert_eq!((back["taken"].as_array().unwrap().len(), back["refused"].as_array().unwrap().len()), (1, 1), "{back}");
    assert!(back["refused"][0]["why"].as_str().unwrap().contains("a signature is taken from its signer only"), "{back}");
}

#[tokio::test]
async fn compute_answers_and_refuses_as_the_command_line_does() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    let mut asked = 0;
    for kind in calc::compute::KINDS {
        let path = format!("/api/compute/{}", kind.name);
        if kind.run.is_none() {
            assert_eq!(shops.ask("POST", &path, &owner, Some(json!({}))).await.status, 400);
            continue;
        }
        assert_eq!(shops.get(&path, &owner).await.status, 200);
        let example = calc::compute::plain(kind.example).unwrap();
        let own = calc::compute::answer(kind.name, &example, &Alone, true);
        let back = shops.bring("POST", &format!("{path}?working=true"), &owner, Some(("application/json", kind.example.into()))).await;
        match own {
            Ok(own) => assert_eq!((back.status, back.text()), (200, own.to_string()), "{}", kind.name),
            Err(refused) => assert_eq!((back.status, back.json()["error"].clone()), (400, serde_json::to_value(refused).unwrap())),
        }
        let bad = json!({"nonsense_mm": 1});
        let refused = calc::compute::answer(kind.name, &bad, &Alone, false).unwrap_err();
        let back = shops.ask("POST", &path, &owner, Some(bad)).await;
        assert_eq!((back.status, back.json()), (400, json!({"error": serde_json::to_value(refused).unwrap()})), "{}", kind.name);
        asked += 1;
    }
    assert!(asked > 25, "{asked}");
    let path = shops.ask("POST", "/api/compute/cut-trials", &owner, Some(json!({"runs_csv": "/etc/passwd"}))).await;
    assert!(path.status == 400 && path.said().contains("runs_csv"), "{}", path.text());
}

#[tokio::test]
async fn documents_come_from_the_record_and_a_link_shows_one_certificate_until_it_is_taken_back() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    shops.job(&owner, "pin/7").await;
    let sheet = shops.get("/api/jobs/pin%2F7/sheet", &owner).await.json();
    assert_eq!((&sheet["number"], &sheet["units"]), (&json!("pin/7"), &json!("inch")));
    let pdf = shops.get("/api/jobs/pin%2F7/sheet.pdf?paper=a4&working=true", &owner).await;
    assert_eq!(pdf.headers["content-type"], "application/pdf");
    assert!(pdf.text().starts_with("%PDF pin/7 A4 true brief measure"), "{}", pdf.text());
    let drawings = shops.get("/api/jobs/pin%2F7/drawings", &owner).await.json();
    assert!(drawings.as_array().unwrap().len() > 3, "{drawings}");
    let svg = shops.get(drawings[0]["path"].as_str().unwrap(), &owner).await;
    assert_eq!((svg.status, &svg.headers["content-type"]), (200, &"image/svg+xml".parse().unwrap()));
    assert!(svg.text().starts_with("<svg"), "{}", svg.text());
    let link = shops.ask("POST", "/api/jobs/pin%2F7/links", &owner, Some(json!({"whom": "the quarry", "days": 10}))).await.json();
    let path = link["path"].as_str().unwrap();
    let shown = shops.get(path, "").await;
    let certificate = format!("%PDF Certificate pin/7 Letter {}", sheet["head"].as_str().unwrap());
    assert_eq!((shown.status, shown.text()), (200, certificate.clone()), "the certificate, and nothing else");
    assert_eq!(shown.headers["referrer-policy"], "no-referrer");
    let listed = shops.get("/api/jobs/pin%2F7/links", &owner).await.json();
    assert_eq!((&listed[0]["whom"], listed.to_string().contains(path)), (&json!("the quarry"), false));
    let take = format!("/api/links/{}", link["name"].as_str().unwrap());
    assert_eq!(shops.ask("DELETE", &take, &owner, None).await.status, 200);
    assert_eq!((shops.get(path, "").await.status, shops.ask("DELETE", &take, &owner, None).await.status), (404, 404));
    let second = shops.ask("POST", "/api/jobs/pin%2F7/links", &owner, Some(json!({"whom": "the quarry", "days": 10}))).await.json();
    shops.clock.fetch_add(11 * DAY_S, Ordering::Relaxed);
    assert_eq!(shops.get(second["path"].as_str().unwrap(), "").await.status, 404, "past its day");
}

#[tokio::test]
async fn a_sheet_of_the_record_starts_from_what_other_jobs_taught_of_the_lathe() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    for number in ["W-1", "W-2"] {
        let named = WINCH.replace("number = \"W-2611\"", &format!("number = {number:?}\nlathe = \"large lathe\""));
        let named = named.replace("draws = 200000", "draws = 2000");
        let back = shops.bring("POST", "/api/jobs", &owner, Some(("application/toml", named.into_bytes()))).await;
        assert_eq!(back.status, 200, "{}", back.text());
    }
    let believed = async || {
        let sheet = shops.get("/api/jobs/W-2/sheet", &owner).await.json();
        let turn = &sheet["seats"][0]["stages"][5];
        assert_eq!(turn["stage"], "turn");
        let lathe = turn["lines"].as_array().unwrap().iter().find(|line| line["label"] == "lathe").unwrap();
        format!("{} {}", lathe["value"].as_str().unwrap(), lathe["note"].as_str().unwrap())
    };
    assert!(believed().await.contains("no part was finished on it yet"), "{}", believed().await);
    turn_inboard(&shops.ledger, "W-1").await;
    assert!(believed().await.contains("believed from 1 part on this lathe"), "{}", believed().await);
    turn_inboard(&shops.ledger, "W-2").await;
    assert!(believed().await.contains("believed from 2 parts on this lathe"), "{}", believed().await);
}

/// Turns the bush of the seat inboard of `number`, by what a simulated lathe answered (job/tests/lathe.rs has the lathe).
async fn turn_inboard(ledger: &Ledger, number: &str) {
    let answers =
        ["241.640", "21.0", "36.0", "", "32.9", "241.220", "32.4", "", "30.2", "240.694", "0.001", "29.8", "", "28.2", "240.172", "done"];
    let state = job::fold(&ledger.job(number).await.unwrap().unwrap().into_entries());
    let wish = Wish { gauge: Some("ring"), cuts: None };
    let setup = setup(&state, "inboard", Surface::Outside, wish, &Alone).unwrap();
    let writer =
        Writer { job: number.into(), seat: "inboard".into(), who: "C. Owner".into(), device: "large lathe".into(), log: "log".into() };
    // The same answers in the same second in another job are other entries.
    let mut dialogue = Dialogue::open(writer, Surface::Outside, setup, &Log::default());
    let now = Now { when: "2026-03-02T08:00:00Z".into(), clocked: false };
    let mut entries = Vec::new();
    for answer in answers {
        let Reply::Keep(kept) = dialogue.answer(answer, &now) else { panic!("{answer} is not taken") };
        dialogue.accept(&kept);
        entries.push(kept.entry);
    }
    let taken = ledger.offer(&Author::at_the_machine("C. Owner"), entries).await.unwrap();
    assert!(taken.refused.is_empty(), "{:?}", taken.refused);
}

#[tokio::test]
async fn the_papers_of_a_job_are_given_on_the_paper_that_is_asked_for() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    shops.job(&owner, "pin/7").await;
    let at = |file: &str| format!("/api/jobs/pin%2F7/papers/{file}");
    let sheet = shops.get("/api/jobs/pin%2F7/sheet", &owner).await.json();
    let head = sheet["head"].as_str().unwrap();
    let seat = sheet["seats"][0]["name"].as_str().unwrap();
    for (file, begins) in [
        ("certificate.pdf", format!("%PDF Certificate pin/7 Letter {head}")),
        ("certificate.pdf?paper=a4", format!("%PDF Certificate pin/7 A4 {head}")),
        ("lathe-sheet.pdf?paper=tabloid", format!("%PDF Lathe sheet pin/7 / {seat} Letter {head}")),
        ("quote.pdf", "%PDF Quote pin/7 / link Letter".into()),
        ("drawing.pdf?paper=tabloid", "%PDF drawings pin/7 Tabloid ".into()),
        ("drawing.pdf", "%PDF drawings pin/7 Letter ".into()),
        ("results.json", "{".into()),
        ("results.csv", "seat,what,size_mm".into()),
    ] {
        let back = shops.get(&at(file), &owner).await;
        assert!(back.status == 200 && back.text().starts_with(&begins), "{file}: {} {}", back.status, back.text());
        let kind = back.headers["content-type"].to_str().unwrap();
        let ending = file.split('?').next().unwrap().rsplit('.').next().unwrap();
        assert!(kind.contains(ending), "{file} is said to be {kind}");
    }
    assert!(shops.get(&at("drawing.pdf"), &owner).await.text().contains(&format!("{seat} bush, {seat} seat")));
    for (file, status, words) in [
        ("invoice.pdf", 404, "certificate.pdf"),
        ("drawing.pdf?seat=nobody", 404, "a seat of this shop"),
        ("drawing.pdf?paper=a0", 400, "the query"),
        ("quote.pdf?colour=red", 400, "the query"),
    ] {
        let back = shops.get(&at(file), &owner).await;
        assert!(back.status == status && back.text().contains(words), "{file}: {} {}", back.status, back.text());
    }
    let bare =
        "[job]\nnumber = \"bare\"\ntitle = \"Nothing decided yet\"\nby = \"Teo\"\ndate = \"2026-11-09\"\n[seat.one]\nmachine = \"crane\"\n";
    let back = shops.bring("POST", "/api/jobs", &owner, Some(("application/toml", bare.into()))).await;
    assert_eq!(back.status, 200, "{}", back.text());
    for file in ["drawing.pdf", "lathe-sheet.pdf", "quote.pdf"] {
        let back = shops.get(&format!("/api/jobs/bare/papers/{file}"), &owner).await;
        assert!(back.status == 409 && back.said().contains("not to be made yet"), "{file}: {} {}", back.status, back.text());
    }
    assert_eq!(shops.get("/api/jobs/bare/papers/certificate.pdf", &owner).await.status, 200, "it says that it is none");
}

#[tokio::test]
async fn the_pages_load_nothing_from_elsewhere_and_what_describes_the_api_needs_no_script() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    for path in ["/", "/api"] {
        let page = shops.get(path, "").await;
        let policy = page.headers["content-security-policy"].to_str().unwrap();
        assert!(
            policy.starts_with("default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self' 'unsafe-inline'"),
            "{policy}"
        );
        let text = page.text();
        // Where the app was taken in, its page is the first one, with the one script that starts it.
        let text = if path == "/" { text.replace("<script type=\"module\" src=\"/start.js\">", "") } else { text };
        assert!(text.starts_with("<!doctype html>") && !text.contains("<script") && !text.contains("://"), "{path}");
    }
    let page = shops.get("/api", "").await.text();
    for part in ["/api/compute/{kind}", "compute.fit", "floor, office, owner", "JobSheet", "own_part_C"] {
        assert!(page.contains(part), "{part} is not on the page");
    }
    assert_eq!(server::description()["openapi"], "3.1.0");
    // Every form that is named is there.
    let text = server::description().to_string();
    for name in text.split("\"#/components/schemas/").skip(1).filter_map(|rest| rest.split('"').next()) {
        assert!(server::description()["components"]["schemas"][name].is_object(), "{name} is named but not described");
    }
    let figures = shops.get("/metrics", &owner).await.text();
    assert!(figures.contains("bushwright_requests_total"), "{figures}");
    assert_eq!(shops.get("/health", "").await.json()["well"], true);
}

#[tokio::test]
async fn a_file_of_the_app_comes_compressed_and_only_when_it_has_changed() {
    let shops = Shops::empty().await;
    let asked = |path: &'static str, headers: &[(&'static str, &str)]| {
        let mut request = request("GET", path, "", None);
        for (name, value) in headers {
            request.headers_mut().insert(*name, value.parse().unwrap());
        }
        request
    };
    let plain = shops.get("/app_bg.wasm", "").await;
    if plain.status == 404 {
        // A plain build has no app: then its first page says what else there is.
        assert!(shops.get("/", "").await.text().contains("What can be asked for"));
        return;
    }
    assert_eq!(plain.headers["content-type"], "application/wasm");
    let tag = plain.headers["etag"].to_str().unwrap().to_owned();
    for (accepted, way) in [("gzip, deflate, br, zstd", "br"), ("gzip, deflate", "gzip")] {
        let packed = shops.send(asked("/app_bg.wasm", &[("accept-encoding", accepted)])).await;
        assert_eq!((packed.status, &packed.headers["content-encoding"]), (200, &way.parse().unwrap()));
        assert!(packed.bytes.len() * 2 < plain.bytes.len(), "{way}: {} of {}", packed.bytes.len(), plain.bytes.len());
        assert_eq!(packed.headers["content-type"], "application/wasm");
    }
    let again = shops.send(asked("/app_bg.wasm", &[("if-none-match", &tag)])).await;
    assert_eq!((again.status, again.bytes.len()), (304, 0));
    for path in ["/app_bg.wasm.br", "/app_bg.wasm.gz", "/../Cargo.toml", "/nothing.js"] {
        assert_eq!(shops.get(path, "").await.status, 404, "{path}");
    }
}

#[tokio::test]
async fn sending_an_entry_twice_is_the_same_as_once() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    shops.job(&owner, "pin").await;
    let id: EntryId = shops.ledger.new_id();
    let note = json!({"entries": [{"id": id, "when": "2026-03-02", "what": {"kind": "event", "what": "note", "detail": "once"}}]});
    let first = shops.ask("POST", "/api/jobs/pin/entries", &owner, Some(note.clone())).await.json();
    let second = shops.ask("POST", "/api/jobs/pin/entries", &owner, Some(note)).await.json();
    assert_eq!((&first["taken"][0]["new"], &first["taken"][0]["number"]), (&json!(true), &second["taken"][0]["number"]));
    assert_eq!(second["taken"][0]["new"], false, "{second}");
    let other = json!({"entries": [{"id": id, "what": {"kind": "event", "what": "note", "detail": "twice"}}]});
    let third = shops.ask("POST", "/api/jobs/pin/entries", &owner, Some(other)).await;
    assert_eq!(third.status, 400, "another entry under the same name: {}", third.text());
}

#[tokio::test]
async fn when_the_disk_is_full_looking_goes_on_and_writing_is_refused_in_a_sentence() {
    let shops = Shops::empty().await;
    let owner = shops.owner(&shops.ledger, "C. Owner").await;
    shops.job(&owner, "pin").await;
    let before = shops.get("/api/jobs/pin", &owner).await.text();
    let full = Shops::opened(shops.folder.clone(), shops.clock.clone(), u64::MAX).await;
    for path in ["/health", "/api", "/api/session", "/api/jobs", "/api/jobs/pin/sheet", "/api/registers"] {
        assert_eq!(full.get(path, &owner).await.status, 200, "{path}");
    }
    let note = json!({"entries": [{"what": {"kind": "event", "what": "note", "detail": "one too many"}}]});
    let sign_in = json!({"name": "C. Owner", "password": PASSWORD, "shop": "own"});
    for (path, cookie, body) in [("/api/jobs/pin/entries", owner.as_str(), note), ("/api/session", "", sign_in)] {
        let back = full.ask("POST", path, cookie, Some(body)).await;
        assert_eq!(back.status, 507, "{path}: {}", back.text());
        assert!(back.said().contains("reading goes on"), "{}", back.said());
    }
    assert_eq!(full.get("/api/jobs/pin", &owner).await.text(), before);
}
