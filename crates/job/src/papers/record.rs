//! What a paper stands for in the record: the head of the job's chain, which revision that is, who signed what; and the
//! code that is held against it.

use calc::Refused;

use crate::chain;
use crate::entry::Entry;
use crate::fold;
use crate::stages::signature_line;
use crate::state::State;

/// Letters of a head that name a revision.
const REVISION: usize = 8;

/// The state of the record that a paper is made from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Record {
    /// Head of the chain, hexadecimal.
    pub head: String,
    /// Its revision: the number of entries and the first letters of the head.
    pub revision: String,
    /// Signatures, each as it stands on paper.
    pub signatures: Vec<String>,
}

impl Record {
    /// The record of a job: a job file and the ledger that took it in have the same head.
    pub fn of(state: &State) -> Self {
        Self {
            head: state.head.clone(),
            revision: format!("{}-{}", state.chain.len(), state.head.get(..REVISION).unwrap_or(&state.head)),
            signatures: state.signatures.iter().map(signature_line).collect(),
        }
    }

    /// What a code on paper holds, to be held against the record: `bushwright head HASH JOB`.
    pub fn code(&self, job: &str) -> String {
        format!("{CODE}{} {job}", self.head)
    }
}

/// What a code on paper says: a head, and the job that it is of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coded {
    /// The job's number.
    pub job: String,
    /// The head, hexadecimal in small letters.
    pub head: String,
}

/// How every code begins.
const CODE: &str = "bushwright head ";

/// Reads what a camera read from a code.
pub fn coded(text: &str) -> Result<Coded, Refused> {
    let rest = text.trim().strip_prefix(CODE);
    let parts = rest.and_then(|rest| rest.split_once(' ')).map(|(head, job)| (head.to_lowercase(), job.trim().to_owned()));
    match parts {
        Some((head, job)) if crate::kept::hash_of(&head).is_some() && !job.is_empty() => Ok(Coded { job, head }),
        _ => {
            let shown: String = text.chars().take(120).collect();
            let allowed = format!("{CODE}HASH JOB, the hash in 64 hexadecimal digits");
            Err(Refused::new("the code", format!("{shown:?}"), allowed, "give it as the camera read it, between quotes"))
        }
    }
}

/// The most recent state of a job's record that has the head `wanted`: how many of its entries, in the order in which they arrived.
///
/// None when no state of the record ever had it. Entries that arrive late may stand before others in the chain, so each state is
/// chained for itself, the newest first.
pub fn state_with(entries: &[Entry], wanted: &str) -> Option<usize> {
    (0..=entries.len()).rev().find(|count| entries.get(..*count).is_some_and(|so_far| chain::head(&fold::ordered(so_far)) == wanted))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_reads_back_and_what_is_none_is_refused_in_a_sentence() {
        let record = Record { head: "0f".repeat(32), ..Record::default() };
        let read = coded(&format!(" {}\n", record.code("W 26/11"))).unwrap();
        assert_eq!((read.job.as_str(), read.head.as_str()), ("W 26/11", record.head.as_str()));
        for bad in ["", "bushwright head", "bushwright head 12 W", "head 0f W", &format!("bushwright head {} ", "0f".repeat(32))] {
            assert!(coded(bad).unwrap_err().to_string().contains("allowed: bushwright head HASH JOB"), "{bad}");
        }
    }

    #[test]
    fn an_earlier_state_of_a_record_is_found_and_one_that_never_was_is_not() {
        let (entries, state) = crate::file::open("winch.toml", include_bytes!("../../tests/winch.toml")).unwrap();
        assert_eq!(state_with(&entries, &state.head), Some(entries.len()));
        let early = fold::fold(&entries[..9]).head;
        assert_eq!(state_with(&entries, &early), Some(9));
        let mut changed = entries.clone();
        changed[4].who.push('.');
        assert_eq!(state_with(&changed, &state.head), None);
        assert_eq!(state_with(&changed, &early), None);
    }
}
