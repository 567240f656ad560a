//! Any text as what a person types into a field: the first byte names the fact, the others are the text. Read or refused, never a panic; and
//! what was read may stand in the record.
#![no_main]

use job::facts::FACTS;
use job::lathe::log;
use job::state::Units;
use job::typed;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Some((first, rest)) = bytes.split_first() else { return };
    let _ = log::read("fuzzed", rest, None);
    let Ok(text) = std::str::from_utf8(rest) else { return };
    let fact = &FACTS[usize::from(*first) % FACTS.len()];
    for units in [Units::Mm, Units::Inch] {
        for refused in [
            typed::given(fact.path, text, units).err(),
            typed::size(text, units).err(),
            typed::station(text, units).err(),
            typed::angle(text).err(),
            typed::temperature(text, units).err(),
        ]
        .into_iter()
        .flatten()
        {
            assert!(!refused.to_string().is_empty());
        }
        if let Ok(size) = typed::size(text, units) {
            assert!(size.is_finite() && size > 0.0, "{text:?} was read as {size}");
        }
    }
});
