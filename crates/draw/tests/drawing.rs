//! Shop drawings of the five demos and of seats at random: no word covers another, no line runs through a word, no dimension line crosses
//! another, and all of it is inside the frame. The finished SVG is judged, not what the solver believes.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of a test fails like the test")]

use calc::crew::Alone;
use calc::units::System;
use draw::drawing::{Imprint, Paper, shop_drawings};
use job::papers::shop_drawing::{Asked, FormDrawn, GrooveDrawn, HoleDrawn, OfSet, PinsDrawn, ShopDrawing};
use job::sheet::JobSheet;
use proptest::prelude::*;

type Point = (f64, f64);

#[derive(Debug, Clone)]
struct Text {
    says: String,
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
}

impl Text {
    fn meets(&self, other: &Self) -> bool {
        self.left < other.right && other.left < self.right && self.top < other.bottom && other.top < self.bottom
    }

    fn is_cut_by(&self, (a, b): (Point, Point)) -> bool {
        // By halving the line: far from the solver's own way of looking.
        (0..=400).any(|i| {
            let t = f64::from(i) / 400.0;
            let (x, y) = (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t);
            x > self.left && x < self.right && y > self.top && y < self.bottom
        })
    }
}

/// Words and lines as they stand in an SVG.
struct Seen {
    texts: Vec<Text>,
    /// Class and ends.
    lines: Vec<(String, Point, Point)>,
    wide: f64,
    high: f64,
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let start = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    tag[start..].split('"').next()
}

fn number(tag: &str, name: &str) -> f64 {
    attribute(tag, name).unwrap().parse().unwrap()
}

fn see(svg: &str) -> Seen {
    let frame: Vec<f64> = attribute(svg, "viewBox").unwrap().split(' ').map(|x| x.parse().unwrap()).collect();
    let mut seen = Seen { texts: Vec::new(), lines: Vec::new(), wide: frame[2], high: frame[3] };
    for tag in svg.split('<').skip(1) {
        if tag.starts_with("text") {
            let says = tag.split_once('>').unwrap().1.replace("&#39;", "'").replace("&amp;", "&");
            let (x, y, size) = (number(tag, "x"), number(tag, "y"), number(tag, "font-size"));
            let wide = says.chars().count() as f64 * size * 1233.0 / 2048.0;
            let before = match attribute(tag, "text-anchor").unwrap() {
                "start" => 0.0,
                "middle" => wide / 2.0,
                _ => wide,
            };
            // Height of capitals and figures; what hangs under the line is rare and short.
            let (up, down) = (0.73 * size, 0.12 * size);
            seen.texts.push(if tag.contains("rotate(-90") {
                Text { says, left: x - up, right: x + down, bottom: y + before, top: y + before - wide }
            } else {
                Text { says, left: x - before, right: x - before + wide, top: y - up, bottom: y + down }
            });
        } else if tag.starts_with("path") {
            let class = attribute(tag, "class").unwrap().to_owned();
            for stretch in attribute(tag, "d").unwrap().split('M').skip(1) {
                let closed = stretch.ends_with('Z');
                let mut points: Vec<Point> = stretch
                    .trim_end_matches('Z')
                    .split('L')
                    .map(|pair| pair.split_once(' ').map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap())).unwrap())
                    .collect();
                if closed {
                    points.push(points[0]);
                }
                seen.lines.extend(points.windows(2).map(|pair| (class.clone(), pair[0], pair[1])));
            }
        }
    }
    seen
}

fn crosses(a: (Point, Point), b: (Point, Point)) -> bool {
    let side = |p: Point, q: Point, r: Point| (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0);
    side(a.0, a.1, b.0) * side(a.0, a.1, b.1) < -1e-6 && side(b.0, b.1, a.0) * side(b.0, b.1, a.1) < -1e-6
}

/// What is wrong with a drawing; nothing is the answer that is wanted.
fn faults(svg: &str) -> Vec<String> {
    let seen = see(svg);
    let mut faults = Vec::new();
    for (i, a) in seen.texts.iter().enumerate() {
        for b in &seen.texts[i + 1..] {
            if a.meets(b) {
                faults.push(format!("{:?} covers {:?}", a.says, b.says));
            }
        }
        if a.left < 0.0 || a.right > seen.wide || a.top < 0.0 || a.bottom > seen.high {
            faults.push(format!("{:?} leaves the paper", a.says));
        }
        for (class, from, to) in &seen.lines {
            if a.is_cut_by((*from, *to)) {
                faults.push(format!("a line ({class}) runs through {:?}", a.says));
            }
        }
    }
    // Only dimension lines and leaders: short strokes of this class are signs (frames, circles of a symbol, the texture's tick).
    let long = |a: &Point, b: &Point| calc::math::hypot(a.0 - b.0, a.1 - b.1) > 30.0;
    let thin: Vec<_> = seen.lines.iter().filter(|(class, a, b)| class == "thin" && long(a, b)).collect();
    for (i, (_, a, b)) in thin.iter().enumerate() {
        for (_, c, d) in &thin[i + 1..] {
            if crosses((*a, *b), (*c, *d)) {
                faults.push(format!("two thin lines cross: {a:?} to {b:?}, {c:?} to {d:?}"));
            }
        }
    }
    faults
}

