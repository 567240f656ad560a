//! What a card of the shop asks a person: each field with its unit, its likely range and why; what was typed as a card, and a card as texts.
//!
//! One table serves every screen that writes cards. Units are those of the person; a card keeps mm, µm and kN. Likely ranges are common
//! practice. It leaves to `registers` what may stand on a card and to `fold` what counts.

use calc::Refused;
use calc::alloy::table::alloys;
use calc::keys::Range;
use serde_json::{Map, Value, json};

use crate::entry::day_number;
use crate::facts::Measure;
use crate::registers::{Card, KINDS, ROLES, Standing};
use crate::state::Units;
use crate::{show, typed};

/// What a field of a card holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Holds {
    /// A few words.
    Words,
    /// A day.
    Day,
    /// A figure: its measure, what is allowed, what is likely.
    Figure(Measure, Range, (f64, f64)),
    /// One of these words.
    One(&'static [&'static str]),
    /// One or more of these words.
    Some(&'static [&'static str]),
    /// The id of a bush alloy.
    Alloy,
    /// Points of a correction table, one on a line: size and what is added.
    Points,
}

/// A field of a card.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Field {
    /// Its key on the card.
    pub key: &'static str,
    /// What it is called.
    pub label: &'static str,
    /// What it holds.
    pub holds: Holds,
    /// Why it is asked.
    pub why: &'static str,
    /// It may be left empty.
    pub optional: bool,
}

/// A kind of card.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Form {
    /// What the card says it is of: `gauge`, `checked`.
    pub of: &'static str,
    /// The key of the name.
    pub named: &'static str,
    /// What is done with it: `Add a gauge`.
    pub deed: &'static str,
    /// Its fields; the name first where the card gives a new one.
    pub fields: &'static [Field],
}

const SIZE: Range = Range::over(0.0).to(20_000.0);
const SIZE_OR_0: Range = Range::within(0.0, 20_000.0);
const MONEY: Range = Range::within(0.0, 1e9);

const fn field(key: &'static str, label: &'static str, holds: Holds, why: &'static str) -> Field {
    Field { key, label, holds, why, optional: false }
}
const fn may(key: &'static str, label: &'static str, holds: Holds, why: &'static str) -> Field {
    Field { key, label, holds, why, optional: true }
}
const fn length(range: Range, likely: (f64, f64)) -> Holds {
    Holds::Figure(Measure::Length, range, likely)
}
const fn plain(range: Range, likely: (f64, f64)) -> Holds {
    Holds::Figure(Measure::Plain, range, likely)
}

