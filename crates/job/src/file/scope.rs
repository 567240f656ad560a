//! The tables of a scope (job, brief, seat): facts, sets of readings, decisions, events, corrections, signatures.

use calc::alloy::table;
use calc::keys::Range;
use toml::Spanned;
use toml::de::DeTable;

use super::Entries;
use super::fault::{Fault, Placed, Source};
use super::figure::figure;
use crate::entry::{EntryId, Scope, What};
use crate::facts::{FACTS, Measure, Stands, fact};
use crate::state::{Feature, Given, Units};

/// Lists that a brief or a seat may hold beside its facts.
const LISTS: [&str; 5] = ["measure", "decision", "event", "correction", "signature"];
const QUESTIONS: [&str; 8] = ["alloy", "band", "blank", "seating", "retainer", "clearance", "groove", "reading"];
/// A size that a gauge of this trade reads, mm.
const READS: Range = Range::over(0.0).to(20_000.0);
const STATION: Range = Range::within(-20_000.0, 20_000.0);
const WARMTH: Range = Range::within(-200.0, 300.0);

/// Reads the tables of a file into entries.
pub struct Reader<'r, 't, 'h> {
    pub source: &'r Source<'t>,
    pub units: Units,
    pub entries: &'r mut Entries<'h>,
}

/// Keys and values of a table in the order of the file.
fn in_order<'v, 'i>(table: &'v DeTable<'i>) -> Vec<(&'v Spanned<std::borrow::Cow<'i, str>>, &'v Placed<'i>)> {
    let mut pairs: Vec<_> = table.iter().collect();
    pairs.sort_by_key(|(key, _)| key.span().start);
    pairs
}

