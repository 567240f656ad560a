//! Any bytes as a request for a calculation: the first names the kind, the others are the JSON.
#![no_main]

use calc::compute::{KINDS, answer, read};
use calc::crew::Alone;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Some((first, rest)) = bytes.split_first() else { return };
    let kind = &KINDS[usize::from(*first) % KINDS.len()];
    let Ok(text) = std::str::from_utf8(rest) else { return };
    if let Ok(request) = read(text) {
        let _ = answer(kind.name, &request, &Alone, true);
    }
});
