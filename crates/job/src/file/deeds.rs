//! What people did: measures, decisions, events, corrections and signatures, each a table of a list.

use calc::Refused;
use calc::alloy::table::alloys;
use calc::keys::Range;
use toml::de::{DeTable, DeValue};

use crate::entry::{EVENTS, ROLES, Scope, What};
use crate::facts::{Measure, fact};
use crate::questions::{Choose, QUESTIONS, Question, question};
use crate::show;
use crate::state::{Feature, Units};

use super::BadFile;
use super::figure::{Value, in_quotes};
use super::measure::{SIZE, feature, size};
use super::place::{not_known, refuse_at};
use super::walk::{TABLES, Walk, at, bare_or_quoted, items};

/// Most tables of one kind in one scope.
const MOST_DEEDS: usize = 100;
/// Most events of one scope.
const MOST_EVENTS: usize = 1000;
/// Sizes of a decision: a clearance may be 0.
const SIZE_OR_0: Range = Range::within(0.0, SIZE.high);

/// What can be read only when all facts and readings of the file are known.
#[derive(Debug)]
pub(super) enum Waiting<'a, 't> {
    /// A decision that drops readings.
    Drop { scope: Scope, number: usize, byte: usize, table: &'a DeTable<'t> },
    /// A correction.
    Correction { scope: Scope, number: usize, byte: usize, table: &'a DeTable<'t> },
}

impl<'a, 't> Walk<'a, 't> {
    /// The tables of one kind in a scope.
    pub fn deeds(&mut self, scope: &Scope, kind: &str, value: &'a Value<'t>) {
        let single = std::slice::from_ref(value);
        let list = match value.get_ref() {
            DeValue::Table(_) => single,
            DeValue::Array(list) => list.as_ref(),
            _ => &[],
        };
        let most = if kind == "event" { MOST_EVENTS } else { MOST_DEEDS };
        if list.len() > most {
            let refused = Refused::new(kind, format!("{} tables", list.len()), format!("{most} at most"), "keep those that the job needs");
            let start = list.get(most).map_or(0, |item| item.span().start);
            return self.wrong(refuse_at(self.values.text, start, refused));
        }
        if list.is_empty() || list.iter().any(|item| item.get_ref().as_table().is_none()) {
            let remedy = format!("write [[{}]] on a line of its own before each, its keys under it", header(scope, kind));
            let error = self.values.refuse(kind, value, format!("1 to {most} tables"), remedy);
            return self.wrong(error);
        }
        for (i, item) in list.iter().enumerate() {
            let Some(table) = item.get_ref().as_table() else { continue };
            let byte = item.span().start;
            if self.is_past_an_error(byte) || !self.keys_are_known(scope, kind, table, byte) {
                continue;
            }
            let number = i + 1;
            match kind {
                "measure" => self.measure(scope, u32::try_from(number).unwrap_or(u32::MAX), table, byte),
                "decision" => self.decision(scope, number, byte, table),
                "event" => self.event(scope, number, byte, table),
                "correction" => self.waiting.push(Waiting::Correction { scope: scope.clone(), number, byte, table }),
                _ => self.signature(scope, number, byte, table),
            }
        }
    }

    /// Every key of the table is one of its kind, and every needed one is there.
    fn keys_are_known(&mut self, scope: &Scope, kind: &str, table: &DeTable<'t>, byte: usize) -> bool {
        let keys = TABLES.iter().find(|(word, ..)| *word == kind).map_or(&[][..], |(.., keys)| keys);
        let known: Vec<&str> = keys.iter().map(|(key, ..)| *key).collect();
        let mut all_well = true;
        let place = format!("[[{}]]", header(scope, kind));
        for (key, _) in items(table) {
            if !known.contains(&key.get_ref().as_ref()) {
                self.unknown_key(&place, key, &known);
                all_well = false;
            }
        }
        for (key, _, help) in keys.iter().filter(|(key, needed, _)| *needed && at(table, key).is_none()) {
            let refused = Refused::new(*key, format!("missing in {place}"), *help, format!("write {key} = .. under it"));
            self.wrong(refuse_at(self.values.text, byte, refused));
            all_well = false;
        }
        all_well
    }

    /// Who and when, where the table says it.
    pub fn who_and_day(&mut self, table: &DeTable<'t>) -> (Option<String>, Option<String>) {
        let values = self.values;
        let who = at(table, "by").and_then(|value| self.keep(values.filled("by", value)));
        let day = at(table, "day").and_then(|value| self.keep(values.day("day", value)));
        (who, day)
    }