/// Every kind of card that a person writes, in the order of the shop.
pub const FORMS: &[Form] = &[
    Form {
        of: "gauge",
        named: "name",
        deed: "Add a gauge",
        fields: &[
            field("name", "name", Holds::Words, "the short name under which jobs call it, as in bore gauge"),
            may("about", "what it is", Holds::Words, "kind and number, as they stand on certificate and sheet"),
            field("low_mm", "smallest size", length(SIZE_OR_0, (0.0, 500.0)), "what lies under its range is warned of"),
            field("high_mm", "largest size", length(SIZE, (25.0, 1000.0)), "what lies over its range is warned of"),
            field("resolution_mm", "smallest step", length(SIZE, (0.0005, 0.02)), "no size is known better than the step that is shown"),
            may(
                "repeatability_mm",
                "repeats within",
                length(SIZE, (0.0005, 0.01)),
                "standard deviation when one place is read again and again",
            ),
            may("repeats", "from how many repeats", plain(Range::over(0.0).to(1e6), (5.0, 30.0)), "degrees of freedom behind that figure"),
            may("contacts", "contacts", Holds::One(&["two", "three"]), "three contacts do not see an odd number of lobes as two do"),
        ],
    },
    Form {
        of: "checked",
        named: "gauge",
        deed: "Record a check",
        fields: &[
            field("on", "checked on", Holds::Day, "the day of the check"),
            field("until", "good until", Holds::Day, "after this day its sizes are marked as out of date"),
            may("against", "against what", Holds::Words, "ring, blocks or laboratory: what the figures can be traced to"),
            may("certificate", "certificate", Holds::Words, "its number, for the sheet"),
            field(
                "u_mm",
                "doubt of the correction",
                length(SIZE_OR_0, (0.0003, 0.005)),
                "standard uncertainty; a certificate's ± is mostly twice this",
            ),
            may("corrections", "correction table", Holds::Points, "one point on a line, size and what is added to a reading: 160 0.001"),
        ],
    },
    Form {
        of: "lathe",
        named: "name",
        deed: "Add a lathe",
        fields: &[
            field("name", "name", Holds::Words, "as jobs call it: what it teaches is kept under this name"),
            may("about", "what it is", Holds::Words, "kind, number, where it stands"),
            field(
                "holds_um",
                "holds",
                Holds::Figure(Measure::Fine, Range::over(0.0).to(1e5), (10.0, 60.0)),
                "width of the band in which most parts land",
            ),
            field(
                "repeats_um",
                "repeats within",
                Holds::Figure(Measure::Fine, Range::over(0.0).to(1e5), (2.0, 15.0)),
                "standard deviation of one command given again",
            ),
            field("swing_mm", "swings", length(SIZE, (200.0, 2000.0)), "largest diameter over the bed"),
            field("between_mm", "between centres", length(SIZE, (500.0, 5000.0)), "longest part"),
        ],
    },
    Form {
        of: "press",
        named: "name",
        deed: "Add a press",
        fields: &[
            field("name", "name", Holds::Words, "as the shop calls it"),
            may("about", "what it is", Holds::Words, "kind, number, where it stands"),
            field(
                "force_kN",
                "force",
                Holds::Figure(Measure::Force, Range::over(0.0).to(1e6), (100.0, 3000.0)),
                "one and a half times the force to expect should be ready",
            ),
            field("daylight_mm", "daylight", length(SIZE, (200.0, 2000.0)), "tallest part that goes in, housing, bush and tools together"),
        ],
    },
    Form {
        of: "metal",
        named: "name",
        deed: "Add a blank",
        fields: &[
            field("name", "name", Holds::Words, "as it is marked on the shelf"),
            field("alloy", "alloy", Holds::Alloy, "only this alloy's jobs are offered it"),
            field("kind", "kind", Holds::One(KINDS), "bar and cored bar are cut to length, a cast ring is used whole"),
            field("outside_mm", "outside", length(SIZE, (20.0, 600.0)), "as it lies there, skin included"),
            may("inside_mm", "inside", length(SIZE, (10.0, 500.0)), "of a cored bar or ring; empty for a solid bar"),
            field("length_mm", "length", length(SIZE, (50.0, 3000.0)), "as it came; what is cut off is written down by itself"),
            may("lot", "lot", Holds::Words, "lot or melt, so that a bush can be followed back to it"),
            may("certificate", "certificate", Holds::Words, "its number, for the sheet"),
            field("price", "price of all of it", plain(MONEY, (20.0, 5000.0)), "in the shop's money; the quote takes it by length"),
            field("on", "came on", Holds::Day, "the day it came"),
        ],
    },
    Form {
        of: "used",
        named: "metal",
        deed: "Cut a length off",
        fields: &[
            field("length_mm", "length with the cut", length(SIZE, (20.0, 500.0)), "what is no more on the shelf, saw cut included"),
            may("job", "for which job", Holds::Words, "the number of the job"),
        ],
    },
    Form {
        of: "swarf",
        named: "alloy",
        deed: "Set a price of swarf",
        fields: &[
            field("alloy", "alloy", Holds::Alloy, "swarf is sold by alloy, clean and unmixed"),
            field("per_kg", "price of a kilogram", plain(MONEY, (1.0, 8.0)), "what the merchant pays; the quote takes it off the blank"),
        ],
    },
    Form {
        of: "customer",
        named: "name",
        deed: "Add a customer",
        fields: &[
            field("name", "name", Holds::Words, "as it stands on sheets"),
            may("about", "about", Holds::Words, "where, whom to ask, what to mind"),
        ],
    },
    Form {
        of: "person",
        named: "name",
        deed: "Add a person",
        fields: &[
            field("name", "name", Holds::Words, "the name that entries are signed with"),
            field("roles", "roles", Holds::Some(ROLES), "floor measures and turns, office plans and quotes, owner answers for the shop"),
        ],
    },
    Form {
        of: "gone",
        named: "name",
        deed: "Retire",
        fields: &[may("because", "because", Holds::Words, "what becomes of it; the card stays in the record")],
    },
];

/// The form of a kind of card.
pub fn form(of: &str) -> Option<&'static Form> {
    FORMS.iter().find(|form| form.of == of)
}

