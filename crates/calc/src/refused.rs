//! A request that can't be answered, said in one sentence: which key, what was given, what is allowed, what to do.
//!
//! The words are written once, at the floor that knows the range, and shown unchanged at every edge.

use std::fmt;

use serde::Serialize;

/// A request that can't be answered. `remedy` is the key `do` in JSON (`do` is a reserved word here).
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Refused {
    /// Dotted path of the key that is wrong, as in `rings.0.bore_mm`; empty when the whole request is wrong.
    pub key: String,
    /// What was given, as it was written.
    pub given: String,
    /// What would be allowed.
    pub allowed: String,
    /// What to do about it.
    #[serde(rename = "do")]
    pub remedy: String,
}

impl Refused {
    /// Refuses `key`: what was `given`, what is `allowed`, what to do (`remedy`).
    pub fn new(key: impl Into<String>, given: impl ToString, allowed: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { key: key.into(), given: given.to_string(), allowed: allowed.into(), remedy: remedy.into() }
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let key = if self.key.is_empty() { "the request" } else { &self.key };
        write!(f, "{key} is {}; allowed: {}; {}", self.given, self.allowed, self.remedy)
    }
}

impl std::error::Error for Refused {}
