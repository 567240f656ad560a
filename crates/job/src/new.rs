//! A job file to start from: every key that a job can have, behind a `#`, the few needed ones marked.
//!
//! It is made from the table of facts, so that it can't drift. It reads as it stands; `check` names what is missing.

use std::fmt::Write as _;

use crate::facts::{FACTS, Fact, Stands};
use crate::file::{is_day, unit};
use crate::reference::{key, section};
use crate::show;
use crate::state::{Feature, Units};

/// Facts without which hardly a stage can be answered: their lines are marked.
const NEEDED: &[&str] =
    &["duty.load", "duty.motion", "state.*.bush", "state.*.housing", "housing.metal", "housing.outside", "bush.length", "journal.diameter"];

/// Column at which the remarks begin.
const REMARKS: usize = 28;

const HEAD: &str = "\
# A job file. Take the # from the lines that you know, and write the value after the =. Lines marked NEEDED are needed.
# A bare number is in the unit of the remark. With its own unit and doubt write \"9.4512 in\" or \"240.031 mm ± 0.004 mm\".
# One table [brief.NAME] a duty, one table [seat.NAME] a bearing position; several seats may share a brief.
";

/// A job file to start from, in these units.
pub fn new_file(units: Units) -> String {
    let mut text = HEAD.to_owned();
    table(&mut text, "[job]", "job", units);
    table(&mut text, "[shop]", "shop", units);
    table(&mut text, "[gauge.\"bore gauge\"]", "gauge", units);
    table(&mut text, "[brief.main]", "", units);
    table(&mut text, "[brief.main.duty]", "duty", units);
    table(&mut text, "[brief.main.state.coldest]", "state", units);
    table(&mut text, "[brief.main.state.hottest]", "state", units);
    for name in ["housing", "bush", "journal", "oil", "bore", "groove", "old_bush"] {
        table(&mut text, &format!("[brief.main.{name}]"), name, units);
    }
    table(&mut text, "[brief.main.stock.\"blank 1\"]", "stock", units);
    table(&mut text, "[brief.main.work.turning]", "work", units);
    for name in ["cutting", "seating", "retainer"] {
        table(&mut text, &format!("[brief.main.{name}]"), name, units);
    }
    text.push_str("\n[seat.\"seat 1\"]\nbrief = \"main\"\n");
    line(&mut text, "# count =", "how many seats share everything (1)");
    measure(&mut text, units);
    text.push_str(DEEDS);
    text
}

const DEEDS: &str = "
# What was decided, done, corrected and signed, each under a header of its own:
# [[seat.\"seat 1\".decision]]
# question = \"alloy\"
# choose = \"CC493K\"
# because = \"..\"
# day = 2026-03-02

# [[seat.\"seat 1\".event]]
# what = \"fitted\"
# detail = \"..\"
# day = 2026-03-02

# [[brief.main.correction]]
# of = \"housing.outside\"
# to = ..
# because = \"..\"
# by = \"..\"
# day = 2026-03-02

# [[seat.\"seat 1\".signature]]
# by = \"..\"
# role = \"released\"
# day = 2026-03-02
";

fn table(text: &mut String, header: &str, of: &str, units: Units) {
    // Writing to a String can't fail.
    let _ = write!(text, "\n{header}\n");
    for fact in FACTS.iter().filter(|fact| section(fact) == of) {
        let key = key(fact);
        let start = match fact.path {
            "job.number" | "job.title" | "job.customer" => format!("{key} = \"\""),
            "job.units" => format!("{key} = {:?}", if units == Units::Inch { "inch" } else { "mm" }),
            _ => format!("# {key} ="),
        };
        let needed = if NEEDED.contains(&fact.path) { "NEEDED; " } else { "" };
        line(text, &start, &format!("{needed}{}", remark(fact, units)));
    }
}

fn line(text: &mut String, start: &str, remark: &str) {
    let _ = writeln!(text, "{start:REMARKS$}# {remark}");
}

/// Unit or words, what it means, what is usual.
fn remark(fact: &Fact, units: Units) -> String {
    match fact.stands {
        Stands::Figure(measure, _, likely) => {
            let unit = unit(measure, units);
            let unit = if unit.is_empty() { String::new() } else { format!("{unit}: ") };
            let usual = likely.map_or_else(String::new, |likely| format!("; usual {}", show::usual(measure, likely, units)));
            format!("{unit}{}{usual}", fact.help)
        }
        Stands::Word(words) => {
            let words: Vec<String> = words.iter().map(|word| format!("{word:?}")).collect();
            format!("{}: {}", words.join(", "), fact.help)
        }
        Stands::Flag => format!("true or false: {}", fact.help),
        Stands::Text if is_day(fact.path) => fact.help.to_owned(),
        Stands::Text | Stands::Alloy | Stands::Metal | Stands::Gauge => format!("\"..\": {}", fact.help),
    }
}

fn measure(text: &mut String, units: Units) {
    let (length, temperature) = match units {
        Units::Mm => ("mm", "°C"),
        Units::Inch => ("in", "°F"),
    };
    let features: Vec<&str> = Feature::ALL.iter().map(|(_, word)| *word).collect();
    let _ = write!(
        text,
        "\n# Readings as they were taken; one such table for each feature and each time. Features: {}.\n",
        features.join(", ")
    );
    text.push_str("[[seat.\"seat 1\".measure]]\nof = \"housing bore\"\ngauge = \"bore gauge\"\n");
    line(text, "# part_temperature =", &format!("{temperature}: of the part while it was read"));
    line(text, "# gauge_temperature =", &format!("{temperature}: of the gauge"));
    line(text, "# day =", "YYYY-MM-DD");
    line(text, "readings = [", &format!("rows of [station {length} from the datum end, angle in degrees, size {length}],"));
    text.push_str("]\n");
}
