//! From the tree of a file to entries: every table and key in its place, unknown ones refused with the nearest known.

use std::collections::BTreeMap;

use calc::Refused;
use toml::Spanned;
use toml::de::{DeString, DeTable};

use crate::entry::{Entry, EntryId, Scope, VERSION, What};
use crate::facts::{FACTS, Fact, fact};
use crate::fold::MOST_SEATS;
use crate::state::{Feature, Given, Units};

use super::BadFile;
use super::deeds::Waiting;
use super::figure::{Value, Values, in_quotes, leaf};
use super::place::{not_known, positions, refuse_at};

/// Most states, blanks, gauges or steps under one table: beyond it a file is not a job.
const MOST_NAMES: usize = 60;
/// Longest name of a seat, brief, gauge, state or blank.
const MOST_LETTERS: usize = 60;

/// A key of a table that is no fact: its name, whether it is needed, what it means.
pub(crate) type TableKey = (&'static str, bool, &'static str);

/// Tables of a scope that hold no facts: `[[seat.NAME.measure]]` and so on.
pub(crate) const TABLES: &[(&str, &str, &[TableKey])] = &[
    (
        "measure",
        "readings of one feature, taken in one go",
        &[
            ("of", true, "what is measured: a feature"),
            ("gauge", false, "with which gauge of [gauge.NAME]"),
            ("part_temperature", false, "temperature of the part"),
            ("gauge_temperature", false, "temperature of the gauge (that of the gauge, else of the shop)"),
            ("day", false, "the day (job.date)"),
            ("by", false, "who read (job.by)"),
            (
                "readings",
                true,
                "rows of [station, angle, size] or [station, angle, size, part temperature]; or sizes of one place; station: distance from the datum end",
            ),
        ],
    ),
    (
        "decision",
        "an answer to a question of the job",
        &[
            ("question", true, "which question"),
            ("choose", false, "the answer: an id or a word"),
            ("low", false, "the answer, where it is a band: its lower end"),
            ("high", false, "its upper end"),
            ("of", false, "of dropped readings: what was measured"),
            ("drop", false, "number or numbers of readings not to be used, counted within the feature"),
            ("because", false, "the reason; needed for a drop"),
            ("by", false, "who decided (job.by)"),
            ("day", false, "the day (job.date)"),
            ("apart", false, "true: written without having seen the decisions before it"),
        ],
    ),
    (
        "event",
        "something that happened",
        &[("what", true, "what"), ("detail", false, "in words"), ("by", false, "who (job.by)"), ("day", false, "the day (job.date)")],
    ),
    (
        "correction",
        "says that a value above was wrong; both stay in the record",
        &[
            ("of", true, "path of the fact, as in \"housing.outside\", or a reading, as in \"housing bore 3\""),
            ("to", true, "what it should have been"),
            ("because", true, "what was wrong"),
            ("by", false, "who corrects (job.by)"),
            ("day", false, "the day (job.date)"),
        ],
    ),
    (
        "signature",
        "somebody answers for what stands before it",
        &[
            ("by", true, "who"),
            ("role", true, "as what"),
            ("day", false, "the day (job.date)"),
            ("head", false, "head of the record that was signed, as the sheet prints it (the record as it stands)"),
        ],
    ),
];

/// What a walk found.
#[derive(Debug)]
pub(super) struct Found {
    pub entries: Vec<Entry>,
    pub places: BTreeMap<EntryId, (usize, usize)>,
}

/// An entry before it is put in order.
#[derive(Debug)]
pub(super) struct Draft {
    /// Its day, empty for what stands before everything that has a day.
    pub day: String,
    /// It is a deed that names no day: the last of the file's day.
    pub late: bool,
    /// Where in the file.
    pub byte: usize,
    pub entry: Entry,
    /// Written without having seen the decisions before it.
    pub apart: bool,
}

/// A key with its value.
pub(super) type Item<'a, 't> = (&'a Spanned<DeString<'t>>, &'a Value<'t>);

/// A walk through one file.
#[derive(Debug)]
pub(super) struct Walk<'a, 't> {
    pub values: Values<'t>,
    number: String,
    by: String,
    pub date: String,
    pub briefs: Vec<String>,
    pub gauges: Vec<String>,
    pub brief_of: BTreeMap<String, String>,
    pub drafts: Vec<Draft>,
    pub waiting: Vec<Waiting<'a, 't>>,
    /// The first error of the file.
    pub error: Option<BadFile>,
    /// Readings so far.
    pub readings: usize,
}

