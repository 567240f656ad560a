//! The promises of the ledger, each on a file and on a database: one set of tests.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::pin::Pin;
use std::sync::Arc;

use faults::dice::Dice;
use faults::postgres::{Keeps, Postgres};
use faults::writing::{Folder, wait_for};
use faults::{devices, shop};
use job::chain;
use job::entry::{Entry, EntryId, Scope, What};
use job::kept::Altered;
use job::registers::Card;
use job::sync::{Ask, PROTOCOL};
use ledger::{Aside, Author, Brings, Fault, Ledger, Options, Place};

const A: &str = shop::PEOPLE[0];
const B: &str = shop::PEOPLE[1];

/// A place that a promise is tried at: a ledger, and a way to its tables past it.
struct Bench {
    place: Place,
    shop: String,
    folder: Folder,
}

impl Bench {
    async fn open(&self) -> Ledger {
        self.open_with(Options { spare: 0, ..self.options() }).await
    }

    fn options(&self) -> Options {
        Options { shop: self.shop.clone(), clock: devices::clock(), ..Options::default() }
    }

    async fn open_with(&self, options: Options) -> Ledger {
        Ledger::open(&self.place, options).await.unwrap()
    }

    /// What somebody does who has the disk, or the database's password.
    async fn behind_its_back(&self, sql: &str) {
        let sql = sql.replace("SHOP", &format!("shop = '{}'", self.shop));
        let done = match &self.place {
            Place::File(file) => {
                let pool = sqlx::SqlitePool::connect(&format!("sqlite:{}", file.display())).await.unwrap();
                let done = sqlx::query(sqlx::AssertSqlSafe(sql)).execute(&pool).await.unwrap().rows_affected();
                pool.close().await;
                done
            }
            Place::Database(url) => {
                let pool = sqlx::PgPool::connect(url).await.unwrap();
                let done = sqlx::query(sqlx::AssertSqlSafe(sql)).execute(&pool).await.unwrap().rows_affected();
                pool.close().await;
                done
            }
        };
        assert!(done > 0, "nothing was changed");
    }
}

type Held<'b> = Pin<Box<dyn Future<Output = ()> + 'b>>;
type Promise = for<'b> fn(&'b Bench) -> Held<'b>;

/// Makes a test of each promise on a file, and one test of all on a database.
macro_rules! promises {
    ($($name:ident)*) => {
        mod in_a_file {
            $(#[test]
            fn $name() {
                let folder = super::Folder::new();
                let place = super::Place::File(folder.file("shop.ledger"));
                let bench = super::Bench { place, shop: "harbour".into(), folder };
                super::wait_for(super::$name(&bench));
            })*
        }
        const ALL: &[(&str, Promise)] = &[$((stringify!($name), |bench| Box::pin($name(bench)))),*];
    };
}

promises! {
    promise_2_sending_again_is_the_same_as_sending_once
    promise_3_numbers_have_no_gap_and_writers_do_not_lose_each_other
    promise_3_whoever_changes_drops_adds_or_moves_an_entry_is_found
    promise_6_another_shop_sees_counts_and_writes_nothing
    promise_7_order_clock_and_author_of_a_client_are_not_trusted
    promise_8_a_record_is_carried_whole_or_not_at_all
    registers_are_entries_and_need_a_person_where_two_cards_differ
    an_old_or_new_client_gets_a_clear_word
    what_stands_beside_the_record_is_kept_and_checked
    what_can_not_stand_is_given_back_with_its_reason
}

#[test]
fn every_promise_holds_in_a_database() {
    let postgres = Postgres::start(Keeps::InMemory);
    for (name, promise) in ALL {
        println!("{name}");
        let bench = Bench { place: Place::of(&postgres.url()), shop: (*name).into(), folder: Folder::new() };
        wait_for(promise(&bench));
    }
}

fn at_the_machine() -> Author {
    Author::at_the_machine(A)
}

