//! Any bytes as what a device sends: read or refused; what was read is checked, chained and folded.
#![no_main]

use job::sync::Ask;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Ok(ask) = Ask::read(bytes) else { return };
    let fit: Vec<_> = ask.offers.into_iter().filter(|entry| entry.checked().is_ok()).collect();
    for entry in &fit {
        let canonical = job::chain::canonical(entry);
        let again: job::entry::Entry = serde_json::from_str(&canonical).expect("a canonical form is read back");
        assert_eq!(job::chain::canonical(&again), canonical);
    }
    let _ = job::fold(&fit);
    let _ = job::fold::registers(&fit);
});