/// A card from what was typed; `text` gives the text of a key. What can't stand is refused with the key of its field.
pub fn made(form: &Form, text: &dyn Fn(&str) -> String, units: Units) -> Result<Card, (String, Refused)> {
    let mut card = Map::from_iter([("of".to_owned(), json!(form.of))]);
    if form.fields.iter().all(|field| field.key != form.named) {
        card.insert(form.named.to_owned(), json!(text(form.named)));
    }
    if form.of == "gone" {
        card.insert("register".to_owned(), json!(text("register")));
    }
    for field in form.fields {
        let value = read(field, text(field.key).trim(), units).map_err(|refused| (field.key.to_owned(), refused))?;
        card.insert(field.key.to_owned(), value);
    }
    let card: Card = serde_json::from_value(Value::Object(card)).map_err(|fault| {
        (String::new(), Refused::new(form.of, fault.to_string(), "what the fields ask for", "look at each field once more"))
    })?;
    match card.checked() {
        Ok(()) => Ok(card),
        Err(refused) => {
            let allowed = form.fields.iter().fold(refused.allowed.clone(), |words, field| {
                if field.key.contains('_') { words.replace(field.key, field.label) } else { words }
            });
            let name = form.fields.iter().find(|field| field.key == refused.key).map_or(refused.key.as_str(), |field| field.label);
            let words = Refused::new(name, refused.given.clone(), allowed, refused.remedy.to_string());
            Err((refused.key, words))
        }
    }
}

fn read(field: &Field, text: &str, units: Units) -> Result<Value, Refused> {
    let missing = |allowed: &str, remedy: &str| Err(Refused::new(field.label, "empty", allowed.to_owned(), remedy.to_owned()));
    match field.holds {
        Holds::Points => points(field, text, units),
        Holds::Some(_) => Ok(json!(text.split_whitespace().collect::<Vec<_>>())),
        Holds::Words if text.is_empty() && !field.optional => missing("a few letters", "type it as the shop says it"),
        Holds::Words => Ok(json!(text)),
        _ if text.is_empty() && field.optional => Ok(Value::Null),
        Holds::Day if day_number(text).is_none() => {
            let given = if text.is_empty() { "empty".to_owned() } else { format!("{text:?}") };
            Err(Refused::new(field.label, given, "a day, YYYY-MM-DD", "type it like 2026-03-02"))
        }
        Holds::Alloy | Holds::One(_) if text.is_empty() => missing("one of the list", "choose it"),
        Holds::Day | Holds::Alloy | Holds::One(_) => Ok(json!(text)),
        Holds::Figure(measure, range, likely) => typed::of_card(field.label, (measure, range, likely), text, units).map(|x| json!(x)),
    }
}

/// Lines of a correction table, `160 0.001`, as its points.
fn points(field: &Field, text: &str, units: Units) -> Result<Value, Refused> {
    let lines = text.lines().map(str::trim).filter(|line| !line.is_empty());
    let point = |line: &str| {
        let length = |text: &str, range| typed::of_card(field.label, (Measure::Length, range, (0.001, 0.001)), text, units);
        let parts: Vec<&str> = line.split([' ', '\t', ';']).filter(|part| !part.is_empty()).collect();
        match parts.as_slice() {
            [size, add] => Ok(json!({"size_mm": length(size, SIZE)?, "add_mm": length(add, Range::within(-10.0, 10.0))?})),
            _ => Err(Refused::new(
                field.label,
                format!("{line:?}"),
                "two figures on a line, size and what is added",
                "type it like 160 0.001",
            )),
        }
    };
    Ok(Value::Array(lines.map(point).collect::<Result<_, _>>()?))
}

/// What stands on a card, as it would be typed: key and text.
pub fn texts(card: &Card, units: Units) -> Vec<(String, String)> {
    let Ok(Value::Object(values)) = serde_json::to_value(card) else { return Vec::new() };
    let fields = form(of(card)).map_or(&[][..], |form| form.fields);
    let one = |field: &Field| {
        let value = values.get(field.key)?;
        let text = match (field.holds, value) {
            (_, Value::Null) => String::new(),
            (Holds::Figure(measure, ..), value) => bare(measure, value.as_f64()?, units),
            (Holds::Points, value) => {
                let length = |point: &Value, key: &str| point.get(key).and_then(Value::as_f64).map(|mm| bare(Measure::Length, mm, units));
                let line = |point: &Value| Some(format!("{} {}", length(point, "size_mm")?, length(point, "add_mm")?));
                value.as_array()?.iter().filter_map(line).collect::<Vec<_>>().join("\n")
            }
            (_, Value::Array(words)) => words.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(" "),
            (_, value) => value.as_str()?.to_owned(),
        };
        Some((field.key.to_owned(), text))
    };
    fields.iter().filter_map(one).collect()
}

