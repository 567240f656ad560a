//! How often somebody may try to sign in: counted in the store, so that several servers count together.
//!
//! A try takes a numbered place of its stretch of time before anything is looked at, and the store gives each place once; so tries that
//! are made at once are counted too. Who gets in gives the places back.

use std::net::IpAddr;

use ledger::{Aside, Fault, Ledger};

use crate::refusal::Refusal;
use crate::secrets;

/// The kind of a place in the store.
pub(crate) const TRY: &str = "try";
/// A stretch of time, s.
const STRETCH_S: i64 = 300;

/// A limit: what is counted, and how many tries of it a stretch has.
///
/// Source: ours. One name from one address: a person who does not remember; one name from everywhere: a guess spread over machines; one
/// address: a list of names tried from one machine, which a whole shop behind one router must not meet in a morning.
const LIMITS: [(Counted, u32); 3] = [(Counted::NameThere, 5), (Counted::Name, 50), (Counted::There, 40)];

#[derive(Clone, Copy)]
enum Counted {
    NameThere,
    Name,
    There,
}

impl Counted {
    /// What is counted, as a name of even length whatever was typed.
    fn of(self, who: &str, address: Option<IpAddr>) -> String {
        let there = address.map_or_else(|| "nowhere".to_owned(), |address| address.to_string());
        let what = match self {
            Self::NameThere => format!("name {who} at {there}"),
            Self::Name => format!("name {who}"),
            Self::There => format!("at {there}"),
        };
        secrets::name_of(&what).chars().take(32).collect()
    }
}

/// The places that a try took.
pub(crate) struct Tried(Vec<String>);

/// Takes a place for a try, or says how long to wait.
pub(crate) async fn begin(ledger: &Ledger, who: &str, address: Option<IpAddr>) -> Result<Tried, Refusal> {
    let now = ledger.now();
    let stretch = now.div_euclid(STRETCH_S);
    let mut taken = Vec::new();
    for (counted, most) in LIMITS {
        match place(ledger, &format!("{}.{stretch}", counted.of(who, address)), most, now).await? {
            Some(name) => taken.push(name),
            None => {
                metrics::counter!("bushwright_sign_ins_total", "outcome" => "too many").increment(1);
                return Err(Refusal::too_many(u64::try_from((stretch + 1) * STRETCH_S - now).unwrap_or(1).max(1)));
            }
        }
    }
    Ok(Tried(taken))
}

async fn place(ledger: &Ledger, of: &str, most: u32, now: i64) -> Result<Option<String>, Fault> {
    for number in 0..most {
        let name = format!("{of}.{number}");
        if ledger.aside(TRY, &name).await?.is_some() {
            continue;
        }
        let aside = Aside { kind: TRY.into(), name: name.clone(), value: String::new(), until_s: now.saturating_add(STRETCH_S) };
        if ledger.put_new(aside).await? {
            return Ok(Some(name));
        }
    }
    Ok(None)
}

impl Tried {
    /// It was the right password: the places are free again.
    pub(crate) async fn got_in(self, ledger: &Ledger) -> Result<(), Fault> {
        for name in self.0 {
            ledger.drop_aside(TRY, &name).await?;
        }
        Ok(())
    }
}
