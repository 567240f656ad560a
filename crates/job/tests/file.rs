//! The job file: what it amounts to, the file to start from, and the reference.
#![allow(clippy::unwrap_used, reason = "a test that can't read its own file has failed")]

use job::check::{Lack, missing};
use job::facts::{FACTS, Stands};
use job::file::{read, sample};
use job::new::new_file;
use job::open;
use job::sheet::Stage;
use job::state::{Feature, Given, Seat, State, Units};

const WINCH: &str = include_str!("winch.toml");

fn state(text: &str) -> State {
    open("winch.toml", text.as_bytes()).map_err(|error| error.to_string()).unwrap().1
}

fn seat<'s>(state: &'s State, name: &str) -> &'s Seat {
    state.seats.iter().find(|seat| seat.name == name).unwrap()
}

#[test]
fn a_file_amounts_to_its_seats_each_with_its_own_facts_before_its_briefs_before_the_jobs() {
    let state = state(WINCH);
    assert_eq!((state.number.as_str(), state.customer.as_str(), state.units, state.seed), ("2026-014", "the harbour", Units::Mm, 1));
    assert_eq!(state.by, ["A. Turner", "B. Fitter"]);
    assert_eq!(state.date, "2026-03-06");
    let names: Vec<&str> = state.seats.iter().map(|seat| seat.name.as_str()).collect();
    assert_eq!(names, ["drive side", "free 1", "free 2", "free 3"]);
    let (drive, free) = (seat(&state, "drive side"), seat(&state, "free 2"));
    assert_eq!(drive.number("housing.outside"), Some(330.0), "corrected");
    assert_eq!(free.number("housing.outside"), Some(350.0), "its own");
    assert_eq!(drive.quantity("journal.diameter").map(|q| (q.value, (q.u * 1e6).round())), Some((199.95, 5000.0)));
    assert_eq!(drive.quantity("duty.peak_load").map(|q| q.u), Some(10.0));
    assert_eq!(drive.number("shop.press"), Some(600.0), "the job's");
    assert_eq!(drive.text("hard"), Some("the housing is thin on one side"));
    assert_eq!(drive.names("state"), ["cold start", "running"]);
}

#[test]
fn dropped_readings_stay_with_their_reason_and_corrections_in_sight() {
    let state = state(WINCH);
    let drive = seat(&state, "drive side");
    let set = drive.sets_of(Feature::HousingBore).next().unwrap();
    let dropped: Vec<_> = set.readings.iter().map(|reading| reading.dropped.is_some()).collect();
    assert_eq!(dropped, [false, false, false, false, true, false]);
    assert_eq!(set.readings[4].dropped.as_deref(), Some("slipped digit; read again as 240.016"));
    assert_eq!((set.gauge.as_deref(), set.day.as_str(), set.part_C.map(|q| q.value)), (Some("bore"), "2026-03-02", Some(18.0)));
    assert_eq!((drive.corrections[0].was.as_str(), drive.corrections[0].is.as_str()), ("340 mm", "330 mm"));
    assert!(drive.notes.is_empty(), "a dropped slip is no news: {:?}", drive.notes);
}

#[test]
fn a_decision_says_what_moved_after_it_and_one_that_rests_on_other_things_does_not() {
    let state = state(WINCH);
    let drive = seat(&state, "drive side");
    let band = drive.decided("band").unwrap();
    assert_eq!((band.choice.as_str(), band.low_high_mm), ("240.118 to 240.146 mm", Some((240.118, 240.146))));
    assert_eq!(band.moved.len(), 1);
    assert_eq!(
        (band.moved[0].path.as_str(), band.moved[0].was.as_str(), band.moved[0].is.as_str()),
        ("housing.outside", "340 mm", "330 mm")
    );
    assert!(drive.decided("alloy").unwrap().moved.is_empty());
}

#[test]
fn a_signature_is_reopened_by_what_comes_after_it_and_by_a_changed_record() {
    assert!(!state(WINCH).signatures[0].reopened);
    let later = format!("{WINCH}\n[[seat.\"drive side\".event]]\nwhat = \"note\"\nday = 2026-03-07\n");
    assert!(state(&later).signatures[0].reopened);
    let elsewhere = format!("{WINCH}\n[[seat.free.event]]\nwhat = \"note\"\nday = 2026-03-07\n");
    assert!(!state(&elsewhere).signatures[0].reopened, "another seat");
    let head = state(WINCH).signatures[0].head.clone();
    let signed = WINCH.replace("role = \"made\"", &format!("role = \"made\"\nhead = \"{head}\""));
    assert!(!state(&signed).signatures[0].reopened);
    assert!(state(&signed.replace("length = 160", "length = 165")).signatures[0].reopened);
}