async fn promise_2_sending_again_is_the_same_as_sending_once(bench: &Bench) {
    let ledger = bench.open().await;
    let entries = shop::job("1", 30, &mut Dice::new(1));
    let first = ledger.offer(&at_the_machine(), entries.clone()).await.unwrap();
    assert!(first.taken.iter().all(|taken| taken.new) && first.taken.len() == 30);
    let before = ledger.job("1").await.unwrap();
    let mut again = entries.clone();
    again.reverse();
    again.extend(entries.clone());
    let second = ledger.offer(&at_the_machine(), again).await.unwrap();
    assert!(second.taken.iter().all(|taken| !taken.new) && second.taken.len() == 60);
    assert_eq!(ledger.job("1").await.unwrap(), before);
    // Another entry of the same name is not let in, and does not change the first.
    let other = Entry { who: B.into(), ..entries[3].clone() };
    let refused = ledger.offer(&at_the_machine(), vec![other]).await.unwrap().refused;
    assert!(refused[0].why.contains("is another than the one that is kept under that name (job 1, entry 4)"), "{}", refused[0].why);
    assert_eq!(ledger.job("1").await.unwrap(), before);
    // It is there after closing, too.
    ledger.close().await.unwrap();
    assert_eq!(bench.open().await.job("1").await.unwrap(), before);
}

async fn promise_3_numbers_have_no_gap_and_writers_do_not_lose_each_other(bench: &Bench) {
    let servers = [bench.open().await, bench.open().await];
    let hands: Vec<_> = (0..8)
        .map(|hand| {
            let ledger = servers[hand % 2].clone();
            tokio::spawn(async move {
                for n in 0..12 {
                    let note = shop::note(&format!("{}", n % 2), A, &format!("hand {hand}"));
                    assert_eq!(ledger.offer(&at_the_machine(), vec![note.clone(), note]).await.unwrap().taken.len(), 2);
                }
            })
        })
        .collect();
    for hand in hands {
        hand.await.unwrap();
    }
    for job in ["0", "1"] {
        let kept = servers[0].job(job).await.unwrap().unwrap().kept;
        let numbers: Vec<u64> = kept.iter().map(|kept| kept.number).collect();
        assert_eq!(numbers, (1..=48).collect::<Vec<u64>>());
    }
}

async fn promise_3_whoever_changes_drops_adds_or_moves_an_entry_is_found(bench: &Bench) {
    for (number, sql) in [
        (3, "update entries set body = replace(body, '240', '241') where SHOP and number = 3"),
        (3, "update entries set arrived = '2026-01-01T00:00:00Z' where SHOP and number = 3"),
        (3, "update entries set by_whom = 'D. Nobody' where SHOP and number = 3"),
        (3, "delete from entries where SHOP and number = 3"),
        (8, "delete from entries where SHOP and number = 8"),
        (1, "delete from entries where SHOP and number < 8"),
        (3, "update entries set number = number + 100 where SHOP and number = 3"),
        (8, "update heads set hash = (select hash from entries e where e.shop = heads.shop and e.number = 7) where SHOP"),
        (7, "update heads set number = 7 where SHOP"),
        (1, "delete from heads where SHOP"),
        (
            9,
            "insert into entries (shop, job, number, id, arrived, by_whom, body, hash)
             select shop, job, 9, (select id from entries f where f.shop <> e.shop limit 1), arrived, by_whom, body, hash
             from entries e where SHOP and number = 8",
        ),
    ] {
        let other = bench.open().await.of_shop("another").unwrap();
        other.offer(&at_the_machine(), vec![shop::note("1", A, "")]).await.unwrap();
        let ledger = bench.open().await;
        ledger.offer(&at_the_machine(), shop::job("1", 8, &mut Dice::new(7))).await.unwrap();
        assert_eq!(ledger.verify(&mut |_| {}).await.unwrap().faults, []);
        bench.behind_its_back(sql).await;
        let verified = ledger.verify(&mut |_| {}).await.unwrap();
        let Some(Fault::Altered(Altered { job, number: found, .. })) = verified.faults.first() else {
            panic!("{sql}: {:?}", verified.faults);
        };
        assert_eq!((job.as_str(), *found), ("1", number), "{sql}");
        // What verify names is not given out as if nothing were wrong, but for a row behind the end, which is not read.
        assert!(number == 9 || ledger.job("1").await.is_err(), "{sql}");
        assert_eq!(other.verify(&mut |_| {}).await.unwrap().faults, []);
        bench.behind_its_back("delete from entries where SHOP").await;
        if number != 1 || sql.contains("entries") {
            bench.behind_its_back("delete from heads where SHOP").await;
        }
    }
}

