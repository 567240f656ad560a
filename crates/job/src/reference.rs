//! The reference of the job file for the handbook, made from the tables that files are read by, so that it can't drift.

use std::fmt::Write as _;

use crate::entry::{EVENTS, ROLES};
use crate::facts::{FACTS, Fact, Stands};
use crate::file::{TABLES, allowed, is_day, unit};
use crate::questions::{Choose, QUESTIONS};
use crate::show;
use crate::state::{Feature, Units};

const INTRODUCTION: &str = r#"# The job file

A job is one text file that you write with any editor. It is TOML: a table is `[name]` on a line of its own, under it stand its keys,
`key = value`; a text stands in quotes, a day is `2026-03-02`; what follows `#` is for you. `bushwright job new` writes one to start from,
`bushwright job check` says what is still missing.

**Values.** A bare number is in the unit of the file: `units = "mm"` or `units = "inch"` under `[job]`. A text may carry its own unit and
its doubt: `"9.4512 in"`, `"70 F"`, `"240.031 ± 0.004"`, `"85 kN ± 5"`; or write `{ value = 240.031, u = 0.004 }`. What follows ± is one
standard uncertainty; `"240.031 mm ± 0.008 mm (95 %)"` is a half-width of 95 %. `+-` is read as ±.

**Who wins.** Facts stand at the job (`[shop]`, `[gauge.NAME]`, `[stock.NAME]`, ..), at a brief (`[brief.NAME.duty]`, ..) or at a seat
(`[seat.NAME.housing]`, ..). A seat's own fact counts before its brief's, a brief's before the job's. Seats that share a duty name its
brief: `brief = "winch"`; `count = 24` makes 24 seats that share everything. NAME is a name of your own, in quotes if it has blanks.

**Order.** Facts and readings without a day come first; what has a day is taken by its day, what has the same day as it stands in the
file; a decision without a day comes last on the day of the file. A decision knows what it was taken on: what moves afterwards is named.

**Never edit what was decided on; correct it.** Write a `[[seat.NAME.correction]]`: both values stay in the record.

The figures after *usual* are those that are taken without a word; outside them a figure is taken with a warning. In brackets stands what
is taken when the key is not given.
"#;

const SECTIONS: &[(&str, &str)] = &[
    ("job", "`[job]`, also with `machine`, `failed` and `hard`"),
    ("seat", "`[seat.NAME]`"),
    ("shop", "`[shop]`"),
    ("gauge", "`[gauge.NAME]`"),
    ("", "keys of `[brief.NAME]` or `[seat.NAME]` themselves"),
    ("duty", "`[brief.NAME.duty]`"),
    ("state", "`[brief.NAME.state.NAME]`: temperatures at which it must hold"),
    ("housing", "`[brief.NAME.housing]`"),
    ("step", "`[brief.NAME.step.NAME]`: a stepped housing, one length after the other"),
    ("bush", "`[brief.NAME.bush]`"),
    ("hole", "`[brief.NAME.hole]`"),
    ("journal", "`[brief.NAME.journal]`"),
    ("oil", "`[brief.NAME.oil]`: oil of a journal that turns"),
    ("bore", "`[brief.NAME.bore]`: running clearance"),
    ("groove", "`[brief.NAME.groove]`"),
    ("old_bush", "`[brief.NAME.old_bush]`"),
    ("stock", "`[stock.NAME]`: blanks"),
    ("work", "`[work.NAME]`: steps of the route"),
    ("cutting", "`[cutting]`"),
    ("seating", "`[brief.NAME.seating]`"),
    ("retainer", "`[brief.NAME.retainer]`"),
];

const LOG: &str = r#"
## The log of the lathe

`bushwright turn winch.toml inboard` keeps what happens at the lathe in `winch.log.jsonl`, beside the job file and named after it. The log is
part of the job: who copies one copies both. The sheet reads it: *Turn* (with `--inside`, *Bore*) shows the cuts made, the size now with
its doubt, the chance and the next command, and a part that was finished at the lathe counts as measured in *Release*, unless readings of
it stand in the job file.

**A line** is one entry, as JSON, `{"entry": {..}, "hash": ".."}`. An entry has `version`, `id`, `job`, `seat`, `who`, `device`, `when` (UTC),
`follows` (the entry before it) and `what`; the hash is SHA-256 over the hash before it and the entry with its keys in order, so that a line
that was changed, dropped or moved is found. `what` is a step: `surface` (`outside` or `bore`), `after_s` (seconds since the step before),
`typed` (the answer as it was typed) and what it `does`:

| `step` | keeps |
| --- | --- |
| `start` | the size before the first cut, and what the belief started from: band, metal, gauge, lathe, prices, habits |
| `air`, `part`, `size`, `check` | the readings of one set, as they were shown: `values_C` or `values_mm` |
| `cut` | `command_mm`: the diameter that was asked of the slide |
| `skip` | `what` was passed over: `air`, `part`, `size`, `check`, `run_out` |
| `wait`, `tool`, `chuck`, `day`, `coolant` | that it happened; `run_out` the swing of the indicator after chucking again |
| `note` | a remark |
| `left` | `cuts`: how many are left, where the plan was changed |
| `band` | the limits, where they were moved in the job while the part was in the chuck |
| `further`, `finished`, `scrapped`, `another` | the last cut was not the last; the part is done, or lost; another goes in |

