//! The papers as a person gets them: shop drawings, lathe sheets, certificate, quote, results; read with an independent reader.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;

const DEMOS: [&str; 5] = ["aluminium_gearbox", "crusher_pitman", "excavator_link_pin", "ferry_ramp_winch", "turbine_guide_vanes"];

/// What the winch's file says more where its papers are for a customer.
const NAMED: [(&str, &str); 2] = [
    ("[shop]\n", "[shop]\nname = \"East quay repairs\"\ncurrency = \"EUR\"\nmargin = 0.15\n"),
    ("[brief.winch.bush]\n", "[brief.winch.bush]\nlot = \"M-4471\"\n"),
];

/// The winch, turned, fitted and released. Figures of our own, inside the bands that the sheet decides.
const FINISHED: &str = r#"
[gauge.large]
name = "outside micrometer 225-250, no. 12"
resolution = 0.001
repeatability = 0.001
repeats = 30
correction = "0.000 ± 0.001 mm"
temperature = 20
thermometer = 0.2
due = "2027-03-31"

[brief.winch.hole]
diameter = 10
angle = 0

[[seat.inboard.measure]]
of = "bush outside"
gauge = "large"
part_temperature = 20
gauge_temperature = 20
day = "2026-11-20"
readings = [240.134, 240.135, 240.134]

[[seat.inboard.measure]]
of = "fitted bore"
gauge = "stick"
part_temperature = 20
gauge_temperature = 20
day = "2026-11-21"
readings = [208.342, 208.343, 208.342]

[[seat.outboard.measure]]
of = "bush outside"
gauge = "large"
part_temperature = 20
gauge_temperature = 20
by = "Teo"
day = "2026-11-20"
readings = [240.168, 240.167, 240.168]

[[seat.outboard.measure]]
of = "fitted bore"
gauge = "stick"
part_temperature = 20
gauge_temperature = 20
by = "Teo"
day = "2026-11-21"
readings = [208.345, 208.344, 208.345]

[[seat.inboard.signature]]
by = "Runa"
role = "released"
day = "2026-11-22"

[[seat.outboard.signature]]
by = "Runa"
role = "released"
day = "2026-11-22"
"#;

