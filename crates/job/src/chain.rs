//! The chain of a job's entries: the hash of each is over the one before it and itself, so a change anywhere shows.
//!
//! hash(n) = SHA-256(hash(n − 1) as hexadecimal, newline, the entry as JSON with sorted keys). Hash(0) is 64 noughts.

use serde_json::Value;
use sha2::{Digest, Sha256};

use crate::entry::Entry;

/// The head of an empty chain.
pub const EMPTY: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// The entry as the hash sees it: JSON, keys of every object sorted, no blanks.
pub fn canonical(entry: &Entry) -> String {
    sorted(serde_json::to_value(entry).unwrap_or_default()).to_string()
}

fn sorted(value: Value) -> Value {
    match value {
        Value::Object(map) => {
            let mut pairs: Vec<(String, Value)> = map.into_iter().map(|(key, value)| (key, sorted(value))).collect();
            pairs.sort_by(|a, b| a.0.cmp(&b.0));
            Value::Object(pairs.into_iter().collect())
        }
        Value::Array(list) => Value::Array(list.into_iter().map(sorted).collect()),
        plain => plain,
    }
}

/// The head after one more entry.
pub fn next(head: &str, entry: &Entry) -> String {
    hex(&Sha256::digest(format!("{head}\n{}", canonical(entry)).as_bytes()))
}

/// The head of a whole chain.
pub fn head(entries: &[Entry]) -> String {
    entries.iter().fold(EMPTY.to_owned(), |head, entry| next(&head, entry))
}

/// The number (from 1) of the first entry whose kept hash is not what it should be; none when the chain holds.
pub fn first_fault(entries: &[Entry], hashes: &[String]) -> Option<usize> {
    let mut head = EMPTY.to_owned();
    for (i, entry) in entries.iter().enumerate() {
        head = next(&head, entry);
        if hashes.get(i) != Some(&head) {
            return Some(i + 1);
        }
    }
    (hashes.len() > entries.len()).then_some(entries.len() + 1)
}

/// Bytes in hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
