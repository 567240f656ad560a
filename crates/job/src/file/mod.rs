//! The job file: TOML that a person writes in an editor, read into entries.
//!
//! Every refusal says file, line and column, what was given, what is allowed and what to write. Reading the same file twice gives the same
//! entries. What only looks odd is taken, and noted by `notes`.

mod fault;
mod figure;
mod scope;

use toml::de::{DeTable, DeValue};

use crate::entry::{Entry, EntryId, Scope, VERSION, What};
use crate::state::{Given, Units};
pub use fault::Fault;
use fault::Source;
use scope::Reader;

/// A job file is a page or two.
const LARGEST: usize = 5 * 1024 * 1024;
/// More seats than a job has.
const MOST_SEATS: usize = 60;

/// Reads a job file: its name (for the refusals) and its bytes.
pub fn read(name: &str, bytes: &[u8]) -> Result<Vec<Entry>, Fault> {
    let source = Source::new(name, text(name, bytes)?);
    let table = DeTable::parse(source.text).map_err(|fault| {
        let at = fault.span().map_or(0, |span| span.start);
        let said = fault.message().replace('\n', ", ");
        if said.contains("duplicate key") {
            let key = source
                .text
                .get(at..)
                .unwrap_or("")
                .split(['=', ']', '\n'])
                .next()
                .unwrap_or("")
                .trim()
                .trim_matches(['[', '"', ' '])
                .to_owned();
            return source.fault(at, &key, "given a second time".into(), "each key once in its table", "take one of the two out");
        }
        source.fault(
            at,
            "the file",
            format!("not readable as TOML ({said})"),
            "one key a line, each once, texts in quotes",
            "mend it at that place",
        )
    })?;
    let root = table.get_ref();
    source.known(root, &["version", "job", "shop", "gauge", "brief", "seat", "signature"], "")?;
    let header = Header::read(&source, root)?;
    let mut entries = Entries { header: &header, list: Vec::new() };
    for (key, given) in header.facts() {
        entries.add(Scope::Job, &header.by, &header.date, What::Fact { about: key, value: given });
    }
    let mut reader = Reader { source: &source, units: header.units, entries: &mut entries };
    for section in ["shop", "gauge"] {
        if let Some(value) = root.get(section) {
            reader.facts(&Scope::Job, section, section, value)?;
        }
    }
    let briefs = reader.briefs(root)?;
    let seats = reader.seats(root, &briefs, MOST_SEATS)?;
    reader.signatures(root, &Scope::Job)?;
    if seats == 0 {
        return Err(source.fault(0, "seat", "missing".into(), "at least one seat, 60 at most", "add [seat.NAME] with brief = \"NAME\""));
    }
    Ok(entries.list)
}

fn text<'b>(name: &str, bytes: &'b [u8]) -> Result<&'b str, Fault> {
    let plain = |given: String, allowed: &str, remedy: &str| Fault::whole(name, given, allowed, remedy);
    if bytes.len() > LARGEST {
        return Err(plain(format!("{} bytes long", bytes.len()), "5 MB at most", "a job file is a page or two: this is another file"));
    }
    let text = std::str::from_utf8(bytes).map_err(|fault| {
        let before = String::from_utf8_lossy(&bytes[..fault.valid_up_to()]).into_owned();
        let line = before.lines().count().max(1);
        let column = before.lines().last().map_or(0, |line| line.chars().count()) + 1;
        Fault {
            file: name.into(),
            line,
            column,
            what: "the file".into(),
            given: "not UTF-8 there".into(),
            allowed: "text in UTF-8".into(),
            remedy: "save it again as UTF-8".into(),
        }
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(plain("empty".into(), "a job file in TOML", "start one with bushwright job new"));
    }
    Ok(text)
}

/// What stands under [job].
pub(crate) struct Header {
    number: String,
    title: String,
    customer: String,
    hard: String,
    pub units: Units,
    pub by: String,
    pub date: String,
    seed: f64,
    draws: f64,
}

