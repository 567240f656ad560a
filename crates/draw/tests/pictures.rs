//! The drawings of a sample job, as snapshots and as rules that hold for every drawing: well-formed, inside its frame, words apart.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails like the test")]

use calc::units::System;
use draw::{Drawing, Setting, pictures};
use job::sheet::JobSheet;
use serde_json::json;

/// A winch bush of 240 mm: figures of our own, the survey fitted and the map's edges worked out by an independent program.
fn sample() -> JobSheet {
    serde_json::from_str(include_str!("winch_bush.json")).unwrap()
}

fn every_drawing() -> Vec<(String, Drawing)> {
    let sheet = sample();
    let settings = [
        ("wide", Setting::screen(720.0, System::Metric)),
        ("phone", Setting::screen(360.0, System::Metric)),
        ("inch", Setting::screen(720.0, System::Inch)),
        ("paper", Setting::paper(720.0, 174.0, System::Metric)),
    ];
    let of = |(name, setting): &(&str, Setting)| {
        let drawn = pictures(&sheet.seats[0], setting);
        drawn.into_iter().map(|picture| (format!("{}_{name}", picture.name), picture.drawing)).collect::<Vec<_>>()
    };
    settings.iter().flat_map(of).collect()
}

#[test]
fn the_drawings_of_the_sample() {
    for (name, drawing) in every_drawing() {
        if let Some(folder) = std::env::var_os("DRAWINGS_TO") {
            std::fs::write(std::path::Path::new(&folder).join(format!("{name}.svg")), &drawing.svg).unwrap();
        }
        if name.ends_with("wide") {
            insta::assert_snapshot!(name, drawing.svg);
        }
    }
}

#[test]
fn words_lie_inside_the_frame_and_not_on_each_other() {
    for (name, drawing) in every_drawing() {
        let words = texts(&drawing.svg);
        assert!(!words.is_empty(), "{name} has no words");
        for (index, (text, patch)) in words.iter().enumerate() {
            let [left, top, right, bottom] = *patch;
            assert!(left >= 0.0 && right <= drawing.width && top >= 0.0 && bottom <= drawing.height, "{name}: {text:?} is cut: {patch:?}");
            for (other, [l, t, r, b]) in &words[..index] {
                assert!(left >= *r || *l >= right || top >= *b || *t >= bottom, "{name}: {text:?} lies on {other:?}");
            }
        }
    }
}

#[test]
fn a_drawing_tells_its_figures_without_being_seen() {
    for (name, drawing) in every_drawing() {
        assert!(drawing.svg.contains("<title>") && drawing.description.len() > 40, "{name}: {}", drawing.description);
        assert!(!drawing.table.rows.is_empty(), "{name}");
        assert!(drawing.table.rows.iter().all(|row| row.len() == drawing.table.columns.len()), "{name}");
        assert_eq!(drawing.table.figures.len(), drawing.table.columns.len(), "{name}");
    }
}

#[test]
fn the_same_sheet_gives_the_same_bytes() {
    assert_eq!(every_drawing(), every_drawing());
}

#[test]
fn a_seat_without_answers_has_no_drawings_and_broken_answers_say_so() {
    let sheet = sample();
    let setting = Setting::screen(360.0, System::Metric);
    assert!(pictures(&sheet.seats[1], &setting).is_empty());
    for broken in [
        json!(null),
        json!({}),
        json!([1]),
        json!({"T_C": [], "mean_mm": null, "interference_um": [1]}),
        json!({"T_C": [20, 20], "interference_um": [5, 5]}),
    ] {
        for drawing in [
            draw::hold_map(&broken, &draw::hold_map::Marks::default(), &setting),
            draw::survey(&broken, &broken, &setting),
            draw::contributors(&broken, &broken, "interference_um", &str::to_owned, &setting),
        ] {
            assert!(drawing.svg.contains("Not drawn"), "{}", drawing.svg);
        }
    }
}

