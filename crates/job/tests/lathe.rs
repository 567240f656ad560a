//! The dialogue at the lathe: good runs and bad ones on a simulated lathe, its log, and what it leaves on the sheet.
#![allow(clippy::unwrap_used, clippy::panic, non_snake_case, reason = "a test stops at the first surprise; part_C is a key")]

use calc::crew::Alone;
use calc::math;
use job::entry::{Amount, What};
use job::lathe::log::{self, Log, Writer};
use job::lathe::part;
use job::lathe::step::{Setup, Step, Surface};
use job::lathe::{Dialogue, Now, Reply, replay};
use job::moment;
use job::sheet::{JobSheet, Stage};
use job::stages::{Wanted, Wish, setup, sheet};
use job::state::{State, Units};

const NUMBER: &str = "L-1";

fn a_setup(units: Units) -> Setup {
    Setup {
        lathe: "large lathe".into(),
        units,
        nominal_mm: 300.0,
        lower_mm: 299.982,
        upper_mm: 300.018,
        planned_mm: Amount { value: 301.5, u: 0.5 },
        cuts: 3,
        alloy: "CC493K".into(),
        alpha_per_K: 18e-6,
        gauge: "micrometer no. 9".into(),
        gauge_alpha_per_K: None,
        thermometer_u_K: None,
        reading_u_mm: None,
        correction_mm: None,
        blank_price: Some(400.0),
        minute_price: Some(1.2),
        habits: Vec::new(),
        earlier_squares: 0.0,
        earlier: 0,
    }
}

fn a_writer(seat: &str) -> Writer {
    Writer { job: NUMBER.into(), seat: seat.into(), who: "A. Turner".into(), device: "large lathe".into(), log: "job.log.jsonl".into() }
}

/// A lathe and a part that behave as the model says, with figures of their own that the dialogue is not told.
///
/// Source: the turning method, section b (outside s = 1, bore s = -1).
struct World {
    s: f64,
    size_mm: f64,
    part_C: f64,
    air_C: f64,
    heat: f64,
    tau_s: f64,
    lands_mm: f64,
    gives: f64,
    springs_mm: f64,
    gauge_mm: f64,
}

const ALPHA: f64 = 18e-6;

impl World {
    fn of(surface: Surface) -> Self {
        let s = if surface == Surface::Outside { 1.0 } else { -1.0 };
        let size_mm = 300.0 + s * 1.52;
        Self {
            s,
            size_mm,
            part_C: 36.0,
            air_C: 21.0,
            heat: 2.5,
            tau_s: 2600.0,
            lands_mm: 0.021,
            gives: 0.03,
            springs_mm: 0.004,
            gauge_mm: 0.001,
        }
    }

    fn cool(&mut self, dt_s: f64) {
        self.part_C = self.air_C + (self.part_C - self.air_C) * math::exp(-dt_s / self.tau_s);
    }

    fn hot(&self) -> f64 {
        self.size_mm * (1.0 + ALPHA * (self.part_C - 20.0))
    }

    fn cut(&mut self, command_mm: f64) {
        self.cool(270.0);
        let lands = command_mm + self.lands_mm;
        let depth = self.s * (self.hot() - lands) / 2.0;
        self.part_C += self.heat * depth / 2.0;
        let hot = (lands + self.s * self.springs_mm + self.gives * self.hot() / 2.0) / (1.0 + self.gives / 2.0);
        self.size_mm = hot / (1.0 + ALPHA * (self.part_C - 20.0));
        self.cool(270.0);
        self.part_C += self.heat * depth / 2.0;
        self.lands_mm += self.s * 0.001;
    }

    fn shows(&self) -> f64 {
        self.hot() / (1.0 + 11.5e-6 * (self.air_C - 20.0)) + self.gauge_mm
    }
}

/// A dialogue that is talked through, with what was said and typed.
struct Talk {
    dialogue: Dialogue,
    log: String,
    said: Vec<String>,
    typed: Vec<String>,
    seconds: i64,
    clocked: bool,
}

impl Talk {
    fn new(surface: Surface, setup: Setup, log: &str) -> Self {
        let found = log::read("job.log.jsonl", log.as_bytes(), Some(NUMBER)).unwrap();
        let dialogue = Dialogue::open(a_writer("A"), surface, setup, &found);
        let said = dialogue.opening();
        // 2026-11-20 08:00 UTC.
        Self { dialogue, log: log.into(), said, typed: Vec::new(), seconds: 1_795_161_600, clocked: false }
    }