#[test]
fn in_a_file_without_days_decisions_rest_on_all_its_facts_wherever_they_stand() {
    let text = "[[seat.A.decision]]\nquestion = \"alloy\"\nchoose = \"CC493K\"\n[seat.A.duty]\nload = 85\n";
    let state = state(text);
    assert!(state.seats[0].decided("alloy").unwrap().moved.is_empty());
}

#[test]
fn a_decision_without_a_day_rests_on_what_was_read_on_the_day_of_the_file() {
    let text = |day: &str| {
        format!(
            "[job]\ndate = 2026-03-02\n[[brief.b.decision]]\nquestion = \"alloy\"\nchoose = \"CC493K\"\n{day}\n\
             [[brief.b.measure]]\nof = \"journal\"\nday = 2026-03-02\nreadings = [199.9]\n[seat.A]\nbrief = \"b\"\n"
        )
    };
    assert!(state(&text("")).seats[0].decided("alloy").unwrap().moved.is_empty());
    let dated = state(&text("day = 2026-03-02"));
    let moved = &dated.seats[0].decided("alloy").unwrap().moved[0];
    assert_eq!((moved.path.as_str(), moved.was.as_str(), moved.is.as_str()), ("journal", "0 readings", "1 reading"));
}

#[test]
fn two_who_decide_apart_are_in_conflict_until_a_third_decision_has_seen_both() {
    let decide = |choose: &str, by: &str, day: u32, apart: &str| {
        format!("\n[[seat.free.decision]]\nquestion = \"alloy\"\nchoose = {choose:?}\nby = {by:?}\nday = 2026-04-0{day}\n{apart}\n")
    };
    let first = decide("CC493K", "A. Turner", 1, "");
    let seen = state(&format!("{WINCH}{first}{}", decide("CC483K", "B. Fitter", 2, "")));
    assert!(seat(&seen, "free 1").conflicts.is_empty(), "who has seen the first may change it");
    let apart = format!("{WINCH}{first}{}", decide("CC483K", "B. Fitter", 2, "apart = true"));
    let found = state(&apart);
    let conflicts = &seat(&found, "free 1").conflicts;
    assert!(conflicts[0].contains("CC493K (A. Turner)") && conflicts[0].contains("CC483K (B. Fitter)"), "{conflicts:?}");
    assert_eq!(seat(&found, "free 1").decisions.iter().filter(|taken| taken.question == "alloy").count(), 2);
    assert!(seat(&found, "drive side").conflicts.is_empty());
    let settled = state(&format!("{apart}{}", decide("CC483K", "A. Turner", 3, "")));
    assert!(seat(&settled, "free 1").conflicts.is_empty());
    let agreed = state(&format!("{WINCH}{first}{}", decide("CC493K", "B. Fitter", 2, "apart = true")));
    assert!(seat(&agreed, "free 1").conflicts.is_empty(), "the same answer twice is no conflict");
}

#[test]
fn the_same_job_in_inches_is_the_same_job() {
    let text = |units: &str, size: &str, room: &str, load: &str| {
        format!(
            "[job]\nunits = {units:?}\n[shop]\nroom = {room}\n[seat.A.duty]\nload = {load}\n[[seat.A.measure]]\nof = \"journal\"\nreadings = [{size}]\n"
        )
    };
    let metric = state(&text("mm", "\"10 in\"", "\"68 F ± 1.8\"", "4.4482216152605"));
    let inch = state(&text("inch", "10", "{ value = 68, u = 1.8 }", "1000"));
    for state in [metric, inch] {
        let seat = &state.seats[0];
        let near = |x: f64, y: f64| assert!((x - y).abs() < 1e-9, "{x}, wanted {y}");
        near(seat.sets[0].readings[0].size_mm, 254.0);
        near(seat.number("shop.room").unwrap(), 20.0);
        near(seat.quantity("shop.room").unwrap().u, 1.0);
        near(seat.number("duty.load").unwrap(), 4.448_221_615_260_5);
    }
}