impl Reader<'_, '_, '_> {
    /// The briefs of the file, read; their names.
    pub fn briefs(&mut self, root: &DeTable) -> Result<Vec<String>, Fault> {
        let Some(briefs) = root.get("brief") else { return Ok(Vec::new()) };
        let mut names = Vec::new();
        for (key, value) in in_order(self.source.table(briefs, "brief")?) {
            let name = key.get_ref().to_string();
            let table = self.source.table(value, &format!("brief.{name}"))?;
            self.scope(table, &Scope::Brief(name.clone()), &format!("brief.{name}"), &[])?;
            names.push(name);
        }
        Ok(names)
    }

    /// The seats of the file, read; how many.
    pub fn seats(&mut self, root: &DeTable, briefs: &[String], most: usize) -> Result<usize, Fault> {
        let Some(seats) = root.get("seat") else { return Ok(0) };
        let mut made: Vec<String> = Vec::new();
        for (key, value) in in_order(self.source.table(seats, "seat")?) {
            let name = key.get_ref().to_string();
            let path = format!("seat.{name}");
            let table = self.source.table(value, &path)?;
            let brief = match table.get("brief") {
                None => None,
                Some(value) => {
                    Some(self.source.word_at(value, &format!("{path}.brief"), &briefs.iter().map(String::as_str).collect::<Vec<_>>())?)
                }
            };
            let count = match table.get("count") {
                None => 1,
                Some(value) => self.source.whole_at(value, &format!("{path}.count"), 1.0, most as f64)? as usize,
            };
            for i in 1..=count {
                let name = if count == 1 { name.clone() } else { format!("{name} {i}") };
                if made.contains(&name) {
                    return Err(self.source.fault(
                        key.span().start,
                        &path,
                        format!("a second seat {name}"),
                        "each seat once",
                        "give it another name",
                    ));
                }
                if made.len() == most {
                    return Err(self.source.fault(
                        key.span().start,
                        &path,
                        format!("seat number {}", most + 1),
                        "60 seats at most",
                        "make two jobs of it",
                    ));
                }
                let scope = Scope::Seat(name.clone());
                let by = self.entries.by().to_owned();
                self.entries.add(scope.clone(), &by, "", What::SeatOpened { brief: brief.clone() });
                self.scope(table, &scope, &path, &["brief", "count"])?;
                made.push(name);
            }
        }
        Ok(made.len())
    }

    fn scope(&mut self, table: &DeTable, scope: &Scope, path: &str, own: &[&str]) -> Result<(), Fault> {
        for (key, value) in in_order(table) {
            let name = key.get_ref().as_ref();
            if own.contains(&name) || LISTS.contains(&name) {
                continue;
            }
            let known = children("");
            if !known.iter().any(|known| known == name) {
                let mut all: Vec<&str> = known.iter().map(String::as_str).chain(LISTS).chain(own.iter().copied()).collect();
                all.dedup();
                return Err(self.source.unknown(key, &all, path));
            }
            self.facts(scope, name, name, value)?;
        }
        self.check_pairs(table, path)?;
        self.measures(table, scope, path)?;
        self.decisions(table, scope, path)?;
        self.events(table, scope, path)?;
        self.corrections(table, scope, path)?;
        self.signatures(table, scope)
    }

    /// Facts from `pattern` of the table of facts down; `path` is the pattern with its names filled in.
    pub fn facts(&mut self, scope: &Scope, pattern: &str, path: &str, value: &Placed) -> Result<(), Fault> {
        if let Some(fact) = FACTS.iter().find(|fact| fact.path == pattern) {
            let given = self.value(value, path, &fact.stands)?;
            self.entries.add(scope.clone(), "", "", What::Fact { about: path.to_owned(), value: given });
            return Ok(());
        }
        let known = children(pattern);
        let names: Vec<&str> = known.iter().map(String::as_str).collect();
        for (key, value) in in_order(self.source.table(value, path)?) {
            let name = key.get_ref().as_ref();
            let next = if names == ["*"] { "*" } else { name };
            if next != "*" && !names.contains(&name) {
                return Err(self.source.unknown(key, &names, path));
            }
            if name.is_empty() || name.len() > 200 {
                return Err(self.source.fault(
                    key.span().start,
                    path,
                    "a name that is empty or very long".into(),
                    "a short name",
                    "name it",
                ));
            }
            self.facts(scope, &format!("{pattern}.{next}"), &format!("{path}.{name}"), value)?;
        }
        Ok(())
    }

    fn value(&self, value: &Placed, path: &str, stands: &Stands) -> Result<Given, Fault> {
        let source = self.source;
        let id = |found: Result<(), calc::Refused>| {
            found.map_err(|refused| source.fault(value.span().start, path, source.given(value), &refused.allowed, &refused.remedy))
        };
        Ok(match stands {
            Stands::Figure(measure, range, _) => figure(source, value, path, *measure, *range, self.units)?,
            Stands::Word(words) => Given::Text(source.word_at(value, path, words)?),
            Stands::Flag => {
                let flag = value.get_ref().as_bool();
                Given::Flag(flag.ok_or_else(|| {
                    source.fault(value.span().start, path, source.given(value), "true or false", "write true or false, without quotes")
                })?)
            }
            Stands::Text | Stands::Gauge => Given::Text(source.text_at(value, path)?),
            Stands::Alloy => {
                let text = source.text_at(value, path)?;
                id(table::alloy(&text).map(|_| ()))?;
                Given::Text(text)
            }
            Stands::Metal => {
                let text = source.text_at(value, path)?;
                id(table::housing(&text).map(|_| ()))?;
                Given::Text(text)
            }
        })
    }

    /// A bore is smaller than its outside, wherever a table gives both.
    fn check_pairs(&self, table: &DeTable, path: &str) -> Result<(), Fault> {
        for (key, value) in in_order(table) {
            let Some(inner) = value.get_ref().as_table() else { continue };
            let here = format!("{path}.{}", key.get_ref());
            if let (Some(bore), Some(outside)) = (inner.get("bore"), inner.get("outside")) {
                let size = |value: &Placed| match figure(self.source, value, &here, Measure::Length, Range::ANY, self.units) {
                    Ok(Given::Figure { value, .. }) => Some(value),
                    _ => None,
                };
                if let (Some(b), Some(o)) = (size(bore), size(outside))
                    && b >= o
                {
                    let allowed = format!("a bore under the outside, {}", self.source.given(outside));
                    return Err(self.source.fault(
                        bore.span().start,
                        &format!("{here}.bore"),
                        self.source.given(bore),
                        &allowed,
                        "measure bore and outside again",
                    ));
                }
            }
            self.check_pairs(inner, &here)?;
        }
        Ok(())
    }

    fn tables_of<'v, 'i>(&self, table: &'v DeTable<'i>, list: &str, path: &str) -> Result<Vec<(&'v DeTable<'i>, usize, String)>, Fault> {
        let Some(value) = table.get(list) else { return Ok(Vec::new()) };
        let here = format!("{path}.{list}");
        let items = self.source.list(value, &here).map_err(|fault| Fault { remedy: format!("write [[{here}]]"), ..fault })?;
        items.iter().map(|item| Ok((self.source.table(item, &here)?, item.span().start, here.clone()))).collect()
    }

    fn optional<T>(
        &self,
        table: &DeTable,
        key: &str,
        path: &str,
        read: impl Fn(&Placed, &str) -> Result<T, Fault>,
    ) -> Result<Option<T>, Fault> {
        table.get(key).map(|value| read(value, &format!("{path}.{key}"))).transpose()
    }

    fn needed<T>(
        &self,
        table: &DeTable,
        at: usize,
        key: &str,
        path: &str,
        remedy: &str,
        read: impl Fn(&Placed, &str) -> Result<T, Fault>,
    ) -> Result<T, Fault> {
        self.optional(table, key, path, read)?
            .ok_or_else(|| self.source.fault(at, &format!("{path}.{key}"), "missing".into(), "given once", remedy))
    }

    fn length(&self, value: &Placed, path: &str, range: Range) -> Result<f64, Fault> {
        match figure(self.source, value, path, Measure::Length, range, self.units)? {
            Given::Figure { value, .. } => Ok(value),
            _ => Ok(0.0),
        }
    }

    fn warmth(&self, value: &Placed, path: &str) -> Result<(f64, f64), Fault> {
        match figure(self.source, value, path, Measure::Temperature, WARMTH, self.units)? {
            Given::Figure { value, u } => Ok((value, u)),
            _ => Ok((20.0, 0.0)),
        }
    }

    fn day_and_who(&self, table: &DeTable, path: &str) -> Result<(String, String), Fault> {
        let day = self.optional(table, "day", path, |value, path| self.source.day_at(value, path))?.unwrap_or_default();
        let by = self.optional(table, "by", path, |value, path| self.source.text_at(value, path))?.unwrap_or_default();
        Ok((day, by))
    }

    fn measures(&mut self, table: &DeTable, scope: &Scope, path: &str) -> Result<(), Fault> {
        for (set, (table, at, here)) in self.tables_of(table, "measure", path)?.into_iter().enumerate() {
            self.source.known(table, &["of", "gauge", "part_temperature", "gauge_temperature", "day", "by", "readings"], &here)?;
            let words = Feature::ALL.map(|(_, word)| word);
            let of =
                self.needed(table, at, "of", &here, "write of = \"housing bore\"", |value, path| self.source.word_at(value, path, &words))?;
            let feature = Feature::ALL.iter().find(|(_, word)| *word == of).map_or(Feature::HousingBore, |(feature, _)| *feature);
            let gauge = self.optional(table, "gauge", &here, |value, path| self.source.text_at(value, path))?;
            let set_part_C = self.optional(table, "part_temperature", &here, |value, path| self.warmth(value, path))?;
            let set_gauge_C = self.optional(table, "gauge_temperature", &here, |value, path| self.warmth(value, path))?;
            let (day, by) = self.day_and_who(table, &here)?;
            let rows = self.needed(table, at, "readings", &here, "write readings = [..]", |value, path| self.rows(value, path))?;
            for row in rows {
                let what = What::Reading {
                    feature,
                    set: set as u32,
                    gauge: gauge.clone(),
                    station_mm: row.station_mm,
                    angle_deg: row.angle_deg,
                    size_mm: row.size_mm,
                    part_C: row.part_C,
                    set_part_C,
                    set_gauge_C,
                };
                self.entries.add(scope.clone(), &by, &day, what);
            }
        }
        Ok(())
    }

    fn rows(&self, value: &Placed, path: &str) -> Result<Vec<Row>, Fault> {
        let list = self.source.list(value, path)?;
        let rows: Result<Vec<Row>, Fault> =
            list.iter().enumerate().map(|(i, item)| self.row(item, &format!("{path}[{}]", i + 1))).collect();
        let rows = rows?;
        if rows.is_empty() || rows.len() > 2000 {
            return Err(self.source.fault(
                value.span().start,
                path,
                format!("{} readings", rows.len()),
                "1 to 2000 readings",
                "write them as [station, angle, size] or as sizes",
            ));
        }
        Ok(rows)
    }

    fn row(&self, item: &Placed, path: &str) -> Result<Row, Fault> {
        let Some(cells) = item.get_ref().as_array().map(|cells| cells.as_ref()) else {
            return Ok(Row { station_mm: None, angle_deg: None, size_mm: self.length(item, path, READS)?, part_C: None });
        };
        let (station, angle, size, part) = match cells {
            [size] => (None, None, size, None),
            [station, angle, size] => (Some(station), Some(angle), size, None),
            [station, angle, size, part] => (Some(station), Some(angle), size, Some(part)),
            _ => {
                let allowed = "[station, angle, size], with the part's temperature as a fourth, or a size alone";
                return Err(self.source.fault(item.span().start, path, self.source.given(item), allowed, "write the row so"));
            }
        };
        let angle_deg = match angle {
            None => None,
            Some(value) => match figure(self.source, value, path, Measure::Angle, Range::within(-360.0, 720.0), self.units)? {
                Given::Figure { value, .. } => Some(value),
                _ => None,
            },
        };
        Ok(Row {
            station_mm: station.map(|value| self.length(value, path, STATION)).transpose()?,
            angle_deg,
            size_mm: self.length(size, path, READS)?,
            part_C: part.map(|value| self.warmth(value, path)).transpose()?.map(|(value, _)| value),
        })
    }

    fn decisions(&mut self, table: &DeTable, scope: &Scope, path: &str) -> Result<(), Fault> {
        for (table, at, here) in self.tables_of(table, "decision", path)? {
            self.source.known(table, &["question", "choose", "low", "high", "of", "drop", "because", "by", "day"], &here)?;
            let question = self.needed(table, at, "question", &here, "write question = \"alloy\"", |value, path| {
                self.source.word_at(value, path, &QUESTIONS)
            })?;
            let because =
                self.needed(table, at, "because", &here, "say why: because = \"..\"", |value, path| self.source.text_at(value, path))?;
            let (day, by) = self.day_and_who(table, &here)?;
            let low = self.optional(table, "low", &here, |value, path| self.length(value, path, READS))?;
            let high = self.optional(table, "high", &here, |value, path| self.length(value, path, READS))?;
            let drops = if question == "reading" { self.drops(table, at, scope, &here)? } else { Vec::new() };
            let choice = match question.as_str() {
                "reading" => format!("{} not used", drops.len()),
                "band" => self.band_words(at, &here, low, high)?,
                "alloy" => self.needed(table, at, "choose", &here, "write choose = \"CC493K\"", |value, path| {
                    match self.value(value, path, &Stands::Alloy)? {
                        Given::Text(id) => Ok(id),
                        _ => Ok(String::new()),
                    }
                })?,
                _ => self.needed(table, at, "choose", &here, "write choose = \"..\"", |value, path| self.source.text_at(value, path))?,
            };
            let what = What::Decision { question, choice, low_high_mm: low.zip(high), drops, because };
            self.entries.add(scope.clone(), &by, &day, what);
        }
        Ok(())
    }

    fn band_words(&self, at: usize, path: &str, low: Option<f64>, high: Option<f64>) -> Result<String, Fault> {
        match low.zip(high) {
            Some((low, high)) if low < high => Ok(calc::shown::lengths(low, high, 3, self.system())),
            _ => Err(self.source.fault(
                at,
                path,
                "a band without both ends in order".into(),
                "low under high",
                "write low = 240.118 and high = 240.146",
            )),
        }
    }

    fn system(&self) -> calc::units::System {
        if self.units == Units::Inch { calc::units::System::Inch } else { calc::units::System::Metric }
    }

    /// Readings that a decision drops: their numbers, from 1, among those of one feature in this scope.
    fn drops(&self, table: &DeTable, at: usize, scope: &Scope, path: &str) -> Result<Vec<EntryId>, Fault> {
        let words = Feature::ALL.map(|(_, word)| word);
        let of =
            self.needed(table, at, "of", path, "write of = \"housing bore\"", |value, path| self.source.word_at(value, path, &words))?;
        let feature = Feature::ALL.iter().find(|(_, word)| *word == of).map(|(feature, _)| *feature);
        let known: Vec<EntryId> = self
            .entries
            .list()
            .iter()
            .filter(|entry| entry.scope == *scope && matches!(&entry.what, What::Reading { feature: read, .. } if Some(*read) == feature))
            .map(|entry| entry.id)
            .collect();
        self.needed(table, at, "drop", path, "write drop = [7]", |value, path| {
            let numbers = self.source.list(value, path)?;
            let number = |item: &Placed| self.source.whole_at(item, path, 1.0, known.len().max(1) as f64);
            numbers.iter().map(|item| Ok(known.get(number(item)? as usize - 1).copied())).collect::<Result<Vec<_>, Fault>>()
        })
        .map(|ids| ids.into_iter().flatten().collect())
    }

    fn events(&mut self, table: &DeTable, scope: &Scope, path: &str) -> Result<(), Fault> {
        for (table, at, here) in self.tables_of(table, "event", path)? {
            self.source.known(table, &["what", "detail", "by", "day"], &here)?;
            let happened = self.needed(table, at, "what", &here, "write what = \"cut\"", |value, path| self.source.text_at(value, path))?;
            let detail = self.optional(table, "detail", &here, |value, path| self.source.text_at(value, path))?.unwrap_or_default();
            let (day, by) = self.day_and_who(table, &here)?;
            self.entries.add(scope.clone(), &by, &day, What::Event { happened, detail });
        }
        Ok(())
    }

    fn corrections(&mut self, table: &DeTable, scope: &Scope, path: &str) -> Result<(), Fault> {
        for (table, at, here) in self.tables_of(table, "correction", path)? {
            self.source.known(table, &["of", "to", "because", "by", "day"], &here)?;
            let of =
                self.needed(table, at, "of", &here, "write of = \"housing.outside\"", |value, path| self.source.text_at(value, path))?;
            let because =
                self.needed(table, at, "because", &here, "say why: because = \"..\"", |value, path| self.source.text_at(value, path))?;
            let (day, by) = self.day_and_who(table, &here)?;
            let Some(fact) = fact(&of) else {
                let near = calc::keys::nearest(&of, FACTS.iter().map(|fact| fact.path)).unwrap_or("a path of the table of facts");
                return Err(self.source.fault(
                    at,
                    &format!("{here}.of"),
                    format!("{of:?}"),
                    "the path of a fact that stands in this table",
                    &format!("write {near}"),
                ));
            };
            let to = self.needed(table, at, "to", &here, "write to = the right value", |value, _| self.value(value, &of, &fact.stands))?;
            let was = self
                .entries
                .list()
                .iter()
                .rev()
                .find(|entry| entry.scope == *scope && matches!(&entry.what, What::Fact { about, .. } if *about == of))
                .map(|entry| entry.id);
            let Some(replaces) = was else {
                return Err(self.source.fault(
                    at,
                    &format!("{here}.of"),
                    format!("{of:?}, which does not stand here"),
                    "a fact of this table",
                    "correct it where it stands",
                ));
            };
            let with = Box::new(What::Fact { about: of, value: to });
            self.entries.add(scope.clone(), &by, &day, What::Correction { replaces, with, because });
        }
        Ok(())
    }

    /// Signatures of a scope, over the chain as it stands then.
    pub fn signatures(&mut self, table: &DeTable, scope: &Scope) -> Result<(), Fault> {
        let path = match scope {
            Scope::Job => String::new(),
            Scope::Brief(name) => format!("brief.{name}"),
            Scope::Seat(name) => format!("seat.{name}"),
        };
        for (table, at, here) in self.tables_of(table, "signature", &path)? {
            self.source.known(table, &["by", "role", "day"], &here)?;
            let by = self.needed(table, at, "by", &here, "write by = \"name\"", |value, path| self.source.text_at(value, path))?;
            let role = self.needed(table, at, "role", &here, "write role = \"released\"", |value, path| {
                self.source.word_at(value, path, &["made", "checked", "released"])
            })?;
            let day = self
                .optional(table, "day", &here, |value, path| self.source.day_at(value, path))?
                .unwrap_or_else(|| self.entries.date().to_owned());
            let head = crate::chain::head(self.entries.list());
            self.entries.add(scope.clone(), &by, &day, What::Signature { role, head });
        }
        Ok(())
    }
}

/// A row of readings.
struct Row {
    station_mm: Option<f64>,
    angle_deg: Option<f64>,
    size_mm: f64,
    part_C: Option<f64>,
}

/// The names that may stand under a pattern of the table of facts.
fn children(pattern: &str) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for fact in FACTS {
        let rest =
            if pattern.is_empty() { Some(fact.path) } else { fact.path.strip_prefix(pattern).and_then(|rest| rest.strip_prefix('.')) };
        if let Some(name) = rest.and_then(|rest| rest.split('.').next())
            && !names.iter().any(|known| known == name)
        {
            names.push(name.to_owned());
        }
    }
    names
}
