//! A demo with some of its facts changed to anything that may stand there: its sheet, pictures, drawings and papers are made, or say what
//! they lack; never a panic. The first byte names the demo, then four bytes a change: the fact, and what is to stand there.
#![no_main]

use std::sync::OnceLock;

use calc::alloy::table::{alloys, metals};
use calc::crew::Alone;
use job::entry::{Entry, Scope, What};
use job::facts::{FACTS, Fact, Stands};
use job::papers::record::Record;
use job::papers::{certificate, lathe_sheet, quote, results};
use job::state::Given;

const DEMOS: [&[u8]; 3] = [
    include_bytes!("../../demo/excavator_link_pin.toml"),
    include_bytes!("../../demo/aluminium_gearbox.toml"),
    include_bytes!("../../demo/crusher_pitman.toml"),
];
/// More changes than these bring nothing new and take long.
const MOST: usize = 12;

fn demos() -> &'static [Vec<Entry>] {
    static DEMO: OnceLock<Vec<Vec<Entry>>> = OnceLock::new();
    DEMO.get_or_init(|| DEMOS.iter().map(|bytes| job::open("fuzzed", bytes).expect("a demo opens").0).collect())
}

/// What stands at `fact` for the bytes `place` and `share`.
fn given(fact: &Fact, place: u8, share: u8) -> Given {
    let part = f64::from(u16::from_be_bytes([place, share])) / 65535.0;
    let nth = |count: usize| usize::from(place) % count.max(1);
    match fact.stands {
        Stands::Figure(_, range, likely) => {
            let (low, high) = likely.filter(|_| share % 4 != 0).unwrap_or((range.low, range.high));
            let value = if low > 0.0 && high.is_finite() { low * (high / low).powf(part) } else { low + (high - low) * part };
            Given::Figure { value, u: 0.0 }
        }
        Stands::Word(words) => Given::Text(words[nth(words.len())].into()),
        Stands::Flag => Given::Flag(place % 2 == 0),
        Stands::Alloy => Given::Text(alloys()[nth(alloys().len())].id.into()),
        Stands::Metal => Given::Text(metals()[nth(metals().len())].id.into()),
        Stands::Text | Stands::Gauge => Given::Text(["2026-03-02", "mic", "a", "groove"][nth(4)].into()),
    }
}

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Some((first, rest)) = bytes.split_first() else { return };
    let mut entries = demos()[usize::from(*first) % DEMOS.len()].clone();
    let Some(last) = entries.last().cloned() else { return };
    let brief = entries.iter().map(|entry| entry.seat.clone()).find(|scope| *scope != Scope::Job).unwrap_or(Scope::Job);
    for (index, change) in rest.chunks_exact(4).take(MOST).enumerate() {
        let fact = &FACTS[usize::from(u16::from_be_bytes([change[0], change[1]])) % FACTS.len()];
        let mut entry = last.clone();
        entry.id = job::entry::EntryId::of_file("2026-11-01", &index.to_string(), fact.path);
        entry.seat = brief.clone();
        entry.what = What::Fact { about: fact.path.replace("NAME", "blank 1"), value: given(fact, change[2], change[3]) };
        if entry.checked().is_ok() {
            entries.push(entry);
        }
    }
    let state = job::fold(&entries);
    let sheet = job::stages::sheet(&state, job::stages::Wanted { with_working: true }, &Alone);
    let record = Record::of_file(&state);
    let _ = certificate::certificate(&state, &sheet, &record);
    let _ = results::as_csv(&state, &sheet);
    for seat in &sheet.seats {
        let _ = draw::drawings(seat, &sheet);
        let _ = lathe_sheet::lathe_sheet(&sheet, seat, &record);
        let _ = quote::quote(&state, &sheet, seat, &record, &Alone);
        if let Some(part) = &seat.drawing {
            let imprint = draw::drawing::Imprint::default();
            let _ = draw::drawing::shop_drawings(part, &imprint, draw::drawing::Paper::A4, draw::system(&sheet));
        }
    }
});
