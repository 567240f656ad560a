//! How long the papers of a job take: `cargo bench -p paper`.
//!
//! `certificate`: of as many seats as the argument says, from the worked-through sheet to the bytes of the PDF. `drawings`: the two sheets of
//! a seat, placed and set. The first run in a process also reads the fonts.
#![allow(clippy::unwrap_used, reason = "a bench that can't run should say so and stop")]

use calc::crew::Alone;
use draw::drawing::{Imprint, Paper, shop_drawings};
use job::papers::certificate::certificate;
use job::papers::record::Record;
use job::sheet::JobSheet;
use job::state::State;

fn main() {
    divan::main();
}

fn link(seats: u32) -> (State, JobSheet) {
    let text = include_str!("../../../demo/excavator_link_pin.toml").replace("draws = 200000", "draws = 1000");
    let text =
        text.replace("[seat.\"lower link\"]\nbrief = \"link\"", &format!("[seat.\"lower link\"]\nbrief = \"link\"\ncount = {seats}"));
    let (_, state) = job::file::open("link.toml", text.as_bytes()).unwrap();
    let sheet = job::stages::sheet(&state, job::stages::Wanted::default(), &Alone);
    (state, sheet)
}

#[divan::bench(args = [1, 24, 60])]
fn certificate_of(bencher: divan::Bencher, seats: u32) {
    let (state, sheet) = link(seats);
    let record = Record::of(&state);
    bencher.bench(|| paper::document(&certificate(&state, &sheet, &record), paper::Size::Letter).unwrap().len());
}

#[divan::bench]
fn drawings_of_a_seat(bencher: divan::Bencher) {
    let (_, sheet) = link(1);
    let part = sheet.seats[0].drawing.clone().unwrap();
    let system = draw::system(&sheet);
    bencher.bench(|| {
        let drawn = shop_drawings(&part, &Imprint::default(), Paper::Letter, system);
        let pages: Vec<_> = drawn.into_iter().map(|(_, drawing)| (drawing, Paper::Letter.mm())).collect();
        paper::sheets("link", &[], "2026-11-09", "", &pages).unwrap().len()
    });
}