/// What the card says it is of.
fn of(card: &Card) -> &str {
    match card {
        Card::Checked { .. } => "checked",
        Card::Used { .. } => "used",
        Card::Gone { .. } => "gone",
        card => card.register(),
    }
}

/// A figure without its unit.
fn bare(measure: Measure, value: f64, units: Units) -> String {
    let text = show::figure(measure, value, 0.0, units);
    let unit = unit(measure, units);
    text.strip_suffix(unit).map_or(text.clone(), |bare| bare.trim_end().to_owned())
}

/// The unit that stands beside a field.
pub fn unit(measure: Measure, units: Units) -> &'static str {
    show::measured_in(measure, units)
}

/// What stands beside a field: why it is asked, and what is likely there.
pub fn hint(field: &Field, units: Units) -> String {
    match field.holds {
        Holds::Figure(measure, _, likely) => format!("{}; usual {}", field.why, show::usual(measure, likely, units)),
        _ => field.why.to_owned(),
    }
}

/// How somebody or something stands: a mark, the word that goes with it, and whether it needs a person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// The mark.
    pub mark: &'static str,
    /// The word.
    pub word: String,
    /// It needs a person.
    pub needs: bool,
}

/// Days before its end in which a check is called due. *Common practice*.
const DUE_DAYS: i64 = 30;

/// How a gauge's date stands on the day `today`, or that something is gone; none where there is nothing to say.
pub fn mark(standing: &Standing, today: &str) -> Option<Mark> {
    let mark = |mark, word, needs| Some(Mark { mark, word, needs });
    if let Some(because) = &standing.gone {
        let why = if because.is_empty() { String::new() } else { format!(": {because}") };
        return mark("–", format!("retired{why}"), false);
    }
    match (&standing.card, &standing.checked) {
        (_, Some(Card::Checked { until, .. })) if until.as_str() < today => mark("!", format!("out of date since {until}"), true),
        (_, Some(Card::Checked { until, .. })) => {
            let left = day_number(until).zip(day_number(today)).map(|(until, today)| until - today);
            match left {
                Some(left) if left <= DUE_DAYS => mark("~", format!("due soon: {until}"), true),
                _ => mark("✓", format!("good until {until}"), false),
            }
        }
        (Some(Card::Gauge { .. }), None) => mark("!", "no check on record".into(), true),
        _ => None,
    }
}

/// The card in lines: label and what stands there.
pub fn lines(standing: &Standing, units: Units) -> Vec<(String, String)> {
    let mut rows = Vec::new();
    for card in [standing.card.as_ref(), standing.checked.as_ref()].into_iter().flatten() {
        let fields = form(of(card)).map_or(&[][..], |form| form.fields);
        for (key, text) in texts(card, units) {
            let Some(field) = fields.iter().find(|field| field.key == key && key != "name" && !text.is_empty()) else { continue };
            let unit = match field.holds {
                Holds::Figure(measure, ..) => unit(measure, units),
                Holds::Points => unit(Measure::Length, units),
                _ => "",
            };
            let text = match field.holds {
                Holds::One(_) => text.replace('_', " "),
                Holds::Some(_) => text.replace(' ', ", "),
                Holds::Points => text.lines().map(|line| line.replacen(' ', ": add ", 1)).collect::<Vec<_>>().join("; "),
                Holds::Alloy => {
                    alloys().iter().find(|alloy| alloy.id == text).map_or(text.clone(), |alloy| format!("{text}, {}", alloy.family))
                }
                _ => text,
            };
            rows.push((field.label.to_owned(), format!("{text} {unit}").trim_end().to_owned()));
        }
    }
    if let (Some(Card::Metal { length_mm, .. }), false) = (&standing.card, standing.used_mm.is_empty()) {
        rows.push(("left of it".into(), show::length(calc::sawing::left_mm(*length_mm, &standing.used_mm), units)));
    }
    rows
}

