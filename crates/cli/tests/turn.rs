//! The dialogue at the lathe as a person or a script runs it: whole output, what is kept, and that nothing is lost or written over.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

const DEMO: &str = include_str!("../../../demo/ferry_ramp_winch.toml");
const INCH: &str = include_str!("../../../demo/excavator_link_pin.toml");
/// What a simulated lathe answered for the outside of the winch's bush (job/tests/lathe.rs has the lathe).
const OUTSIDE: [&str; 15] =
    ["241.640", "21.0", "36.0", "", "32.9", "241.220", "32.4", "", "30.2", "240.694", "0.001", "29.8", "", "28.2", "240.172"];
/// The same for its bore after fitting.
const BORE: [&str; 15] =
    ["206.870", "21.0", "36.0", "", "32.9", "207.423", "32.4", "", "30.2", "207.896", "0.001", "29.8", "", "28.2", "208.373"];

fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_bushwright"));
    command.args(arguments).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn bushwright(arguments: &[&str], input: &str) -> Output {
    let mut child = command(arguments).spawn().unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let input = input.to_owned();
    // A child that refuses early closes its end: that is no failure of the test.
    let writer = std::thread::spawn(move || drop(pipe.write_all(input.as_bytes())));
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

/// A shop of this test's own with a winch in it.
struct Shop {
    folder: PathBuf,
}

impl Shop {
    fn new(name: &str) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("turn_{name}"));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).unwrap();
        let shop = Self { folder };
        let named = DEMO.replace("by = \"Runa\"\ndate", "by = \"Runa\"\nlathe = \"large lathe\"\ndate");
        shop.write("winch.toml", named.replace("draws = 200000", "draws = 2000").as_bytes());
        shop.write("link.toml", INCH.replace("draws = 200000", "draws = 2000").as_bytes());
        shop
    }

    fn place(&self, name: &str) -> String {
        self.folder.join(name).to_str().unwrap().to_owned()
    }

    fn write(&self, name: &str, bytes: &[u8]) {
        std::fs::write(self.folder.join(name), bytes).unwrap();
    }

    fn read(&self, name: &str) -> String {
        String::from_utf8(std::fs::read(self.folder.join(name)).unwrap()).unwrap()
    }

    fn arguments<'a>(file: &'a str, seat: &'a str, more: &[&'a str]) -> Vec<&'a str> {
        [&["turn", file, seat, "--clock", "2026-11-20T08:00:00Z"], more].concat()
    }

    /// A dialogue through a pipe.
    fn turn(&self, file: &str, seat: &str, more: &[&str], answers: &[&str]) -> Output {
        let file = self.place(file);
        bushwright(&Self::arguments(&file, seat, more), &answers.iter().map(|answer| format!("{answer}\n")).collect::<String>())
    }

    /// A dialogue that waits for what follows `answers`.
    fn waiting(&self, more: &[&str], answers: &[&str]) -> Child {
        let file = self.place("winch.toml");
        let mut child = command(&Self::arguments(&file, "inboard", more)).spawn().unwrap();
        let text: String = answers.iter().map(|answer| format!("{answer}\n")).collect();
        child.stdin.as_mut().unwrap().write_all(text.as_bytes()).unwrap();
        let mut said = Vec::new();
        let stdout = child.stdout.as_mut().unwrap();
        let mut byte = [0];
        // Each question ends in one such mark.
        while String::from_utf8_lossy(&said).matches(" > ").count() <= answers.len() {
            assert_eq!(stdout.read(&mut byte).unwrap(), 1, "ended: {}", String::from_utf8_lossy(&said));
            said.push(byte[0]);
        }
        child
    }
}

const RING: [&str; 2] = ["--gauge", "ring"];