const DEMOS: [(&str, &str); 5] = [
    ("aluminium_gearbox", include_str!("../../../demo/aluminium_gearbox.toml")),
    ("crusher_pitman", include_str!("../../../demo/crusher_pitman.toml")),
    ("excavator_link_pin", include_str!("../../../demo/excavator_link_pin.toml")),
    ("ferry_ramp_winch", include_str!("../../../demo/ferry_ramp_winch.toml")),
    ("turbine_guide_vanes", include_str!("../../../demo/turbine_guide_vanes.toml")),
];

fn sheet(text: &str) -> JobSheet {
    let text = text.replace("draws = 200000", "draws = 1000").replace("draws = 20000", "draws = 1000");
    let (_, state) = job::file::open("demo.toml", text.as_bytes()).unwrap();
    job::stages::sheet(&state, job::stages::Wanted::default(), &Alone)
}

fn imprint() -> Imprint {
    Imprint {
        issuer: "East quay repairs".into(),
        number: "W-2611 inboard".into(),
        title: "Ramp winch, drum pedestal, both bushes of the shaft".into(),
        revision: "f64296ce".into(),
        by: "Runa".into(),
        signed: "Runa, made, 2026-11-18".into(),
        date: "2026-11-18".into(),
        head: "f64296ce37185ad1b0f64296ce37185ad1b0f64296ce37185ad1b0f64296ce37".into(),
    }
}

fn papers(system: System) -> [Paper; 2] {
    if system == System::Inch { [Paper::Letter, Paper::Tabloid] } else { [Paper::A4, Paper::A3] }
}

#[test]
fn the_demos_have_drawings_on_which_nothing_overlaps() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("shop_drawings");
    std::fs::create_dir_all(&folder).unwrap();
    let mut all = Vec::new();
    for (demo, text) in DEMOS {
        let sheet = sheet(text);
        let system = draw::system(&sheet);
        for seat in sheet.seats.iter().take(3) {
            let part = seat.drawing.as_ref().unwrap();
            for paper in papers(system) {
                for (name, drawing) in shop_drawings(part, &imprint(), paper, system) {
                    std::fs::write(folder.join(format!("{demo}_{}_{name}_{paper:?}.svg", seat.name)), &drawing.svg).unwrap();
                    assert!(!drawing.svg.contains("Not drawn"), "{demo} {name} {paper:?}: {}", drawing.description);
                    let faults = faults(&drawing.svg);
                    if !faults.is_empty() {
                        all.push(format!("{demo} {} {name} {paper:?}: {faults:#?}", seat.name));
                    }
                }
            }
        }
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}

fn asked(mm: f64, text: &str) -> Asked {
    Asked { mm, lines: vec![text.into()], of: "size".into() }
}

prop_compose! {
    fn sizes()(
        outside in 12.0..900.0_f64,
        wall in 0.06..0.3_f64,
        long in 0.25..1.9_f64,
        flange in prop::option::of((1.08..1.5_f64, 0.06..0.25_f64)),
        groove in 0..5_u8,
        at in 0.2..0.8_f64,
        hole in prop::option::of((0.15..0.85_f64, -180.0..360.0_f64, 0.03..0.08_f64)),
    ) -> (f64, f64, f64, Option<(f64, f64)>, u8, f64, Option<(f64, f64, f64)>) {
        (outside, wall, long, flange, groove, at, hole)
    }
}

