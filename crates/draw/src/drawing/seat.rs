//! The seat with the bush in it: the bore as it was measured, the bore to finish to, what holds the bush, where the load comes from.

use job::papers::shop_drawing::{Asked, ShopDrawing};

use super::Style;
use super::bush::{Body, along, both_ways, diameter, end_notes, length, note, on_metal};
use super::callouts::Way;
use super::marks::{Block, Piece, Symbol};
use super::views::{At, Cut, Diameter, Seen, Views, at_angle};
use crate::hatch::Lean;
use crate::pen::Stroke;

/// So much of the housing about its bore is drawn, as a share of the bore; the rest is broken off.
const SHOWN: f64 = 1.22;

/// What is drawn, or why it can't be, in a sentence.
pub(crate) fn views(part: &ShopDrawing, _: &Style) -> Result<Views, String> {
    let fitted = ShopDrawing { bore: part.finished_bore.clone().unwrap_or_else(|| part.bore.clone()), ..part.clone() };
    let body = Body::of(&fitted)?;
    let start = body.flange.map_or(0.0, |(_, thickness)| thickness);
    let end = start + part.housing_length.mm;
    if !(part.housing_length.mm.is_finite() && part.housing_length.mm > 0.0 && part.housing_length.mm < 1e5) {
        return Err(format!("The {} is {} mm; it must be over 0 and under 100 000.", part.housing_length.of, part.housing_length.mm));
    }
    let whole = part.housing_outside_mm / 2.0;
    let shown = whole.min(body.outer * SHOWN).max(body.outer * 1.05);
    let broken = shown < whole;
    let mut cuts: Vec<Cut> = [true, false].into_iter().flat_map(|up| body.half(&fitted, up)).collect();
    cuts.extend([1.0, -1.0].map(|sign| {
        let outline = vec![(start, sign * body.outer), (start, sign * shown), (end, sign * shown), (end, sign * body.outer)];
        let pitch = crate::section::pitch(&part.metal);
        let solid = vec![((start, sign * body.outer), (end, sign * shown))];
        Cut { outline, hatch: (Lean::Rising, pitch + 1.5), solid, broken: broken.then_some(1) }
    }));
    let tall = 2.0 * shown.max(body.flange.map_or(0.0, |(radius, _)| radius));
    let mut views = Views {
        title: "seat, with the bush in it",
        material: format!("{} / {}", part.metal, part.alloy),
        along: (0.0, body.length.max(end)),
        tall,
        handed: part.handed,
        cuts,
        edges: body.edges(&fitted),
        lengths: vec![length((start, -shown), (end, -shown), &part.housing_length)],
        diameters: diameters(&fitted, &body, end),
        notes: Vec::new(),
        end_view: body.end_view(&fitted),
        end_across: 2.0 * shown.max(body.outer),
    };
    if let Some(hole) = &part.hole {
        let mut from_datum = hole.from_datum.clone();
        from_datum.of = "middle of the hole from the datum end of the bush".into();
        views.lengths.push(length(
            (0.0, -body.flange.map_or(body.outer, |(radius, _)| radius)),
            (hole.from_datum.mm, -body.inner),
            &from_datum,
        ));
    }
    views.end_view.extend(pins(part, body.outer));
    if !broken {
        views.end_view.push(Seen::Ring(2.0 * shown, Stroke::Outline));
    }
    notes(&mut views, part, &body, (start, end));
    Ok(views)
}

/// In brackets: a size for information, no tolerance of what is to be made. Source: ISO 129-1, auxiliary dimensions (from memory).
fn in_brackets(asked: &Asked) -> Vec<String> {
    let mut lines = asked.lines.clone();
    if let Some(first) = lines.first_mut() {
        *first = format!("(\u{2300} {first}");
    }
    if let Some(last) = lines.last_mut() {
        last.push(')');
    }
    lines
}

/// Bore as finished, and the housing's as it was measured.
fn diameters(part: &ShopDrawing, body: &Body, end: f64) -> Vec<Diameter> {
    let mut housing = diameter(&part.housing_bore, end);
    housing.block = Block::figures(&in_brackets(&part.housing_bore));
    housing.mm = 2.0 * body.outer;
    vec![diameter(&part.bore, body.length), housing]
}

fn pins(part: &ShopDrawing, outer: f64) -> Vec<Seen> {
    let Some(pins) = part.pins.as_ref().filter(|pins| pins.across_mm > 0.0) else { return Vec::new() };
    pins.angles_deg.iter().map(|angle| Seen::Round(at_angle(outer, *angle), pins.across_mm, Stroke::Outline)).collect()
}

fn notes(views: &mut Views, part: &ShopDrawing, body: &Body, (start, end): (f64, f64)) {
    let (R, r) = (body.outer, body.inner);
    let texture = Block::of(Piece::Texture(part.housing_finish.clone()));
    views.notes.push(note(texture, on_metal(part, along(start, end, 0.35, R)), "seat in the housing"));
    let bore = Block(vec![
        Piece::Frame(Symbol::Cylindricity, part.form.bore_cylindricity.clone(), None),
        Piece::Texture(part.bore_finish.clone()),
    ]);
    let at = body.in_bore(part, 0.3);
    views.notes.push(note(bore, at, "finished bore"));
    let journal: Vec<String> = std::iter::once("for the journal".into()).chain(in_brackets(&part.journal)).collect();
    let journal = Block::text(&journal);
    let at = body.in_bore(part, 0.6);
    views.notes.push(note(journal, at, "journal"));
    views.notes.push(note(
        Block::text(&["D".into()]),
        vec![At::Section((0.0, (R + r) / 2.0), Way::Up), At::Section((0.0, -(R + r) / 2.0), Way::Down)],
        "datum end of the bush",
    ));
    views.notes.extend(end_notes(part, R, r));
    if let Some(pins) = &part.pins {
        let at: Vec<At> = match pins.angles_deg.first() {
            Some(_) => pins.angles_deg.iter().flat_map(|angle| both_ways(at_angle(R + pins.across_mm / 2.0, *angle))).collect(),
            None => both_ways(at_angle(R, 135.0)),
        };
        views.notes.push(note(Block::text(std::slice::from_ref(&pins.text)), at, "retainer"));
    }
}