    /// Gives an answer; whether it was kept.
    fn give(&mut self, text: &str) -> bool {
        self.said.push(format!("{}{text}", self.dialogue.prompt()));
        self.typed.push(text.into());
        let now = Now { when: moment::written(self.seconds), clocked: self.clocked };
        match self.dialogue.answer(text, &now) {
            Reply::Keep(kept) => {
                self.log += &kept.line();
                self.said.extend(self.dialogue.accept(&kept));
                self.seconds += 60;
                true
            }
            Reply::Say(lines) => {
                self.said.extend(lines);
                false
            }
            Reply::Stop => false,
        }
    }

    fn last(&self) -> &str {
        self.said.last().unwrap()
    }

    fn text(&self) -> String {
        self.said.join("\n") + "\n"
    }

    fn log(&self) -> Log {
        log::read("job.log.jsonl", self.log.as_bytes(), Some(NUMBER)).unwrap()
    }

    fn steps(&self) -> usize {
        self.log().entries.len()
    }

    /// What the simulated lathe answers to what is asked; false when nothing more is asked.
    fn go_on(&mut self, world: &mut World, show: fn(f64) -> String, degrees: fn(f64) -> String) -> bool {
        let asked = self.dialogue.prompt();
        let text = match asked.split(',').next().unwrap_or_default().split(" > ").next().unwrap_or_default() {
            "size before the first cut" => show(world.size_mm),
            "air beside the lathe" => degrees(world.air_C),
            "part after the cut" => {
                world.cool(180.0);
                degrees(world.part_C)
            }
            "part before the cut" => {
                if world.typed_a_size(&self.typed) {
                    world.cool(120.0);
                }
                degrees(world.part_C)
            }
            "gauge on the part" | "gauge on the part once more" => show(world.shows()),
            "gauge on its standard: shown less true" => show(world.gauge_mm),
            _ if asked.starts_with("cut made?") => {
                let command = asked.split("[at ").nth(1).unwrap().split(' ').next().unwrap();
                let inch = asked.contains(" in]");
                world.cut(command.parse::<f64>().unwrap() * if inch { 25.4 } else { 1.0 });
                String::new()
            }
            "done" => {
                self.give("done");
                return false;
            }
            other => panic!("asked {other}\n{}", self.text()),
        };
        assert!(self.give(&text), "{}", self.text());
        true
    }
}

impl World {
    /// Whether a cut came before: the first temperature is read at once.
    fn typed_a_size(&self, typed: &[String]) -> bool {
        typed.iter().any(String::is_empty)
    }
}

fn mm(x: f64) -> String {
    format!("{x:.3}")
}

fn degrees(C: f64) -> String {
    format!("{C:.1}")
}

fn inches(x: f64) -> String {
    format!("{:.5}", x / 25.4)
}

fn fahrenheit(C: f64) -> String {
    format!("{:.1}", C * 1.8 + 32.0)
}

/// A part turned to its end on the simulated lathe.
fn turned(surface: Surface, units: Units) -> (Talk, World) {
    let (show, warm): (fn(f64) -> String, fn(f64) -> String) = if units == Units::Inch { (inches, fahrenheit) } else { (mm, degrees) };
    let mut planned = a_setup(units);
    if surface == Surface::Bore {
        planned.planned_mm.value = 298.5;
    }
    let mut talk = Talk::new(surface, planned, "");
    let mut world = World::of(surface);
    while talk.go_on(&mut world, show, warm) {}
    (talk, world)
}

#[test]
fn a_good_run_lands_and_is_said_calmly() {
    let (talk, world) = turned(Surface::Outside, Units::Mm);
    assert!((world.size_mm - 300.0).abs() < 0.018, "{}\n{}", world.size_mm, talk.text());
    insta::assert_snapshot!("good_run", talk.text());
    insta::assert_snapshot!("good_run_typed", talk.typed.join("\n"));
}

#[test]
fn a_bore_is_the_same_with_the_sign_reversed() {
    let (talk, world) = turned(Surface::Bore, Units::Mm);
    assert!((world.size_mm - 300.0).abs() < 0.018, "{}\n{}", world.size_mm, talk.text());
    insta::assert_snapshot!("bore", talk.text());
}