prop_compose! {
    fn seats()(
        (outside, wall, long, flange, groove, at, hole) in sizes(),
        load in prop::option::of(-180.0..360.0_f64),
        starts in prop::collection::vec(0.0..360.0_f64, 1..3),
        (handed, datum_leads, pins, finish_later, inch, large) in (any::<bool>(), any::<bool>(), 0..4_usize, any::<bool>(), any::<bool>(), any::<bool>()),
        housing in 1.15..3.0_f64,
    ) -> (ShopDrawing, System, Paper) {
        let bore = outside * (1.0 - 2.0 * wall);
        let length = outside * long;
        let system = if inch { System::Inch } else { System::Metric };
        let shown = |mm: f64| calc::units::shown_plain_length(mm, 3, system);
        let plain = |mm: f64| asked(mm, &format!("{} ± 0.3", calc::units::shown_plain_length(mm, 1, system)));
        let limits = |mm: f64| Asked { mm, lines: vec![shown(mm + 0.015), shown(mm - 0.015)], of: "size".into() };
        let flange = flange.map(|(across, thick)| (plain(outside * across), plain(length * thick)));
        let width = (0.05 * length).min(12.0);
        let path = |turns: f64, swing: bool| (0..=24).map(|i| {
            let t = f64::from(i) / 24.0;
            let z = if swing { length * (0.5 + 0.4 * calc::math::sin(t * std::f64::consts::TAU)) } else { length * (0.1 + 0.8 * t) };
            (z, starts[0] + 360.0 * turns * t)
        }).collect::<Vec<_>>();
        let groove = (groove > 0).then(|| GrooveDrawn {
            text: "two-loop groove 7.5 × 3.0 deep".into(),
            width_mm: width,
            depth_mm: outside * wall / 3.0,
            middle: (groove == 1).then(|| plain(length * at)),
            starts_deg: if groove == 1 { Vec::new() } else { starts.clone() },
            path: match groove { 2 => path(0.0, false), 3 => path(1.0, false), 4 => path(2.0, true), _ => Vec::new() },
        });
        let hole = hole.map(|(place, angle, across)| HoleDrawn {
            across: asked(outside * across, "⌀ 10 through"),
            from_datum: plain(length * place),
            angle_deg: angle,
            text: format!("hole at {angle:.0}°"),
        });
        let part = ShopDrawing {
            shop: "shop".into(), machine: "machine".into(), of_set: OfSet { place: 1, count: 2 }, handed,
            outside: limits(outside), outside_band_mm: None, finished_band_mm: None,
            bore: limits(bore),
            finished_bore: finish_later.then(|| limits(bore * 1.004)),
            length: plain(length), flange,
            lead: asked(0.02 * outside, "5 × 12°"),
            datum_leads, chamfer: asked(1.0, "1 × 45°"), groove, hole,
            form: FormDrawn { outside_cylindricity: "0.012".into(), outside_roundness: "0.006".into(), bore_coaxiality: "0.1".into(), bore_cylindricity: "0.02".into(), flange_run_out: Some("0.025".into()) },
            outside_finish: "Rz 6".into(), bore_finish: "Rz 3".into(),
            housing_bore: asked(outside, &format!("{} ± 0.0059", shown(outside))),
            housing_outside_mm: outside * housing,
            housing_length: plain(length),
            housing_finish: "Rz 6".into(),
            journal: asked(bore, &format!("{} ± 0.0055", shown(bore))),
            load_deg: load,
            pins: (pins > 0).then(|| PinsDrawn { text: "2 × pin ⌀ 20 × 80 on the joint line".into(), across_mm: 0.06 * outside, length_mm: 0.3 * length, angles_deg: [45.0, 310.0, 200.0][..pins].to_vec() }),
            alloy: "CC492K (CuSn7Zn2Pb3-C)".into(), metal: "GE240".into(),
            bush_notes: vec!["A warm bush reads larger: use the lathe sheet's table, and measure with the chuck stopped.".into(); 6],
            seat_notes: vec!["Cautions of the job sheet first: presses, cold and hot parts hurt.".into(); 6],
        };
        let paper = papers(system)[usize::from(large)];
        (part, system, paper)
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]
    #[test]
    fn a_seat_at_random_has_drawings_on_which_nothing_overlaps((part, system, paper) in seats()) {
        for (name, drawing) in shop_drawings(&part, &imprint(), paper, system) {
            prop_assert!(!drawing.svg.contains("Not drawn"), "{name}: {}", drawing.description);
            let faults = faults(&drawing.svg);
            prop_assert!(faults.is_empty(), "{name} {paper:?}: {faults:#?}");
        }
    }
}

#[test]
fn the_check_finds_words_on_words_lines_through_words_and_crossing_lines() {
    let sheet = sheet(DEMOS[3].1);
    let part = sheet.seats[0].drawing.as_ref().unwrap();
    let (_, drawing) = shop_drawings(part, &imprint(), Paper::A4, draw::system(&sheet)).remove(0);
    assert!(faults(&drawing.svg).is_empty());
    let with = |more: &str| faults(&drawing.svg.replace("</svg>", &format!("{more}</svg>")));
    let seen = see(&drawing.svg);
    let word = seen.texts.iter().find(|text| text.says.contains("180")).unwrap();
    let (x, y) = ((word.left + word.right) / 2.0, (word.top + word.bottom) / 2.0);
    let text = |x: f64, y: f64| format!("<text class=\"t\" x=\"{x:.2}\" y=\"{y:.2}\" font-size=\"12\" text-anchor=\"middle\">99</text>");
    let line = |class: &str, a: Point, b: Point| format!("<path class=\"{class}\" d=\"M{:.2} {:.2}L{:.2} {:.2}\"/>", a.0, a.1, b.0, b.1);
    let (_, from, to) = seen.lines.iter().find(|(class, a, b)| class == "thin" && (a.0 - b.0).abs() > 100.0).unwrap();
    let middle = (from.0 + (to.0 - from.0) / 3.0, from.1);
    for (more, words) in [
        (text(x, y + 4.0), "covers"),
        (text(-30.0, 50.0), "leaves the paper"),
        (line("rule", (x, y - 20.0), (x, y + 20.0)), "runs through"),
        (line("thin", (middle.0, middle.1 - 40.0), (middle.0, middle.1 + 40.0)), "two thin lines cross"),
    ] {
        let found = with(&more);
        assert!(found.iter().any(|fault| fault.contains(words)), "{more}: {found:?}");
    }
}