#[test]
fn sizes_that_cannot_be_are_told_instead_of_drawn() {
    let sheet = sample();
    let section = sheet.seats[0].section.clone().unwrap();
    let setting = Setting::screen(720.0, System::Metric);
    for spoil in [
        (|section: &mut job::sheet::Section| section.length.mm = f64::NAN) as fn(&mut job::sheet::Section),
        |section| section.housing_outside.mm = 0.0,
        |section| section.bush_bore.mm = 500.0,
        |section| section.clearance_um = f64::INFINITY,
    ] {
        let mut spoiled = section.clone();
        spoil(&mut spoiled);
        assert!(draw::section(&spoiled, &setting).svg.contains("Not drawn"));
    }
}

#[test]
fn odd_sizes_are_drawn_without_a_word_out_of_place() {
    let sheet = sample();
    let section = sheet.seats[0].section.clone().unwrap();
    for (length, outside, bore, clearance) in
        [(12.0, 420.0, 212.235, 0.0), (900.0, 300.0, 232.0, 4000.0), (250.0, 241.0, 239.5, 20.0), (4.0, 5000.0, 12.0, 0.5)]
    {
        for flange in [true, false] {
            for width in [320.0, 360.0, 720.0, 1600.0] {
                let mut odd = section.clone();
                odd.length.mm = length;
                odd.housing_outside.mm = outside;
                odd.bush_bore.mm = bore;
                odd.clearance_um = clearance;
                odd.flange = odd.flange.filter(|_| flange);
                let drawing = draw::section(&odd, &Setting::screen(width, System::Metric));
                for (text, [left, _, right, bottom]) in texts(&drawing.svg) {
                    assert!(
                        left >= 0.0 && right <= drawing.width && bottom <= drawing.height,
                        "{length} {outside} {width}: {text:?} {left} {right}"
                    );
                }
            }
        }
    }
}

#[test]
fn a_slipped_digit_does_not_flatten_the_other_readings() {
    let sheet = sample();
    let survey = sheet.seats[0].stages.iter().flat_map(|stage| &stage.calculations).find(|asked| asked.kind == "survey").unwrap();
    let (mut request, mut answer) = (survey.request.clone(), survey.answer.clone());
    let setting = Setting::screen(720.0, System::Metric);
    let before = draw::survey(&request, &answer, &setting);
    request["readings"][16]["reading_mm"] = json!(265.03);
    answer["suspects"] = json!([{"index": 16, "off_mm": 25.0, "t": 900.0}]);
    let after = draw::survey(&request, &answer, &setting);
    assert!((before.height - after.height).abs() < 40.0);
    assert!(after.svg.contains("again +249"), "the deviation is written out");
}

/// Every text with its left, top, right and bottom, as letters of one width take them.
fn texts(svg: &str) -> Vec<(String, [f64; 4])> {
    let attribute = |tag: &str, name: &str| -> Option<String> {
        let rest = tag.split_once(&format!(" {name}=\""))?.1;
        Some(rest.split_once('"')?.0.to_owned())
    };
    let mut found = Vec::new();
    for part in svg.split("<text").skip(1) {
        let (tag, rest) = part.split_once('>').unwrap();
        let text = rest.split_once("</text>").unwrap().0;
        let plain = text.replace("&lt;", "<").replace("&gt;", ">").replace("&#39;", "'").replace("&quot;", "\"").replace("&amp;", "&");
        let number = |name: &str| attribute(tag, name).unwrap().parse::<f64>().unwrap();
        let (x, y, size) = (number("x"), number("y"), number("font-size"));
        let width = plain.chars().count() as f64 * size * 0.602;
        let left = match attribute(tag, "text-anchor").unwrap().as_str() {
            "middle" => x - width / 2.0,
            "end" => x - width,
            _ => x,
        };
        found.push((plain, [left, y - 0.75 * size, left + width, y + 0.2 * size]));
    }
    found
}

#[test]
fn user_words_stay_words() {
    let mut sheet = sample();
    let section = sheet.seats[0].section.as_mut().unwrap();
    section.alloy = "</text><script>x</script> & \"'".into();
    let drawing = draw::section(section, &Setting::screen(360.0, System::Metric));
    assert!(!drawing.svg.contains("<script>"));
}