    fn because(&mut self, table: &DeTable<'t>) -> String {
        let values = self.values;
        at(table, "because").and_then(|value| self.keep(values.text("because", value))).unwrap_or_default()
    }

    fn decision(&mut self, scope: &Scope, number: usize, byte: usize, table: &'a DeTable<'t>) {
        let values = self.values;
        let words: Vec<&str> = QUESTIONS.iter().map(|question| question.word).collect();
        let Some(word) = at(table, "question").and_then(|value| self.keep(values.word("question", &words, value))) else { return };
        let Some(question) = question(word) else { return };
        if question.choose == Choose::Drop {
            return self.waiting.push(Waiting::Drop { scope: scope.clone(), number, byte, table });
        }
        let wrong = ["drop", "of"].iter().find_map(|key| at(table, key));
        if let Some(value) = wrong {
            let error = values.refuse("drop", value, "with question = \"reading\" only", "make a decision of its own of it");
            return self.wrong(error);
        }
        let Some((choice, low_high_mm)) = self.answer(scope, byte, question, table) else { return };
        let apart = match at(table, "apart").map(|value| (value, value.get_ref().as_bool())) {
            None => false,
            Some((_, Some(apart))) => apart,
            Some((value, None)) => {
                let error = values.refuse("apart", value, "true or false", "write apart = true, or leave it out");
                return self.wrong(error);
            }
        };
        let because = self.because(table);
        let by = self.who_and_day(table);
        let what = What::Decision { question: word.to_owned(), choice, low_high_mm, because, drops: Vec::new(), settles: Vec::new() };
        self.add(scope, &format!("decision.{number}"), byte, by, what);
        if let Some(draft) = self.drafts.last_mut() {
            draft.apart = apart;
        }
    }

    /// The answer to a question: its words, and the ends of a size.
    fn answer(&mut self, scope: &Scope, byte: usize, question: &Question, table: &'a DeTable<'t>) -> Option<(String, Option<(f64, f64)>)> {
        let wanted: &[&str] = if question.choose == Choose::Size { &["low", "high"] } else { &["choose"] };
        for key in ["choose", "low", "high"] {
            match (at(table, key), wanted.contains(&key)) {
                (None, true) => {
                    let given = format!("missing in [[{}]]", header(scope, "decision"));
                    let refused = Refused::new(key, given, question.help, format!("write {key} = .. under it"));
                    self.wrong(refuse_at(self.values.text, byte, refused));
                    return None;
                }
                (Some(value), false) => {
                    let remedy = format!("answer with {}", wanted.join(" and "));
                    let error = self.values.refuse(key, value, format!("{} for {}", wanted.join(" and "), question.word), remedy);
                    self.wrong(error);
                    return None;
                }
                _ => {}
            }
        }
        let read = match (question.choose, at(table, "choose"), at(table, "low"), at(table, "high")) {
            (Choose::Size, _, Some(low), Some(high)) => self.band(low, high),
            (choose, Some(value), ..) => self.choice(choose, value).map(|choice| (choice, None)),
            // What is wanted is there, as was seen above.
            _ => return None,
        };
        self.keep(read)
    }

    /// An answer in a word.
    fn choice(&self, choose: Choose, value: &Value) -> Result<String, BadFile> {
        let values = self.values;
        match choose {
            Choose::Alloy => {
                let ids: Vec<&str> = alloys().iter().map(|alloy| alloy.id).collect();
                values.word("choose", &ids, value).map(str::to_owned)
            }
            Choose::Word(words) => values.word("choose", words, value).map(str::to_owned),
            Choose::Blank | Choose::Drop | Choose::Size => values.filled("choose", value),
        }
    }

    /// The ends of a band, and how it is read.
    fn band(&self, low: &Value, high: &Value) -> Result<(String, Option<(f64, f64)>), BadFile> {
        let values = self.values;
        let (sample_low, sample_high) = match values.units {
            Units::Mm => ("240.118", "240.146"),
            Units::Inch => ("9.4535", "9.4546"),
        };
        let size = |key: &str, sample: &str, value: &Value| {
            values.figure(key, (Measure::Length, SIZE_OR_0), sample, value).map(|found| found.value)
        };
        let (low_mm, high_mm) = (size("low", sample_low, low)?, size("high", sample_high, high)?);
        if low_mm > high_mm {
            let allowed = format!("{} or more, which is low", values.written(low));
            return Err(values.refuse(
                "high",
                high,
                allowed,
                format!("write low = {sample_low} and high = {sample_high}, the smaller first"),
            ));
        }
        let (low, high) = (show::length(low_mm, values.units), show::length(high_mm, values.units));
        Ok((format!("{} to {high}", low.split(' ').next().unwrap_or_default()), Some((low_mm, high_mm))))
    }

