//! Predicted against measured: each seat a dot with the 95 % bars of both, and the line on which they would be the same.
//!
//! Figures are those of `job::past`.

use calc::looked_back::Pair;
use calc::shown::{self, half_width_95};

use job::past::Point;
use job::sheet::Grid;

use crate::cooldown::bar;
use crate::frame::{Frame, key_stroke};
use crate::pen::{Held, Letters, Patch, Pen, Stroke, Tint};
use crate::place::{paragraph, refused};
use crate::{Drawing, Setting};

/// Draws the points of one kind under a title.
pub fn predicted(title: &str, points: &[Point], setting: &Setting) -> Drawing {
    match chart(title, points, setting) {
        Some(drawing) => drawing,
        None => refused(setting.width(), title, "No seat has both a prediction and a measured size yet."),
    }
}

/// Ends of the bars of a pair across and upwards, in the unit of the drawing.
fn ends(pair: &Pair, setting: &Setting) -> [(f64, f64); 2] {
    let small = |um: f64| shown::fine_figure(um, setting.system);
    [pair.predicted, pair.measured].map(|one| (small(one.value - half_width_95(&one)), small(one.value + half_width_95(&one))))
}

fn chart(title: &str, points: &[Point], setting: &Setting) -> Option<Drawing> {
    let small = |um: f64| shown::fine_figure(um, setting.system);
    let pairs: Vec<Pair> = points.iter().map(Point::pair).collect();
    let all = pairs.iter().flat_map(|pair| ends(pair, setting)).flat_map(|(low, high)| [low, high]);
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
    if low > high {
        return None;
    }
    let span = calc::band::frame(low, high, 0.08, 1e-3);
    let height = if setting.narrow() { 260.0 } else { 320.0 };
    let frame = Frame::new(setting.width(), span, span, (40.0, height))?;
    let (mut pen, mut room) = (Pen::new(), frame.room());
    let unit = shown::fine_unit(setting.system);
    frame.draw(&mut pen, &format!("predicted, {unit}"), &format!("measured, {unit}"));
    frame.curve(&mut pen, &mut room, &[(span.0, span.0), (span.1, span.1)], Stroke::Dashed);
    for (number, pair) in (1..).zip(&pairs) {
        let [across, up] = ends(pair, setting);
        let (x, y) = (frame.x(small(pair.predicted.value)), frame.y(small(pair.measured.value)));
        let stroke = if pair.agrees() { Stroke::Thin } else { Stroke::Needs };
        bar(&mut pen, (frame.x(across.0), y), (frame.x(across.1), y), stroke);
        bar(&mut pen, (x, frame.y(up.1)), (x, frame.y(up.0)), stroke);
        pen.dot((x, y), 3.4, Tint::Ink);
        room.take(Patch { left: x - 5.0, right: x + 5.0, top: y - 5.0, bottom: y + 5.0 });
        let near = [(8.0, -7.0, Held::Left), (-8.0, -7.0, Held::Right), (8.0, 16.0, Held::Left), (-8.0, 16.0, Held::Right)];
        let spots: Vec<_> = near.into_iter().map(|(dx, dy, held)| (x + dx, y + dy, held)).collect();
        room.write(&mut pen, &spots, Letters::Small, &number.to_string());
    }
    let width = setting.width();
    let mut y = frame.plot.bottom + 58.0;
    y = key_stroke(&mut pen, y, width, Stroke::Dashed, "measured as predicted");
    bar(&mut pen, (26.0, y - 10.0), (26.0, y + 2.0), Stroke::Thin);
    y = paragraph(&mut pen, 50.0, y, width - 62.0, Letters::Small, "a seat with its 95 % intervals; its number is that of the table") + 3.0;
    if pairs.iter().any(|pair| !pair.agrees()) {
        y = key_stroke(&mut pen, y, width, Stroke::Needs, "further apart than their doubts explain");
    }
    Some(pen.finish(width, y, title, &description(&pairs), table(title, points, &pairs, setting)))
}

fn description(pairs: &[Pair]) -> String {
    let apart: Vec<String> = (1..).zip(pairs).filter(|(_, pair)| !pair.agrees()).map(|(number, _): (u32, _)| number.to_string()).collect();
    let seats = if pairs.len() == 1 {
        "1 seat, predicted and measured".to_owned()
    } else {
        format!("{} seats, predicted against measured", pairs.len())
    };
    match apart.as_slice() {
        [] => format!("{seats}. All agree within their doubts."),
        apart => format!("{seats}. Further apart than their doubts explain: number {}.", apart.join(", ")),
    }
}

fn table(title: &str, points: &[Point], pairs: &[Pair], setting: &Setting) -> Grid {
    let row = |(number, (point, pair)): (u32, (&Point, &Pair))| {
        let fine = |quantity| shown::fine_quantity(quantity, setting.system);
        vec![
            number.to_string(),
            format!("{} {}", point.job, point.seat),
            fine(&pair.predicted),
            fine(&pair.measured),
            if pair.agrees() { "agree" } else { "apart" }.to_owned(),
        ]
    };
    Grid {
        title: format!("{title}, seat by seat"),
        columns: ["no", "seat", "predicted", "measured", "verdict"].map(str::to_owned).into(),
        figures: vec![true, false, true, true, false],
        rows: (1..).zip(points.iter().zip(pairs)).map(row).collect(),
    }
}
