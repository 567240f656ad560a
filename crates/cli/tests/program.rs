//! The real binary, as a person or a script runs it: whole output, exit status, and that nothing is written when something is refused.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const DEMOS: [&str; 5] = ["ferry_ramp_winch", "turbine_guide_vanes", "crusher_pitman", "excavator_link_pin", "aluminium_gearbox"];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn bushwright(arguments: &[&str], input: &[u8]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_bushwright"));
    command.args(arguments).current_dir(root()).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let input = input.to_vec();
    // A child that refuses early closes its end: that is no failure of the test.
    let writer = std::thread::spawn(move || drop(pipe.write_all(&input)));
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    output
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// A folder of this test's own.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

#[test]
fn every_demo_is_worked_through_to_its_sheet() {
    for demo in DEMOS {
        let output = bushwright(&["job", &format!("demo/{demo}.toml")], b"");
        assert!(output.status.success(), "{demo}: {}", err(&output));
        insta::assert_snapshot!(demo, out(&output));
    }
}

#[test]
fn a_sheet_is_the_same_bytes_on_one_and_two_threads() {
    for demo in DEMOS {
        let file = format!("demo/{demo}.toml");
        let one = bushwright(&["job", &file, "--json", "--threads", "1"], b"");
        let two = bushwright(&["job", &file, "--json", "--threads", "2"], b"");
        assert!(one.stdout == two.stdout, "{demo} differs");
    }
}

#[test]
fn the_winch_turns_to_a_band_over_its_warm_bore() {
    // One figure of the demo: the bore was made as 240.031 mm at 20 °C and read at some 31 °C.
    let output = bushwright(&["job", "demo/ferry_ramp_winch.toml", "--json"], b"");
    let sheet: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let section = &sheet["seats"][0]["section"];
    let bore = section["housing_bore"]["mm"].as_f64().unwrap();
    assert!((bore - 240.031).abs() < 0.006, "{bore}");
    assert!(section["bush_outside"]["mm"].as_f64().unwrap() > bore + 0.05);
}

#[test]
fn the_aluminium_gearbox_gets_the_honest_answer() {
    let text = out(&bushwright(&["job", "demo/aluminium_gearbox.toml"], b""));
    assert!(text.contains("a press fit alone does not hold"), "{text}");
    assert!(text.contains("on the joint line"), "the retainer is sized: {text}");
}

#[test]
fn a_seat_or_a_stage_can_be_asked_for_alone() {
    let text = out(&bushwright(&["job", "demo/ferry_ramp_winch.toml", "--seat", "inboard", "--stage", "fit"], b""));
    assert!(text.contains("Seat inboard") && !text.contains("Seat outboard") && text.contains("Turn to") && !text.contains("\nStock\n"));
    let refused = bushwright(&["job", "demo/ferry_ramp_winch.toml", "--stage", "fitt"], b"");
    assert_eq!(refused.status.code(), Some(2));
    assert!(err(&refused).contains("write fit"), "{}", err(&refused));
}