/// The registers in the order of the screen: word, heading, the card that adds to it, and what will stand there while it is empty.
pub const SHELVES: [(&str, &str, &str, &str); 7] = [
    (
        "gauge",
        "Gauges",
        "gauge",
        "A job takes resolution, repeatability and corrections from here, and warns when a gauge is out of its date or range.",
    ),
    ("lathe", "Lathes", "lathe", "What a lathe holds and how it repeats, beside what the parts turned on it have taught."),
    ("press", "Presses", "press", "Whether a press is large enough is asked before the bush stands under it."),
    ("metal", "Metals on the shelf", "metal", "Blanks with lot, certificate and price, and what is left of them."),
    ("swarf", "Prices of swarf", "swarf", "What clean swarf of an alloy brings is taken off the price of its blank."),
    ("customer", "Customers", "customer", "Where they are, whom to ask, what to mind."),
    ("person", "People", "person", "Who signs what: every entry says who wrote it."),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::registers::REGISTERS;

    fn sample(field: &Field, units: Units) -> String {
        let in_units = |figure: f64| if units == Units::Inch { figure / 10.0 } else { figure };
        match field.holds {
            Holds::Words => "a word".into(),
            Holds::Day => "2026-03-02".into(),
            Holds::Figure(_, _, (low, high)) => {
                let figure = if field.key == "inside_mm" || field.key == "low_mm" { low } else { high };
                in_units(figure).to_string()
            }
            Holds::One(words) | Holds::Some(words) => words[0].into(),
            Holds::Alloy => "CC493K".into(),
            Holds::Points => "160 0.001\n240 -0.003".into(),
        }
    }

    fn given(form: &'static Form, units: Units) -> impl Fn(&str) -> String {
        move |key: &str| match form.fields.iter().find(|field| field.key == key) {
            Some(field) => sample(field, units),
            None if key == "register" => "gauge".into(),
            None => "X".into(),
        }
    }

    #[test]
    fn every_card_is_made_from_its_fields_and_gives_them_back() {
        for form in FORMS {
            for units in [Units::Mm, Units::Inch] {
                let text = given(form, units);
                let card = made(form, &text, units).unwrap_or_else(|(key, refused)| panic!("{} {key}: {refused}", form.of));
                for (key, back) in texts(&card, units) {
                    assert_eq!(back, text(&key), "{} {key} {units:?}", form.of);
                }
            }
        }
    }

    #[test]
    fn the_word_of_every_register_has_its_shelf() {
        assert!(REGISTERS.iter().all(|word| SHELVES.iter().any(|(shelf, ..)| shelf == word)));
        assert!(SHELVES.iter().all(|(.., of, _)| form(of).is_some()));
    }

    #[test]
    fn what_can_not_stand_is_refused_at_its_field_in_words() {
        let refused = |of: &str, key: &str, typed: &str| {
            let form = form(of).unwrap();
            let text = |asked: &str| if asked == key { typed.to_owned() } else { given(form, Units::Mm)(asked) };
            let (at, refused) = made(form, &text, Units::Mm).unwrap_err();
            assert_eq!(at, key);
            refused.to_string()
        };
        for (of, key, typed, words) in [
            ("gauge", "name", "", "name is empty"),
            ("gauge", "high_mm", "0", "largest size"),
            ("gauge", "resolution_mm", "fine", "smallest step is \"fine\""),
            ("checked", "until", "soon", "good until is \"soon\""),
            ("checked", "corrections", "160", "correction table is \"160\""),
            ("metal", "alloy", "", "alloy is empty"),
            ("metal", "inside_mm", "900", "inside is 900"),
            ("person", "roles", "", "roles is empty"),
        ] {
            let said = refused(of, key, typed);
            assert!(said.contains(words), "{of} {key}: {said}");
        }
    }

    #[test]
    fn a_gauge_says_by_mark_and_word_how_its_date_stands() {
        let card = |of: &str, until: &str| {
            let form = form(of).unwrap();
            let text = |key: &str| if key == "until" { until.to_owned() } else { given(form, Units::Mm)(key) };
            made(form, &text, Units::Mm).unwrap()
        };
        let standing = |checked, gone: Option<&str>| Standing {
            card: Some(card("gauge", "")),
            entry: crate::entry::EntryId::of_file("2026-03-02", "1", ""),
            who: "A. Turner".into(),
            checked,
            used_mm: Vec::new(),
            gone: gone.map(str::to_owned),
        };
        let word = |standing: &Standing| mark(standing, "2026-06-01").unwrap();
        for (until, gone, sign, needs) in [
            (Some("2026-05-31"), None, "!", true),
            (Some("2026-06-20"), None, "~", true),
            (Some("2027-03-02"), None, "✓", false),
            (None, None, "!", true),
            (Some("2026-05-31"), Some("dropped"), "–", false),
        ] {
            let mark = word(&standing(until.map(|until| card("checked", until)), gone));
            assert_eq!((mark.mark, mark.needs), (sign, needs), "{until:?} {}", mark.word);
        }
    }
}
