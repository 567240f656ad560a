//! A record carried from one place to another as JSON Lines: export and import of a shop, backup and restore of a whole store.
//!
//! 1. A line is one of: `{"head":{..}}` (first: version of the form, what it is, when it was made), `{"shop":".."}` (what follows is of that
//!    shop), `{"kept":{..}}` (an entry with its number, arrival and hash), `{"aside":{..}}` (backups only), `{"end":{..}}` (last: how many, and
//!    SHA-256 over every byte before that line).
//! 2. A file is written beside its place, synced, and only then named: a file of that name is whole.
//! 3. Reading goes over all of it first: every hash, every chain, the end; and whether it carries on what is there. Only then is written.
//! 4. It is taken while others write: of each job up to the entry that was its last when the carrying began.

use std::collections::{BTreeMap, HashSet};
use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use job::chain::{self, Hash, canonical};
use job::kept::{Altered, Kept};
use job::moment;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use tokio::task::JoinSet;

use crate::fault::Fault;
use crate::read::{PAGE, behind};
use crate::store::{Aside, Head, Row};
use crate::{Ledger, offer};

/// Version of the form.
const VERSION: u32 = 1;
/// No line is longer: an entry has 64 KB at most, its escapes at most twice that.
const MOST_LINE: u64 = 512 * 1024;
/// Entries of one job that are written at once.
const CHUNK: usize = 1000;
/// Writings under way at once: they share transactions.
const UNDER_WAY: usize = 64;

/// How far a carrying has come: entries when it writes a file, bytes when it reads one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Done so far.
    pub done: u64,
    /// Of how many.
    pub of: u64,
}

/// What was carried.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Carried {
    /// Shops.
    pub shops: u64,
    /// Jobs, the registers of a shop counted as one.
    pub jobs: u64,
    /// Entries.
    pub entries: u64,
    /// Entries of these that were there already.
    pub there: u64,
    /// Passwords, sessions and links of a server.
    pub asides: u64,
}