/// Reads all tables. The first error of the file is reported.
pub(super) fn walk<'t>(text: &'t str, root: &DeTable<'t>) -> Result<Found, BadFile> {
    let values = Values { text, units: Units::Mm };
    let mut walk = Walk {
        values,
        number: String::new(),
        by: String::new(),
        date: String::new(),
        briefs: Vec::new(),
        gauges: Vec::new(),
        brief_of: BTreeMap::new(),
        drafts: Vec::new(),
        waiting: Vec::new(),
        error: None,
        readings: 0,
    };
    walk.names(root);
    walk.header(root);
    for item in items(root) {
        walk.top(item);
    }
    walk.seats_there(root);
    walk.first_error()?;
    walk.settle_waiting();
    walk.first_error()?;
    Ok(walk.in_order())
}

/// The keys of a table in the order of the file.
pub(super) fn items<'a, 't>(table: &'a DeTable<'t>) -> Vec<Item<'a, 't>> {
    let mut items: Vec<Item> = table.iter().collect();
    items.sort_by_key(|(key, _)| key.span().start);
    items
}

/// What stands at `key` of a table.
pub(super) fn at<'a, 't>(table: &'a DeTable<'t>, key: &str) -> Option<&'a Value<'t>> {
    table.iter().find(|(name, _)| name.get_ref() == key).map(|(_, value)| value)
}

fn table_at<'a, 't>(table: &'a DeTable<'t>, key: &str) -> Option<&'a DeTable<'t>> {
    at(table, key).and_then(|value| value.get_ref().as_table())
}

impl<'a, 't> Walk<'a, 't> {
    fn first_error(&self) -> Result<(), BadFile> {
        self.error.clone().map_or(Ok(()), Err)
    }

    /// Keeps an error, if it is the first of the file.
    pub fn wrong(&mut self, error: BadFile) {
        if !self.is_past_an_error(error.byte) {
            self.error = Some(error);
        }
    }

    /// Whether what stands at `byte` can't be the first error any more.
    pub fn is_past_an_error(&self, byte: usize) -> bool {
        self.error.as_ref().is_some_and(|first| first.byte <= byte)
    }

    /// Keeps an error, so that the first of the file is found.
    pub fn keep<T>(&mut self, read: Result<T, BadFile>) -> Option<T> {
        match read {
            Ok(read) => Some(read),
            Err(error) => {
                self.wrong(error);
                None
            }
        }
    }

    /// Names that other places refer to.
    fn names(&mut self, root: &DeTable) {
        let names = |table: &DeTable| items(table).into_iter().map(|(key, _)| key.get_ref().to_string()).collect::<Vec<_>>();
        self.briefs = table_at(root, "brief").map(names).unwrap_or_default();
        let scopes = ["brief", "seat"].iter().filter_map(|word| table_at(root, word)).flat_map(|table| table.values());
        let gauges = scopes.filter_map(|scope| scope.get_ref().as_table()).chain([root]).filter_map(|scope| table_at(scope, "gauge"));
        self.gauges = gauges.flat_map(names).take(MOST_NAMES * MOST_SEATS).collect();
    }

    /// What the rest of the file is read by.
    fn header(&mut self, root: &DeTable) {
        let Some(job) = table_at(root, "job") else { return };
        if at(job, "units").and_then(|value| value.get_ref().as_str()) == Some("inch") {
            self.values.units = Units::Inch;
        }
        // What is wrong with them is said when the table is walked.
        let text = |key: &str| at(job, key).and_then(|value| self.values.text(key, value).ok()).unwrap_or_default();
        let date = at(job, "date").and_then(|value| self.values.day("date", value).ok()).unwrap_or_default();
        (self.number, self.by, self.date) = (text("number"), text("by"), date);
    }

    fn top(&mut self, (key, value): Item<'a, 't>) {
        match key.get_ref().as_ref() {
            "job" => {
                let Some(table) = self.table("job", value) else { return };
                for (key, value) in items(table) {
                    self.job_key(key, value);
                }
            }
            "brief" => self.named(value, "brief", Scope::Brief),
            "seat" => self.named(value, "seat", Scope::Seat),
            _ => self.scope_key(&Scope::Job, (key, value)),
        }
    }