#[test]
fn an_inch_job_is_asked_and_answered_in_inches() {
    let (talk, world) = turned(Surface::Outside, Units::Inch);
    assert!((world.size_mm - 300.0).abs() < 0.018, "{}\n{}", world.size_mm, talk.text());
    insta::assert_snapshot!("inch", talk.text());
}

#[test]
fn a_replay_says_the_same_bytes_as_the_dialogue_did() {
    for surface in [Surface::Outside, Surface::Bore] {
        let (talk, _) = turned(surface, Units::Mm);
        // The job may say other things today: the log knows what it started from.
        let other = Setup { lower_mm: 250.0, upper_mm: 250.1, nominal_mm: 250.05, ..a_setup(Units::Inch) };
        let again = replay(a_writer("A"), surface, other.clone(), &talk.log()).join("\n") + "\n";
        let live = format!("{}{}\n{}\n", talk.text(), talk.dialogue.prompt(), talk.dialogue.leaving().join("\n"));
        assert_eq!(again, live);
        assert_eq!(replay(a_writer("A"), surface, other, &talk.log()).join("\n") + "\n", again);
    }
}

#[test]
fn a_dialogue_that_was_cut_off_anywhere_goes_on_where_it_was() {
    let (whole, _) = turned(Surface::Outside, Units::Mm);
    let lines: Vec<&str> = whole.log.lines().collect();
    let mut talk = Talk::new(Surface::Outside, a_setup(Units::Mm), "");
    for (i, typed) in whole.typed.iter().enumerate() {
        let kept = lines[..i].iter().map(|line| format!("{line}\n")).collect::<String>();
        let again = Talk::new(Surface::Outside, a_setup(Units::Mm), &kept);
        assert_eq!(again.dialogue.prompt(), talk.dialogue.prompt(), "after {i} answers");
        assert!(talk.give(typed));
        assert_eq!(talk.log.lines().last(), Some(lines[i]), "the same answer keeps the same line");
    }
}

/// A dialogue up to the reading after the first cut.
fn up_to_a_reading() -> (Talk, World) {
    let mut talk = Talk::new(Surface::Outside, a_setup(Units::Mm), "");
    let mut world = World::of(Surface::Outside);
    while !talk.dialogue.prompt().starts_with("gauge on the part") {
        talk.go_on(&mut world, mm, degrees);
    }
    (talk, world)
}

#[test]
fn a_blunder_is_said_set_aside_and_asked_again() {
    let (mut talk, world) = up_to_a_reading();
    assert!(talk.give(&mm(world.shows() + 0.5)));
    assert!(talk.text().contains("MEASURE AGAIN"), "{}", talk.text());
    assert!(talk.dialogue.prompt().starts_with("gauge on the part once more"));
    assert!(!talk.give("done"), "nothing is released on a reading that can't be right");
    assert!(talk.last().contains("measure again"), "{}", talk.last());
    assert!(talk.give(&mm(world.shows())));
    assert!(talk.dialogue.prompt().starts_with("part before the cut"), "{}", talk.text());
    insta::assert_snapshot!("blunder", talk.text());
}

#[test]
fn two_readings_that_agree_ask_for_the_gauge_on_its_standard() {
    let (mut talk, world) = up_to_a_reading();
    let moved = |off: f64| mm(world.shows() + off);
    assert!(talk.give(&moved(0.4)) && talk.dialogue.prompt().starts_with("gauge on the part once more"));
    assert!(talk.give(&moved(0.401)));
    assert!(talk.dialogue.prompt().starts_with("gauge on its standard"), "{}", talk.text());
    assert!(talk.give("0.000") && talk.dialogue.prompt().starts_with("part before the cut"), "{}", talk.text());
}

#[test]
fn a_temperature_that_can_not_be_right_is_asked_for_again() {
    let mut talk = Talk::new(Surface::Outside, a_setup(Units::Mm), "");
    let mut world = World::of(Surface::Outside);
    while !talk.dialogue.prompt().starts_with("part after") {
        talk.go_on(&mut world, mm, degrees);
    }
    assert!(talk.give("52.0") && talk.dialogue.prompt().starts_with("part once more"), "{}", talk.text());
    let again = Talk::new(Surface::Outside, a_setup(Units::Mm), &talk.log);
    assert_eq!(again.dialogue.prompt(), talk.dialogue.prompt(), "who comes back is asked the same");
    world.cool(180.0);
    assert!(talk.give(&degrees(world.part_C)) && talk.dialogue.prompt().starts_with("gauge on the part"), "{}", talk.text());
}

