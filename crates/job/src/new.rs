//! A commented starting job file, made from the table of facts so that it can't drift from what is read.

use crate::facts::{FACTS, Fact, Measure, Stands};
use crate::state::Units;

/// A starting file in millimetres or inches. It can be read as it stands; what it lacks, `check` says.
pub fn new_file(units: Units) -> String {
    let inch = units == Units::Inch;
    let mut text = String::new();
    let bare = if inch { "inches, °F, lbf, psi, lbf ft; small sizes in thousandths" } else { "mm, °C, kN, MPa, N m; small sizes in µm" };
    text += &format!(
        "# A job file. Lines that begin with # are comments: take the # away where you know the value.\n\
         # A bare number is in {bare}.\n\
         # A text may carry its own unit and its doubt: \"9.4512 in\", \"240.031 ± 0.004\", \"70 F\". What follows ± is one standard\n\
         # uncertainty; write \"± 0.008 (95 %)\" for a 95 % half-width.\n\n\
         [job]\nnumber = \"1\"\ntitle = \"what is to be done\"\ncustomer = \"\"\nunits = \"{}\"\nby = \"your name\"\ndate = \"2026-01-01\"\n\n",
        if inch { "inch" } else { "mm" }
    );
    text += &section("shop", "[shop]", units);
    text += "# One table for each gauge; measurements name it.\n";
    text += &section("gauge.*", "[gauge.stick]", units);
    text += "# What seats of one kind share. A seat may say any of it again for itself.\n[brief.main]\n";
    for path in ["machine", "failed", "hard"] {
        text += &lines(FACTS.iter().filter(|fact| fact.path == path), units);
    }
    text += "\n";
    text += &section("duty", "[brief.main.duty]", units);
    text += "# The temperatures at which it must hold: the coldest, running, the hottest.\n";
    text += &section("state.*", "[brief.main.state.\"cold start\"]", units);
    for name in ["housing", "bush", "journal", "bore", "groove"] {
        text += &section(name, &format!("[brief.main.{name}]"), units);
    }
    text += "# One table for each blank that can be had.\n";
    text += &section("stock.*", "[brief.main.stock.ring]", units);
    text += &section("work.*", "[brief.main.work.\"turn\"]", units);
    for name in ["cutting", "seating", "retainer"] {
        text += &section(name, &format!("[brief.main.{name}]"), units);
    }
    let (size, station) = if inch { ("9.4500", "0.5") } else { ("240.030", "15") };
    text += "# One table for each seat; count = 24 makes 24 alike.\n[seat.one]\nbrief = \"main\"\n\n";
    text += &section("old_bush", "[seat.one.old_bush]", units);
    text += &format!(
        "# Readings: station from the datum end, angle, size as read, and where it was taken the part's temperature; or sizes alone.\n\
         # of: housing bore, journal, bush outside, bush bore, fitted bore, old bush outside, old bush bore\n\
         # [[seat.one.measure]]\n# of = \"housing bore\"\n# gauge = \"stick\"\n# part_temperature = 21\n# day = \"2026-01-01\"\n\
         # readings = [\n#   [{station}, 0, {size}],\n#   [{station}, 90, {size}],\n# ]\n\n\
         # A decision, with its reason. question: alloy, band (low, high), blank, seating, retainer, clearance, groove,\n\
         # reading (of = \"housing bore\", drop = [7]: the seventh reading is not used)\n\
         # [[seat.one.decision]]\n# question = \"alloy\"\n# choose = \"CC493K\"\n# because = \"..\"\n\n\
         # [[signature]]\n# by = \"your name\"\n# role = \"released\"\n# day = \"2026-01-01\"\n"
    );
    text
}

/// The reference of the format, for the handbook.
pub fn reference() -> String {
    let mut text = String::from(
        "# Every key of a job file\n\n\
         Made from the table of facts (`crates/job/src/facts.rs`); a test holds it to that. A bare number is in the unit named for a metric\n\
         file, or in the one named for an inch file. A `*` is a name of your own.\n\n\
         | key | what stands there | what it means, and what is taken without it |\n| --- | --- | --- |\n",
    );
    for fact in FACTS {
        text += &format!("| `{}` | {} | {} |\n", fact.path, stands(fact), fact.help);
    }
    text
}

fn stands(fact: &Fact) -> String {
    match fact.stands {
        Stands::Figure(measure, range, _) => {
            let (mm, inch) = (unit(measure, Units::Mm), unit(measure, Units::Inch));
            let unit = if mm == inch { mm.to_owned() } else { format!("{mm} or {inch}") };
            format!("{range}{}", if unit.is_empty() { String::new() } else { format!("; {unit}") })
        }
        Stands::Word(words) => words.join(", "),
        Stands::Flag => "true or false".into(),
        Stands::Text => "text".into(),
        Stands::Alloy => "id of the alloy table".into(),
        Stands::Metal => "id of the table of metals".into(),
        Stands::Gauge => "name of a gauge".into(),
    }
}

fn unit(measure: Measure, units: Units) -> &'static str {
    let inch = units == Units::Inch;
    match measure {
        Measure::Length => {
            if inch {
                "in"
            } else {
                "mm"
            }
        }
        Measure::Fine => {
            if inch {
                "thou"
            } else {
                "µm"
            }
        }
        Measure::Temperature => {
            if inch {
                "°F"
            } else {
                "°C"
            }
        }
        Measure::Force => {
            if inch {
                "lbf"
            } else {
                "kN"
            }
        }
        Measure::Stress => {
            if inch {
                "psi"
            } else {
                "MPa"
            }
        }
        Measure::Torque => {
            if inch {
                "lbf ft"
            } else {
                "N m"
            }
        }
        Measure::Angle => "degrees",
        Measure::Turns => "turns a minute",
        Measure::Room => "m³",
        Measure::Expansion => "millionths per K",
        Measure::Plain => "",
    }
}

fn section(prefix: &str, heading: &str, units: Units) -> String {
    let facts = FACTS.iter().filter(|fact| fact.path.strip_prefix(prefix).is_some_and(|rest| rest.starts_with('.')));
    format!("{heading}\n{}\n", lines(facts, units))
}

fn lines<'f>(facts: impl Iterator<Item = &'f Fact>, units: Units) -> String {
    let line = |fact: &Fact| {
        let key = fact.path.rsplit('.').next().unwrap_or(fact.path);
        let sample = match fact.stands {
            Stands::Word(words) => format!("\"{}\"", words.first().copied().unwrap_or_default()),
            Stands::Flag => "true".into(),
            Stands::Text | Stands::Gauge => "\"\"".into(),
            Stands::Alloy => "\"CC493K\"".into(),
            Stands::Metal => "\"GE240\"".into(),
            Stands::Figure(..) => "".into(),
        };
        let unit = match fact.stands {
            Stands::Figure(measure, ..) => unit(measure, units),
            _ => "",
        };
        let words = match fact.stands {
            Stands::Word(words) => format!("; one of {}", words.join(", ")),
            _ => String::new(),
        };
        format!(
            "# {key} = {sample}{}# {}{}{words}\n",
            if sample.is_empty() { "" } else { "   " },
            fact.help,
            if unit.is_empty() { String::new() } else { format!(", {unit}") }
        )
    };
    facts.map(line).collect()
}
