//! The hash chain over the entries of a job: who changes, drops or swaps an old entry changes every hash after it.
//!
//! 1. The canonical form of an entry is its JSON with the keys of every object in the order of their code points, no blanks between,
//!    numbers as the shortest decimal that reads back to the same double, texts in UTF-8 with only `"`, `\` and control characters
//!    escaped.
//! 2. The hash of an entry is SHA-256 over the 32 bytes of the hash before it (zeros for the first) and the canonical form.
//! 3. The head is the last hash, in hexadecimal. An empty chain has the head of 64 zeros.
//!
//! It says that a record is the one that was signed; it does not say who signed, nor hinder anybody from making a whole new chain.
//! Source: FIPS 180-4 (SHA-256); the form is our own, near to RFC 8785.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::entry::{Entry, EntryId};

/// A hash of the chain.
pub type Hash = [u8; 32];

/// Where every chain begins.
pub const START: Hash = [0; 32];

/// An entry with its hash, as a ledger keeps it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Link {
    /// The entry.
    pub entry: Entry,
    /// Its hash, hexadecimal.
    pub hash: String,
}

/// The first entry of a chain whose hash is not the one that it should have.
#[derive(Clone, Debug, PartialEq)]
pub struct Tampered {
    /// Its number in the chain, from 1.
    pub number: usize,
    /// Its name.
    pub id: EntryId,
    /// The hash that is written beside it.
    pub written: String,
    /// The hash that it has.
    pub found: String,
}

impl std::fmt::Display for Tampered {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { number, id, written, found } = self;
        write!(
            f,
            "entry {number} ({id}) has hash {found}, but {written} is written beside it: it was changed, or one before it was added, \
             dropped or moved; what stands before it is as it was"
        )
    }
}

impl std::error::Error for Tampered {}

/// The canonical form of an entry. It has only texts and finite numbers, so it always becomes JSON.
pub fn canonical(entry: &Entry) -> String {
    crate::canonical::canonical(entry)
}

/// The hash of `entry` after `before`.
pub fn hash(before: &Hash, entry: &Entry) -> Hash {
    Sha256::new().chain_update(before).chain_update(canonical(entry)).finalize().into()
}

/// A hash in hexadecimal.
pub fn hex(hash: &Hash) -> String {
    hash.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The head of the chain of `entries`, in the order in which they stand.
pub fn head<'e>(entries: impl IntoIterator<Item = &'e Entry>) -> String {
    hex(&entries.into_iter().fold(START, |before, entry| hash(&before, entry)))
}

/// The chain of `entries`, in the order in which they stand.
pub fn links(entries: &[Entry]) -> Vec<Link> {
    let mut before = START;
    entries
        .iter()
        .map(|entry| {
            before = hash(&before, entry);
            Link { entry: entry.clone(), hash: hex(&before) }
        })
        .collect()
}

/// Checks a chain; the first entry that is not as it was chained is named.
pub fn verify(links: &[Link]) -> Result<(), Tampered> {
    let mut before = START;
    for (i, Link { entry, hash: written }) in links.iter().enumerate() {
        before = hash(&before, entry);
        let found = hex(&before);
        if found != *written {
            return Err(Tampered { number: i + 1, id: entry.id, written: written.clone(), found });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entry::{Scope, VERSION, What};

    fn entries() -> Vec<Entry> {
        let entry = |detail: &str| Entry {
            version: VERSION,
            id: EntryId::of_file("2026-03-02", detail, ""),
            job: "1".into(),
            seat: Scope::Seat("A".into()),
            who: "A. Turner".into(),
            device: "bench".into(),
            when: "2026-03-02".into(),
            follows: None,
            what: What::Event { what: "note".into(), detail: detail.into() },
        };
        ["one", "two", "three"].map(entry).to_vec()
    }

    #[test]
    fn the_canonical_form_has_sorted_keys_and_no_blanks() {
        let text = canonical(&entries()[0]);
        let start = r#"{"device":"bench","follows":null,"id":""#;
        let end = r#","job":"1","seat":{"seat":"A"},"version":1,"what":{"detail":"one","kind":"event","what":"note"},"when":"2026-03-02","who":"A. Turner"}"#;
        assert!(text.starts_with(start) && text.ends_with(end), "{text}");
    }

    #[test]
    fn the_first_entry_that_was_changed_dropped_or_moved_is_named() {
        let whole = links(&entries());
        assert_eq!(verify(&whole), Ok(()));
        let mut changed = whole.clone();
        changed[1].entry.who = "B. Fitter".into();
        assert_eq!(verify(&changed).unwrap_err().number, 2);
        let mut dropped = whole.clone();
        dropped.remove(0);
        assert_eq!(verify(&dropped).unwrap_err().number, 1);
        let mut moved = whole.clone();
        moved.swap(1, 2);
        assert_eq!(verify(&moved).unwrap_err().number, 2);
    }

    #[test]
    fn an_empty_chain_has_a_head_of_noughts_and_hashes_are_those_of_the_standard() {
        assert_eq!(head(&[]), "0".repeat(64));
        // FIPS 180-4, example of one block ("abc").
        let abc: Hash = Sha256::digest("abc").into();
        assert_eq!(hex(&abc), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