Nothing is deleted: `undo` writes a correction that names the step that it takes back (`withdrawn`). Sizes at 20 °C, chances and commands
are not kept; they are found again from the steps.

**Promises.** A line is on the disk before the next question is asked. One dialogue at a time writes a log; a second is refused. A last
line that was written half is put into `winch.log.jsonl.torn`, and said; the dialogue goes on after the last whole line. A log of another
job, a changed line or an unknown step is refused with the number of the line, and nothing is written.

**What a lathe teaches.** Write its name as `lathe = "large lathe"` under `[job]`, `[brief.NAME]` or `[seat.NAME]`. Each part that is finished on it
teaches its heat, cooling time, deflection, spring-back, wear and where a set-up lands; the last 20 parts of that lathe in the logs of this
folder count, beside a usual belief that is worth 3 parts. Nothing of it is stored: a log that is moved away is forgotten.
"#;

/// The section of a fact: the first part of its path, empty where it has one part.
pub(crate) fn section(fact: &Fact) -> &'static str {
    fact.path.split_once('.').map_or("", |(section, _)| section)
}

/// The last part of the path of a fact.
pub(crate) fn key(fact: &Fact) -> &'static str {
    fact.path.rsplit('.').next().unwrap_or(fact.path)
}

/// The reference as Markdown.
pub fn reference() -> String {
    let mut text = INTRODUCTION.to_owned();
    for (name, heading) in SECTIONS {
        heading_of(&mut text, heading, "| key | what stands there | what it means |\n| --- | --- | --- |");
        for fact in FACTS.iter().filter(|fact| section(fact) == *name) {
            row(&mut text, &[&format!("`{}`", key(fact)), &stands(fact), fact.help]);
        }
    }
    for (word, help, keys) in TABLES {
        let heading = format!("`[[seat.NAME.{word}]]`: {help}");
        heading_of(&mut text, &heading, "| key | needed | what it means |\n| --- | --- | --- |");
        for (key, needed, help) in *keys {
            row(&mut text, &[&format!("`{key}`"), if *needed { "yes" } else { "" }, help]);
        }
    }
    words(&mut text);
    text.push_str(LOG);
    text
}

fn heading_of(text: &mut String, heading: &str, columns: &str) {
    // Writing to a String can't fail.
    let _ = write!(text, "\n## {heading}\n\n{columns}\n");
}

fn row(text: &mut String, cells: &[&str]) {
    let _ = writeln!(text, "| {} |", cells.join(" | "));
}

fn words(text: &mut String) {
    let features: Vec<&str> = Feature::ALL.iter().map(|(_, word)| *word).collect();
    let _ = write!(
        text,
        "\n## Words\n\n- features, for `of`: {}\n- `what` of an event: {}\n- `role` of a signature: {}\n",
        listed(&features),
        listed(EVENTS),
        listed(ROLES)
    );
    heading_of(text, "Questions", "| `question` | asks | `choose` |\n| --- | --- | --- |");
    for question in QUESTIONS {
        let choose = match question.choose {
            Choose::Alloy => "id of an alloy".to_owned(),
            Choose::Size => "none: `low` and `high`".to_owned(),
            Choose::Blank => "its name under `stock`".to_owned(),
            Choose::Word(words) => listed(words),
            Choose::Drop => "none: `of`, `drop` and `because`".to_owned(),
        };
        row(text, &[&format!("`{}`", question.word), question.help, &choose]);
    }
}

fn listed(words: &[&str]) -> String {
    words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ")
}

/// What stands at a fact, in words for a table.
fn stands(fact: &Fact) -> String {
    match fact.stands {
        Stands::Figure(measure, range, likely) => {
            let units = match (unit(measure, Units::Mm), unit(measure, Units::Inch)) {
                (one, other) if one == other => String::new(),
                (_, inch) => format!(" ({inch} in an inch file)"),
            };
            let usual = likely.map_or_else(String::new, |likely| format!("; usual {}", show::usual(measure, likely, Units::Mm)));
            format!("{}{units}{usual}", allowed(measure, range, Units::Mm))
        }
        Stands::Word(words) => listed(words),
        Stands::Flag => "`true` or `false`".into(),
        Stands::Alloy => "id of an alloy".into(),
        Stands::Metal => "id of a housing or shaft metal".into(),
        Stands::Gauge => "name of a gauge".into(),
        Stands::Text if is_day(fact.path) => "a day".into(),
        Stands::Text => "a text".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fact_stands_in_a_section_of_the_reference() {
        for fact in FACTS {
            assert!(SECTIONS.iter().any(|(name, _)| *name == section(fact)), "{}", fact.path);
        }
    }
}