async fn promise_6_another_shop_sees_counts_and_writes_nothing(bench: &Bench) {
    let ours = bench.open().await;
    let entries = shop::job("2026-001", 5, &mut Dice::new(3));
    ours.offer(&at_the_machine(), entries.clone()).await.unwrap();
    ours.offer(&at_the_machine(), shop::gauge("bore gauge", "2026-09-01").map(|card| shop::card(A, card)).to_vec()).await.unwrap();
    let secret = Aside { kind: "account".into(), name: A.into(), value: "hash".into(), until_s: 1 };
    ours.put(secret).await.unwrap();
    let before = ours.job("2026-001").await.unwrap();
    for name in ["quay", "harbour ", "Harbour", "%", "' or '1'='1", "harbour' --", "harbour\\"] {
        let theirs = ours.of_shop(name).unwrap();
        assert_eq!(theirs.job("2026-001").await.unwrap(), None, "{name}");
        assert_eq!(theirs.heads("", 100).await.unwrap(), [], "{name}");
        assert_eq!(theirs.find(entries[0].id).await.unwrap(), None);
        assert_eq!(theirs.asides("account").await.unwrap(), []);
        assert!(theirs.registers().await.unwrap().cards.is_empty());
        assert!(!theirs.drop_aside("account", A).await.unwrap());
        assert_eq!(theirs.verify(&mut |_| {}).await.unwrap().entries, 0);
        let have = [("2026-001".to_owned(), 0)].into();
        assert_eq!(theirs.lacks(&have, Some(&["2026-001".to_owned()]), None, 100).await.unwrap().kept, []);
        let file = bench.folder.file(&format!("{}.jsonl", name.len()));
        assert!(theirs.export(&file, Some(&["2026-001".to_owned()]), &mut |_| {}).await.is_err());
        // The same names there are other entries, and change nothing here.
        let taken = theirs.offer(&at_the_machine(), vec![Entry { who: B.into(), ..entries[0].clone() }]).await.unwrap().taken;
        assert!(taken[0].new && taken[0].number == 1);
    }
    assert_eq!(ours.job("2026-001").await.unwrap(), before);
    assert_eq!(ours.asides("account").await.unwrap().len(), 1);
    for name in ["", "a\nb", "\u{0}"] {
        assert!(ours.of_shop(name).is_err());
    }
}

async fn promise_7_order_clock_and_author_of_a_client_are_not_trusted(bench: &Bench) {
    let ledger = bench.open().await;
    let tomorrow = Entry { when: "2199-01-01T00:00:00Z".into(), ..shop::note("1", B, "by a clock that is wrong") };
    let signature = Entry { what: What::Signature { role: "made".into(), head: "0".repeat(64) }, ..shop::note("1", B, "") };
    let own = Author::signed_in(A);
    let done = ledger.offer(&own, vec![tomorrow.clone(), signature.clone()]).await.unwrap();
    assert!(done.taken.is_empty() && done.refused[0].why.starts_with("who is \"B. Fitter\"; allowed: \"A. Turner\", who is signed in"));
    let shared = Author { by: A.into(), brings: Brings::Others };
    let done = ledger.offer(&shared, vec![tomorrow.clone(), signature.clone()]).await.unwrap();
    assert_eq!((done.taken.len(), done.refused.len()), (1, 1));
    assert!(done.refused[0].why.contains("a signature is taken from its signer only"));
    assert_eq!(ledger.offer(&Author::signed_in(B), vec![signature]).await.unwrap().taken.len(), 1);
    let kept = ledger.job("1").await.unwrap().unwrap().kept;
    // What the writer said stands as it was said; what the ledger knows stands beside it.
    assert_eq!((kept[0].entry.when.as_str(), kept[0].entry.who.as_str(), kept[0].by.as_str()), ("2199-01-01T00:00:00Z", B, A));
    assert!(kept[0].arrived.starts_with("2026-03-02T"), "{}", kept[0].arrived);
    // An entry whose forerunner has not arrived yet is taken all the same.
    let mut entries = shop::job("2", 6, &mut Dice::new(5));
    let in_order = job::fold::ordered(&entries);
    entries.reverse();
    ledger.offer(&at_the_machine(), entries).await.unwrap();
    let kept = ledger.job("2").await.unwrap().unwrap();
    assert_ne!(kept.entries(), in_order);
    assert_eq!(job::fold::ordered(&kept.entries()), in_order);
}