#[test]
fn a_part_that_is_lost_is_followed_by_another() {
    let (mut talk, _) = up_to_a_reading();
    assert!(!talk.give("scrap") && talk.give("scrap"));
    assert!(talk.dialogue.prompt().starts_with("another"), "{}", talk.text());
    assert!(!talk.give("300.1") && talk.give("another"));
    assert!(talk.dialogue.prompt().starts_with("size before the first cut"), "{}", talk.text());
    assert!(talk.give("301.4") && talk.give("21.0"));
    assert_eq!(part::parts(NUMBER, "A", &part::turned(&talk.log().entries, "A"), Surface::Outside).len(), 2);
    assert!(part::finished(&talk.log().entries).is_empty(), "a lost part teaches nothing");
}

#[test]
fn the_plan_can_be_changed_to_what_pays() {
    let (mut talk, world) = up_to_a_reading();
    assert!(talk.give(&mm(world.shows())) && talk.give("left 1"));
    assert!(talk.dialogue.prompt().starts_with("gauge on its standard"), "the next is the last: {}", talk.text());
    assert!(talk.give("skip") && talk.give("32.4"));
    assert!(talk.text().contains("2 of 2") && !talk.give("left 0"), "{}", talk.text());
}

#[test]
fn an_undo_takes_the_last_step_back_and_deletes_nothing() {
    let (mut talk, world) = up_to_a_reading();
    let before = talk.dialogue.prompt();
    assert!(talk.give(&mm(world.shows() + 0.04)));
    assert!(talk.give("undo misread the thimble"));
    assert!(talk.text().contains("taken back: gauge"), "{}", talk.text());
    assert_eq!(talk.dialogue.prompt(), before);
    let log = talk.log();
    let last = log.entries.last().unwrap();
    let What::Correction { replaces, because, .. } = &last.what else { panic!("{last:?}") };
    assert_eq!((because.as_str(), *replaces), ("misread the thimble", log.entries[log.entries.len() - 2].id));
    assert_eq!(part::turned(&log.entries, "A").len(), log.entries.len() - 2);
    for _ in 0..20 {
        talk.give("undo");
    }
    assert!(talk.last().contains("nothing to take back"), "{}", talk.last());
    assert!(talk.dialogue.prompt().starts_with("size before the first cut"));
}

#[test]
fn what_can_not_be_used_is_one_sentence_and_the_same_is_asked_again() {
    let mut talk = Talk::new(Surface::Outside, a_setup(Units::Mm), "");
    let mut world = World::of(Surface::Outside);
    let wrong: [(&str, &[&str]); 5] = [
        ("size before the first cut", &["30.15", "301,5", "skip", "tool", "301.5 301.6", "301.5 ± -1", "three", "9999999 in", "nan"]),
        ("air beside", &["", "warm", "70", "700 F", "21 C 22 bar", "done", "another", "cutt", "wait long", "note"]),
        ("cut made?", &["30", "3000.0", "skip", "done", "299.0", "301.4 301.5", "scrap"]),
        ("gauge on the part", &["", "300,452", "12.0", "300.4 mm wide", "after -3 min", "300.4 after dinner", "1e400", "+-", "check"]),
        ("part before", &["999", "-80", "12 parsec", "cut 12", "runout"]),
    ];
    for (asked, answers) in wrong {
        while !talk.dialogue.prompt().starts_with(asked) {
            talk.go_on(&mut world, mm, degrees);
        }
        let (prompt, kept) = (talk.dialogue.prompt(), talk.steps());
        for text in answers {
            assert!(!talk.give(text), "{text:?} was kept: {}", talk.text());
            assert!(!talk.last().contains('\n') && talk.last().len() > 20, "{text:?}: {}", talk.last());
            assert_eq!((talk.dialogue.prompt(), talk.steps()), (prompt.clone(), kept), "{text:?}");
        }
    }
    insta::assert_snapshot!(
        "wrong_answers",
        talk.said.iter().filter(|line| line.contains("allowed") || line.contains("again if")).cloned().collect::<Vec<_>>().join("\n")
    );
}