    fn event(&mut self, scope: &Scope, number: usize, byte: usize, table: &'a DeTable<'t>) {
        let values = self.values;
        let by = self.who_and_day(table);
        let detail = at(table, "detail").and_then(|value| self.keep(values.text("detail", value))).unwrap_or_default();
        let Some(what) = at(table, "what").and_then(|value| self.keep(values.word("what", EVENTS, value))) else { return };
        self.add(scope, &format!("event.{number}"), byte, by, What::Event { what: what.to_owned(), detail });
    }

    fn signature(&mut self, scope: &Scope, number: usize, byte: usize, table: &'a DeTable<'t>) {
        let values = self.values;
        let by = self.who_and_day(table);
        let head = at(table, "head").map(|value| {
            let head = values.text("head", value)?.to_lowercase();
            let whole = head.len() == 64 && head.bytes().all(|byte| byte.is_ascii_hexdigit());
            let remedy = "copy the whole head from the sheet that was signed, or leave it out";
            if whole { Ok(head) } else { Err(values.refuse("head", value, "64 hexadecimal digits", remedy)) }
        });
        let head = head.and_then(|read| self.keep(read)).unwrap_or_default();
        let Some(role) = at(table, "role").and_then(|value| self.keep(values.word("role", ROLES, value))) else { return };
        self.add(scope, &format!("signature.{number}"), byte, by, What::Signature { role: role.to_owned(), head });
    }

    /// Reads what waited for the facts and readings of the whole file.
    pub fn settle_waiting(&mut self) {
        for waiting in std::mem::take(&mut self.waiting) {
            match waiting {
                Waiting::Drop { scope, number, byte, table } => self.drop_readings(&scope, number, byte, table),
                Waiting::Correction { scope, number, byte, table } => self.correction(&scope, number, byte, table),
            }
        }
        self.blanks_are_known();
    }

    fn drop_readings(&mut self, scope: &Scope, number: usize, byte: usize, table: &'a DeTable<'t>) {
        let values = self.values;
        for (key, help) in [("of", "what was measured"), ("drop", "the numbers of readings"), ("because", "the reason")] {
            if at(table, key).is_none() {
                let given = format!("missing in [[{}]]", header(scope, "decision"));
                let remedy = format!("write {key} = .. under it");
                self.wrong(refuse_at(values.text, byte, Refused::new(key, given, help, remedy)));
                return;
            }
        }
        let Some(feature) = at(table, "of").and_then(|value| self.keep(feature(&values, value))) else { return };
        let Some(value) = at(table, "drop") else { return };
        let single = std::slice::from_ref(value);
        let list: &[Value] = match value.get_ref() {
            DeValue::Array(list) => list.as_ref(),
            _ => single,
        };
        let ids: Vec<_> = self.readings_of(scope, feature).iter().map(|draft| draft.entry.id).collect();
        let mut drops = Vec::new();
        let mut numbers = Vec::new();
        for item in list {
            let number = item.get_ref().as_integer().and_then(|integer| integer.as_str().parse::<usize>().ok());
            match number.and_then(|number| Some((number, ids.get(number.checked_sub(1)?)?))) {
                Some((number, id)) => {
                    drops.push(*id);
                    numbers.push(number.to_string());
                }
                None => {
                    let allowed = match ids.len() {
                        0 => format!("no reading of the {} is there", feature.word()),
                        n => format!("1 to {n}, the readings of the {}", feature.word()),
                    };
                    let error =
                        values.refuse("drop", item, allowed, "count the readings of the feature from 1, in the order of their days");
                    return self.wrong(error);
                }
            }
        }
        let because = at(table, "because").and_then(|value| self.keep(values.filled("because", value)));
        let Some(because) = because else { return };
        let by = self.who_and_day(table);
        let choice = format!("without {} {}", feature.word(), numbers.join(", "));
        let what = What::Decision { question: "reading".into(), choice, low_high_mm: None, because, drops, settles: Vec::new() };
        self.add(scope, &format!("decision.{number}"), byte, by, what);
    }

