//! The demo files are read, folded and lack nothing that is needed before a bush is turned.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use job::sheet::Stage;

#[test]
fn every_demo_is_read_and_lacks_nothing_up_to_the_band() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo");
    let mut count = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let entries =
            job::file::read(&path.display().to_string(), &std::fs::read(&path).unwrap()).unwrap_or_else(|fault| panic!("{fault}"));
        let state = job::fold::fold(&entries);
        assert!(state.notes.is_empty(), "{path:?}: {:?}", state.notes);
        for missing in job::check::missing(&state) {
            let waits = |lacks: &[job::check::Lack]| lacks.iter().any(|lack| lack.meanwhile.is_empty());
            let early: Vec<_> =
                missing.stages.iter().filter(|(stage, lacks)| (*stage < Stage::Seat || *stage == Stage::Bore) && waits(lacks)).collect();
            assert!(early.is_empty(), "{path:?}: {early:?}");
        }
        count += 1;
    }
    assert_eq!(count, 5);
}

#[test]
fn every_requirement_of_a_demo_stands_in_its_results_with_its_limits() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo");
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let (_, state) = job::open(&path.display().to_string(), &std::fs::read(&path).unwrap()).unwrap_or_else(|fault| panic!("{fault}"));
        let sheet = job::stages::sheet(&state, job::stages::Wanted::default(), &calc::crew::Alone);
        let measured = job::papers::results::measured(&state, &sheet);
        for seat in &state.seats {
            let of: Vec<_> = measured.iter().filter(|of| of.seat == seat.name && !of.verdict.is_empty()).collect();
            assert_eq!(of.len(), 2, "{path:?}: {of:?}");
            assert!(of.iter().all(|of| of.limits.is_some_and(|(low, high)| low < high)), "{path:?}: {of:?}");
        }
    }
}