/// Is told how far it is.
pub type Step<'s> = &'s mut (dyn FnMut(Progress) + Send);

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum What {
    Export,
    Backup,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
enum Line {
    Head { version: u32, what: What, made: String },
    Shop(String),
    Kept(Box<Kept>),
    Aside { kind: String, name: String, value: String, until_s: i64 },
    End { entries: u64, asides: u64, sum: String },
}

/// A file that is being written.
struct Out {
    file: BufWriter<File>,
    sum: Sha256,
    part: PathBuf,
    place: PathBuf,
    carried: Carried,
    of: u64,
}

impl Out {
    fn begin(place: &Path, what: What, made: String, of: u64) -> Result<Self, Fault> {
        if place.exists() {
            return Err(Fault::Refused(format!("{} is there already; allowed: a new name; nothing was written over", place.display())));
        }
        let mut part = place.as_os_str().to_owned();
        part.push(".part");
        let part = PathBuf::from(part);
        let file = File::create(&part).map_err(|fault| at(&part, &fault, "could not be made"))?;
        let mut out =
            Self { file: BufWriter::new(file), sum: Sha256::new(), part, place: place.to_owned(), carried: Carried::default(), of };
        out.line(&Line::Head { version: VERSION, what, made })?;
        Ok(out)
    }

    fn line(&mut self, line: &Line) -> Result<(), Fault> {
        let mut text = serde_json::to_string(line).map_err(|fault| Fault::Failed(format!("a line could not be written ({fault})")))?;
        text.push('\n');
        self.sum.update(&text);
        self.file.write_all(text.as_bytes()).map_err(|fault| at(&self.part, &fault, "could not be written"))
    }

    async fn shop(&mut self, ledger: &Ledger, heads: &[Head], step: Step<'_>) -> Result<(), Fault> {
        self.carried.shops += 1;
        self.line(&Line::Shop(ledger.shop.to_string()))?;
        for head in heads {
            self.carried.jobs += 1;
            for kept in ledger.chain(head, 0).await? {
                self.carried.entries += 1;
                self.line(&Line::Kept(Box::new(kept)))?;
            }
            step(Progress { done: self.carried.entries, of: self.of });
        }
        Ok(())
    }

    async fn asides(&mut self, ledger: &Ledger) -> Result<(), Fault> {
        for kind in ledger.store.kinds(&ledger.shop).await? {
            for Aside { kind, name, value, until_s } in ledger.asides(&kind).await? {
                self.carried.asides += 1;
                self.line(&Line::Aside { kind, name, value, until_s })?;
            }
        }
        Ok(())
    }

    fn end(mut self) -> Result<Carried, Fault> {
        let sum = chain::hex(&self.sum.clone().finalize().into());
        self.line(&Line::End { entries: self.carried.entries, asides: self.carried.asides, sum })?;
        let failed = |fault: &std::io::Error| at(&self.part, fault, "could not be written");
        self.file.flush().map_err(|fault| failed(&fault))?;
        self.file.get_ref().sync_all().map_err(|fault| failed(&fault))?;
        std::fs::rename(&self.part, &self.place).map_err(|fault| failed(&fault))?;
        // The name is on the disk only when its folder is; where a folder can't be synced (some systems), the file still is.
        let folder = self.place.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        drop(File::open(folder).map(|folder| folder.sync_all()));
        Ok(self.carried)
    }
}

fn at(place: &Path, fault: &std::io::Error, what: &str) -> Fault {
    let sentence = format!("{} {what}: {fault}; see that the folder is there and has room", place.display());
    match fault.kind() {
        std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => Fault::Full(sentence),
        _ => Fault::Failed(sentence),
    }
}

/// A file that is being read, line by line, with its sum.
struct In {
    file: BufReader<File>,
    place: PathBuf,
    number: u64,
    read: u64,
    of: u64,
    sum: Sha256,
    made_as: What,
    ended: bool,
}

impl In {
    fn open(place: &Path) -> Result<Self, Fault> {
        let file = OpenOptions::new().read(true).open(place).map_err(|fault| {
            Fault::Refused(format!(
                "{} can't be opened ({fault}); allowed: a file made by ledger export or backup; name the right one",
                place.display()
            ))
        })?;
        let of = file.metadata()?.len();
        let file = BufReader::with_capacity(1 << 20, file);
        let mut open =
            Self { file, place: place.to_owned(), number: 0, read: 0, of, sum: Sha256::new(), made_as: What::Export, ended: false };
        match open.next()? {
            Some(Line::Head { version: VERSION, what, .. }) => open.made_as = what,
            Some(Line::Head { version, .. }) => {
                return Err(open.refused(&format!(
                    "is of version {version}; allowed: {VERSION}; read it with the release that wrote it, or a newer one"
                )));
            }
            _ => return Err(open.refused("is no export and no backup: its first line says neither; name the right file")),
        }
        Ok(open)
    }

    fn refused(&self, what: &str) -> Fault {
        Fault::Refused(format!("{}, line {}: {what}; nothing was written", self.place.display(), self.number))
    }

    fn next(&mut self) -> Result<Option<Line>, Fault> {
        let mut bytes = Vec::new();
        (&mut self.file).take(MOST_LINE).read_until(b'\n', &mut bytes)?;
        self.number += 1;
        if bytes.is_empty() {
            return Ok(None);
        }
        if bytes.last() != Some(&b'\n') {
            return Err(self.refused("the line has no end: the file was cut, or is another"));
        }
        self.read += bytes.len() as u64;
        let line: Line = serde_json::from_slice(&bytes).map_err(|fault| self.refused(&format!("the line can't be read ({fault})")))?;
        if let Line::End { sum, .. } = &line {
            self.ended = true;
            if *sum != chain::hex(&self.sum.clone().finalize().into()) {
                return Err(self.refused("the sum over the file is another than the one written there: it was changed"));
            }
        } else if self.ended {
            return Err(self.refused("a line stands behind the end"));
        }
        self.sum.update(&bytes);
        Ok(Some(line))
    }

    fn progress(&self, pass: u64) -> Progress {
        Progress { done: pass * self.of + self.read, of: 2 * self.of }
    }
}

/// How far each job of a file has come while it is read.
#[derive(Default)]
struct Chains {
    ends: BTreeMap<(String, String), (u64, Hash)>,
    ids: HashSet<(String, uuid::Uuid)>,
}

impl Chains {
    fn take(&mut self, file: &In, shop: &str, kept: &Kept) -> Result<(), Fault> {
        let job = &kept.entry.job;
        offer::whole(&kept.entry).map_err(|refused| file.refused(&refused.to_string()))?;
        let end = self.ends.entry((shop.to_owned(), job.clone())).or_insert((0, chain::START));
        let hash = kept.checked(job, end.0 + 1, &end.1).map_err(|altered| file.refused(&altered.to_string()))?;
        *end = (kept.number, hash);
        if !self.ids.insert((shop.to_owned(), kept.entry.id.0)) {
            return Err(file.refused(&format!("entry {} stands there twice", kept.entry.id)));
        }
        Ok(())
    }
}

impl Ledger {
    /// Writes the entries of this shop, or of some of its jobs, to a new file.
    pub async fn export(&self, file: &Path, jobs: Option<&[String]>, step: Step<'_>) -> Result<Carried, Fault> {
        let mut heads = self.all_heads().await?;
        if let Some(jobs) = jobs {
            if let Some(unknown) = jobs.iter().find(|job| !heads.iter().any(|head| &head.job == *job)) {
                return Err(Fault::Refused(format!("job {unknown:?} is not in the ledger; allowed: a job that is; nothing was written")));
            }
            heads.retain(|head| jobs.contains(&head.job));
        }
        let of = heads.iter().map(|head| head.number).sum();
        let mut out = Out::begin(file, What::Export, moment::written(self.now()), of)?;
        let done = out.shop(self, &heads, step).await;
        finished(out, done)
    }

    /// Writes everything of every shop to a new file, while others write.
    pub async fn backup(&self, file: &Path, step: Step<'_>) -> Result<Carried, Fault> {
        let mut shops = Vec::new();
        for shop in self.shops().await? {
            let ledger = self.of_shop(&shop)?;
            let heads = ledger.all_heads().await?;
            shops.push((ledger, heads));
        }
        let of = shops.iter().flat_map(|(_, heads)| heads).map(|head| head.number).sum();
        let mut out = Out::begin(file, What::Backup, moment::written(self.now()), of)?;
        let done = written(&mut out, &shops, step).await;
        finished(out, done)
    }

    /// Adds the entries of an export to this shop, numbers, arrivals and hashes kept. Jobs that are here already are carried on where
    /// the file does so; one that differs is refused, and then nothing of the file is written.
    pub async fn import(&self, file: &Path, step: Step<'_>) -> Result<Carried, Fault> {
        let input = In::open(file)?;
        if input.made_as == What::Backup {
            return Err(input.refused("it is a backup of a whole store; allowed: an export; use ledger restore into an empty store"));
        }
        self.carry_in(input, Some(self.shop.to_string()), step).await
    }

    /// Fills an empty store from a backup.
    pub async fn restore(&self, file: &Path, step: Step<'_>) -> Result<Carried, Fault> {
        let input = In::open(file)?;
        if input.made_as == What::Export {
            return Err(input.refused("it is an export of one shop; allowed: a backup; use ledger import"));
        }
        if !self.shops().await?.is_empty() {
            return Err(Fault::Refused(
                "the store is not empty; allowed: a new one; restore beside it, verify, then put it in its place".into(),
            ));
        }
        self.carry_in(input, None, step).await
    }

    pub(crate) async fn all_heads(&self) -> Result<Vec<Head>, Fault> {
        let mut all = Vec::new();
        let mut from = String::new();
        loop {
            let heads = self.heads(&from, PAGE).await?;
            let whole = heads.len() < PAGE;
            all.extend(heads);
            match all.last() {
                Some(last) if !whole => from = behind(&last.job),
                _ => return Ok(all),
            }
        }
    }

    async fn carry_in(&self, mut input: In, into: Option<String>, step: Step<'_>) -> Result<Carried, Fault> {
        let there = self.look_over(&mut input, into.as_deref(), step).await?;
        let mut again = In::open(&input.place)?;
        if again.of != input.of {
            return Err(again.refused("the file is being changed by somebody"));
        }
        self.write_all(&mut again, into.as_deref(), &there, step).await
    }

    /// The first reading: every hash, and whether the file carries on what is here. Gives the ends of the jobs that are here.
    async fn look_over(&self, input: &mut In, into: Option<&str>, step: Step<'_>) -> Result<Ends, Fault> {
        let mut chains = Chains::default();
        let mut ends = Ends::new();
        let mut shop = String::new();
        let mut counted = (0, 0);
        while let Some(line) = input.next()? {
            match line {
                Line::Head { .. } => return Err(input.refused("a second first line")),
                Line::Shop(named) => {
                    if into.is_some() && !shop.is_empty() {
                        return Err(input.refused("an export has one shop"));
                    }
                    offer::short("shop", &named)?;
                    shop = into.map_or(named, str::to_owned);
                }
                Line::Kept(kept) => {
                    if shop.is_empty() {
                        return Err(input.refused("an entry before its shop"));
                    }
                    counted.0 += 1;
                    chains.take(input, &shop, &kept)?;
                    if into.is_some() {
                        self.carries_on(input, &mut ends, &shop, &kept).await?;
                    }
                }
                Line::Aside { .. } if into.is_some() => return Err(input.refused("an export holds entries only")),
                Line::Aside { .. } => counted.1 += 1,
                Line::End { entries, asides, .. } if counted != (entries, asides) => {
                    return Err(input.refused("the end counts another number of entries than there are"));
                }
                Line::End { .. } => {}
            }
            if input.number.is_multiple_of(256) {
                step(input.progress(0));
            }
        }
        if !input.ended {
            return Err(input.refused("the end is missing: the file was cut"));
        }
        self.reaches(input, &ends, &chains).await?;
        Ok(ends)
    }

    /// Where the job is here already: the file's entry of the last number here must have the same hash.
    async fn carries_on(&self, input: &In, ends: &mut Ends, shop: &str, kept: &Kept) -> Result<(), Fault> {
        let key = (shop.to_owned(), kept.entry.job.clone());
        if !ends.contains_key(&key) {
            let head = self.store.head(shop, &kept.entry.job).await?;
            ends.insert(key.clone(), head.map_or((0, chain::START), |head| (head.number, head.hash)));
        }
        let (number, hash) = ends.get(&key).copied().unwrap_or((0, chain::START));
        if kept.number == number && kept.hash != chain::hex(&hash) {
            return Err(input.refused(&parted(&kept.entry.job, number)));
        }
        if kept.number > number
            && let Some((job, at)) = self.store.find(shop, kept.entry.id).await?
        {
            return Err(input.refused(&format!("entry {} is here already as entry {at} of job {job}", kept.entry.id)));
        }
        Ok(())
    }

    /// Where more is here than in the file: the file's last entry must be one of those here.
    async fn reaches(&self, input: &In, ends: &Ends, chains: &Chains) -> Result<(), Fault> {
        for ((shop, job), (number, _)) in ends {
            let Some((last, hash)) = chains.ends.get(&(shop.clone(), job.clone())) else { continue };
            if last >= number {
                continue;
            }
            let row = self.store.rows(shop, job, last - 1, 1).await?.pop();
            if row.is_none_or(|row| row.hash != hash) {
                return Err(input.refused(&parted(job, *last)));
            }
        }
        Ok(())
    }

    async fn write_all(&self, input: &mut In, into: Option<&str>, ends: &Ends, step: Step<'_>) -> Result<Carried, Fault> {
        let mut carried = Carried::default();
        let mut shop = String::new();
        let mut chunk: Option<Chunk> = None;
        // What the next chunk of a job is chained to, where it has one before it.
        let mut tail: Option<(String, Hash)> = None;
        let mut under_way = JoinSet::new();
        while let Some(line) = input.next()? {
            match line {
                Line::Shop(named) => {
                    self.send(chunk.take(), &mut under_way).await?;
                    carried.shops += 1;
                    shop = into.map_or(named, str::to_owned);
                }
                Line::Kept(kept) => {
                    carried.entries += 1;
                    carried.jobs += u64::from(kept.number == 1);
                    if kept.number <= ends.get(&(shop.clone(), kept.entry.job.clone())).map_or(0, |end| end.0) {
                        carried.there += 1;
                        continue;
                    }
                    if chunk.as_ref().is_some_and(|chunk| !chunk.takes(&shop, &kept)) {
                        let last = chunk.take();
                        // What carries on the same job must wait for what stands before it.
                        let same = last.as_ref().is_some_and(|last| last.job == kept.entry.job && last.shop == shop);
                        tail = last.as_ref().filter(|_| same).map(|last| (last.job.clone(), last.last));
                        self.send(last, &mut under_way).await?;
                        if same {
                            landed(&mut under_way, 0).await?;
                        }
                    }
                    if chunk.is_none() {
                        let here = ends.get(&(shop.clone(), kept.entry.job.clone())).map(|end| end.1);
                        let before = tail.take().filter(|(job, _)| *job == kept.entry.job).map(|(_, hash)| hash);
                        chunk = Some(Chunk::new(&shop, &kept, before.or(here).unwrap_or(chain::START)));
                    }
                    if let Some(chunk) = &mut chunk {
                        chunk.add(*kept)?;
                    }
                }
                Line::Aside { kind, name, value, until_s } => {
                    self.send(chunk.take(), &mut under_way).await?;
                    carried.asides += 1;
                    self.of_shop(&shop)?.put(Aside { kind, name, value, until_s }).await?;
                }
                Line::Head { .. } | Line::End { .. } => {}
            }
            if input.number.is_multiple_of(256) {
                step(input.progress(1));
            }
        }
        self.send(chunk, &mut under_way).await?;
        landed(&mut under_way, 0).await?;
        step(input.progress(1));
        Ok(carried)
    }

    async fn send(&self, chunk: Option<Chunk>, under_way: &mut JoinSet<Result<(), Fault>>) -> Result<(), Fault> {
        let Some(Chunk { shop, job, after, before, rows, .. }) = chunk else { return Ok(()) };
        landed(under_way, UNDER_WAY - 1).await?;
        let store = self.store.clone();
        under_way.spawn(async move {
            let whole = store.place(&shop, &job, after, before, rows).await?;
            if whole {
                return Ok(());
            }
            Err(Fault::Refused(format!("job {job} was written to meanwhile: nothing more of it was written; do it again")))
        });
        Ok(())
    }
}

/// Number and hash of the last entry of each job that is here, by shop and job.
type Ends = BTreeMap<(String, String), (u64, Hash)>;

async fn written(out: &mut Out, shops: &[(Ledger, Vec<Head>)], step: Step<'_>) -> Result<(), Fault> {
    for (ledger, heads) in shops {
        out.shop(ledger, heads, &mut *step).await?;
        out.asides(ledger).await?;
    }
    Ok(())
}

/// Ends a file, or takes away what was written of it.
fn finished(out: Out, done: Result<(), Fault>) -> Result<Carried, Fault> {
    let part = out.part.clone();
    done.and_then(|()| out.end()).inspect_err(|_| drop(std::fs::remove_file(part)))
}

fn parted(job: &str, number: u64) -> String {
    let altered = Altered {
        job: job.to_owned(),
        number,
        id: None,
        what: "here stands another entry than in the file: the two records parted; keep them apart, or offer the entries anew".into(),
    };
    altered.to_string()
}

/// Waits until at most `most` are under way.
async fn landed(under_way: &mut JoinSet<Result<(), Fault>>, most: usize) -> Result<(), Fault> {
    while under_way.len() > most {
        if let Some(done) = under_way.join_next().await {
            done.map_err(|fault| Fault::Failed(format!("a writing ended early ({fault})")))??;
        }
    }
    Ok(())
}

/// Entries of one job that are written together.
struct Chunk {
    shop: String,
    job: String,
    after: u64,
    before: Hash,
    last: Hash,
    rows: Vec<Row>,
}

impl Chunk {
    fn new(shop: &str, kept: &Kept, before: Hash) -> Self {
        Self { shop: shop.to_owned(), job: kept.entry.job.clone(), after: kept.number - 1, before, last: before, rows: Vec::new() }
    }

    fn takes(&self, shop: &str, kept: &Kept) -> bool {
        self.shop == shop && self.job == kept.entry.job && self.rows.len() < CHUNK
    }

    fn add(&mut self, kept: Kept) -> Result<(), Fault> {
        self.last = job::kept::hash_of(&kept.hash).ok_or_else(|| Fault::Refused("what stands beside an entry is no hash".into()))?;
        let Kept { number, arrived, by, entry, .. } = kept;
        self.rows.push(Row { number, id: entry.id, arrived, by, body: canonical(&entry), hash: self.last.to_vec() });
        Ok(())
    }
}