    fn job_key(&mut self, key: &Spanned<DeString<'t>>, value: &'a Value<'t>) {
        if self.is_past_an_error(key.span().start) {
            return;
        }
        let path = format!("job.{}", key.get_ref());
        if let Some(fact) = fact(&path) {
            let whole = matches!(path.as_str(), "job.seed" | "job.draws");
            return self.fact(&Scope::Job, fact, &path, value, whole);
        }
        match fact(key.get_ref()) {
            Some(fact) => self.fact(&Scope::Job, fact, key.get_ref(), value, false),
            None => {
                let plain = FACTS
                    .iter()
                    .filter_map(|fact| fact.path.strip_prefix("job.").or_else(|| Some(fact.path).filter(|path| !path.contains('.'))));
                self.unknown_key("[job]", key, &plain.collect::<Vec<_>>());
            }
        }
    }

    /// The briefs or the seats.
    fn named(&mut self, value: &'a Value<'t>, word: &str, scope: fn(String) -> Scope) {
        let Some(table) = self.table(word, value) else { return };
        if table.len() > MOST_SEATS {
            let given = format!("{} tables", table.len());
            let refused = Refused::new(word, given, format!("{MOST_SEATS} in a job"), "make a second job for the others");
            let start = items(table).get(MOST_SEATS).map_or(0, |(name, _)| name.span().start);
            return self.wrong(refuse_at(self.values.text, start, refused));
        }
        for (name, value) in items(table) {
            let Some(body) = self.named_table(word, name, value) else { continue };
            let scope = scope(name.get_ref().to_string());
            if word == "seat" {
                self.seat_itself(&scope, name, body);
            }
            for item in items(body) {
                self.scope_key(&scope, item);
            }
        }
    }

    /// A seat is there even when its table says nothing but its name.
    fn seat_itself(&mut self, scope: &Scope, name: &Spanned<DeString<'t>>, body: &'a DeTable<'t>) {
        let byte = name.span().start;
        if at(body, "count").is_none() {
            let what = What::Fact { about: "seat.count".into(), value: Given::Figure { value: 1.0, u: 0.0 } };
            self.add(scope, "seat.count", byte, (None, None), what);
        }
        match at(body, "brief").map(|value| (value, value.get_ref().as_str().unwrap_or_default().trim())) {
            Some((value, brief)) if !self.briefs.iter().any(|name| name == brief) => {
                let known: Vec<&str> = self.briefs.iter().map(String::as_str).collect();
                let none = format!("write a table [brief.{}] with the duty, or leave brief out", in_quotes(brief));
                let refused = not_known("brief", &in_quotes(brief), &known, &none);
                self.wrong(refuse_at(self.values.text, value.span().start, refused));
            }
            Some((_, brief)) => {
                self.brief_of.insert(name.get_ref().to_string(), brief.to_owned());
            }
            None => {}
        }
    }

    /// A key of the job, a brief or a seat.
    fn scope_key(&mut self, scope: &Scope, (key, value): Item<'a, 't>) {
        if self.is_past_an_error(key.span().start) {
            return;
        }
        let name = key.get_ref().as_ref();
        let is_seat = matches!(scope, Scope::Seat(_));
        if TABLES.iter().any(|(table, ..)| *table == name) {
            return self.deeds(scope, name, value);
        }
        let own = format!("seat.{name}");
        if let Some(fact) = fact(&own).filter(|_| is_seat) {
            return self.fact(scope, fact, &own, value, name == "count");
        }
        if let Some(fact) = fact(name).filter(|_| *scope != Scope::Job) {
            return self.fact(scope, fact, name, value, false);
        }
        let is_section = |fact: &&Fact| fact.path.split_once('.').is_some_and(|(section, _)| section == name);
        let in_section: Vec<&'static Fact> = FACTS.iter().filter(is_section).collect();
        if in_section.is_empty() || matches!(name, "job" | "seat") {
            return self.unknown_in_scope(scope, key);
        }
        let Some(table) = self.table(name, value) else { return };
        if in_section.iter().any(|fact| fact.path.contains(".*.")) {
            if table.len() > MOST_NAMES {
                let refused =
                    Refused::new(name, format!("{} names", table.len()), format!("{MOST_NAMES} at most"), "keep those that the job needs");
                return self.wrong(refuse_at(self.values.text, key.span().start, refused));
            }
            for (inner, value) in items(table) {
                let Some(table) = self.named_table(name, inner, value) else { continue };
                self.section(scope, &format!("{name}.{}", inner.get_ref()), &in_section, table);
            }
        } else {
            self.section(scope, name, &in_section, table);
        }
    }