async fn promise_8_a_record_is_carried_whole_or_not_at_all(bench: &Bench) {
    let here = bench.open().await;
    let mut dice = Dice::new(11);
    for number in ["1", "2", "3"] {
        here.offer(&at_the_machine(), shop::job(number, 1205, &mut dice)).await.unwrap();
    }
    here.offer(&at_the_machine(), shop::gauge("bore gauge", "2026-09-01").map(|card| shop::card(A, card)).to_vec()).await.unwrap();
    here.put(Aside { kind: "account".into(), name: A.into(), value: "hash".into(), until_s: 5 }).await.unwrap();
    let export = bench.folder.file("export.jsonl");
    let mut told = 0;
    let carried = here.export(&export, None, &mut |progress| told = progress.done).await.unwrap();
    assert_eq!((carried.jobs, carried.entries, told), (4, 3617, 3617));
    assert!(here.export(&export, None, &mut |_| {}).await.unwrap_err().to_string().contains("is there already"));

    // Into another shop of the same store, and twice: the second adds nothing.
    let there = here.of_shop(&format!("{} moved", bench.shop)).unwrap();
    assert_eq!(there.import(&export, &mut |_| {}).await.unwrap().there, 0);
    let again = there.import(&export, &mut |_| {}).await.unwrap();
    assert_eq!((again.entries, again.there), (3617, 3617));
    for number in ["", "1", "2", "3"] {
        assert_eq!(there.job(number).await.unwrap(), here.job(number).await.unwrap());
    }
    // What went on here since then is carried on there.
    here.offer(&at_the_machine(), vec![shop::note("2", A, "later")]).await.unwrap();
    let later = bench.folder.file("later.jsonl");
    here.export(&later, Some(&["2".to_owned()]), &mut |_| {}).await.unwrap();
    let carried = there.import(&later, &mut |_| {}).await.unwrap();
    assert_eq!((carried.entries, carried.there), (1206, 1205));
    assert_eq!(there.import(&export, &mut |_| {}).await.unwrap().there, 3617);
    // Where the two went different ways, nothing is written.
    there.offer(&at_the_machine(), vec![shop::note("1", A, "there only")]).await.unwrap();
    here.offer(&at_the_machine(), vec![shop::note("1", A, "here only"), shop::note("0", A, "new")]).await.unwrap();
    let parted = bench.folder.file("parted.jsonl");
    here.export(&parted, None, &mut |_| {}).await.unwrap();
    let refused = there.import(&parted, &mut |_| {}).await.unwrap_err().to_string();
    assert!(refused.contains("job 1, entry 1206") && refused.contains("nothing was written"), "{refused}");
    assert_eq!(there.job("0").await.unwrap(), None);

    changed_files_are_refused(bench, &export).await;
    a_backup_comes_back(bench, &here).await;
}

async fn changed_files_are_refused(bench: &Bench, export: &std::path::Path) {
    let text = std::fs::read_to_string(export).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let without = |n: usize| [&lines[..n], &lines[n + 1..]].concat().join("\n") + "\n";
    for (what, changed) in [
        ("a reading", text.replacen("\"size_mm\":240", "\"size_mm\":241", 1)),
        ("an arrival", text.replacen("\"arrived\":\"2026", "\"arrived\":\"2025", 1)),
        ("a line dropped", without(500)),
        ("the end dropped", without(lines.len() - 1)),
        ("cut", text[..text.len() / 2].to_owned()),
        ("a shop's name", text.replacen("{\"shop\":\"", "{\"shop\":\"x", 1)),
        ("another file", "number,size\n1,240\n".to_owned()),
        ("nothing", String::new()),
        ("a newer form", text.replacen("\"version\":1", "\"version\":9", 1)),
    ] {
        let file = bench.folder.file("changed.jsonl");
        std::fs::write(&file, changed).unwrap();
        let empty = bench.open().await.of_shop("empty").unwrap();
        let refused = empty.import(&file, &mut |_| {}).await.unwrap_err();
        assert!(matches!(refused, Fault::Refused(_)), "{what}: {refused}");
        assert_eq!(empty.heads("", 10).await.unwrap(), [], "{what}");
    }
}