#[test]
fn a_pdf_and_drawings_are_written_whole() {
    let folder = folder("papers");
    let pdf = folder.join("sheet.pdf");
    let svg = folder.join("svg");
    let output = bushwright(&["job", "demo/crusher_pitman.toml", "--pdf", pdf.to_str().unwrap(), "--svg", svg.to_str().unwrap()], b"");
    assert!(output.status.success(), "{}", err(&output));
    assert!(std::fs::read(&pdf).unwrap().starts_with(b"%PDF-"));
    let drawings: Vec<_> = std::fs::read_dir(&svg).unwrap().map(|entry| std::fs::read_to_string(entry.unwrap().path()).unwrap()).collect();
    assert!(
        drawings.len() >= 4 && drawings.iter().all(|svg| svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>")),
        "{}",
        drawings.len()
    );
}

#[test]
fn a_new_job_can_be_read_back_and_is_never_written_over() {
    let folder = folder("new");
    for (name, inch) in [("mm.toml", false), ("inch.toml", true)] {
        let file = folder.join(name);
        let place = file.to_str().unwrap();
        let mut arguments = vec!["job", "new", place];
        arguments.extend(inch.then_some("--inch"));
        assert!(bushwright(&arguments, b"").status.success());
        let check = bushwright(&["job", "check", place], b"");
        assert!(check.status.success(), "{name}: {}", err(&check));
        let again = bushwright(&arguments, b"");
        assert_eq!(again.status.code(), Some(2), "written over");
    }
}

#[test]
fn a_broken_file_is_refused_in_one_sentence_and_writes_nothing() {
    let folder = folder("broken");
    let whole = std::fs::read_to_string(root().join("demo/crusher_pitman.toml")).unwrap();
    let with = |from: &str, to: &str| {
        assert!(whole.contains(from), "the demo has no {from}");
        whole.replace(from, to).into_bytes()
    };
    let huge = vec![b'#'; 50 * 1024 * 1024];
    let mut not_text = whole.clone().into_bytes();
    not_text[40] = 0xff;
    let cases: Vec<(&str, Vec<u8>, &str)> = vec![
        ("words.toml", with("load = 620", "load = \"heavy\""), "duty.load"),
        ("nan.toml", with("load = 620", "load = nan"), "duty.load"),
        ("infinite.toml", with("load = 620", "load = inf"), "duty.load"),
        ("huge_size.toml", with("length = 300\nbore_left", "length = 1e300\nbore_left"), "bush.length"),
        ("inside_out.toml", with("bore = 361.2", "bore = 461.2"), "bore"),
        ("price.toml", with("price = \"15.8 ± 0.6\"", "price = -15.8"), "price"),
        ("alloy.toml", with("alloy = \"CC496K\"", "alloy = \"CC496\""), "CC496K"),
        ("key.toml", with("load = 620", "laod = 620"), "load"),
        ("twice.toml", with("load = 620", "load = 620\nload = 621"), "load"),
        ("mid_line.toml", whole.as_bytes()[..whole.find("load = 620").unwrap() + 6].to_vec(), ""),
        ("empty.toml", Vec::new(), "empty"),
        ("large.toml", huge, "5 MB"),
        ("latin.toml", not_text, "UTF-8"),
    ];
    for (name, bytes, word) in cases {
        let file = folder.join(name);
        std::fs::write(&file, bytes).unwrap();
        let pdf = folder.join(format!("{name}.pdf"));
        let output = bushwright(&["job", file.to_str().unwrap(), "--pdf", pdf.to_str().unwrap()], b"");
        let said = err(&output);
        assert_eq!(output.status.code(), Some(2), "{name}: {said}");
        assert!(output.stdout.is_empty() && !pdf.exists(), "{name}: something was written");
        assert!(said.trim_end().lines().count() == 1 && said.contains(word) && said.contains("allowed"), "{name}: {said}");
    }
    let absent = bushwright(&["job", folder.join("absent.toml").to_str().unwrap()], b"");
    assert_eq!(absent.status.code(), Some(2));
}

#[test]
fn windows_line_ends_and_a_byte_order_mark_are_simply_read() {
    let folder = folder("windows");
    let plain = std::fs::read_to_string(root().join("demo/crusher_pitman.toml")).unwrap();
    let file = folder.join("job.toml");
    std::fs::write(&file, format!("\u{feff}{}", plain.replace('\n', "\r\n"))).unwrap();
    let output = bushwright(&["job", file.to_str().unwrap(), "--stage", "fit"], b"");
    assert!(output.status.success(), "{}", err(&output));
    let same = bushwright(&["job", "demo/crusher_pitman.toml", "--stage", "fit"], b"");
    let body = |output: &Output| out(output).lines().skip(2).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(body(&output), body(&same));
}

#[test]
fn what_only_looks_odd_is_answered_with_a_warning_that_names_it() {
    let folder = folder("odd");
    let whole = std::fs::read_to_string(root().join("demo/aluminium_gearbox.toml")).unwrap();
    let slipped = whole
        .lines()
        .map(|line| if line.contains("[50, 90,") { line.replace("160.0", "185.0") } else { line.to_owned() })
        .collect::<Vec<_>>()
        .join("\n");
    let one_angle = whole
        .lines()
        .filter(|line| !(line.contains(", 45,") || line.contains(", 90,") || line.contains(", 135,")))
        .collect::<Vec<_>>()
        .join("\n");
    let cases = [
        ("slipped", slipped, "25"),
        ("one_angle", one_angle, "angle"),
        ("hot_shop", whole.replace("room = 21", "room = 60"), "60"),
        ("inches", whole.replace("length = 100\nbore_left", "length = 4\nbore_left"), "inch"),
    ];
    for (name, text, word) in cases {
        let file = folder.join(format!("{name}.toml"));
        std::fs::write(&file, text).unwrap();
        let output = bushwright(&["job", file.to_str().unwrap()], b"");
        assert!(output.status.success(), "{name}: {}", err(&output));
        let notes: Vec<String> =
            out(&output).lines().filter(|line| line.contains("note:") || line.contains("needs you")).map(str::to_owned).collect();
        let text = out(&output);
        assert!(notes.iter().any(|note| note.contains(word)) || text.contains(word), "{name}: {notes:?}");
    }
}

#[test]
fn compute_lists_explains_and_answers_every_kind() {
    let list = out(&bushwright(&["compute"], b""));
    insta::assert_snapshot!("kinds", list);
    for kind in calc::compute::KINDS {
        let keys = bushwright(&["compute", kind.name, "--keys"], b"");
        assert!(keys.status.success());
        if kind.run.is_some() {
            let output = bushwright(&["compute", kind.name, "--working"], kind.example.as_bytes());
            assert!(output.status.success(), "{}: {}", kind.name, err(&output));
        } else {
            let output = bushwright(&["compute", kind.name], b"{}");
            assert_eq!(output.status.code(), Some(2));
            assert!(err(&output).contains("not built yet"));
        }
    }
    insta::assert_snapshot!("keys_of_fit_choose", out(&bushwright(&["compute", "fit-choose", "--keys"], b"")));
}

#[test]
fn a_bad_request_is_one_line_on_standard_error() {
    for (kind, request, word) in [
        ("lobes", "{\"lobes\": 3, \"vees_deg\": [60]}", "vee_deg"),
        ("lobes", "{\"lobes\": 3, \"lobes\": 4}", "twice"),
        ("lobes", "{\"lobes\": NaN}", "JSON"),
        ("lobes", "", "empty"),
        ("lobes", "[3]", "object"),
        ("lobess", "{}", "lobes"),
        ("gauge-errors", "{\"effect\": \"tilt\", \"diameter_mm\": 1e300, \"offset_mm\": 1}", "diameter_mm"),
        ("gauge-errors", "{\"effect\": \"tilt\", \"diameter_mm\": 1e999, \"offset_mm\": 1}", "JSON"),
    ] {
        let output = bushwright(&["compute", kind], request.as_bytes());
        let said = err(&output);
        assert_eq!(output.status.code(), Some(2), "{request}: {said}");
        assert!(output.stdout.is_empty() && said.trim_end().lines().count() == 1 && said.contains(word), "{request}: {said}");
    }
}

#[test]
fn a_bad_line_is_answered_in_its_place_and_the_run_goes_on() {
    let lines = "{\"lobes\": 3}\nnot json\n\n{\"lobes\": -1}\r\n{\"lobes\": 5}\n";
    let output = bushwright(&["compute", "lobes", "--lines"], lines.as_bytes());
    assert!(output.status.success());
    let answers: Vec<serde_json::Value> = out(&output).lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(answers.len(), 4);
    assert!(
        answers[0]["error"].is_null()
            && answers[1]["error"]["do"].is_string()
            && answers[2]["error"]["key"] == "lobes"
            && answers[3]["error"].is_null()
    );
}

#[test]
fn a_table_of_runs_is_opened_by_its_path_alone_and_line_by_line() {
    let table = concat!(env!("CARGO_MANIFEST_DIR"), "/../../checks/measure/cut_runs.csv");
    let request = |path: &str| format!("{{\"runs_csv\": {path:?}, \"strategies\": [\"naive\"]}}\n");
    for arguments in [&["compute", "cut-trials"][..], &["compute", "cut-trials", "--lines"]] {
        let told: serde_json::Value = serde_json::from_str(&out(&bushwright(arguments, request(table).as_bytes()))).unwrap();
        // 13.60 % of the 2 000 runs: checks/measure/cut_results.json.
        assert_eq!(told["strategies"][0]["in_band"], 0.136, "{arguments:?}");
    }
    let lines = out(&bushwright(&["compute", "cut-trials", "--lines"], request("no such table.csv").as_bytes()));
    assert!(lines.contains("runs_csv") && lines.contains("mend the path"), "{lines}");
}