#[test]
fn help_is_given_at_every_question_and_keeps_nothing() {
    let mut talk = Talk::new(Surface::Outside, a_setup(Units::Mm), "");
    let mut world = World::of(Surface::Outside);
    loop {
        let kept = talk.steps();
        assert!(!talk.give("?") && talk.last().contains("scrap"), "{}", talk.last());
        assert_eq!(talk.steps(), kept);
        if !talk.go_on(&mut world, mm, degrees) {
            break;
        }
    }
}

#[test]
fn what_happens_out_of_turn_is_noted_and_the_dialogue_goes_on() {
    let (mut talk, world) = up_to_a_reading();
    let shows = mm(world.shows());
    for text in [
        "note oil on the faces",
        &format!("{shows} {shows} after 5 min"),
        "coolant",
        "temp 27.0 after 2 min",
        "wait 20 min",
        "air 21.2",
        "24.1",
        "check 0.001 0.002",
        "tool",
        "chuck",
        "0.05",
    ] {
        assert!(talk.give(text), "{text}: {}", talk.text());
    }
    let steps = part::turned(&talk.log().entries, "A");
    let at = |find: fn(&Step) -> bool| steps.iter().find(|step| find(&step.step)).unwrap().after_s;
    assert_eq!(at(|step| matches!(step, Step::Size { .. })), 300.0);
    assert_eq!(at(|step| matches!(step, Step::Wait {})), 1200.0);
    insta::assert_snapshot!("out_of_turn", talk.text());
}

#[test]
fn a_clock_is_believed_and_a_night_is_asked_about() {
    let mut talk = Talk::new(Surface::Outside, a_setup(Units::Mm), "");
    talk.clocked = true;
    for text in ["301.52", "21.0", "36.0"] {
        assert!(talk.give(text));
    }
    talk.seconds += 12 * 60;
    assert!(talk.give(""));
    // 13 minutes by the clock, of which the cut took 9.
    assert_eq!(part::turned(&talk.log().entries, "A").last().unwrap().after_s, 240.0);
    talk.seconds += 15 * 3600;
    assert!(!talk.give("22.0") && talk.last().contains("another day"), "{}", talk.last());
    assert!(talk.give("day"));
    assert!(talk.dialogue.prompt().starts_with("air"));
}

#[test]
fn a_line_that_was_cut_anywhere_is_put_apart_and_the_rest_stands() {
    let (talk, _) = up_to_a_reading();
    let bytes = talk.log.as_bytes();
    let ends: Vec<usize> = bytes.iter().enumerate().filter(|(_, byte)| **byte == b'\n').map(|(i, _)| i + 1).collect();
    for cut in 0..=bytes.len() {
        let found = log::read("job.log.jsonl", &bytes[..cut], Some(NUMBER)).unwrap_or_else(|refused| panic!("cut at {cut}: {refused}"));
        let whole = ends.iter().filter(|end| **end <= cut).count();
        let lacks_end = ends.contains(&(cut + 1));
        assert_eq!((found.entries.len(), found.lacks_end), (whole + usize::from(lacks_end), lacks_end), "cut at {cut}");
        assert_eq!(found.whole + found.torn.len(), cut);
    }
    let mut garbled = bytes.to_vec();
    garbled.extend([0; 40]);
    assert_eq!(log::read("job.log.jsonl", &garbled, Some(NUMBER)).unwrap().torn.len(), 40);
}