async fn a_backup_comes_back(bench: &Bench, here: &Ledger) {
    // Of every shop, while somebody writes; into a file, whatever the store that it came from.
    let backup = bench.folder.file("backup.jsonl");
    let writing = {
        let here = here.clone();
        tokio::spawn(async move {
            for _ in 0..50 {
                here.offer(&at_the_machine(), vec![shop::note("while", A, "writing")]).await.unwrap();
            }
        })
    };
    let carried = here.backup(&backup, &mut |_| {}).await.unwrap();
    writing.await.unwrap();
    let place = Place::File(bench.folder.file("restored.ledger"));
    let restored = Ledger::open(&place, Options { spare: 0, ..bench.options() }).await.unwrap();
    assert!(restored.import(&backup, &mut |_| {}).await.unwrap_err().to_string().contains("is a backup"));
    let back = restored.restore(&backup, &mut |_| {}).await.unwrap();
    assert_eq!((back.entries, back.asides, back.shops), (carried.entries, carried.asides, carried.shops));
    assert_eq!(restored.job("2").await.unwrap(), here.job("2").await.unwrap());
    assert_eq!(restored.asides("account").await.unwrap(), here.asides("account").await.unwrap());
    assert_eq!(restored.verify(&mut |_| {}).await.unwrap().faults, []);
    assert!(restored.restore(&backup, &mut |_| {}).await.unwrap_err().to_string().contains("not empty"));
    restored.close().await.unwrap();
}

async fn registers_are_entries_and_need_a_person_where_two_cards_differ(bench: &Bench) {
    let ledger = bench.open().await;
    let person = |who: &str, roles: &[&str]| {
        let roles = roles.iter().map(|role| (*role).to_owned()).collect();
        shop::card(who, Card::Person { name: "D. Newcomer".into(), roles })
    };
    let [gauge, checked] = shop::gauge("bore gauge", "2026-09-01").map(|card| shop::card(A, card));
    ledger.offer(&at_the_machine(), vec![gauge, checked, person(A, &["floor"])]).await.unwrap();
    let registers = ledger.registers().await.unwrap();
    assert_eq!(registers.roles("D. Newcomer"), ["floor"]);
    assert!(registers.there("gauge", "bore gauge").unwrap().checked.is_some());
    assert_eq!(registers.needs_you, [] as [String; 0]);
    // B had not seen A's card.
    ledger.offer(&at_the_machine(), vec![person(B, &["office"])]).await.unwrap();
    let needs_you = ledger.registers().await.unwrap().needs_you;
    assert_eq!(
        needs_you,
        ["The card of the person \"D. Newcomer\" was written apart by A. Turner and B. Fitter; write it once more, having seen both."]
    );
    let last = ledger.job("").await.unwrap().unwrap().kept.pop().unwrap().entry.id;
    let mine = ledger.job("").await.unwrap().unwrap().kept[2].entry.id;
    assert_ne!(last, mine);
    let settled = Entry { follows: Some(last), ..person(A, &["office", "owner"]) };
    ledger.offer(&at_the_machine(), vec![settled]).await.unwrap();
    let registers = ledger.registers().await.unwrap();
    assert_eq!((registers.needs_you.len(), registers.roles("D. Newcomer")), (0, &["office".to_owned(), "owner".to_owned()][..]));
    let gone = Card::Gone { register: "person".into(), name: "D. Newcomer".into(), because: "went to sea".into() };
    ledger.offer(&at_the_machine(), vec![shop::card(A, gone)]).await.unwrap();
    assert!(ledger.registers().await.unwrap().roles("D. Newcomer").is_empty());
}