/// A correction after the release.
const CORRECTED: &str = r#"
[[brief.winch.correction]]
of = "bush.lead"
to = 6
because = "the lead was cut longer"
by = "Teo"
day = "2026-11-24"
"#;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("papers_{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn bushwright(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_bushwright")).args(arguments).current_dir(root()).output().unwrap()
}

fn done(arguments: &[&str]) -> String {
    let output = bushwright(arguments);
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// A job file of this test's own, with few draws.
fn job(folder: &Path, demo: &str, more: &str) -> String {
    let text = std::fs::read_to_string(root().join(format!("demo/{demo}.toml"))).unwrap();
    let place = folder.join(format!("{demo}.toml"));
    let mut text = text.replace("draws = 200000", "draws = 2000");
    if !more.is_empty() {
        for (from, to) in NAMED {
            assert!(text.contains(from));
            text = text.replace(from, to);
        }
    }
    std::fs::write(&place, text + more).unwrap();
    place.to_str().unwrap().to_owned()
}

fn read(pdf: &Path) -> String {
    let output = Command::new("pdftotext").args(["-layout", pdf.to_str().unwrap(), "-"]).output().unwrap();
    assert!(output.status.success());
    // The minus of mathematics is set for a hyphen before a figure.
    String::from_utf8(output.stdout).unwrap().replace('\u{2212}', "-")
}

/// The words alone: a cell may be broken over lines.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn pages(pdf: &Path) -> usize {
    let output = Command::new("pdfinfo").arg(pdf).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    text.lines().find_map(|line| line.strip_prefix("Pages:")).unwrap().trim().parse().unwrap()
}

const KINDS: [&str; 4] = ["drawing", "lathe-sheet", "certificate", "quote"];

fn all(file: &str, folder: &Path) -> Vec<(&'static str, PathBuf)> {
    let places: Vec<_> = KINDS.iter().map(|kind| (*kind, folder.join(format!("{kind}.pdf")))).collect();
    let mut arguments = vec!["job".to_owned(), file.to_owned()];
    for (kind, place) in &places {
        arguments.extend([format!("--{kind}"), place.to_str().unwrap().to_owned()]);
    }
    done(&arguments.iter().map(String::as_str).collect::<Vec<_>>());
    places
}

#[test]
fn every_paper_of_every_demo_is_set_and_kept_for_decades() {
    for demo in DEMOS {
        let folder = folder(demo);
        let file = job(&folder, demo, "");
        let sheet: Value = serde_json::from_str(&done(&["job", &file, "--json"])).unwrap();
        let seats = sheet["seats"].as_array().unwrap().len();
        for (kind, pdf) in all(&file, &folder) {
            let bytes = std::fs::read(&pdf).unwrap();
            let text = String::from_utf8_lossy(&bytes);
            // PDF/A-2a as its metadata claims it, tagged, with a language; ISO 19005-2, 6.6.4 and 6.7.
            for mark in ["<pdfaid:part>2", "<pdfaid:conformance>A", "/MarkInfo", "/StructTreeRoot", "/Lang", "/OutputIntents"] {
                assert!(text.contains(mark), "{demo} {kind} lacks {mark}");
            }
            for forbidden in ["/Encrypt", "/JavaScript", "/Launch", "/EmbeddedFiles"] {
                assert!(!text.contains(forbidden), "{demo} {kind} has {forbidden}");
            }
            let fonts = Command::new("pdffonts").arg(&pdf).output().unwrap();
            for font in String::from_utf8(fonts.stdout).unwrap().lines().skip(2) {
                let columns: Vec<&str> = font.split_whitespace().rev().collect();
                assert_eq!(columns[4], "yes", "{demo} {kind}: not embedded: {font}");
            }
            match kind {
                "drawing" => assert_eq!(pages(&pdf), 2 * seats, "{demo}"),
                "lathe-sheet" => assert_eq!(pages(&pdf), seats, "{demo}: a page a seat"),
                _ => {}
            }
        }
    }
}

#[test]
fn the_figures_of_the_papers_are_those_of_the_sheet() {
    let folder = folder("figures");
    let file = job(&folder, "ferry_ramp_winch", &format!("{FINISHED}{CORRECTED}"));
    let sheet: Value = serde_json::from_str(&done(&["job", &file, "--json"])).unwrap();
    let papers = all(&file, &folder);
    let text = |kind: &str| words(&read(&papers.iter().find(|(known, _)| *known == kind).unwrap().1));
    let (drawing, lathe, certificate, quote) = (text("drawing"), text("lathe-sheet"), text("certificate"), text("quote"));
    for seat in sheet["seats"].as_array().unwrap() {
        for size in ["outside", "bore", "length", "housing_bore", "journal"] {
            for line in seat["drawing"][size]["lines"].as_array().unwrap() {
                assert!(drawing.contains(line.as_str().unwrap()), "the drawing lacks {size} {line}");
            }
        }
        let stage = |name: &str| seat["stages"].as_array().unwrap().iter().find(|stage| stage["stage"] == name).unwrap();
        for (name, paper) in [("turn", &lathe), ("seat", &lathe)] {
            for grid in stage(name)["grids"].as_array().unwrap() {
                for cell in grid["rows"].as_array().unwrap().iter().flat_map(|row| row.as_array().unwrap()) {
                    assert!(paper.contains(cell.as_str().unwrap()), "the lathe sheet lacks {cell}");
                }
            }
            for caution in stage(name)["cautions"].as_array().unwrap() {
                assert!(paper.contains(&words(caution.as_str().unwrap())), "the lathe sheet lacks the caution {caution}");
            }
        }
        let requirements = stage("release")["grids"].as_array().unwrap().iter().find(|grid| grid["title"] == "Requirements").unwrap();
        for row in requirements["rows"].as_array().unwrap() {
            for cell in [1, 2].map(|column| row[column].as_str().unwrap()) {
                assert!(certificate.contains(cell), "the certificate lacks {cell}");
            }
        }
    }
    let head = sheet["head"].as_str().unwrap();
    assert!(certificate.contains(head) && drawing.contains(&head[..8]));
    for said in ["the lead was cut longer", "after release", "Decision rule", "2027-03-31", "meets", "M-4471", "East quay repairs"] {
        assert!(certificate.contains(said), "the certificate lacks {said}");
    }
    assert!(
        certificate.contains("released, last by Runa on 2026-11-22") && certificate.contains("no certificate until it is signed again")
    );
    assert!(drawing.contains("Runa, released, 2026-11-22") && drawing.contains("(⌀ 240.0333"), "{drawing}");
    assert!(quote.contains("every piece right the first time") && quote.contains("EUR, 95 % likely"), "{quote}");
}

#[test]
fn what_is_met_and_signed_is_certified_and_each_reading_named_by_its_entry() {
    let folder = folder("released");
    let file = job(&folder, "ferry_ramp_winch", FINISHED);
    let pdf = folder.join("certificate.pdf");
    done(&["job", &file, "--certificate", pdf.to_str().unwrap()]);
    let certificate = words(&read(&pdf));
    assert!(certificate.contains("Every requirement below is met") && certificate.contains("nothing added"), "{certificate}");
    assert!(
        !certificate.contains("Open") && !certificate.contains("no certificate") && !certificate.contains("Corrections"),
        "{certificate}"
    );
    // The hash of an entry is checked by hand against the export of a ledger that took the file in: same entries, same chain.
    let sheet: Value = serde_json::from_str(&done(&["job", &file, "--json"])).unwrap();
    // A job with a seat and no more: no heading over nothing.
    let bare = folder.join("bare.toml");
    std::fs::write(&bare, "[job]\nnumber = \"bare\"\nby = \"Teo\"\ndate = \"2026-11-09\"\n[seat.one]\nmachine = \"crane\"\n").unwrap();
    let empty = folder.join("bare.pdf");
    done(&["job", bare.to_str().unwrap(), "--certificate", empty.to_str().unwrap()]);
    let text = read(&empty);
    assert!(["Requirements", "Gauges", "Readings", "Decision rule"].iter().all(|heading| !text.contains(heading)), "{text}");
    let head = sheet["head"].as_str().unwrap();
    let last = certificate.split_whitespace().filter_map(|word| word.strip_suffix(':')?.parse::<usize>().ok()).max().unwrap();
    assert!(certificate.contains(&format!("{last}: {}", &head[..12])), "the last signature's hash is the head: {certificate}");
}

#[test]
fn what_was_read_at_the_lathe_stands_on_the_certificate() {
    let folder = folder("lathe");
    let outside = FINISHED.split("[[seat.inboard.measure]]\nof = \"bush outside\"").collect::<Vec<_>>();
    let (before, after) = (outside[0], outside[1].split_once("[[").unwrap().1);
    let unsigned = format!("{before}[[{}", after.split("[[seat.inboard.signature]]").next().unwrap());
    let file = job(&folder, "ferry_ramp_winch", &unsigned);
    let answers = "241.640\n21.0\n36.0\n\n32.9\n241.220\n32.4\n\n30.2\n240.694\n0.001\n29.8\n\n28.2\n240.172\ndone\n";
    let mut turn = Command::new(env!("CARGO_BIN_EXE_bushwright"));
    turn.args(["turn", &file, "inboard", "--gauge", "large", "--clock", "2026-11-20T08:00:00Z"]);
    let mut child = turn.stdin(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(answers.as_bytes()).unwrap();
    assert!(child.wait().unwrap().success());
    let pdf = folder.join("certificate.pdf");
    done(&["job", &file, "--certificate", pdf.to_str().unwrap()]);
    let certificate = words(&read(&pdf));
    let sheet: Value = serde_json::from_str(&done(&["job", &file, "--json"])).unwrap();
    let release = sheet["seats"][0]["stages"].as_array().unwrap().iter().find(|stage| stage["stage"] == "release").unwrap();
    let measured = release["grids"][0]["rows"][0][2].as_str().unwrap();
    assert!(measured.contains(" ± ") && certificate.contains(measured), "{measured}: {certificate}");
    assert!(certificate.contains("bush outside, at the lathe") && certificate.contains("air 21 °C 3 Runa"), "{certificate}");
    assert!(certificate.contains("3 outside micrometer 225-250, no. 12"), "{certificate}");
}

#[test]
fn the_code_on_a_certificate_is_held_against_the_ledger() {
    let folder = folder("code");
    let file = job(&folder, "ferry_ramp_winch", FINISHED);
    let store = folder.join("shop.ledger").to_str().unwrap().to_owned();
    done(&["job", "import", &file, "--by", "Teo", "--store", &store]);
    let (of_file, of_ledger) = (folder.join("file.pdf"), folder.join("ledger.pdf"));
    done(&["job", &file, "--certificate", of_file.to_str().unwrap()]);
    done(&["job", "W-2611", "--store", &store, "--certificate", of_ledger.to_str().unwrap()]);
    assert!(std::fs::read(&of_file).unwrap() == std::fs::read(&of_ledger).unwrap(), "file and ledger differ");
    let sheet: Value = serde_json::from_str(&done(&["job", "W-2611", "--store", &store, "--json"])).unwrap();
    let head = sheet["head"].as_str().unwrap();
    let code = format!("bushwright head {head} W-2611");
    assert!(done(&["ledger", "verify", "--store", &store, "--code", &code]).contains("nothing was added since"));
    let verify = |code: &str| {
        let output = bushwright(&["ledger", "verify", "--store", &store, "--code", code]);
        (output.status.code(), String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap())
    };
    let other = if head.starts_with('0') { "1" } else { "0" };
    for (code, status, words) in [
        (format!("bushwright head {other}{} W-2611", &head[1..]), 1, "never had the head"),
        (format!("bushwright head {head} W-2612"), 1, "not in this ledger"),
        ("a page of something else".into(), 2, "allowed: bushwright head HASH JOB"),
    ] {
        let (found, said) = verify(&code);
        assert!(found == Some(status) && said.contains(words), "{code}: {found:?} {said}");
    }
    // What is added later is said; the paper still is of this record.
    let text = std::fs::read_to_string(&file).unwrap() + CORRECTED;
    std::fs::write(&file, text).unwrap();
    done(&["job", "import", &file, "--by", "Teo", "--store", &store]);
    let (found, said) = verify(&code);
    assert!(found == Some(0) && said.contains("1 entry added since"), "{said}");
    // One letter of one entry on the disk.
    let mut bytes = std::fs::read(&store).unwrap();
    let words = b"the lead was cut longer";
    let places: Vec<usize> = bytes.windows(words.len()).enumerate().filter(|(_, here)| here == words).map(|(at, _)| at).collect();
    assert!(!places.is_empty());
    for at in places {
        bytes[at] = b'T';
    }
    std::fs::write(&store, bytes).unwrap();
    let (found, said) = verify(&code);
    assert!(found == Some(1) && said.contains("it was changed") && said.contains("can't be held against"), "{said}");
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    let file = "demo/excavator_link_pin.toml";
    let (one, two) = (folder("bytes_1"), folder("bytes_2"));
    for ((kind, a), (_, b)) in all(file, &one).into_iter().zip(all(file, &two)) {
        assert!(std::fs::read(a).unwrap() == std::fs::read(b).unwrap(), "{kind} differs");
    }
}

#[test]
fn sixty_seats_stand_on_one_certificate_with_tidy_pages() {
    let folder = folder("sixty");
    let text = std::fs::read_to_string(root().join("demo/excavator_link_pin.toml")).unwrap();
    let text = text
        .replace("draws = 200000", "draws = 1000")
        .replace("[seat.\"lower link\"]\nbrief = \"link\"", "[seat.\"lower link\"]\nbrief = \"link\"\ncount = 60");
    let file = folder.join("sixty.toml");
    std::fs::write(&file, text).unwrap();
    let pdf = folder.join("certificate.pdf");
    done(&["job", file.to_str().unwrap(), "--certificate", pdf.to_str().unwrap()]);
    let text = read(&pdf);
    for seat in 1..=60 {
        assert!(text.contains(&format!("lower link {seat} ")), "seat {seat} is missing");
    }
    let full: Vec<usize> = text.split('\u{c}').map(|page| page.lines().filter(|line| !line.trim().is_empty()).count()).collect();
    assert!(full.iter().take(full.len() - 1).all(|lines| *lines > 8), "a page holds hardly anything: {full:?}");
}

#[test]
fn results_are_data_with_every_digit() {
    let folder = folder("results");
    let file = job(&folder, "ferry_ramp_winch", FINISHED);
    let (json, csv) = (folder.join("results.json"), folder.join("results.csv"));
    done(&["job", &file, "--results", json.to_str().unwrap()]);
    done(&["job", &file, "--results", csv.to_str().unwrap()]);
    let json: Value = serde_json::from_str(&std::fs::read_to_string(json).unwrap()).unwrap();
    let csv = std::fs::read_to_string(csv).unwrap();
    let rows: Vec<&str> = csv.split_terminator("\r\n").collect();
    let results = json["results"].as_array().unwrap();
    assert_eq!(rows.len(), results.len() + 1);
    for (row, result) in rows.iter().skip(1).zip(results) {
        for key in ["size_mm", "u_mm", "k", "expanded_mm"] {
            let figure = &result[key];
            assert!(figure.is_null() || row.contains(&figure.to_string()), "{row} lacks {figure}");
        }
    }
    let outside = results.iter().find(|row| row["what"] == "outside of the bush in its band" && row["seat"] == "inboard").unwrap();
    assert_eq!(outside["verdict"], "meets");
    let (k, u, expanded) = (outside["k"].as_f64().unwrap(), outside["u_mm"].as_f64().unwrap(), outside["expanded_mm"].as_f64().unwrap());
    assert!((k * u - expanded).abs() < 1e-15);
}

#[test]
fn a_name_that_fits_no_paper_and_a_job_without_a_band_are_refused() {
    let folder = folder("refused");
    let file = "demo/excavator_link_pin.toml";
    for (arguments, words) in
        [(["--certificate", "cert.txt"], ".pdf"), (["--quote", "quote"], ".pdf"), (["--results", "results.xml"], ".json or .csv")]
    {
        let place = folder.join(arguments[1]);
        let refused = bushwright(&["job", file, arguments[0], place.to_str().unwrap()]);
        assert_eq!(refused.status.code(), Some(2));
        assert!(String::from_utf8_lossy(&refused.stderr).contains(words) && !place.exists());
    }
    let empty = folder.join("new.toml");
    done(&["job", "new", empty.to_str().unwrap()]);
    let bare = std::fs::read_to_string(&empty).unwrap();
    std::fs::write(&empty, bare.lines().filter(|line| !line.contains("outside")).collect::<Vec<_>>().join("\n")).unwrap();
    let pdf = folder.join("drawing.pdf");
    let refused = bushwright(&["job", empty.to_str().unwrap(), "--drawing", pdf.to_str().unwrap()]);
    assert!(!pdf.exists() && !refused.status.success(), "a drawing of nothing");
}