#[test]
fn a_log_that_was_meddled_with_is_refused_and_the_line_is_named() {
    let (talk, _) = up_to_a_reading();
    let lines: Vec<String> = talk.log.lines().map(|line| format!("{line}\n")).collect();
    let with = |i: usize, from: &str, to: &str| {
        let mut lines = lines.clone();
        assert!(lines[i].contains(from), "{}", lines[i]);
        lines[i] = lines[i].replace(from, to);
        lines.concat()
    };
    let mut dropped = lines.clone();
    dropped.remove(1);
    let mut moved = lines.clone();
    moved.swap(1, 2);
    let mut said = String::new();
    for (what, text, number) in [
        ("a changed figure", with(2, "\"values_C\":[36.0]", "\"values_C\":[31.0]"), NUMBER),
        ("a dropped line", dropped.concat(), NUMBER),
        ("lines that changed places", moved.concat(), NUMBER),
        ("an unknown step", with(1, "\"step\":\"air\"", "\"step\":\"aire\""), NUMBER),
        ("an unknown key", with(1, "\"step\":\"air\"", "\"step\":\"air\",\"colour\":1"), NUMBER),
        ("a line of other text", format!("{}hello\n{}", lines[0], lines[1]), NUMBER),
        ("an empty line", format!("{}\n{}", lines[0], lines[1]), NUMBER),
        ("another job", talk.log.clone(), "L-2"),
        ("a figure beyond reason", with(2, "36.0", "36000.0"), NUMBER),
    ] {
        let refused = log::read("job.log.jsonl", text.as_bytes(), Some(number)).unwrap_err().to_string();
        assert!(refused.contains("job.log.jsonl line "), "{what}: {refused}");
        said += &format!("{what}\n    {refused}\n");
    }
    // Hashes depend on what was typed: their digits are no news.
    insta::assert_snapshot!("meddled", said);
}

const JOB: &str = include_str!("../../../demo/ferry_ramp_winch.toml");

/// The winch of the demo, turned on a lathe with a name.
fn winch(log: &Log) -> State {
    let text = JOB.replace("by = \"Runa\"\ndate", "by = \"Runa\"\nlathe = \"large lathe\"\ndate").replace("draws = 200000", "draws = 2000");
    job::file::open_with("winch.toml", text.as_bytes(), &log.entries).map_err(|fault| fault.to_string()).unwrap().1
}

fn stage(sheet: &JobSheet, seat: &str, stage: Stage) -> String {
    let seat = sheet.seats.iter().find(|found| found.name == seat).unwrap();
    let found = seat.stages.iter().find(|found| found.stage == stage).unwrap();
    let lines = found.lines.iter().map(|line| format!("{} | {} | {}", line.label, line.value, line.note));
    let rows = found.grids.iter().flat_map(|grid| {
        std::iter::once(grid.title.clone())
            .chain(std::iter::once(grid.columns.join(" | ")))
            .chain(grid.rows.iter().map(|row| row.join(" | ")))
    });
    let all = [found.answer.clone()].into_iter().chain(found.needs.clone()).chain(lines).chain(rows);
    all.map(|line| line.trim_end().to_owned() + "\n").collect()
}

/// A part of the winch turned to its end.
fn winch_turned(upto: usize) -> Log {
    let talk = winch_talk(upto);
    log::read("winch.log.jsonl", talk.log.as_bytes(), None).unwrap()
}

fn winch_talk(upto: usize) -> Talk {
    let state = winch(&Log::default());
    let start = setup(&state, "inboard", Surface::Outside, Wish { gauge: Some("ring"), cuts: None }, &Alone).unwrap();
    let writer = Writer {
        job: state.number,
        seat: "inboard".into(),
        who: "Runa".into(),
        device: "large lathe".into(),
        log: "winch.log.jsonl".into(),
    };
    let mut talk = Talk::new(Surface::Outside, start.clone(), "");
    talk.dialogue = Dialogue::open(writer, Surface::Outside, start.clone(), &Log::default());
    let mut world = World::of(Surface::Outside);
    world.size_mm = start.nominal_mm + 1.5;
    while talk.typed.len() < upto && talk.go_on(&mut world, mm, degrees) {}
    talk
}

/// What each version of the stored form wrote at the lathe, and the head of its chain. Who changes the form adds one and leaves the old ones.
const STORED: &[(&str, &str)] = &[(include_str!("lathe_v1.log.jsonl"), "3ee2907d34247335a09159729b8039c0ecd43fbef6a336024db46af83b9153ad")];

#[test]
fn a_log_of_every_version_that_was_ever_written_is_read_to_the_same_head() {
    for (lines, head) in STORED {
        let found = log::read("old.log.jsonl", lines.as_bytes(), None).unwrap();
        assert_eq!(head_of(&found), *head);
        assert!(part::finished(&found.entries).len() == 1 && found.torn.is_empty());
    }
}

fn head_of(log: &Log) -> String {
    job::chain::hex(&log.head)
}

