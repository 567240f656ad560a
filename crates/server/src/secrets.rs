//! What must not be guessed or read back: draws of the system, passwords as argon2id, tokens as their hash.

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use calc::Refused;
use sha2::{Digest, Sha256};
use tokio::sync::Semaphore;

use crate::refusal::Refusal;

/// Shortest password, letters. Source: NIST SP 800-63B-4, 3.1.1.2 asks for 15 where it is the only factor, 8 at the least; from memory.
const FEWEST: usize = 10;
/// Longest, letters.
const MOST: usize = 200;
/// Passwords that are worked on at once: each takes 19 MiB and a core.
static AT_ONCE: Semaphore = Semaphore::const_new(2);
/// A hash that no password has: who does not exist takes as long as who does.
const NOBODY: &str = "$argon2id$v=19$m=19456,t=2,p=1$YnVzaHdyaWdodC1ub2JvZHk$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

/// Bytes that nobody can foretell, in hexadecimal.
pub(crate) fn drawn(bytes: usize) -> Result<String, Refusal> {
    let mut draw = vec![0; bytes];
    getrandom::fill(&mut draw).map_err(|_| Refusal::fault("the system gave no random bytes"))?;
    Ok(hex(&draw))
}

/// A code that a person types from a terminal: four groups of four letters that look like no others, 80 bits.
pub(crate) fn code() -> Result<String, Refusal> {
    const LETTERS: &[u8; 32] = b"abcdefghjkmnpqrstuvwxyz023456789";
    let mut draw = [0_u8; 16];
    getrandom::fill(&mut draw).map_err(|_| Refusal::fault("the system gave no random bytes"))?;
    let letters: String = draw.iter().map(|byte| char::from(LETTERS[usize::from(byte % 32)])).collect();
    Ok([&letters[0..4], &letters[4..8], &letters[8..12], &letters[12..16]].join("-"))
}

/// The name under which a token is kept: who reads the store can't sign in with it.
pub(crate) fn name_of(token: &str) -> String {
    hex(&Sha256::digest(token))
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Bytes of a hexadecimal text.
pub(crate) fn from_hex(text: &str) -> Option<Vec<u8>> {
    if !text.len().is_multiple_of(2) || !text.is_ascii() {
        return None;
    }
    (0..text.len() / 2).map(|i| u8::from_str_radix(text.get(2 * i..2 * i + 2)?, 16).ok()).collect()
}

/// Refuses a password that is too short to be one.
pub(crate) fn long_enough(password: &str) -> Result<(), Refused> {
    let letters = password.chars().count();
    if (FEWEST..=MOST).contains(&letters) {
        return Ok(());
    }
    // What was given is a password: it is counted, never said.
    Err(Refused::new("password", format!("{letters} letters long"), format!("{FEWEST} to {MOST} letters"), "take some words in a row"))
}

/// The password as it is kept.
///
/// Source: RFC 9106 (argon2id); 19 MiB, two passes, one lane: OWASP Password Storage Cheat Sheet, from memory.
pub(crate) async fn kept(password: String) -> Result<String, Refusal> {
    long_enough(&password)?;
    let _one_of = AT_ONCE.acquire().await.map_err(|_| Refusal::busy())?;
    tokio::task::spawn_blocking(move || Argon2::default().hash_password(password.as_bytes()).map(|hash| hash.to_string()))
        .await
        .ok()
        .and_then(Result::ok)
        .ok_or_else(|| Refusal::fault("the password could not be kept"))
}

/// Whether it is that password. `None` stands for who does not exist and takes as long.
pub(crate) async fn is(password: String, kept: Option<String>) -> Result<bool, Refusal> {
    let _one_of = AT_ONCE.acquire().await.map_err(|_| Refusal::busy())?;
    let there = kept.is_some();
    let kept = kept.unwrap_or_else(|| NOBODY.to_owned());
    let matches = tokio::task::spawn_blocking(move || {
        PasswordHash::new(&kept).is_ok_and(|kept| Argon2::default().verify_password(password.as_bytes(), &kept).is_ok())
    });
    Ok(matches.await.unwrap_or(false) && there)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_password_is_known_again_and_another_is_not() {
        let hash = kept("brass and tallow".into()).await.unwrap();
        assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
        assert!(is("brass and tallow".into(), Some(hash.clone())).await.unwrap());
        assert!(!is("brass and tallov".into(), Some(hash)).await.unwrap());
        assert!(!is("brass and tallow".into(), None).await.unwrap());
        assert!(PasswordHash::new(NOBODY).is_ok());
        assert!(kept("short".into()).await.is_err());
    }

    #[test]
    fn hexadecimal_is_read_back() {
        assert_eq!(from_hex(&hex(&[0, 15, 255])), Some(vec![0, 15, 255]));
        for text in ["0", "0g", "é1"] {
            assert_eq!(from_hex(text), None, "{text}");
        }
        assert_eq!(code().unwrap().len(), 19);
    }
}