#[test]
fn a_good_run_through_a_pipe_lands_and_its_replay_is_the_same_bytes() {
    let shop = Shop::new("good");
    let answers = [&OUTSIDE[..], &["done"]].concat();
    let live = shop.turn("winch.toml", "inboard", &RING, &answers);
    assert!(live.status.success(), "{}", err(&live));
    insta::assert_snapshot!("good_run", out(&live));
    let log = shop.read("winch.log.jsonl");
    assert_eq!(log.lines().count(), answers.len());
    let place = shop.place("winch.log.jsonl");
    let again = shop.turn("winch.toml", "inboard", &["--replay", &place], &[]);
    assert_eq!(out(&again), out(&live));
    assert_eq!(shop.read("winch.log.jsonl"), log, "a replay writes nothing");
    let file = shop.place("winch.toml");
    let sheet = out(&bushwright(&["job", &file, "--seat", "inboard", "--stage", "turn"], ""));
    insta::assert_snapshot!("sheet_after", sheet);
    let release = out(&bushwright(&["job", &file, "--seat", "inboard", "--stage", "release"], ""));
    assert!(release.contains("240.1377 ± 0.0075 mm") && release.contains("at the lathe, after the last cut"), "{release}");
}

#[test]
fn a_blunder_is_said_and_asked_again() {
    let shop = Shop::new("blunder");
    let live = shop.turn("winch.toml", "inboard", &RING, &["241.640", "21.0", "36.0", "", "32.9", "241.720", "241.220", "stop"]);
    insta::assert_snapshot!("blunder", out(&live).split("CAUTION").last().unwrap());
}

#[test]
fn wrong_answers_are_one_sentence_each_and_lose_nothing() {
    let shop = Shop::new("wrong");
    let live = shop.turn(
        "winch.toml",
        "inboard",
        &RING,
        &["2416.4", "241,64", "241.64", "hot", "21 bar", "?", "21.0", "undo typed twice", "21.0", "skip", "12"],
    );
    assert!(live.status.success(), "{}", err(&live));
    insta::assert_snapshot!("wrong_answers", out(&live).split("CAUTION").last().unwrap());
    assert_eq!(shop.read("winch.log.jsonl").lines().count(), 5);
}

#[test]
fn an_inch_job_is_turned_in_inches() {
    let shop = Shop::new("inch");
    let live = shop.turn("link.toml", "lower link", &[], &["4.312", "70", "95", "", "91 after 4 min", "4.29560 4.29570", "109.10 mm"]);
    assert!(live.status.success(), "{}", err(&live));
    insta::assert_snapshot!("inch", out(&live).split("CAUTION").last().unwrap());
}

#[test]
fn a_bore_after_fitting_starts_from_its_size_less_the_close_in() {
    let shop = Shop::new("inside");
    let answers = [&BORE[..], &["done"]].concat();
    let live = shop.turn("winch.toml", "inboard", &["--inside"], &answers);
    insta::assert_snapshot!("inside", out(&live).split("CAUTION").last().unwrap());
    let file = shop.place("winch.toml");
    let bore = out(&bushwright(&["job", &file, "--seat", "inboard", "--stage", "bore"], ""));
    assert!(bore.contains("Cuts at the lathe"), "{bore}");
}

#[test]
fn a_dialogue_that_is_killed_between_answers_loses_none_and_goes_on() {
    let shop = Shop::new("killed");
    let whole = Shop::new("not_killed");
    let answers = [&OUTSIDE[..], &["done"]].concat();
    whole.turn("winch.toml", "inboard", &RING, &answers);
    for at in [1, 4, 6, 11] {
        let _ = std::fs::remove_file(shop.place("winch.log.jsonl"));
        let mut child = shop.waiting(&RING, &answers[..at]);
        child.kill().unwrap();
        child.wait().unwrap();
        assert_eq!(shop.read("winch.log.jsonl").lines().count(), at, "what was answered is on the disk");
        let rest = shop.turn("winch.toml", "inboard", &RING, &answers[at..]);
        assert!(out(&rest).contains("  goes on") && rest.status.success(), "{}{}", out(&rest), err(&rest));
        let end = |text: &str| text.lines().rev().take_while(|line| !line.starts_with("done,")).map(str::to_owned).collect::<Vec<_>>();
        let unbroken = whole.turn("winch.toml", "inboard", &["--replay", &whole.place("winch.log.jsonl")], &[]);
        assert_eq!(end(&out(&rest)), end(&out(&unbroken)), "killed after {at} answers");
    }
}

