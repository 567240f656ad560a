//! An entry as a ledger keeps it: numbered within its job, with when and through whom it arrived, and chained to the one before.
//!
//! 1. Within a job entries are numbered 1, 2, 3 .. in the order in which the ledger took them. The registers are a job without a number.
//! 2. The hash of an entry is SHA-256 over the 32 bytes of the hash before it ([`chain::START`] for the first) and the text
//!    `{"arrived":A,"by":B,"entry":E,"number":N}`: A and B as JSON texts, E the canonical form of the entry ([`chain::canonical`]), N the
//!    number in decimal. No blanks, no line end.
//! 3. What its writer said (who, when, what it follows) is in the entry; what the ledger itself knows is beside it: neither counts
//!    for the other.
//!
//! It leaves to others: keeping it on disk, and the order in which a job's entries are taken (`fold`), which is not that of arrival.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::chain::{self, Hash};
use crate::entry::{Entry, EntryId};

/// An entry as a ledger keeps it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Kept {
    /// Its number in the job, from 1.
    pub number: u64,
    /// When the ledger took it, by the ledger's clock.
    pub arrived: String,
    /// Who brought it, as the ledger knows them; the writer is in the entry.
    pub by: String,
    /// The entry.
    pub entry: Entry,
    /// Its hash, hexadecimal.
    pub hash: String,
}

/// The first entry of a ledger's chain that is not as it was kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Altered {
    /// The job's number; empty for the registers.
    pub job: String,
    /// The number that it should have.
    pub number: u64,
    /// Its name, where it can be read.
    pub id: Option<EntryId>,
    /// What is wrong.
    pub what: String,
}

impl std::fmt::Display for Altered {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let job = if self.job.is_empty() { "the registers".to_owned() } else { format!("job {}", self.job) };
        let id = self.id.map(|id| format!(" ({id})")).unwrap_or_default();
        write!(f, "{job}, entry {}{id}: {}; the entries before it are as they were kept", self.number, self.what)
    }
}

impl std::error::Error for Altered {}

/// The hash of an entry of canonical form `canonical` after `before`.
pub fn hash(before: &Hash, number: u64, arrived: &str, by: &str, canonical: &str) -> Hash {
    let text = |words: &str| serde_json::Value::from(words).to_string();
    Sha256::new()
        .chain_update(before)
        .chain_update(format!(r#"{{"arrived":{},"by":{},"entry":"#, text(arrived), text(by)))
        .chain_update(canonical)
        .chain_update(format!(r#","number":{number}}}"#))
        .finalize()
        .into()
}

impl Kept {
    /// The hash that it should have after `before`.
    pub fn found(&self, before: &Hash) -> Hash {
        hash(before, self.number, &self.arrived, &self.by, &chain::canonical(&self.entry))
    }

    /// Checks it as entry `number` of `job` behind `before`; gives its hash.
    pub fn checked(&self, job: &str, number: u64, before: &Hash) -> Result<Hash, Altered> {
        let altered = |what: String| Altered { job: job.to_owned(), number, id: Some(self.entry.id), what };
        if self.number != number {
            return Err(altered(format!("number {} stands there: an entry was added, dropped or moved", self.number)));
        }
        if self.entry.job != job {
            return Err(altered(format!("it belongs to the job {:?}", self.entry.job)));
        }
        let found = self.found(before);
        if chain::hex(&found) != self.hash {
            return Err(altered(format!(
                "its hash is {}, but {} is written beside it: it was changed, or one before it was added, dropped or moved",
                chain::hex(&found),
                self.hash
            )));
        }
        Ok(found)
    }
}

/// Reads a hash that is written in hexadecimal.
pub fn hash_of(hex: &str) -> Option<Hash> {
    let mut hash = chain::START;
    if hex.len() != 64 || !hex.is_ascii() {
        return None;
    }
    for (i, byte) in hash.iter_mut().enumerate() {
        *byte = u8::from_str_radix(hex.get(2 * i..2 * i + 2)?, 16).ok()?;
    }
    Some(hash)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entry::{Scope, VERSION, What};

    fn kept() -> Kept {
        let entry = Entry {
            version: VERSION,
            id: EntryId::of_file("2026-03-02", "one", ""),
            job: "1".into(),
            seat: Scope::Job,
            who: "A. Turner".into(),
            device: "bench".into(),
            when: "2026-03-02".into(),
            follows: None,
            what: What::Event { what: "note".into(), detail: "bored \"true\"".into() },
        };
        let mut kept = Kept { number: 1, arrived: "2026-03-02T10:00:00Z".into(), by: "A. Turner".into(), entry, hash: String::new() };
        kept.hash = chain::hex(&kept.found(&chain::START));
        kept
    }

    #[test]
    fn the_hash_is_over_the_text_that_the_page_says() {
        let kept = kept();
        let canonical = chain::canonical(&kept.entry);
        let text = format!(r#"{{"arrived":"2026-03-02T10:00:00Z","by":"A. Turner","entry":{canonical},"number":1}}"#);
        let by_hand: Hash = Sha256::new().chain_update([0; 32]).chain_update(text).finalize().into();
        assert_eq!(kept.hash, chain::hex(&by_hand));
        assert_eq!(hash_of(&kept.hash), Some(by_hand));
    }

    #[test]
    fn whatever_is_changed_is_found() {
        assert!(kept().checked("1", 1, &chain::START).is_ok());
        let changes: [fn(&mut Kept); 5] = [
            |kept| kept.arrived = "2026-03-03T10:00:00Z".into(),
            |kept| kept.by = "B. Fitter".into(),
            |kept| kept.entry.who = "B. Fitter".into(),
            |kept| kept.number = 2,
            |kept| kept.entry.job = "2".into(),
        ];
        for change in changes {
            let mut kept = kept();
            change(&mut kept);
            assert!(kept.checked("1", 1, &chain::START).is_err(), "{kept:?}");
        }
    }
}
