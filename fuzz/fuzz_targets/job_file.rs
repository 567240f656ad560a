//! Any bytes as a job file: read or refused in a sentence, never a panic; what was read folds.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Ok((entries, state)) = job::open("fuzzed", bytes) {
        for entry in &entries {
            assert!(entry.checked().is_ok(), "a file gave an entry that can't stand: {entry:?}");
        }
        let _ = job::check::missing(&state);
    }
});
