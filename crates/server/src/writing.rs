//! What somebody may add to the record, sifted before the ledger is asked: by what each entry says, and so that the shop keeps an owner.

use axum::http::StatusCode;
use job::entry::{Entry, EntryId, Scope, VERSION, What};
use job::moment;
use job::registers::Card;
use job::sync::{NotTaken, Taken};
use ledger::{Author, Brings, Ledger, Outcome, REGISTERS};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::accounts;
use crate::refusal::Refusal;
use crate::rights::{is_of_people, to_write};
use crate::shop::{App, People, Signed};

/// The device that an entry is from when it was written in a request of its own.
const DEVICE: &str = "over HTTP";

/// What is to be added to a job; the server makes the entry of it, under the name of who is signed in.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Draft {
    /// A name of its own (UUIDv7), so that sending it twice is the same as once; without it each time is a new entry.
    pub id: Option<EntryId>,
    /// What it speaks of; the whole job when left out.
    pub seat: Option<Scope>,
    /// When it happened, YYYY-MM-DD or with a time after it; now when left out.
    pub when: Option<String>,
    /// The last entry that its writer had seen; the job's last when left out.
    pub follows: Option<EntryId>,
    /// What it says.
    pub what: What,
}

/// What became of entries.
#[derive(Clone, Debug, Default, PartialEq, Serialize, ToSchema)]
pub(crate) struct Became {
    /// Those that are kept now.
    pub taken: Vec<Taken>,
    /// Those that are not, and why.
    pub refused: Vec<NotTaken>,
}

impl From<Outcome> for Became {
    fn from(outcome: Outcome) -> Self {
        Self { taken: outcome.taken, refused: outcome.refused }
    }
}

impl Became {
    /// The status that goes with it: a refusal only when nothing at all was taken.
    pub(crate) fn status(&self) -> StatusCode {
        if self.taken.is_empty() && !self.refused.is_empty() { StatusCode::BAD_REQUEST } else { StatusCode::OK }
    }
}

impl Draft {
    /// The entry of `job` that it makes. `last` is the last entry there, `before` the one that it made when it was sent before: what was
    /// left out is then as it was.
    pub(crate) fn entry(self, signed: &Signed, job: &str, last: Option<EntryId>, before: Option<&Entry>) -> Entry {
        let now = || before.map_or_else(|| moment::written(signed.ledger.now()), |before| before.when.clone());
        Entry {
            version: VERSION,
            id: self.id.unwrap_or_else(|| signed.ledger.new_id()),
            job: job.to_owned(),
            seat: self.seat.unwrap_or(Scope::Job),
            who: signed.who.clone(),
            device: DEVICE.into(),
            when: self.when.unwrap_or_else(now),
            follows: self.follows.or(before.map_or(last, |before| before.follows)),
            what: self.what,
        }
    }
}

/// An entry of the registers.
pub(crate) fn card(ledger: &Ledger, people: &People, who: &str, card: Card) -> Result<Entry, Refusal> {
    let entry = Entry {
        version: VERSION,
        id: ledger.new_id(),
        job: REGISTERS.into(),
        seat: Scope::Shop,
        who: who.to_owned(),
        device: DEVICE.into(),
        when: moment::written(ledger.now()),
        follows: people.entries.last().map(|entry| entry.id),
        what: What::Register { card },
    };
    entry.checked()?;
    Ok(entry)
}

/// Writes one card, or says why not.
pub(crate) async fn on_card(app: &App, signed: &Signed, said: Card) -> Result<(), Refusal> {
    let people = app.people(&signed.ledger).await?;
    let entry = card(&signed.ledger, &people, &signed.who, said)?;
    match offer(app, signed, vec![entry]).await?.refused.pop() {
        Some(not) => Err(Refusal::new(StatusCode::CONFLICT, not.why)),
        None => Ok(()),
    }
}

/// Writes one entry for somebody who is not signed in yet: the first owner.
pub(crate) async fn alone(ledger: &Ledger, who: &str, entry: Entry) -> Result<(), Refusal> {
    match ledger.offer(&Author::signed_in(who), vec![entry]).await?.refused.pop() {
        Some(not) => Err(Refusal::new(StatusCode::CONFLICT, not.why)),
        None => Ok(()),
    }
}

/// Who brings entries. A tablet at a machine is shared: it brings those of colleagues too, under the name of who is signed in there.
pub(crate) fn author(signed: &Signed) -> Author {
    Author { by: signed.who.clone(), brings: Brings::Others }
}

/// Offers entries to the ledger, without those that somebody has no right to.
pub(crate) async fn offer(app: &App, signed: &Signed, entries: Vec<Entry>) -> Result<Became, Refusal> {
    let (fit, mut not) = sifted(app, signed, entries).await?;
    let mut became = Became::from(signed.ledger.offer(&author(signed), fit).await?);
    became.refused.append(&mut not);
    counted(&became.taken);
    Ok(became)
}

/// Counts what was new.
pub(crate) fn counted(taken: &[Taken]) {
    metrics::counter!("bushwright_entries_taken_total").increment(taken.iter().filter(|taken| taken.new).count() as u64);
}

/// Entries that somebody may write, and the others with why.
pub(crate) async fn sifted(app: &App, signed: &Signed, entries: Vec<Entry>) -> Result<(Vec<Entry>, Vec<NotTaken>), Refusal> {
    let people = app.people(&signed.ledger).await?;
    let (mut fit, mut not) = (Vec::with_capacity(entries.len()), Vec::new());
    for entry in entries {
        match signed.needs(to_write(&entry, &people.entries)) {
            Ok(()) => fit.push(entry),
            Err(refusal) => not.push(NotTaken { id: entry.id, why: refusal.sentence() }),
        }
    }
    if fit.iter().any(is_of_people) && !leaves_an_owner(&signed.ledger, &people, &fit).await? {
        let (of_people, rest) = fit.into_iter().partition(is_of_people);
        fit = rest;
        let of_people: Vec<Entry> = of_people;
        let why =
            "this would leave the shop without an owner who can sign in; allowed: changes that leave one; make somebody else owner first";
        not.extend(of_people.into_iter().map(|entry| NotTaken { id: entry.id, why: why.into() }));
    }
    Ok((fit, not))
}

/// Whether somebody is owner and can sign in once `new` stand in the registers too.
async fn leaves_an_owner(ledger: &Ledger, people: &People, new: &[Entry]) -> Result<bool, Refusal> {
    let of_registers = new.iter().filter(|entry| entry.job == REGISTERS);
    let entries: Vec<Entry> = people.entries.iter().chain(of_registers).cloned().collect();
    let then = People { registers: job::fold::registers(&entries), entries };
    Ok(!accounts::owners(ledger, &then).await?.is_empty())
}
