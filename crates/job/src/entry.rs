//! Entries: what a person adds to a job. Kept for good: a mistake is answered, never edited.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// The name of an entry, made where it was written (UUIDv7, so names sort by time).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct EntryId(pub Uuid);
