//! What a paper stands for in the record: the head of the job's chain, which revision that is, who signed what, what was corrected since.

use crate::stages::signature_line;
use crate::state::State;

/// Letters of a head that name a revision.
const REVISION: usize = 8;

/// The state of the record that a paper is made from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Record {
    /// Head of the chain, hexadecimal.
    pub head: String,
    /// Its revision: the number of its last entry where a ledger keeps it, else the first letters of the head.
    pub revision: String,
    /// Signatures, each as it stands on paper.
    pub signatures: Vec<String>,
    /// Entries that a signature answers for and that were written after one: the papers then say so.
    pub reopened: bool,
}

impl Record {
    /// The record of a job file: its own chain.
    pub fn of_file(state: &State) -> Self {
        Self {
            head: state.head.clone(),
            revision: state.head.get(..REVISION).unwrap_or(&state.head).to_owned(),
            signatures: state.signatures.iter().map(signature_line).collect(),
            reopened: state.signatures.iter().any(|signed| signed.reopened),
        }
    }

    /// What a code on paper holds, to be held against the record: `bushwright head JOB HASH`.
    pub fn code(&self, job: &str) -> String {
        format!("bushwright head {job} {}", self.head)
    }
}