async fn an_old_or_new_client_gets_a_clear_word(bench: &Bench) {
    let ledger = bench.open().await;
    let ask = |protocol| Ask { protocol, have: Default::default(), offers: vec![shop::note("1", A, "")], only: None, from: None, most: 10 };
    for (protocol, words) in [(0, "the app is older than the server"), (PROTOCOL + 1, "this server is older than the app")] {
        let refused = ledger.sync(&at_the_machine(), ask(protocol)).await.unwrap_err().to_string();
        assert!(refused.contains(words), "{refused}");
        assert_eq!(ledger.heads("", 10).await.unwrap(), []);
    }
    assert_eq!(ledger.sync(&at_the_machine(), ask(PROTOCOL)).await.unwrap().taken.len(), 1);
    // Who has more than is here is told so, and gives it again.
    let mut ask = ask(PROTOCOL);
    ask.offers.clear();
    ask.have = [("1".to_owned(), 5), ("9".to_owned(), 2)].into();
    let answer = ledger.sync(&at_the_machine(), ask).await.unwrap();
    assert_eq!((answer.behind, answer.lacks.len()), (vec!["1".to_owned(), "9".to_owned()], 0));
}

async fn what_stands_beside_the_record_is_kept_and_checked(bench: &Bench) {
    let ledger = bench.open().await;
    let account = |value: &str| Aside { kind: "account".into(), name: A.into(), value: value.into(), until_s: i64::MAX };
    assert!(ledger.put_new(account("one")).await.unwrap());
    assert!(!ledger.put_new(account("two")).await.unwrap());
    assert_eq!(ledger.aside("account", A).await.unwrap(), Some(account("one")));
    ledger.put(account("two")).await.unwrap();
    assert_eq!(ledger.asides("account").await.unwrap(), [account("two")]);
    bench.behind_its_back("update asides set value = 'three' where SHOP").await;
    assert!(matches!(ledger.aside("account", A).await, Err(Fault::Damaged(_))));
    assert_eq!(ledger.verify(&mut |_| {}).await.unwrap().faults.len(), 1);
    ledger.put(account("two")).await.unwrap();
    let other = "elsewhere".to_owned();
    bench.behind_its_back(&format!("update asides set shop = '{other}' where SHOP")).await;
    assert_eq!(ledger.aside("account", A).await.unwrap(), None);
    let said = ledger.verify(&mut |_| {}).await.unwrap().faults;
    assert!(matches!(said.as_slice(), [Fault::Damaged(words)] if words.starts_with("1 of this shop's")), "{said:?}");
    // The shop that it came to does not take it for its own.
    let theirs = ledger.of_shop(&other).unwrap();
    assert!(matches!(theirs.aside("account", A).await, Err(Fault::Damaged(_))));
    assert_eq!(theirs.verify(&mut |_| {}).await.unwrap().faults.len(), 1);
    bench.behind_its_back(&format!("delete from asides where shop = '{other}'")).await;
    ledger.put(account("two")).await.unwrap();
    assert!(ledger.drop_aside("account", A).await.unwrap() && !ledger.drop_aside("account", A).await.unwrap());
    assert_eq!(ledger.aside("account", A).await.unwrap(), None);
}

async fn what_can_not_stand_is_given_back_with_its_reason(bench: &Bench) {
    let ledger = bench.open().await;
    let note = || shop::note("1", A, "");
    let long = What::Event { what: "note".into(), detail: "x".repeat(70_000) };
    for (entry, words) in [
        (Entry { version: 2, ..note() }, "version is 2"),
        (Entry { job: String::new(), ..note() }, "job is \"\""),
        (Entry { job: "1\n2".into(), ..note() }, "job is"),
        (Entry { id: EntryId::default(), ..note() }, "a UUID of version 7"),
        (Entry { what: long, ..note() }, "65536 bytes at most"),
        (Entry { seat: Scope::Shop, ..note() }, "no card of the registers"),
        (Entry { job: "1".into(), ..shop::card(A, shop::gauge("g", "2026-01-01")[0].clone()) }, "a card of the registers in the job \"1\""),
        (shop::card(A, Card::Person { name: "X".into(), roles: vec!["boss".into()] }), "roles is \"boss\""),
        (Entry { when: "yesterday".into(), ..note() }, "when"),
    ] {
        let done = ledger.offer(&at_the_machine(), vec![entry, note()]).await.unwrap();
        assert_eq!((done.taken.len(), done.refused.len()), (1, 1), "{words}");
        assert!(done.refused[0].why.contains(words), "{}", done.refused[0].why);
    }
}