#[test]
fn a_half_written_line_is_kept_aside_and_the_dialogue_goes_on_before_it() {
    let shop = Shop::new("torn");
    shop.turn("winch.toml", "inboard", &RING, &OUTSIDE[..6]);
    let log = shop.read("winch.log.jsonl");
    let cut = log.len() - 30;
    shop.write("winch.log.jsonl", &log.as_bytes()[..cut]);
    let file = shop.place("winch.toml");
    let sheet = out(&bushwright(&["job", &file, "--stage", "turn"], ""));
    assert!(sheet.contains("written half"), "{sheet}");
    let rest = shop.turn("winch.toml", "inboard", &RING, &["241.220"]);
    let said = out(&rest);
    assert!(said.contains("written half") && said.contains("winch.log.jsonl.torn"), "{said}");
    assert!(said.contains("gauge on the part, mm > 241.220"), "the same is asked again: {said}");
    let kept: Vec<&str> = log.lines().collect();
    assert_eq!(shop.read("winch.log.jsonl").lines().collect::<Vec<_>>()[..5], kept[..5]);
    assert!(kept[5].starts_with(shop.read("winch.log.jsonl.torn").trim_end()));
    assert_eq!(shop.read("winch.log.jsonl").lines().count(), 6);
    assert!(bushwright(&["job", &file, "--stage", "turn"], "").status.success());
}

#[test]
fn a_whole_last_line_without_its_end_counts() {
    let shop = Shop::new("no_end");
    shop.turn("winch.toml", "inboard", &RING, &OUTSIDE[..6]);
    let log = shop.read("winch.log.jsonl");
    shop.write("winch.log.jsonl", log.trim_end().as_bytes());
    let rest = shop.turn("winch.toml", "inboard", &RING, &["32.4"]);
    assert!(out(&rest).contains("part before the cut") && !shop.folder.join("winch.log.jsonl.torn").exists());
    assert!(shop.read("winch.log.jsonl").starts_with(&log) && shop.read("winch.log.jsonl").lines().count() == 7);
}

#[test]
fn a_log_that_can_not_be_trusted_is_refused_in_a_sentence_and_stays_as_it_is() {
    let shop = Shop::new("refused");
    shop.turn("winch.toml", "inboard", &RING, &OUTSIDE[..6]);
    let log = shop.read("winch.log.jsonl");
    let cases = [
        ("changed", log.replace("\"values_C\":[36.0]", "\"values_C\":[26.0]"), "line 3"),
        ("unknown", log.replace("\"step\":\"size\"", "\"step\":\"sise\""), "line 6"),
        ("other_job", log.replace("W-2611", "W-2612"), "line 1"),
        ("dropped", log.lines().enumerate().filter(|(i, _)| *i != 1).map(|(_, line)| format!("{line}\n")).collect(), "line 2"),
        ("no_log", "hello\n".into(), "line 1"),
    ];
    for (name, text, line) in cases {
        assert_ne!(text, log, "{name}");
        shop.write("winch.log.jsonl", text.as_bytes());
        let refused = shop.turn("winch.toml", "inboard", &RING, &["241.22"]);
        let said = err(&refused);
        assert_eq!(refused.status.code(), Some(2), "{name}: {said}");
        assert!(said.trim_end().lines().count() == 1 && said.contains(line) && said.contains("allowed"), "{name}: {said}");
        assert!(refused.stdout.is_empty() && shop.read("winch.log.jsonl") == text, "{name}: something was written");
        let file = shop.place("winch.toml");
        assert_eq!(bushwright(&["job", &file], "").status.code(), Some(2), "{name}: the sheet is not made on it either");
    }
}

#[test]
fn two_dialogues_at_once_are_refused_and_the_first_goes_on() {
    let shop = Shop::new("two");
    let mut first = shop.waiting(&RING, &OUTSIDE[..2]);
    let second = shop.turn("winch.toml", "inboard", &RING, &["36.0"]);
    assert_eq!(second.status.code(), Some(2));
    assert!(err(&second).contains("another dialogue") && second.stdout.is_empty(), "{}", err(&second));
    first.stdin.take().unwrap().write_all(b"36.0\n").unwrap();
    let output = first.wait_with_output().unwrap();
    assert!(output.status.success() && shop.read("winch.log.jsonl").lines().count() == 3);
    assert!(shop.turn("winch.toml", "inboard", &RING, &["stop"]).status.success(), "the lock ends with the dialogue");
}