    fn section(&mut self, scope: &Scope, section: &str, facts: &[&'static Fact], table: &'a DeTable<'t>) {
        for (key, value) in items(table) {
            if self.is_past_an_error(key.span().start) {
                return;
            }
            match facts.iter().find(|fact| leaf(fact.path) == key.get_ref()) {
                Some(fact) => self.fact(scope, fact, &format!("{section}.{}", key.get_ref()), value, leaf(fact.path) == "count"),
                None => {
                    let known: Vec<&str> = facts.iter().map(|fact| leaf(fact.path)).collect();
                    let home = FACTS.iter().find(|fact| leaf(fact.path) == key.get_ref());
                    if let Some(home) = home.filter(|_| calc::keys::nearest(key.get_ref(), known.iter().copied()).is_none()) {
                        let header = match scope {
                            Scope::Job | Scope::Shop => String::new(),
                            Scope::Brief(name) => format!("brief.{}", bare_or_quoted(name)),
                            Scope::Seat(name) => format!("seat.{}", bare_or_quoted(name)),
                        };
                        self.in_the_wrong_table(key, home, &header);
                        continue;
                    }
                    self.unknown_key(&format!("[{section}]"), key, &known);
                }
            }
        }
    }

    fn fact(&mut self, scope: &Scope, fact: &'static Fact, path: &str, value: &'a Value<'t>, whole: bool) {
        let read = match fact.stands {
            crate::facts::Stands::Figure(_, range, _) if whole => {
                self.values.whole(path, range, value).map(|value| Given::Figure { value, u: 0.0 })
            }
            _ => self.values.given(fact, path, value),
        };
        if let Some(given) = self.keep(read) {
            // An empty text is one that is still to be written.
            if given != Given::Text(String::new()) {
                self.add(scope, path, value.span().start, (None, None), What::Fact { about: path.to_owned(), value: given });
            }
        }
    }

    /// Adds an entry; the day decides its place in the order.
    pub fn add(&mut self, scope: &Scope, path: &str, byte: usize, (who, day): (Option<String>, Option<String>), what: What) -> EntryId {
        let deed = !matches!(what, What::Fact { .. } | What::Reading { .. });
        let when = day.clone().unwrap_or_else(|| self.date.clone());
        let place = format!("{scope:?} {path}");
        let content = format!("{} {who:?} {}", self.number, serde_json::to_string(&what).unwrap_or_default());
        let id = match what {
            What::Signature { .. } => EntryId::of_signature(&when, &place, &content),
            _ => EntryId::of_file(&when, &place, &content),
        };
        let entry = Entry {
            version: VERSION,
            id,
            job: self.number.clone(),
            seat: scope.clone(),
            who: who.unwrap_or_else(|| self.by.clone()),
            device: super::again::DEVICE.into(),
            when: when.clone(),
            follows: None,
            what,
        };
        let late = deed && day.is_none();
        self.drafts.push(Draft { day: if deed { when } else { day.unwrap_or_default() }, late, byte, entry, apart: false });
        id
    }

    /// The table that must stand there.
    pub fn table(&mut self, name: &str, value: &'a Value<'t>) -> Option<&'a DeTable<'t>> {
        let table = value.get_ref().as_table();
        if table.is_none() {
            let error = self.values.refuse(name, value, "a table", format!("write [{name}] on a line of its own, its keys under it"));
            self.wrong(error);
        }
        table
    }

    /// A table under a name that the person gave.
    fn named_table(&mut self, word: &str, name: &Spanned<DeString<'t>>, value: &'a Value<'t>) -> Option<&'a DeTable<'t>> {
        let given = name.get_ref().as_ref();
        if given.trim().is_empty() || given.chars().count() > MOST_LETTERS || given.chars().any(char::is_control) {
            let allowed = format!("1 to {MOST_LETTERS} letters on one line");
            let refused = Refused::new(format!("a name under {word}"), in_quotes(given), allowed, "give it a short name");
            self.wrong(refuse_at(self.values.text, name.span().start, refused));
            return None;
        }
        if value.get_ref().as_table().is_none() {
            let remedy = format!("write [{word}.NAME], with a name of your own, and {given} under it");
            let error = self.values.refuse(&format!("{word}.{given}"), value, "a table under a name", remedy);
            self.wrong(error);
            return None;
        }
        value.get_ref().as_table()
    }

    fn unknown_in_scope(&mut self, scope: &Scope, key: &Spanned<DeString<'t>>) {
        let name = key.get_ref().as_ref();
        let header = match scope {
            Scope::Job | Scope::Shop => String::new(),
            Scope::Brief(name) => format!("brief.{}", bare_or_quoted(name)),
            Scope::Seat(name) => format!("seat.{}", bare_or_quoted(name)),
        };
        if let Some(home) = FACTS.iter().find(|fact| leaf(fact.path) == name) {
            return self.in_the_wrong_table(key, home, &header);
        }
        let mut known: Vec<&str> = Vec::new();
        if *scope == Scope::Job {
            known.extend(["job", "brief", "seat"]);
        }
        for fact in FACTS.iter().filter(|fact| !fact.path.starts_with("job.")) {
            let (section, rest) = fact.path.split_once('.').unwrap_or((fact.path, ""));
            let word = match (section, scope) {
                ("seat", Scope::Seat(_)) => rest,
                ("seat", _) => continue,
                (_, Scope::Job) if rest.is_empty() => continue,
                _ => section,
            };
            if !known.contains(&word) {
                known.push(word);
            }
        }
        known.extend(TABLES.iter().map(|(word, ..)| *word));
        let place = if header.is_empty() { "the file".to_owned() } else { format!("[{header}]") };
        self.unknown_key(&place, key, &known);
    }

    /// Refuses a key that has another table; `header` is that of the scope, empty for the job.
    fn in_the_wrong_table(&mut self, key: &Spanned<DeString<'t>>, home: &Fact, header: &str) {
        let path = home.path.replace('*', "NAME");
        let (section, _) = path.rsplit_once('.').unwrap_or_default();
        let remedy = match (section, header) {
            ("", _) => "write it under [brief.NAME] or [seat.NAME]".to_owned(),
            ("seat", _) => "write it under [seat.NAME]".to_owned(),
            ("job", _) | (_, "") => format!("write it under [{section}]"),
            _ => format!("write it under [{header}.{section}]"),
        };
        let refused = Refused::new(key.get_ref().as_ref(), "in the wrong table", path.clone(), remedy);
        self.wrong(refuse_at(self.values.text, key.span().start, refused));
    }

    /// Refuses a key that no table knows.
    pub fn unknown_key(&mut self, place: &str, key: &Spanned<DeString<'t>>, known: &[&str]) {
        let refused = not_known(key.get_ref(), &format!("no key of {place}"), known, "take it out");
        let remedy = match calc::keys::nearest(key.get_ref(), known.iter().copied()) {
            Some(near) => format!("write {near}"),
            None => "write one of them, or take it out".to_owned(),
        };
        self.wrong(refuse_at(self.values.text, key.span().start, Refused { remedy, ..refused }));
    }

    /// Refuses a file without seats, with too many, or with a name that a counted row has already given.
    fn seats_there(&mut self, root: &DeTable<'t>) {
        let seats = table_at(root, "seat").map(items).unwrap_or_default();
        if seats.is_empty() {
            let refused = Refused::new(
                "the file",
                "without a seat",
                format!("1 to {MOST_SEATS} seats"),
                "write a table [seat.NAME] for each bearing position",
            );
            // After everything else that may be wrong.
            let end = self.values.text.trim_end().len();
            return self.wrong(refuse_at(self.values.text, end, refused));
        }
        let mut all = 0;
        let count = |value: &Value| {
            let count = value.get_ref().as_table().and_then(|table| at(table, "count"));
            count.and_then(|count| count.get_ref().as_integer()?.as_str().parse::<usize>().ok()).unwrap_or(1)
        };
        for (name, value) in &seats {
            all += count(value).min(MOST_SEATS + 1);
            if all > MOST_SEATS {
                let refused = Refused::new(
                    "seat",
                    format!("{all} seats with this one"),
                    format!("{MOST_SEATS} in a job"),
                    "make a second job for the others",
                );
                return self.wrong(refuse_at(self.values.text, name.span().start, refused));
            }
            let row = seats.iter().find(|(row, of_row)| {
                let number = name.get_ref().strip_prefix(row.get_ref().as_ref()).and_then(|rest| rest.strip_prefix(' '));
                let number = number.and_then(|number| number.parse::<usize>().ok());
                let count = count(of_row);
                count > 1 && number.is_some_and(|number| (1..=count).contains(&number))
            });
            if let Some((row, _)) = row {
                let given = format!("named {}, as one of the seats of {}", in_quotes(name.get_ref()), in_quotes(row.get_ref()));
                let refused = Refused::new("seat", given, "a name of its own", "lower count or give it another name");
                self.wrong(refuse_at(self.values.text, name.span().start, refused));
            }
        }
    }

    /// Entries in their order, each following the one before.
    fn in_order(mut self) -> Found {
        // What people did comes after all undated facts and readings, even in a file without any day; and what they did on no day of its
        // own after all that was read on the file's day, wherever it stands.
        let deed = |draft: &Draft| !draft.day.is_empty() || !matches!(draft.entry.what, What::Fact { .. } | What::Reading { .. });
        self.drafts.sort_by(|one, other| (deed(one), &one.day, one.late, one.byte).cmp(&(deed(other), &other.day, other.late, other.byte)));
        let at = positions(self.values.text, self.drafts.iter().map(|draft| draft.byte));
        let places = self.drafts.iter().map(|draft| (draft.entry.id, at.get(&draft.byte).copied().unwrap_or((1, 1)))).collect();
        let mut before: Option<EntryId> = None;
        let mut first_of: BTreeMap<(Scope, String), Option<EntryId>> = BTreeMap::new();
        let mut earlier: BTreeMap<(Scope, String), Vec<EntryId>> = BTreeMap::new();
        for draft in &mut self.drafts {
            let entry = &mut draft.entry;
            entry.follows = before;
            if let What::Decision { question, settles, .. } = &mut entry.what {
                let key = (entry.seat.clone(), question.clone());
                let first = *first_of.entry(key.clone()).or_insert(before);
                let all = earlier.entry(key).or_default();
                if draft.apart {
                    entry.follows = first;
                } else {
                    settles.clone_from(all);
                }
                all.push(entry.id);
            }
            before = Some(entry.id);
        }
        Found { entries: self.drafts.into_iter().map(|draft| draft.entry).collect(), places }
    }

    /// The readings of a feature that a scope has, in the order of their numbers: the job's, its brief's, its own.
    pub fn readings_of(&self, scope: &Scope, feature: Feature) -> Vec<&Draft> {
        let mut scopes = vec![Scope::Job];
        if let Scope::Seat(name) = scope {
            scopes.extend(self.brief_of.get(name).map(|brief| Scope::Brief(brief.clone())));
        }
        if *scope != Scope::Job {
            scopes.push(scope.clone());
        }
        let mine = |draft: &&Draft| matches!(&draft.entry.what, What::Reading { feature: of, .. } if *of == feature);
        let mut readings: Vec<(usize, &Draft)> = Vec::new();
        for draft in self.drafts.iter().filter(mine) {
            readings.extend(scopes.iter().position(|scope| *scope == draft.entry.seat).map(|rank| (rank, draft)));
        }
        readings.sort_by(|(a, one), (b, other)| (a, &one.day, one.byte).cmp(&(b, &other.day, other.byte)));
        readings.into_iter().map(|(_, draft)| draft).collect()
    }
}

/// A name as it stands in the header of a table.
pub(crate) fn bare_or_quoted(name: &str) -> String {
    let bare = !name.is_empty() && name.chars().all(|letter| letter.is_ascii_alphanumeric() || matches!(letter, '_' | '-'));
    if bare { name.to_owned() } else { format!("{name:?}") }
}
