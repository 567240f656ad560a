//! The server asked as programs and people ask it: without a socket, but for one test that opens one under TLS.

mod doors;
mod hostile;
mod shop;
mod socket;
mod work;
