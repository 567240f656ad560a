//! What stages say to each other: a measured bore that closes in, a decision that went stale before the release.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use calc::crew::Alone;
use job::sheet::{Stage, StageSheet, Standing};
use job::stages::{Wanted, sheet};

const WINCH: &str = include_str!("../../../demo/ferry_ramp_winch.toml");

fn stage(text: &str, stage: Stage) -> StageSheet {
    let (_, mut state) = job::open("winch.toml", text.as_bytes()).unwrap_or_else(|refused| panic!("{refused}"));
    state.draws = 2000;
    let sheet = sheet(&state, Wanted::default(), &Alone);
    sheet.seats[0].stages.iter().find(|known| known.stage == stage).unwrap().clone()
}

fn measured(of: &str, sizes: &str) -> String {
    format!(
        "\n[[seat.inboard.measure]]\nof = \"{of}\"\ngauge = \"stick\"\npart_temperature = 20\ngauge_temperature = 20\nreadings = [{sizes}]\n"
    )
}

fn line<'s>(sheet: &'s StageSheet, label: &str) -> Option<(&'s str, &'s str)> {
    sheet.lines.iter().find(|line| line.label == label).map(|line| (line.value.as_str(), line.note.as_str()))
}

#[test]
fn a_bore_that_was_measured_before_fitting_says_where_it_comes_to_and_what_it_closed_in_by() {
    let before = format!("{WINCH}{}", measured("bush bore", "209.000, 209.002, 209.001"));
    let bore = stage(&before, Stage::Bore);
    assert!(line(&bore, "bore before fitting, at 20 °C").unwrap().0.starts_with("209.00"), "{:?}", bore.lines);
    let expected: f64 = line(&bore, "bore to expect when it is in").unwrap().0.split(' ').next().unwrap().parse().unwrap();
    assert!((208.85..208.99).contains(&expected), "{expected}");
    assert_eq!(line(&bore, "closed in by"), None);
    let after = |mm: f64| stage(&format!("{before}{}", measured("fitted bore", &format!("{mm:.3}, {mm:.3}"))), Stage::Bore);
    let as_foretold = after(expected);
    assert!(line(&as_foretold, "closed in by").unwrap().1.ends_with("they agree"), "{:?}", as_foretold.lines);
    assert!(!as_foretold.warnings.iter().any(|warning| warning.contains("closed in")));
    let otherwise = after(expected - 0.2);
    assert!(line(&otherwise, "closed in by").unwrap().1.ends_with("do not agree"));
    assert!(otherwise.warnings.iter().any(|warning| warning.starts_with("The bore closed in by") && warning.contains("foretold")));
    // A bore that was bored meanwhile tells nothing of it.
    assert_eq!(line(&after(209.5), "closed in by"), None);
}

#[test]
fn a_decision_that_went_stale_stands_among_what_is_open_at_release() {
    let decided = "\n[[seat.inboard.decision]]\nquestion = \"band\"\nlow = 240.120\nhigh = 240.149\nbecause = \"as advised\"\nby = \"Runa\"\nday = \"2026-11-20\"\n";
    let is_stale = |sheet: &StageSheet| sheet.needs.iter().any(|need| need.starts_with("Fit is stale"));
    let release = |text: &str| stage(text, Stage::Release);
    let before = format!("{WINCH}{decided}");
    assert!(!is_stale(&release(&before)), "{:?}", release(&before).needs);
    let moved = format!(
        "{before}\n[[seat.inboard.measure]]\nof = \"housing bore\"\ngauge = \"stick\"\npart_temperature = 20\ngauge_temperature = 20\nday = \"2026-11-21\"\nreadings = [240.06, 240.07]\n"
    );
    assert_eq!(stage(&moved, Stage::Fit).standing, Standing::Stale);
    assert!(is_stale(&release(&moved)), "{:?}", release(&moved).needs);
}