    fn correction(&mut self, scope: &Scope, number: usize, byte: usize, table: &'a DeTable<'t>) {
        let values = self.values;
        let (Some(of), Some(to)) = (at(table, "of"), at(table, "to")) else { return };
        let Some(path) = self.keep(values.filled("of", of)) else { return };
        let Some((replaces, with)) = self.keep(self.corrected(scope, &path, of, to)) else { return };
        let because = at(table, "because").and_then(|value| self.keep(values.filled("because", value)));
        let Some(because) = because else { return };
        let by = self.who_and_day(table);
        self.add(scope, &format!("correction.{number}"), byte, by, What::Correction { replaces, with: Box::new(with), because });
    }

    /// The entry that `path` means in `scope`, and what it should have said.
    fn corrected(&self, scope: &Scope, path: &str, of: &Value, to: &Value) -> Result<(crate::entry::EntryId, What), BadFile> {
        let values = self.values;
        if let Some((feature, number)) = reading_named(path) {
            let readings = self.readings_of(scope, feature);
            let found = number.checked_sub(1).and_then(|i| readings.get(i));
            let Some(draft) = found else {
                let allowed = format!("1 to {} for the {}", readings.len(), feature.word());
                return Err(values.refuse("of", of, allowed, "count the readings of the feature from 1, in the order of their days"));
            };
            let mut what = draft.entry.what.clone();
            if let What::Reading { size_mm, .. } = &mut what {
                *size_mm = size(&values, to)?;
            }
            return Ok((draft.entry.id, what));
        }
        let is = |what: &What| matches!(what, What::Fact { about, .. } if about == path);
        let facts = || self.drafts.iter().filter(|draft| matches!(draft.entry.what, What::Fact { .. }));
        let here = facts().find(|draft| draft.entry.seat == *scope && is(&draft.entry.what));
        let (Some(draft), Some(fact)) = (here, fact(path)) else {
            if let Some(draft) = facts().find(|draft| is(&draft.entry.what) && *scope != draft.entry.seat) {
                let remedy = format!("write it under [[{}]]", header(&draft.entry.seat, "correction"));
                return Err(values.refuse("of", of, "a path that stands in the same table", remedy));
            }
            let known: Vec<&str> = facts()
                .filter(|draft| draft.entry.seat == *scope)
                .filter_map(|draft| match &draft.entry.what {
                    What::Fact { about, .. } if about != "seat.count" => Some(about.as_str()),
                    _ => None,
                })
                .collect();
            let refused = not_known("of", &in_quotes(path), &known, "write the value in its own table");
            return Err(refuse_at(values.text, of.span().start, refused));
        };
        let value = values
            .given(fact, "to", to)
            .map_err(|error| BadFile { refused: Refused { key: format!("to (of {path})"), ..error.refused }, ..error })?;
        Ok((draft.entry.id, What::Fact { about: path.to_owned(), value }))
    }

    /// A blank that is chosen must be one of the blanks of the file, where it has any.
    fn blanks_are_known(&mut self) {
        let mut names: Vec<&str> = Vec::new();
        for draft in &self.drafts {
            if let What::Fact { about, .. } = &draft.entry.what
                && let Some((name, _)) = about.strip_prefix("stock.").and_then(|rest| rest.rsplit_once('.'))
                && !names.contains(&name)
            {
                names.push(name);
            }
        }
        let mut errors = Vec::new();
        for draft in &self.drafts {
            if let What::Decision { question, choice, .. } = &draft.entry.what
                && question == "blank"
                && !names.is_empty()
                && !names.contains(&choice.as_str())
            {
                let refused = not_known("choose", &in_quotes(choice), &names, "write one of them");
                errors.push(refuse_at(self.values.text, draft.byte, refused));
            }
        }
        for error in errors {
            self.wrong(error);
        }
    }
}

/// `housing bore 3`: a feature and a number.
fn reading_named(path: &str) -> Option<(Feature, usize)> {
    let (word, number) = path.rsplit_once(' ')?;
    let (feature, _) = Feature::ALL.iter().find(|(_, known)| *known == word)?;
    Some((*feature, number.parse().ok()?))
}

/// The header of a table of `kind` in `scope`.
fn header(scope: &Scope, kind: &str) -> String {
    match scope {
        Scope::Job | Scope::Shop => kind.to_owned(),
        Scope::Brief(name) => format!("brief.{}.{kind}", bare_or_quoted(name)),
        Scope::Seat(name) => format!("seat.{}.{kind}", bare_or_quoted(name)),
    }
}
