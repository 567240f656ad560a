//! Devices that write apart and sync in any order, with requests and answers that are lost, doubled or late, and clocks wrong by days:
//! all end with the same jobs, byte for byte, and with every entry once.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use job::entry::{Entry, EntryId, Scope, What};
use job::fold::fold;
use job::sync::{Answer, Ask, Device};
use ledger::{Author, Ledger};

use crate::dice::Dice;
use crate::shop;

/// Jobs that the devices work on.
const JOBS: u64 = 4;
/// Seconds of a day.
const DAY: i64 = 86_400;

/// What was done.
#[derive(Clone, Copy, Debug, Default)]
pub struct Report {
    /// Devices.
    pub devices: usize,
    /// Entries that were written on them.
    pub written: usize,
    /// Requests that arrived.
    pub requests: u64,
    /// Requests or answers that were lost.
    pub cuts: u64,
    /// Requests that arrived twice, or answers that came late or twice.
    pub repeats: u64,
    /// Questions that were decided apart: both answers are kept, and the seat needs a person.
    pub needs_you: usize,
}

impl std::fmt::Display for Report {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { devices, written, requests, cuts, repeats, needs_you } = self;
        write!(
            f,
            "{devices} devices, {written} entries, {requests} requests, {cuts} cut, {repeats} doubled or late, \
             {needs_you} questions decided apart; all alike, lost 0"
        )
    }
}

/// A device with its clock and what is on its way back to it.
struct Tablet {
    device: Device,
    author: Author,
    wrong_by_s: i64,
    late: Vec<Answer>,
}

/// A clock that goes on by a second with each look.
pub fn clock() -> ledger::Clock {
    let seconds = Arc::new(AtomicI64::new(1_772_438_400));
    Arc::new(move || seconds.fetch_add(1, Ordering::Relaxed))
}

/// Lets `count` devices write and sync `steps` times through the servers `servers`, which stand over one store.
pub async fn simulate(servers: &[Ledger], count: usize, steps: u64, dice: &mut Dice) -> Report {
    let mut report = Report { devices: count, ..Report::default() };
    let mut tablets: Vec<Tablet> = (0..count)
        .map(|i| Tablet {
            device: Device::default(),
            author: Author::signed_in(shop::PEOPLE[i % shop::PEOPLE.len()]),
            wrong_by_s: i64::try_from(dice.below(20 * 86_400)).unwrap() - 10 * DAY,
            late: Vec::new(),
        })
        .collect();
    let mut written: BTreeMap<EntryId, Entry> = BTreeMap::new();
    for step in 0..steps {
        let at = dice.index(tablets.len());
        let tablet = &mut tablets[at];
        if dice.below(3) < 2 {
            let now = 1_772_438_400 + i64::try_from(step).unwrap() * 60 + tablet.wrong_by_s;
            let entry = entry(tablet, at, now, dice);
            written.insert(entry.id, entry.clone());
            tablet.device.write(entry);
        } else {
            exchange(&servers[dice.index(servers.len())], tablet, true, &mut report, dice).await;
        }
    }
    // The network is whole again: everyone asks until nothing is left. Twice round, since the last to ask brings news for the first.
    for _ in 0..2 {
        for tablet in &mut tablets {
            for _ in 0..10_000 {
                exchange(&servers[dice.index(servers.len())], tablet, false, &mut report, dice).await;
                if tablet.device.is_level() {
                    break;
                }
            }
            assert!(tablet.device.is_level(), "a device does not come to an end");
        }
    }
    report.written = written.len();
    report.needs_you = alike(&servers[0], &tablets, &written).await;
    report
}

fn entry(tablet: &Tablet, at: usize, now: i64, dice: &mut Dice) -> Entry {
    let job = format!("2026-{}", dice.below(JOBS));
    let seen = tablet.device.entries(&job);
    let what = match dice.below(10) {
        0 | 1 => shop::decision(["CC493K", "CC491K", "CC333G"][dice.index(3)], "as the drawing says"),
        2 => What::Event { what: "note".into(), detail: format!("tablet {at}") },
        _ => shop::reading(dice),
    };
    // Now and then a tablet that was put aside writes without having looked.
    let follows = if dice.once_in(8) { None } else { seen.last().map(|entry| entry.id) };
    let mut entry = shop::entry(&job, Scope::Seat("drive side".into()), &tablet.author.by, now, follows, what, dice);
    entry.device = format!("tablet {at}");
    entry
}

/// One request with its answer, and with what can happen to both on the way.
async fn exchange(server: &Ledger, tablet: &mut Tablet, trouble: bool, report: &mut Report, dice: &mut Dice) {
    let most = 1 + dice.index(40);
    let ask = serde_json::to_vec(&tablet.device.ask(most)).unwrap();
    if trouble && dice.once_in(6) {
        report.cuts += 1;
        return;
    }
    let mut answers = Vec::new();
    for _ in 0..if trouble && dice.once_in(6) { 2 } else { 1 } {
        report.requests += 1;
        let mut ask = Ask::read(&ask).unwrap();
        if trouble && dice.once_in(4) {
            ask.offers.reverse();
        }
        let answer = server.sync(&tablet.author, ask).await.unwrap();
        answers.push(serde_json::from_slice::<Answer>(&serde_json::to_vec(&answer).unwrap()).unwrap());
    }
    report.repeats += answers.len() as u64 - 1;
    if trouble && dice.once_in(6) {
        report.cuts += 1;
        // It went astray, or it comes much later.
        tablet.late.extend(answers.pop().filter(|_| dice.once_in(2)));
    }
    if dice.once_in(3)
        && let Some(late) = tablet.late.pop()
    {
        report.repeats += 1;
        tablet.device.take(&late).unwrap();
    }
    for answer in &answers {
        assert_eq!(answer.refused, [], "refused");
        tablet.device.take(answer).unwrap();
    }
}

/// Everyone has the same, with each entry once; the number of questions that need a person.
async fn alike(server: &Ledger, tablets: &[Tablet], written: &BTreeMap<EntryId, Entry>) -> usize {
    let mut there = BTreeSet::new();
    let mut needs_you = 0;
    let verified = server.verify(&mut |_| {}).await.unwrap();
    assert_eq!(verified.faults, []);
    for head in server.heads("", 1000).await.unwrap() {
        let job = server.job(&head.job).await.unwrap().unwrap();
        let text = serde_json::to_string(&job.kept).unwrap();
        let folded = format!("{:?}", fold(&job.entries()));
        for (i, tablet) in tablets.iter().enumerate() {
            assert_eq!(serde_json::to_string(tablet.device.chain(&head.job)).unwrap(), text, "tablet {i}, job {}", head.job);
            assert_eq!(format!("{:?}", fold(&tablet.device.entries(&head.job))), folded, "tablet {i}, job {}", head.job);
        }
        for kept in &job.kept {
            assert!(there.insert(kept.entry.id), "{} stands twice", kept.entry.id);
            assert_eq!(Some(&kept.entry), written.get(&kept.entry.id));
        }
        needs_you += fold(&job.entries()).seats.iter().map(|seat| seat.conflicts.len()).sum::<usize>();
    }
    assert_eq!(there.len(), written.len(), "an entry was lost");
    needs_you
}