#[test]
fn the_sheet_shows_the_cuts_the_size_now_and_the_next_command() {
    let state = winch(&winch_turned(8));
    let sheet = sheet(&state, Wanted::default(), &Alone);
    insta::assert_snapshot!("sheet_under_way", stage(&sheet, "inboard", Stage::Turn));
    assert!(stage(&sheet, "outboard", Stage::Turn).contains("aim"), "the other seat is not touched");
    assert!(stage(&sheet, "inboard", Stage::Release).contains("not measured"));
}

#[test]
fn a_part_that_was_finished_at_the_lathe_counts_as_measured() {
    let log = winch_turned(usize::MAX);
    let sheet = sheet(&winch(&log), Wanted::default(), &Alone);
    insta::assert_snapshot!(
        "sheet_finished",
        format!("{}\n{}", stage(&sheet, "inboard", Stage::Turn), stage(&sheet, "inboard", Stage::Release))
    );
    assert!(stage(&sheet, "inboard", Stage::Release).contains("at the lathe"));
}

#[test]
fn a_signature_of_the_day_answers_for_what_was_turned_on_that_day() {
    let log = winch_turned(usize::MAX);
    let day = log.entries[0].day().to_owned();
    let text = |day: &str| format!("{JOB}\n[[seat.inboard.signature]]\nby = \"Runa\"\nrole = \"made\"\nday = {day}\n");
    let state = |day: &str| job::file::open_with("winch.toml", text(day).as_bytes(), &log.entries).unwrap().1;
    assert!(!state(&day).signatures[0].reopened);
    assert!(state("2026-11-19").signatures[0].reopened, "turned after it was signed");
}

#[test]
fn a_log_of_a_seat_that_is_gone_is_said_and_left_out() {
    let log = winch_turned(3);
    let text = JOB.replace("[seat.inboard", "[seat.north");
    let (_, state) = job::file::open_with("winch.toml", text.as_bytes(), &log.entries).unwrap();
    assert!(state.notes.iter().any(|note| note.contains("\"inboard\"")), "{:?}", state.notes);
    assert!(state.seats.iter().all(|seat| seat.lathe.is_empty()) && state.seats.len() == 2);
}

#[test]
fn a_lathe_is_learned_from_the_parts_that_were_finished_on_it() {
    let log = winch_turned(usize::MAX);
    let mut state = winch(&log);
    let one = setup(&state, "outboard", Surface::Outside, Wish::default(), &Alone).unwrap();
    assert!(one.habits.iter().all(|belief| belief.parts == 1), "{:?}", one.habits);
    let part = state.finished[0].clone();
    state.finished = vec![part; 4];
    let four = setup(&state, "outboard", Surface::Outside, Wish::default(), &Alone).unwrap();
    assert!(four.habits[0].sd < one.habits[0].sd, "{:?} {:?}", four.habits[0], one.habits[0]);
    let dialogue = Dialogue::open(a_writer("outboard"), Surface::Outside, four, &Log::default());
    assert!(dialogue.opening().join("\n").contains("believed from 4 parts on this lathe; the usual belief counts as much as 3"));
    assert!(stage(&sheet(&state, Wanted::default(), &Alone), "outboard", Stage::Turn).contains("What is believed of this lathe"));
    let bore = setup(&state, "outboard", Surface::Bore, Wish::default(), &Alone).unwrap();
    assert!(bore.habits.iter().all(|belief| belief.parts == 0), "outsides teach nothing of boring");
}

#[test]
fn a_seat_that_is_not_ready_and_a_gauge_that_is_not_there_are_refused() {
    let state = winch(&Log::default());
    let refused = |seat: &str, wish: Wish| setup(&state, seat, Surface::Outside, wish, &Alone).unwrap_err().to_string();
    assert!(refused("inbord", Wish::default()).contains("write \"inboard\""));
    assert!(refused("inboard", Wish { gauge: Some("rings"), cuts: None }).contains("write \"ring\""));
    assert!(refused("inboard", Wish { gauge: None, cuts: Some(0) }).contains("1 to 20"));
    let (_, bare) = job::open("a.toml", b"[seat.A]\n").unwrap();
    let open = setup(&bare, "A", Surface::Outside, Wish::default(), &Alone).unwrap_err().to_string();
    assert!(open.contains("not ready for the lathe") && open.contains("job check"), "{open}");
}