#[test]
fn promise_5_without_room_reading_goes_on_and_writing_is_refused_in_a_sentence() {
    let folder = Folder::new();
    let place = Place::File(folder.file("shop.ledger"));
    let bench = Bench { place, shop: "harbour".into(), folder };
    wait_for(async {
        bench.open().await.offer(&at_the_machine(), vec![shop::note("1", A, "before")]).await.unwrap();
        let ledger = bench.open_with(Options { spare: u64::MAX, ..bench.options() }).await;
        let full = ledger.offer(&at_the_machine(), vec![shop::note("1", A, "after")]).await.unwrap_err();
        assert!(matches!(&full, Fault::Full(sentence) if sentence.contains("nothing was written, reading goes on")) && full.may_pass());
        assert_eq!(ledger.job("1").await.unwrap().unwrap().kept.len(), 1);
        assert_eq!(ledger.verify(&mut |_| {}).await.unwrap().faults, []);
    });
}

#[test]
fn a_file_that_is_no_ledger_is_refused_and_not_touched() {
    let folder = Folder::new();
    wait_for(async {
        let other = folder.file("other.db");
        let pool = sqlx::SqlitePool::connect(&format!("sqlite:{}?mode=rwc", other.display())).await.unwrap();
        sqlx::query("create table photos (name text)").execute(&pool).await.unwrap();
        pool.close().await;
        std::fs::write(folder.file("text.db"), "dear diary, ".repeat(400)).unwrap();
        for name in ["other.db", "text.db"] {
            let before = std::fs::read(folder.file(name)).unwrap();
            let refused = Ledger::open(&Place::File(folder.file(name)), Options::default()).await.unwrap_err();
            assert!(matches!(refused, Fault::Damaged(_)), "{refused}");
            assert!(std::fs::read(folder.file(name)).unwrap().ends_with(&before[100..]), "{name}");
        }
        let missing = Ledger::open(&Place::File(folder.file("none.db")), Options { create: false, ..Options::default() }).await;
        assert!(matches!(missing, Err(Fault::Refused(_))) && !folder.file("none.db").exists());
        let nowhere = Ledger::open(&Place::of("/nowhere/at/all.db"), Options { spare: 0, ..Options::default() }).await;
        assert!(matches!(nowhere, Err(Fault::Refused(_))), "{nowhere:?}");
    });
}

#[test]
fn an_export_of_the_first_version_is_read() {
    let folder = Folder::new();
    wait_for(async {
        let ledger = faults::writing::in_file(&folder.file("shop.ledger"), "shop").await;
        let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/export_v1.jsonl");
        if std::env::var_os("WRITE_EXPORT_V1").is_some() {
            let author = at_the_machine();
            ledger.offer(&author, shop::job("2026-014", 6, &mut Dice::new(14))).await.unwrap();
            ledger.offer(&author, shop::gauge("bore gauge", "2026-09-01").map(|card| shop::card(A, card)).to_vec()).await.unwrap();
            ledger.export(&file, None, &mut |_| {}).await.unwrap();
            return;
        }
        let carried = ledger.import(&file, &mut |_| {}).await.unwrap();
        assert_eq!((carried.jobs, carried.entries), (2, 8));
        let job = ledger.job("2026-014").await.unwrap().unwrap();
        assert_eq!(chain::hex(&job.head.hash), job.kept[5].hash);
        assert!(ledger.registers().await.unwrap().there("gauge", "bore gauge").is_some());
        ledger.close().await.unwrap();
    });
}

#[test]
fn a_ledger_is_handed_from_task_to_task() {
    fn can<T: Send + Sync + Clone + 'static>() {}
    can::<Ledger>();
    let _: fn(Arc<dyn ledger::Store>) = |_| {};
}