#[test]
fn two_that_begin_a_log_together_do_not_mix() {
    let shop = Shop::new("together");
    let mut first = shop.waiting(&RING, &[]);
    let mut second = shop.waiting(&RING, &[]);
    second.stdin.take().unwrap().write_all(b"241.64\n").unwrap();
    assert!(second.wait_with_output().unwrap().status.success());
    first.stdin.take().unwrap().write_all(b"241.60\n").unwrap();
    let output = first.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("began it meanwhile"), "{}", err(&output));
    assert_eq!(shop.read("winch.log.jsonl").lines().count(), 1);
}

#[test]
fn who_only_looks_leaves_no_file() {
    let shop = Shop::new("looks");
    let output = shop.turn("winch.toml", "inboard", &RING, &["?", "stop"]);
    assert!(output.status.success() && out(&output).contains("stopped here  not started"), "{}", out(&output));
    assert!(!shop.folder.join("winch.log.jsonl").exists());
}

#[test]
fn a_band_that_moved_meanwhile_is_said_and_used() {
    let shop = Shop::new("moved");
    shop.turn("winch.toml", "inboard", &RING, &OUTSIDE[..6]);
    let decided = "\n[[seat.inboard.decision]]\nquestion = \"band\"\nlow = 240.100\nhigh = 240.140\nbecause = \"the hole was honed\"\n";
    shop.write("winch.toml", format!("{}{decided}", shop.read("winch.toml")).as_bytes());
    let rest = out(&shop.turn("winch.toml", "inboard", &RING, &["32.4"]));
    assert!(rest.contains("noted: the band was moved in the job, to 240.100 to 240.140 mm at 20 °C"), "{rest}");
    let again = out(&shop.turn("winch.toml", "inboard", &RING, &[]));
    assert!(!again.contains("noted: the band was moved"), "once: {again}");
}

#[test]
fn a_lathe_is_learned_from_the_logs_of_the_folder() {
    let shop = Shop::new("learned");
    shop.turn("winch.toml", "inboard", &RING, &[&OUTSIDE[..], &["done"]].concat());
    let other = shop.read("winch.toml").replace("W-2611", "W-2612");
    shop.write("second.toml", other.as_bytes());
    let opening = out(&shop.turn("second.toml", "outboard", &RING, &[]));
    assert!(opening.contains("large lathe: believed from 1 part on this lathe; the usual belief counts as much as 3"), "{opening}");
    let file = shop.place("second.toml");
    let sheet = out(&bushwright(&["job", &file, "--seat", "outboard", "--stage", "turn"], ""));
    insta::assert_snapshot!("learned", sheet);
    shop.write("third.log.jsonl", b"not a log\n");
    let noted = out(&bushwright(&["job", &file, "--seat", "outboard", "--stage", "turn"], ""));
    assert!(noted.contains("third.log.jsonl") && noted.contains("What is believed of this lathe"), "{noted}");
    std::fs::remove_file(shop.place("winch.log.jsonl")).unwrap();
    let forgotten = out(&shop.turn("second.toml", "outboard", &RING, &[]));
    assert!(forgotten.contains("no part was finished on it yet"), "{forgotten}");
}

#[test]
fn a_seat_or_gauge_that_is_not_there_is_refused() {
    let shop = Shop::new("unknown");
    for (seat, more, word) in
        [("inbord", &[][..], "inboard"), ("inboard", &["--gauge", "rings"][..], "ring"), ("inboard", &["--cuts", "0"][..], "1 to 20")]
    {
        let refused = shop.turn("winch.toml", seat, more, &[]);
        assert_eq!(refused.status.code(), Some(2));
        assert!(err(&refused).contains(word) && err(&refused).trim_end().lines().count() == 1, "{}", err(&refused));
    }
    let place = shop.place("absent.log.jsonl");
    assert_eq!(shop.turn("winch.toml", "inboard", &["--replay", &place], &[]).status.code(), Some(2));
}