/// The file to start from, each line that `fill` wants filled with a sample.
fn filled(units: Units, fill: fn(&str) -> bool) -> String {
    let mut section = String::new();
    let mut text = String::new();
    for line in new_file(units).lines() {
        if line.starts_with("[[") {
            section = "measure".into();
        } else if let Some(header) = line.strip_prefix('[').and_then(|line| line.strip_suffix(']')) {
            let mut parts = header.split('.').filter(|part| !matches!(*part, "brief" | "main"));
            section = match (parts.next(), parts.next()) {
                (Some(name), Some(_)) => format!("{name}.*."),
                (Some(name), None) => format!("{name}."),
                _ => String::new(),
            };
        }
        let (start, _) = line.split_once(" =").unwrap_or((line, ""));
        let key = start.trim_start_matches("# ");
        let fact = FACTS.iter().find(|fact| fact.path == format!("{section}{key}"));
        let empty = line.split_once('=').is_some_and(|(_, rest)| rest.trim_start().starts_with('#'));
        match fact {
            Some(fact) if empty && fill(line) => {
                // What goes into something else must be smaller.
                let value = match key {
                    "bore" => "0.2".into(),
                    "diameter" => "1".into(),
                    "nominal" => "2".into(),
                    _ => sample(fact, units),
                };
                text += &format!("{key} = {value}\n");
            }
            _ => text += &format!("{line}\n"),
        }
    }
    text
}

#[test]
fn the_file_to_start_from_reads_as_it_stands_and_lacks_little_when_its_needed_lines_are_filled() {
    for units in [Units::Mm, Units::Inch] {
        assert_eq!(state(&new_file(units)).seats.len(), 1);
        let state = state(&filled(units, |line| line.contains("NEEDED")));
        assert_eq!((state.units, state.seats.len()), (units, 1));
        let waits = |(_, lacks): &&(Stage, Vec<Lack>)| lacks.iter().any(|lack| lack.meanwhile.is_empty());
        let waiting: Vec<Stage> = missing(&state)[0].stages.iter().filter(waits).map(|(stage, _)| *stage).collect();
        assert!(!waiting.contains(&Stage::Fit) && waiting.contains(&Stage::Measure), "{waiting:?}");
    }
}

#[test]
fn every_key_of_the_file_to_start_from_reads_with_a_sample_of_its_value() {
    for units in [Units::Mm, Units::Inch] {
        let text = filled(units, |_| true);
        let entries = read("new.toml", text.as_bytes()).map_err(|error| format!("{error}\n{text}")).unwrap();
        for fact in FACTS.iter().filter(|fact| fact.path != "seat.count") {
            let given = entries.iter().any(|entry| match &entry.what {
                job::entry::What::Fact { about, value } => {
                    job::facts::fact(about).is_some_and(|found| found.path == fact.path)
                        && (matches!(fact.stands, Stands::Figure(..)) == matches!(value, Given::Figure { .. }))
                }
                _ => false,
            });
            let is_empty_text = matches!(fact.path, "job.number" | "job.title" | "job.customer");
            assert!(given || is_empty_text, "{}", fact.path);
        }
    }
}

#[test]
fn check_names_what_is_missing_with_the_line_to_write() {
    let state = state("[seat.A]\n[seat.A.duty]\nmotion = \"swing\"\n");
    let mut said = String::new();
    for (stage, lacks) in &missing(&state)[0].stages {
        for lack in lacks {
            said += &format!("before {}: {lack}\n", stage.title());
        }
    }
    insta::assert_snapshot!(said);
}

/// What each version of the stored form wrote, and the head of its chain.
const STORED: &[(&str, &str)] = &[(include_str!("entries_v1.jsonl"), "a54d0bb4791bc10b91fd3963bd65d0b5fa752848aedbd9745b36927db1450f10")];

/// A file of every version of the stored form is kept: who changes the form adds one and leaves the old ones.
#[test]
fn entries_of_every_version_that_was_ever_written_are_read_to_the_same_head() {
    for (lines, head) in STORED {
        let entries = job::entry::from_lines(lines).unwrap();
        assert_eq!(job::fold(&entries).head, *head);
        assert_eq!(job::entry::to_lines(&entries), *lines);
    }
}

/// `UPDATE_DOCS=1 cargo test -p job` writes the page anew.
#[test]
fn the_reference_in_the_handbook_is_that_of_the_program() {
    let page = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/job_file.md");
    if std::env::var_os("UPDATE_DOCS").is_some() {
        std::fs::create_dir_all(concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs")).unwrap();
        std::fs::write(page, job::reference::reference()).unwrap();
    }
    let written = std::fs::read_to_string(page).unwrap_or_default().replace("\r\n", "\n");
    assert!(written == job::reference::reference(), "docs/job_file.md is old: run UPDATE_DOCS=1 cargo test -p job");
}