impl Header {
    fn read(source: &Source, root: &DeTable) -> Result<Self, Fault> {
        let mut header = Self {
            number: String::new(),
            title: String::new(),
            customer: String::new(),
            hard: String::new(),
            units: Units::Mm,
            by: String::new(),
            date: String::new(),
            seed: 1.0,
            draws: 20_000.0,
        };
        if let Some(version) = root.get("version")
            && version.get_ref().as_integer().map(|integer| integer.as_str()) != Some("1")
        {
            return Err(source.fault(
                version.span().start,
                "version",
                source.given(version),
                "1, the only one so far",
                "write version = 1, or take it out",
            ));
        }
        let Some(job) = root.get("job") else {
            return Err(source.fault(
                0,
                "job",
                "missing".into(),
                "a table [job] with number, title, units, by, date",
                "add [job] at the top",
            ));
        };
        let table = source.table(job, "job")?;
        source.known(table, &["number", "title", "customer", "units", "by", "date", "seed", "draws", "hard"], "job")?;
        for (key, place) in [
            ("number", &mut header.number),
            ("title", &mut header.title),
            ("customer", &mut header.customer),
            ("by", &mut header.by),
            ("hard", &mut header.hard),
        ] {
            if let Some(value) = table.get(key) {
                *place = source.text_at(value, &format!("job.{key}"))?;
            }
        }
        if let Some(value) = table.get("units") {
            header.units = match source.word_at(value, "job.units", &["mm", "inch"])?.as_str() {
                "inch" => Units::Inch,
                _ => Units::Mm,
            };
        }
        if let Some(value) = table.get("date") {
            header.date = source.day_at(value, "job.date")?;
        }
        for (key, place, low, high) in [("seed", &mut header.seed, 0.0, 9e15), ("draws", &mut header.draws, 1000.0, 1e7)] {
            if let Some(value) = table.get(key) {
                *place = source.whole_at(value, &format!("job.{key}"), low, high)?;
            }
        }
        Ok(header)
    }

    fn facts(&self) -> Vec<(String, Given)> {
        let mut facts = Vec::new();
        for (key, text) in [("number", &self.number), ("title", &self.title), ("customer", &self.customer), ("hard", &self.hard)] {
            if !text.is_empty() {
                let about = if key == "hard" { "hard".to_owned() } else { format!("job.{key}") };
                facts.push((about, Given::Text(text.clone())));
            }
        }
        let units = if self.units == Units::Inch { "inch" } else { "mm" };
        facts.push(("job.units".into(), Given::Text(units.into())));
        facts.push(("job.seed".into(), Given::Figure { value: self.seed, u: 0.0 }));
        facts.push(("job.draws".into(), Given::Figure { value: self.draws, u: 0.0 }));
        facts
    }
}

/// The entries as they are read, each named by its place and content.
pub(crate) struct Entries<'h> {
    header: &'h Header,
    list: Vec<Entry>,
}

impl Entries<'_> {
    /// Adds an entry and gives its name.
    pub fn add(&mut self, scope: Scope, who: &str, when: &str, what: What) -> EntryId {
        let mut entry = Entry {
            version: VERSION,
            id: EntryId::default(),
            job: self.header.number.clone(),
            scope,
            who: if who.is_empty() { self.header.by.clone() } else { who.into() },
            device: "job file".into(),
            when: if when.is_empty() { self.header.date.clone() } else { when.into() },
            follows: self.list.last().map(|entry| entry.id),
            what,
        };
        entry.id = EntryId(name(&entry, self.list.len()));
        let id = entry.id;
        self.list.push(entry);
        id
    }

    /// Entries so far.
    pub fn list(&self) -> &[Entry] {
        &self.list
    }

    /// Who wrote the file.
    pub fn by(&self) -> &str {
        &self.header.by
    }

    /// The file's day.
    pub fn date(&self) -> &str {
        &self.header.date
    }
}

/// A version 7 name whose random part is the hash of place and content: the same file gives the same names.
fn name(entry: &Entry, place: usize) -> uuid::Uuid {
    use sha2::{Digest, Sha256};
    let hash = Sha256::digest(format!("{place}\n{}", crate::chain::canonical(entry)).as_bytes());
    let mut random = [0; 10];
    random.copy_from_slice(&hash[..10]);
    uuid::Builder::from_unix_timestamp_millis(fault::millis_of_day(&entry.when), &random).into_uuid()
}

/// A table of the file, when it is one.
pub(crate) fn as_table<'v, 'i>(value: &'v DeValue<'i>) -> Option<&'v DeTable<'i>> {
    value.as_table()
}
