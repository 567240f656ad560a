//! The server asked as programs and people ask it: without a socket, but for one test that opens one under TLS.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may stop where it fails")]

mod doors;
mod hostile;
mod shop;
mod socket;
mod work;
